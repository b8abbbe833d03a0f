"""Files that get their name only when they are whole: written beside their place first, then named."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import time
from pathlib import Path

from ledger.errors import BookBusy

COMPANIONS = ("-journal", "-wal", "-shm")
"""What SQLite puts beside a database while it is changed; each belongs to that one file only."""

KEPT = ".before-"
"""Stands in the names of books that were kept when another took their place."""

COPY_SECONDS = 60
"""How long a copy waits for its turn to read."""


def draft_path(path: Path) -> Path:
    """Return where a file is built before it gets its name: hidden, and not named like a book."""
    return path.with_name(f".{path.name}.{os.getpid()}.new")


def companion(path: Path, ending: str) -> Path:
    """Return the file that SQLite would put beside a database, by one of the endings of COMPANIONS."""
    return path.with_name(path.name + ending)


def free_name(path: Path, why: str) -> Path:
    """Return a free name beside a book for a copy that is kept: 'shop.before-restore.blankbook', then with a number.

    Args:
        path: the book.
        why: what the copy was made before, such as 'version-4' or 'restore'.
    """
    kept = path.with_name(f"{path.stem}{KEPT}{why}{path.suffix}")
    number = 1
    while os.path.lexists(kept):
        number += 1
        kept = path.with_name(f"{path.stem}{KEPT}{why}.{number}{path.suffix}")
    return kept


def is_kept(path: Path) -> bool:
    """Whether a file is named as one that was kept when another took its place."""
    return KEPT in path.stem


def copy_to(connection: sqlite3.Connection, target: Path) -> None:
    """Write a whole copy of the connected book to ``target``, a new file, also while it is in use.

    A copy that is broken off, even by a killed process, leaves nothing that looks like a book.
    Raises FileExistsError where ``target`` is there.
    """
    draft = draft_path(target)
    try:
        copy_into(connection, draft)
        name_draft(draft, target)
    finally:
        discard_draft(draft)


def copy_into(connection: sqlite3.Connection, draft: Path) -> None:
    """Write a whole copy of the connected book under a draft's name, and have the disk keep it.

    Raises BookBusy where another process does not let it be read.
    """
    discard_draft(draft)
    until = time.monotonic() + COPY_SECONDS

    def give_up(status: int, remaining: int, total: int) -> None:
        del remaining, total
        if status in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED} and time.monotonic() > until:
            raise BookBusy("another Blankbook is writing and did not finish in time: no copy was made.")

    with contextlib.closing(sqlite3.connect(draft)) as copy:
        connection.backup(copy, progress=give_up)
    original = connection.execute("PRAGMA database_list").fetchone()[2]
    if original:
        # Whoever may not read the book may not read its copy either.
        shutil.copymode(original, draft)
    with draft.open("rb") as file:
        os.fsync(file.fileno())


def name_draft(draft: Path, path: Path) -> None:
    """Give a draft its name; raises FileExistsError where there is a file of that name."""
    if not os.path.lexists(path):
        set_aside_companions(path, free_name(path, "new-file"))
    try:
        os.link(draft, path)
    except FileExistsError:
        raise
    except OSError:
        # A file system without hard links: the check is a moment older, the rename still whole.
        if os.path.lexists(path):
            raise FileExistsError from None
        draft.rename(path)
    finally:
        discard_draft(draft)
    sync_folder(path.parent)


def set_aside_companions(path: Path, kept: Path) -> None:
    """Name what SQLite left beside a file after another one: the next file of that name would be changed by it."""
    for ending in COMPANIONS:
        with contextlib.suppress(FileNotFoundError):
            companion(path, ending).rename(companion(kept, ending))


def discard_draft(draft: Path) -> None:
    """Remove a draft that got its name, or never will, and what SQLite may have left beside it.

    A draft that cannot be removed does no harm, so it is no reason to fail.
    """
    for path in (draft, *(companion(draft, ending) for ending in COMPANIONS)):
        with contextlib.suppress(OSError):
            path.unlink(missing_ok=True)


def sync_folder(folder: Path) -> None:
    """Have the disk keep a folder's names, where the system can be asked for it."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)

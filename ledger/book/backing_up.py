"""Backups of a book, and putting one in its place: nothing is ever written over, what was there is kept."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import stat
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from ledger.book.connect import (
    SCHEMA_VERSION,
    apply_migrations,
    explain,
    is_database,
    lock_out_writers,
    open_as_it_is,
    version_of,
)
from ledger.book.drafts import (
    copy_into,
    copy_to,
    discard_draft,
    draft_path,
    free_name,
    name_draft,
    set_aside_companions,
    sync_folder,
)
from ledger.book.proving import Proof, prove
from ledger.errors import BookBusy, BookDamaged, BookError, BookForeign, BookMissing, BookNewer, UsageError

NO_BACKUP = "No backup was made"
NOTHING_RESTORED = "Nothing was restored, and the book is as it was"

_MOST_TOLD = 3
_MOST_TRIES = 20

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Contents:
    """What a book holds, in the few figures that tell one state of it from another.

    ``last_recorded`` is the moment of the last document, and ``closed_through`` the last day of the
    closed months, both ISO 8601 or empty.
    """

    shop: str
    version: int
    documents: int
    last_recorded: str
    closed_through: str


@dataclass(frozen=True, slots=True)
class Backup:
    """A copy that was proved whole and has its name."""

    path: Path
    byte_count: int
    contents: Contents
    proof: Proof


@dataclass(frozen=True, slots=True)
class Restoration:
    """A backup that was copied beside a book's place and proved whole; `put_in_place` does the rest.

    ``place`` is the book's own file, where a link to it was named; ``there`` is what it holds now, None
    where there is nothing that can be read, for the reason in ``why_unread``.
    """

    source: Path
    place: Path
    draft: Path
    contents: Contents
    was_version: int
    proof: Proof
    there: Contents | None
    why_unread: str


def contents_of(connection: sqlite3.Connection) -> Contents:
    """Return what a book holds, of this version or an older one."""
    name = connection.execute("SELECT name FROM shop").fetchone()
    documents, last_recorded = connection.execute(
        "SELECT count(*), coalesce(max(recorded_at), '') FROM document"
    ).fetchone()
    closed = connection.execute("SELECT closed_through FROM boundary").fetchone()
    closed_through = closed[0] if closed and closed[0] > "0000-00-00" else ""
    return Contents(name[0] if name else "", version_of(connection), documents, last_recorded, closed_through)


def refuse_backup_place(target: Path) -> None:
    """Raise UsageError where no backup can be written: ask it before long work."""
    if target.is_dir():
        raise UsageError(f"{target} is a folder. Name a file in it.")
    if os.path.lexists(target):
        raise UsageError(f"{target} is there already and was left as it is. Name another file.")
    if not target.parent.is_dir():
        raise UsageError(f"the folder {target.parent} does not exist. Make it first, or name another place.")


def back_up(connection: sqlite3.Connection, target: Path, progress: Progress = lambda _: None) -> Backup:
    """Copy the connected book to a new file, prove the copy, and give it its name; return what it is.

    The book may be in use: the copy is one state of it. ``progress`` is called as in `prove`.

    Raises:
        UsageError: a file is there, or its folder is not.
        BookDamaged: the copy does not prove whole; none is kept.
        BookError: it cannot be written.
    """
    refuse_backup_place(target)
    draft = draft_path(target)
    try:
        copy_into(connection, draft)
        with contextlib.closing(open_as_it_is(draft)) as copy:
            contents, proof = contents_of(copy), prove(copy, progress)
        if not proof.is_whole:
            raise BookDamaged(
                f"the book does not prove whole:\n{_findings(proof)}\n{NO_BACKUP}. Look at all of it: blankbook "
                "prove. To keep the file as it is, copy it while no command runs."
            )
        byte_count = draft.stat().st_size
        name_draft(draft, target)
    except FileExistsError:
        raise UsageError(f"{target} is there already and was left as it is. Name another file.") from None
    except sqlite3.Error as error:
        raise explain(error, target, NO_BACKUP) from error
    except OSError as error:
        raise BookError(f"{target} cannot be written: {error.strerror}. {NO_BACKUP}.") from error
    finally:
        discard_draft(draft)
    return Backup(target, byte_count, contents, proof)


def _findings(proof: Proof) -> str:
    told = [f"  {one.where}: {one.what}" for one in proof.findings[:_MOST_TOLD]]
    rest = len(proof.findings) - len(told)
    return "\n".join([*told, *([f"  and {rest} more"] if rest else [])])


def prepare_restore(source: Path, book: Path, progress: Progress = lambda _: None) -> Restoration:
    """Copy a backup beside the book's place, bring it up to date, prove it; return it ready to be put there.

    Neither the backup nor the book is changed. Whoever does not go on discards the draft.

    Args:
        source: the backup; it may be of an older version.
        book: the book's path; there may be none, or a damaged one.
        progress: called as in `prove`.

    Raises:
        BookError: one of its kinds says what is wrong with the backup or the place.
    """
    place = book.resolve()
    _refuse_source(source, place)
    there, why_unread = _what_is_there(place)
    draft = draft_path(place)
    try:
        was_version = _copy_source(source, draft)
        contents, proof = _bring_up_to_date(draft, progress)
        _refuse_unproved(source, proof)
    except sqlite3.Error as error:
        discard_draft(draft)
        raise explain(error, place, NOTHING_RESTORED) from error
    except OSError as error:
        discard_draft(draft)
        raise BookError(f"{place.parent} cannot be used: {error.strerror}. {NOTHING_RESTORED}.") from error
    except BaseException:
        discard_draft(draft)
        raise
    return Restoration(source, place, draft, contents, was_version, proof, there, why_unread)


def _copy_source(source: Path, draft: Path) -> int:
    """Copy the backup under the draft's name; return the version it has."""
    with contextlib.closing(open_as_it_is(source)) as backup:
        copy_into(backup, draft)
        # A backup on a medium that cannot be written to becomes a book that can.
        draft.chmod(draft.stat().st_mode | stat.S_IWUSR)
        return version_of(backup)


def _bring_up_to_date(draft: Path, progress: Progress) -> tuple[Contents, Proof]:
    with contextlib.closing(open_as_it_is(draft, "rw")) as copy:
        if version_of(copy) < SCHEMA_VERSION:
            apply_migrations(copy)
        return contents_of(copy), prove(copy, progress)


def _refuse_unproved(source: Path, proof: Proof) -> None:
    if not proof.is_whole:
        raise BookDamaged(
            f"{source} does not prove whole:\n{_findings(proof)}\n{NOTHING_RESTORED}. Try an older backup."
        )


def _refuse_source(source: Path, place: Path) -> None:
    if not os.path.lexists(source):
        raise BookMissing(f"there is no file at {source}. Name the backup to restore.")
    if not source.exists():
        raise BookMissing(f"{source} is a link to a file that is not there. Name the backup to restore.")
    if place.is_dir():
        raise BookForeign(f"{place} is a folder, not a book's place. Name the book's file with --book.")
    if place.exists() and source.samefile(place):
        raise UsageError(
            f"{source} is the book itself. Name a backup of it, or where it shall be restored to: "
            "blankbook --book FILE restore BACKUP."
        )
    if not place.parent.is_dir():
        raise UsageError(f"the folder {place.parent} does not exist. Make it first, or name another place.")


def _what_is_there(place: Path) -> tuple[Contents | None, str]:
    """Return what the book holds now, or why that cannot be told; refuse another program's database."""
    try:
        with contextlib.closing(open_as_it_is(place)) as book:
            return contents_of(book), ""
    except BookMissing:
        return None, "there is no book now"
    except BookNewer:
        return None, "it was written by a newer Blankbook"
    except BookForeign as problem:
        if "another program" in str(problem):
            raise
        return None, "it cannot be read as a book"
    except (BookError, sqlite3.Error):
        return None, "it is damaged"


def put_in_place(ready: Restoration) -> Path | None:
    """Give the proved copy the book's name; return where the file that was there is kept, None for none.

    Whatever happens in between, the book's name stands for the whole old file or the whole new one.

    Raises:
        BookBusy: another process is writing to the book and did not finish in time.
        BookError: the folder cannot be written to, or a book appeared where none was.
    """
    place = ready.place
    try:
        with _no_writer(place):
            if not place.exists():
                name_draft(ready.draft, place)
                return None
            kept = _keep(place)
            set_aside_companions(place, kept)
            shutil.copymode(place, ready.draft)
            ready.draft.replace(place)
            sync_folder(place.parent)
            return kept
    except FileExistsError:
        raise BookError(f"a book appeared at {place} meanwhile. {NOTHING_RESTORED}.") from None
    except OSError as error:
        raise BookError(f"{place} cannot be replaced: {error.strerror}. {NOTHING_RESTORED}.") from error
    finally:
        discard_draft(ready.draft)


@contextlib.contextmanager
def _no_writer(place: Path) -> Iterator[None]:
    """Keep every other process from writing to the file that bears the book's name now."""
    for _ in range(_MOST_TRIES):
        before = _identity(place)
        lock = _lock(place) if before else None
        # Another process may have put a file of its own there while this one waited for the lock.
        if _identity(place) == before:
            break
        if lock:
            lock.close()
    else:
        raise BookBusy(f"{place} is being replaced again and again. {NOTHING_RESTORED}.")
    try:
        if lock and os.name == "nt":
            # An open file cannot be renamed there: the lock is let go a moment before.
            lock.close()
        yield
    finally:
        if lock:
            lock.close()


def _identity(place: Path) -> tuple[int, int] | None:
    try:
        status = place.stat()
    except FileNotFoundError:
        return None
    return status.st_dev, status.st_ino


def _lock(place: Path) -> sqlite3.Connection | None:
    """Return a connection that holds the lock; None where the file is no database that could be written."""
    # SQLite would play a journal into whatever is there: what does not begin like a database is left alone.
    if not is_database(place):
        return None
    try:
        return lock_out_writers(place)
    except BookDamaged:
        return None


def _keep(place: Path) -> Path:
    """Give the file that bears the book's name a second, free one; return it."""
    while True:
        kept = free_name(place, "restore")
        try:
            os.link(place, kept)
        except FileExistsError:
            continue
        except OSError:
            # A file system without hard links: a copy, whole before it has the name.
            _copy_bytes(place, kept)
        return kept


def _copy_bytes(place: Path, kept: Path) -> None:
    """Copy the file that bears the book's name; opening it a second time lets the lock on it go."""
    try:
        with contextlib.closing(open_as_it_is(place)) as book:
            copy_to(book, kept)
    except (BookError, sqlite3.Error):
        # Damaged: it is copied as it is, byte by byte.
        draft = draft_path(kept)
        shutil.copyfile(place, draft)
        name_draft(draft, kept)

"""Opening, making and migrating the book: one SQLite file, never half of one."""

from __future__ import annotations

import contextlib
import sqlite3
import urllib.parse
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from ledger.book.drafts import copy_to, discard_draft, draft_path, free_name, name_draft
from ledger.errors import (
    BlankbookError,
    BookBusy,
    BookDamaged,
    BookError,
    BookForeign,
    BookMissing,
    BookNewer,
)

APPLICATION_ID = 0x424C4B42
"""Marks the file as a Blankbook book (the letters BLKB)."""

SCHEMA_VERSION = 4
"""The version this program writes; kept in the file's user_version."""

OLDEST_SQLITE = (3, 37, 0)
"""STRICT tables came with it."""

BUSY_SECONDS = 30
"""How long a command waits for another one that writes."""

TOLD_AFTER_SECONDS = 1
"""How long it waits before it says so."""

_MAGIC = b"SQLite format 3\x00"
_HEADER_BYTES = 100


def open_reading(path: Path) -> sqlite3.Connection:
    """Return a read-only connection to the book at ``path``.

    An older book is migrated first, after a backup beside it. Raises BookMissing, BookForeign,
    BookNewer or BookDamaged in plain words.
    """
    return _open(path, "ro")


def open_writing(path: Path) -> sqlite3.Connection:
    """Return a connection that may write to the book at ``path``; errors as in `open_reading`."""
    return _open(path, "rw")


@dataclass
class Waiting:
    """How a command learns that it waits for another one; the command line puts its words here."""

    tell: Callable[[], None] = lambda: None


WAITING = Waiting()


def _open(path: Path, mode: str) -> sqlite3.Connection:
    connection = open_as_it_is(path, mode)
    if version_of(connection) < SCHEMA_VERSION:
        connection.close()
        _migrate(path)
        connection = _connect(path, mode)
    return connection


def open_as_it_is(path: Path, mode: str = "ro") -> sqlite3.Connection:
    """Return a connection to the book at ``path``, of this version or an older one; errors as in `open_reading`."""
    _check_sqlite()
    _check_file(path)
    _settle(path)
    connection = _connect(path, mode)
    try:
        _check_identity(connection, path)
    except sqlite3.DatabaseError as error:
        connection.close()
        raise explain(error, path) from error
    except BookError:
        connection.close()
        raise
    return connection


def version_of(connection: sqlite3.Connection) -> int:
    """Return the schema version that the book says it has."""
    version: int = connection.execute("PRAGMA user_version").fetchone()[0]
    return version


def lock_out_writers(path: Path) -> sqlite3.Connection:
    """Return a connection that keeps every other process from writing to the file until it is closed.

    Raises BookBusy where another one is writing, and BookDamaged where the file cannot be locked because
    it is no database any more.
    """
    connection = _connect(path, "rw")
    try:
        _begin(connection)
    except sqlite3.DatabaseError as error:
        connection.close()
        raise explain(error, path, "Nothing was changed") from error
    return connection


def is_database(path: Path) -> bool:
    """Whether a file begins as SQLite's do."""
    with path.open("rb") as file:
        return file.read(len(_MAGIC)) == _MAGIC


def _check_sqlite() -> None:
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise BookError(
            f"this Python carries SQLite {sqlite3.sqlite_version}; Blankbook needs 3.37 or newer. "
            "Install a newer Python."
        )


def _check_file(path: Path) -> None:
    """Refuse what cannot be a book before SQLite touches it."""
    if not path.exists():
        raise BookMissing(
            f"there is no book at {path}. Start one with: blankbook --book {path} start, "
            "or name another file with --book."
        )
    if path.is_dir():
        raise BookForeign(f"{path} is a folder, not a book.")
    try:
        with path.open("rb") as file:
            head = file.read(_HEADER_BYTES)
    except OSError as error:
        raise BookError(f"{path} cannot be read: {error.strerror}.") from error
    if not head:
        raise BookForeign(f"{path} is empty, not a book. Restore a backup, or start a new book elsewhere.")
    if not head.startswith(_MAGIC):
        raise BookForeign(f"{path} is not a Blankbook book. Nothing in it was changed.")
    if len(head) < _HEADER_BYTES or int.from_bytes(head[68:72], "big") != APPLICATION_ID:
        raise BookForeign(f"{path} is a database of another program. Nothing in it was changed.")


def _settle(path: Path) -> None:
    """Roll back what a killed process left half-written: a read-only connection may not do it."""
    real = path.resolve()
    if not real.with_name(f"{real.name}-journal").exists():
        return
    # Where this fails, the connection that follows says why.
    with contextlib.suppress(BookError, sqlite3.DatabaseError):
        connection = _connect(path, "rw")
        with contextlib.closing(connection):
            connection.execute("SELECT 1 FROM sqlite_schema LIMIT 1").fetchone()


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    place = urllib.parse.quote(str(path.resolve()))
    try:
        connection = sqlite3.connect(f"file:{place}?mode={mode}", uri=True, isolation_level=None)
    except sqlite3.OperationalError as error:
        raise explain(error, path) from error
    try:
        connection.execute(f"PRAGMA busy_timeout = {BUSY_SECONDS * 1000}")
        for pragma in (
            "foreign_keys = ON",
            "recursive_triggers = ON",
            "trusted_schema = OFF",
            "cell_size_check = ON",
            "synchronous = EXTRA",
        ):
            # Some of them read the file, and find out that it is torn.
            connection.execute(f"PRAGMA {pragma}")
    except sqlite3.DatabaseError as error:
        connection.close()
        raise explain(error, path) from error
    return connection


def _check_identity(connection: sqlite3.Connection, path: Path) -> None:
    """Refuse a file that is not ours or newer."""
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise BookForeign(f"{path} is a database of another program. Nothing in it was changed.")
    version = version_of(connection)
    if version > SCHEMA_VERSION:
        raise BookNewer(
            f"{path} was written by a newer Blankbook (book version {version}, this program knows "
            f"{SCHEMA_VERSION}). Update Blankbook to open it. Nothing in it was changed."
        )
    # Reading the schema finds a torn header or a broken page now instead of in the middle of a report.
    if not connection.execute("SELECT 1 FROM sqlite_schema WHERE name = 'document'").fetchone():
        raise BookDamaged(f"{path} has lost its tables. Restore a backup: blankbook restore.")


def explain(error: sqlite3.Error, path: Path, outcome: str = "Nothing was posted") -> BlankbookError:
    """Return the error in a maker's words; the book is as it was, since nothing was committed.

    ``outcome`` says what did not happen.
    """
    code = getattr(error, "sqlite_errorname", "") or ""
    if code == "SQLITE_CONSTRAINT_TRIGGER":
        return BlankbookError(f"refused: {error}. {outcome}.")
    for prefixes, kind, message in _IN_WORDS:
        if code.startswith(prefixes):
            return kind(message.format(path=path, seconds=BUSY_SECONDS, outcome=outcome))
    return BookError(f"{path} could not be used ({code or type(error).__name__}). {outcome}.")


_IN_WORDS: tuple[tuple[tuple[str, ...], type[BookError], str], ...] = (
    (
        ("SQLITE_BUSY", "SQLITE_LOCKED"),
        BookBusy,
        (
            "another Blankbook is writing to {path} and did not finish within {seconds} seconds. "
            "{outcome}; try again when it is done."
        ),
    ),
    (
        ("SQLITE_READONLY_DBMOVED",),
        BookError,
        (
            "another file took the place of {path} while this command ran. {outcome}; look at the book "
            "that is there now, and run the command again."
        ),
    ),
    (
        ("SQLITE_FULL",),
        BookError,
        "the disk that holds {path} is full. {outcome}; free some space and try again.",
    ),
    (
        ("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH"),
        BookError,
        (
            "{path} or its folder cannot be written to. {outcome}; check the file's permissions, "
            "or copy the book to a place where you may write."
        ),
    ),
    (
        ("SQLITE_CORRUPT", "SQLITE_NOTADB", "SQLITE_FORMAT"),
        BookDamaged,
        "{path} is damaged and cannot be read whole. Keep it as it is and restore the latest backup.",
    ),
    (
        # The change was made, but the disk did not say that it keeps the folder's new state.
        ("SQLITE_IOERR_DIR_FSYNC",),
        BookError,
        (
            "the disk that holds {path} did not confirm what was written. It may or may not be in the book: look "
            "before you try again (blankbook history), and check the disk."
        ),
    ),
    (
        ("SQLITE_IOERR",),
        BookError,
        "reading or writing {path} failed. {outcome}; check the disk and try again.",
    ),
)


@contextlib.contextmanager
def write_tx(connection: sqlite3.Connection) -> Iterator[None]:
    """Run the block as one transaction: all of it is in the book afterwards, or nothing.

    Begins IMMEDIATE, so that what was read inside the block cannot change before it commits.
    """
    _begin(connection)
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        # After a full disk SQLite has rolled back already; asking again would hide the first error.
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def _begin(connection: sqlite3.Connection) -> None:
    """Begin to write; where another process is writing, wait for it, and say so after a second."""
    soon = min(TOLD_AFTER_SECONDS, BUSY_SECONDS)
    try:
        connection.execute(f"PRAGMA busy_timeout = {soon * 1000}")
        connection.execute("BEGIN IMMEDIATE")
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or soon == BUSY_SECONDS:
            raise
        WAITING.tell()
        connection.execute(f"PRAGMA busy_timeout = {(BUSY_SECONDS - soon) * 1000}")
        connection.execute("BEGIN IMMEDIATE")
    finally:
        connection.execute(f"PRAGMA busy_timeout = {BUSY_SECONDS * 1000}")


class _RolledBack(Exception):
    """Ends a transaction that was only to be looked at."""


@contextlib.contextmanager
def trial_tx(connection: sqlite3.Connection) -> Iterator[None]:
    """Run the block as `write_tx` does and roll it back: to see what posting would do, or what refuses it."""
    with contextlib.suppress(_RolledBack), write_tx(connection):
        yield
        raise _RolledBack


def create(path: Path) -> sqlite3.Connection:
    """Make a new, empty book at ``path`` and return a writing connection to a file beside it.

    The book is built in a temporary file in the same folder; `publish` gives it its name, so a
    start that fails leaves nothing that looks like a book. Raises BookError where a file is there.
    """
    if path.exists():
        raise BookError(f"{path} exists already. Choose another name, or open it with --book {path}.")
    if not path.parent.is_dir():
        raise BookError(f"the folder {path.parent} does not exist. Make it first, or choose another place.")
    draft = draft_path(path)
    try:
        with draft.open("xb"):
            pass
    except OSError as error:
        raise BookError(f"no book can be made in {path.parent}: {error.strerror}.") from error
    connection = _connect(draft, "rw")
    try:
        apply_migrations(connection)
    except sqlite3.DatabaseError as error:
        connection.close()
        discard(path)
        raise explain(error, path) from error
    return connection


def publish(connection: sqlite3.Connection, path: Path) -> None:
    """Close the draft and give it its name; never over an existing file."""
    connection.close()
    try:
        name_draft(draft_path(path), path)
    except FileExistsError as error:
        raise BookError(f"{path} exists already. Choose another name.") from error
    except OSError as error:
        raise BookError(f"no book can be made in {path.parent}: {error.strerror}.") from error


def discard(path: Path) -> None:
    """Remove the draft of a book that was not made."""
    discard_draft(draft_path(path))


def apply_migrations(connection: sqlite3.Connection) -> None:
    """Bring the connected file to SCHEMA_VERSION in one transaction."""
    from ledger.book.migrations import migrate  # noqa: PLC0415  (loads a slow library)

    with write_tx(connection):
        migrate(connection)
        _stamp(connection)


def _stamp(connection: sqlite3.Connection) -> None:
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")


def _migrate(path: Path) -> None:
    """Back the older book up beside itself, then migrate it; done once, however many ask at a time."""
    from ledger.book.migrations import migrate  # noqa: PLC0415  (loads a slow library)

    connection = _connect(path, "rw")
    try:
        with write_tx(connection):
            # Another process may have migrated it while this one waited for its turn to write.
            if connection.execute("PRAGMA user_version").fetchone()[0] >= SCHEMA_VERSION:
                return
            # A second connection: what is copied is the book as it was before this transaction.
            with contextlib.closing(_connect(path, "ro")) as before:
                copy_to(before, free_name(path, f"version-{SCHEMA_VERSION}"))
            migrate(connection)
            _stamp(connection)
    except sqlite3.DatabaseError as error:
        raise explain(error, path) from error
    except OSError as error:
        raise BookError(
            f"{path} is of an older version, and the copy that is kept before it is brought up to date could not be "
            f"written beside it: {error.strerror}. The book is as it was; make room there, or mend the disk, and "
            "try again."
        ) from error
    finally:
        connection.close()

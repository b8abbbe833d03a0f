"""Migrating an older book when it is opened: once, with a backup beside it, all or nothing."""

from __future__ import annotations

import errno
import os
import sqlite3
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from closed_book import closed_book
from sqlite_utils import Database, Migrations

from ledger.book import connect, migrations
from ledger.book.connect import SCHEMA_VERSION, apply_migrations, open_reading, open_writing
from ledger.errors import BlankbookError, BookDamaged, BookError

NEXT = SCHEMA_VERSION + 1


@pytest.fixture
def path(empty_book: Path, tmp_path: Path) -> Path:
    """A closed book with items and no document."""
    return closed_book(empty_book, tmp_path)


@pytest.fixture
def newer_program(monkeypatch: pytest.MonkeyPatch) -> None:
    """This program one version on: one more step, which adds a table."""
    steps = Migrations("blankbook")
    for step in migrations._STEPS._migrations:
        steps(name=step.name)(step.fn)

    @steps(name=f"{NEXT} a test")
    def add(db: Database) -> None:
        db.conn.execute("CREATE TABLE drawer (name TEXT NOT NULL DEFAULT 'top') STRICT")

    monkeypatch.setattr(migrations, "_STEPS", steps)
    monkeypatch.setattr(connect, "SCHEMA_VERSION", NEXT)


def _dump(content: bytes, place: Path) -> list[str]:
    place.write_bytes(content)
    connection = sqlite3.connect(place)
    lines = list(connection.iterdump())
    connection.close()
    return lines


@pytest.mark.parametrize("opening", [open_reading, open_writing])
@pytest.mark.usefixtures("newer_program")
def test_an_older_book_is_migrated_when_opened(
    path: Path, opening: Callable[[Path], sqlite3.Connection]
) -> None:
    """Looking at it or posting to it, the book is brought up to date first."""
    connection = opening(path)
    assert connection.execute("PRAGMA user_version").fetchone() == (NEXT,)
    assert connection.execute("SELECT name FROM sqlite_schema WHERE name = 'drawer'").fetchall() == [
        ("drawer",)
    ]
    connection.close()


@pytest.mark.usefixtures("newer_program")
def test_a_migration_backs_the_book_up_beside_it(path: Path) -> None:
    """The backup is the book as it was, and opens in the older program."""
    before = path.read_bytes()
    open_reading(path).close()
    backup = path.with_name(f"shop.before-version-{NEXT}.blankbook")
    copy = sqlite3.connect(backup)
    assert copy.execute("PRAGMA user_version").fetchone() == (SCHEMA_VERSION,)
    assert "\n".join(copy.iterdump()) == "\n".join(_dump(before, path.with_name("old")))
    copy.close()


@pytest.mark.usefixtures("newer_program")
def test_a_backup_never_writes_over_an_earlier_one(path: Path) -> None:
    """A second backup gets a number."""
    first = path.with_name(f"shop.before-version-{NEXT}.blankbook")
    first.write_text("an earlier backup", encoding="utf-8")
    open_reading(path).close()
    assert first.read_text(encoding="utf-8") == "an earlier backup"
    assert path.with_name(f"shop.before-version-{NEXT}.2.blankbook").exists()


@pytest.mark.usefixtures("newer_program")
def test_two_migrations_at_once_are_one(path: Path) -> None:
    """Two processes that open an old book together migrate it once, with one backup of the old one."""
    together = threading.Barrier(2)
    versions: list[object] = []

    def open_it() -> None:
        together.wait()
        connection = open_writing(path)
        versions.append(connection.execute("PRAGMA user_version").fetchone()[0])
        connection.close()

    threads = [threading.Thread(target=open_it) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert versions == [NEXT, NEXT]
    assert sorted(one.name for one in path.parent.iterdir()) == [
        f"shop.before-version-{NEXT}.blankbook",
        "shop.blankbook",
    ]


def test_a_migration_that_fails_leaves_the_old_book(
    path: Path, newer_program: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A step that breaks in its middle changes nothing."""
    del newer_program
    steps = migrations._STEPS

    @steps(name="a step that breaks")
    def broken(db: Database) -> None:
        db.conn.execute("CREATE TABLE half (x)")
        raise sqlite3.OperationalError("a test")

    before = "\n".join(_dump(path.read_bytes(), path.with_name("before")))
    with pytest.raises(BlankbookError):
        open_writing(path)
    assert "\n".join(_dump(path.read_bytes(), path.with_name("after"))) == before
    monkeypatch.undo()
    open_writing(path).close()


@pytest.mark.usefixtures("newer_program")
@pytest.mark.parametrize("call", ["fsync", "link"])
def test_a_copy_that_the_disk_refuses_stops_the_migration(
    path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    """In words, with the book as it was and nothing beside it."""

    def fails(*_: object) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    before = path.read_bytes()
    monkeypatch.setattr(os, call, fails)
    if call == "link":
        monkeypatch.setattr(Path, "rename", fails)
    with pytest.raises(BookError, match="of an older version") as refused:
        open_writing(path)
    assert os.strerror(errno.EIO) in str(refused.value)
    assert path.read_bytes() == before
    assert [each.name for each in path.parent.iterdir()] == [path.name]


def test_a_migration_that_loses_a_guard_is_refused(path: Path, newer_program: None) -> None:
    """A rebuilt table comes without its triggers; that is noticed before it is committed."""
    del newer_program

    @migrations._STEPS(name="a careless step")
    def careless(db: Database) -> None:
        db.conn.execute("DROP TRIGGER policy_no_update")
        db.conn.execute("DROP TRIGGER policy_no_delete")
        db.conn.execute("DROP TRIGGER policy_no_replace")

    with pytest.raises(BookDamaged, match="policy"):
        open_writing(path)


def test_migrating_twice_changes_nothing(path: Path) -> None:
    """Steps that were taken are not taken again."""
    before = "\n".join(_dump(path.read_bytes(), path.with_name("before")))
    connection = open_writing(path)
    apply_migrations(connection)
    connection.close()
    assert "\n".join(_dump(path.read_bytes(), path.with_name("after"))) == before

"""Opening a book: whatever the file is, plain words and nothing changed; a connection has its guards on."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from closed_book import closed_book

from ledger.book.connect import SCHEMA_VERSION, explain, open_reading, open_writing
from ledger.errors import BookDamaged, BookError, BookForeign, BookMissing, BookNewer


@pytest.fixture
def path(empty_book: Path, tmp_path: Path) -> Path:
    """A closed book with items and no document."""
    return closed_book(empty_book, tmp_path)


def refusal(path: Path, kind: type[BookError]) -> str:
    """Open a file both ways; return what is said, and check that the file stayed as it was."""
    before = path.read_bytes() if path.is_file() else None
    with pytest.raises(kind) as reading:
        open_reading(path)
    with pytest.raises(kind) as writing:
        open_writing(path)
    assert (path.read_bytes() if path.is_file() else None) == before
    assert str(reading.value) == str(writing.value)
    return str(reading.value)


def test_a_missing_book_is_told_with_the_way_to_start_one(tmp_path: Path) -> None:
    """The command that makes a book stands in the message."""
    assert "blankbook --book" in refusal(tmp_path / "none.blankbook", BookMissing)


def test_a_missing_book_is_not_made_by_looking(tmp_path: Path) -> None:
    """SQLite would make an empty file; looking must not."""
    with pytest.raises(BookMissing):
        open_writing(tmp_path / "none.blankbook")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_is_no_book(tmp_path: Path) -> None:
    """A path that is a folder is told as one."""
    assert "is a folder" in refusal(tmp_path, BookForeign)


def test_an_empty_file_is_no_book(tmp_path: Path) -> None:
    """SQLite takes an empty file for a new database; it is refused here."""
    path = tmp_path / "empty.blankbook"
    path.touch()
    assert "is empty" in refusal(path, BookForeign)


@pytest.mark.parametrize(
    "content",
    [b"sku,quantity\nTEE,3\n", b"PK\x03\x04" + b"\x00" * 200, b"SQLite"],
    ids=["csv", "zip", "stub"],
)
def test_a_file_of_something_else_is_no_book(tmp_path: Path, content: bytes) -> None:
    """A sheet that was renamed is refused before SQLite touches it."""
    path = tmp_path / "list.blankbook"
    path.write_bytes(content)
    assert "not a Blankbook book" in refusal(path, BookForeign)


def test_a_database_of_another_program_is_refused(tmp_path: Path) -> None:
    """Any other SQLite file stays as it is."""
    path = tmp_path / "other.blankbook"
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE notes (text)")
    other.close()
    assert "another program" in refusal(path, BookForeign)


def test_a_newer_book_is_refused(path: Path) -> None:
    """A book of a later version is left alone, and both versions are named."""
    with sqlite3.connect(path) as newer:
        newer.execute(f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
    newer.close()
    assert f"version {SCHEMA_VERSION + 1}" in refusal(path, BookNewer)


def test_a_book_cut_off_in_its_header_is_no_book(path: Path) -> None:
    """Fifty bytes are not even a header."""
    path.write_bytes(path.read_bytes()[:50])
    refusal(path, BookForeign)


def test_a_book_cut_off_after_its_first_page_is_damaged(path: Path) -> None:
    """A copy that was broken off is told as damaged, with the way out."""
    path.write_bytes(path.read_bytes()[:4096])
    assert "restore" in refusal(path, BookDamaged).lower()


def test_a_book_whose_schema_is_garbage_is_damaged(path: Path) -> None:
    """Noise behind a sound header is told as damage, not as a traceback."""
    data = path.read_bytes()
    path.write_bytes(data[:100] + bytes(byte ^ 0x5A for byte in data[100:]))
    refusal(path, BookDamaged)


def test_a_book_without_its_tables_is_damaged(path: Path) -> None:
    """A file that only says it is a book has nothing to lose its documents from."""
    with sqlite3.connect(path) as bare:
        bare.execute("PRAGMA foreign_keys = OFF")
        bare.execute("DROP TABLE document")
    bare.close()
    assert "lost its tables" in refusal(path, BookDamaged)


def test_damage_found_while_reading_is_told_in_words(path: Path) -> None:
    """A torn page that no header shows is explained where it is met."""
    connection = open_reading(path)
    page = connection.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'item'").fetchone()[0]
    size = connection.execute("PRAGMA page_size").fetchone()[0]
    connection.close()
    data = bytearray(path.read_bytes())
    data[(page - 1) * size : page * size] = b"\xff" * size
    path.write_bytes(bytes(data))
    connection = open_reading(path)
    with pytest.raises(sqlite3.DatabaseError) as error:
        connection.execute("SELECT * FROM item").fetchall()
    connection.close()
    assert isinstance(explain(error.value, path), BookDamaged)


def test_reading_cannot_write(path: Path) -> None:
    """A reading command's connection is read-only."""
    connection = open_reading(path)
    with pytest.raises(sqlite3.OperationalError, match="readonly"):
        connection.execute("DELETE FROM item")
    connection.close()


@pytest.mark.parametrize("name", ["a b#c?d%41.blankbook", "été 書.blankbook", "x&mode=memory.blankbook"])
def test_any_file_name_opens(path: Path, name: str) -> None:
    """Characters that mean something in an address mean nothing here."""
    odd = path.rename(path.with_name(name))
    connection = open_writing(odd)
    assert connection.execute("SELECT count(*) FROM item").fetchone()[0] > 0
    connection.close()
    assert [one.name for one in odd.parent.iterdir()] == [name]


@pytest.mark.parametrize("opening", [open_reading, open_writing])
def test_every_connection_has_its_guards_on(
    path: Path, opening: Callable[[Path], sqlite3.Connection]
) -> None:
    """Foreign keys and recursive triggers are on, what the file says about functions is not trusted."""
    connection = opening(path)
    values = [
        connection.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("foreign_keys", "recursive_triggers", "trusted_schema", "synchronous", "journal_mode")
    ]
    connection.close()
    assert values == [1, 1, 0, 3, "delete"]


def test_a_guard_is_told_in_its_own_words(path: Path) -> None:
    """What a trigger refuses is a refusal, not damage."""
    connection = open_writing(path)
    with pytest.raises(sqlite3.IntegrityError) as error:
        connection.execute("DELETE FROM boundary")
    connection.close()
    assert str(explain(error.value, path)).startswith("refused: months are closed and reopened only")

"""Making a new book: a draft until it is published, never over a file, marked as what it is."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from book_builder import make_book
from closed_book import closed_book

from ledger.book.connect import APPLICATION_ID, SCHEMA_VERSION, create, draft_path, open_reading, publish
from ledger.errors import BookError


@pytest.fixture
def path(empty_book: Path, tmp_path: Path) -> Path:
    """A closed book with items and no document."""
    return closed_book(empty_book, tmp_path)


def test_start_never_writes_over_a_file(path: Path) -> None:
    """A book that exists is not made anew."""
    before = path.read_bytes()
    with pytest.raises(BookError, match="exists already"):
        create(path)
    assert path.read_bytes() == before


def test_start_in_a_folder_that_is_not_there(tmp_path: Path) -> None:
    """The folder is named."""
    with pytest.raises(BookError, match="does not exist"):
        create(tmp_path / "none" / "shop.blankbook")


def test_a_draft_is_not_a_book_until_it_is_published(tmp_path: Path) -> None:
    """A start that is broken off leaves nothing with the book's name."""
    path = tmp_path / "shop.blankbook"
    connection = create(path)
    assert [one.name for one in tmp_path.iterdir()] == [draft_path(path).name]
    publish(connection, path)
    assert [one.name for one in tmp_path.iterdir()] == ["shop.blankbook"]


def test_two_starts_at_once_make_one_book(tmp_path: Path) -> None:
    """The second to be published finds the name taken, and the first stays."""
    path = tmp_path / "shop.blankbook"
    connection = create(path)
    path.write_bytes(b"the other one")
    with pytest.raises(BookError, match="exists already"):
        publish(connection, path)
    assert (path.read_bytes(), len(list(tmp_path.iterdir()))) == (b"the other one", 1)


def test_publishing_works_without_hard_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file system that has none gets a renamed file."""

    def no_link(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_link)
    make_book(tmp_path / "shop.blankbook")
    assert [one.name for one in tmp_path.iterdir()] == ["shop.blankbook"]


def test_a_new_book_says_what_it_is(path: Path) -> None:
    """Its application id and version stand in the file."""
    connection = open_reading(path)
    marks = [connection.execute(f"PRAGMA {n}").fetchone()[0] for n in ("application_id", "user_version")]
    connection.close()
    assert marks == [APPLICATION_ID, SCHEMA_VERSION]

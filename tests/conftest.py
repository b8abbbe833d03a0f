"""What the tests of several rooms share."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import drawn  # noqa: F401  (how much drawn tests draw)
import pytest
from book_builder import Book, make_book, opened


@pytest.fixture(scope="session")
def empty_book() -> Iterator[Path]:
    """A book with a few items and no document, made once; tests work on copies of it."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "empty.blankbook"
        make_book(path)
        yield path


@pytest.fixture
def book(empty_book: Path, tmp_path: Path) -> Iterator[Book]:
    """An open book of its own for one test, with a few items and no document."""
    path = tmp_path / "shop.blankbook"
    shutil.copyfile(empty_book, path)
    book = opened(path)
    yield book
    book.connection.close()

"""Writing that is stopped: no right, no room, a killed process, another one writing; the book stays whole."""

from __future__ import annotations

import contextlib
import os
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from book_builder import Book, line, opened
from closed_book import closed_book

from ledger.book import connect
from ledger.book.backing_up import back_up, prepare_restore
from ledger.book.connect import copy_to, create, explain, open_reading, open_writing, write_tx
from ledger.book.proving import prove
from ledger.errors import BookBusy, BookError

NOBODY = 65534


@pytest.fixture
def path(empty_book: Path, tmp_path: Path) -> Path:
    """A closed book with items and no document."""
    return closed_book(empty_book, tmp_path)


@pytest.fixture
def rightless(path: Path) -> Iterator[Path]:
    """The book in a folder where this process, for the test, has the rights of anybody."""
    folder = Path(tempfile.mkdtemp())
    place = folder / "shop.blankbook"
    shutil.copyfile(path, place)
    place.chmod(0o444)
    folder.chmod(0o755)
    is_root = os.geteuid() == 0
    if is_root:
        os.seteuid(NOBODY)
    else:
        folder.chmod(0o555)
    yield place
    if is_root:
        os.seteuid(0)
    folder.chmod(0o755)
    shutil.rmtree(folder)


def test_a_read_only_file_can_be_read(rightless: Path) -> None:
    """Looking needs no right to write, neither to the file nor to its folder."""
    connection = open_reading(rightless)
    assert connection.execute("SELECT count(*) FROM document").fetchone() == (0,)
    connection.close()


def test_a_read_only_file_is_told_when_posting(rightless: Path) -> None:
    """Posting to it is refused with the reason."""
    connection = open_writing(rightless)
    with pytest.raises(sqlite3.OperationalError) as error, write_tx(connection):
        connection.execute("INSERT INTO kind (name) VALUES ('stamps')")
    connection.close()
    assert "cannot be written to" in str(explain(error.value, rightless))


def test_a_read_only_folder_is_told_when_posting(rightless: Path) -> None:
    """A book that may be written in a folder that may not has no place for its journal."""
    if os.getuid() == 0:
        os.seteuid(0)
        rightless.chmod(0o666)
        os.seteuid(NOBODY)
    else:
        rightless.chmod(0o666)
    connection = open_writing(rightless)
    with pytest.raises(sqlite3.OperationalError) as error, write_tx(connection):
        connection.execute("INSERT INTO kind (name) VALUES ('stamps')")
    connection.close()
    assert "cannot be written to" in str(explain(error.value, rightless))


def test_a_book_in_a_read_only_folder_cannot_be_made(rightless: Path) -> None:
    """The folder is named."""
    with pytest.raises(BookError, match="no book can be made in"):
        create(rightless.with_name("new.blankbook"))


def test_an_unreadable_file_is_told(rightless: Path) -> None:
    """No right to read is a refusal with the system's reason."""
    is_root = os.getuid() == 0
    if is_root:
        os.seteuid(0)
    rightless.chmod(0o000)
    if is_root:
        os.seteuid(NOBODY)
    with pytest.raises(BookError, match="cannot be read"):
        open_reading(rightless)


def test_a_killed_writer_leaves_the_book_as_it_was(book: Book) -> None:
    """A process killed in the middle of writing leaves a journal; the next look rolls it back."""
    book.receive(line("TEE-SAND-M"))
    killed = """
import os, sqlite3, sys
book = sqlite3.connect(sys.argv[1], isolation_level=None)
book.execute("PRAGMA cache_size = 1")
book.execute("BEGIN IMMEDIATE")
for number in range(3000):
    book.execute("INSERT INTO kind (name, note) VALUES (?, ?)", (str(number), "x" * 500))
os.kill(os.getpid(), 9)
"""
    done = subprocess.run([sys.executable, "-c", killed, str(book.path)], check=False)
    journal = book.path.with_name(book.path.name + "-journal")
    assert (done.returncode, journal.exists()) == (-signal.SIGKILL, True)
    connection = open_reading(book.path)
    assert prove(connection).is_whole
    assert connection.execute("SELECT count(*) FROM kind WHERE note <> ''").fetchone() == (0,)
    connection.close()
    assert not journal.exists()


FILLING = """
import datetime, resource, sqlite3, sys
sys.path[:0] = sys.argv[2:]
from pathlib import Path
from book_builder import opened, line
from ledger.book.connect import explain
path = Path(sys.argv[1])
book = opened(path)
if len(sys.argv) > 3 and sys.argv[-1] == "limited":
    size = path.stat().st_size
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
try:
    book.receive(*[line("TEE-SAND-M", note="x" * 5000) for _ in range(200)])
except sqlite3.Error as error:
    print(explain(error, path))
    sys.exit(1)
"""


def fill(path: Path, *words: str) -> str:
    """Receive more than there is room for in a process of its own; return what was said."""
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run(
        [sys.executable, "-c", FILLING, str(path), str(root), str(root / "tests"), *words],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (1, "")
    return done.stdout


def test_a_file_that_may_not_grow_keeps_the_book_whole(path: Path) -> None:
    """Where the system refuses to write more, nothing is posted and the book is as it was."""
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] == resource.RLIM_INFINITY
    assert "Nothing was posted" in fill(path, "limited")
    book = opened(path)
    assert (book.rows("SELECT count(*) FROM document"), book.prove().findings) == ([(0,)], ())
    book.connection.close()


@pytest.fixture
def tiny_disk(path: Path, tmp_path: Path) -> Iterator[Path]:
    """A book on a disk with no room to speak of."""
    folder = tmp_path / "tiny"
    folder.mkdir()
    size = path.stat().st_size + 200_000
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(folder)], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip("no disk can be mounted here; the test of a file that may not grow stands in for it")
    shutil.copyfile(path, folder / "shop.blankbook")
    yield folder / "shop.blankbook"
    subprocess.run(["umount", str(folder)], check=True)


def test_a_full_disk_keeps_the_book_whole(tiny_disk: Path) -> None:
    """The message names the disk; nothing was posted, and the book is as it was."""
    assert "is full. Nothing was posted" in fill(tiny_disk)
    book = opened(tiny_disk)
    assert (book.rows("SELECT count(*) FROM document"), book.prove().findings) == ([(0,)], ())
    book.connection.close()


def test_a_backup_onto_a_full_disk_is_told(book: Book, tiny_disk: Path) -> None:
    """No half copy stays, and what bears the disk's name in the message is the copy's place."""
    book.receive(*[line("TEE-SAND-M", note="x" * 5000) for _ in range(100)])
    with pytest.raises(BookError, match=r"is full\. No backup was made"):
        back_up(book.connection, tiny_disk.with_name("copy.blankbook"))
    assert [each.name for each in tiny_disk.parent.iterdir()] == ["shop.blankbook"]


def test_restoring_onto_a_full_disk_changes_nothing(book: Book, tiny_disk: Path) -> None:
    """There is no room for the second file: the first stays."""
    book.receive(*[line("TEE-SAND-M", note="x" * 5000) for _ in range(100)])
    before = tiny_disk.read_bytes()
    with pytest.raises(BookError, match=r"is full\. Nothing was restored"):
        prepare_restore(book.path, tiny_disk)
    assert tiny_disk.read_bytes() == before
    assert [each.name for each in tiny_disk.parent.iterdir()] == ["shop.blankbook"]


@pytest.mark.parametrize("there", ["a book", "none"])
def test_restoring_without_the_right_is_told(book: Book, rightless: Path, there: str) -> None:
    """A folder that cannot be written to keeps what it has; the backup is one that anybody may read."""
    source = Path(tempfile.mkdtemp()) / "copy.blankbook"
    is_root = os.getuid() == 0
    if is_root:
        os.seteuid(0)
    shutil.copyfile(book.path, source)
    source.parent.chmod(0o755)
    source.chmod(0o644)
    if is_root:
        os.seteuid(NOBODY)
    place = rightless if there == "a book" else rightless.with_name("none.blankbook")
    with pytest.raises(BookError, match="cannot be"):
        prepare_restore(source, place)
    with (
        contextlib.closing(open_reading(rightless)) as reader,
        pytest.raises(BookError, match=r"cannot be written to\. No backup was made"),
    ):
        back_up(reader, rightless.with_name("copy.blankbook"))
    if is_root:
        os.seteuid(0)
    shutil.rmtree(source.parent)
    assert [each.name for each in rightless.parent.iterdir()] == ["shop.blankbook"]


def test_a_busy_book_is_told(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another process that writes and does not end is named after a while."""
    monkeypatch.setattr(connect, "BUSY_SECONDS", 0)
    writer, second = open_writing(path), open_writing(path)
    with write_tx(writer):
        with pytest.raises(sqlite3.OperationalError) as error, write_tx(second):
            pass
        told = explain(error.value, path)
    writer.close()
    second.close()
    assert (type(told), "another Blankbook is writing" in str(told)) == (BookBusy, True)


def test_looking_goes_on_while_another_writes(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A posting that is being prepared keeps nobody from reading what was there before."""
    monkeypatch.setattr(connect, "BUSY_SECONDS", 0)
    writer = open_writing(path)
    with write_tx(writer):
        writer.execute("INSERT INTO kind (name) VALUES ('stamps')")
        reader = open_reading(path)
        assert reader.execute("SELECT count(*) FROM kind WHERE name = 'stamps'").fetchone() == (0,)
        reader.close()
    writer.close()


def test_a_block_that_fails_leaves_nothing(path: Path) -> None:
    """All of a transaction is in the book, or none of it."""
    connection = open_writing(path)

    def break_off() -> None:
        with write_tx(connection):
            connection.execute("INSERT INTO kind (name) VALUES ('stamps')")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        break_off()
    assert connection.execute("SELECT count(*) FROM kind WHERE name = 'stamps'").fetchone() == (0,)
    connection.close()


def test_a_copy_can_be_made_while_another_writes(book: Book, tmp_path: Path) -> None:
    """A copy taken in the middle of a posting is the book before it, whole."""
    book.receive(line("TEE-SAND-M"))
    with write_tx(book.connection):
        book.connection.execute("INSERT INTO kind (name) VALUES ('stamps')")
        reader = open_reading(book.path)
        copy_to(reader, tmp_path / "copy.blankbook")
        reader.close()
    copy = open_reading(tmp_path / "copy.blankbook")
    assert prove(copy).is_whole
    assert copy.execute("SELECT count(*) FROM kind WHERE name = 'stamps'").fetchone() == (0,)
    copy.close()

"""Opening, making and migrating a book: whatever the file is, plain words and nothing changed."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from book_builder import Book, line, make_book, opened
from sqlite_utils import Database, Migrations

from ledger.book import connect, migrations
from ledger.book.connect import (
    APPLICATION_ID,
    SCHEMA_VERSION,
    apply_migrations,
    copy_to,
    create,
    draft_path,
    explain,
    open_reading,
    open_writing,
    publish,
    write_tx,
)
from ledger.book.proving import prove
from ledger.errors import (
    BlankbookError,
    BookBusy,
    BookDamaged,
    BookError,
    BookForeign,
    BookMissing,
    BookNewer,
)

NOBODY = 65534


@pytest.fixture
def path(empty_book: Path, tmp_path: Path) -> Path:
    """A closed book with items and no document."""
    target = tmp_path / "shop.blankbook"
    shutil.copyfile(empty_book, target)
    return target


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


@pytest.fixture
def rightless(path: Path) -> Iterator[Path]:
    """The book in a folder where this process, for the test, has the rights of anybody."""
    folder = Path(tempfile.mkdtemp(dir="/tmp"))
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


def test_a_guard_is_told_in_its_own_words(path: Path) -> None:
    """What a trigger refuses is a refusal, not damage."""
    connection = open_writing(path)
    with pytest.raises(sqlite3.IntegrityError) as error:
        connection.execute("DELETE FROM boundary")
    connection.close()
    assert str(explain(error.value, path)).startswith("refused: months are closed and reopened only")


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


NEXT = SCHEMA_VERSION + 1


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


def _dump(content: bytes, place: Path) -> list[str]:
    place.write_bytes(content)
    connection = sqlite3.connect(place)
    lines = list(connection.iterdump())
    connection.close()
    return lines


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

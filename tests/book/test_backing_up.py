"""Backing a book up and putting a backup in its place: proved, whole, and never over what was there."""

from __future__ import annotations

import os
import shutil
import sqlite3
from pathlib import Path

import pytest
from book_builder import Book, disarm, line, opened
from older_book import make_older

from ledger.book import backing_up, connect, drafts
from ledger.book.backing_up import Restoration, back_up, prepare_restore, put_in_place
from ledger.book.connect import SCHEMA_VERSION, explain, open_reading, open_writing, write_tx
from ledger.book.proving import prove
from ledger.errors import (
    BookBusy,
    BookDamaged,
    BookForeign,
    BookMissing,
    BookNewer,
    UsageError,
)


@pytest.fixture
def backup(book: Book, tmp_path: Path) -> Path:
    """A backup of a book with one receipt, which has a second one since."""
    book.receive(line("TEE-SAND-M"))
    place = tmp_path / "backups" / "one.blankbook"
    place.parent.mkdir()
    back_up(book.connection, place)
    book.receive(line("TEE-PLUM-L"))
    book.connection.close()
    return place


@pytest.fixture
def path(book: Book) -> Path:
    """The book's file."""
    return book.path


def documents(path: Path) -> int:
    """How many documents a book has that proves whole."""
    connection = open_reading(path)
    assert prove(connection).findings == ()
    count: int = connection.execute("SELECT count(*) FROM document").fetchone()[0]
    connection.close()
    return count


def names(folder: Path) -> list[str]:
    """What lies in a folder."""
    return sorted(each.name for each in folder.iterdir())


def restored(source: Path, path: Path) -> Path | None:
    """Restore; return where the old file is kept."""
    return put_in_place(prepare_restore(source, path))


def test_a_backup_is_the_book_and_proves_whole(book: Book, tmp_path: Path) -> None:
    """What it says of itself is what is in it, and nothing else lies beside it."""
    book.receive(line("TEE-SAND-M"))
    target = tmp_path / "elsewhere" / "copy.blankbook"
    target.parent.mkdir()
    made = back_up(book.connection, target)
    assert (made.contents.documents, made.proof.findings, made.byte_count) == (1, (), target.stat().st_size)
    assert (documents(target), names(target.parent)) == (1, ["copy.blankbook"])


def test_a_backup_can_be_made_while_another_writes(book: Book, tmp_path: Path) -> None:
    """What is being posted is not in it; what was posted is."""
    book.receive(line("TEE-SAND-M"))
    with write_tx(book.connection):
        book.connection.execute("INSERT INTO kind (name) VALUES ('stamps')")
        reader = open_reading(book.path)
        back_up(reader, tmp_path / "copy.blankbook")
        reader.close()
    assert documents(tmp_path / "copy.blankbook") == 1


@pytest.mark.parametrize("there", ["file", "folder", "link", "no folder"])
def test_a_backup_never_writes_over_anything(book: Book, tmp_path: Path, there: str) -> None:
    """Whatever bears the name stays as it is."""
    target = tmp_path / "copy.blankbook"
    if there == "file":
        target.write_text("a list", encoding="utf-8")
    elif there == "folder":
        target.mkdir()
    elif there == "link":
        target.symlink_to(tmp_path / "nowhere")
    else:
        target = tmp_path / "none" / "copy.blankbook"
    before = names(tmp_path)
    with pytest.raises(UsageError, match=r"is there already|is a folder|does not exist"):
        back_up(book.connection, target)
    assert names(tmp_path) == before


def test_a_name_taken_meanwhile_is_left(book: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody else's file that appears while the copy is proved stays."""
    target = tmp_path / "copy.blankbook"

    def meanwhile(*_: object) -> object:
        target.write_text("the other one", encoding="utf-8")
        return proved(*_)  # type: ignore[arg-type]

    proved = backing_up.prove
    monkeypatch.setattr(backing_up, "prove", meanwhile)
    with pytest.raises(UsageError, match="is there already"):
        back_up(book.connection, target)
    assert (target.read_text("utf-8"), len(names(tmp_path))) == ("the other one", 2)


def test_a_book_that_does_not_prove_is_not_backed_up(book: Book, tmp_path: Path) -> None:
    """A copy that would be worth nothing is not made, and what is wrong is told."""
    book.receive(line("TEE-SAND-M"))
    disarm(book.connection)
    book.connection.execute("UPDATE leg SET amount = amount + 1 WHERE part = 1")
    with pytest.raises(BookDamaged, match=r"does not prove whole(.|\n)*No backup was made"):
        back_up(book.connection, tmp_path / "copy.blankbook")
    assert names(tmp_path) == ["shop.blankbook"]


def test_a_backup_is_no_more_open_than_the_book(book: Book, tmp_path: Path) -> None:
    """Who may not read the book may not read its copy."""
    book.path.chmod(0o600)
    back_up(book.connection, tmp_path / "copy.blankbook")
    assert (tmp_path / "copy.blankbook").stat().st_mode & 0o777 == 0o600


def test_a_restored_backup_is_the_book_and_the_old_one_is_kept(path: Path, backup: Path) -> None:
    """Two documents become one; the two are kept, and so is the backup."""
    content = backup.read_bytes()
    kept = restored(backup, path)
    assert kept is not None
    assert (kept.name, documents(kept), documents(path)) == ("shop.before-restore.blankbook", 2, 1)
    assert (backup.read_bytes(), names(path.parent)) == (
        content,
        ["backups", "shop.before-restore.blankbook", "shop.blankbook"],
    )


def test_restoring_twice_keeps_both(path: Path, backup: Path) -> None:
    """A second old file gets a number."""
    restored(backup, path)
    kept = restored(backup, path)
    assert kept is not None
    assert (kept.name, documents(kept)) == ("shop.before-restore.2.blankbook", 1)
    assert documents(path.with_name("shop.before-restore.blankbook")) == 2


def test_looking_at_a_restoration_changes_nothing(path: Path, backup: Path) -> None:
    """Both states are told, and a draft that is discarded leaves nothing."""
    before = (path.read_bytes(), names(path.parent))
    ready = prepare_restore(backup, path)
    drafts.discard_draft(ready.draft)
    assert ready.there is not None
    assert (ready.there.documents, ready.contents.documents) == (2, 1)
    assert (path.read_bytes(), names(path.parent)) == before


def test_a_missing_book_is_restored(path: Path, backup: Path) -> None:
    """Where no book is, there is nothing to keep, and that is told."""
    path.unlink()
    ready = prepare_restore(backup, path)
    assert (ready.there, ready.why_unread) == (None, "there is no book now")
    assert (put_in_place(ready), documents(path)) == (None, 1)


def test_a_book_that_appeared_meanwhile_is_left(path: Path, backup: Path) -> None:
    """Where there was none when it was looked at, but is one now, it is kept like any other."""
    saved = path.read_bytes()
    path.unlink()
    ready = prepare_restore(backup, path)
    path.write_bytes(saved)
    kept = put_in_place(ready)
    assert kept is not None
    assert (documents(kept), documents(path)) == (2, 1)


@pytest.mark.parametrize("how", ["cut", "noise", "empty", "a list"])
def test_a_damaged_book_is_kept_as_it_is(path: Path, backup: Path, how: str) -> None:
    """However it is damaged, it stays byte for byte under another name."""
    data = path.read_bytes()
    damaged = {
        "cut": data[:4096],
        "noise": data[:100] + bytes(byte ^ 0x5A for byte in data[100:]),
        "empty": b"",
        "a list": b"sku,quantity\n",
    }[how]
    path.write_bytes(damaged)
    ready = prepare_restore(backup, path)
    assert (ready.there, ready.why_unread != "") == (None, True)
    kept = put_in_place(ready)
    assert kept is not None
    assert (kept.read_bytes(), documents(path)) == (damaged, 1)


def hot_journal(path: Path) -> bytes:
    """Leave beside a book what a process killed while it wrote leaves; return it."""
    other = path.with_name("killed.blankbook")
    shutil.copyfile(path, other)
    writer = open_writing(other)
    writer.execute("PRAGMA cache_size = 1")
    writer.execute("BEGIN IMMEDIATE")
    for number in range(2000):
        writer.execute("INSERT INTO kind (name, note) VALUES (?, ?)", (str(number), "x" * 500))
    journal = other.with_name("killed.blankbook-journal").read_bytes()
    assert journal[:8] == bytes.fromhex("d9d505f920a163d7")
    half = other.read_bytes()
    writer.close()
    other.unlink()
    path.write_bytes(half)
    path.with_name(path.name + "-journal").write_bytes(journal)
    return journal


def test_what_a_killed_command_left_is_rolled_back_first(path: Path, backup: Path) -> None:
    """The file that is kept is whole by itself, and the new book has nothing beside it to be changed by."""
    hot_journal(path)
    kept = restored(backup, path)
    assert kept is not None
    assert (documents(kept), documents(path)) == (2, 1)
    assert names(path.parent) == ["backups", "shop.before-restore.blankbook", "shop.blankbook"]


def test_a_journal_without_its_book_does_no_harm(path: Path, backup: Path) -> None:
    """A book that was deleted left a journal: it is set aside, else SQLite would play it into the new file."""
    journal = hot_journal(path)
    path.unlink()
    assert (restored(backup, path), documents(path)) == (None, 1)
    assert path.with_name("shop.before-new-file.blankbook-journal").read_bytes() == journal


def test_a_journal_of_a_damaged_book_goes_with_it(path: Path, backup: Path) -> None:
    """Where the old file cannot be rolled back, both are kept together."""
    journal = hot_journal(path)
    path.write_bytes(b"\x00" * 5000)
    kept = restored(backup, path)
    assert kept is not None
    assert documents(path) == 1
    assert kept.with_name(kept.name + "-journal").read_bytes() == journal


def test_an_older_backup_is_brought_up_to_date(path: Path, backup: Path) -> None:
    """The copy is migrated; the backup stays of its version."""
    make_older(backup, SCHEMA_VERSION - 1)
    content = backup.read_bytes()
    ready = prepare_restore(backup, path)
    assert (ready.was_version, ready.contents.version) == (SCHEMA_VERSION - 1, SCHEMA_VERSION)
    put_in_place(ready)
    assert (documents(path), backup.read_bytes()) == (1, content)


def test_a_newer_backup_is_refused(path: Path, backup: Path) -> None:
    """This program cannot know what is in it."""
    with sqlite3.connect(backup) as newer:
        newer.execute(f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
    newer.close()
    refused(backup, path, BookNewer, "newer Blankbook")


def refused(source: Path, path: Path, kind: type[Exception], words: str) -> None:
    """Check that a restoration is refused in words and changes nothing."""
    before = (path.read_bytes() if path.is_file() else None, names(path.parent))
    with pytest.raises(kind, match=words):
        restored(source, path)
    assert (path.read_bytes() if path.is_file() else None, names(path.parent)) == before


def test_a_backup_that_does_not_prove_is_refused(path: Path, backup: Path) -> None:
    """A broken backup never takes a book's place."""
    with sqlite3.connect(backup) as broken:
        disarm(broken)
        broken.execute("UPDATE leg SET amount = amount + 1 WHERE part = 1")
    broken.close()
    refused(backup, path, BookDamaged, "does not prove whole")


def test_what_is_no_backup_is_refused(path: Path, backup: Path, tmp_path: Path) -> None:
    """A missing file, a folder, a list, a broken link, half a book: each in words."""
    half, rows, link = tmp_path / "half.blankbook", tmp_path / "rows.csv", tmp_path / "link.blankbook"
    half.write_bytes(backup.read_bytes()[:4096])
    rows.write_text("sku,quantity\n", encoding="utf-8")
    link.symlink_to(tmp_path / "nowhere")
    refused(tmp_path / "none.blankbook", path, BookMissing, "there is no file")
    refused(tmp_path / "backups", path, BookForeign, "is a folder")
    refused(rows, path, BookForeign, "not a Blankbook book")
    refused(link, path, BookMissing, "a link to a file that is not there")
    refused(half, path, BookDamaged, "damaged|lost its tables")


def test_the_book_itself_is_no_backup(path: Path, backup: Path, tmp_path: Path) -> None:
    """By its own name, through a link, and through a second name."""
    assert backup.exists()
    link, second = tmp_path / "link.blankbook", tmp_path / "second.blankbook"
    link.symlink_to(path)
    os.link(path, second)
    for same in (path, link, second):
        refused(same, path, UsageError, "is the book itself")


def test_another_programs_database_is_not_replaced(path: Path, backup: Path) -> None:
    """A mistyped --book does not take another program's file away."""
    path.unlink()
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE notes (text)")
    other.close()
    refused(backup, path, BookForeign, "another program")


def test_a_folder_is_no_place_for_a_book(path: Path, backup: Path) -> None:
    """Nor is a place in a folder that is not there."""
    path.unlink()
    path.mkdir()
    with pytest.raises(BookForeign, match="is a folder"):
        prepare_restore(backup, path)
    with pytest.raises(UsageError, match="does not exist"):
        prepare_restore(backup, path.parent / "none" / "shop.blankbook")


def test_a_linked_book_stays_linked(path: Path, backup: Path, tmp_path: Path) -> None:
    """The file behind the link is replaced, and kept beside itself."""
    (tmp_path / "disk").mkdir()
    real = path.rename(tmp_path / "disk" / "real.blankbook")
    path.symlink_to(real)
    kept = restored(backup, path)
    assert (path.is_symlink(), kept) == (True, tmp_path / "disk" / "real.before-restore.blankbook")
    assert documents(path) == 1


def test_a_book_being_written_is_not_replaced(
    path: Path, backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another process in the middle of posting keeps its book."""
    monkeypatch.setattr(connect, "BUSY_SECONDS", 0)
    writer = open_writing(path)
    with write_tx(writer):
        writer.execute("INSERT INTO kind (name) VALUES ('stamps')")
        with pytest.raises(BookBusy, match="another Blankbook is writing"):
            restored(backup, path)
    writer.close()
    assert (documents(path), names(path.parent)) == (2, ["backups", "shop.blankbook"])


def test_who_opened_the_old_book_cannot_post_to_it(path: Path, backup: Path) -> None:
    """A command that waits at its question while the book is replaced is told so and posts nothing."""
    waiting = open_writing(path)
    kept = restored(backup, path)
    assert kept is not None
    with pytest.raises(sqlite3.OperationalError) as error, write_tx(waiting):
        waiting.execute("INSERT INTO kind (name) VALUES ('stamps')")
    waiting.close()
    assert "another file took the place of" in str(explain(error.value, path))
    assert (documents(path), documents(kept)) == (1, 2)


def test_a_book_replaced_while_waiting_for_it_is_locked_anew(
    path: Path, backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two restorations at once: the second keeps what the first put there, not a file long gone."""
    second = prepare_restore(backup, path)
    moved = [path.with_name("moved.blankbook")]

    def lock_late(place: Path) -> sqlite3.Connection:
        if moved:
            content = place.read_bytes()
            place.rename(moved.pop())
            place.write_bytes(content)
            return locked(moved_to)
        return locked(place)

    moved_to, locked = moved[0], backing_up.lock_out_writers
    monkeypatch.setattr(backing_up, "lock_out_writers", lock_late)
    kept = put_in_place(second)
    assert kept is not None
    assert (documents(kept), documents(path), documents(moved_to)) == (2, 1, 2)


def test_a_disk_without_hard_links_keeps_the_old_file_too(
    path: Path, backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is copied then, also where it is damaged."""

    def no_link(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_link)
    kept = restored(backup, path)
    assert kept is not None
    assert (documents(kept), documents(path)) == (2, 1)
    path.write_bytes(b"noise")
    kept = restored(backup, path)
    assert kept is not None
    assert (kept.read_bytes(), documents(path)) == (b"noise", 1)


def test_a_read_only_backup_becomes_a_book_to_post_to(path: Path, backup: Path) -> None:
    """A backup on a medium that cannot be written to is restored like any other."""
    backup.chmod(0o444)
    path.unlink()
    restored(backup, path)
    assert path.stat().st_mode & 0o200
    book = opened(path)
    book.receive(line("TEE-PLUM-L"))
    book.connection.close()
    assert documents(path) == 2


def test_restoring_says_what_it_checks(path: Path, backup: Path) -> None:
    """Each check of the proof is told while it runs."""
    told: list[str] = []
    ready: Restoration = prepare_restore(backup, path, told.append)
    drafts.discard_draft(ready.draft)
    assert "the same costs by the second engine" in told

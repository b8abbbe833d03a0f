"""`blankbook backup` and `blankbook restore`: what they say, what they ask, what stays as it was."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_shop import Commands, Outcome, new_book

from ledger.book.connect import open_writing, write_tx
from ledger.cli import backup as command
from ledger.cli import common
from ledger.errors import BookMissing, Refused, UsageError


@pytest.fixture
def run(tmp_path: Path) -> Commands:
    """Both commands, with a new book in a folder of its own."""
    folder = tmp_path / "shop"
    folder.mkdir()
    return Commands(command.register, new_book(folder / "shop.blankbook"))


@pytest.fixture
def copy(run: Commands, tmp_path: Path) -> Path:
    """A backup of the book, which has another kind of thing since."""
    place = tmp_path / "copy.blankbook"
    assert run("backup", str(place)).code == 0
    connection = open_writing(run.book)
    with write_tx(connection):
        connection.execute("INSERT INTO kind (name) VALUES ('stamps')")
    connection.close()
    return place


def has_stamps(path: Path) -> bool:
    """Whether the book is the later one."""
    connection = open_writing(path)
    row = connection.execute("SELECT 1 FROM kind WHERE name = 'stamps'").fetchone()
    connection.close()
    return row is not None


def refusal(done: Outcome, kind: type[Exception]) -> str:
    """What a refused command said."""
    assert isinstance(done.error, kind)
    return str(done.error)


def test_a_backup_says_what_it_is_and_how_to_put_it_back(run: Commands, tmp_path: Path) -> None:
    """The way back stands in the message, with the file quoted for the shell."""
    place = tmp_path / "my copy.blankbook"
    done = run("backup", str(place))
    assert (done.code, place.exists()) == (0, True)
    assert "The copy is whole: 0 documents" in done.out
    assert f'restore "{place}"' in done.err


def test_a_backup_as_data(run: Commands, tmp_path: Path) -> None:
    """One document on stdout, messages on stderr."""
    place = tmp_path / "copy.blankbook"
    data = run("backup", str(place), "--json").data
    assert (data["backup"], data["bytes"], data["proved"], data["documents"]) == (
        str(place),
        place.stat().st_size,
        True,
        0,
    )


def test_a_backup_beside_the_book_is_told(run: Commands) -> None:
    """Two books in one folder: from then on the book must be named."""
    done = run("backup", str(run.book.with_name("copy.blankbook")))
    assert "Two books lie in this folder now" in done.err


def test_layouts_beside_the_book_are_told(run: Commands, tmp_path: Path) -> None:
    """Saved layouts are files of their own, which a backup of the book does not hold."""
    run.book.with_name("shop.profiles").mkdir()
    assert "The saved layouts in the folder" in run("backup", str(tmp_path / "copy.blankbook")).err


def test_a_dry_backup_writes_nothing(run: Commands, tmp_path: Path) -> None:
    """It says what would be copied."""
    done = run("backup", str(tmp_path / "copy.blankbook"), "--dry-run")
    assert (done.code, (tmp_path / "copy.blankbook").exists()) == (0, False)
    assert "0 documents would be copied" in done.err


def test_a_backup_over_a_file_is_refused(run: Commands, copy: Path) -> None:
    """The file stays as it was."""
    before = copy.read_bytes()
    assert "is there already" in refusal(run("backup", str(copy)), UsageError)
    assert copy.read_bytes() == before


def test_restoring_shows_both_states_and_keeps_the_old_file(run: Commands, copy: Path) -> None:
    """The old file's new name is said before and after."""
    done = run("restore", str(copy), "--yes")
    kept = run.book.with_name("shop.before-restore.blankbook")
    assert (done.code, has_stamps(run.book), has_stamps(kept)) == (0, False, True)
    assert "the backup    Pebble Lane Prints" in done.out
    assert f"kept as {kept}" in done.out
    assert f"kept as {kept}; delete it once" in done.err


def test_restoring_asks(run: Commands, copy: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A no leaves everything, and no draft behind."""
    monkeypatch.setattr(common, "is_asking", lambda: True)
    done = run("restore", str(copy), typed="n\n")
    assert "nothing was restored" in refusal(done, Refused)
    assert (has_stamps(run.book), [each.name for each in run.book.parent.iterdir()]) == (
        True,
        ["shop.blankbook"],
    )


def test_restoring_without_anybody_to_ask_is_refused(run: Commands, copy: Path) -> None:
    """A script says --yes."""
    assert "there is nobody to ask" in refusal(run("restore", str(copy)), Refused)
    assert has_stamps(run.book)


def test_a_dry_restoration_changes_nothing(run: Commands, copy: Path) -> None:
    """It proves the backup, shows both, and leaves no draft."""
    done = run("restore", str(copy), "--dry-run", "--json")
    assert (done.data["done"], done.data["kept"], done.data["documents"]) == (False, None, 0)
    assert "this was a dry run" in done.err
    assert (has_stamps(run.book), [each.name for each in run.book.parent.iterdir()]) == (
        True,
        ["shop.blankbook"],
    )


def test_a_restoration_as_data(run: Commands, copy: Path) -> None:
    """What was restored from where, and where the old file is."""
    data = run("restore", str(copy), "--yes", "--json").data
    assert (data["book"], data["restored_from"], data["done"], data["kept"]) == (
        str(run.book),
        str(copy),
        True,
        str(run.book.with_name("shop.before-restore.blankbook")),
    )


def test_restoring_to_where_no_book_is(run: Commands, copy: Path) -> None:
    """A lost book comes back, and it is said that nothing was replaced."""
    run.book.unlink()
    done = run("restore", str(copy), "--yes")
    assert (done.code, has_stamps(run.book)) == (0, False)
    assert "nothing is replaced" in done.out
    assert "There was no book before" in done.err


def test_a_damaged_book_is_told_and_replaced(run: Commands, copy: Path) -> None:
    """What cannot be looked at is kept all the same."""
    run.book.write_bytes(run.book.read_bytes()[:4096])
    done = run("restore", str(copy), "--yes")
    assert "could not be looked at: it is damaged" in done.out
    assert run.book.with_name("shop.before-restore.blankbook").stat().st_size == 4096


def test_the_book_of_another_shop_is_told(run: Commands, tmp_path: Path) -> None:
    """A backup of the wrong shop is restored only by somebody who looked twice."""
    other = new_book(tmp_path / "other.blankbook", "Other Prints")
    assert "books of different shops" in run("restore", str(other), "--dry-run").out


def test_the_backup_alone_in_the_folder_is_not_taken_for_the_book(
    copy: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where only the backup lies, the book's place must be named."""
    monkeypatch.chdir(copy.parent)
    monkeypatch.delenv(common.BOOK_VARIABLE, raising=False)

    class NoBook:
        params: dict[str, str] = {}  # noqa: RUF012  (a stand-in)

        def find_root(self) -> NoBook:
            return self

    way = r"no book was named.*: blankbook --book shop\.blankbook restore copy\.blankbook"
    with pytest.raises(BookMissing, match=way):
        common.book_path(NoBook(), without=Path("copy.blankbook"))  # type: ignore[arg-type]
    (copy.parent / "shop.before-restore.blankbook").touch()
    assert common.book_path(NoBook()) == Path.cwd() / "copy.blankbook"  # type: ignore[arg-type]


def test_the_place_of_the_book_is_told_when_restoring(tmp_path: Path) -> None:
    """A folder that is kept alike elsewhere is no place for a book that is written to."""
    folder = tmp_path / "cloud"
    folder.mkdir()
    run = Commands(command.register, new_book(folder / "shop.blankbook"))
    copy = tmp_path / "copy.blankbook"
    assert "kept alike elsewhere" not in run("backup", str(copy)).err
    assert run("restore", str(copy), "--yes").err.count("kept alike elsewhere") == 1

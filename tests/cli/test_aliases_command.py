"""`blankbook aliases` in this process."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_shop import Commands, new_book

from ledger.book.catalogue_store import save_items
from ledger.book.connect import open_writing, write_tx
from ledger.catalogue.items import Item
from ledger.cli import aliases
from ledger.errors import Refused, UsageError

CODE = "K7 Hthr Navy 2X"


def item(sku: str, colour: str, size: str) -> Item:
    """A blank of the book."""
    return Item(sku, f"Heron tee, {colour}, {size}", "blank", "goods", "each", "Heron", colour, size, "adult")


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The command with a book of three items."""
    monkeypatch.chdir(tmp_path)
    path = new_book(tmp_path / "shop.blankbook")
    connection = open_writing(path)
    items = [item("TEE-HNV-2XL", "Heather Navy", "2XL"), item("TEE-HNV-M", "Heather Navy", "M")]
    with write_tx(connection):
        save_items(connection, [*items, item("TEE-BLK-M", "Black", "M")], [])
    connection.close()
    return Commands(aliases.register, path)


def listed(blankbook: Commands) -> list[tuple[str, str, str]]:
    """What the list says: part, word and meaning."""
    return [(row["part"], row["word"], row["meaning"]) for row in blankbook("aliases", "--json").data]


TAUGHT = [
    ("code", CODE, "TEE-HNV-2XL"),
    ("style", "K7", "Heron"),
    ("colour", "Hthr Navy", "Heather Navy"),
]


def test_a_taught_code_is_listed_with_the_words_learned_from_it(blankbook: Commands) -> None:
    """The code, its style and its colour."""
    blankbook("aliases", "add", "Mill Lane", CODE, "TEE-HNV-2XL")
    assert listed(blankbook) == TAUGHT


def test_the_list_is_a_table_for_people(blankbook: Commands) -> None:
    """One row for each name under four headings."""
    blankbook("aliases", "add", "Mill Lane", "A-1", "TEE-BLK-M")
    assert blankbook("aliases").out.splitlines()[-1].split() == ["Mill", "Lane", "code", "A-1", "TEE-BLK-M"]


def test_the_list_can_be_one_suppliers(blankbook: Commands) -> None:
    """Whatever the case of its name."""
    blankbook("aliases", "add", "Mill Lane", "A-1", "TEE-BLK-M")
    blankbook("aliases", "add", "Kiln Row", "B-1", "TEE-HNV-M")
    rows = blankbook("aliases", "--party", "KILN ROW", "--json").data
    assert [row["word"] for row in rows] == ["B-1"]


def test_the_same_code_is_another_item_of_another_supplier(blankbook: Commands) -> None:
    """Names belong to who uses them."""
    blankbook("aliases", "add", "Mill Lane", "A-1", "TEE-BLK-M")
    blankbook("aliases", "add", "Kiln Row", "A-1", "TEE-HNV-M")
    assert [row["meaning"] for row in blankbook("aliases", "--json").data] == ["TEE-HNV-M", "TEE-BLK-M"]


def test_teaching_again_amends(blankbook: Commands) -> None:
    """Under the spelling it has already."""
    blankbook("aliases", "add", "Mill Lane", "A-1", "TEE-BLK-M")
    blankbook("aliases", "add", "Mill Lane", "a-1", "TEE-HNV-M")
    assert listed(blankbook) == [("code", "A-1", "TEE-HNV-M")]


def test_teaching_the_same_twice_changes_nothing(blankbook: Commands) -> None:
    """And says so."""
    blankbook("aliases", "add", "Mill Lane", "A-1", "TEE-BLK-M")
    again = blankbook("aliases", "add", "Mill Lane", "A-1", "TEE-BLK-M", "--json")
    assert (again.data["change"], "Nothing changes" in again.err) == (None, True)


def test_an_unknown_sku_is_refused_with_the_nearest(blankbook: Commands) -> None:
    """A typing error is no alias."""
    outcome = blankbook("aliases", "add", "Mill Lane", "A-1", "TEE-BKL-M")
    assert isinstance(outcome.error, Refused)
    assert "Did you mean 'TEE-BLK-M'?" in str(outcome.error)


def test_a_new_supplier_is_added_and_said(blankbook: Commands) -> None:
    """It may be a misspelling of a known one."""
    assert "Mill Lane is new in the book" in blankbook("aliases", "add", "Mill Lane", "A-1", "TEE-BLK-M").err


def test_a_word_can_be_taught_alone(blankbook: Commands) -> None:
    """The meaning gets the catalogue's spelling."""
    blankbook("aliases", "add-word", "Mill Lane", "color", "HN", "heather navy")
    assert listed(blankbook) == [("colour", "HN", "Heather Navy")]


def test_a_word_of_no_item_is_refused(blankbook: Commands) -> None:
    """There is nothing it could mean."""
    outcome = blankbook("aliases", "add-word", "Mill Lane", "colour", "HN", "Mauve")
    assert isinstance(outcome.error, Refused)


def test_a_word_for_something_else_is_bad_usage(blankbook: Commands) -> None:
    """Style, colour and size are what words are for."""
    outcome = blankbook("aliases", "add-word", "Mill Lane", "price", "HN", "Heather Navy")
    assert isinstance(outcome.error, UsageError)


def test_a_removed_code_is_gone(blankbook: Commands) -> None:
    """Its words stay."""
    blankbook("aliases", "add", "Mill Lane", CODE, "TEE-HNV-2XL")
    blankbook("aliases", "remove", "Mill Lane", CODE)
    assert listed(blankbook) == TAUGHT[1:]


def test_removing_what_is_not_there_is_refused(blankbook: Commands) -> None:
    """With the nearest there is."""
    blankbook("aliases", "add", "Mill Lane", "A-100", "TEE-BLK-M")
    outcome = blankbook("aliases", "remove", "Mill Lane", "A-10")
    assert isinstance(outcome.error, Refused)
    assert "Did you mean 'A-100'?" in str(outcome.error)


def test_undo_takes_back_what_one_command_taught(blankbook: Commands) -> None:
    """The code and both words."""
    blankbook("aliases", "add", "Mill Lane", CODE, "TEE-HNV-2XL")
    blankbook("aliases", "undo")
    assert listed(blankbook) == []


def test_undo_brings_back_what_was_removed(blankbook: Commands) -> None:
    """As it was."""
    blankbook("aliases", "add", "Mill Lane", "A-1", "TEE-BLK-M")
    blankbook("aliases", "remove", "Mill Lane", "A-1")
    blankbook("aliases", "undo")
    assert listed(blankbook) == [("code", "A-1", "TEE-BLK-M")]


def test_undo_goes_back_step_by_step(blankbook: Commands) -> None:
    """The second undo takes the earlier change, not the first undo."""
    blankbook("aliases", "add", "Mill Lane", "A-1", "TEE-BLK-M")
    blankbook("aliases", "add", "Mill Lane", "A-1", "TEE-HNV-M")
    blankbook("aliases", "undo")
    blankbook("aliases", "undo")
    assert listed(blankbook) == []


def test_an_earlier_change_that_was_changed_since_is_not_undone(blankbook: Commands) -> None:
    """What came later would be lost."""
    blankbook("aliases", "add", "Mill Lane", "A-1", "TEE-BLK-M")
    blankbook("aliases", "add", "Mill Lane", "A-1", "TEE-HNV-M")
    outcome = blankbook("aliases", "undo", "1")
    assert isinstance(outcome.error, Refused)
    assert "changed again since" in str(outcome.error)


def test_a_change_is_undone_once(blankbook: Commands) -> None:
    """The second time is refused."""
    blankbook("aliases", "add", "Mill Lane", "A-1", "TEE-BLK-M")
    blankbook("aliases", "undo", "1")
    assert "was undone already" in str(blankbook("aliases", "undo", "1").error)


def test_nothing_to_undo_is_refused(blankbook: Commands) -> None:
    """A new book has no changes."""
    assert isinstance(blankbook("aliases", "undo").error, Refused)


def test_every_change_is_listed_the_latest_first(blankbook: Commands) -> None:
    """Undone ones too: nothing is erased."""
    blankbook("aliases", "add", "Mill Lane", "A-1", "TEE-BLK-M")
    blankbook("aliases", "undo")
    rows = blankbook("aliases", "--changes", "--json").data
    assert [(row["step"], row["before"], row["after"]) for row in rows] == [
        (2, "TEE-BLK-M", ""),
        (1, "", "TEE-BLK-M"),
    ]


def test_an_empty_list_says_how_to_teach(blankbook: Commands) -> None:
    """There is nothing to show yet."""
    outcome = blankbook("aliases")
    assert (outcome.out, "aliases add PARTY CODE SKU" in outcome.err) == ("", True)

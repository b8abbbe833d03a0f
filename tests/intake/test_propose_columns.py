"""What each column of an unknown layout is, by its heading, by its values, and by what adds up."""

from __future__ import annotations

import pytest
from proposed_files import PER_SIZE, Row, meanings, proposed, read, subjects, words
from shipment_files import Value, made_file


def test_two_equally_good_columns_are_asked() -> None:
    """Neither quantity can be told from the other where nothing multiplies."""
    rows: list[Row] = [["Item", "Qty", "Quantity", "Note"], ["A1", 12, 10, ""], ["B2", 5, 5, ""]]
    proposal = proposed(*rows)
    assert (subjects(proposal), proposal.questions[0].answers) == (
        ["quantity"],
        ("B=quantity", "C=quantity"),
    )


def test_what_multiplies_tells_equally_good_columns_apart() -> None:
    """Only one of the two makes the amount."""
    rows: list[Row] = [
        ["Item", "Qty", "Quantity", "Price", "Amount"],
        ["A1", 12, 10, 2, 20],
        ["B2", 6, 5, 3, 15],
    ]
    proposal = proposed(*rows)
    assert (proposal.questions, proposal.meaning("C"), proposal.meaning("B")) == ((), "quantity", "")


def test_two_columns_of_one_heading_are_told_by_their_place() -> None:
    """The answer names the column, and the profile reads it by its letters."""
    rows: list[Row] = [["Item", "Qty", "Qty", "Price"], ["A1", 12, 10, 2], ["B2", 6, 5, 3]]
    proposal = proposed(*rows, said=("C=quantity",))
    draft = read(made_file(*rows), proposal.profile)
    assert (proposal.questions, [line.quantity for line in draft.lines]) == ((), [10, 5])


def test_a_misspelt_heading_comes_near_enough() -> None:
    """'Quanttiy' and 'Descripton' are what they nearly are."""
    rows: list[Row] = [
        ["Item", "Descripton", "Quanttiy", "Unit prise"],
        ["A1", "Owl", 12, 2],
        ["B2", "Fox", 6, 3],
    ]
    assert list(meanings(proposed(*rows)).values()) == ["code", "description", "quantity", "unit_price"]


def test_a_column_without_a_heading_is_told_by_its_values() -> None:
    """Sizes and colours are known as such."""
    rows: list[Row] = [
        ["Style", "", "", "Qty", "Price"],
        ["T10", "Black", "M", 12, 3],
        ["T10", "Sand", "XL", 6, 3],
    ]
    proposal = proposed(*rows)
    draft = read(made_file(*rows), proposal.profile)
    assert [line.sku for line in draft.lines] == ["T10-BLACK-M", "T10-SAND-XL"]


def test_numbers_without_headings_are_told_by_what_multiplies() -> None:
    """Quantity, price and amount make each other out."""
    rows: list[Row] = [
        ["Style", "Colour", "Size", "", "", ""],
        ["T10", "Black", "M", 12, 3.10, 37.20],
        ["T10", "Black", "L", 24, 3.20, 76.80],
        ["T10", "Sand", "L", 7, 3.20, 22.40],
    ]
    assert [proposed(*rows).meaning(letter) for letter in "DEF"] == ["quantity", "unit_price", "line_total"]


def test_a_heading_its_values_contradict_is_not_believed() -> None:
    """Words under 'Qty' are no quantity: it is asked."""
    rows: list[Row] = [["Item", "Qty", "Price"], ["A1", "some", 2], ["B2", "many", 3]]
    assert "quantity" in subjects(proposed(*rows))


def test_our_own_skus_are_known_whatever_the_heading() -> None:
    """Values that are SKUs of the book are SKUs."""
    rows: list[Row] = [["Your reference", "Qty", "Price"], ["TEE-BLK-M", 12, 3], ["TEE-BLK-L", 6, 3]]
    proposal = proposed(*rows, known=words(skus={"TEE-BLK-M", "TEE-BLK-L"}))
    assert (proposal.meaning("A"), proposal.decision("SKU")) == ("sku", proposal.decision("SKU"))


def test_a_text_alone_is_the_suppliers_name_of_an_item() -> None:
    """Nothing else names it: it is looked up among the aliases."""
    rows: list[Row] = [["Description", "Qty", "Price"], ["K7 Hthr Navy 2X", 12, 3], ["K7 Hthr Navy XL", 6, 3]]
    draft = read(made_file(*rows), proposed(*rows).profile)
    assert [line.code for line in draft.lines] == ["K7 Hthr Navy 2X", "K7 Hthr Navy XL"]


def test_an_article_number_of_several_sizes_is_a_style() -> None:
    """The same number in rows of different sizes names no single item."""
    rows: list[Row] = [["Article", "Size", "Qty"], ["T10", "M", 12], ["T10", "L", 6]]
    assert proposed(*rows).profile.sku_pattern == "{style}-{size}"


def test_a_running_number_and_ordered_pieces_are_not_read() -> None:
    """Each says why."""
    rows: list[Row] = [
        ["Pos", "Item", "Ordered", "Shipped"],
        [1, "A1", 12, 10],
        [2, "B2", 6, 6],
        [3, "C3", 5, 5],
    ]
    assert meanings(proposed(*rows)) == {"B": "code", "D": "quantity"}


def test_new_skus_come_along_only_in_a_book_without_items() -> None:
    """On the first day everything is new; later a new name may be an old item."""
    new, old = proposed(*PER_SIZE), proposed(*PER_SIZE, known=words(skus={"TEE-BLK-M"}))
    assert (new.profile.new_item, old.profile.new_item) == ({"kind": "blank", "unit": "each"}, {})


@pytest.mark.parametrize(("heading", "meaning"), [("Garment colour", "colour"), ("Tax amount", "")])
def test_the_last_word_of_a_heading_makes_it_likely(heading: str, meaning: str) -> None:
    """But an amount of something else is another amount."""
    value: Value = "Black" if meaning else 3
    rows: list[Row] = [["Style", heading, "Qty"], ["T10", value, 12], ["T11", value, 6]]
    assert proposed(*rows).meaning("B") == meaning


@pytest.mark.parametrize(
    "heading", ["Part", "Part #", "Art.", "Art. no.", "Article code", "Cat. no.", "Stock no.", "Item ref"]
)
def test_a_code_is_known_under_its_many_names(heading: str) -> None:
    """Whatever the supplier calls the number of an article."""
    assert proposed([heading, "Qty", "Price"], ["K-1", 12, "3.10"], ["K-2", 4, "3.25"]).meaning("A") == "code"


def test_a_style_number_alone_is_the_style() -> None:
    """Nothing else tells one item from another."""
    assert (
        proposed(["Style no.", "Qty", "Price"], ["K-1", 12, "3.10"], ["K-2", 4, "3.25"]).meaning("A")
        == "style"
    )

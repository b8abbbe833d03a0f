"""What a supplier's words mean: by the exact code, by learned words, by what comes near."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.book.alias_store import Alias
from ledger.catalogue.items import Item
from ledger.intake.aliases import Matcher, Unknown, unknown_problem
from ledger.intake.shipment import ShipmentLine

PARTY = "Mill Lane"
CODES = {"Heather Navy": "HNV", "Black": "BLK", "Brick Red": "BRK"}


def item(colour: str, size: str, *, style: str = "Heron", kind: str = "blank") -> Item:
    """One item of the catalogue."""
    sku = f"TEE-{CODES[colour]}-{size}" if kind == "blank" else f"OWL-{CODES[colour]}-{size}"
    return Item(sku, f"{style} tee, {colour}, {size}", kind, "goods", "each", style, colour, size, "adult")


ITEMS = {one.sku: one for one in (item(colour, size) for colour in CODES for size in ("M", "XL", "2XL"))}
TAUGHT = Matcher(ITEMS).learned(PARTY, "K7 Hthr Navy 2X", "TEE-HNV-2XL")


def line(code: str = "", **words: str) -> ShipmentLine:
    """A line of a shipment as it was read."""
    return ShipmentLine(
        where="row 2", sku="UNKNOWN", quantity=Fraction(1), unit="", net=Fraction(1), code=code, **words
    )


def test_a_code_that_was_taught_is_known() -> None:
    """In any case, with any blanks."""
    assert Matcher(ITEMS, TAUGHT).certain(line("k7  hthr navy 2x")) == "TEE-HNV-2XL"


@pytest.mark.parametrize("text", ["K7 tee | Black / M", "K7 tee - Black - M", "K7 tee, Black, M"])
def test_what_only_parts_words_is_no_word(text: str) -> None:
    """'Black / M' teaches no colour 'Black /'."""
    taught = Matcher(ITEMS).learned(PARTY, text, "TEE-BLK-M")
    assert [(each.part, each.word) for each in taught] == [("code", text), ("style", "K7 tee")]


def test_teaching_a_code_teaches_its_words() -> None:
    """The size is known to the ladder, the rest comes nearest to the colour, what remains is the style."""
    assert [
        Alias(PARTY, "code", "K7 Hthr Navy 2X", "TEE-HNV-2XL"),
        Alias(PARTY, "style", "K7", "Heron"),
        Alias(PARTY, "colour", "Hthr Navy", "Heather Navy"),
    ] == TAUGHT


@pytest.mark.parametrize(
    ("code", "sku"),
    [("K7 Hthr Navy XL", "TEE-HNV-XL"), ("K7 Black Medium", "TEE-BLK-M"), ("Hthr Navy K7 M", "TEE-HNV-M")],
)
def test_learned_words_are_known_in_other_codes(code: str, sku: str) -> None:
    """Another size, a colour called as ours, another order of the words."""
    assert Matcher(ITEMS, TAUGHT).certain(line(code)) == sku


@pytest.mark.parametrize(
    "code", ["K7 Hthr Navy XL organic", "K7 Hthr XL", "K7 Hthr Navy", "K8 Hthr Navy XL", "K7 XL"]
)
def test_a_word_left_over_or_missing_makes_nothing_certain(code: str) -> None:
    """Every word of the code must be accounted for."""
    assert Matcher(ITEMS, TAUGHT).certain(line(code)) == ""


def test_words_in_columns_of_their_own_are_known_as_well() -> None:
    """Style, colour and size stand apart in the file."""
    there = line(style="K7", colour="Hthr Navy", size="2XL")
    assert Matcher(ITEMS, TAUGHT).certain(there) == "TEE-HNV-2XL"


def test_what_is_sold_is_never_what_a_supplier_sent() -> None:
    """A finished shirt has the style, colour and size of its blank."""
    items = {**ITEMS, "OWL-BLK-M": item("Black", "M", kind="finished")}
    assert Matcher(items).certain(line(style="Heron", colour="Black", size="M")) == "TEE-BLK-M"


def test_two_items_of_the_same_words_make_nothing_certain() -> None:
    """Which of them came, only a person knows."""
    twin = {"HERON-OLD": Item("HERON-OLD", "Old", "blank", "goods", "each", "Heron", "Black", "M", "adult")}
    assert Matcher({**ITEMS, **twin}).certain(line(style="Heron", colour="Black", size="M")) == ""


def test_the_nearest_item_comes_first_with_a_confidence() -> None:
    """The words come near its style, colour and size."""
    first = Matcher(ITEMS).nearest(line("Hron Hether Navy 2X"))[0]
    assert (first.sku, 60 <= first.confidence <= 95) == ("TEE-HNV-2XL", True)


def test_an_item_of_another_size_is_never_likely() -> None:
    """A shirt in L is not the one in M, however alike the rest is."""
    guesses = Matcher(ITEMS).nearest(line("Heron Black L"))
    assert max(guess.confidence for guess in guesses) <= 45


@given(st.text(max_size=40), st.text(max_size=10))
def test_any_words_have_at_most_three_guesses_below_certainty(code: str, size: str) -> None:
    """Nothing that only comes near is certain."""
    guesses = Matcher(ITEMS, TAUGHT).nearest(line(code, size=size))
    assert len(guesses) <= 3
    assert all(0 <= guess.confidence <= 95 for guess in guesses)


@given(st.text(max_size=30), st.sampled_from(sorted(ITEMS)))
def test_teaching_any_code_teaches_it_first(code: str, sku: str) -> None:
    """What else is learned, the code itself is."""
    assert Matcher(ITEMS).learned(PARTY, code, sku)[0] == Alias(PARTY, "code", " ".join(code.split()), sku)


def test_a_word_that_means_something_else_already_is_not_learned_anew() -> None:
    """A code of one shirt does not change what a word means in another."""
    known = [Alias(PARTY, "style", "K7", "Wren")]
    parts = [alias.part for alias in Matcher(ITEMS, known).learned(PARTY, "K7 Hthr Navy 2X", "TEE-HNV-2XL")]
    assert parts == ["code", "colour"]


def test_an_unknown_code_names_the_nearest_and_the_command_that_teaches_it() -> None:
    """The command can be typed as it stands."""
    guesses = Matcher(ITEMS).nearest(line("Hron Hether Navy 2X"))
    said = str(unknown_problem(Unknown(PARTY, "Hron Hether Navy 2X", "row 2", guesses)))
    assert 'blankbook aliases add "Mill Lane" "Hron Hether Navy 2X" TEE-HNV-2XL' in said

"""Reading packs and counting in them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.catalogue.packs import read_pack, read_packs, unit_factor
from ledger.errors import ValueProblem

SQUARE_INCH_CM2 = Fraction("6.4516")


@pytest.mark.parametrize(
    ("text", "base_unit", "factor"),
    [
        ("case = 72 each", "each", Fraction(72)),
        ("case=72", "each", Fraction(72)),
        ("ten gross = 1440 each", "each", Fraction(1440)),
        ("bag = 10 gross", "each", Fraction(1440)),
        ("bottle = 500 mL", "mL", Fraction(500)),
        ("pack = 100 sheets", "sheet", Fraction(100)),
        ("roll = 33 m", "cm", Fraction(3300)),
        ("roll = 11.8 in x 5 yd", "cm2", 2124 * SQUARE_INCH_CM2),
        ("sheet = 12 x 15 in", "cm2", 180 * SQUARE_INCH_CM2),
        ("pack = 10 of 12 in x 15 in", "cm2", 1800 * SQUARE_INCH_CM2),
        ("pack = 10 sheets of A4", "cm2", Fraction(6237)),
        ("carton = 2 dozen of 500 mL", "mL", Fraction(12_000)),
        ("film = 33.02 cm x 100 m", "cm2", Fraction(330_200)),
    ],
)
def test_a_pack_has_an_exact_factor(text: str, base_unit: str, factor: Fraction) -> None:
    """A pack holds exactly what it says, in the item's base unit."""
    assert read_pack(text, base_unit).factor == factor


def test_the_real_size_counts_and_the_nominal_is_kept() -> None:
    """A '12 inch' roll of 11.8 holds 2,124 square inches and is sold as 2,160."""
    pack = read_pack("roll = 11.8 in x 5 yd (sold as 12 in x 5 yd)", "cm2")
    assert (pack.factor, pack.nominal, pack.nominal_factor) == (
        2124 * SQUARE_INCH_CM2,
        "12 in x 5 yd",
        2160 * SQUARE_INCH_CM2,
    )


def test_a_pack_by_weight_of_something_kept_by_volume_uses_the_density() -> None:
    """A kilogram at 1.25 g/mL is 800 mL."""
    assert read_pack("jar = 1 kg", "mL", Fraction("1.25")).factor == 800


@given(count=st.integers(1, 10**6))
def test_a_pack_of_pieces_holds_that_many(count: int) -> None:
    """Any whole number of pieces is held as it stands."""
    assert read_pack(f"box = {count} pcs", "each").factor == count


@pytest.mark.parametrize(
    ("text", "base_unit", "message"),
    [
        ("72 each", "each", "not a pack"),
        ("= 72", "each", "not a pack"),
        ("case =", "each", "not a pack"),
        ("case = 0 each", "each", "more than nothing"),
        ("case = -4 each", "each", "more than nothing"),
        ("dot = 0.0001 g", "g", "more than nothing"),
        ("case = 9999999999999 each", "each", "no pack holds that"),
        ("case = many", "each", "write a number and a unit"),
        ("case = 5 rolls", "each", "no fixed content"),
        ("roll = 100 m", "cm2", "write a width too"),
        ("case = 5 yd of 3 in x 4 in", "cm2", "only a number of pieces"),
        ("dozen = 13 each", "each", "'dozen' always means 12 each"),
        ("c" * 41 + " = 2 each", "each", "longer than 40"),
    ],
)
def test_what_is_no_pack_is_refused(text: str, base_unit: str, message: str) -> None:
    """The message says what is missing or does not fit."""
    with pytest.raises(ValueProblem, match=message):
        read_pack(text, base_unit)


def test_several_packs_stand_in_one_cell() -> None:
    """Packs are separated by semicolons and carry the item's SKU."""
    packs = read_packs("dozen = 12 each; case = 72 each;", "each", sku="T10")
    assert [(pack.sku, pack.name, pack.factor) for pack in packs] == [
        ("T10", "dozen", 12),
        ("T10", "case", 72),
    ]


def test_two_packs_of_one_name_are_refused() -> None:
    """A name means one content, in whatever case it is written."""
    with pytest.raises(ValueProblem, match="given twice"):
        read_packs("case = 72 each; Case = 36 each", "each")


@pytest.mark.parametrize(
    ("text", "factor"),
    [("", 1), ("each", 1), ("case", 72), ("CASES", 72), ("box", 6), ("boxes", 6), ("DZN", 12)],
)
def test_an_invoice_unit_is_a_pack_or_a_general_unit(text: str, factor: int) -> None:
    """The item's packs are found in singular and plural, then the units; empty is the base unit."""
    packs = read_packs("case = 72 each; box = 6 each", "each")
    assert unit_factor(text, "each", packs) == factor


def test_an_unknown_invoice_unit_names_the_packs_there_are() -> None:
    """Who mistypes a pack is told the packs of the item."""
    with pytest.raises(ValueProblem, match="Packs of this item: case"):
        unit_factor("carton", "each", read_packs("case = 72 each", "each"))

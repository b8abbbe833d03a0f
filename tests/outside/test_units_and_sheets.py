"""Units and sheets against published definitions."""

from __future__ import annotations

from fractions import Fraction

import pytest

from ledger.catalogue.fibres import chief_fibre
from ledger.catalogue.parties import COUNTRIES
from ledger.catalogue.sheets import SHEETS, read_dimensions
from ledger.catalogue.units import convert, read_unit

MM_PER_INCH = Fraction("25.4")


@pytest.mark.parametrize(
    ("unit", "base_unit", "exactly"),
    [
        # Source: from memory (international yard and pound agreement of 1959: 0.9144 m, 0.45359237 kg);
        # agrees with the definitions file of the units library Pint 0.25.3, read.
        ("in", "cm", "2.54"),
        ("ft", "cm", "30.48"),
        ("yd", "cm", "91.44"),
        ("in2", "cm2", "6.4516"),
        ("ft2", "cm2", "929.0304"),
        ("yd2", "cm2", "8361.2736"),
        ("lb", "g", "453.59237"),
        ("oz", "g", "28.349523125"),
        # Source: definitions file of the units library Pint 0.25.3, read: a US gallon is 231 cubic inches,
        # a quart its fourth, a fluid ounce a sixteenth of half a quart.
        ("fl oz", "mL", "29.5735295625"),
        ("quart", "mL", "946.352946"),
        ("gallon", "mL", "3785.411784"),
        # Source: from memory (SI Brochure: the prefixes, and the litre as a cubic decimetre).
        ("mm", "cm", "0.1"),
        ("m", "cm", "100"),
        ("m2", "cm2", "10000"),
        ("L", "mL", "1000"),
        ("kg", "g", "1000"),
        # common practice, no source
        ("dozen", "each", "12"),
        ("gross", "each", "144"),
        ("ten gross", "each", "1440"),
        ("great gross", "each", "1728"),
    ],
)
def test_a_unit_has_its_defined_value(unit: str, base_unit: str, exactly: str) -> None:
    """Conversion factors are the defined ones, to the last digit."""
    assert convert(Fraction(1), read_unit(unit), base_unit) == Fraction(exactly)


# second-hand, source not read (UN/CEFACT Recommendation 20, codes for units of measure)
@pytest.mark.parametrize(
    ("code", "name"),
    [
        ("EA", "each"),
        ("H87", "each"),
        ("DZN", "dozen"),
        ("GRO", "gross"),
        ("CMK", "cm2"),
        ("INK", "in2"),
        ("MTK", "m2"),
        ("MLT", "mL"),
        ("LTR", "L"),
        ("OZA", "fl oz"),
        ("GRM", "g"),
        ("KGM", "kg"),
        ("ONZ", "oz"),
        ("LBR", "lb"),
        ("CMT", "cm"),
        ("YRD", "yd"),
    ],
)
def test_a_recommendation_20_code_names_its_unit(code: str, name: str) -> None:
    """Codes of electronic invoices are read; INK is a square inch, not ink."""
    assert read_unit(code).name == name


# from memory (ISO 216: A0 has a square metre in the ratio of 1 to the root of 2, in whole millimetres)
def test_the_largest_a_sheet_is_a_square_metre() -> None:
    """A0's area is a square metre to within the rounding of its sides to whole millimetres."""
    assert abs(SHEETS["A0"].area_cm2 - 10_000) < 10


# from memory (ISO 216: each size is the one before halved across its length, rounded down)
@pytest.mark.parametrize("number", range(6))
def test_each_a_sheet_is_half_the_one_before(number: int) -> None:
    """The A series follows by halving from A0."""
    larger, smaller = SHEETS[f"A{number}"], SHEETS[f"A{number + 1}"]
    assert (smaller.width_mm, smaller.length_mm) == (larger.length_mm // 2, larger.width_mm)


# from memory (ISO 216: B4 is the geometric mean of A3 and A4, B5 of A4 and A5)
@pytest.mark.parametrize(("b", "above", "below"), [("B4", "A3", "A4"), ("B5", "A4", "A5")])
def test_a_b_sheet_lies_between_its_a_sheets(b: str, above: str, below: str) -> None:
    """A B sheet's width is the geometric mean of its neighbours', to a millimetre."""
    mean = float(SHEETS[above].width_mm * SHEETS[below].width_mm) ** 0.5
    assert abs(float(SHEETS[b].width_mm) - mean) < 1


# second-hand, source not read (ISO 216; ANSI/ASME Y14.1)
@pytest.mark.parametrize(
    ("name", "width_mm", "length_mm"),
    [
        ("A3", "297", "420"),
        ("A4", "210", "297"),
        ("Letter", "215.9", "279.4"),
        ("Tabloid", "279.4", "431.8"),
        ("12 x 15 in", "304.8", "381"),
    ],
)
def test_a_sheet_has_its_published_size(name: str, width_mm: str, length_mm: str) -> None:
    """Sheets are what the standards say, in millimetres."""
    sheet = read_dimensions(name)
    assert (sheet.width_mm, sheet.length_mm) == (Fraction(width_mm), Fraction(length_mm))


# from memory (ANSI/ASME Y14.1: each size is two of the one before, side by side)
@pytest.mark.parametrize(
    ("smaller", "larger"),
    [("Letter", "Tabloid"), ("Tabloid", "ANSI C"), ("ANSI C", "ANSI D"), ("ANSI D", "ANSI E")],
)
def test_each_ansi_sheet_is_two_of_the_one_before(smaller: str, larger: str) -> None:
    """The ANSI series follows by doubling from Letter."""
    small, large = SHEETS[smaller], SHEETS[larger]
    assert (large.width_mm, large.length_mm) == (small.length_mm, 2 * small.width_mm)


# common practice, no source
def test_a_twelve_inch_roll_of_five_yards_has_its_area() -> None:
    """12 in x 5 yd is 2,160 square inches by name and 2,124 at the usual real width of 11.8 in."""
    square_inch = (MM_PER_INCH / 10) ** 2
    areas = [read_dimensions(text).area_cm2 / square_inch for text in ("12 in x 5 yd", "11.8 in x 5 yd")]
    assert areas == [2160, 2124]


# Source: Harmonized Tariff Schedule of the United States, Section XI note 2(A), as applied in rulings.
@pytest.mark.parametrize(
    ("content", "group", "is_tie"),
    [
        ("60% cotton 40% polyester", "cotton", False),
        ("50% cotton 50% polyester", "man-made", True),
        ("52% polyester 48% cotton", "man-made", False),
    ],
)
def test_a_blend_is_classed_by_chief_weight(content: str, group: str, is_tie: bool) -> None:  # noqa: FBT001
    """The heavier fibre names the blend; an exact tie goes to the one last in order."""
    found = chief_fibre(content)
    assert (found.group, found.is_tie) == (group, is_tie)


# from memory (ISO 3166-1 has 249 officially assigned alpha-2 codes)
def test_there_are_as_many_countries_as_the_standard_has() -> None:
    """The list of country codes is complete."""
    assert len(COUNTRIES) == 249

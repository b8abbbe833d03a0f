"""Reading flat sizes."""

from __future__ import annotations

from fractions import Fraction

import pytest

from ledger.catalogue.sheets import SHEETS, Area, read_dimensions
from ledger.errors import ValueProblem


@pytest.mark.parametrize(
    ("text", "width_mm", "length_mm"),
    [
        ("11.8 in x 5 yd", "299.72", "4572"),
        ('12" x 15"', "304.8", "381"),
        ("12 x 15 in", "304.8", "381"),
        ("13 in × 19 in", "330.2", "482.6"),
        ("210x297mm", "210", "297"),
        ("33.02 cm by 100 m", "330.2", "100000"),
        ("a4", "210", "297"),
        ("US Letter", "215.9", "279.4"),
        ("ANSI B", "279.4", "431.8"),
    ],
)
def test_two_sides_or_a_name_are_read(text: str, width_mm: str, length_mm: str) -> None:
    """A flat size is read as typed, each side exactly in millimetres."""
    assert read_dimensions(text) == Area(Fraction(width_mm), Fraction(length_mm))


@pytest.mark.parametrize("name", SHEETS)
def test_a_named_sheet_reads_back(name: str) -> None:
    """Every sheet is found by the name it is shown with."""
    assert read_dimensions(name) == SHEETS[name]


@pytest.mark.parametrize(
    ("one", "other"), [("A4", "Letter"), ("A3", "Tabloid"), ("A3", "13 x 19 in"), ("A3+", "13 x 19 in")]
)
def test_near_sheets_are_different_sheets(one: str, other: str) -> None:
    """Sheets are compared in millimetres, never by likeness."""
    sides = [sorted((each.width_mm, each.length_mm)) for each in map(read_dimensions, (one, other))]
    assert sides[0] != sides[1]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("12 in x 5", "no unit at its end"),
        ("12 kg x 5 m", "kg is not a unit of length"),
        ("0 in x 5 in", "above zero"),
        ("12 in", "not a sheet or a width by a length"),
        ("1 x 2 x 3 in", "not a sheet or a width by a length"),
        ("Leter", "Did you mean Letter"),
        ("12 inn x 3 yd", "'inn' is not a unit"),
        ("1.2.3 in x 4 in", "'1.2.3' is not a number"),
        ("9" * 100 + " x 1 mm", "not a sheet"),
    ],
)
def test_what_is_no_flat_size_is_refused(text: str, message: str) -> None:
    """The message says which part is wrong."""
    with pytest.raises(ValueProblem, match=message):
        read_dimensions(text)

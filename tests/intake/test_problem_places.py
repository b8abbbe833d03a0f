"""From the words of a problem back to its cell."""

from __future__ import annotations

import pytest

from ledger.intake.problem_places import Spot, find_spot
from ledger.intake.read_csv import read_csv

SHEETS = read_csv("a.csv", b"Invoice 4711\nStyle,Qty,Unit price\nTEE,2,4.10\n").sheets


@pytest.mark.parametrize(
    ("where", "expected"),
    [
        ("sheet Invoice, cell F12", Spot("Invoice", 12, 5)),
        ("sheet March, row 2, cell AA3", Spot("March, row 2", 3, 26)),
        ("sheet Invoice, row 12", Spot("Invoice", 12)),
        ("row 12", Spot("", 12)),
        ("row 2 (up to line 4)", Spot("", 2)),
        ("row 3, column Qty", Spot("", 3, 1)),
        ("row 3, column unit_price", Spot("", 3, 2)),
        ("line 3, column 3", Spot("", 3, 2)),
        ("row 3, column Weight", Spot("", 3)),
    ],
)
def test_a_place_in_words_is_a_cell_or_a_row(where: str, expected: Spot) -> None:
    """Headings are looked for above the row, numbers count from one."""
    assert find_spot(where, SHEETS) == expected


@pytest.mark.parametrize(
    "where", ["", "--charge 2", "the party", "sheet Invoice", "this posting would leave too little"]
)
def test_other_places_are_no_cell(where: str) -> None:
    """What is wrong with a whole sheet or an option has no cell to mark."""
    assert find_spot(where, SHEETS) is None

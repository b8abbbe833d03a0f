"""Numbers of cartons as packing lists write them: '1-3' are three of them."""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal
from fractions import Fraction

from ledger.errors import ValueProblem
from ledger.intake.nearest import quoted
from ledger.intake.table import Cell

MOST_CARTONS = 100_000
_WORD = r"(?:[a-z/]{1,6}\.? ?)?#? ?"
_RANGE = re.compile(rf"{_WORD}(\d{{1,7}})(?: ?(?:-|–|—|~|to|bis) ?{_WORD}(\d{{1,7}}))?", re.IGNORECASE)
_BETWEEN = re.compile(r"[,;&+]| and ")


def count_cartons(cell: Cell) -> Fraction:
    """Return how many cartons the numbers in a cell name: one number is one carton.

    >>> [int(count_cartons(Cell(text, ""))) for text in ("1-3", "4", "C/No. 5 - 6, 9", "CTN 10 to 12")]
    [3, 1, 3, 3]

    Raises ValueProblem where the cell holds anything else.
    """
    if isinstance(cell.value, dt.date):
        raise ValueProblem(
            f"the date {cell.text} stands where numbers of cartons should: a spreadsheet program makes one of "
            "1-3. Set the cell's format to text and type it again."
        )
    text = cell.text
    if isinstance(cell.value, Decimal) and cell.value == cell.value.to_integral_value():
        text = str(int(cell.value))
    count = 0
    for part in map(str.strip, _BETWEEN.split(text)):
        match = _RANGE.fullmatch(part)
        if match is None:
            raise ValueProblem(f"{quoted(text)} does not name cartons by their numbers, like 1-3.")
        first, last = int(match[1]), int(match[2] or match[1])
        if not 0 <= last - first < MOST_CARTONS:
            raise ValueProblem(f"{quoted(text)} is no range of cartons: its end comes before its beginning.")
        count += last - first + 1
    return Fraction(count)


def cartons_or_none(cell: Cell | None) -> Fraction | None:
    """Return how many cartons a cell names, None where it names none."""
    if cell is None or cell.is_empty:
        return None
    try:
        return count_cartons(cell)
    except ValueProblem:
        return None

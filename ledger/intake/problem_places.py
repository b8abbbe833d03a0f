"""From a problem's place in words back to the cell it names."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from ledger.intake.records import normal_heading
from ledger.intake.table import Sheet, column_place

_ADDRESS = re.compile(
    r"sheet (?P<sheet>.+), cells? (?P<letters>[A-Z]{1,3})(?P<row>[1-9]\d{0,6})\b.*", re.DOTALL
)
_SHEET_ROW = re.compile(r"sheet (?P<sheet>.+), row (?P<row>[1-9]\d{0,6})\b.*", re.DOTALL)
_TEXT_ROW = re.compile(r"(?:row|line) (?P<row>[1-9]\d{0,6})(?:, column (?P<heading>.+)|\b[^,]*)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Spot:
    """A cell, or a whole row where no column is known; rows count from 1, columns from 0."""

    sheet: str
    """The sheet's name; "" for the only sheet of a text."""
    row: int
    column: int | None = None


def find_spot(where: str, sheets: Sequence[Sheet] = ()) -> Spot | None:
    """Return the cell or the row that a place in words names, None where it names neither.

    Arguments:
        where: as problems say it: "sheet Invoice, cell F12", "sheet Invoice, row 12", "row 12, column Qty".
        sheets: what was read, in which the column of a text is looked for by its heading.

    >>> find_spot("sheet Invoice, cell F12"), find_spot("row 7, column 3")
    (Spot(sheet='Invoice', row=12, column=5), Spot(sheet='', row=7, column=2))
    """
    address = _ADDRESS.fullmatch(where)
    if address is not None:
        return Spot(address["sheet"], int(address["row"]), column_place(address["letters"]))
    row = _SHEET_ROW.fullmatch(where)
    if row is not None:
        return Spot(row["sheet"], int(row["row"]))
    text = _TEXT_ROW.fullmatch(where)
    if text is None:
        return None
    number, heading = int(text["row"]), text["heading"]
    return Spot("", number, None if heading is None else _column(heading, number, sheets))


def _column(heading: str, number: int, sheets: Sequence[Sheet]) -> int | None:
    """Return the column whose heading, somewhere above the row, is this one; else its number."""
    wanted = normal_heading(heading)
    for sheet in sheets[:1]:
        for row, row_number in zip(sheet.rows, sheet.row_numbers, strict=True):
            if row_number >= number:
                break
            for place, cell in enumerate(row):
                if not cell.is_empty and (cell.text == heading or normal_heading(cell.text) == wanted):
                    return place
    return int(heading) - 1 if heading.isascii() and heading.isdecimal() and int(heading) > 0 else None

"""Codes that a spreadsheet program may have robbed of their leading zeros: 00412 became 412."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass, field
from decimal import Decimal

from ledger.intake.packed_rows import SEPARATOR, PackedRows
from ledger.intake.table import Cell, Sheet

_LEADING_ZERO = re.compile(rf"(?:^|{SEPARATOR})s?0\d+(?:{SEPARATOR}|$)")

SHOWN = 5
"""How many places a remark names before it only counts the rest."""


@dataclass
class _Column:
    """The digits of one column: how long codes with leading zeros are, and what is shorter."""

    lengths: set[int] = field(default_factory=set)
    bare: list[Cell] = field(default_factory=list)


def lost_zeros(sheet: Sheet) -> tuple[str, ...]:
    """Return a remark for each column in which codes with leading zeros stand beside shorter numbers.

    Only where all codes that begin with a zero are equally long: then a shorter number is likely one
    of them that lost its zeros when the column was opened as numbers.
    """
    if isinstance(sheet.rows, PackedRows) and not sheet.rows.any_matches(_LEADING_ZERO):
        return ()
    columns: dict[int, _Column] = defaultdict(_Column)
    for row in sheet.rows:
        for place, cell in enumerate(row):
            digits = _digits(cell)
            if not digits:
                continue
            if digits[0] == "0" and len(digits) > 1:
                columns[place].lengths.add(len(digits))
            elif digits != "0":
                columns[place].bare.append(cell)
    found = []
    for column in columns.values():
        if len(column.lengths) == 1:
            (length,) = column.lengths
            short = [cell for cell in column.bare if len(cell.text) < length]
            if short:
                found.append(_remark(short, length))
    return tuple(found)


def _digits(cell: Cell) -> str:
    if isinstance(cell.value, Decimal):
        return cell.text if cell.text.isdecimal() else ""
    return cell.text if isinstance(cell.value, str) and cell.text.isdecimal() else ""


def _remark(cells: list[Cell], length: int) -> str:
    named = ", ".join(f"{cell.text} in {cell.where}" for cell in cells[:SHOWN])
    more = f" and {len(cells) - SHOWN} more" if len(cells) > SHOWN else ""
    return (
        f"{named}{more}: shorter than the codes of {length} digits with leading zeros in the same column; "
        "if a code lost its zeros, type it as text"
    )

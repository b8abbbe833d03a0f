"""What a corpus case is, and the small invoice that most of them hold."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

from ledger.intake.table import Sheet

Rows = list[list[Any]]

INVOICE: Rows = [
    ["Style", "Colour", "Size", "Qty", "Price", "Date"],
    ["TEE-180", "Heather Navy", "S", 12, 4.1, datetime.date(2026, 3, 2)],
    ["TEE-180", "Heather Navy", "M", 24, 4.1, datetime.date(2026, 3, 2)],
    ["HOOD-280", "Black", "L", 6, 13.75, datetime.date(2026, 3, 4)],
]
"""Numbers and dates as a spreadsheet holds them."""

AS_TEXT: Rows = [
    [f"{value:.2f}" if isinstance(value, float) else str(value) for value in row] for row in INVOICE
]
"""The same as a text holds it."""

READ: Rows = [
    [Decimal(str(value)) if isinstance(value, float) else value for value in row] for row in INVOICE
]
"""The same as it must be read from a workbook."""


@dataclass(frozen=True)
class Case:
    """One file: how it is made, and the rows that must be read, or what the refusal must say.

    ``remark`` is a part of a remark that must be made; ``numbers`` are the row numbers, where they matter;
    ``where`` is the place that a refusal must name. ``is_plain`` says that a second reader, which knows
    neither hidden rows nor merged cells, must find the same values.
    """

    name: str
    file: str
    make: Callable[[Path], object]
    rows: Rows | None = None
    refusal: str = ""
    where: str = ""
    remark: str = ""
    numbers: tuple[int, ...] | None = None
    is_plain: bool = True


def values(sheet: Sheet) -> Rows:
    """Return the bare values of a sheet's rows."""
    return [[cell.value for cell in row] for row in sheet.rows]

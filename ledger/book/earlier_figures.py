"""Figures of the tax year before the book began, and of the year before: told by the owner, kept as told."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass

from ledger.book.connect import write_tx
from ledger.costing.tax_lines import TaxLines

TOLD_LINES = ("35", "36", "37", "38", "39", "41")
"""The lines of the tax year's months before the book's first one that have to be told."""

SUPPLIES = ("supplies at start", "supplies on hand")
LAST_YEAR = "last year's 41"
NAMES = (*TOLD_LINES, *SUPPLIES, LAST_YEAR)
"""Every figure that can be told."""


@dataclass(frozen=True, slots=True)
class Told:
    """What was told for a tax year; amounts in minor units."""

    lines: TaxLines | None
    last_year_41: int | None


def tell(connection: sqlite3.Connection, tax_year: int, figures: Mapping[str, int], now: str) -> None:
    """Record figures as told, in one transaction; a figure told again takes the place of the earlier."""
    with write_tx(connection):
        connection.executemany(
            "INSERT INTO earlier_figure (tax_year, name, amount, recorded_at) VALUES (?, ?, ?, ?)",
            [(tax_year, name, amount, now) for name, amount in figures.items()],
        )


def read_told(connection: sqlite3.Connection, tax_year: int) -> Told:
    """Return what was told for a tax year, named by the year it begins in.

    The lines are None until all that the form needs were told; supplies not told are none.
    """
    rows = connection.execute(
        "SELECT name, amount FROM earlier_figure WHERE tax_year = ? ORDER BY id", (tax_year,)
    ).fetchall()
    known: dict[str, int] = dict(rows)
    lines = None
    if all(name in known for name in TOLD_LINES):
        lines = TaxLines(
            line_35=known["35"],
            line_36=known["36"],
            line_37=known["37"],
            line_38=known["38"],
            line_39=known["39"],
            line_41=known["41"],
            supplies_at_start=known.get(SUPPLIES[0], 0),
            supplies_on_hand=known.get(SUPPLIES[1], 0),
        )
    return Told(lines, known.get(LAST_YEAR))

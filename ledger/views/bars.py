"""Rows of bars as text, beside the figures they show: small pictures for a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.cells import cell_len

from ledger.views.tables import GAP, Table

WIDTH = 16
"""How many characters the longest bar takes where there is room."""

LEAST_WIDTH = 6
"""Below this bars tell nothing, and are left out."""

EIGHTHS = "▏▎▍▌▋▊▉█"
BELOW_ZERO = "░"

PLAIN, PLAIN_BELOW_ZERO = "#", "-"
"""For terminals whose encoding has no blocks."""


@dataclass(frozen=True, slots=True)
class Bars:
    """How bars are drawn on a terminal: how wide it is, in characters, and whether it shows blocks."""

    columns: int
    has_blocks: bool = True

    def row(self, amount: int, most: int, width: int = WIDTH) -> str:
        """Return one bar; what is not zero has at least the shortest one.

        Args:
            amount: what is shown; below zero the bar has another look.
            most: the largest amount of all bars, without its sign; at 0 no bar has a length.
            width: how many characters the largest takes.
        """
        if not most or not amount:
            return ""
        if amount < 0:
            mark = BELOW_ZERO if self.has_blocks else PLAIN_BELOW_ZERO
            return mark * max(1, round(-amount * width / most))
        if not self.has_blocks:
            return PLAIN * max(1, round(amount * width / most))
        whole, eighth = divmod(max(1, round(amount * width * len(EIGHTHS) / most)), len(EIGHTHS))
        return EIGHTHS[-1] * whole + (EIGHTHS[eighth - 1] if eighth else "")


def beside(table: Table, amounts: Sequence[int], bars: Bars | None, *, in_totals: bool = False) -> Table:
    """Return a table with a bar at the end of each row, the same table where none are drawn.

    Args:
        table: as it stands without bars.
        amounts: one for each row, or with ``in_totals`` for each of the first rows below the line.
        bars: None draws nothing; neither does a terminal with no room beside the table.
        in_totals: whether the bars stand below the line.
    """
    if bars is None or not any(amounts):
        return table
    room = bars.columns - max(map(cell_len, table.text().splitlines())) - len(GAP)
    if room < LEAST_WIDTH:
        return table
    most = max(map(abs, amounts))
    drawn = [bars.row(amount, most, min(room, WIDTH)) for amount in amounts]
    above, below = ([], drawn) if in_totals else (drawn, [])
    return Table(
        [*table.headings, ""],
        [[*row, bar] for row, bar in zip(table.rows, _padded(above, len(table.rows)), strict=True)],
        [[*row, bar] for row, bar in zip(table.totals, _padded(below, len(table.totals)), strict=True)],
    )


def _padded(bars: Sequence[str], length: int) -> list[str]:
    return [*bars, *[""] * (length - len(bars))]

"""Rows of a sales export that say the same: amounts on every row of an order, and rows that stand twice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.errors import Problem
from ledger.exact.numbers import show_fraction
from ledger.intake.sales_cells import SalesCells
from ledger.intake.sales_profile import SalesProfile
from ledger.intake.table import Record

_ASKED = (
    *("shipping", "more_shipping", "fees", "other_fees", "more_fees"),
    *("refunded", "more_refunded", "refunded_shipping"),
)
"""Columns whose amounts count for each row unless somebody said that they stand once for an order."""


@dataclass(frozen=True, slots=True)
class _Amount:
    """What a column says on one row of an order, the row's line number ('' for none), and the cell's place."""

    value: Fraction
    line: str
    where: str


class RepeatedAmounts:
    """The amounts of one file's sales by order, where the profile does not say whether they stand once."""

    def __init__(self, profile: SalesProfile) -> None:
        said = {*profile.per_order, *profile.per_row}
        self._names = tuple(name for name in _ASKED if name in profile.columns and name not in said)
        self._found: dict[str, dict[str, list[_Amount]]] = {name: {} for name in self._names}

    def learn(self, cells: SalesCells, record: Record) -> None:
        """Keep what one row of a sale says; the same line a second time is no row of its own."""
        for name in self._names:
            value: Fraction = getattr(cells, name) or Fraction(0)
            rows = self._found[name].setdefault(cells.order, [])
            if not cells.line or all(row.line != cells.line for row in rows):
                rows.append(_Amount(value, cells.line, record.place(name)))

    def problems(self) -> list[Problem]:
        """Return a question for each column that has one amount on every row of an order.

        Where the rows of another order differ, the column is each row's own. Source: our own rule.
        """
        found = []
        for name, orders in self._found.items():
            several = {order: rows for order, rows in orders.items() if len(rows) > 1}
            if any(len({row.value for row in rows if row.value}) > 1 for rows in several.values()):
                continue
            alike = {
                order: rows
                for order, rows in several.items()
                if rows[0].value and len({row.value for row in rows}) == 1
            }
            if alike:
                found.append(_question(name, next(iter(alike)), [*alike.values()]))
        return found


def _question(name: str, order: str, alike: Sequence[Sequence[_Amount]]) -> Problem:
    words = name.replace("_", " ")
    first, *others = [row.where for rows in alike for row in rows]
    what = (
        f"every row of order {order} has the same {words}, {show_fraction(alike[0][0].value)}: is it once for the "
        "whole order, or each row's own?"
    )
    step = (
        f'Say it, and it is kept for the next exports: --as "per order {words}" or --as "per row {words}". In a '
        f'profile of your own: per_order = ["{name}"] or per_row = ["{name}"] under [amounts].'
    )
    return Problem(first, what, step, tuple(others))


class TwinRows:
    """The rows of one file without a line number that say exactly what an earlier row says."""

    def __init__(self) -> None:
        self._first: dict[tuple[str, SalesCells], str] = {}
        self._twins: dict[str, list[str]] = {}

    def learn(self, cells: SalesCells, kind: str, where: str) -> None:
        """Keep one row; one with a line number of its own is told apart by that."""
        if cells.line:
            return
        # One and the same item may be written with another case or blanks around it.
        key = (kind, replace(cells, sku=cells.sku.casefold(), title=cells.title.casefold()))
        first = self._first.setdefault(key, where)
        if first != where:
            self._twins.setdefault(first, []).append(where)

    def remarks(self) -> list[str]:
        """Return what is said of rows that stand twice: they count, each as one of its own."""
        said = []
        for first, others in self._twins.items():
            count = len(others) + 1
            rows = ", ".join([first, *others[:-1]])
            said.append(
                f"{rows} and {others[-1]} say exactly the same and are taken as {count:,} different rows: where they "
                "are one, delete the others from the file"
            )
        return said

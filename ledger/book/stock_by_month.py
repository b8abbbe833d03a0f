"""What stock was worth at the end of each month, by kind: read from the balances kept for months alone."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from itertools import accumulate

from ledger.exact.months import months_between


@dataclass(frozen=True, slots=True)
class KindValues:
    """What a kind was worth at the end of each month, on hand and under way, in minor units."""

    kind: str
    amounts_minor: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class StockByMonth:
    """What stock was worth at the end of months that follow each other.

    Args:
        currency: the book's, ISO 4217.
        months: YYYY-MM, in order.
        kinds: what has a value at the end of any of them, the most at the end of the last first.
        under_way_minor: what of each month's value was under way and the shop's already.
    """

    currency: str
    months: tuple[str, ...]
    kinds: tuple[KindValues, ...]
    under_way_minor: tuple[int, ...]

    @property
    def totals_minor(self) -> tuple[int, ...]:
        """The closing stock of each month's statement, in minor units."""
        return tuple(
            sum(kind.amounts_minor[place] for kind in self.kinds) for place in range(len(self.months))
        )

    def latest(self, count: int) -> StockByMonth:
        """Return the last months alone, ``count`` of them at most, 1 or more."""
        kinds = [KindValues(one.kind, one.amounts_minor[-count:]) for one in self.kinds]
        return StockByMonth(
            self.currency,
            self.months[-count:],
            tuple(one for one in kinds if any(one.amounts_minor)),
            self.under_way_minor[-count:],
        )


CHANGES = """
SELECT kind, month, sum(held - before), sum(under_way - under_way_before)
FROM (SELECT i.kind AS kind, b.month AS month, b.amount + b.under_way_amount AS held,
        lag(b.amount + b.under_way_amount, 1, 0) OVER own AS before,
        b.under_way_amount AS under_way, lag(b.under_way_amount, 1, 0) OVER own AS under_way_before
    FROM month_balance AS b JOIN item AS i ON i.sku = b.sku
    WHERE b.month <= ?1 WINDOW own AS (PARTITION BY b.sku ORDER BY b.month))
GROUP BY kind, month
"""
"""By how much each kind's value changed within each month: balances stand only where an item moved."""


def stock_by_month(
    connection: sqlite3.Connection, currency: str, first_month: str, last_month: str
) -> StockByMonth:
    """Return what stock was worth at the end of each month of a span, by kind.

    Args:
        connection: a book.
        currency: the book's.
        first_month: the book's first month, YYYY-MM.
        last_month: the last month asked for, YYYY-MM; what it holds so far where it is not over.
    """
    months = tuple(months_between(first_month, last_month))
    place = {month: number for number, month in enumerate(months)}
    changes: dict[str, list[int]] = {}
    under_way = [0] * len(months)
    for kind, month, held, coming in connection.execute(CHANGES, (last_month,)):
        changes.setdefault(kind, [0] * len(months))[place[month]] = held
        under_way[place[month]] += coming
    kinds = [KindValues(kind, tuple(accumulate(own))) for kind, own in changes.items()]
    kinds.sort(key=lambda one: (-one.amounts_minor[-1], -max(one.amounts_minor), one.kind))
    return StockByMonth(
        currency,
        months,
        tuple(one for one in kinds if any(one.amounts_minor)),
        tuple(accumulate(under_way)),
    )

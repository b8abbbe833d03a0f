"""All that a report on the shop's stock tells, read in one go."""

from __future__ import annotations

import datetime
import sqlite3
from dataclasses import dataclass

from ledger.book import looking
from ledger.book.looking import ExpiryRow, ShortRow, StockRow
from ledger.book.margin import SLOW_DAYS, SlowRow, slow_movers
from ledger.book.order_store import find_orders
from ledger.book.shop import Shop, read_shop
from ledger.book.stock_by_month import StockByMonth, stock_by_month
from ledger.book.under_way import (
    Expected,
    Payment,
    Took,
    UnderWay,
    days_taken,
    expected,
    outstanding,
    under_way,
)
from ledger.exact.months import last_day

EXPIRY_DAYS = 90
"""How far ahead a report sees what expires: it is kept longer than a screen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StockState:
    """The shop's stock at the end of a day.

    ``is_now`` tells that the day is today: what expires, is expected or waits to be paid is only known
    of today, and empty for an earlier day. ``by_month`` ends with the day's month, or with the month
    before where the day lies within a month of the past; None where the book began later.
    """

    shop: Shop
    on: datetime.date
    is_now: bool
    rows: tuple[StockRow, ...]
    under_way: tuple[UnderWay, ...]
    by_month: StockByMonth | None
    slow: tuple[SlowRow, ...]
    expiring: tuple[ExpiryRow, ...] = ()
    shorts: tuple[ShortRow, ...] = ()
    expected: tuple[Expected, ...] = ()
    outstanding: tuple[Payment, ...] = ()
    took: tuple[Took, ...] = ()

    @property
    def value_minor(self) -> int:
        """What is on hand, in minor units."""
        return sum(row.value for row in self.rows)

    @property
    def under_way_minor(self) -> int:
        """What is under way and the shop's, in minor units."""
        return sum(row.value for row in self.under_way)


def read_stock_state(
    connection: sqlite3.Connection, day: datetime.date | None, today: datetime.date
) -> StockState:
    """Return the shop's stock now, or at the end of a day that is past.

    Args:
        connection: a book.
        day: the day asked for; None or today and later is now.
        today: by the program's clock.
    """
    shop = read_shop(connection)
    past = day if day is not None and day < today else None
    on = past or today
    if past is not None:
        return StockState(
            shop=shop,
            on=on,
            is_now=False,
            rows=tuple(looking.stock_on(connection, on.isoformat())),
            under_way=tuple(under_way(connection, on.isoformat(), on)),
            by_month=_by_month(connection, shop, on, is_now=False),
            slow=slow_movers(connection, on.isoformat(), SLOW_DAYS),
        )
    orders = find_orders(connection)
    return StockState(
        shop=shop,
        on=on,
        is_now=True,
        rows=tuple(looking.stock(connection)),
        under_way=tuple(under_way(connection, datetime.date.max.isoformat(), on)),
        by_month=_by_month(connection, shop, on, is_now=True),
        slow=slow_movers(connection, on.isoformat(), SLOW_DAYS),
        expiring=tuple(looking.expiring(connection, (on + datetime.timedelta(days=EXPIRY_DAYS)).isoformat())),
        shorts=tuple(looking.shorts(connection)),
        expected=tuple(expected(orders, on)),
        outstanding=tuple(one for order in orders for one in outstanding(order)),
        took=tuple(days_taken(connection)),
    )


def _by_month(
    connection: sqlite3.Connection, shop: Shop, on: datetime.date, *, is_now: bool
) -> StockByMonth | None:
    """Return stock by month up to a day: balances are kept of month ends, and of now."""
    month = on.isoformat()[:7]
    if not is_now and on.isoformat() != last_day(month):
        month = (on.replace(day=1) - datetime.timedelta(days=1)).isoformat()[:7]
    if month < shop.first_month:
        return None
    return stock_by_month(connection, shop.currency, shop.first_month, month)

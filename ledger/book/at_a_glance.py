"""Where the book stands today, in a few figures: what is there, which months are open, what is waiting."""

from __future__ import annotations

import datetime
import sqlite3
from dataclasses import dataclass

from ledger.book import looking
from ledger.book.checklist import CheckItem, checklist
from ledger.book.looking import ExpiryRow, ShortRow
from ledger.book.order_store import find_orders
from ledger.book.orders import Order, days_late
from ledger.book.shop import Shop, read_shop
from ledger.exact.months import last_day, months_between


@dataclass(frozen=True, slots=True)
class LastEntry:
    """The document that was entered last."""

    number: int
    event: str
    effect_date: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Glance:
    """Where a book stands. Money in minor units, days ISO 8601.

    ``months_over`` are open months that have ended, the next to close first; ``points`` is that month's
    checklist. ``late`` are orders whose goods are overdue, ``coming`` those expected today or later.
    """

    shop: Shop
    on: datetime.date
    items: int
    items_with_stock: int
    on_hand_value: int
    under_way_value: int
    last_entry: LastEntry | None
    months_over: tuple[str, ...]
    points: tuple[CheckItem, ...]
    shorts: tuple[ShortRow, ...]
    expiring: tuple[ExpiryRow, ...]
    late: tuple[Order, ...]
    coming: tuple[Order, ...]

    @property
    def blocking(self) -> tuple[CheckItem, ...]:
        """What must be settled before the next month can be closed."""
        return tuple(point for point in self.points if point.is_blocking)

    @property
    def expired(self) -> tuple[ExpiryRow, ...]:
        """What has expired and still is on the shelf."""
        return tuple(row for row in self.expiring if row.expires_on < self.on.isoformat())


def at_a_glance(connection: sqlite3.Connection, today: datetime.date) -> Glance:
    """Return where the book stands on a day."""
    shop = read_shop(connection)
    items, with_stock, on_hand = connection.execute(
        "SELECT (SELECT count(*) FROM item), coalesce(sum(quantity_milli > 0), 0), coalesce(sum(amount), 0) FROM balance"
    ).fetchone()
    last = connection.execute(
        "SELECT number, event, effect_date FROM document WHERE event NOT IN ('close', 'reopen') "
        "ORDER BY number DESC LIMIT 1"
    ).fetchone()
    over = _months_over(shop, today)
    waiting = [order for order in find_orders(connection) if order.is_waiting]
    late = [order for order in waiting if days_late(order.next_expected, today)]
    until = (today + datetime.timedelta(days=looking.SOON_DAYS)).isoformat()
    return Glance(
        shop=shop,
        on=today,
        items=items,
        items_with_stock=with_stock,
        on_hand_value=on_hand,
        under_way_value=looking.under_way_value(connection),
        last_entry=LastEntry(*last) if last else None,
        months_over=over,
        points=tuple(checklist(connection, over[0])) if over else (),
        shorts=tuple(looking.shorts(connection)),
        expiring=tuple(looking.expiring(connection, until)),
        late=tuple(late),
        coming=tuple(order for order in waiting if order not in late and order.next_expected),
    )


def _months_over(shop: Shop, today: datetime.date) -> tuple[str, ...]:
    """Return the open months that have ended, the earliest first."""
    return tuple(
        month
        for month in months_between(shop.first_month, today.isoformat()[:7])
        if shop.closed_through < last_day(month) < today.isoformat()
    )

"""Bills that come when the month of their goods is closed: their day, and where their shares lie."""

from __future__ import annotations

import datetime
import sqlite3
from dataclasses import dataclass

from ledger.book.shop import Shop
from ledger.book.standing import check_date
from ledger.costing.late import PARTS_OF_A_SHARE
from ledger.errors import Problem


def check_bill_date(shop: Shop, on: datetime.date, today: datetime.date) -> list[Problem]:
    """Return what is wrong with a bill's date; that its month is closed is no fault of a late bill."""
    closed = on.isoformat() <= shop.closed_through
    return (
        [] if closed and on.isoformat() >= shop.first_day else check_date(shop, on, today, "the bill's date")
    )


def late_day(on: datetime.date, closed_through: str) -> str:
    """Return the day a late bill takes effect: its own, or the first open one after that.

    >>> late_day(datetime.date(2026, 3, 30), "2026-03-31"), late_day(datetime.date(2026, 4, 2), "2026-03-31")
    ('2026-04-01', '2026-04-02')
    """
    if on.isoformat() > closed_through:
        return on.isoformat()
    return (datetime.date.fromisoformat(closed_through) + datetime.timedelta(days=1)).isoformat()


@dataclass(frozen=True, slots=True)
class LateShare:
    """Where a part of a late charge comes to lie: which lot's share, in which account, on which lot."""

    lot: tuple[int, int]
    account: str
    sku: str
    on_lot: tuple[int, int] | None
    amount: int


def late_shares(connection: sqlite3.Connection, document: int) -> tuple[LateShare, ...]:
    """Return where the shares of a posted charge, or of the undo of one, lie that came late."""
    rows = connection.execute(
        """
        SELECT s.receipt_document, s.receipt_line, leg.account, leg.sku, leg.lot_document, leg.lot_line, leg.amount
        FROM leg JOIN charge_share AS s
            ON s.document = leg.document AND s.line = leg.line AND s.position = leg.part / ?
        WHERE leg.document = ? AND s.path = 'late' AND leg.account NOT IN ('charges', 'purchases')
        ORDER BY leg.line, leg.part
        """,
        (PARTS_OF_A_SHARE, document),
    )
    return tuple(
        LateShare((row[0], row[1]), row[2], row[3], (row[4], row[5]) if row[4] else None, row[6])
        for row in rows
    )

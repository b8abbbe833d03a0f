"""Month totals and month-end balances, kept beside the legs so that reports need not add them up."""

from __future__ import annotations

import sqlite3

from ledger.costing.facts import ON_HAND
from ledger.costing.legs import LegColumns


def forget_open_months(connection: sqlite3.Connection, sku: str, closed_month: str) -> None:
    """Remove an item's figures of open months; its legs are about to be written again."""
    connection.execute("DELETE FROM month_total WHERE sku = ? AND month > ?", (sku, closed_month))
    connection.execute("DELETE FROM month_balance WHERE sku = ? AND month > ?", (sku, closed_month))


def add_legs_to_months(connection: sqlite3.Connection, legs: LegColumns) -> None:
    """Add new legs to the totals and balances of their months.

    The legs of an item must all lie in or after the last month that has a balance of it, which
    holds both for legs that continue its history and after `forget_open_months`.
    """
    totals: dict[tuple[str, str, str], list[int]] = {}
    columns = zip(legs.effect_date, legs.sku, legs.account, legs.quantity_milli, legs.amount, strict=True)
    for effect_date, sku, account, quantity, amount in columns:
        sums = totals.setdefault((effect_date[:7], sku, account), [0, 0])
        sums[0] += quantity
        sums[1] += amount
    connection.executemany(
        """
        INSERT INTO month_total (month, sku, account, quantity_milli, amount) VALUES (?, ?, ?, ?, ?)
        ON CONFLICT (month, sku, account) DO UPDATE SET
            quantity_milli = quantity_milli + excluded.quantity_milli, amount = amount + excluded.amount
        """,
        [(*key, *sums) for key, sums in totals.items()],
    )
    moved: dict[tuple[str, str], list[int]] = {}
    for (month, sku, account), sums in totals.items():
        own = moved.setdefault((month, sku), [0, 0])
        if account == ON_HAND:
            own[0] += sums[0]
            own[1] += sums[1]
    connection.executemany(
        """
        INSERT INTO month_balance (sku, month, quantity_milli, amount, under_way_milli, under_way_amount)
        SELECT ?1, ?2,
            ?3 + coalesce((SELECT quantity_milli FROM month_balance
                WHERE sku = ?1 AND month < ?2 ORDER BY month DESC LIMIT 1), 0),
            ?4 + coalesce((SELECT amount FROM month_balance
                WHERE sku = ?1 AND month < ?2 ORDER BY month DESC LIMIT 1), 0), 0, 0
        WHERE true
        ON CONFLICT (sku, month) DO UPDATE SET
            quantity_milli = quantity_milli + ?3, amount = amount + ?4
        """,
        [(sku, month, *sums) for (month, sku), sums in sorted(moved.items())],
    )

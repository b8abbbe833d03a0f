"""Month totals and month-end balances, kept beside the legs so that reports need not add them up."""

from __future__ import annotations

import sqlite3

from ledger.costing.facts import ON_HAND
from ledger.costing.late import UNDER_WAY
from ledger.costing.legs import LegColumns

_PLACE = {ON_HAND: 0, UNDER_WAY: 2}
"""Where an account's quantity stands in a `Stock`; its amount stands after it."""


def forget_open_months(connection: sqlite3.Connection, sku: str) -> None:
    """Remove an item's figures of open months; its legs are about to be written again."""
    for table in ("month_total", "month_balance"):
        connection.execute(
            f"DELETE FROM {table} "  # noqa: S608  (one of two names of our own)
            "WHERE sku = ? AND month > (SELECT substr(closed_through, 1, 7) FROM boundary)",
            (sku,),
        )


Stock = tuple[int, int, int, int]
"""Quantity and amount on hand, then under way, in thousandths and minor units."""


def stock_sums(legs: LegColumns) -> dict[str, Stock]:
    """Return, per SKU, what legs put on hand and under way in all."""
    sums: dict[str, list[int]] = {}
    for sku, account, quantity, amount in zip(
        legs.sku, legs.account, legs.quantity_milli, legs.amount, strict=True
    ):
        if account in _PLACE:
            own = sums.setdefault(sku, [0, 0, 0, 0])
            own[_PLACE[account]] += quantity
            own[_PLACE[account] + 1] += amount
    return {sku: (own[0], own[1], own[2], own[3]) for sku, own in sums.items()}


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
        own = moved.setdefault((month, sku), [0, 0, 0, 0])
        if account in _PLACE:
            own[_PLACE[account]] += sums[0]
            own[_PLACE[account] + 1] += sums[1]
    connection.executemany(
        """
        INSERT INTO month_balance (sku, month, quantity_milli, amount, under_way_milli, under_way_amount)
        SELECT ?1, ?2, ?3 + coalesce(b.quantity_milli, 0), ?4 + coalesce(b.amount, 0),
            ?5 + coalesce(b.under_way_milli, 0), ?6 + coalesce(b.under_way_amount, 0)
        FROM (SELECT 1) LEFT JOIN (SELECT * FROM month_balance
            WHERE sku = ?1 AND month < ?2 ORDER BY month DESC LIMIT 1) AS b
        WHERE true
        ON CONFLICT (sku, month) DO UPDATE SET
            quantity_milli = quantity_milli + ?3, amount = amount + ?4,
            under_way_milli = under_way_milli + ?5, under_way_amount = under_way_amount + ?6
        """,
        [(sku, month, *sums) for (month, sku), sums in sorted(moved.items())],
    )

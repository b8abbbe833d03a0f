"""An item's month as the book keeps it, and the roll-forward of items over a span of months."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from ledger.costing.facts import ON_HAND
from ledger.costing.invariants import (
    IN_PROCESS,
    MADE_IN_JOBS,
    PASSED_ON,
    USED_IN_JOBS,
    Movement,
    RollForward,
)
from ledger.costing.late import UNDER_WAY
from ledger.costing.month_statement import ItemMonth
from ledger.errors import BookDamaged
from ledger.exact.months import first_day, last_day

_OPENING_ENTRIES = "opening balance"
"""The account of what was entered as opening stock."""


@dataclass(frozen=True, slots=True)
class ItemRow:
    """One item's roll-forward, with what it is."""

    sku: str
    name: str
    kind: str
    tax_class: str
    base_unit: str
    rolled: RollForward


_BALANCES = """
SELECT i.sku, i.name, i.kind, i.tax_class, i.base_unit,
    coalesce(o.quantity_milli + o.under_way_milli, 0), coalesce(o.amount + o.under_way_amount, 0),
    coalesce(c.quantity_milli + c.under_way_milli, 0), coalesce(c.amount + c.under_way_amount, 0),
    coalesce(c.under_way_amount, 0)
FROM item AS i
LEFT JOIN month_balance AS o ON o.sku = i.sku
    AND o.month = (SELECT max(month) FROM month_balance WHERE sku = i.sku AND month < ?1)
LEFT JOIN month_balance AS c ON c.sku = i.sku
    AND c.month = (SELECT max(month) FROM month_balance WHERE sku = i.sku AND month <= ?2)
ORDER BY i.sku
"""


@dataclass(frozen=True, slots=True)
class _Balance:
    """An item's stock, on hand and under way, before and at the end of a span."""

    sku: str
    name: str
    kind: str
    tax_class: str
    base_unit: str
    opening_milli: int
    opening_amount: int
    closing_milli: int
    closing_amount: int
    under_way_amount: int


def _balances(connection: sqlite3.Connection, first_month: str, last_month: str) -> list[_Balance]:
    return [_Balance(*row) for row in connection.execute(_BALANCES, (first_month, last_month))]


def item_months(connection: sqlite3.Connection, month: str) -> Iterable[ItemMonth]:
    """Yield what moved in a month or was there at one of its ends."""
    totals: dict[str, dict[str, int]] = {}
    rows = connection.execute("SELECT sku, account, amount FROM month_total WHERE month = ?", (month,))
    for sku, account, amount in rows:
        totals.setdefault(sku, {})[account] = amount
    passed_on = _late_passed_on(connection, month, month)
    for balance in _balances(connection, month, month):
        amounts = totals.get(balance.sku, {})
        if not (amounts or balance.opening_amount or balance.closing_amount):
            continue
        yield ItemMonth(
            balance.sku,
            balance.kind,
            balance.tax_class,
            balance.opening_amount,
            balance.closing_amount,
            balance.under_way_amount,
            amounts,
            _used_in_jobs(connection, month, balance.sku, amounts),
            passed_on.get(balance.sku, 0),
        )


_USED_IN_JOBS = """
SELECT coalesce(sum(w.amount), 0) FROM leg AS w
WHERE w.sku = ? AND w.effect_date BETWEEN ? AND ? AND w.account = 'work in process'
AND EXISTS (SELECT 1 FROM leg AS u WHERE u.document = w.document AND u.line = w.line AND u.account = 'used')
"""

_OF_PRODUCTS = ("made", "labour", "spoilage")
"""Accounts that a job's product may have: an item with none of them was only used in jobs."""


def _used_in_jobs(connection: sqlite3.Connection, month: str, sku: str, amounts: Mapping[str, int]) -> int:
    """Return what jobs took of an item, in minor units; legs are read only where totals cannot tell."""
    in_process = amounts.get(IN_PROCESS)
    if in_process is None or "used" not in amounts:
        return 0
    if not any(account in amounts for account in _OF_PRODUCTS):
        return in_process
    span = (sku, first_day(month), last_day(month))
    used: int = connection.execute(_USED_IN_JOBS, span).fetchone()[0]
    return used


# A late charge is entered on the item it was for; what of it is in other items' lots makes the
# amounts of the one negative, and of the others positive, by the same sum.
_LATE = """
SELECT l.sku, -sum(l.amount)
FROM (SELECT DISTINCT document, line FROM charge_share WHERE path = 'late' AND effect_date BETWEEN ?1 AND ?2) AS s
JOIN leg AS l ON l.document = s.document AND l.line = s.line
WHERE l.effect_date BETWEEN ?1 AND ?2 GROUP BY l.sku HAVING sum(l.amount) <> 0
"""


def _late_passed_on(connection: sqlite3.Connection, first_month: str, last_month: str) -> dict[str, int]:
    """Return what of late charges left each item for others, in minor units; negative where it came to."""
    return dict(connection.execute(_LATE, (first_day(first_month), last_day(last_month))).fetchall())


_JOB_LINES = """
SELECT sku, sum(quantity), sum(in_process) FROM (
    SELECT l.sku AS sku,
        sum(CASE l.account WHEN 'used' THEN l.quantity_milli ELSE 0 END) AS quantity,
        sum(CASE l.account WHEN 'work in process' THEN l.amount ELSE 0 END) AS in_process
    FROM document AS d JOIN leg AS l ON l.document = d.number
    WHERE d.effect_date BETWEEN ? AND ? AND d.event IN ('make', 'undo')
    GROUP BY l.document, l.line, l.sku
    HAVING max(l.account = 'used') AND max(l.account = 'work in process'))
GROUP BY sku
"""


def read_roll_forward(connection: sqlite3.Connection, first_month: str, last_month: str) -> list[ItemRow]:
    """Return, per SKU, opening stock, what moved by account, and closing stock of a span of months.

    Stock is what is on hand and under way. What jobs took and made have rows of their own. Items
    without stock and without a movement have no row. Opening entries are opening stock, as on the
    statement. Sum rows up with `rows_by_group` and
    `total_row` of the invariants.

    Args:
        connection: a book.
        first_month: YYYY-MM.
        last_month: YYYY-MM, in the span.

    Raises BookDamaged where opening and movements do not give the closing balance.
    """
    span = (first_day(first_month), last_day(last_month))
    moved: dict[str, dict[str, list[int]]] = {}
    rows = connection.execute(
        "SELECT sku, account, sum(quantity_milli), sum(amount) FROM month_total "
        "WHERE month BETWEEN ? AND ? GROUP BY sku, account",
        (first_month, last_month),
    )
    for sku, account, quantity, amount in rows:
        if account not in (ON_HAND, UNDER_WAY):
            moved.setdefault(sku, {})[account] = [-quantity, -amount]
    jobs = {sku: (quantity, amount) for sku, quantity, amount in connection.execute(_JOB_LINES, span)}
    passed_on = _late_passed_on(connection, first_month, last_month)
    found = []
    for balance in _balances(connection, first_month, last_month):
        own = moved.get(balance.sku, {})
        _name_jobs(own, *jobs.get(balance.sku, (0, 0)))
        if balance.sku in passed_on:
            own[PASSED_ON] = [0, -passed_on[balance.sku]]
        rolled = _rolled(_with_opening(balance, own), own)
        if rolled.movements or rolled.opening_amount or rolled.opening_quantity_milli:
            item = (balance.sku, balance.name, balance.kind, balance.tax_class, balance.base_unit)
            found.append(ItemRow(*item, rolled))
    return found


def _with_opening(balance: _Balance, moved: dict[str, list[int]]) -> _Balance:
    """Take opening entries out of what moved and return the balance with them in its opening stock."""
    milli, amount = moved.pop(_OPENING_ENTRIES, [0, 0])
    return replace(
        balance,
        opening_milli=balance.opening_milli + milli,
        opening_amount=balance.opening_amount + amount,
    )


def _name_jobs(moved: dict[str, list[int]], used_milli: int, used_amount: int) -> None:
    """Turn 'work in process', 'made' and the used quantities of jobs into rows of what jobs took and made."""
    _, in_process = moved.pop(IN_PROCESS, [0, 0])
    made_milli, _ = moved.pop("made", [0, 0])
    if "used" in moved:
        moved["used"][0] += used_milli
    moved[USED_IN_JOBS] = [-used_milli, -used_amount]
    moved[MADE_IN_JOBS] = [made_milli, in_process + used_amount]


def _rolled(balance: _Balance, moved: Mapping[str, list[int]]) -> RollForward:
    movements = tuple(
        Movement(account, quantity, amount)
        for account, (quantity, amount) in sorted(moved.items())
        if quantity or amount
    )
    rolled = RollForward(
        balance.sku,
        balance.opening_milli,
        balance.opening_amount,
        movements,
        balance.opening_milli + sum(each.quantity_milli for each in movements),
        balance.opening_amount + sum(each.amount for each in movements),
    )
    if (rolled.closing_quantity_milli, rolled.closing_amount) != (
        balance.closing_milli,
        balance.closing_amount,
    ):
        raise BookDamaged(
            f"{balance.sku}: opening stock and movements do not give its closing stock. "
            "Run blankbook prove to see what is wrong, and restore the latest backup."
        )
    return rolled

"""What a month comes to, read from the book's month totals: statement, tax lines, roll-forward.

Any month can be asked for, open or closed. The figures of an open month are a draft: what is
entered later may change them. Statements read month totals and month-end balances, never all legs.
"""

from __future__ import annotations

import calendar
import json
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from ledger.book.shop import Shop, read_policies, read_shop
from ledger.costing.facts import ON_HAND
from ledger.costing.invariants import IN_PROCESS, MADE_IN_JOBS, PASSED_ON, USED_IN_JOBS, Movement, RollForward
from ledger.costing.month_statement import ItemMonth, MonthStatement, month_statement, span_statement
from ledger.costing.tax_lines import (
    COUNTRY_WITH_LINES,
    OpeningCheck,
    TaxLines,
    TaxPolicies,
    YearToDate,
    changed_policies,
    opening_check,
    tax_lines,
    tax_policies,
    tax_year_of,
    year_to_date,
)
from ledger.errors import BookDamaged, Refused

UNDER_WAY = "under way"
OPENING_ENTRIES = "opening balance"

LATE_PASSED_ON = PASSED_ON
"""The row of a roll-forward for late charges on an item that now are in, or came from, another item."""


@dataclass(frozen=True, slots=True)
class MonthReport:
    """A month's statement, its tax lines and the tax year to date.

    ``tax`` and ``policies`` are None for a shop in a country whose lines are not known.
    ``opening`` is this tax year's line 35 against last year's line 41, None where last year is not
    known. ``is_closed`` tells whether the figures are final.

    ``month_before`` is this month's line 35 against line 41 of the month before, which that month
    reports by its own policies; None where there is none in the book. ``changed_policies`` names the
    policies that are not those of the month before, and ``other_policies_in`` the months of the tax
    year that were closed by others than this report's, whose year to date is by its own throughout.
    """

    shop: Shop
    statement: MonthStatement
    policies: TaxPolicies | None
    tax: TaxLines | None
    year: YearToDate
    opening: OpeningCheck | None
    is_closed: bool
    month_before: OpeningCheck | None = None
    changed_policies: tuple[str, ...] = ()
    other_policies_in: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ItemRow:
    """One item's roll-forward, with what it is."""

    sku: str
    name: str
    kind: str
    tax_class: str
    base_unit: str
    rolled: RollForward


def months_between(first: str, last: str) -> list[str]:
    """Return the months from the first to the last, both in it, YYYY-MM.

    >>> months_between("2025-11", "2026-02")
    ['2025-11', '2025-12', '2026-01', '2026-02']
    """
    months, month = [], first
    while month <= last:
        months.append(month)
        year, number = int(month[:4]), int(month[5:])
        month = f"{year + number // 12:04d}-{number % 12 + 1:02d}"
    return months


def first_day(month: str) -> str:
    """Return the first day of a month, ISO 8601."""
    return f"{month}-01"


def last_day(month: str) -> str:
    """Return the last day of a month, ISO 8601.

    >>> last_day("2028-02")
    '2028-02-29'
    """
    return f"{month}-{calendar.monthrange(int(month[:4]), int(month[5:]))[1]:02d}"


def read_report(
    connection: sqlite3.Connection, month: str, told: TaxLines | None = None, told_41: int | None = None
) -> MonthReport:
    """Return what a month comes to, with its tax lines and the tax year to date.

    Args:
        connection: a book.
        month: YYYY-MM, the book's first month or later.
        told: the lines of the tax year's months before the book began, as the owner tells them.
        told_41: last tax year's line 41 as the owner tells it, in minor units, where the book
            does not hold that year.

    Raises Refused for a month before the book began, BookDamaged where a month does not add up.
    """
    shop = read_shop(connection)
    told_policies = policies_of(connection, shop, month)
    policies = tax_policies(told_policies) if shop.country == COUNTRY_WITH_LINES else None
    year_began = tax_year_of(month, shop.tax_year_starts)
    months = [
        read_statement(connection, each) for each in months_between(max(year_began, shop.first_month), month)
    ]
    if not months:
        raise before_the_book(shop, month)
    year = year_to_date(months, policies, from_month=year_began, first_month=shop.first_month, told=told)
    is_closed = last_day(month) <= shop.closed_through
    if policies is None:
        return MonthReport(shop, months[-1], None, None, year, None, is_closed)
    first_lines = told or tax_lines(months[0], policies)
    before = _policies_before(connection, shop, month)
    lines = tax_lines(months[-1], policies)
    return MonthReport(
        shop,
        months[-1],
        policies,
        lines,
        year,
        opening_check(first_lines, _last_year(connection, shop, year_began), told_41),
        is_closed,
        _month_before(connection, lines, before, months[-2:-1]),
        changed_policies(before[-1].policies, policies) if before else (),
        tuple(
            one.month
            for one in before
            if one.month >= year_began and changed_policies(one.policies, policies)
        ),
    )


@dataclass(frozen=True, slots=True)
class _MonthsPolicies:
    """A month and the policies it is reported by."""

    month: str
    policies: TaxPolicies


def _policies_before(connection: sqlite3.Connection, shop: Shop, month: str) -> list[_MonthsPolicies]:
    """Return the policies of the months before one, in order: those of its tax year, and at least the last."""
    year_began = tax_year_of(month, shop.tax_year_starts)
    earlier = months_between(shop.first_month, month)[:-1]
    asked = [one for one in earlier if one >= year_began] or earlier[-1:]
    return [_MonthsPolicies(one, tax_policies(policies_of(connection, shop, one))) for one in asked]


def _month_before(
    connection: sqlite3.Connection,
    lines: TaxLines,
    before: Sequence[_MonthsPolicies],
    read: Sequence[MonthStatement],
) -> OpeningCheck | None:
    """Return a month's line 35 against line 41 of the month before; ``read`` has its statement or is empty."""
    if not before:
        return None
    last = before[-1]
    statement = read[0] if read else read_statement(connection, last.month)
    return OpeningCheck(lines.line_35, tax_lines(statement, last.policies).line_41)


def before_the_book(shop: Shop, month: str) -> Refused:
    """Return the refusal of a month that the book does not hold."""
    return Refused(f"{month} is before {shop.first_month}, the book's first month. Name a later one.")


def _last_year(connection: sqlite3.Connection, shop: Shop, year_began: str) -> TaxLines | None:
    """Return the lines of the last month of the tax year before, None where the book does not hold it."""
    months = months_between(shop.first_month, year_began)[:-1]
    if not months:
        return None
    policies = tax_policies(policies_of(connection, shop, months[-1]))
    return tax_lines(read_statement(connection, months[-1]), policies)


def policies_of(connection: sqlite3.Connection, shop: Shop, month: str) -> dict[str, str]:
    """Return the policies a month is reported by: those in force, or those it was closed with."""
    if last_day(month) <= shop.closed_through:
        row = connection.execute(
            "SELECT policies FROM month_event WHERE action = 'close' AND month = ? ORDER BY document DESC LIMIT 1",
            (month,),
        ).fetchone()
        if row is not None:
            closed_with: dict[str, str] = json.loads(row[0])
            return closed_with
    return read_policies(connection)


def read_statement(connection: sqlite3.Connection, month: str) -> MonthStatement:
    """Return the statement of one month.

    Raises BookDamaged where it does not add up.
    """
    shop = read_shop(connection)
    if month < shop.first_month:
        raise before_the_book(shop, month)
    return month_statement(month, shop.currency, _items(connection, month))


def read_span(connection: sqlite3.Connection, first_month: str, last_month: str) -> MonthStatement:
    """Return one statement of the months from the first to the last, both in it.

    Raises Refused where the span is empty or begins before the book, BookDamaged where a month
    does not add up or does not begin with what the month before ended with.
    """
    months = months_between(first_month, last_month)
    if not months:
        raise Refused(f"{first_month} is after {last_month}: name the earlier month first.")
    return span_statement([read_statement(connection, month) for month in months])


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


def _items(connection: sqlite3.Connection, month: str) -> Iterable[ItemMonth]:
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
            own[LATE_PASSED_ON] = [0, -passed_on[balance.sku]]
        rolled = _rolled(_with_opening(balance, own), own)
        if rolled.movements or rolled.opening_amount or rolled.opening_quantity_milli:
            item = (balance.sku, balance.name, balance.kind, balance.tax_class, balance.base_unit)
            found.append(ItemRow(*item, rolled))
    return found


def _with_opening(balance: _Balance, moved: dict[str, list[int]]) -> _Balance:
    """Take opening entries out of what moved and return the balance with them in its opening stock."""
    milli, amount = moved.pop(OPENING_ENTRIES, [0, 0])
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

"""What to settle before a month is closed: each point in plain words, with the command that settles it."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from ledger.book.guessed_costs import guessed_stock
from ledger.book.shop import Shop, read_policies, read_shop
from ledger.book.unusual_costs import CheckedDays, CostPoint, sold_below_cost, unusual_costs
from ledger.costing.tax_lines import is_tax_years_last
from ledger.exact.money import grouped_money
from ledger.exact.months import first_day, last_day
from ledger.exact.quantity import show_quantity

LONG_UNDER_WAY_DAYS = 60
"""How long goods may be under way before it is asked whether they came: our own rule."""

USUAL_RECEIPTS = 2
"""From how many earlier receipts of a supplier on its freight is usual: our own rule."""

LOOK_BACK_DAYS = 365
"""How far back a supplier's receipts say what is usual."""

COUNT_POLICY = "counts"
COUNT_RULES: dict[str, int] = {"yearly": 366, "quarterly": 92, "monthly": 31}
"""How old the last count of an item may be, in days, by the policy 'counts'; not told is yearly."""

MOST_NAMED = 5
"""How many items are named before the others are only counted."""

CENTRAL_BANK = "European Central Bank"

_NOT_UNDONE = "NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)"


@dataclass(frozen=True, slots=True)
class CheckItem:
    """One point of the checklist.

    ``where`` names the document or item, ``command`` what to type; words in capitals in it are for
    the maker to fill in. A blocking point stops the close, the others are advice.
    """

    what: str
    where: str
    command: str
    is_blocking: bool = False


@dataclass(frozen=True, slots=True)
class _Month:
    """The month that is checked, and whose it is."""

    shop: Shop
    month: str
    count_rule: str

    @property
    def first_day(self) -> str:
        return first_day(self.month)

    @property
    def last_day(self) -> str:
        return last_day(self.month)

    @property
    def days(self) -> CheckedDays:
        return CheckedDays(self.first_day, self.last_day, self.shop.currency)

    def days_before_end(self, days: int) -> str:
        """The day so many days before the month's last, ISO 8601."""
        return (datetime.date.fromisoformat(self.last_day) - datetime.timedelta(days=days)).isoformat()


def checklist(connection: sqlite3.Connection, month: str) -> list[CheckItem]:
    """Return what to settle before a month is closed, what blocks the close first.

    Args:
        connection: a book.
        month: YYYY-MM.
    """
    rule = read_policies(connection).get(COUNT_POLICY, "yearly")
    asked = _Month(read_shop(connection), month, rule)
    found = [item for check in _CHECKS for item in check(connection, asked)]
    return sorted(found, key=lambda item: not item.is_blocking)


_SHORTS = f"""
SELECT s.sku, i.kind, i.base_unit, d.event, d.number, s.effect_date, s.quantity_milli,
    max(i.use_estimated, l.estimated)
FROM short AS s JOIN item AS i ON i.sku = s.sku JOIN document AS d ON d.number = s.document
JOIN document_line AS l ON l.document = s.document AND l.line = s.line
WHERE s.effect_date <= ? AND {_NOT_UNDONE} ORDER BY s.effect_date, s.document, s.line
"""  # noqa: S608  (a constant of this module)


def _shorts(connection: sqlite3.Connection, asked: _Month) -> Iterator[CheckItem]:
    """Yield what was used before it was entered."""
    for sku, kind, unit, event, number, on, milli, estimated in connection.execute(
        _SHORTS, (asked.last_day,)
    ):
        amount = show_quantity(milli)
        where = f"{event} {number} of {on}"
        if estimated:
            yield CheckItem(
                f"{sku}: {amount} {unit} more were used than the book had; its use is estimated, so the month "
                "ends with none of it. A count says how much there really is.",
                where,
                f"blankbook count {sku} QUANTITY --date {asked.last_day}",
            )
            continue
        came = (
            f"blankbook make {sku} {amount} --date {on}"
            if kind == "finished"
            else f"blankbook receive --sku {sku} --quantity {amount} --unit {unit} --amount AMOUNT "
            f"--party SUPPLIER --date {on}"
        )
        yield CheckItem(
            f"{sku}: used {amount} {unit} that never came in. Enter where they came from, or count the item.",
            where,
            came,
            is_blocking=True,
        )


_PROVISIONAL = f"""
SELECT d.number, d.effect_date, coalesce(d.party, ''), group_concat(l.sku, ', ')
FROM document AS d JOIN document_line AS l ON l.document = d.number
WHERE d.effect_date BETWEEN ? AND ? AND d.event IN ('receipt', 'ship') AND l.provisional = 1 AND {_NOT_UNDONE}
AND NOT EXISTS (
    SELECT 1 FROM charge_share AS s
    JOIN document_line AS c ON c.document = s.document AND c.line = s.line AND c.charge_kind = 'goods'
    WHERE s.receipt_document = l.document AND s.receipt_line = l.line
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = s.document))
GROUP BY d.number ORDER BY d.effect_date, d.number
"""  # noqa: S608  (a constant of this module)


def _provisional(connection: sqlite3.Connection, asked: _Month) -> Iterator[CheckItem]:
    """Yield receipts that were entered without a price."""
    for number, on, party, skus in connection.execute(_PROVISIONAL, (asked.first_day, asked.last_day)):
        yield CheckItem(
            f"{skus} came in without a price: until you enter one, the latest known cost is taken.",
            f"receipt {number} of {on}{_from(party)}",
            f'blankbook charge "goods AMOUNT by value" --on {number}',
            is_blocking=True,
        )


_FREIGHT = f"""
SELECT d.number, d.effect_date, d.party, EXISTS (
    SELECT 1 FROM charge_share AS s
    JOIN document_line AS c ON c.document = s.document AND c.line = s.line
        AND c.charge_kind IN ('freight', 'delivery')
    WHERE s.receipt_document IN (d.number, iif(d.event = 'receipt', d.follows, NULL))
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = s.document))
FROM document AS d
WHERE d.effect_date BETWEEN ? AND ? AND d.party IS NOT NULL
AND (d.event = 'receipt' OR (d.event = 'ship' AND d.terms <> 'arrival'))
AND {_NOT_UNDONE} ORDER BY d.effect_date, d.number
"""  # noqa: S608  (a constant of this module)


def _freight(connection: sqlite3.Connection, asked: _Month) -> Iterator[CheckItem]:
    """Yield receipts without the freight bill that the supplier's earlier ones mostly had."""
    span = (asked.days_before_end(LOOK_BACK_DAYS), asked.last_day)
    before: dict[str, list[int]] = {}
    for number, on, party, has_freight in connection.execute(_FREIGHT, span):
        earlier = before.setdefault(party.casefold(), [])
        is_usual = len(earlier) >= USUAL_RECEIPTS and 2 * sum(earlier) > len(earlier)
        earlier.append(has_freight)
        if on >= asked.first_day and is_usual and not has_freight:
            yield CheckItem(
                f"most goods from {party} came with a freight bill, these have none yet. If one came, enter it "
                "now: later it is spread over what is left.",
                f"receipt {number} of {on}",
                f'blankbook charge "freight AMOUNT by value" --on {number} --party CARRIER --date {on}',
            )


_HELD = """
SELECT i.sku FROM item AS i CROSS JOIN month_balance AS b ON b.sku = i.sku
    AND b.month = (SELECT max(month) FROM month_balance WHERE sku = i.sku AND month <= ?)
WHERE b.quantity_milli <> 0 AND i.tax_class <> 'supplies when bought' ORDER BY i.sku
"""

_COUNTED = f"""
SELECT DISTINCT l.sku FROM document AS d JOIN document_line AS l ON l.document = d.number
WHERE d.effect_date BETWEEN ? AND ? AND d.event = 'count' AND d.note <> 'use corrected' AND {_NOT_UNDONE}
"""  # noqa: S608  (a constant of this module)


def _counts(connection: sqlite3.Connection, asked: _Month) -> Iterator[CheckItem]:
    """Yield that items were not counted for too long, or not at the tax year's end."""
    is_last = is_tax_years_last(asked.month, asked.shop.tax_year_starts)
    since = asked.days_before_end(COUNT_RULES.get(asked.count_rule, COUNT_RULES["yearly"]))
    if is_last:
        since = asked.first_day
    elif since < asked.shop.first_day:
        # What the shop had on its first day was told that day.
        return
    held = [sku for (sku,) in connection.execute(_HELD, (asked.month,))]
    counted = {sku for (sku,) in connection.execute(_COUNTED, (since, asked.last_day))}
    missing = [sku for sku in held if sku not in counted]
    if not missing:
        return
    named = ", ".join(missing[:MOST_NAMED])
    if len(missing) > MOST_NAMED:
        named += f" and {len(missing) - MOST_NAMED} more"
    due = (
        f"{asked.month} is the last month of the tax year: a full count is due."
        if is_last
        else f"they were not counted since {since}."
    )
    yield CheckItem(
        f"{len(missing)} of {len(held)} items with stock have no count; {due}",
        named,
        "blankbook count --sheet count.xlsx",
    )


def _unit_costs(connection: sqlite3.Connection, asked: _Month) -> Iterator[CheckItem]:
    """Yield lots and jobs that cost nothing, or much more or less than is usual."""
    yield from _points(unusual_costs(connection, asked.days))


def _sold_below_cost(connection: sqlite3.Connection, asked: _Month) -> Iterator[CheckItem]:
    """Yield designs that were sold for less than they cost."""
    yield from _points(sold_below_cost(connection, asked.days))


def _points(found: Iterable[CostPoint]) -> Iterator[CheckItem]:
    return (CheckItem(point.what, point.where, point.command) for point in found)


_EXPIRED = """
SELECT t.sku, i.base_unit, t.document, t.line, t.quantity_on_hand, t.expires_on
FROM lot AS t JOIN item AS i ON i.sku = t.sku
WHERE t.expires_on < ?1 AND t.expires_on IS NOT NULL AND t.quantity_on_hand > 0
AND t.owned_from <= ?1 ORDER BY t.expires_on, t.document, t.line
"""


def _expired(connection: sqlite3.Connection, asked: _Month) -> Iterator[CheckItem]:
    """Yield lots that have expired and still are on the shelf."""
    rows = connection.execute(_EXPIRED, (asked.last_day,))
    for sku, unit, document, line, milli, expires_on in rows:
        amount = show_quantity(milli)
        yield CheckItem(
            f"{sku}: {amount} {unit} expired on {expires_on} and are still on hand. Write off what cannot be "
            "used; dispose of it by its label and local rules.",
            f"lot {document}.{line}",
            f'blankbook spoil {sku} {amount} --note "expired {expires_on}" --date {asked.last_day}',
        )


def _guessed(connection: sqlite3.Connection, asked: _Month) -> Iterator[CheckItem]:
    """Yield that opening stock at guessed costs is still there."""
    held = guessed_stock(connection, asked.shop, asked.last_day)
    if not held.lots:
        return
    lots = "1 lot at a guessed cost" if held.lots == 1 else f"{held.lots} lots at guessed costs"
    value = f"{grouped_money(held.value, asked.shop.currency)} {asked.shop.currency}"
    openings = ", ".join(f"opening {number}" for number in held.openings)
    is_open = asked.shop.closed_through < asked.shop.first_day
    yield CheckItem(
        f"{lots}, {value}: ask your preparer which cost may stand, or find the bills.",
        openings,
        f"blankbook count corrected.xlsx --opening --instead-of {held.openings[-1]}"
        if is_open
        else "blankbook lots",
    )


_FOREIGN = f"""
SELECT d.number, d.event, d.effect_date, coalesce(d.party, ''), d.currency, d.rate, d.rate_source
FROM document AS d WHERE d.effect_date BETWEEN ? AND ? AND d.currency <> ?
AND d.event IN ('receipt', 'ship', 'charge') AND instr(d.rate_source, ?) AND {_NOT_UNDONE}
ORDER BY d.effect_date, d.number
"""  # noqa: S608  (a constant of this module)


def _foreign(connection: sqlite3.Connection, asked: _Month) -> Iterator[CheckItem]:
    """Yield foreign bills that were converted at a reference rate."""
    span = (asked.first_day, asked.last_day, asked.shop.currency, CENTRAL_BANK)
    for number, event, on, party, currency, rate, source in connection.execute(_FOREIGN, span):
        yield CheckItem(
            f"the bill in {currency} stands at {rate}, a reference rate ({source}), not the rate that was paid. "
            "Where that differs, undo it and enter it anew with --rate.",
            f"{event} {number} of {on}{_from(party)}",
            f'blankbook undo {number} --why "the rate paid was RATE"',
        )


_UNDER_WAY = f"""
SELECT d.number, d.effect_date, coalesce(d.party, ''), group_concat(l.sku, ', ')
FROM item AS i CROSS JOIN month_balance AS b ON b.sku = i.sku
    AND b.month = (SELECT max(month) FROM month_balance WHERE sku = i.sku AND month <= ?1)
CROSS JOIN document_line AS l ON l.sku = i.sku CROSS JOIN document AS d ON d.number = l.document
WHERE b.under_way_milli > 0 AND d.event = 'ship' AND d.terms <> 'arrival' AND d.effect_date < ?2 AND {_NOT_UNDONE}
AND l.quantity_milli > coalesce((
    SELECT sum(a.quantity_milli) FROM document_line AS a JOIN document AS r ON r.number = a.document
    WHERE a.sku = l.sku AND a.lot_document = l.document AND a.lot_line = l.line AND r.event = 'receipt'
    AND r.effect_date <= ?3
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = r.number)), 0)
GROUP BY d.number ORDER BY d.effect_date, d.number
"""  # noqa: S608  (a constant of this module)
"""The joins keep their order: few items are under way, and only their lines are looked at."""


def _under_way(connection: sqlite3.Connection, asked: _Month) -> Iterator[CheckItem]:
    """Yield goods that were shipped long ago and did not arrive."""
    values = (asked.month, asked.days_before_end(LONG_UNDER_WAY_DAYS), asked.last_day)
    for number, on, party, skus in connection.execute(_UNDER_WAY, values):
        yield CheckItem(
            f"{skus}: under way for more than {LONG_UNDER_WAY_DAYS} days. Enter their arrival, or ask for them.",
            f"ship {number} of {on}{_from(party)}",
            f"blankbook show {number}",
        )


_NOT_ON_BOARD = f"""
SELECT d.number, d.shipped_on, coalesce(d.party, '') FROM document AS d
WHERE d.event = 'ship' AND d.terms = 'on board' AND d.shipped_on = d.effect_date
    AND d.effect_date BETWEEN ? AND ? AND {_NOT_UNDONE} ORDER BY d.number
"""  # noqa: S608  (a constant of this module)


def _on_board(connection: sqlite3.Connection, asked: _Month) -> Iterator[CheckItem]:
    """Yield shipments whose day on board was not told: it decides in which month they are the shop's."""
    for number, on, party in connection.execute(_NOT_ON_BOARD, (asked.first_day, asked.last_day)):
        yield CheckItem(
            "no other day on board was told, so the day it was handed over stands for it. Where that is another "
            "month, undo it and ship again with --on-board.",
            f"ship {number} of {on}{_from(party)}",
            f"blankbook show {number}",
        )


def _from(party: str) -> str:
    return f" from {party}" if party else ""


_CHECKS: tuple[Callable[[sqlite3.Connection, _Month], Iterator[CheckItem]], ...] = (
    _shorts,
    _provisional,
    _freight,
    _counts,
    _unit_costs,
    _sold_below_cost,
    _expired,
    _guessed,
    _foreign,
    _under_way,
    _on_board,
)

"""The shop's own demand for some goods: what left the shelf, the days without stock, what is there and coming."""

from __future__ import annotations

import calendar
import datetime
import json
import sqlite3
from collections import Counter
from collections.abc import Iterable, Sequence

from ledger.book.buying import size_names
from ledger.book.order_store import find_orders
from ledger.book.orders import Order
from ledger.book.under_way import expected
from ledger.catalogue.items import Item
from ledger.sourcing.own_history import HistoryMonth, OwnHistory, SizeHistory

LONGEST_MONTHS = 24
"""A history goes no further back: what was wanted earlier says little about next year."""

WANTED = ("used", "pieces sold", "samples", "own use")
"""The accounts of what left because somebody wanted it: used in jobs, sold, given as samples, own use.

What was sent back, spoiled, donated, lost in counts or written down is no demand.
"""

LEFT = """
SELECT month, sum(quantity_milli) FROM month_total
WHERE sku = ? AND account IN (SELECT value FROM json_each(?)) GROUP BY month
"""
"""What left the shelf of one SKU by month, net of what customers brought back."""

ON_HAND_BY_DAY = """
SELECT effect_date, sum(quantity_milli), min(quantity_milli) FROM leg
WHERE sku = ? AND account = 'on hand' GROUP BY effect_date ORDER BY effect_date
"""

FIRST_LEFT = "SELECT min(month) FROM month_total WHERE account IN (SELECT value FROM json_each(?)) AND quantity_milli > 0"
LAST_ENTRY = """
SELECT max(effect_date) FROM document
WHERE effect_date <= ? AND event NOT IN ('close', 'reopen', 'order', 'order closed', 'ship')
"""
"""The last day the book tells of: an order placed today does not say that nothing left until today."""

TELLS_OF_USE = ("make", "sale", "use", "own use", "sample", "spoil", "donate", "count")
"""The events by which a shop says what left, or that it looked; a receipt, charge, order or close does not."""

LAST_USE = """
SELECT max(d.effect_date) FROM document AS d
WHERE d.effect_date <= ?1 AND d.event IN (SELECT value FROM json_each(?2))
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
"""
"""The last day for which use is known: days after it are not days without use, nobody wrote down what left."""


def own_history(
    connection: sqlite3.Connection, label: str, items: Sequence[Item], today: datetime.date
) -> OwnHistory:
    """Return the history of some goods, one entry for each item, named by its size and colour as needed.

    It begins with the month in which anything first left the shop's shelves to be used or sold, at most 24
    months back, and ends with the last day for which use is known. An item that was never there is left out.
    """
    months, last = _months(connection, today)
    coming, names = ordered_and_coming(find_orders(connection), today), size_names(items)
    sizes = []
    for item in items:
        found = _size(connection, item, months, last)
        if any(found.left_milli) or found.on_hand_milli or found.days_out != _all_days(months):
            more, name = coming[item.sku], names[item.sku]
            sizes.append(SizeHistory(name, found.left_milli, found.days_out, found.on_hand_milli, more))
    if len(sizes) == 1:
        only = sizes[0]
        sizes = [SizeHistory("", only.left_milli, only.days_out, only.on_hand_milli, only.coming_milli)]
    return OwnHistory(label, last.isoformat(), months, tuple(sizes))


def histories(connection: sqlite3.Connection, items: Sequence[Item], today: datetime.date) -> OwnHistory:
    """Return the history of many items at once, one entry for each, named by its SKU.

    Its months are those of ``own_history``. What is on the way is not in it.
    """
    months, last = _months(connection, today)
    sizes = tuple(_size(connection, item, months, last) for item in items)
    return OwnHistory("", last.isoformat(), months, sizes)


def _months(
    connection: sqlite3.Connection, today: datetime.date
) -> tuple[tuple[HistoryMonth, ...], datetime.date]:
    first = connection.execute(FIRST_LEFT, (json.dumps(WANTED),)).fetchone()[0]
    entry = connection.execute(LAST_USE, (today.isoformat(), json.dumps(TELLS_OF_USE))).fetchone()[0]
    last = datetime.date.fromisoformat(entry) if entry else today
    if first is None or first > last.isoformat()[:7]:
        return (), last
    earliest = _months_before(last, LONGEST_MONTHS - 1)
    return history_months(max(datetime.date.fromisoformat(f"{first}-01"), earliest), last), last


def history_months(first: datetime.date, last: datetime.date) -> tuple[HistoryMonth, ...]:
    """Return the months from one day to another, each with its days that are among them."""
    day, found = first, []
    while day <= last:
        days = calendar.monthrange(day.year, day.month)[1]
        end = min(day.replace(day=days), last)
        found.append(HistoryMonth(day.isoformat()[:7], days, (end - day).days + 1))
        day = end + datetime.timedelta(days=1)
    return tuple(found)


def _months_before(day: datetime.date, months: int) -> datetime.date:
    """Return the first day of the month so many months before that of a day."""
    number = day.year * 12 + day.month - 1 - months
    return datetime.date(number // 12, number % 12 + 1, 1)


def _all_days(months: Iterable[HistoryMonth]) -> tuple[int, ...]:
    return tuple(month.observed_days for month in months)


def _size(
    connection: sqlite3.Connection, item: Item, months: Sequence[HistoryMonth], last: datetime.date
) -> SizeHistory:
    left = dict(connection.execute(LEFT, (item.sku, json.dumps(WANTED))))
    moves = connection.execute(ON_HAND_BY_DAY, (item.sku,)).fetchall()
    through = last.isoformat()
    on_hand = sum(change for day, change, _ in moves if day <= through)
    return SizeHistory(
        name=item.sku,
        left_milli=tuple(left.get(month.month, 0) for month in months),
        days_out=days_out(moves, months, f"{months[0].month}-01") if months else (),
        on_hand_milli=max(0, on_hand),
    )


def days_out(
    moves: Sequence[tuple[str, int, int]], months: Sequence[HistoryMonth], first: str
) -> tuple[int, ...]:
    """Return the days of each month on which there was none from morning to night, and none left either.

    ``moves`` are the rows of ON_HAND_BY_DAY; ``first`` is the first day of the first month that counts, ISO 8601.
    """
    changes = {day: change for day, change, _ in moves}
    taken = {day for day, _, least in moves if least < 0}
    found: list[int] = []
    balance = sum(change for day, change, _ in moves if day < first)
    start = int(first[8:])
    for month in months:
        out = 0
        for number in range(start, start + month.observed_days):
            day = f"{month.month}-{number:02d}"
            before, balance = balance, balance + changes.get(day, 0)
            out += before <= 0 and balance <= 0 and day not in taken
        found.append(out)
        start = 1
    return tuple(found)


def ordered_and_coming(orders: Sequence[Order], today: datetime.date) -> Counter[str]:
    """Return what of orders has neither arrived nor was found missing, by SKU in thousandths."""
    found = Counter[str]()
    for part in expected(orders, today):
        found[part.sku] += part.quantity_milli
    return found

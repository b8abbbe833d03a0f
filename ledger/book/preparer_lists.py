"""Lists for whoever prepares the tax return: own use, samples, donations, late bills, write-downs to consider.

The book finds and adds up; what follows for a return is for the preparer.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from ledger.book.shop import read_shop
from ledger.costing.tax_lines import COUNTRY_WITH_LINES, tax_year_of
from ledger.exact.months import first_day, last_day, months_between
from ledger.exact.rounding import round_fraction

OWN_USE, SAMPLES, DONATIONS = "own use", "samples", "donations"

IDLE_MONTHS = 12
"""How many months without a movement make an item one to look at: our own rule."""

NO_MOVEMENT, EXPIRED, BELOW_COST = "no movement", "expired", "sells below cost"

WRITE_DOWN_WORDS_US = (
    "For US tax, stock is held item by item against what it would cost to buy again in the usual quantity, "
    "and only by a shop whose line 33 says lower of cost or market (Treas. Reg. 1.471-4). What cannot be sold "
    "at normal prices may stand at its real selling price less the direct cost of selling it, whatever the "
    "method (Treas. Reg. 1.471-2(c)). Whether a write-down changes your taxes is for your preparer."
)

WRITE_DOWN_WORDS = (
    "Stock usually stands at the lower of its cost and what it will sell for, less what finishing and selling "
    "it still costs, item by item. Whether a write-down changes your taxes is for your preparer."
)

DONATION_WORDS_US = (
    "Donated goods follow a rule of their own: what may be deducted, and whether their cost leaves the "
    "opening stock or stays in the cost of goods sold, depends on when they were bought. For your preparer."
)

GIVEN_AWAY_WORDS = (
    "By the policy 'samples: elsewhere', donations leave the lines as samples do: both are deducted elsewhere on "
    "the return, at their cost, and line 42 is the cost of goods sold without them."
)
"""What the policy about samples does to donations; for the tax lines, on paper and on the screen."""


@dataclass(frozen=True, slots=True)
class GivenAway:
    """One line of what the owner took, or what was given away, at cost.

    ``account`` is 'own use', 'samples' or 'donations'. Quantity in thousandths, cost in minor
    units; both negative where an undo in a later month took it back. ``from_last_year`` is the part of the
    cost whose goods came in before this tax year began, ``from_opening`` the part whose goods were
    entered as opening stock when the tax year had begun: when they came in is not known.
    """

    account: str
    effect_date: str
    document: int
    sku: str
    name: str
    base_unit: str
    party: str
    note: str
    quantity_milli: int
    amount: int
    from_last_year: int
    from_opening: int = 0


@dataclass(frozen=True, slots=True)
class LateBill:
    """A charge that came after the month of its goods was closed, in minor units.

    ``on_stock`` went to what was still held, ``used_up`` to the cost of goods sold as 'late
    charges on used stock', ``own_use`` to what the owner had taken. ``for_last_year`` tells that the goods
    came in before this tax year began, so that some of ``used_up`` may belong to last year's sales.
    """

    effect_date: str
    document: int
    party: str
    reference: str
    receipts: tuple[int, ...]
    amount: int
    on_stock: int
    used_up: int
    own_use: int
    for_last_year: bool


@dataclass(frozen=True, slots=True)
class WriteDownCandidate:
    """An item whose stock may be worth less than it cost.

    ``reason`` is 'no movement', 'expired' or 'sells below cost', ``since`` the last month that moved it,
    the day it expired, or the day of the last sale. ``net_price`` is what the whole stock fetches at the latest
    price less fees, in minor units, None where no price is known. ``loss`` is what a write-down
    would come to by that price, 0 where none follows from it.
    """

    sku: str
    name: str
    base_unit: str
    quantity_milli: int
    amount: int
    reason: str
    since: str
    net_price: int | None
    loss: int


_GIVEN = """
SELECT l.account, d.effect_date, d.number, l.sku, i.name, i.base_unit, coalesce(o.party, ''),
    CASE WHEN f.note <> '' THEN f.note ELSE o.note END, sum(l.quantity_milli), sum(l.amount),
    sum(CASE WHEN t.owned_from < ?3 OR (t.class = 0 AND ?4 <= ?3) THEN l.amount ELSE 0 END),
    sum(CASE WHEN t.class = 0 AND ?4 > ?3 AND t.owned_from >= ?3 THEN l.amount ELSE 0 END)
FROM document AS d JOIN leg AS l ON l.document = d.number JOIN item AS i ON i.sku = l.sku
JOIN document AS o ON o.number = coalesce(d.undoes, d.number)
LEFT JOIN document_line AS f ON f.document = o.number AND f.line = l.line
LEFT JOIN lot AS t ON t.document = l.lot_document AND t.line = l.lot_line
WHERE d.effect_date BETWEEN ?1 AND ?2 AND d.event IN ('own use', 'sample', 'donate', 'charge', 'undo')
AND l.account IN ('own use', 'samples', 'donations')
GROUP BY d.number, l.line, l.account, l.sku
ORDER BY l.account, d.effect_date, d.number, l.line
"""


def given_away(connection: sqlite3.Connection, first_month: str, last_month: str) -> list[GivenAway]:
    """Return what the owner took and what was given away in a span of months, line by line, at cost.

    Args:
        connection: a book.
        first_month: YYYY-MM.
        last_month: YYYY-MM, in the span.
    """
    shop = read_shop(connection)
    year_began = tax_year_of(last_month, shop.tax_year_starts)
    values = (first_day(first_month), last_day(last_month), first_day(year_began), shop.first_day)
    return [GivenAway(*row) for row in connection.execute(_GIVEN, values)]


_LATE = """
SELECT d.effect_date, d.number, coalesce(d.party, ''), d.reference,
    sum(CASE WHEN l.account IN ('charges', 'purchases') THEN -l.amount ELSE 0 END),
    sum(CASE WHEN l.account IN ('on hand', 'under way') THEN l.amount ELSE 0 END),
    sum(CASE WHEN l.account IN ('late charges on used stock', 'supplies') THEN l.amount ELSE 0 END),
    sum(CASE WHEN l.account = 'own use' THEN l.amount ELSE 0 END)
FROM document AS d JOIN leg AS l ON l.document = d.number
WHERE d.effect_date BETWEEN ? AND ? AND d.event IN ('charge', 'undo')
AND EXISTS (SELECT 1 FROM charge_share AS s WHERE s.document = d.number AND s.path = 'late')
GROUP BY d.number ORDER BY d.effect_date, d.number
"""

_ITS_RECEIPTS = """
SELECT DISTINCT r.number, r.effect_date FROM charge_share AS s
JOIN document AS r ON r.number = s.receipt_document
WHERE s.document = ? AND s.path = 'late' ORDER BY r.number
"""


def late_bills(connection: sqlite3.Connection, first_month: str, last_month: str) -> list[LateBill]:
    """Return the charges of a span of months that bear on goods of months closed before.

    Args:
        connection: a book.
        first_month: YYYY-MM.
        last_month: YYYY-MM, in the span.
    """
    year_began = first_day(tax_year_of(last_month, read_shop(connection).tax_year_starts))
    bills = []
    for row in connection.execute(_LATE, (first_day(first_month), last_day(last_month))).fetchall():
        on, document, party, reference, amount, on_stock, used_up, own_use = row
        receipts = connection.execute(_ITS_RECEIPTS, (document,)).fetchall()
        numbers = tuple(number for number, _ in receipts)
        for_last_year = any(came_in < year_began for _, came_in in receipts)
        bills.append(
            LateBill(
                on, document, party, reference, numbers, amount, on_stock, used_up, own_use, for_last_year
            )
        )
    return bills


_HELD = """
SELECT i.sku, i.name, i.base_unit, b.quantity_milli, b.amount, b.month
FROM item AS i CROSS JOIN month_balance AS b ON b.sku = i.sku
    AND b.month = (SELECT max(month) FROM month_balance WHERE sku = i.sku AND month <= ?)
WHERE b.quantity_milli > 0 AND b.amount > 0 ORDER BY i.sku
"""

_EXPIRED_BY = """
SELECT min(expires_on) FROM lot WHERE sku = ? AND expires_on IS NOT NULL AND expires_on < ?
AND quantity_on_hand > 0
"""

_LAST_SALE = """
SELECT g.effect_date, l.amount - coalesce(l.fees, 0), l.quantity_milli
FROM leg AS g CROSS JOIN document AS d ON d.number = g.document
CROSS JOIN document_line AS l ON l.document = g.document AND l.line = g.line
WHERE g.sku = ? AND g.effect_date <= ? AND g.account = 'pieces sold' AND g.quantity_milli > 0 AND d.event = 'sale'
AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
ORDER BY g.effect_date DESC, g.document DESC, g.line DESC LIMIT 1
"""
"""Through the legs, whose index has the dates of an item in order; its lines have no such index."""


def write_down_candidates(
    connection: sqlite3.Connection, month: str, idle_months: int = IDLE_MONTHS
) -> list[WriteDownCandidate]:
    """Return items whose stock at a month's end may be worth less than it cost, each with its reasons.

    Materials have no price of their own: they are not held against one.

    Args:
        connection: a book.
        month: YYYY-MM.
        idle_months: how many months without any movement, 1 or more.
    """
    found: list[WriteDownCandidate] = []
    for row in connection.execute(_HELD, (month,)).fetchall():
        found.extend(_of_item(connection, month, idle_months, row))
    return found


def _of_item(
    connection: sqlite3.Connection, month: str, idle_months: int, row: tuple[str, str, str, int, int, str]
) -> Iterator[WriteDownCandidate]:
    """Yield one item's reasons to look at it."""
    sku, name, unit, milli, amount, moved_in = row
    sale = connection.execute(_LAST_SALE, (sku, last_day(month))).fetchone()
    net = None if sale is None else round_fraction(Fraction(sale[1] * milli, sale[2]))
    # Selling for less than the fees is worth nothing, and a write-down takes no more than there is.
    loss = 0 if net is None else max(amount - max(net, 0), 0)
    item = (sku, name, unit, milli, amount)
    if len(months_between(moved_in, month)) > idle_months:
        yield WriteDownCandidate(*item, NO_MOVEMENT, moved_in, net, loss)
    expired = connection.execute(_EXPIRED_BY, (sku, last_day(month))).fetchone()[0]
    if expired is not None:
        yield WriteDownCandidate(*item, EXPIRED, expired, net, loss)
    if loss and sale is not None:
        yield WriteDownCandidate(*item, BELOW_COST, sale[0], net, loss)


def write_down_words(country: str) -> str:
    """Return what write-downs mean for taxes in a country (ISO 3166), as far as it can be said."""
    return WRITE_DOWN_WORDS_US if country == COUNTRY_WITH_LINES else WRITE_DOWN_WORDS


def donation_words(country: str) -> str:
    """Return what donations mean for taxes in a country (ISO 3166), '' where nothing can be said."""
    return DONATION_WORDS_US if country == COUNTRY_WITH_LINES else ""

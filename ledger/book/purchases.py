"""What was paid for goods before: receipts at their landed cost, and the rates of foreign bills."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.catalogue._words import fold
from ledger.exact.quantity import MILLI
from ledger.exact.rounding import divide_round


@dataclass(frozen=True)
class Purchase:
    """What one receipt brought of some goods; money in the book's minor units, quantity in thousandths."""

    document: int
    received_on: str
    party: str
    reference: str
    quantity_milli: int
    invoice_minor: int
    charges_minor: int

    @property
    def landed_minor(self) -> int:
        """Invoice cost and all charges."""
        return self.invoice_minor + self.charges_minor

    @property
    def unit_cost_minor(self) -> Fraction:
        """The landed cost of one base unit, exactly."""
        return Fraction(self.landed_minor * MILLI, self.quantity_milli)


@dataclass(frozen=True)
class PaidRate:
    """What one unit of a foreign currency cost on a bill, in the book's currency."""

    rate: Fraction
    on: str
    document: int


TOLD_PRICE = """
(SELECT coalesce(sum(s.amount), 0) FROM charge_share AS s
    JOIN document_line AS c ON c.document = s.document AND c.line = s.line AND c.charge_kind = 'goods'
    WHERE s.receipt_document = lot.document AND s.receipt_line = lot.line AND s.path = 'with receipt'
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = s.document AND u.path = 'dropped'))
"""
"""What a price told after the receipt changed a lot's goods by: it is kept among the lot's charges."""

PURCHASES = f"""
SELECT d.number, coalesce(lot.available_from, lot.owned_from), coalesce(d.party, ''), d.reference,
    sum(lot.quantity_received), sum(lot.invoice_cost + {TOLD_PRICE}),
    sum(lot.charges - {TOLD_PRICE} + (SELECT coalesce(sum(c.amount), 0) FROM late_cost AS c
        WHERE c.lot_document = lot.document AND c.lot_line = lot.line))
FROM lot JOIN document AS d ON d.number = lot.document
WHERE lot.sku = ? AND d.event = 'receipt' AND lot.quantity_received > 0
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
GROUP BY d.number
"""  # noqa: S608  (a constant of this module)
"""The receipts of one SKU with all their charges, late ones too; an unknown price counts provisionally."""


def credit_at_told_price(
    connection: sqlite3.Connection, lot: tuple[int, int], quantity_milli: int
) -> int | None:
    """Return what a supplier credits for goods whose price came after them; None where it came with them.

    Args:
        connection: a book.
        lot: document and line of the receipt that brought them.
        quantity_milli: how much goes back, in thousandths of the base unit.
    """
    row = connection.execute(
        f"SELECT {TOLD_PRICE}, invoice_cost, quantity_received FROM lot WHERE document = ? AND line = ?",  # noqa: S608
        lot,
    ).fetchone()
    if row is None or not row[0] or not row[2]:
        return None
    told, invoice_cost, received = row
    return divide_round((invoice_cost + told) * quantity_milli, received)


def purchases(connection: sqlite3.Connection, skus: Sequence[str]) -> list[Purchase]:
    """Return what each receipt brought of the SKUs together, the latest first."""
    found: dict[int, list[Purchase]] = {}
    for sku in skus:
        for row in connection.execute(PURCHASES, (sku,)):
            found.setdefault(row[0], []).append(Purchase(*row))
    together = [
        Purchase(
            document=number,
            received_on=max(each.received_on for each in parts),
            party=parts[0].party,
            reference=parts[0].reference,
            quantity_milli=sum(each.quantity_milli for each in parts),
            invoice_minor=sum(each.invoice_minor for each in parts),
            charges_minor=sum(each.charges_minor for each in parts),
        )
        for number, parts in found.items()
    ]
    return sorted(together, key=lambda each: (each.received_on, each.document), reverse=True)


def last_paid_rate(connection: sqlite3.Connection, currency: str, on: str) -> PaidRate | None:
    """Return the rate of the latest bill in a currency dated ``on`` (ISO 8601) or before, None without one."""
    row = connection.execute(
        "SELECT rate, document_date, number FROM document WHERE currency = ? AND document_date <= ? "
        "AND (event IN ('receipt', 'charge') OR (event = 'ship' AND terms <> 'arrival')) ORDER BY document_date DESC, number DESC LIMIT 1",
        (currency, on),
    ).fetchone()
    return None if row is None else PaidRate(Fraction(row[0]), row[1], row[2])


def has_bought_from(connection: sqlite3.Connection, party: str) -> bool:
    """Return whether goods ever came from a party, so that no first sample is needed."""
    query = "SELECT 1 FROM document WHERE party = ? AND event = 'receipt' LIMIT 1"
    return connection.execute(query, (party,)).fetchone() is not None


def used_milli(connection: sqlite3.Connection, sku: str) -> int:
    """Return how much of a SKU ever left the shelf, in thousandths: what its share of a style is guessed by."""
    query = "SELECT coalesce(-sum(quantity_milli), 0) FROM leg WHERE sku = ? AND account = 'on hand' AND quantity_milli < 0"
    return int(connection.execute(query, (sku,)).fetchone()[0])


@dataclass(frozen=True)
class OrderBehind:
    """The order that goods came of, and its day, ISO 8601; ``offer`` is None where none was told with it."""

    number: int
    ordered_on: str
    offer: str | None = None

    def days_until(self, day: str) -> int:
        """Return the days from the order to a day, ISO 8601."""
        return (datetime.date.fromisoformat(day) - datetime.date.fromisoformat(self.ordered_on)).days


def order_of_receipt(connection: sqlite3.Connection, receipt: int) -> OrderBehind | None:
    """Return the order that a receipt's goods came of; None where there was none."""
    row = connection.execute(
        """
        WITH RECURSIVE before (number, depth) AS (
            SELECT follows, 1 FROM document WHERE number = ?
            UNION SELECT d.follows, before.depth + 1 FROM document AS d JOIN before ON d.number = before.number
            WHERE before.depth < 10
        )
        SELECT d.number, d.document_date, o.offer FROM before JOIN document AS d ON d.number = before.number
        LEFT JOIN order_offer AS o ON o.document = d.number
        WHERE d.event = 'order' ORDER BY before.depth LIMIT 1
        """,
        (receipt,),
    ).fetchone()
    return None if row is None else OrderBehind(*row)


@dataclass(frozen=True)
class OrderTook:
    """How many days an order took; ``offer`` is the offer's name for comparing, empty where none was told with it."""

    days: int
    offer: str = ""


def days_under(took: Sequence[OrderTook], offer_name: str) -> list[int]:
    """Return the days of the orders that may have been placed under an offer: not of those told under another."""
    return [each.days for each in took if not each.offer or each.offer == fold(offer_name)]


def orders_took(connection: sqlite3.Connection, party: str) -> list[OrderTook]:
    """Return how many days each order of a supplier took, the one that came first at the front.

    An order that came in several receipts took until the last of them, and counts once.
    """
    rows = connection.execute(
        "SELECT number, coalesce(arrived_on, document_date) FROM document AS d "
        "WHERE event = 'receipt' AND party = ? AND follows IS NOT NULL "
        "AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number) ORDER BY document_date, number",
        (party,),
    ).fetchall()
    found: dict[int, OrderTook] = {}
    for number, arrived in rows:
        order = order_of_receipt(connection, number)
        if order is not None:
            before = found.get(order.number, OrderTook(0))
            offer = fold(f"{party}, {order.offer}") if order.offer else ""
            found[order.number] = OrderTook(max(before.days, order.days_until(arrived)), offer)
    return list(found.values())

"""What is under way, what is expected when, and how long the shop's own orders took."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ledger.book.order_store import find_orders
from ledger.book.orders import (
    BALANCE_DUE,
    BALANCE_PAID,
    CLOSED_BY_HAND,
    DEPOSIT_DUE,
    DEPOSIT_PAID,
    Order,
    Shipment,
    days_late,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnderWay:
    """Goods of one shipment's line that are the shop's and have not arrived. Thousandths and minor units.

    Dates are ISO 8601; ``expected_on`` is empty where nothing is known.
    """

    sku: str
    name: str
    kind: str
    base_unit: str
    quantity_milli: int
    value: int
    order: int
    shipment: int
    line: int
    party: str
    shipped_on: str
    expected_on: str
    days_late: int


UNDER_WAY = """
SELECT l.lot_document, l.lot_line, l.sku, i.name, i.kind, i.base_unit, sum(l.quantity_milli), sum(l.amount)
FROM leg AS l INDEXED BY leg_lot JOIN item AS i ON i.sku = l.sku
WHERE l.lot_document = ?1 AND l.account = 'under way' AND l.effect_date <= ?2
GROUP BY l.lot_document, l.lot_line HAVING sum(l.quantity_milli) <> 0 OR sum(l.amount) <> 0
ORDER BY l.lot_line
"""
"""What of a shipment is under way at the end of a day."""

SHIPS = """
SELECT d.number, d.follows FROM document AS d
WHERE d.event = 'ship' AND d.effect_date <= ?1 AND d.terms <> 'arrival'
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
ORDER BY d.effect_date, d.number
"""


def under_way(connection: sqlite3.Connection, on: str, today: datetime.date) -> list[UnderWay]:
    """Return what is under way and the shop's at the end of the day ``on``, the longest under way first.

    How late it is counts to ``today``.
    """
    ships = connection.execute(SHIPS, (on,)).fetchall()
    orders = {order.number: order for order in find_orders(connection)} if ships else {}
    found = []
    for number, follows in ships:
        rows = connection.execute(UNDER_WAY, (number, on)).fetchall()
        if not rows:
            continue
        order = orders[follows]
        shipment = next(one for one in order.shipments if one.document == number)
        expected = order.expected_on(shipment)
        for document, line, *of_item, quantity, value in rows:
            sku, name, kind, unit = of_item
            found.append(
                UnderWay(
                    sku=sku,
                    name=name,
                    kind=kind,
                    base_unit=unit,
                    quantity_milli=quantity,
                    value=value,
                    order=order.number,
                    shipment=document,
                    line=line,
                    party=order.party,
                    shipped_on=shipment.shipped_on,
                    expected_on=expected,
                    days_late=days_late(expected, today),
                )
            )
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """Goods still to come: of a shipment, or (``shipment`` None) ordered and not shipped yet."""

    sku: str
    base_unit: str
    quantity_milli: int
    order: int
    shipment: int | None
    party: str
    expected_on: str
    days_late: int
    is_the_shops: bool

    @property
    def week(self) -> str:
        """The Monday of the week it is expected in, ISO 8601; '' where nothing is known."""
        if not self.expected_on:
            return ""
        day = datetime.date.fromisoformat(self.expected_on)
        return (day - datetime.timedelta(days=day.weekday())).isoformat()


def expected(orders: Sequence[Order], today: datetime.date) -> list[Expected]:
    """Return what is still to come of some orders, the earliest expected first, what is unknown last."""
    found = [one for order in orders for one in _of_order(order, today)]
    return sorted(found, key=lambda one: (one.expected_on or "9999", one.order, one.shipment or 10**9))


def _of_order(order: Order, today: datetime.date) -> Iterator[Expected]:
    units = {line.sku: line.base_unit for line in order.lines}
    for shipment in order.coming:
        open_lines = [(line.sku, line.open_milli) for line in shipment.lines]
        yield from _expected(order, shipment, open_lines, units, today)
    if order.state != CLOSED_BY_HAND:
        to_ship = [(line.sku, order.to_ship_milli(line)) for line in order.lines]
        yield from _expected(order, None, to_ship, units, today)


def _expected(
    order: Order,
    shipment: Shipment | None,
    lines: Sequence[tuple[str, int]],
    units: dict[str, str],
    today: datetime.date,
) -> Iterator[Expected]:
    there = [(sku, milli) for sku, milli in lines if milli > 0]
    day = order.expected_on(shipment) if there else ""
    for sku, milli in there:
        yield Expected(
            sku=sku,
            base_unit=units[sku],
            quantity_milli=milli,
            order=order.number,
            shipment=shipment.document if shipment else None,
            party=order.party,
            expected_on=day,
            days_late=days_late(day, today),
            is_the_shops=shipment is not None and shipment.is_the_shops,
        )


@dataclass(frozen=True, slots=True)
class Payment:
    """A deposit or balance of an order, in minor units of its currency, as information.

    ``due`` and ``paid`` are ISO 8601, empty where they were not told.
    """

    order: int
    party: str
    what: str
    amount_foreign: int
    currency: str
    due: str
    paid: str

    def days_overdue(self, today: datetime.date) -> int:
        """Return how many days past its due day it is; 0 where it was paid, or no day was told."""
        return 0 if self.paid else days_late(self.due, today)


def payments(order: Order) -> list[Payment]:
    """Return the deposit and balance of an order; without a deposit all of it is the balance.

    Of an order that was closed by hand only what was shipped is owed, and a deposit that was paid.
    """
    days, deposit = order.days, order.deposit_foreign
    if not days.get(DEPOSIT_PAID):
        deposit = min(deposit, order.owed_foreign)
    parts = (
        ("deposit", deposit, DEPOSIT_DUE, DEPOSIT_PAID),
        ("balance", order.owed_foreign - deposit, BALANCE_DUE, BALANCE_PAID),
    )
    return [
        Payment(
            order.number, order.party, what, amount, order.currency, days.get(due, ""), days.get(paid, "")
        )
        for what, amount, due, paid in parts
        if amount > 0
    ]


def outstanding(order: Order) -> list[Payment]:
    """Return what of an order was not told to be paid, whether its goods have arrived or not."""
    return [one for one in payments(order) if not one.paid]


@dataclass(frozen=True, slots=True)
class Took:
    """How many days one shipment of an order took to be shipped, or one receipt of it to arrive."""

    party: str
    stage: str
    days: int
    order: int
    document: int


ORDER_TO_SHIP, SHIP_TO_ARRIVAL = "order to ship", "ship to arrival"
STAGES = (ORDER_TO_SHIP, SHIP_TO_ARRIVAL)

TOOK = """
SELECT coalesce(o.party, ''), 'order to ship', julianday(s.shipped_on) - julianday(o.document_date),
    o.number, s.number
FROM document AS s JOIN document AS o ON o.number = s.follows AND o.event = 'order'
WHERE s.event = 'ship' AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = s.number)
UNION ALL
SELECT coalesce(s.party, ''), 'ship to arrival', julianday(r.arrived_on) - julianday(s.shipped_on),
    s.follows, r.number
FROM document AS r JOIN document AS s ON s.number = r.follows AND s.event = 'ship'
WHERE r.event = 'receipt' AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = r.number)
    AND EXISTS (SELECT 1 FROM document_line AS l WHERE l.document = r.number
        AND l.quantity_milli > l.claimed_milli + l.normal_milli + l.expensed_milli)
ORDER BY 1, 2, 4, 5
"""
"""Days between order, shipping and arrival; a shipment that was lost has not arrived."""


def days_taken(connection: sqlite3.Connection) -> list[Took]:
    """Return how long each shipment and each arrival took, by supplier and stage."""
    return [
        Took(party, stage, int(days), order, document)
        for party, stage, days, order, document in connection.execute(TOOK)
    ]

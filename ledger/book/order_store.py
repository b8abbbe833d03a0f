"""Orders read from the book, each with everything that followed."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

from ledger.book.orders import BeyondLine, Order, OrderLine, Shipment, ShippedLine
from ledger.errors import Refused
from ledger.exact.words import with_article

_NOT_UNDONE = "NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)"

ORDERS = """
SELECT d.number, d.document_date, d.effect_date, coalesce(d.party, ''), d.reference, d.currency,
    t.terms, t.named_place, t.title_passes, t.origin, t.deposit_foreign, t.working_days, t.transit_days,
    t.closures, c.number, (SELECT u.number FROM document AS u WHERE u.undoes = d.number), d.note,
    coalesce(c.document_date, ''), coalesce(c.reason, '')
FROM order_terms AS t CROSS JOIN document AS d ON d.number = t.document
LEFT JOIN document AS c ON c.number = (
    SELECT max(x.number) FROM document AS x WHERE x.follows = d.number AND x.event = 'order closed'
        AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = x.number))
WHERE d.event = 'order' AND (?1 IS NULL OR d.number = ?1) ORDER BY d.number
"""
"""The heads of orders, of one or of all; from their terms, which are few, to their documents."""

ORDERS_OF = """
SELECT d.number FROM order_terms AS t CROSS JOIN document AS d ON d.number = t.document
WHERE d.event = 'order' AND d.party = ? COLLATE NOCASE ORDER BY d.number
"""
"""The orders placed with a supplier."""

_HEAD = (
    "number",
    "ordered_on",
    "effect_date",
    "party",
    "reference",
    "currency",
    "terms",
    "named_place",
    "title_passes",
    "origin",
    "deposit_foreign",
    "working_days",
    "transit_days",
    "closures",
    "closed_by",
    "undone_by",
    "note",
    "closed_on",
    "closed_why",
)

_LINES = """
SELECT l.line, l.sku, l.kind, l.tax_class, i.base_unit, l.unit, l.unit_quantity, l.quantity_milli,
    l.amount_foreign, l.weight_mg, l.volume_mm3, l.supplier_code
FROM document_line AS l JOIN item AS i ON i.sku = l.sku WHERE l.document = ? ORDER BY l.line
"""

_SHIPMENTS = f"""
SELECT d.number, coalesce(d.shipped_on, d.effect_date), d.effect_date, d.reference, d.terms, d.currency,
    d.rate, d.rate_source
FROM document AS d WHERE d.follows = ? AND d.event = 'ship' AND {_NOT_UNDONE}
ORDER BY coalesce(d.shipped_on, d.effect_date), d.number
"""  # noqa: S608  (a constant of this module)

SHIPPED_LINES = """
SELECT l.document, l.line, l.lot_line, l.sku, l.quantity_milli, l.amount_foreign, l.amount, l.note,
    l.weight_mg, l.volume_mm3, coalesce(sum(a.quantity_milli), 0), coalesce(sum(a.amount_foreign), 0)
FROM document_line AS l
LEFT JOIN (document_line AS a JOIN document AS r ON r.number = a.document AND r.event = 'receipt'
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = r.number))
    ON a.lot_document = l.document AND a.lot_line = l.line
WHERE l.document = ? GROUP BY l.document, l.line ORDER BY l.line
"""
"""The lines of a shipment with what of each has arrived or was found missing."""

_BEYOND = f"""
SELECT d.number, l.sku, i.base_unit, l.quantity_milli, l.amount_foreign, d.currency
FROM document AS s JOIN document AS d ON d.follows = s.number AND d.event = 'receipt' AND {_NOT_UNDONE}
JOIN document_line AS l ON l.document = d.number AND l.lot_document IS NULL AND l.sku IS NOT NULL
JOIN item AS i ON i.sku = l.sku
WHERE s.follows = ? AND s.event = 'ship' ORDER BY d.number, l.line
"""  # noqa: S608  (a constant of this module)
"""What came with the arrivals of an order's shipments beyond them."""


def find_orders(connection: sqlite3.Connection) -> tuple[Order, ...]:
    """Return all orders that were not undone, the oldest first."""
    return tuple(order for order in _read(connection, None) if order.undone_by is None)


def find_orders_of(connection: sqlite3.Connection, party: str) -> tuple[Order, ...]:
    """Return a supplier's orders of which something is still to come, the oldest first."""
    numbers = connection.execute(ORDERS_OF, (party,)).fetchall()
    found = [order for (number,) in numbers for order in _read(connection, number)]
    return tuple(order for order in found if order.undone_by is None and order.is_waiting)


def find_order(connection: sqlite3.Connection, number: int) -> Order:
    """Return one order.

    Raises Refused where the number is no order's, or it was undone.
    """
    found = list(_read(connection, number))
    if not found:
        row = connection.execute("SELECT event FROM document WHERE number = ?", (number,)).fetchone()
        what = (
            f"document {number} is {with_article(row[0])}, not an order"
            if row
            else f"there is no order {number}"
        )
        raise Refused(f"{what}. See the orders with: blankbook order")
    order = found[0]
    if order.undone_by is not None:
        raise Refused(f"order {number} was undone by document {order.undone_by}.")
    return order


def order_of_shipment(connection: sqlite3.Connection, shipment: int) -> int:
    """Return the number of the order that a shipment is of."""
    row = connection.execute("SELECT follows FROM document WHERE number = ?", (shipment,)).fetchone()
    return int(row[0])


def _read(connection: sqlite3.Connection, number: int | None) -> Iterable[Order]:
    days = _told(connection, number)
    for row in connection.execute(ORDERS, (number,)).fetchall():
        head = dict(zip(_HEAD, row, strict=True))
        yield Order(
            **head,
            days=days.get(row[0], {}),
            lines=tuple(
                OrderLine(**dict(zip(OrderLine.__dataclass_fields__, line, strict=True)))
                for line in connection.execute(_LINES, (row[0],))
            ),
            shipments=tuple(_shipments(connection, row[0])),
            beyond=tuple(
                BeyondLine(**dict(zip(BeyondLine.__dataclass_fields__, line, strict=True)))
                for line in connection.execute(_BEYOND, (row[0],))
            ),
        )


def _told(connection: sqlite3.Connection, number: int | None) -> dict[int, dict[str, str]]:
    """Return, per order, the day in force of each kind; a day that was taken back is left out."""
    days: dict[int, dict[str, str]] = {}
    rows = connection.execute(
        "SELECT document, what, day FROM order_day WHERE ?1 IS NULL OR document = ?1 ORDER BY id", (number,)
    )
    for document, what, day in rows:
        days.setdefault(document, {})[what] = day
    return {document: {what: day for what, day in own.items() if day} for document, own in days.items()}


def _shipments(connection: sqlite3.Connection, order: int) -> Iterable[Shipment]:
    for row in connection.execute(_SHIPMENTS, (order,)).fetchall():
        head = dict(zip(Shipment.__dataclass_fields__, row, strict=False))
        lines = tuple(
            ShippedLine(**dict(zip(ShippedLine.__dataclass_fields__, line, strict=True)))
            for line in connection.execute(SHIPPED_LINES, (row[0],))
        )
        yield Shipment(**{**head, "lines": lines})

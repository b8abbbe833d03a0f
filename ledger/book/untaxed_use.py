"""What was bought without sales tax and then not sold: materials at cost, losses apart, no tax computed.

Whether use tax is due on it, and on which of it, is for the shop's state and its preparer; the book
only finds the goods. A finished piece that was given away is listed by its materials, without labour.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from ledger.exact.rounding import round_fraction

WITHOUT_TAX = ("resale", "none")
"""What `tax_paid` says of a receipt line that came in without sales tax."""

LOSSES = ("spoilage", "count differences")
"""Accounts of goods that were lost rather than used; states differ about them, so they stand apart."""


@dataclass(frozen=True, slots=True)
class UntaxedUse:
    """Goods of one lot that came in without sales tax and were used, given away or lost.

    ``how`` is the account they went to, ``tax_paid`` what their receipt said, ``in_sku`` the
    finished item they were part of, '' where they left by themselves. Quantity in thousandths, cost in minor
    units. What came back, by an undo in a later month, is negative.
    """

    effect_date: str
    document: int
    event: str
    how: str
    sku: str
    in_sku: str
    lot_document: int
    lot_line: int
    tax_paid: str
    quantity_milli: int
    amount: int

    @property
    def is_loss(self) -> bool:
        """Whether they were lost rather than used or given away."""
        return self.how in LOSSES


@dataclass(frozen=True, slots=True)
class _Material:
    """What one thousandth of a unit of a lot holds of a lot that came in without sales tax."""

    sku: str
    lot: tuple[int, int]
    tax_paid: str
    quantity: Fraction
    amount: Fraction


_LEFT = """
SELECT d.effect_date, d.number, d.event, l.account, l.sku, l.lot_document, l.lot_line, sum(l.quantity_milli),
    CASE WHEN p.in_job AND l.account = 'used' THEN (SELECT sum(w.amount) FROM leg AS w
        WHERE w.document = l.document AND w.line = l.line AND w.account = 'work in process'
        AND w.lot_document = l.lot_document AND w.lot_line = l.lot_line)
    ELSE sum(l.amount) END
FROM document AS d JOIN leg AS l ON l.document = d.number JOIN item AS i ON i.sku = l.sku
JOIN (SELECT document, line, max(account = 'work in process') AS in_job FROM leg
    WHERE document IN (SELECT number FROM document WHERE effect_date BETWEEN ?1 AND ?2)
    GROUP BY document, line) AS p ON p.document = l.document AND p.line = l.line
WHERE d.effect_date BETWEEN ?1 AND ?2
AND l.account IN ('own use', 'samples', 'donations', 'used', 'spoilage', 'count differences')
AND l.lot_document IS NOT NULL AND l.quantity_milli <> 0
AND NOT (p.in_job AND l.account = 'used' AND i.tax_class <> 'supplies when used')
GROUP BY l.document, l.line, l.account, l.lot_document, l.lot_line
HAVING sum(l.quantity_milli) <> 0
ORDER BY d.effect_date, d.number, l.line, l.lot_document, l.lot_line
"""

_WHEN_BOUGHT = """
SELECT d.effect_date, d.number, d.event, l.line, l.sku, l.tax_paid, l.quantity_milli - l.claimed_milli,
    (SELECT coalesce(sum(g.amount), 0) FROM leg AS g
        WHERE g.document = l.document AND g.line = l.line AND g.account = 'supplies')
    + (SELECT coalesce(sum(s.amount), 0) FROM charge_share AS s
        WHERE s.receipt_document = l.document AND s.receipt_line = l.line
        AND s.effect_date <= ?2 AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = s.document))
FROM document AS d JOIN document_line AS l ON l.document = d.number
WHERE d.effect_date BETWEEN ?1 AND ?2 AND d.event IN ('receipt', 'ship')
AND l.tax_class = 'supplies when bought' AND l.tax_paid IN ('resale', 'none')
AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
ORDER BY d.effect_date, d.number, l.line
"""


def untaxed_use(connection: sqlite3.Connection, first: str, last: str) -> list[UntaxedUse]:
    """Return what came in without sales tax and was used, given away or lost in a span of days.

    Goods that jobs used are not listed: they are in what is sold, or in what is given away. Supplies
    that jobs used are, since they do not leave with the shirt.

    Args:
        connection: a book.
        first: the first day, ISO 8601.
        last: the last day, ISO 8601, in it.
    """
    materials = _Materials(connection)
    found = list(_left(connection, (first, last), materials))
    for on, document, event, line, sku, tax_paid, milli, amount in connection.execute(
        _WHEN_BOUGHT, (first, last)
    ):
        row = (on, document, event, "supplies", sku, "", document, line, tax_paid, milli, amount)
        found.append(UntaxedUse(*row))
    return sorted(found, key=lambda use: (use.effect_date, use.document))


def _left(
    connection: sqlite3.Connection, span: tuple[str, str], materials: _Materials
) -> Iterator[UntaxedUse]:
    """Yield what left the shelf in a span, but for goods that jobs used."""
    for row in connection.execute(_LEFT, span).fetchall():
        on, document, event, account, sku, lot_document, lot_line, milli, amount = row
        for one in materials.of((lot_document, lot_line)):
            own = one.lot == (lot_document, lot_line)
            yield UntaxedUse(
                on,
                document,
                event,
                account,
                one.sku,
                "" if own else sku,
                *one.lot,
                one.tax_paid,
                round_fraction(one.quantity * milli),
                amount if own else round_fraction(one.amount * milli),
            )


_RECEIVED = """
SELECT sku, tax_paid FROM document_line WHERE document = ? AND line = ? AND role = 'item'
"""

_COMPONENTS = """
SELECT g.lot_document, g.lot_line, g.sku,
    sum(CASE g.account WHEN 'used' THEN g.quantity_milli ELSE 0 END),
    sum(CASE g.account WHEN 'work in process' THEN g.amount ELSE 0 END)
FROM document AS d JOIN leg AS g ON g.document = d.number
JOIN document_line AS l ON l.document = g.document AND l.line = g.line AND l.role = 'component'
JOIN item AS i ON i.sku = g.sku AND i.tax_class <> 'supplies when used'
WHERE d.number = ? AND d.event = 'make' AND g.lot_document IS NOT NULL
GROUP BY g.lot_document, g.lot_line, g.sku
"""
"""Supplies are left out: they were listed when the job used them."""


class _Materials:
    """What lots were made of, through jobs of jobs, looked up once each."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        self.known: dict[tuple[int, int], tuple[_Material, ...]] = {}

    def of(self, lot: tuple[int, int]) -> tuple[_Material, ...]:
        """Return what a thousandth of a unit of a lot holds that came in without sales tax."""
        if lot not in self.known:
            # A lot is never made of itself, so this ends; empty first only guards a damaged book.
            self.known[lot] = ()
            self.known[lot] = tuple(self._look_up(lot))
        return self.known[lot]

    def _look_up(self, lot: tuple[int, int]) -> Iterator[_Material]:
        arrived = self._arrived(lot)
        received = self.connection.execute(_RECEIVED, arrived).fetchone()
        if received is not None:
            sku, tax_paid = received
            if tax_paid in WITHOUT_TAX:
                yield _Material(sku, lot, tax_paid, Fraction(1), Fraction(0))
            return
        made = self.connection.execute(
            "SELECT quantity_received FROM lot WHERE document = ? AND line = ?", lot
        ).fetchone()
        if made is None or not made[0]:
            return
        for document, line, _, milli, amount in self.connection.execute(_COMPONENTS, lot[:1]).fetchall():
            part = (document, line)
            for one in self.of(part):
                quantity = one.quantity * Fraction(milli, made[0])
                cost = Fraction(amount, made[0]) if one.lot == part else one.amount * Fraction(milli, made[0])
                yield _Material(one.sku, one.lot, one.tax_paid, quantity, cost)

    def _arrived(self, lot: tuple[int, int]) -> tuple[int, int]:
        """Return the receipt line of a lot: its own, or that of the shipment it arrived with."""
        row = self.connection.execute(
            "SELECT l.lot_document, l.lot_line FROM document_line AS l JOIN document AS d ON d.number = l.document "
            "WHERE l.document = ? AND l.line = ? AND d.event = 'receipt' AND d.terms <> 'arrival' AND l.lot_document IS NOT NULL",
            lot,
        ).fetchone()
        return lot if row is None else (row[0], row[1])

"""What was bought in a span of months, line by line: what it was invoiced at, and what came on top.

Goods are bought on the day they become the shop's: with an ordinary receipt, or when they are shipped.
What then arrives of a shipment is no purchase; what is claimed of it goes back to the supplier.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from ledger.book.month_tables import SIGN, STANDING, WITH_ORIGINAL, Span


@dataclass(frozen=True, slots=True)
class PurchaseRow:
    """One line that was bought, with the charges that took effect with it; amounts in minor units.

    ``quantity_milli`` is what was invoiced; ``amount`` what for, with the claimed part in it. The
    amount of goods that came without a price is the one told afterwards, where one was told.
    ``provisional`` is 1 where it was not. ``sign`` is -1 where a purchase of an earlier month was undone; its
    charges were undone apart. ``is_correction`` tells that the row only corrects the price of goods bought
    in an earlier month, and has no quantity.
    """

    effect_date: str
    document: int
    event: str
    line: int
    party: str
    reference: str
    sku: str
    quantity_milli: int
    claimed_milli: int
    normal_milli: int
    expensed_milli: int
    amount: int
    claimed_amount: int
    charges: int
    tax_paid: str
    provisional: int
    sign: int
    is_correction: int = 0


_SHARES = f"""
(SELECT coalesce(sum(s.amount), 0) FROM charge_share AS s JOIN document AS d ON d.number = s.document
    JOIN document_line AS c ON c.document = s.document AND c.line = s.line
    WHERE s.receipt_document = l.document AND s.receipt_line = l.line AND s.path = 'with receipt'
    AND (c.charge_kind = 'goods') = ?{{place}} AND {STANDING})
"""  # noqa: S608  (a constant of a module)
_GOODS, _OTHERS = _SHARES.format(place=3), _SHARES.format(place=4)

_BOUGHT = f"""
SELECT d.effect_date, d.number, d.event, l.line, coalesce(o.party, ''), o.reference, l.sku, l.quantity_milli,
    l.claimed_milli, l.normal_milli, l.expensed_milli,
    l.amount + CASE d.event WHEN 'undo' THEN 0 ELSE {_GOODS} END, l.claimed_amount,
    CASE d.event WHEN 'undo' THEN 0 ELSE {_OTHERS} END,
    l.tax_paid,
    d.event <> 'undo' AND l.provisional AND NOT EXISTS (
        SELECT 1 FROM charge_share AS g JOIN document AS b ON b.number = g.document AND b.event = 'charge'
        JOIN document_line AS c ON c.document = g.document AND c.line = g.line AND c.charge_kind = 'goods'
        WHERE g.receipt_document = l.document AND g.receipt_line = l.line
        AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = g.document)),
    {SIGN}, 0
FROM {WITH_ORIGINAL} JOIN document_line AS l ON l.document = o.number
WHERE d.effect_date BETWEEN ?1 AND ?2 AND d.path <> 'dropped' AND {STANDING}
    AND (o.event = 'ship' AND o.terms <> 'arrival' OR o.event = 'receipt' AND NOT EXISTS (
        SELECT 1 FROM document AS w WHERE w.number = l.lot_document AND w.event = 'ship' AND w.terms <> 'arrival'))
"""  # noqa: S608  (constants of this module)

_CORRECTED = """
SELECT s.effect_date, d.number, d.event, s.receipt_line, coalesce(o.party, r.party, ''), r.reference, l.sku, 0, 0,
    0, 0, s.amount, 0, 0, '', 0, 1, 1
FROM (SELECT DISTINCT g.document FROM (SELECT DISTINCT sku FROM month_total
        WHERE month BETWEEN ?5 AND ?6 AND account = 'purchases') AS moved
        CROSS JOIN leg AS g ON g.sku = moved.sku AND g.effect_date BETWEEN ?1 AND ?2
        WHERE g.account = 'purchases') AS bill
    CROSS JOIN document AS d ON d.number = bill.document AND d.event IN ('charge', 'undo')
    JOIN document AS o ON o.number = coalesce(d.undoes, d.number)
    CROSS JOIN charge_share AS s ON s.document = d.number
    JOIN document_line AS c ON c.document = s.document AND c.line = s.line AND c.charge_kind = 'goods'
    JOIN document AS r ON r.number = s.receipt_document
    JOIN document_line AS l ON l.document = s.receipt_document AND l.line = s.receipt_line
WHERE s.path = 'late' AND s.effect_date BETWEEN ?1 AND ?2 AND s.amount <> 0
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number AND u.path = 'dropped')
"""
"""Prices told, or taken back, when the month of the goods was closed: they count from the bill's own day."""

PURCHASES = f"{_BOUGHT} UNION ALL {_CORRECTED} ORDER BY 1, 2, 4"


def purchases(connection: sqlite3.Connection, span: Span) -> list[PurchaseRow]:
    """Return what was bought in the span with its landed cost, by date, document and line."""
    # Shares of a price stand with the invoice, all others with the charges.
    rows = connection.execute(
        PURCHASES, (span.first_day, span.last_day, 1, 0, span.first_month, span.last_month)
    )
    return [PurchaseRow(*row) for row in rows]

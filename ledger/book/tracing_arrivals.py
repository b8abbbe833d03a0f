"""From a shipment's lot to the lots it arrived as, and back."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass

from ledger.costing.shelf import LotId

ARRIVED, CLAIMED, MISSING = "receipt", "claimed", "missing"
"""What becomes of pieces of a shipment: they arrive, or are found missing, claimed or not."""

SHIPPED = """
SELECT m.lot_document, m.lot_line, m.quantity_milli - m.claimed_milli - m.normal_milli
FROM document_line AS m JOIN document AS d ON d.number = m.document
JOIN lot ON lot.document = m.lot_document AND lot.line = m.lot_line
WHERE m.document = ? AND m.line = ? AND d.event = 'receipt' AND d.terms <> 'arrival'
"""
"""The shipment's lot that a lot arrived out of, and how much of it."""

ARRIVALS = """
SELECT m.document, m.line, d.effect_date, coalesce(d.party, ''), d.reference, m.sku, i.base_unit,
    m.quantity_milli - m.claimed_milli - m.normal_milli, m.claimed_milli, m.normal_milli
FROM document_line AS m JOIN document AS d ON d.number = m.document JOIN item AS i ON i.sku = m.sku
WHERE m.lot_document = ? AND m.lot_line = ? AND d.event = 'receipt' AND d.terms <> 'arrival'
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
ORDER BY d.effect_date, m.document, m.line
"""
"""What arrived of a shipment's lot, and what of it was found missing."""


STILL_UNDER_WAY = """
SELECT coalesce(sum(l.quantity_milli), 0) FROM leg AS l INDEXED BY leg_lot
WHERE l.lot_document = ? AND l.lot_line = ? AND l.account = 'under way'
"""
"""How much of a shipment's lot has neither arrived nor was found missing."""


@dataclass(frozen=True, slots=True)
class ArrivedPart:
    """A part of a shipment's lot with what became of it, in thousandths; ``makes`` is the lot it became."""

    document: int
    line: int
    event: str
    effect_date: str
    party: str
    reference: str
    sku: str
    base_unit: str
    quantity_milli: int
    makes: LotId | None


def arrived_parts(connection: sqlite3.Connection, shipped: LotId) -> Iterator[ArrivedPart]:
    """Yield what arrived of a shipment's lot and what was found missing, in the order of arrival."""
    for row in connection.execute(ARRIVALS, shipped).fetchall():
        document, line, day, party, reference, sku, unit, kept, claimed, normal = row
        for quantity, event in ((kept, ARRIVED), (claimed, CLAIMED), (normal, MISSING)):
            if quantity:
                makes = (document, line) if event == ARRIVED else None
                yield ArrivedPart(document, line, event, day, party, reference, sku, unit, quantity, makes)


def shipped_behind(connection: sqlite3.Connection, lot: LotId) -> dict[LotId, int]:
    """Return the shipment's lot that a lot arrived out of with how much of it; nothing for other lots."""
    rows = connection.execute(SHIPPED, lot)
    return {(document, line): quantity for document, line, quantity in rows}


def still_under_way(connection: sqlite3.Connection, shipped: LotId) -> int:
    """Return how much of a shipment's lot is still under way, in thousandths."""
    return int(connection.execute(STILL_UNDER_WAY, shipped).fetchone()[0])

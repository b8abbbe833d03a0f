"""Whether a shipment stands in the book under the name of another supplier."""

from __future__ import annotations

import sqlite3

from ledger.book.receiving import ReceiptPlan

_TWINS = """
SELECT number, coalesce(party, '') FROM document
WHERE effect_date = ? AND event = 'receipt' AND coalesce(party, '') <> ? COLLATE NOCASE
  AND currency = ? AND total_foreign = ?
  AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = document.number)
ORDER BY number
"""
_LINES = "SELECT sku, quantity_milli FROM document_line WHERE document = ? AND role = 'item'"


def twin_remark(connection: sqlite3.Connection, plan: ReceiptPlan) -> str:
    """Return what to say where another supplier's receipt of the same day holds the same lines, else ''.

    It may be right: two suppliers can send the same. So it is said, not refused.
    """
    request = plan.request
    ours = sorted((line.item.sku, line.invoice.quantity_milli) for line in request.lines)
    day, total = request.received_on.isoformat(), plan.landing.total_foreign
    for number, party in connection.execute(_TWINS, (day, request.party, request.currency, total)).fetchall():
        if sorted(connection.execute(_LINES, (number,)).fetchall()) == ours:
            return (
                f"The same lines at the same total are in the book already, as receipt {number} of "
                f"{party or 'nobody named'} of the same day. Is this the same shipment under another name? Look: "
                f"blankbook show {number}"
            )
    return ""

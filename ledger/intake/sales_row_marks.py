"""What tells rows of a sales export: sums that are no sale, and the fingerprint of what a row says."""

from __future__ import annotations

import hashlib
import json

from ledger.intake.events import EventRow
from ledger.intake.nearest import fold
from ledger.intake.table import Record

_TOTALS = (
    *("total", "totals", "subtotal", "subtotals", "sum", "sums"),
    *("summe", "gesamt", "gesamtsumme", "zwischensumme", "totaux", "totales", "suma"),
)


def is_total(record: Record) -> bool:
    """Return whether a row adds up others: a word for it stands where the date or the order would."""
    if record.text("date") and record.text("order"):
        return False
    texts = (
        record.text(name) for name in ("date", "order", "line", "type", "sku", "title", "variant", "party")
    )
    first = next((text for text in texts if text), "")
    words = fold(first.replace(":", " ")).split()
    if words and words[0] in ("grand", "order", "invoice"):
        words = words[1:]
    if words:
        return words[0] in _TOTALS
    # Numbers alone, without a date, an order or anything sold, are a sum nobody labelled.
    return True


def content_of(row: EventRow, key: str, book_currency: str) -> str:
    """Return the fingerprint of what a row says; names of customers are no part of it."""
    figures = [row.quantity, row.amount, row.shipping, row.fees]
    said = [key, row.event, row.date.isoformat(), row.sku, row.currency or book_currency]
    said += ["" if figure is None else str(figure) for figure in figures]
    return hashlib.sha256(json.dumps(said, ensure_ascii=False).encode()).hexdigest()

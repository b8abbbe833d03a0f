"""Documents and histories as people and scripts read them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ledger.book.looking import DocumentRow, HistoryRow, LegRow
from ledger.book.undoing import UndoTarget
from ledger.errors import UsageError
from ledger.exact.money import show_money
from ledger.exact.quantity import show_quantity
from ledger.views import figures
from ledger.views.tables import Table, paragraphs

GIVEN_BACK = frozenset({"take back", "refund"})
"""Events whose total went back to the customer."""

NAMED_SKUS = 3
"""How many items a preview names before it only counts them."""


def read_number(text: str) -> int:
    """Return a document's number typed as 12 or as it is shown, 'receipt 12'.

    Raises UsageError where the text holds no number.
    """
    word = text.strip().split(" ")[-1]
    if not word.isascii() or not word.isdecimal() or len(word) > 15:  # noqa: PLR2004  (SQLite's integers)
        raise UsageError(f"'{text.strip()}' is not a document's number; documents are numbered 1, 2, 3.")
    return int(word)


def undo_preview(targets: Sequence[UndoTarget], currency: str) -> str:
    """Return what an undo would take out of the costing."""
    table = Table(["document", "effect", "party", "reference", f">{currency}", "items"])
    for target in targets:
        more = len(target.skus) - NAMED_SKUS
        skus = ", ".join(target.skus[:NAMED_SKUS]) + (f" and {more} more" if more > 0 else "")
        table.add(
            f"{target.event} {target.number}",
            target.effect_date,
            target.party,
            target.reference,
            figures.money(target.total, currency),
            skus,
        )
    dropped = [target for target in targets if target.path == "dropped"]
    if len(dropped) == len(targets):
        return paragraphs(["To be undone (kept in the book, out of the costing):", table.text()])
    notes = []
    credits_ = [f"charge {target.number}" for target in targets if target.path == "credit"]
    reversed_ = [f"{target.event} {target.number}" for target in targets if target.path == "reversal"]
    if credits_:
        notes.append(
            f"The month of {', '.join(credits_)} is closed and stays as it was: what was charged is credited now, "
            "where the goods are today."
        )
    if reversed_:
        notes.append(
            f"The month of {', '.join(reversed_)} is closed and stays as it was: what left comes back today, and "
            "what came in leaves today, at the cost it had."
        )
    return paragraphs(["To be undone:", table.text(), *notes])


def document_text(document: DocumentRow, legs: Sequence[LegRow], currency: str) -> str:
    """Return a document's head and its double entry with both sums."""
    return paragraphs([_head(document, currency), _entry(document, legs, currency)])


def _head(document: DocumentRow, currency: str) -> str:
    lines = [f"{document.event} {document.number}"]
    facts = [
        ("party", document.party),
        ("reference", document.reference),
        ("date", document.document_date),
        ("takes effect", document.effect_date if document.effect_date != document.document_date else ""),
        ("recorded", f"{document.recorded_at[:10]} {document.recorded_at[11:16]} UTC"),
        ("file", document.source_name),
        ("total", _total(document, currency)),
        ("paid in", _foreign(document, currency)),
        (_relation(document), f"{document.follows_event} {document.follows}" if document.follows else ""),
        ("undoes", str(document.undoes) if document.undoes else ""),
        ("undone by", str(document.undone_by) if document.undone_by else ""),
        ("why", document.reason),
        ("note", document.note),
    ]
    width = max(len(name) for name, value in facts if value)
    return "\n".join([*lines, *(f"  {name:<{width}}  {value}" for name, value in facts if value)])


def _relation(document: DocumentRow) -> str:
    """Return in a word how a document belongs to the one it follows: a bill is for it, an arrival of it."""
    return "for" if document.event == "charge" else "of"


def _is_converted(document: DocumentRow) -> bool:
    """Whether a foreign document has amounts in the book's currency: an order has none yet."""
    return bool(document.rate_source)


def _total(document: DocumentRow, currency: str) -> str:
    if document.currency != currency and not _is_converted(document):
        return f"{figures.money(document.total_foreign, document.currency)} {document.currency}"
    return f"{figures.money(document.total, currency)} {currency}"


def _foreign(document: DocumentRow, currency: str) -> str:
    if document.currency == currency or not _is_converted(document):
        return ""
    amount = figures.money(document.total_foreign, document.currency)
    return f"{amount} {document.currency} at {document.rate} ({document.rate_source})"


def _entry(document: DocumentRow, legs: Sequence[LegRow], currency: str) -> str:
    if not legs:
        if document.undone_by or document.undoes:
            return "It takes no part in the costing."
        return "It moves nothing."
    table = Table([">line", "account", "SKU", "lot", ">quantity", "unit", f">{currency}"])
    for leg in legs:
        table.add(
            str(leg.line),
            leg.account,
            leg.sku,
            f"{leg.lot_document}.{leg.lot_line}" if leg.lot_document else "",
            figures.quantity(leg.quantity_milli),
            leg.base_unit,
            figures.money(leg.amount, currency),
        )
    # Quantities of different items cannot be added: what is shown is the sum of each item's imbalance.
    imbalance: dict[str, int] = {}
    for leg in legs:
        imbalance[leg.sku] = imbalance.get(leg.sku, 0) + leg.quantity_milli
    off = sum(abs(milli) for milli in imbalance.values())
    amount = sum(leg.amount for leg in legs)
    table.total("", "sum", "each item", "", figures.quantity(off), "", figures.money(amount, currency))
    return table.text()


def document_as_data(document: DocumentRow, legs: Sequence[LegRow], currency: str) -> dict[str, Any]:
    """Return a document and its legs as data."""
    return {
        "document": document.number,
        "event": document.event,
        "date": document.document_date,
        "effect_date": document.effect_date,
        "recorded_at": document.recorded_at,
        "party": document.party,
        "reference": document.reference,
        "currency": document.currency,
        "rate": document.rate,
        "rate_source": document.rate_source,
        "total": show_money(document.total, currency),
        "total_foreign": show_money(document.total_foreign, document.currency),
        "undoes": document.undoes,
        "undone_by": document.undone_by,
        "source": document.source_name,
        "why": document.reason,
        "legs": [
            {
                "line": leg.line,
                "account": leg.account,
                "sku": leg.sku,
                "lot": f"{leg.lot_document}.{leg.lot_line}" if leg.lot_document else None,
                "quantity": show_quantity(leg.quantity_milli),
                "amount": show_money(leg.amount, currency),
            }
            for leg in legs
        ],
    }


def documents_text(rows: Sequence[DocumentRow], currency: str) -> str:
    """Return the list of all documents."""
    if not rows:
        return "The book holds no documents yet. Receive a shipment: blankbook receive --help"
    table = Table(["document", "date", "party", "reference", f">{currency}", "remark"])
    for row in rows:
        remark = f"undone by {row.undone_by}" if row.undone_by else ""
        if row.undoes:
            remark = f"undoes {row.undoes}: {row.reason}"
        elif row.follows and not remark:
            remark = f"{_relation(row)} {row.follows_event} {row.follows}"
        table.add(
            f"{row.event} {row.number}",
            row.document_date,
            row.party,
            row.reference,
            figures.money(_signed(row), currency) if row.total else "",
            "; ".join(filter(None, (_not_converted(row, currency), remark))),
        )
    return table.text()


def _not_converted(row: DocumentRow, currency: str) -> str:
    """Return what a foreign order comes to, which has no amount in the book's currency; else ''."""
    return _total(row, currency) if row.total_foreign and not row.total and row.currency != currency else ""


def _signed(row: DocumentRow) -> int:
    """Return a document's total in minor units, what customers got back below zero."""
    return -row.total if row.event in GIVEN_BACK else row.total


def documents_as_data(rows: Sequence[DocumentRow], currency: str) -> list[dict[str, Any]]:
    """Return the heads of documents as data."""
    return [
        {
            "document": row.number,
            "event": row.event,
            "date": row.document_date,
            "effect_date": row.effect_date,
            "party": row.party,
            "reference": row.reference,
            "total": show_money(row.total, currency),
            "currency": currency,
            "undoes": row.undoes,
            "undone_by": row.undone_by,
        }
        for row in rows
    ]


def history_text(sku: str, base_unit: str, rows: Sequence[HistoryRow], currency: str) -> str:
    """Return what happened to one SKU, with a running balance."""
    if not rows:
        return f"{sku}: nothing has happened to it yet."
    table = Table(
        [
            "date",
            "document",
            "party",
            "reference",
            ">in or out",
            "unit",
            f">{currency}",
            ">then on hand",
            f">then {currency}",
        ]
    )
    for row in rows:
        table.add(
            row.effect_date,
            f"{row.event} {row.document}",
            row.party,
            row.reference,
            figures.quantity(row.quantity_milli),
            base_unit,
            figures.money(row.amount, currency),
            figures.quantity(row.quantity_after),
            figures.money(row.value_after, currency),
        )
    return paragraphs([f"{sku}, oldest first:", table.text()])


def history_as_data(rows: Sequence[HistoryRow], currency: str) -> list[dict[str, Any]]:
    """Return a SKU's history as data."""
    return [
        {
            "date": row.effect_date,
            "document": row.document,
            "event": row.event,
            "party": row.party,
            "reference": row.reference,
            "quantity": show_quantity(row.quantity_milli),
            "amount": show_money(row.amount, currency),
            "quantity_after": show_quantity(row.quantity_after),
            "value_after": show_money(row.value_after, currency),
        }
        for row in rows
    ]

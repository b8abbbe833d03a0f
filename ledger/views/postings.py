"""What a posting puts into the book: one table, and the earlier costs that it moves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ledger.book.documents import EARNING, NewDocument
from ledger.book.posting import Posted
from ledger.book.recosting import CostChange
from ledger.costing.facts import COMPONENT, LABOUR, PRODUCT
from ledger.exact.money import show_money
from ledger.exact.quantity import show_quantity
from ledger.exact.words import listed
from ledger.views import figures
from ledger.views.tables import Table, paragraphs

MOST_ROWS = 25
"""How many documents a posting lists one by one before it only adds them up by event."""

_ARRIVING = frozenset({"opening", "receipt", "charge"})

MOST_CHANGES = 10
"""How many changed costs are told one by one."""


def posting_text(posted: Posted, currency: str, remarks: Sequence[str], units: dict[str, str]) -> str:
    """Return the preview of a posting; ``units`` are the base units by SKU."""
    few = len(posted.documents) <= MOST_ROWS
    table = _each(posted, currency, units) if few else _by_event(posted, currency)
    said = [*remarks, *posted.remarks, *_write_down_remarks(posted, currency)]
    return paragraphs([table, changes_text(posted.changes, currency), "\n".join(said)])


def _write_down_remarks(posted: Posted, currency: str) -> list[str]:
    """Say where more was to be written down than the stock stood at."""
    return [
        f"write down {document.number}: {figures.money(posted.cost(document), currency)} of the "
        f"{figures.money(document.total, currency)} asked for; the stock stood at no more."
        for document in posted.documents
        if document.event == "write down" and posted.cost(document) < document.total
    ]


def _each(posted: Posted, currency: str, units: dict[str, str]) -> str:
    table = Table(
        ["document", "date", "item", ">quantity", "unit", f">received {currency}", f">cost {currency}"]
    )
    for document in posted.documents:
        sku, quantity, unit = _headline(document, units)
        table.add(
            f"{document.event} {document.number}",
            document.effect_date,
            sku,
            quantity,
            unit,
            figures.money(_earned(document), currency) if document.event in EARNING else "",
            figures.money(_cost(posted, document), currency) if document.event != "refund" else "",
        )
    if len(posted.documents) > 1:
        earned = sum(_earned(document) for document in posted.documents)
        cost = sum(map(posted.cost, _leaving(posted)))
        table.total(
            _total_name("total", posted),
            "",
            "",
            "",
            "",
            figures.money(earned, currency),
            figures.money(cost, currency),
        )
    return table.text()


def _headline(document: NewDocument, units: dict[str, str]) -> tuple[str, str, str]:
    """Return the item, quantity and unit that stand for a document: its product, else its only line."""
    lines = [line for line in document.lines if line.role not in (COMPONENT, LABOUR)]
    skus = list(dict.fromkeys(line.sku or "" for line in lines))
    if len(skus) != 1:
        return (f"{len(lines)} lines" if lines else "", "", "")
    milli = sum(line.quantity_milli for line in lines)
    spoiled = sum(line.normal_milli + line.expensed_milli for line in lines if line.role == PRODUCT)
    text = figures.quantity(milli) if milli else ""
    if spoiled:
        text = f"{figures.quantity(milli - spoiled)} good, {figures.quantity(spoiled)} spoiled"
    return skus[0], text, units.get(skus[0], "") if text else ""


def _cost(posted: Posted, document: NewDocument) -> int:
    """Return what a document cost, in minor units: what left, what came in, or what a job cost in all."""
    if document.event in _ARRIVING:
        return -posted.cost(document)
    if document.event != "make":
        return posted.cost(document)
    labour = sum(line.amount for line in document.lines if line.role == LABOUR)
    used = [line.line for line in document.lines if line.role == COMPONENT]
    return labour - sum(posted.moves.get((document.number, line), (0, 0))[1] for line in used)


def _earned(document: NewDocument) -> int:
    """Return what customers paid by a document, less what they got back, in minor units."""
    if document.event == "sale":
        return document.total
    return -document.total if document.event in EARNING else 0


def _by_event(posted: Posted, currency: str) -> str:
    table = Table(["event", ">documents", "from", "to", f">received {currency}", f">cost {currency}"])
    events = {document.event for document in posted.documents}
    for event in sorted(events):
        own = [document for document in posted.documents if document.event == event]
        days = [document.effect_date for document in own]
        table.add(
            event,
            f"{len(own):,}",
            min(days),
            max(days),
            figures.money(sum(map(_earned, own)), currency) if event in EARNING else "",
            figures.money(sum(_cost(posted, document) for document in own), currency),
        )
    table.total(
        _total_name("all", posted),
        f"{len(posted.documents):,}",
        "",
        "",
        figures.money(sum(map(_earned, posted.documents)), currency),
        figures.money(sum(map(posted.cost, _leaving(posted))), currency),
    )
    return table.text()


def _leaving(posted: Posted) -> list[NewDocument]:
    """Return the documents whose costs add up: what jobs and receipts cost is on the shelf afterwards."""
    return [one for one in posted.documents if one.event != "make" and one.event not in _ARRIVING]


def _total_name(name: str, posted: Posted) -> str:
    events = {document.event for document in posted.documents}
    kinds = {"jobs": {"make"}, "receipts": {"opening", "receipt"}, "charges": {"charge"}}
    apart = [word for word, own in kinds.items() if events & own]
    return f"{name}, cost of {listed(apart)} apart" if apart else name


def count_text(posted: Posted, currency: str, units: dict[str, str]) -> str:
    """Return what a count found: what the book had, what was there, the difference in pieces and money."""
    table = Table(["item", ">in the book", ">counted", ">difference", "unit", f">{currency}"])
    quantity_off = amount_off = 0
    for document in posted.documents:
        for line in document.lines:
            moved, amount = posted.moves.get((document.number, line.line), (0, 0))
            quantity_off += bool(moved)
            amount_off += amount
            table.add(
                line.sku or "",
                figures.quantity(line.quantity_milli - moved),
                figures.quantity(line.quantity_milli),
                figures.quantity(moved) if moved else "",
                units.get(line.sku or "", ""),
                figures.money(amount, currency) if moved else "",
            )
    table.total("total", "", "", f"{quantity_off} differ", "", figures.money(amount_off, currency))
    days = sorted({document.effect_date for document in posted.documents})
    span = days[0] if len(days) == 1 else f"days from {days[0]} to {days[-1]}"
    head = f"Counted at the end of {span}:"
    return paragraphs([head, table.text(), changes_text(posted.changes, currency)])


def changes_text(changes: Sequence[CostChange], currency: str) -> str:
    """Return which earlier documents cost something else now, '' where none does."""
    if not changes:
        return ""
    lines = [f"  {_change_words(one, currency)}" for one in changes[:MOST_CHANGES]]
    if len(changes) > MOST_CHANGES:
        lines.append(f"  … and {len(changes) - MOST_CHANGES} more")
    return "\n".join([f"Costs of earlier documents that change, in {currency}:", *lines])


def _change_words(one: CostChange, currency: str) -> str:
    """Return one change in words; what a document puts on the shelf is told apart from what it takes."""
    came_in = one.before < 0 or one.after < 0
    verb = (
        {"make": " made", "take back": " came back", "count": " found"}.get(one.event, "") if came_in else ""
    )
    before, after = (-one.before, -one.after) if came_in else (one.before, one.after)
    return (
        f"{one.event} {one.document}, {one.sku}{verb}: {figures.money(before, currency)} before, "
        f"{figures.money(after, currency)} now"
    )


def posting_as_data(posted: Posted, currency: str, remarks: Sequence[str], *, kept: bool) -> dict[str, Any]:
    """Return a posting as data; document numbers are null where nothing was kept."""
    return {
        "documents": [
            {
                "document": document.number if kept else None,
                "event": document.event,
                "date": document.effect_date,
                "party": document.party or "",
                "reference": document.reference,
                "amount": show_money(document.total, currency),
                "cost": show_money(posted.cost(document), currency),
                "lines": [
                    {
                        "sku": line.sku,
                        "role": line.role,
                        "quantity": show_quantity(line.quantity_milli),
                        "amount": show_money(line.amount, currency),
                    }
                    for line in document.lines
                ],
            }
            for document in posted.documents
        ],
        "changes": [
            {
                "document": one.document,
                "event": one.event,
                "sku": one.sku,
                "before": show_money(one.before, currency),
                "after": show_money(one.after, currency),
            }
            for one in posted.changes
        ],
        "currency": currency,
        "remarks": list(remarks),
    }

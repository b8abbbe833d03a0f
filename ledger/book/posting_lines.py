"""Entries on their way to documents: their order, what makes one the same, and their lines."""

from __future__ import annotations

import datetime

from ledger.book.documents import NewLine
from ledger.book.entries import AnyEntry, ChargeEntry, Entry, EntryLine, ReceiptEntry
from ledger.costing.facts import CLASS_IN_DAY, LABOUR


def in_date_order(entry: AnyEntry) -> tuple[datetime.date, int, bool]:
    """Return what sorts an entry among those of its posting: its day and its place within the day."""
    if isinstance(entry, ReceiptEntry):
        return (entry.on, CLASS_IN_DAY["receipt"], False)
    if isinstance(entry, ChargeEntry):
        # A bill may be dated before the goods it is for: it is spread once they are there.
        return (datetime.date.max, 0, False)
    # A return may be of a sale of the same day: it is looked for among those added before.
    is_return = entry.event == "take back"
    rank = CLASS_IN_DAY.get("sale" if is_return else entry.event, CLASS_IN_DAY["write down"])
    return (entry.on, rank, is_return)


def content_of(entry: Entry) -> list[object]:
    """Return what makes an entry the one it is: entered twice, it is refused."""
    head = [entry.event, entry.on.isoformat(), entry.party.casefold(), entry.reference, entry.currency]
    return [*head, sorted(entry.applies_to), entry.lot, [_line_content(line) for line in entry.lines]]


def _line_content(line: EntryLine) -> list[object]:
    return [
        line.item.sku,
        line.role,
        line.quantity_milli,
        line.amount_foreign or line.amount,
        line.normal_milli,
        line.expensed_milli,
        line.credit,
    ]


def new_line(
    line: EntryLine, number: int, figures: tuple[int, int], lot: tuple[int, int] | None, place: str
) -> NewLine:
    """Return an entry's line as a document has it; ``figures`` are thousandths and minor units."""
    quantity, amount = figures
    return NewLine(
        line=number,
        role=line.role,
        sku=line.item.sku,
        kind=line.item.kind,
        tax_class=line.item.tax_class,
        unit=line.unit or line.item.base_unit,
        unit_quantity=line.unit_quantity,
        quantity_milli=quantity if line.role != LABOUR else 0,
        normal_milli=line.normal_milli,
        expensed_milli=line.expensed_milli,
        amount_foreign=line.amount_foreign or amount,
        amount=amount,
        credit=line.credit,
        lot_document=lot[0] if lot else None,
        lot_line=lot[1] if lot else None,
        estimated=int(line.item.use_estimated),
        short_allowed=int(line.short_allowed),
        expires_on=line.expires_on.isoformat() if line.expires_on else None,
        shipping=line.shipping,
        fees=line.fees,
        place=place,
        note=line.note,
    )

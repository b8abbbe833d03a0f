"""Matching the rows of an events sheet with the book: items, units, bills, rates become entries."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.book.bill_store import find_catalogue, find_made
from ledger.book.catalogue_store import find_items, find_packs
from ledger.book.entries import AnyEntry, ChargeEntry, Entries, Entry, EntryLine, ReceiptEntry
from ledger.book.made_to_order import job_lines
from ledger.book.shop import read_shop
from ledger.catalogue.items import Item
from ledger.catalogue.packs import unit_factor
from ledger.costing.landed import ChargeWish, is_stocked
from ledger.errors import InputErrors, Problem, RateUnknown, ValueProblem
from ledger.exact.currencies import exponent
from ledger.exact.money import check_amount, convert_minor
from ledger.exact.numbers import show_fraction
from ledger.exact.quantity import MILLI, check_step, show_quantity, to_base
from ledger.exact.rounding import round_fraction
from ledger.intake.events import EventRow
from ledger.intake.foreign_rate import UsedRate, used_rate
from ledger.intake.nearest import did_you_mean
from ledger.intake.resolve import ResolveOptions, resolve
from ledger.intake.shipment import ShipmentDraft, ShipmentLine

DOCUMENT_EVENTS: dict[str, str] = {
    "opening": "opening",
    "sell": "sale",
    "use": "use",
    "spoil": "spoil",
    "own_use": "own use",
    "sample": "sample",
    "donate": "donate",
    "take_back": "take back",
    "refund": "refund",
    "send_back": "send back",
    "count": "count",
    "write_down": "write down",
}
"""The events of the sheet that become one document each, and the document's event."""


@dataclass(frozen=True, slots=True)
class EventOptions:
    """What the command line adds to every row: ``allow_short`` lets stock be used before it is entered."""

    allow_short: bool = False
    source: str = "this sheet"


def resolve_events(
    connection: sqlite3.Connection, rows: Sequence[EventRow], options: EventOptions
) -> Entries:
    """Return what the rows say happened, resolved against the book.

    Receive rows of one date, party and reference are one receipt; make rows of one date,
    reference and SKU are one job. Raises InputErrors with every row that names an unknown item,
    unit or rate, a size the style lacks, or a finished item without a bill.
    """
    resolver = _Resolver(connection, options)
    entries: list[AnyEntry] = []
    receipts: dict[tuple[object, ...], list[EventRow]] = {}
    jobs: dict[tuple[object, ...], list[EventRow]] = {}
    for row in rows:
        if row.event == "receive":
            key = (row.date, row.party.casefold(), row.reference or row.where)
            receipts.setdefault(key, []).append(row)
        elif row.event == "make":
            jobs.setdefault((row.date, row.reference, row.sku), []).append(row)
        else:
            entries.extend(resolver.entry(row))
    for group in receipts.values():
        entries.extend(resolver.receipt(group))
    for group in jobs.values():
        entries.extend(resolver.job(group))
    if problems := resolver.all_problems():
        raise InputErrors(options.source, problems)
    remarks = tuple(dict.fromkeys(resolver.remarks))
    return Entries(tuple(entries), tuple(resolver.new_items.values()), remarks)


WHOLE_KINDS = ("blank", "finished", "transfer", "stones")
"""Kinds that come in whole pieces; a tool wears down by fractions."""


def check_whole(item: Item, quantity: int) -> None:
    """Raise ValueProblem where a piece would be divided; ``quantity`` in thousandths."""
    if item.base_unit == "each" and item.kind in WHOLE_KINDS and quantity % MILLI:
        raise ValueProblem(f"{item.sku}: {show_quantity(quantity)} is not a whole number of pieces.")


class _Resolver:
    """The book as rows are matched against it."""

    def __init__(self, connection: sqlite3.Connection, options: EventOptions) -> None:
        self.connection, self.options = connection, options
        self.currency = read_shop(connection).currency
        self.items = find_items(connection)
        self.packs = find_packs(connection)
        self.made = find_made(connection)
        self.catalogue = find_catalogue(connection)
        self.new_items: dict[str, Item] = {}
        self.problems: list[Problem] = []
        self._noted: dict[str, list[str]] = {}
        self.remarks: list[str] = []

    def entry(self, row: EventRow) -> Iterable[AnyEntry]:
        """Return the entry of a row that is one document by itself; nothing where it is wrong."""
        try:
            if row.event == "charge":
                return [self._charge(row)]
            return [self._entry(row)]
        except (ValueProblem, RateUnknown) as problem:
            self._note(row.where, str(problem))
            return []

    def _note(self, where: str, what: str) -> None:
        """Note what is wrong with a row; the same in several rows, as an unknown SKU, is one problem."""
        self._noted.setdefault(what, []).append(where)

    def all_problems(self) -> list[Problem]:
        """Return what is wrong, each once."""
        noted = [Problem(places[0], what, also=tuple(places[1:])) for what, places in self._noted.items()]
        return [*noted, *self.problems]

    def _entry(self, row: EventRow) -> Entry:
        item = self._item(row.sku)
        if not is_stocked(item.tax_class):
            raise ValueProblem(
                f"{item.sku} is deducted when it is bought, so it is never on the shelf: it is received, and "
                "neither counted nor used up here. Leave this row out."
            )
        rate = self._rate(row)
        amount, foreign = self._amounts(row.amount, row, rate)
        credit = amount if row.event == "send_back" and row.amount is not None else None
        line = EntryLine(
            item=item,
            quantity_milli=self._quantity(row, item),
            amount=0 if row.event == "send_back" else amount,
            amount_foreign=foreign,
            unit=row.unit or item.base_unit,
            unit_quantity="" if row.quantity is None else show_fraction(row.quantity),
            short_allowed=self.options.allow_short,
            credit=credit,
            shipping=None if row.shipping is None else self._amounts(row.shipping, row, rate)[0],
            fees=None if row.fees is None else self._amounts(row.fees, row, rate)[0],
            expires_on=row.expires_on,
            note=row.kind if row.event == "spoil" else "",
        )
        if row.event == "opening":
            self._check_opening(row)
        return Entry(
            event=DOCUMENT_EVENTS[row.event],
            on=row.date,
            lines=(line,),
            where=row.where,
            party=row.party,
            reference=row.reference,
            currency=row.currency or self.currency,
            rate=rate.text,
            rate_source=rate.source,
            applies_to=row.applies_to,
            lot=row.lot,
            note=row.note,
            source=row.source,
        )

    def _check_opening(self, row: EventRow) -> None:
        first_day = read_shop(self.connection).first_day
        if row.date.isoformat() != first_day:
            raise ValueProblem(
                f"opening stock is what the shop had on {first_day}, the book's first day, not on "
                f"{row.date.isoformat()}. What came later is a receive."
            )

    def _charge(self, row: EventRow) -> ChargeEntry:
        rate = self._rate(row)
        amount, foreign = self._amounts(row.amount, row, rate)
        sign = -1 if row.kind == "discount" else 1
        wish = ChargeWish(
            kind=row.kind,
            basis=row.basis or "value",
            amount=sign * amount,
            reference=row.reference,
            party=row.party,
            currency=row.currency or self.currency,
            amount_foreign=sign * foreign,
            rate=rate.text,
            rate_source=rate.source,
        )
        return ChargeEntry(wish=wish, on=row.date, applies_to=row.applies_to, where=row.where)

    def receipt(self, rows: Sequence[EventRow]) -> Iterable[AnyEntry]:
        """Return the receipt of some rows, through the same matching as a supplier's file."""
        first = rows[0]
        currencies = {row.currency or self.currency for row in rows}
        rates = {row.rate for row in rows if row.rate}
        if len(currencies) > 1 or len(rates) > 1:
            self.problems.append(
                Problem(first.where, "one receipt has one currency and one rate.", "Split it by reference.")
            )
            return []
        draft = ShipmentDraft(
            source_name=self.options.source,
            content_sha256="",
            party=first.party,
            reference=first.reference,
            invoice_date=first.date,
            currency=first.currency or self.currency,
            lines=tuple(
                ShipmentLine(
                    where=row.where,
                    sku=row.sku,
                    quantity=row.quantity or Fraction(0),
                    unit=row.unit or self._base_unit(row.sku),
                    net=row.amount or Fraction(0),
                    provisional=row.amount is None,
                    expires_on=row.expires_on,
                    tax_paid=row.tax_paid,
                    note=row.note,
                )
                for row in rows
            ),
        )
        options = ResolveOptions(received_on=first.date, rate=next(iter(rates), ""))
        try:
            request = resolve(self.connection, draft, options)
        except InputErrors as several:
            self.problems.extend(several.problems)
            return []
        self.remarks.extend(request.remarks)
        return [ReceiptEntry(request=request, where=first.where)]

    def job(self, rows: Sequence[EventRow]) -> Iterable[AnyEntry]:
        """Return the job of some rows: good pieces, normally and abnormally spoiled ones."""
        first = rows[0]
        try:
            return [self._job(first, rows)]
        except (ValueProblem, RateUnknown) as problem:
            self._note(first.where, str(problem))
            return []

    def _job(self, first: EventRow, rows: Sequence[EventRow]) -> Entry:
        made = self.made.get(first.sku)
        if made is None:
            near = did_you_mean(first.sku, self.made)
            raise ValueProblem(
                f"no bill of materials makes {first.sku}. {near} See: blankbook boms, and the sizes and "
                "colours its blank comes in."
            )
        item = self._item(first.sku)
        pieces = {"good": 0, "normal": 0, "abnormal": 0}
        labour: int | None = None
        for row in rows:
            quantity = self._quantity(row, item)
            if quantity % MILLI:
                raise ValueProblem(f"{show_quantity(quantity)} is not a whole number of pieces.")
            pieces[row.kind or "good"] += quantity // MILLI
            if row.amount is not None:
                labour = (labour or 0) + self._amounts(row.amount, row, self._rate(row))[0]
        lines = job_lines(
            made,
            (pieces["good"], pieces["normal"], pieces["abnormal"]),
            self.catalogue,
            labour_paid=labour,
            currency=self.currency,
            short_allowed=self.options.allow_short,
        )
        return Entry(
            event="make",
            on=first.date,
            lines=lines,
            where=first.where,
            party=first.party,
            reference=first.reference,
            currency=self.currency,
            note=first.note,
        )

    def _item(self, sku: str) -> Item:
        """Return the item; a finished one that no job has made yet comes from its bill."""
        item = self.items.get(sku)
        if item is not None:
            return item
        made = self.made.get(sku)
        if made is None:
            near = did_you_mean(sku, [*self.items, *self.made])
            raise ValueProblem(f"the book has no item {sku}. {near} See: blankbook items".replace("  ", " "))
        return self.new_items.setdefault(sku, made.item)

    def _base_unit(self, sku: str) -> str:
        """Return the unit that a row without one counts in: on the shop's own sheet it is the item's own."""
        item = self.items.get(sku)
        return item.base_unit if item is not None else ""

    def _quantity(self, row: EventRow, item: Item) -> int:
        if row.quantity is None:
            return 0
        factor = unit_factor(row.unit, item.base_unit, self.packs.get(item.sku, ()), item.density_g_per_ml)
        check_step(row.quantity, factor)
        quantity = to_base(row.quantity, factor)
        if quantity == 0 and row.quantity:
            raise ValueProblem(f"{item.sku}: the quantity comes to nothing in {item.base_unit}.")
        check_whole(item, quantity)
        return quantity

    def _rate(self, row: EventRow) -> UsedRate:
        rate = used_rate(row.currency or self.currency, self.currency, row.rate, row.date)
        if rate.remark:
            self.remarks.append(rate.remark)
        return rate

    def _amounts(self, value: Fraction | None, row: EventRow, rate: UsedRate) -> tuple[int, int]:
        """Return an amount in the book's and in the row's currency, in minor units."""
        if value is None:
            return 0, 0
        currency = row.currency or self.currency
        exact = value * 10 ** exponent(currency)
        if exact.denominator != 1:
            raise ValueProblem(f"{show_fraction(value)} has more decimals than {currency} has.")
        foreign = check_amount(round_fraction(exact))
        return convert_minor(foreign, rate.value, currency, self.currency), foreign

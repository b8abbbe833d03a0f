"""Posting entries: a whole sheet becomes documents in one transaction, judged as a whole."""

from __future__ import annotations

import datetime
import hashlib
import json
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from ledger.book import receiving
from ledger.book.bill_store import find_catalogue, find_made
from ledger.book.catalogue_store import ensure_party, find_items, save_items
from ledger.book.charging import (
    ChargeTarget,
    charge_document,
    find_targets,
    plan_charge,
    target_of,
)
from ledger.book.connect import trial_tx, write_tx
from ledger.book.documents import NewDocument, NewLine, insert_documents, next_number
from ledger.book.entries import AnyEntry, ChargeEntry, Entries, Entry, EntryLine, ReceiptEntry
from ledger.book.late_bills import check_bill_date
from ledger.book.made_to_order import Availability, job_for_sale
from ledger.book.posting_lines import content_of, in_date_order, new_line
from ledger.book.purchases import credit_at_told_price
from ledger.book.recosting import CostChange, recost
from ledger.book.references import ReturnWish, receipts_named, returned_lot, sold_lines, split_return
from ledger.book.shop import Shop, read_shop
from ledger.book.standing import came_in, check_date, content_document, document_words
from ledger.catalogue.items import Item
from ledger.catalogue.packs import Pack
from ledger.costing.facts import COMPONENT, LEAVES_TO, PRODUCT
from ledger.costing.replay import shortage_words
from ledger.costing.spreading import spread
from ledger.errors import AlreadyPosted, InputErrors, NotEnoughStock, Problem, Refused, ValueProblem
from ledger.exact.quantity import MILLI, show_quantity


@dataclass(frozen=True, slots=True)
class Posted:
    """What a posting put into the book, or would put: documents, and costs of earlier ones that moved."""

    documents: tuple[NewDocument, ...]
    moves: dict[tuple[int, int], tuple[int, int]]
    """What each document line put on the shelf: thousandths and minor units, negative where it took."""
    changes: tuple[CostChange, ...]
    remarks: tuple[str, ...] = ()
    """What came out otherwise than asked, in words."""

    def cost(self, document: NewDocument) -> int:
        """Return what a document took off the shelf in all, in minor units; negative where it put."""
        return -sum(self.moves.get((document.number, line.line), (0, 0))[1] for line in document.lines)


def post_entries(
    connection: sqlite3.Connection,
    entries: Entries,
    *,
    today: datetime.date,
    now: str,
    source: str,
    keep: bool = True,
) -> Posted:
    """Post entries in one transaction, in date order; with ``keep`` False only say what would happen.

    Raises InputErrors naming every entry that cannot be posted with its place; nothing is posted
    then.
    """
    with write_tx(connection) if keep else trial_tx(connection):
        return _Posting(connection, today, now, source).post(entries)


class _Posting:
    """One posting under way."""

    def __init__(self, connection: sqlite3.Connection, today: datetime.date, now: str, source: str) -> None:
        self.connection, self.today, self.now, self.source = connection, today, now, source
        self.shop: Shop = read_shop(connection)
        self.number = next_number(connection)
        self.documents: list[NewDocument] = []
        self.places: dict[int, str] = {}
        self.problems: list[Problem] = []
        self.contents: dict[str, int] = {}
        self.available = Availability(connection)
        self.made = find_made(connection)
        self.catalogue = find_catalogue(connection) if self.made else None
        self.late_skus: set[str] = set()
        self.arrived: set[str] = set()
        """What came in with this posting so far: entries are added in date order."""

    def post(self, entries: Entries) -> Posted:
        """Write the entries and cost them."""
        self._save_new(entries.new_items, entries.new_packs)
        for entry in sorted(entries.entries, key=in_date_order):
            self._add(entry)
        if self.problems:
            raise InputErrors(self.source, self.problems)
        insert_documents(self.connection, self.documents)
        try:
            changes = recost(self.connection, self.documents, self.late_skus)
        except NotEnoughStock as short:
            raise InputErrors(self.source, self._short_problems(short)) from short
        return Posted(tuple(self.documents), self._moves(), changes, tuple(self._other_lots()))

    def _save_new(self, items: Sequence[Item], packs: Sequence[Pack]) -> None:
        known = find_items(self.connection, [item.sku for item in items])
        new = {item.sku: item for item in items if item.sku not in known}
        if new:
            save_items(self.connection, list(new.values()), [pack for pack in packs if pack.sku in new])

    def _add(self, entry: AnyEntry) -> None:
        """Turn one entry into documents, or note what is wrong with it."""
        is_bill = isinstance(entry, ChargeEntry)
        problems = (
            check_bill_date(self.shop, entry.on, self.today)
            if is_bill
            else check_date(self.shop, entry.on, self.today, entry.where)
        )
        if problems:
            self.problems.extend(problems)
            return
        try:
            if isinstance(entry, ReceiptEntry):
                self._receipt(entry)
            elif isinstance(entry, ChargeEntry):
                self._charge(entry)
            else:
                self._entry(entry)
        except InputErrors as several:
            self.problems.extend(several.problems)
        except (ValueProblem, Refused) as one:
            self.problems.append(Problem(entry.where, str(one)))

    def _receipt(self, entry: ReceiptEntry) -> None:
        plan = receiving.prepare(self.connection, entry.request, self.today)
        self._refuse_twice(plan.content_sha256)
        documents = receiving.documents_of(self.connection, plan, self.number, self.now)
        for document in documents:
            self._put(document, entry.where)
        for line in documents[0].lines:
            self.available.move(line.sku or "", documents[0].effect_date, line.quantity_milli)

    def _charge(self, entry: ChargeEntry) -> None:
        numbers = receipts_named(self.connection, entry.applies_to, self.documents, with_shipments=True)
        new = {one.number: one for one in self.documents}
        targets: list[ChargeTarget] = [
            target_of(new[number], line) for number in numbers if number in new for line in new[number].lines
        ]
        old = [number for number in numbers if number not in new]
        targets += find_targets(self.connection, old)
        plan = plan_charge(self.connection, entry.wish, targets, entry.on)
        document = charge_document(
            number=self.number,
            on=entry.on,
            now=self.now,
            party=self._party(entry.wish.party, "other"),
            charge=plan.charge,
            targets=targets,
            book_currency=self.shop.currency,
            content_sha256=plan.content_sha256,
            closed_through=self.shop.closed_through,
        )
        self._put(document, entry.where)
        self.late_skus.update(target.sku for target in targets if target.document in old)

    def _entry(self, entry: Entry, *, for_sale: bool = False) -> None:
        """Add an entry's document; a job made for a sale is the same twice only if the sale is."""
        if entry.event == "sale":
            self._make_what_is_missing(entry)
        elif entry.event == "count":
            self._check_counted(entry)
        lines = self._lines(entry)
        digest = "" if for_sale else self._fingerprint(entry)
        day = entry.on.isoformat()
        document = NewDocument(
            number=self.number,
            event=entry.event,
            document_date=day,
            effect_date=day,
            recorded_at=self.now,
            currency=entry.currency or self.shop.currency,
            party=self._party(entry.party, "customer" if entry.event in _WITH_CUSTOMERS else "supplier"),
            reference=entry.reference,
            rate=entry.rate,
            rate_source=entry.rate_source,
            total_foreign=sum(line.amount_foreign for line in entry.lines),
            total=sum(line.amount for line in entry.lines),
            content_sha256=digest,
            source_name=self.source,
            source_key=entry.source.key if entry.source else "",
            note=entry.note,
            lines=lines,
        )
        self._put(document, entry.where)
        self._count_moves(document)

    def _make_what_is_missing(self, sale: Entry) -> None:
        """Add a job for what a sale of made-to-order items lacks."""
        day = sale.on.isoformat()
        wanted: dict[str, int] = {}
        for line in sale.lines:
            sku = line.item.sku
            if sku not in self.made or self.catalogue is None:
                continue
            wanted[sku] = wanted.get(sku, 0) + line.quantity_milli
            missing = wanted[sku] - self.available.free(sku, day)
            if missing > 0:
                pieces = -(-missing // MILLI)
                job = job_for_sale(sale, line, pieces, self.made, self.catalogue, self.shop.currency)
                self._entry(job, for_sale=True)

    def _check_counted(self, count: Entry) -> None:
        """Refuse a count of items of which nothing ever came in by that day: a gain would have no cost."""
        day = count.on.isoformat()
        skus = [line.item.sku for line in count.lines if line.quantity_milli]
        strange = [sku for sku in skus if sku not in self.arrived and not came_in(self.connection, sku, day)]
        if strange:
            raise ValueProblem(
                f"nothing of {', '.join(strange)} ever came in by {day}, so what was counted has no cost. "
                "Enter the receipt, or what the shop had as opening stock."
            )

    def _lines(self, entry: Entry) -> tuple[NewLine, ...]:
        """Return an entry's lines with what they refer to; a return may need several."""
        lines: list[NewLine] = []
        for line in entry.lines:
            for quantity, amount, lot in self._parts(entry, line):
                told = self._with_credit(entry, line, lot)
                lines.append(new_line(told, len(lines) + 1, (quantity, amount), lot, entry.where))
        return tuple(lines)

    def _with_credit(self, entry: Entry, line: EntryLine, lot: tuple[int, int] | None) -> EntryLine:
        """Return a line with what the supplier credits, where its goods' price came after them."""
        if entry.event != "send back" or lot is None or line.credit is not None:
            return line
        return replace(line, credit=credit_at_told_price(self.connection, lot, line.quantity_milli))

    def _parts(self, entry: Entry, line: EntryLine) -> list[tuple[int, int, tuple[int, int] | None]]:
        """Return (quantity, amount, what it refers to) for a line, split where a return is."""
        day = entry.on.isoformat()
        if entry.event == "take back":
            wish = ReturnWish(
                line.item.sku, line.quantity_milli, entry.party, entry.reference, entry.applies_to
            )
            parts = split_return(wish, sold_lines(self.connection, line.item.sku, day, self.documents))
            amounts = (
                spread(line.amount, [part.quantity for part in parts]) if line.amount else [0] * len(parts)
            )
            return [
                (part.quantity, amount, (part.document, part.line))
                for part, amount in zip(parts, amounts, strict=True)
            ]
        lot = None
        if entry.event == "send back":
            receipts = receipts_named(self.connection, entry.applies_to, self.documents)
            lot = returned_lot(self.connection, line.item.sku, entry.lot, receipts, self.documents)
        return [(line.quantity_milli, line.amount, lot)]

    def _count_moves(self, document: NewDocument) -> None:
        """Keep what is available up to date with what was just added."""
        for line in document.lines:
            sku, quantity = line.sku or "", line.quantity_milli
            if line.role == PRODUCT:
                moved = quantity - line.normal_milli - line.expensed_milli
            elif line.role == COMPONENT or document.event in LEAVES_TO or document.event == "send back":
                moved = -quantity
            elif document.event in ("opening", "take back"):
                moved = quantity
            else:
                continue
            self.available.move(sku, document.effect_date, moved)

    def _put(self, document: NewDocument, where: str) -> None:
        self.documents.append(document)
        self.places[document.number] = where
        if document.event in ("opening", "receipt", "make"):
            self.arrived.update(line.sku or "" for line in document.lines if line.role in ("item", PRODUCT))
        self.number = document.number + 1

    def _party(self, name: str, role: str) -> str | None:
        return ensure_party(self.connection, name, role) if name else None

    def _fingerprint(self, entry: Entry) -> str:
        if entry.source is not None:
            self._refuse_twice(entry.source.content_sha256)
            return entry.source.content_sha256
        return self._digest(content_of(entry))

    def _digest(self, content: Sequence[object]) -> str:
        """Return an entry's fingerprint; the second one of the same content in a sheet is another sale."""
        text = json.dumps(content, default=str)
        times = self.contents[text] = self.contents.get(text, 0) + 1
        digest = hashlib.sha256(f"{text} {times}".encode()).hexdigest()
        self._refuse_twice(digest)
        return digest

    def _refuse_twice(self, digest: str) -> None:
        same = content_document(self.connection, digest)
        if same is not None:
            words = document_words(self.connection, same)
            advice = (
                "A count says what was there at the end of its day; the same once more says nothing new."
                if words.startswith("count ")
                else "If it is another one, give it a reference of its own: --reference, or the column "
                "reference of a sheet."
            )
            raise AlreadyPosted(f"this is in the book already, as {words}. {advice}")

    def _short_problems(self, short: NotEnoughStock) -> list[Problem]:
        """Say of every line that finds too little which row or which earlier document it is."""
        may_be_short = {
            (document.number, line.sku)
            for document in self.documents
            for line in document.lines
            if line.short_allowed or line.estimated
        }
        problems = []
        for one in short.shortages:
            where = self.places.get(one.document)
            if where is None:
                what = document_words(self.connection, one.document)
                said = shortage_words(one, f"{what}, entered earlier,")
                problems.append(Problem("this posting would leave too little for a later day", said))
            else:
                words = shortage_words(one, "this row" if "row" in where else "this")
                without_cost = (one.document, one.sku) in may_be_short
                problems.append(Problem(where, words, _NO_COST_KNOWN if without_cost else _LET_IT_STAND))
        return problems or [Problem(self.source, str(short))]

    def _other_lots(self) -> Iterator[str]:
        """Yield where goods sent back came out of other lots than theirs, which held no more."""
        query = (
            "SELECT lot_document, lot_line, -sum(quantity_milli) FROM leg "
            "WHERE document = ? AND line = ? AND account = 'on hand' GROUP BY lot_document, lot_line"
        )
        for one in self.documents:
            if one.event != "send back":
                continue
            for line in one.lines:
                for document, number, quantity in self.connection.execute(query, (one.number, line.line)):
                    if (document, number) != (line.lot_document, line.lot_line):
                        yield (
                            f"send back {one.number}: {show_quantity(quantity)} of {line.sku} leave lot "
                            f"{document}.{number}; lot {line.lot_document}.{line.lot_line} held no more."
                        )

    def _moves(self) -> dict[tuple[int, int], tuple[int, int]]:
        """Return what each new document line put on the shelf or took off it."""
        if not self.documents:
            return {}
        rows = self.connection.execute(
            "SELECT document, line, sum(quantity_milli), sum(amount) FROM leg "
            "WHERE document BETWEEN ? AND ? AND account = 'on hand' GROUP BY document, line",
            (self.documents[0].number, self.documents[-1].number),
        )
        return {(document, line): (quantity, amount) for document, line, quantity, amount in rows}


_LET_IT_STAND = "Or let it stand for now with --short."
_NO_COST_KNOWN = (
    "It may go short, but the book knows no cost of it: give one as the row's amount, or enter its receipt."
)
_WITH_CUSTOMERS = ("sale", "take back", "refund", "sample", "donate", "make")

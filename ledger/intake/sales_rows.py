"""The rows of a sales export, read one by one while every problem in them is collected."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from ledger.book.row_sources import RowSource
from ledger.errors import Problem, ValueProblem
from ledger.exact.numbers import show_fraction
from ledger.intake.events import EventRow
from ledger.intake.nearest import did_you_mean, fold, quoted
from ledger.intake.records import Header, error_problems
from ledger.intake.sales import SetAsideRow
from ledger.intake.sales_added import Addition, Additions
from ledger.intake.sales_amounts import Happening, SalesAmounts
from ledger.intake.sales_cells import SalesCellReader, SalesCells, rows_named
from ledger.intake.sales_firsts import FirstRows
from ledger.intake.sales_items import SalesItems, unknown_problem
from ledger.intake.sales_orders import BookOrders, items_of_order, shared
from ledger.intake.sales_profile import SalesProfile
from ledger.intake.sales_repeats import RepeatedAmounts, TwinRows
from ledger.intake.sales_row_marks import content_of, is_total
from ledger.intake.sales_skus import SetAside, SkuWords, UnknownName, full_title
from ledger.intake.sales_words import is_status_heading
from ledger.intake.table import Record, Sheet

_EVENTS = {"sale": "sell", "refund": "refund", "take back": "take_back"}
_OF_AN_ORDER = ("fees", "shipping")
"""What rows of these types say belongs to their order's sale."""


@dataclass(frozen=True)
class SalesOptions:
    """What the caller says: the channel's name, the book's currency, and what the book can sell.

    Without ``items`` the file's own SKUs are believed.
    """

    party: str = ""
    book_currency: str = "USD"
    items: SalesItems | None = None
    ask: Callable[[UnknownName, str, SalesItems], str] | None = None
    """Asked once what a name means that nobody knows; returns a SKU, '' to leave it."""
    currency: str = ""
    """What this file's amounts are in, whatever its profile says; '' for what the profile says."""
    orders: BookOrders | None = None
    """What the book knows of a channel's orders; None where no book is at hand."""
    is_sample: bool = False
    """Whether the rows are only to be shown while questions are open: then columns may be unread."""


class SalesRows:
    """One sheet's rows, read one by one while every problem in them is collected."""

    def __init__(self, sheet: Sheet, profile: SalesProfile, options: SalesOptions, party: str) -> None:
        self.sheet, self.profile, self.options, self.party = sheet, profile, options, party
        self.rows: list[EventRow] = []
        self.set_aside: list[SetAsideRow] = []
        self.problems: list[Problem] = []
        self.doubled: list[str] = []
        self.goods = 0
        self._totals: list[str] = []
        self._free: list[str] = []
        self._repeated = 0
        self._seen: dict[str, EventRow] = {}
        self._ordinals: dict[tuple[str, ...], int] = {}
        self._per_order: dict[tuple[str, str], Fraction | None] = {}
        self.names: dict[str, frozenset[str]] = {}
        self._unknown: dict[str, tuple[UnknownName, list[str]]] = {}
        self._answered: dict[str, str] = {}
        self._unclear: dict[str, list[str]] = {}
        self._firsts = FirstRows(profile.currency or options.book_currency)
        self._spread: list[str] = []
        self._unread: set[str] = set()
        self._without_name: list[Record] = []
        self._additions: list[Addition] = []
        self._types: dict[str, list[str]] = {}
        self._repeats, self._twins = RepeatedAmounts(profile), TwinRows()
        self._cells = SalesCellReader(profile, self.problems)
        items = options.items
        self._skus = (
            SkuWords(profile)
            if items is None
            else SkuWords(profile, items.learned, items.by_folded_sku(), items.words)
        )
        self._amounts = SalesAmounts(profile)
        self._aside = SetAside(profile)

    def read(self, found: Sequence[Record], header: Header) -> None:
        """Read the rows; what they give is in ``rows``, ``set_aside`` and ``problems``."""
        headings = {name: fold(text) for name, text in header.headings.items()}
        self._firsts.learn(found, has_status=is_status_heading(header.headings.get("type", "")))
        for each in found:
            record = self._firsts.with_status(each)
            if all(fold(record.text(name)) == text for name, text in headings.items()):
                self._repeated += 1
            elif rule := self._aside.rule(record):
                text = full_title(record.text("title"), record.text("variant")) or record.text("sku")
                self.set_aside.append(SetAsideRow(record.where, text or record.text("type"), rule))
            elif is_total(record):
                self._totals.append(record.where)
            else:
                self._row(record)
        for record in self._without_name:
            # Of an order whose other rows are wrong nobody knows yet what it holds.
            if record.text("order") not in self._unread:
                self._row_of_order(record)
        self._finish()

    def _finish(self) -> None:
        """Put fees and shipping to their orders, and note what concerns many rows once."""
        self._cells.finish()
        if not self.options.is_sample:
            self.problems += self._repeats.problems()
        for name, places in self._unknown.values():
            self.problems.append(unknown_problem(name, places, self.options.items))
        for problem, places in (*self._unclear.items(), *self._types.items()):
            self.problems.append(Problem(places[0], problem, also=tuple(places[1:])))
        if not self._additions or self.problems:
            return
        additions = Additions(self.rows)
        for one in self._additions:
            additions.add(one)
        self.set_aside += additions.set_aside
        self.problems += additions.problems
        self.rows = [
            row if row.source is None else replace(row, source=self._source(row, row.source.key))
            for row in additions.rows
        ]

    def remarks(self) -> list[str]:
        """Return what the maker should know of rows that were left out or are unusual."""
        said = []
        if self._totals:
            count = len(self._totals)
            said.append(
                f"{count:,} {'row' if count == 1 else 'rows'} of totals skipped: {rows_named(self._totals)}"
            )
        if self._repeated:
            said.append(f"{self._repeated:,} repeated heading rows skipped")
        if self.doubled:
            said.append(f"the same row twice in the file, taken once: {rows_named(self.doubled)}")
        if self._spread:
            said.append(
                "paid back for an order of several items without saying for which: spread over them by what they "
                f"sold for: {rows_named(self._spread)}"
            )
        if self._free:
            said.append(f"sold for nothing: {rows_named(self._free)}")
        return said + self._twins.remarks()

    def _row(self, record: Record) -> None:
        """Add the events of one row, or note what is wrong with it."""
        before = len(self.problems)
        self.problems.extend(error_problems([record]))
        if len(self.problems) > before:
            return
        kind = self._kind(record)
        if kind in _OF_AN_ORDER:
            self._addition(record, kind)
            return
        if kind in ("refund", "take back") and not self._names_goods(record):
            self._without_name.append(record)
            return
        if not kind and not self._names_goods(record):
            self._unread.add(record.text("order"))
            return
        self.goods += 1
        dated = self._firsts.dated(record) if kind == "sale" else record
        cells = self._read(dated)
        sku = self._sku(record)
        if cells is None or not kind or not sku:
            self._unread.add(record.text("order"))
            return
        self._twins.learn(cells, kind, record.where)
        if kind == "sale" and not cells.is_given_back:
            self._repeats.learn(cells, record)
            cells = self._once_per_order(cells, record)
        events = self._events(cells, kind, record)
        if dated is not record and any(event.kind != "sale" for event in events):
            self.problems.append(Problem(record.place("date"), "the date is missing.", "Fill it in."))
        if len(self.problems) > before:
            return
        for event in events:
            self._add(event, cells, sku, record)

    def _row_of_order(self, record: Record) -> None:
        """Add what a row gave back of an order without naming an item, or note why it cannot be known."""
        self.goods += 1
        before = len(self.problems)
        cells = self._read(record)
        if cells is None:
            return
        items = items_of_order(self.rows, cells.order, self.party or cells.party, self.options.orders)
        events = self._events(cells, self._kind(record), record) if items else []
        if not items:
            what = (
                "nothing says what was sold, and neither another row of the file nor the book has a sale of "
                f"order {cells.order}."
            )
            self._note_goods(record, what)
        if len(self.problems) > before:
            return
        for event in events:
            if len(items) == 1:
                self._add(event, cells, items[0].sku, record, note=items[0].note)
            elif event.kind == "refund" and any(item.amount for item in items):
                self._spread.append(record.where)
                for share in shared(event, items, self._currency(cells)):
                    self._add(share.event, cells, share.item.sku, record, note=share.item.note, is_share=True)
            else:
                named = ", ".join(item.sku for item in items)
                what = (
                    f"order {cells.order} has several items, and nothing says which of them this is: {named}."
                )
                self._note_goods(record, what)

    def _note_goods(self, record: Record, what: str) -> None:
        column = "title" if "title" in record.cells else "sku"
        self.problems.append(Problem(record.place(column), what, "Fill in the SKU or the title."))

    def _read(self, record: Record) -> SalesCells | None:
        """Return a row's cells, its currency that of its order where its own cell is empty."""
        found = self._firsts.with_currency(record)
        if isinstance(found, Problem):
            self.problems.append(found)
            return None
        return self._cells.read(found)

    def _currency(self, cells: SalesCells) -> str:
        return cells.currency or self.profile.currency or self.options.book_currency

    def _names_goods(self, record: Record) -> bool:
        return bool(record.text("sku") or record.text("title") or record.text("variant"))

    def _addition(self, record: Record, kind: str) -> None:
        """Keep what a row of fees or shipping adds to its order; one without an order is set aside."""
        said = full_title(record.text("title"), record.text("variant")) or record.text("type")
        if not record.text("order"):
            self.set_aside.append(SetAsideRow(record.where, said, f"{record.text('type')}, without an order"))
            return
        cells = self._read(self._firsts.dated(record))
        if cells is None:
            return
        currency = self._currency(cells)
        added = self._amounts.added(cells, kind, currency, self._noting(record))
        if added is not None:
            try:
                sku = self._skus.sku(cells.sku, cells.title, cells.variant)
            except ValueProblem:
                sku = ""
            self._additions.append(Addition(added, sku, record.where, said))

    def _kind(self, record: Record) -> str:
        """Return what the type column says: sale, refund or take back; a sale where there is none."""
        if "type" not in self.profile.columns or not self.profile.types:
            return "sale"
        word = record.text("type")
        meaning = self.profile.types.get(fold(word), "")
        if not meaning:
            near = did_you_mean(word, self.profile.types)
            what = (
                f"the profile does not say what the type {quoted(word)} means. {near} Say it: "
                f"--as 'type \"{word}\" = refund' (or sale, take back, fees, shipping, set aside), or add it under [types]."
            )
            self._types.setdefault(what, []).append(record.place("type"))
        return meaning

    def _sku(self, record: Record) -> str:
        code, title, variant = (record.text(name) for name in ("sku", "title", "variant"))
        column = "title" if title or "sku" not in record.cells else "sku"
        try:
            sku = self._skus.sku(code, title, variant)
        except UnknownName as name:
            column = "sku" if name.is_code else column
            if answered := self._answer(name, record.place(column)):
                return answered
            known = self._unknown.setdefault(fold(name.word), (name, []))
            known[1].append(record.place(column))
            return ""
        except ValueProblem as problem:
            self._unclear.setdefault(str(problem), []).append(record.place(column))
            return ""
        for word in (" ".join(code.split()), full_title(title, variant)):
            if word:
                self.names[word] = self.names.get(word, frozenset()) | {sku}
        return sku

    def _answer(self, name: UnknownName, where: str) -> str:
        """Return what somebody says a name means, each asked once; '' where nobody says it."""
        ask, items, key = self.options.ask, self.options.items, fold(name.word)
        if ask is None or items is None:
            return ""
        if key not in self._answered:
            self._answered[key] = ask(name, where, items)
        return self._answered[key]

    def _once_per_order(self, cells: SalesCells, record: Record) -> SalesCells:
        """Return the row without what the file only repeats from the order's first row."""
        changed: dict[str, Any] = {}
        for name in self.profile.per_order:
            value: Fraction | None = getattr(cells, name)
            key = (cells.order, name)
            if key not in self._per_order:
                self._per_order[key] = value
                continue
            first = self._per_order[key]
            if value not in (None, first):
                shown = show_fraction(first) if first is not None else "nothing"
                what = (
                    f"{record.text(name)} stands here, and {shown} on the first row of order {cells.order}."
                )
                advice = f"Where each row has its own, take {name} out of per_order in the profile."
                self.problems.append(Problem(record.place(name), what, advice))
            changed[name] = None
        return replace(cells, **changed) if changed else cells

    def _events(self, cells: SalesCells, kind: str, record: Record) -> list[Happening]:
        return self._amounts.of(cells, kind, self._currency(cells), self._noting(record))

    def _noting(self, record: Record) -> Callable[[str, str, str], None]:
        def note(column: str, what: str, next_step: str) -> None:
            self.problems.append(Problem(record.place(column), what, next_step))

        return note

    def _ordinal(self, *key: str) -> int:
        number = self._ordinals[key] = self._ordinals.get(key, 0) + 1
        return number

    def _line(self, event: Happening, cells: SalesCells, sku: str, *, is_share: bool) -> str:
        """Return which line of its order an event is: the file's number, else how many of its SKU it is.

        What was given back in rows of their own is counted by day: a later export may begin between them.
        What stands beside a sale belongs to the sale that was counted before it.
        """
        if cells.line:
            return f"{cells.line} {sku}" if is_share else cells.line
        if event.own_row:
            return f"{sku} {self._ordinal(cells.order, sku, event.kind, event.on.isoformat())}"
        if event.kind == "sale":
            return f"{sku} {self._ordinal(cells.order, sku, event.kind)}"
        return f"{sku} {self._ordinals[cells.order, sku, 'sale']}"

    def _add(
        self,
        event: Happening,
        cells: SalesCells,
        sku: str,
        record: Record,
        *,
        note: str = "",
        is_share: bool = False,
    ) -> None:
        """Add an event with its key; the same row twice in the file is taken once, a clash is noted."""
        line = self._line(event, cells, sku, is_share=is_share)
        channel = self.party or cells.party
        parts = [channel.casefold(), cells.order, line, event.kind]
        if event.own_row:
            # An order's line may be refunded more than once, each time in a row of its own.
            parts.append(event.on.isoformat())
        row = EventRow(
            where=record.where,
            date=event.on,
            event=_EVENTS[event.kind],
            sku=sku,
            quantity=event.pieces,
            amount=event.amount,
            currency=cells.currency or self.profile.currency,
            party=cells.party or self.party,
            reference=cells.order,
            shipping=event.shipping,
            fees=event.fees,
            note=note or full_title(cells.title, cells.variant),
        )
        key = json.dumps(parts, ensure_ascii=False)
        row = replace(row, source=self._source(row, key))
        twin = self._seen.get(key)
        if twin is None:
            self._seen[key] = row
            self.rows.append(row)
            if event.kind == "sale" and not event.amount:
                self._free.append(record.where)
        elif twin.source == row.source:
            self.doubled.append(record.where)
        else:
            what = (
                f"order {cells.order}, line {line} stands here again with other content than in {twin.where}."
            )
            advice = "Correct one of them; lines of one order need numbers of their own."
            self.problems.append(Problem(record.where, what, advice))

    def _source(self, row: EventRow, key: str) -> RowSource:
        return RowSource(key, content_of(row, key, self.options.book_currency))

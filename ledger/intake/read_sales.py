"""Reading a sales export by its profile: sales, refunds and goods that came back, with every problem at once."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

from ledger.book.row_sources import RowSource
from ledger.errors import InputErrors, Problem, ValueProblem
from ledger.exact.numbers import show_fraction
from ledger.intake.events import EventRow
from ledger.intake.nearest import did_you_mean, fold, quoted
from ledger.intake.records import (
    MAX_HEADER_DEPTH,
    Header,
    error_problems,
    find_header,
    normal_heading,
    records,
)
from ledger.intake.sales import SalesDraft, SetAsideRow
from ledger.intake.sales_amounts import Happening, SalesAmounts
from ledger.intake.sales_cells import SalesCellReader, SalesCells, rows_named
from ledger.intake.sales_profile import SALES_COLUMNS, SalesProfile
from ledger.intake.sales_skus import SetAside, SkuWords, full_title
from ledger.intake.table import Record, Sheet, SourceFile, refusal

_TOTALS = ("total", "totals", "subtotal", "subtotals", "sum", "sums")
_REQUIRED = ("date", "order")
_EVENTS = {"sale": "sell", "refund": "refund", "take back": "take_back"}


@dataclass(frozen=True)
class SalesOptions:
    """What the caller says: the channel's name, the book's currency, aliases learned elsewhere."""

    party: str = ""
    book_currency: str = "USD"
    aliases: Mapping[str, str] = field(default_factory=dict)


def read_sales(file: SourceFile, profile: SalesProfile, options: SalesOptions | None = None) -> SalesDraft:
    """Return the sales, refunds and returns a file holds, and the rows that are no goods.

    The channel is the one the caller names, else the profile's; where neither does, the party column.
    Amounts are exact, and whole minor units of their currency.

    Raises InputErrors with everything wrong in the file, each with its cell: columns that are missing,
    values that cannot be read, dates whose order is not said, titles without a SKU, rows that clash.
    """
    chosen = options or SalesOptions()
    sheet = _choose_sheet(file, profile)
    header = find_header(
        sheet,
        {name: profile.columns.get(name, ()) for name in SALES_COLUMNS if name in profile.columns},
        _required(sheet, profile),
        header_row=profile.header_row,
    )
    party = chosen.party or profile.party
    if not party and "party" not in header.columns:
        what = "nothing says through whom these sales were made."
        raise InputErrors(file.name, [Problem("", what, "Give it with --party, or as party in the profile.")])
    reading = _Reading(sheet, profile, chosen, party)
    reading.read(records(sheet, header), header)
    if reading.problems:
        raise InputErrors(file.name, reading.problems)
    if not reading.rows and not reading.set_aside:
        raise refusal(file.name, "there are no rows under the headings.", "Check that it is the right file.")
    return SalesDraft(
        source_name=file.name,
        party=party,
        rows=tuple(reading.rows),
        set_aside=tuple(reading.set_aside),
        remarks=(*file.remarks, *_sheets_left(file, sheet), *_absent(profile, header), *reading.remarks()),
        rows_read=reading.goods,
        rows_skipped=len(reading.doubled),
    )


def _choose_sheet(file: SourceFile, profile: SalesProfile) -> Sheet:
    """Return the sheet the profile names, else the one with the most of its headings."""
    if not file.sheets:
        raise refusal(file.name, "there is no visible sheet in it.", "Show the sheet, save and try again.")
    if profile.sheet:
        for sheet in file.sheets:
            if fold(sheet.name) == fold(profile.sheet):
                return sheet
        names = [sheet.name for sheet in file.sheets]
        raise refusal(
            file.name, f"there is no sheet {quoted(profile.sheet)}.", did_you_mean(profile.sheet, names)
        )
    wanted = {normal_heading(text) for name, texts in profile.columns.items() for text in (name, *texts)}

    def headings(sheet: Sheet) -> int:
        rows = sheet.rows[:MAX_HEADER_DEPTH]
        return max((len({normal_heading(cell.text) for cell in row} & wanted) for row in rows), default=0)

    return max(file.sheets, key=headings)


def _required(sheet: Sheet, profile: SalesProfile) -> Collection[str]:
    """Return the columns the file must have: of those that say the same, the one it has."""
    there = {normal_heading(cell.text) for row in sheet.rows[:MAX_HEADER_DEPTH] for cell in row}

    def has(name: str) -> bool:
        return any(normal_heading(text) in there for text in (name, *profile.columns.get(name, ())))

    goods = next((name for name in ("sku", "title") if name in profile.columns and has(name)), "")
    goods = goods or ("sku" if "sku" in profile.columns else "title")
    total: tuple[str, ...] = ("unit_price", "pieces")
    if "item_total" in profile.columns and (has("item_total") or "unit_price" not in profile.columns):
        total = ("item_total",)
    inside = ("tax",) if profile.tax == "inside" else ()
    off = ("discount",) if profile.discount == "to take off" else ()
    return (*_REQUIRED, goods, *total, *inside, *off)


def _sheets_left(file: SourceFile, sheet: Sheet) -> list[str]:
    others = [each.name for each in file.sheets if each is not sheet]
    return [f"only the sheet {sheet.name} was read, not {', '.join(others)}"] if others else []


def _absent(profile: SalesProfile, header: Header) -> list[str]:
    absent = [name.replace("_", " ") for name in profile.columns if name not in header.columns]
    return [f"the file has no column for: {', '.join(absent)}"] if absent else []


class _Reading:
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
        self._unknown: dict[str, list[str]] = {}
        self._types: dict[str, list[str]] = {}
        self._cells = SalesCellReader(profile, self.problems)
        self._skus = SkuWords(profile, options.aliases)
        self._amounts = SalesAmounts(profile)
        self._aside = SetAside(profile)

    def read(self, found: Sequence[Record], header: Header) -> None:
        """Read the rows; what they give is in ``rows``, ``set_aside`` and ``problems``."""
        headings = {name: fold(text) for name, text in header.headings.items()}
        for record in found:
            if all(fold(record.text(name)) == text for name, text in headings.items()):
                self._repeated += 1
            elif _is_total(record):
                self._totals.append(record.where)
            elif rule := self._aside.rule(record):
                text = full_title(record.text("title"), record.text("variant")) or record.text("sku")
                self.set_aside.append(SetAsideRow(record.where, text or record.text("type"), rule))
            else:
                self.goods += 1
                self._row(record)
        self._cells.finish()
        for problem, places in (*self._unknown.items(), *self._types.items()):
            others = f" (also {rows_named(places[1:])})" if len(places) > 1 else ""
            self.problems.append(Problem(places[0], f"{problem}{others}"))

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
        if self._free:
            said.append(f"sold for nothing: {rows_named(self._free)}")
        return said

    def _row(self, record: Record) -> None:
        """Add the events of one row, or note what is wrong with it."""
        before = len(self.problems)
        self.problems.extend(error_problems([record]))
        if len(self.problems) > before:
            return
        cells = self._cells.read(record)
        kind = self._kind(record)
        sku = self._sku(record)
        if cells is None or not kind or not sku:
            return
        cells = self._once_per_order(cells, record)
        events = self._events(cells, kind, record)
        if len(self.problems) > before:
            return
        line = cells.line or f"{sku} {self._ordinal(cells.order, sku, kind)}"
        for event in events:
            self._add(event, cells, (sku, line), record)

    def _kind(self, record: Record) -> str:
        """Return what the type column says: sale, refund or take back; a sale where there is none."""
        if "type" not in self.profile.columns or not self.profile.types:
            return "sale"
        word = record.text("type")
        meaning = self.profile.types.get(fold(word), "")
        if not meaning:
            near = did_you_mean(word, self.profile.types)
            what = (
                f"the profile does not say what the type {quoted(word)} means. {near} Add it under [types]."
            )
            self._types.setdefault(what, []).append(record.place("type"))
        return meaning

    def _sku(self, record: Record) -> str:
        try:
            return self._skus.sku(record.text("sku"), record.text("title"), record.text("variant"))
        except ValueProblem as problem:
            column = "title" if record.text("title") or "sku" not in record.cells else "sku"
            self._unknown.setdefault(str(problem), []).append(record.place(column))
            return ""

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
        currency = cells.currency or self.profile.currency or self.options.book_currency

        def note(column: str, what: str, next_step: str) -> None:
            self.problems.append(Problem(record.place(column), what, next_step))

        return self._amounts.of(cells, kind, currency, note)

    def _ordinal(self, *key: str) -> int:
        number = self._ordinals[key] = self._ordinals.get(key, 0) + 1
        return number

    def _add(self, event: Happening, cells: SalesCells, item: tuple[str, str], record: Record) -> None:
        """Add an event with its key; the same row twice in the file is taken once, a clash is noted."""
        sku, line = item
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
            note=full_title(cells.title, cells.variant),
        )
        key = json.dumps(parts, ensure_ascii=False)
        row = replace(row, source=RowSource(key, _content(row, key, self.options.book_currency)))
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


def _is_total(record: Record) -> bool:
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


def _content(row: EventRow, key: str, book_currency: str) -> str:
    """Return the fingerprint of what a row says; names of customers are no part of it."""
    figures = [row.quantity, row.amount, row.shipping, row.fees]
    said = [key, row.event, row.date.isoformat(), row.sku, row.currency or book_currency]
    said += ["" if figure is None else str(figure) for figure in figures]
    return hashlib.sha256(json.dumps(said, ensure_ascii=False).encode()).hexdigest()

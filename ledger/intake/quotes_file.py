"""A quotes file against the book: which offers are new, which change, everything that is wrong."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ledger.book.catalogue_store import find_items, find_ladders, find_packs, find_parties
from ledger.book.quote_store import find_homes, find_offers, offer_key, save_offers
from ledger.catalogue.items import Item
from ledger.catalogue.packs import Pack
from ledger.catalogue.parties import normal_name
from ledger.catalogue.sizes import LADDERS, Ladder, find_ladder, guess_ladder, read_size_list, size_sort_key
from ledger.errors import InputErrors, Problem, ValueProblem
from ledger.intake.catalogue_sheet import SheetKind, read_catalogue_sheet
from ledger.intake.nearest import did_you_mean, fold, quoted
from ledger.intake.percent_cells import with_percent_signs
from ledger.intake.table import Record
from ledger.sourcing.offered_quote import Home, origin_fault, quote_of
from ledger.sourcing.offered_unit import offered_pack
from ledger.sourcing.offers import Offer, OfferRow, ReadRow, offer_from_rows, offer_warnings, read_row
from ledger.sourcing.quote_columns import (
    DATE_COLUMNS,
    OFFER_COLUMNS,
    PERCENT_COLUMNS,
    QUOTE_COLUMNS,
    read_quote_heading,
)
from ledger.sourcing.quote_readers import read_prepack

REQUIRED_COLUMNS = ("supplier", "prices")
PRICES = "prices"
"""What a change is called where it is in the rows of an offer."""


def _required(there: frozenset[str]) -> tuple[str, ...]:
    return REQUIRED_COLUMNS if there & {"sku", "style"} else (*REQUIRED_COLUMNS, "sku")


QUOTES_SHEET = SheetKind("Quotes", tuple(QUOTE_COLUMNS), read_quote_heading, _required, DATE_COLUMNS)


@dataclass(frozen=True)
class QuotesFile:
    """What a quotes file says, before the book is asked; ``records`` are the rows of each offer."""

    name: str
    offers: tuple[Offer, ...]
    records: tuple[tuple[Record, ...], ...]
    columns: frozenset[str]
    problems: tuple[Problem, ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class ChangedOffer:
    """An offer that the book has, as it will be, the columns in which it differs, and as it stands."""

    offer: Offer
    columns: tuple[str, ...]
    before: Offer


@dataclass(frozen=True)
class QuotesPlan:
    """What loading the file does to the book; ``unchanged`` are names of offers."""

    new: tuple[Offer, ...] = ()
    changed: tuple[ChangedOffer, ...] = ()
    unchanged: tuple[str, ...] = ()
    new_suppliers: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether the book already says all that the file says."""
        return not (self.new or self.changed)

    @property
    def loaded(self) -> tuple[Offer, ...]:
        """The offers that are added or amended, as they will be."""
        return (*self.new, *(change.offer for change in self.changed))


def read_quotes_file(path: Path) -> QuotesFile:
    """Return every offer that an .xlsx or csv file states, with what is wrong with single cells.

    Raises InputErrors where the file cannot be read as such a sheet at all.
    """
    sheet = with_percent_signs(path, read_catalogue_sheet(path, QUOTES_SHEET), PERCENT_COLUMNS)
    problems = list(sheet.problems)
    grouped: dict[tuple[str, str], list[tuple[Record, ReadRow]]] = {}
    for record in sheet.records:
        row = read_row({column: record.text(column) for column in record})
        problems += [Problem(record.place(fault.column), fault.what) for fault in row.faults]
        grouped.setdefault(offer_key(row.supplier, row.offer), []).append((record, row))
    offers, records = [], []
    for rows in grouped.values():
        built = offer_from_rows([row for _, row in rows])
        problems += [Problem(_place(rows, fault.row, fault.column), fault.what) for fault in built.faults]
        offers.append(built.offer)
        records.append(tuple(record for record, _ in rows))
    return QuotesFile(
        sheet.source, tuple(offers), tuple(records), sheet.columns, tuple(problems), sheet.remarks
    )


def _place(rows: Sequence[tuple[Record, ReadRow]], number: int, column: str) -> str:
    """Return the place of a column in a row of an offer, or in the row that fills it in."""
    if rows[number][0].text(column):
        return rows[number][0].place(column)
    filled = [record for record, _ in rows if record.text(column)]
    return (filled or [rows[number][0]])[0].place(column)


@dataclass(frozen=True)
class _Shelf:
    """What the book knows that offers are checked against."""

    items: Mapping[str, Item]
    packs: Mapping[str, Sequence[Pack]]
    ladders: tuple[Ladder, ...]
    homes: Mapping[str, Home]

    def items_of(self, row: OfferRow) -> list[Item]:
        """Return the items that a row has prices for."""
        if row.sku:
            return [item for item in self.items.values() if fold(item.sku) == fold(row.sku)]
        return [item for item in self.items.values() if fold(item.style) == fold(row.style)]


def plan_quotes(connection: sqlite3.Connection, file: QuotesFile) -> QuotesPlan:
    """Return what loading the file would change in the book; nothing is written.

    Of an offer the book has, columns that the file lacks stay as they are; its rows are replaced.

    Raises InputErrors with every problem of the file, and of its offers beside the book's catalogue.
    """
    shelf = _Shelf(
        find_items(connection), find_packs(connection), find_ladders(connection), find_homes(connection)
    )
    known = find_offers(connection)
    parties = {normal_name(name): name for name in find_parties(connection)}
    # A new supplier is spelled as in its first row, whatever the capitals of the others.
    suppliers = {normal_name(offer.supplier): offer.supplier for offer in reversed(file.offers)} | parties
    problems = list(file.problems)
    offers = []
    for offer, records in zip(file.offers, file.records, strict=True):
        before = known.get(offer_key(offer.supplier, offer.offer))
        merged = _merged(before, offer, file.columns, suppliers)
        spelled, found = _spelled(merged, records, shelf)
        problems += found
        offers.append((before, spelled))
    if problems:
        raise InputErrors(file.name, _in_row_order(file, problems))
    new = tuple(offer for before, offer in offers if before is None)
    changed = tuple(
        ChangedOffer(offer, columns, before)
        for before, offer in offers
        if before is not None and (columns := _changed_columns(before, offer))
    )
    amended = {change.offer.name for change in changed}
    names = dict.fromkeys(offer.supplier for offer in new if normal_name(offer.supplier) not in parties)
    return QuotesPlan(
        new=new,
        changed=changed,
        unchanged=tuple(
            offer.name for before, offer in offers if before is not None and offer.name not in amended
        ),
        new_suppliers=tuple(names),
        warnings=tuple(
            warning
            for _, offer in offers
            for warning in (*offer_warnings(offer), *_pack_warnings(offer, shelf))
        ),
    )


def save_plan(connection: sqlite3.Connection, plan: QuotesPlan, now: str) -> None:
    """Add and amend what the plan says, inside the caller's transaction."""
    save_offers(connection, plan.loaded, now)


def _in_row_order(file: QuotesFile, problems: Sequence[Problem]) -> list[Problem]:
    """Return the problems from the top of the file down, each once; those of the whole file come first."""
    rows = {
        place: record.row
        for records in file.records
        for record in records
        for place in (record.where, *(cell.where for cell in record.cells.values()))
    }
    return sorted(dict.fromkeys(problems), key=lambda each: rows.get(each.where, 0))


def _pack_warnings(offer: Offer, shelf: _Shelf) -> Iterator[str]:
    """Return a warning where a prepack holds sizes that the goods do not come in."""
    there = {fold(item.size): item.size for row in offer.rows for item in shelf.items_of(row) if item.size}
    unknown = [share.size for share in read_prepack(offer.text("prepack")) if fold(share.size) not in there]
    if unknown:
        goods = ", ".join(dict.fromkeys(row.style or row.sku for row in offer.rows))
        ladders = (*LADDERS, *shelf.ladders)
        sizes = sorted(there.values(), key=lambda size: size_sort_key(size, None, ladders))
        yield (
            f"{offer.name}: its prepack also holds {', '.join(unknown)}, and {goods} comes in "
            f"{', '.join(sizes) or 'no sizes'}: correct the prepack, or load those items."
        )


def _merged(
    before: Offer | None, said: Offer, columns: frozenset[str], suppliers: Mapping[str, str]
) -> Offer:
    """Return the offer as the file says it, with the book's values where the file has no column."""
    if before is None:
        return replace(said, supplier=suppliers.get(normal_name(said.supplier), said.supplier))
    kept = {name: text for name, text in before.head.items() if name not in columns}
    head = {**kept, **said.head}
    in_order = {name: head[name] for name in OFFER_COLUMNS if name in head}
    return replace(said, supplier=before.supplier, offer=before.offer, head=in_order)


def _spelled(offer: Offer, records: Sequence[Record], shelf: _Shelf) -> tuple[Offer, list[Problem]]:
    """Return the offer with the catalogue's spellings, and what the catalogue finds wrong with it."""
    problems: list[Problem] = []
    rows = []
    for row, record in zip(offer.rows, records, strict=True):
        spelled, found = _spelled_row(offer, row, record, shelf)
        rows.append(spelled)
        problems += found
    home = shelf.homes.get(normal_name(offer.supplier), shelf.homes[""])
    unread = {"origin"} if any(record.text("origin") for record in records) else set()
    fault = origin_fault(offer, home, unread)
    if fault:
        filled = [record for record in records if record.text("terms")]
        problems.append(Problem((filled or [records[0]])[0].place("terms"), fault))
    try:
        quote_of(offer, home)
    except ValueProblem as problem:
        problems.append(Problem(records[0].where, str(problem)))
    return replace(offer, rows=tuple(rows)), problems


def _spelled_row(
    offer: Offer, row: OfferRow, record: Record, shelf: _Shelf
) -> tuple[OfferRow, list[Problem]]:
    items = shelf.items_of(row)
    if not items:
        return row, [_unknown(row, record, shelf)] if row.sku or row.style else []
    problems: list[Problem] = []
    first = items[0]
    try:
        offered_pack(offer.text("unit"), first, shelf.packs.get(first.sku, ()))
    except ValueProblem as problem:
        problems.append(Problem(record.place("unit"), f"{first.sku}: {problem}"))
    colours = {fold(item.colour): item.colour for item in items if item.colour}
    named = [part.strip() for part in row.colours.split(";") if part.strip()]
    missing = [colour for colour in named if fold(colour) not in colours]
    if missing:
        what = f"{first.style or first.sku} has no colour {quoted(missing[0])}. {did_you_mean(missing[0], colours.values())}"
        problems.append(Problem(record.place("colours"), what))
    sizes = ""
    try:
        sizes = "; ".join(_sizes(row.sizes, items, shelf.ladders))
    except ValueProblem as problem:
        problems.append(Problem(record.place("sizes"), str(problem)))
    return (
        replace(
            row,
            sku=first.sku if row.sku else "",
            style=first.style if row.style else "",
            colours="; ".join(colours.get(fold(colour), colour) for colour in named),
            sizes=sizes,
        ),
        problems,
    )


def _sizes(text: str, items: Sequence[Item], own: tuple[Ladder, ...]) -> tuple[str, ...]:
    """Return the sizes of a cell, ranges spelled out, by the ladder of the items."""
    if not text:
        return ()
    names = [item.ladder for item in items if item.ladder]
    ladder = find_ladder(names[0], own) if names else guess_ladder(text, (*LADDERS, *own))
    if ladder is None:
        raise ValueProblem(f"{quoted(text)}: these sizes are on no ladder.")
    sizes = read_size_list(text, ladder)
    there = {item.size for item in items}
    if not there & set(sizes):
        raise ValueProblem(f"{quoted(text)}: the book has none of these sizes of it.")
    return tuple(size for size in sizes if size in there)


def _unknown(row: OfferRow, record: Record, shelf: _Shelf) -> Problem:
    if row.sku:
        column, what, choices = "sku", "item", list(shelf.items)
    else:
        column, what = "style", "style"
        choices = sorted({item.style for item in shelf.items.values() if item.style})
    name = row.sku or row.style
    hint = did_you_mean(name, choices) if choices else "It has none yet."
    return Problem(
        record.place(column),
        f"the book has no {what} {quoted(name)}.",
        f"{hint} Load the items first.".lstrip(),
    )


def _changed_columns(before: Offer, after: Offer) -> tuple[str, ...]:
    columns = [name for name in OFFER_COLUMNS if before.text(name) != after.text(name)]
    if before.rows != after.rows:
        columns.append(PRICES)
    return tuple(columns)

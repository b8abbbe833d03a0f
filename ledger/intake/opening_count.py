"""Reading an opening count: a pile of stock that the shop already has becomes one opening document."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TypeVar

from ledger.book.catalogue_store import find_items, find_kinds, find_ladders, find_packs
from ledger.book.entries import Entries, Entry, EntryLine
from ledger.book.guessed_costs import guessed_note
from ledger.book.shop import read_shop
from ledger.book.standing import opening_stock
from ledger.catalogue.item_sheet import items_from_row
from ledger.catalogue.items import Item
from ledger.catalogue.packs import Pack, unit_factor
from ledger.costing.landed import is_stocked
from ledger.errors import InputErrors, Problem, ValueProblem
from ledger.exact.currencies import exponent
from ledger.exact.money import check_amount, grouped_money
from ledger.exact.numbers import show_fraction
from ledger.exact.quantity import check_step, show_quantity, to_base
from ledger.exact.rounding import round_fraction
from ledger.intake.catalogue_sheet import SheetKind, read_catalogue_sheet
from ledger.intake.events import FREE
from ledger.intake.nearest import did_you_mean, fold, quoted
from ledger.intake.opening_columns import ALL_COLUMNS, COST_IS, GUESS, ITEM_CELLS, PAID, read_opening_heading
from ledger.intake.resolve_events import check_whole
from ledger.intake.table import Cell, Record, refusal
from ledger.intake.values import read_date, read_number

COSTS = ("cost_each", "cost_in_all")
CUSTOMERS = "customer's"
Value = TypeVar("Value")


def _required(there: frozenset[str]) -> tuple[str, ...]:
    return ("sku", "quantity") if there & set(COSTS) else ("sku", "quantity", COSTS[0])


OPENING_SHEET = SheetKind("Opening count", ALL_COLUMNS, read_opening_heading, _required, ("expires_on",))


@dataclass(frozen=True, slots=True)
class OpeningCount:
    """What a filled-in sheet says: the entries to post, and what is to be said of the file."""

    source: str
    entries: Entries
    remarks: tuple[str, ...]


def read_opening_count(
    connection: sqlite3.Connection, path: Path, instead_of: int | None = None
) -> OpeningCount:
    """Return what an opening count says, matched with the book: one opening of all its rows.

    Items that an earlier opening brought in are refused, but those of the opening ``instead_of``, which is
    to be undone.

    Raises InputErrors with every problem of the file, each with its cell, or its row and column.
    """
    sheet = read_catalogue_sheet(path, OPENING_SHEET)
    reader = _Reader(connection, list(sheet.problems), instead_of)
    lines = [line for record in sheet.records if (line := reader.line(record)) is not None]
    if reader.problems:
        raise InputErrors(sheet.source, reader.problems)
    if not lines:
        raise refusal(
            sheet.source, "no row has a quantity.", "Fill in how many there are, and what they cost."
        )
    day = datetime.date.fromisoformat(reader.shop.first_day)
    entry = Entry(
        event="opening", on=day, lines=tuple(lines), where=sheet.source, currency=reader.shop.currency
    )
    entries = Entries((entry,), tuple(reader.new_items.values()), new_packs=tuple(reader.new_packs))
    return OpeningCount(sheet.source, entries, sheet.remarks)


class _Reader:
    """The book as the rows of a sheet are matched against it, and every problem met."""

    def __init__(
        self, connection: sqlite3.Connection, problems: list[Problem], instead_of: int | None
    ) -> None:
        self.shop = read_shop(connection)
        self.items = find_items(connection)
        self.packs: dict[str, list[Pack]] = find_packs(connection)
        self.kinds, self.ladders = find_kinds(connection), find_ladders(connection)
        self.opened = opening_stock(connection, self.shop, instead_of)
        self.spelled = {fold(sku): sku for sku in self.items}
        self.new_items: dict[str, Item] = {}
        self.new_packs: list[Pack] = []
        self.problems = problems

    def line(self, record: Record) -> EntryLine | None:
        """Return the line of a row; None where nothing is there, or where something is wrong with it."""
        before = len(self.problems)
        quantity = self._read(record, "quantity", lambda cell: _not_negative(cell, "quantity"), Fraction(0))
        if len(self.problems) == before and not quantity:
            if any(record.text(name) for name in COSTS):
                self._note(record, "quantity", "a cost stands without a quantity.", "Say how many there are.")
            return None
        item = self._item(record)
        expires_on = self._read(record, "expires_on", lambda cell: read_date(cell, "year month day"), None)
        cost_is = self._read(record, "cost_is", _cost_is, PAID)
        if item is None or len(self.problems) > before:
            return None
        try:
            milli = self._base_quantity(record, item, quantity)
        except ValueProblem as problem:
            self._note(record, "counted_in" if record.text("counted_in") else "quantity", str(problem))
            return None
        amount = self._cost(record, item, quantity)
        if amount is None:
            return None
        note = record.text("note")
        return EntryLine(
            item=item,
            quantity_milli=milli,
            amount=amount,
            unit=record.text("counted_in") or item.base_unit,
            unit_quantity=show_fraction(quantity),
            expires_on=expires_on,
            note=guessed_note(note) if cost_is == GUESS else note,
        )

    def _note(self, record: Record, column: str, what: str, next_step: str = "") -> None:
        self.problems.append(Problem(record.place(column), what, next_step))

    def _read(self, record: Record, column: str, reader: Callable[[Cell], Value], default: Value) -> Value:
        """Return what a cell says, ``default`` where it is empty or wrong."""
        cell = record.cells.get(column)
        if cell is None or cell.is_empty:
            return default
        try:
            return reader(cell)
        except ValueProblem as problem:
            self._note(record, column, str(problem))
            return default

    def _item(self, record: Record) -> Item | None:
        """Return the item of a row: the book's, else the new one that the row describes."""
        sku = record.text("sku")
        item = self.items.get(sku) or self.new_items.get(sku)
        if item is None and fold(sku) in self.spelled:
            known = self.spelled[fold(sku)]
            self._note(record, "sku", f"the SKU {sku} stands in the book as {known}.", "Write it so.")
            return None
        if item is None:
            item = self._new_item(record, sku)
        if item is None:
            return None
        if not is_stocked(item.tax_class):
            what = f"{item.sku} is deducted when it is bought, so it is never on the shelf: its cost was deducted already."
            self._note(record, "sku", what, "Leave the row out.")
            return None
        if sku in self.opened:
            there = self.opened[sku]
            quantity = f"{show_quantity(there.quantity_milli)} {item.base_unit}"
            what = f"{sku} has opening stock in the book already: {quantity}, opening {there.document}."
            self._note(
                record, "sku", what,
                f"Leave the row out; or enter the whole sheet corrected with --instead-of {there.document}.",
            )  # fmt: skip
            return None
        return item if self._agrees(record, item) else None

    def _agrees(self, record: Record, item: Item) -> bool:
        """Whether a row says the unit its item has; a quantity in another would be another quantity."""
        said = record.text("unit")
        if not said or fold(said) == fold(item.base_unit):
            return True
        self._note(
            record, "unit", f"{item.sku} is counted in {item.base_unit} in the book, not in {quoted(said)}.",
            "Write another unit or a pack of the item into counted_in.",
        )  # fmt: skip
        return False

    def _new_item(self, record: Record, sku: str) -> Item | None:
        if sku and not record.text("name") and not record.text("kind"):
            near = did_you_mean(sku, self.items)
            self._note(
                record, "sku", f"the book has no item {sku}. {near}".rstrip(),
                "For a new item fill in its name and kind.",
            )  # fmt: skip
            return None
        cells = {name: record.text(name) for name in ITEM_CELLS}
        row = items_from_row(cells, kinds=self.kinds, own_ladders=self.ladders)
        self.problems += [Problem(record.place(fault.column), fault.what) for fault in row.problems]
        for item in row.items:
            self.new_items[sku] = item
            self.spelled[fold(sku)] = sku
            self.packs[sku] = list(row.packs)
            self.new_packs += row.packs
            return item
        return None

    def _base_quantity(self, record: Record, item: Item, quantity: Fraction) -> int:
        factor = unit_factor(
            record.text("counted_in"), item.base_unit, self.packs.get(item.sku, ()), item.density_g_per_ml
        )
        check_step(quantity, factor)
        milli = to_base(quantity, factor)
        if not milli:
            raise ValueProblem(f"{item.sku}: the quantity comes to nothing in {item.base_unit}.")
        check_whole(item, milli)
        return milli

    def _cost(self, record: Record, item: Item, quantity: Fraction) -> int | None:
        """Return what a row cost in minor units, None where it does not say so."""
        before = len(self.problems)
        if item.tax_class == CUSTOMERS:
            if any(record.text(name) for name in COSTS):
                self._note(
                    record,
                    "sku",
                    f"{item.sku} is a customer's own: it is held at no cost.",
                    "Empty the costs.",
                )
            return 0 if len(self.problems) == before else None
        each = self._read(record, "cost_each", lambda cell: self._money(cell, finer=True), None)
        whole = self._read(record, "cost_in_all", lambda cell: self._money(cell, finer=False), None)
        if len(self.problems) > before:
            return None
        if each is None and whole is None:
            what = "neither cost_each nor cost_in_all is filled in."
            column = next(name for name in COSTS if name in record.cells)
            self._note(
                record, column, what, "Fill in one: what was paid, or a guess with guess under cost_is."
            )
            return None
        scale = 10 ** exponent(self.shop.currency)
        worked_out = None if each is None else round_fraction(each * quantity * scale)
        told = None if whole is None else round_fraction(whole * scale)
        if worked_out is not None and told is not None and worked_out != told:
            shown = grouped_money(worked_out, self.shop.currency)
            what = f"cost_each comes to {shown} in all, and cost_in_all says {grouped_money(told, self.shop.currency)}."
            self._note(record, "cost_in_all", what, "Empty one of the two.")
            return None
        amount = told if told is not None else worked_out
        assert amount is not None
        try:
            return check_amount(amount)
        except ValueProblem as problem:
            self._note(record, "cost_each" if told is None else "cost_in_all", str(problem))
            return None

    def _money(self, cell: Cell, *, finer: bool) -> Fraction:
        """Return a cost in units of the book's currency; ``finer`` allows a price of one to have four more decimals."""
        if fold(cell.text) == FREE:
            return Fraction(0)
        value = _not_negative(cell, "cost")
        if not value:
            raise ValueProblem(
                f"the cost is 0. Write '{FREE}' where nothing was paid, else what it cost or a guess."
            )
        decimals = exponent(self.shop.currency) + (4 if finer else 0)
        if (value * 10**decimals).denominator != 1:
            raise ValueProblem(f"{cell.text} has more than {decimals} decimals. Round it.")
        return value


def _not_negative(cell: Cell, what: str) -> Fraction:
    value = read_number(cell)
    if value < 0:
        raise ValueProblem(
            f"the {what} {cell.text} is below zero: what is there cannot be less than nothing."
        )
    return value


def _cost_is(cell: Cell) -> str:
    word = fold(cell.text)
    if word not in COST_IS:
        raise ValueProblem(f"{quoted(cell.text)}: the cost is paid or guess. {did_you_mean(word, COST_IS)}")
    return word

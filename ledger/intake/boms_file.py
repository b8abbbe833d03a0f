"""A file of bills of materials against the book: what is new, what changes, everything that is wrong."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from ledger.book.bill_store import find_catalogue, save_bills
from ledger.catalogue.bom_checks import BillProblem, check_bills
from ledger.catalogue.bom_sheet import (
    BOM_COLUMNS,
    HEAD_COLUMNS,
    REQUIRED_COLUMNS,
    BillRow,
    bill_from_rows,
    read_bom_header,
    row_parts,
)
from ledger.catalogue.boms import Bill, Catalogue, with_finished
from ledger.catalogue.items import Item
from ledger.errors import InputErrors, Problem
from ledger.intake.catalogue_sheet import SheetKind, read_catalogue_sheet
from ledger.intake.nearest import fold, quoted
from ledger.intake.table import Record

LINES = "lines"
"""What a change is called where it is in what the bill uses."""

BOMS_SHEET = SheetKind("Bills", tuple(BOM_COLUMNS), read_bom_header, lambda _: REQUIRED_COLUMNS)


@dataclass(frozen=True)
class BillRows:
    """Where a bill stands in the file: its rows, and of those the ones that hold a line."""

    rows: tuple[Record, ...]
    lines: tuple[Record, ...]

    def place(self, line: int, column: str) -> str:
        """Return the place of a line's cell (counted from 1), or of the bill's own in any of its rows."""
        if line:
            return self.lines[line - 1].place(column)
        filled = [row for row in self.rows if row.text(column)]
        return (filled or self.rows)[0].place(column)


@dataclass(frozen=True)
class BillsFile:
    """What a file of bills says, before the book is asked.

    ``problems`` are those found so far; `plan_bills` tells them together with what the book says.
    ``unread`` are the places and SKUs of lines that have another fault: they are looked up all the same.
    """

    name: str
    bills: tuple[Bill, ...]
    places: Mapping[str, BillRows]
    columns: frozenset[str]
    problems: tuple[Problem, ...] = ()
    remarks: tuple[str, ...] = ()
    unread: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class ChangedBill:
    """A bill that the book has, as it will be, and the columns in which it differs."""

    bill: Bill
    columns: tuple[str, ...]


@dataclass(frozen=True)
class BillsPlan:
    """What loading the file does to the book; ``unchanged`` are codes."""

    new: tuple[Bill, ...] = ()
    changed: tuple[ChangedBill, ...] = ()
    unchanged: tuple[str, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether the book already says all that the file says."""
        return not (self.new or self.changed)

    @property
    def loaded(self) -> tuple[Bill, ...]:
        """The bills that are added or replaced, as they will be."""
        return (*self.new, *(change.bill for change in self.changed))

    @property
    def changed_columns(self) -> tuple[str, ...]:
        """The columns in which any bill changes, in the sheet's order, then 'lines'."""
        named = {column for change in self.changed for column in change.columns}
        return tuple(column for column in (*BOM_COLUMNS, LINES) if column in named)


def read_bills_file(path: Path) -> BillsFile:
    """Return every bill that an .xlsx or csv file states, with what is wrong with single cells.

    Raises InputErrors where the file cannot be read as such a sheet at all.
    """
    sheet = read_catalogue_sheet(path, BOMS_SHEET)
    problems = list(sheet.problems)
    groups: dict[str, list[tuple[Record, BillRow]]] = {}
    codes: dict[str, str] = {}
    unread: list[tuple[str, str]] = []
    current = ""
    for record in sheet.records:
        row = row_parts({column: record.text(column) for column in record})
        problems += [Problem(record.place(problem.column), problem.what) for problem in row.problems]
        if row.line is None and record.text("sku"):
            unread.append((record.place("sku"), record.text("sku")))
        code = row.code or ("" if record.text("bill") else current)
        if not code:
            if not record.text("bill"):
                problems.append(
                    Problem(record.place("bill"), "the row names no bill, and none stands above it.")
                )
            current = ""
            continue
        current = codes.setdefault(fold(code), code)
        groups.setdefault(current, []).append((record, row))
    bills: list[Bill] = []
    places: dict[str, BillRows] = {}
    for code, rows in groups.items():
        parts = bill_from_rows(code, [row for _, row in rows])
        bills.append(parts.bill)
        places[code] = BillRows(
            tuple(record for record, _ in rows), tuple(record for record, row in rows if row.line is not None)
        )
        problems += [
            Problem(rows[problem.row][0].place(problem.column), problem.what) for problem in parts.problems
        ]
    return BillsFile(
        name=sheet.source,
        bills=tuple(bills),
        places=places,
        columns=sheet.columns,
        problems=tuple(problems),
        remarks=sheet.remarks,
        unread=tuple(unread),
    )


def plan_bills(connection: sqlite3.Connection, file: BillsFile) -> BillsPlan:
    """Return what loading the file would change in the book; nothing is written.

    A bill the book has is replaced with its lines; of its own fields, those the file has no column for
    stay. Raises InputErrors with every problem of the file and of its bills beside the book's.
    """
    book = find_catalogue(connection)
    known = {fold(code): bill for code, bill in book.bills.items()}
    bills = [_merged(known.get(fold(bill.code)), bill, file.columns) for bill in file.bills]
    items = with_finished(_together(book, bills))
    bills = _spelled(bills, items)
    named = {bill.code: said.code for bill, said in zip(bills, file.bills, strict=True)}
    problems = [*file.problems, *_unknown(file, items)]
    for code, found in check_bills(bills, _together(book, bills)).items():
        problems += _placed(found, file.places[named[code]], file.problems)
    if problems:
        raise InputErrors(file.name, problems)
    new: list[Bill] = []
    changed: list[ChangedBill] = []
    unchanged: list[str] = []
    for bill in bills:
        before = book.bills.get(bill.code)
        if before is None:
            new.append(bill)
        elif columns := _changed_columns(before, bill):
            changed.append(ChangedBill(bill, columns))
        else:
            unchanged.append(bill.code)
    return BillsPlan(tuple(new), tuple(changed), tuple(unchanged))


def save_plan(connection: sqlite3.Connection, plan: BillsPlan) -> None:
    """Add and replace what the plan says, inside the caller's transaction."""
    save_bills(connection, plan.loaded)


def _merged(before: Bill | None, said: Bill, columns: frozenset[str]) -> Bill:
    """Return the bill as the file says it, under the book's spelling, with what the file does not speak of."""
    if before is None:
        return said
    kept: dict[str, Any] = {
        name: getattr(before, name) for name, column in HEAD_COLUMNS.items() if column not in columns
    }
    return replace(said, **kept, code=before.code)


def _together(book: Catalogue, bills: Iterable[Bill]) -> Catalogue:
    """Return the book's catalogue with these bills added or put in place of the book's."""
    return Catalogue(book.items, book.packs, {**book.bills, **{bill.code: bill for bill in bills}})


def _unknown(file: BillsFile, items: Mapping[str, Item]) -> Iterator[Problem]:
    """Return the SKUs that the catalogue lacks among the lines that could not be read."""
    skus = {fold(sku) for sku in items}
    for where, sku in file.unread:
        if fold(sku) not in skus:
            yield Problem(where, f"{quoted(sku)} is not in the catalogue.", "Load it first, or mend the SKU.")


def _spelled(bills: Sequence[Bill], known: Mapping[str, Item]) -> list[Bill]:
    """Return the bills with SKUs and blanks spelled as the catalogue has them, whatever their capitals."""
    skus = {fold(sku): sku for sku in known}
    names = skus | {fold(item.style): item.style for item in known.values() if item.style}
    return [
        replace(
            bill,
            blank=names.get(fold(bill.blank), bill.blank),
            lines=tuple(replace(line, sku=skus.get(fold(line.sku), line.sku)) for line in bill.lines),
        )
        for bill in bills
    ]


def _placed(found: Sequence[BillProblem], rows: BillRows, told: Sequence[Problem]) -> Iterator[Problem]:
    """Return the problems with their places, without those of a cell that is told already."""
    places = {problem.where for problem in told}
    for problem in found:
        where = rows.place(problem.line, problem.column)
        if where not in places:
            yield Problem(where, problem.what)


def _changed_columns(before: Bill, after: Bill) -> tuple[str, ...]:
    columns = [
        column for name, column in HEAD_COLUMNS.items() if getattr(before, name) != getattr(after, name)
    ]
    if before.lines != after.lines:
        columns.append(LINES)
    return tuple(columns)

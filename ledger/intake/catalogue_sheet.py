"""Reading a sheet that adds to or amends the catalogue: its headings, its rows, what was not read."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from pathlib import Path

from ledger.errors import InputErrors, Problem
from ledger.intake.nearest import fold, nearest, quoted
from ledger.intake.read_file import read_file
from ledger.intake.records import MAX_HEADER_DEPTH, Header, error_problems, find_header, records
from ledger.intake.table import Record, Sheet, SourceFile, refusal

HOW_TO = "How to"
"""The sheet of a template that explains the other one; nobody expects it to be read."""

EXAMPLES = "Examples"
"""The sheet of a template with example rows, which is not read either."""


@dataclass(frozen=True)
class SheetKind:
    """What a sheet of this kind is called and holds.

    ``read_heading`` returns the column that a heading names, or None; ``required`` returns the columns
    that must be there, given those that are; ``date_columns`` are those that hold dates.
    """

    title: str
    columns: tuple[str, ...]
    read_heading: Callable[[str], str | None]
    required: Callable[[frozenset[str]], Collection[str]]
    date_columns: tuple[str, ...] = ()


@dataclass(frozen=True)
class CatalogueSheet:
    """The rows of a file that could be read as rows, and what the maker should know about the rest.

    ``problems`` are cells that hold no usable value at all; the records with such cells are left out.
    """

    source: str
    columns: frozenset[str]
    records: tuple[Record, ...]
    problems: tuple[Problem, ...]
    remarks: tuple[str, ...]


def read_catalogue_sheet(path: Path, kind: SheetKind) -> CatalogueSheet:
    """Return the rows of the one sheet in the file that is of this kind.

    Raises InputErrors where the file cannot be read, a required column is missing, or there are no rows.
    """
    file = read_file(path)
    sheet = _choose(file, kind)
    try:
        header = _header(sheet, kind)
    except InputErrors as error:
        # The header is searched in a sheet; the maker knows the file.
        raise InputErrors(file.name, error.problems) from None
    found = records(sheet, header)
    if not found:
        raise refusal(
            file.name,
            f"there are no rows under the headings in row {header.row_number}.",
            "Fill in a row for each, save the file and try again.",
        )
    problems = [*error_problems(found), *_dates(found, kind)]
    return CatalogueSheet(
        source=file.name,
        columns=frozenset(header.columns),
        records=tuple(record for record in found if not _is_spoiled(record, kind)),
        problems=tuple(problems),
        remarks=(*file.remarks, *_other_sheets(file, sheet), *_unread_columns(sheet, header, kind)),
    )


def _choose(file: SourceFile, kind: SheetKind) -> Sheet:
    """Return the sheet with the kind's title, else the one with the most of its headings in a row."""
    if not file.sheets:
        raise refusal(file.name, "there is no visible sheet in it.", "Show the sheet, save and try again.")
    for sheet in file.sheets:
        if fold(sheet.name) == fold(kind.title):
            return sheet

    def headings(sheet: Sheet) -> int:
        rows = sheet.rows[:MAX_HEADER_DEPTH]
        return max((len({kind.read_heading(cell.text) for cell in row} - {None}) for row in rows), default=0)

    return max(file.sheets, key=headings)


def _header(sheet: Sheet, kind: SheetKind) -> Header:
    """Return the header row, with the sheet's own spellings of the headings accepted."""
    wanted: dict[str, list[str]] = {column: [] for column in kind.columns}
    for row in sheet.rows[:MAX_HEADER_DEPTH]:
        for cell in row:
            column = kind.read_heading(cell.text)
            if column is not None and cell.text not in wanted[column]:
                wanted[column].append(cell.text)
    there = frozenset(find_header(sheet, wanted).columns)
    return find_header(sheet, wanted, kind.required(there))


def _is_spoiled(record: Record, kind: SheetKind) -> bool:
    return any(
        cell.is_error or (isinstance(cell.value, datetime.date) and name not in kind.date_columns)
        for name, cell in record.cells.items()
    )


def _dates(found: list[Record], kind: SheetKind) -> Iterator[Problem]:
    """Return a problem for each date outside the columns that hold dates."""
    for record in found:
        for name, cell in record.cells.items():
            if isinstance(cell.value, datetime.date) and name not in kind.date_columns:
                yield Problem(
                    cell.where,
                    f"the spreadsheet made the date {cell.text} of what was typed.",
                    "Set the cell's format to text and type it again.",
                )


def _other_sheets(file: SourceFile, read: Sheet) -> Iterator[str]:
    for sheet in file.sheets:
        if sheet is not read and sheet.rows and fold(sheet.name) not in {fold(HOW_TO), fold(EXAMPLES)}:
            yield f"sheet {sheet.name} was not read, only sheet {read.name}."


def _unread_columns(sheet: Sheet, header: Header, kind: SheetKind) -> Iterator[str]:
    places = set(header.columns.values())
    missing = [column for column in kind.columns if column not in header.columns]
    for place, cell in enumerate(sheet.rows[header.row_index]):
        if cell.is_empty or place in places:
            continue
        near = nearest(cell.text, missing)
        hint = f" Did you mean {quoted(near[0])}?" if near else ""
        yield f"the column {quoted(cell.text)} was not read: the {kind.title} sheet has no such column.{hint}"

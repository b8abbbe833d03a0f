"""Finding the header row of a sheet, and the data rows under it."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from ledger.errors import InputErrors, Problem
from ledger.intake.table import Cell, Record, Sheet

MAX_HEADER_DEPTH = 50
"""How many filled rows are searched for the headings: addresses and titles may stand above them."""

SHOWN_HEADINGS = 40


@dataclass(frozen=True)
class Header:
    """Where a sheet's header row is and which column holds what."""

    row_index: int
    """The place in ``Sheet.rows``, from 0."""
    row_number: int
    """The row as the maker sees it."""
    columns: dict[str, int]
    """Canonical column name to the column's place, from 0."""
    headings: dict[str, str]
    """Canonical column name to the heading as it stands in the file."""


@lru_cache(maxsize=4096)
def normal_heading(text: str) -> str:
    """Return a heading without case, blanks and punctuation, but for the percent sign.

    A discount in percent and one in money often stand side by side under the same word.

    >>> normal_heading(" Unit-Price ($) "), normal_heading("Disc %"), normal_heading("#")
    ('unitprice', 'disc%', '#')
    """
    folded = text.strip().casefold()
    return "".join(char for char in folded if char.isalnum() or char == "%") or folded


def find_header(
    sheet: Sheet,
    wanted: Mapping[str, Sequence[str]],
    required: Collection[str] = (),
    *,
    header_row: int | None = None,
    by_name: bool = True,
) -> Header:
    """Return the header row: the one with the most wanted headings, the first of several.

    Arguments:
        sheet: the sheet to search.
        wanted: canonical column names to the headings accepted for them.
        required: the canonical names that must be there.
        header_row: the row number as the maker sees it, where it is known.
        by_name: whether the canonical name itself is accepted as a heading too.

    Raises InputErrors with every missing required column, naming what was found and what comes
    near, and with every column that stands there twice.
    """
    accepted: dict[str, str] = {}
    for canonical, headings in wanted.items():
        for heading in (canonical, *headings) if by_name else headings:
            accepted.setdefault(normal_heading(heading), canonical)
    candidates = [
        index
        for index in range(len(sheet.rows))
        if (index < MAX_HEADER_DEPTH if header_row is None else sheet.row_numbers[index] == header_row)
    ]
    matches = {index: _matches(sheet.rows[index], accepted) for index in candidates}
    best = max(candidates, key=lambda index: len(matches[index]), default=None)
    if best is None or not matches[best]:
        raise InputErrors(sheet.name, [_no_header(sheet, wanted, header_row)])
    found = matches[best]
    problems = _missing(sheet, best, wanted, [name for name in required if name not in found])
    problems += _doubled(sheet, best, found)
    if problems:
        raise InputErrors(sheet.name, problems)
    return Header(
        row_index=best,
        row_number=sheet.row_numbers[best],
        columns={name: places[0] for name, places in found.items()},
        headings={name: sheet.rows[best][places[0]].text for name, places in found.items()},
    )


def records(sheet: Sheet, header: Header) -> list[Record]:
    """Return the rows under the header that hold anything in the columns found.

    A record has a cell for each of these columns, empty ones included, so each has a place.
    """
    found = []
    for index in range(header.row_index + 1, len(sheet.rows)):
        row, number = sheet.rows[index], sheet.row_numbers[index]
        cells = {
            name: _cell(sheet, row, number, (column, header.headings[name]))
            for name, column in header.columns.items()
        }
        if not all(cell.is_empty for cell in cells.values()):
            found.append(Record(number, sheet.row_place(number), cells))
    return found


def error_problems(found: Iterable[Record]) -> list[Problem]:
    """Return a problem for each cell in the records that holds an error such as #N/A."""
    return [
        error_problem(cell, cell.where) for record in found for cell in record.cells.values() if cell.is_error
    ]


def error_problem(cell: Cell, where: str) -> Problem:
    """Return what is said of a cell that holds an error such as #N/A."""
    return Problem(
        where, f"the error {cell.text} stands there instead of a value.", "Mend the formula or type it."
    )


def _cell(sheet: Sheet, row: tuple[Cell, ...], number: int, column: tuple[int, str]) -> Cell:
    place, heading = column
    if place >= len(row):
        return Cell(None, sheet.cell_place(number, place, heading))
    if sheet.has_addresses:
        return row[place]
    return Cell(row[place].value, sheet.cell_place(number, place, heading))


def _matches(row: tuple[Cell, ...], accepted: Mapping[str, str]) -> dict[str, list[int]]:
    """Return the canonical names found in a row, with every column each was found in."""
    found: dict[str, list[int]] = {}
    for column, cell in enumerate(row):
        canonical = None if cell.is_empty else accepted.get(normal_heading(cell.text))
        if canonical is not None:
            found.setdefault(canonical, []).append(column)
    return found


def _no_header(sheet: Sheet, wanted: Mapping[str, Sequence[str]], header_row: int | None) -> Problem:
    where = f"sheet {sheet.name}" if sheet.has_addresses else ""
    if not sheet.rows:
        return Problem(where, "there is nothing in it.", "Check that it is the right file and sheet.")
    depth = f"the first {MAX_HEADER_DEPTH} rows" if header_row is None else f"row {header_row}"
    return Problem(
        where,
        f"no header row: {depth} hold none of the headings {', '.join(wanted)}. "
        f"Row {sheet.row_numbers[0]} holds: {_shown(sheet.rows[0])}.",
        "Give the columns these headings; where a profile reads the file, name the one made for this layout.",
    )


def _missing(
    sheet: Sheet, index: int, wanted: Mapping[str, Sequence[str]], names: Sequence[str]
) -> list[Problem]:
    row = sheet.rows[index]
    there = {normal_heading(cell.text): cell.text for cell in row if not cell.is_empty}
    problems = []
    for name in names:
        headings = tuple(dict.fromkeys((*wanted.get(name, ()), name)))
        near = [
            there[close]
            for heading in headings
            for close in difflib.get_close_matches(normal_heading(heading), there, n=2)
        ]
        hint = f"Nearest: {', '.join(dict.fromkeys(near))}. " if near else ""
        problems.append(
            Problem(
                sheet.row_place(sheet.row_numbers[index]),
                f"the column {name} is missing. Found: {_shown(row)}.",
                f"{hint}Head the column {'with one of: ' if headings[1:] else ''}{', '.join(headings)}.",
            )
        )
    return problems


def _doubled(sheet: Sheet, index: int, found: Mapping[str, list[int]]) -> list[Problem]:
    row = sheet.rows[index]
    return [
        Problem(
            row[places[1]].where,
            f"{' and '.join(row[place].text for place in places)} both mean the column {name}.",
            "Rename or delete the one that is not meant.",
        )
        for name, places in found.items()
        if len(places) > 1
    ]


def _shown(row: tuple[Cell, ...]) -> str:
    texts = [cell.text for cell in row if not cell.is_empty]
    return ", ".join(texts[:SHOWN_HEADINGS]) + (" …" if len(texts) > SHOWN_HEADINGS else "")

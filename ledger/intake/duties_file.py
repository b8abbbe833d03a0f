"""A duties file against the book: which layers are new, which change, everything that is wrong."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass, replace
from pathlib import Path

from ledger.book.quote_store import find_duties, save_duties
from ledger.errors import InputErrors, Problem
from ledger.intake.catalogue_sheet import SheetKind, read_catalogue_sheet
from ledger.intake.percent_cells import with_percent_signs
from ledger.sourcing.duty_columns import (
    DATE_COLUMNS,
    DUTY_COLUMNS,
    PERCENT_COLUMNS,
    REQUIRED_COLUMNS,
    DutyRow,
    read_duty_heading,
    read_duty_row,
)

DUTIES_SHEET = SheetKind(
    "Duties", tuple(DUTY_COLUMNS), read_duty_heading, lambda _: REQUIRED_COLUMNS, DATE_COLUMNS
)


@dataclass(frozen=True)
class DutiesFile:
    """What a duties file says, before the book is asked."""

    name: str
    rows: tuple[DutyRow, ...]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class DutiesPlan:
    """What loading the file does to the book."""

    new: tuple[DutyRow, ...] = ()
    changed: tuple[DutyRow, ...] = ()
    unchanged: tuple[DutyRow, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether the book already says all that the file says."""
        return not (self.new or self.changed)

    @property
    def loaded(self) -> tuple[DutyRow, ...]:
        """The layers that are added or amended, as they will be."""
        return (*self.new, *self.changed)


def read_duties_file(path: Path) -> DutiesFile:
    """Return every layer that an .xlsx or csv file states.

    Raises InputErrors with every problem of the file, each with its cell, or its row and column.
    """
    sheet = with_percent_signs(path, read_catalogue_sheet(path, DUTIES_SHEET), PERCENT_COLUMNS)
    problems = list(sheet.problems)
    rows: list[DutyRow] = []
    places: dict[tuple[str, str, str, str], str] = {}
    for record in sheet.records:
        read = read_duty_row({column: record.text(column) for column in record})
        problems += [Problem(record.place(fault.column), fault.what) for fault in read.faults]
        if not read.faults and read.row.key in places:
            what = f"this layer stands twice in the file: also in {places[read.row.key]}."
            problems.append(
                Problem(record.where, what, "Keep one of the two, or give them different first days.")
            )
        places.setdefault(read.row.key, record.where)
        rows.append(read.row)
    if problems:
        raise InputErrors(sheet.source, problems)
    return DutiesFile(sheet.source, tuple(rows), sheet.remarks)


def plan_duties(connection: sqlite3.Connection, file: DutiesFile) -> DutiesPlan:
    """Return what loading the file would change in the book; nothing is written.

    A layer of the same program, class, origin and first day is amended, under the book's spelling.
    """
    known = {row.key: row for row in find_duties(connection)}
    new: list[DutyRow] = []
    changed: list[DutyRow] = []
    unchanged: list[DutyRow] = []
    for said in file.rows:
        before = known.get(said.key)
        if before is None:
            new.append(said)
            continue
        row = replace(said, program=before.program, customs_class=before.customs_class)
        (unchanged if row == before else changed).append(row)
    return DutiesPlan(tuple(new), tuple(changed), tuple(unchanged))


def save_plan(connection: sqlite3.Connection, plan: DutiesPlan, now: str) -> None:
    """Add and amend what the plan says, inside the caller's transaction."""
    save_duties(connection, plan.loaded, now)

"""A suppliers file against the book: who is new, who changes, who stays."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from pathlib import Path

from ledger.book.catalogue_store import find_parties, save_parties
from ledger.catalogue.parties import LONGEST_NAME, Party, normal_name, read_country, read_role
from ledger.errors import InputErrors, Problem, ValueProblem
from ledger.exact.currencies import read_currency
from ledger.intake.catalogue_sheet import SheetKind, read_catalogue_sheet
from ledger.intake.nearest import fold
from ledger.intake.table import Record
from ledger.intake.template_sheets import SUPPLIER_COLUMNS

_ALIASES = {
    "supplier": "name",
    "party": "name",
    "country code": "country",
    "currency code": "currency",
    "delivery terms": "terms",
    "notes": "note",
}


@dataclass(frozen=True)
class SuppliersFile:
    """What a suppliers file says, before the book is asked; ``columns`` are the columns it has."""

    name: str
    parties: tuple[Party, ...]
    columns: frozenset[str]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class ChangedParty:
    """A party the book has, as it will be, and the columns in which it differs."""

    party: Party
    columns: tuple[str, ...]


@dataclass(frozen=True)
class SuppliersPlan:
    """What loading the file does to the book; ``unchanged`` are names."""

    new: tuple[Party, ...] = ()
    changed: tuple[ChangedParty, ...] = ()
    unchanged: tuple[str, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether the book already says all that the file says."""
        return not (self.new or self.changed)

    @property
    def loaded(self) -> tuple[Party, ...]:
        """The parties that are added or amended, as they will be."""
        return (*self.new, *(change.party for change in self.changed))

    @property
    def changed_columns(self) -> tuple[str, ...]:
        """The columns in which any party changes, in the sheet's order."""
        named = {column for change in self.changed for column in change.columns}
        return tuple(column for column in SUPPLIER_COLUMNS if column in named)


def read_supplier_heading(text: str) -> str | None:
    """Return the suppliers sheet's column that a heading names, or None where it names none.

    >>> read_supplier_heading("Country Code"), read_supplier_heading("Role"), read_supplier_heading("x")
    ('country', 'role', None)
    """
    word = fold(text.replace("_", " "))
    return word if word in SUPPLIER_COLUMNS else _ALIASES.get(word)


SUPPLIERS_SHEET = SheetKind("Suppliers", tuple(SUPPLIER_COLUMNS), read_supplier_heading, lambda _: ("name",))


def read_suppliers_file(path: Path) -> SuppliersFile:
    """Return every party that an .xlsx or csv file of suppliers names.

    Raises InputErrors with every problem of the file, each with its cell, or its row and column.
    """
    sheet = read_catalogue_sheet(path, SUPPLIERS_SHEET)
    problems = list(sheet.problems)
    parties: list[Party] = []
    places: dict[str, str] = {}
    for record in sheet.records:
        party = _party(record, problems)
        key = party.normal_name()
        if key in places:
            what = f"{party.name} stands twice in the file: also in {places[key]}."
            problems.append(Problem(record.place("name"), what, "Keep one of the two."))
        if key:
            places.setdefault(key, record.where)
        parties.append(party)
    if problems:
        raise InputErrors(sheet.source, problems)
    return SuppliersFile(sheet.source, tuple(parties), sheet.columns, sheet.remarks)


def plan_suppliers(connection: sqlite3.Connection, file: SuppliersFile) -> SuppliersPlan:
    """Return what loading the file would change in the book; nothing is written.

    A name that differs from the book's in capitals or blanks is the same party and keeps the book's
    spelling. What the file has no column for stays as it is.
    """
    known = {normal_name(name): party for name, party in find_parties(connection).items()}
    new: list[Party] = []
    changed: list[ChangedParty] = []
    unchanged: list[str] = []
    for said in file.parties:
        before = known.get(said.normal_name())
        if before is None:
            new.append(said)
            continue
        kept = {name: getattr(before, name) for name in SUPPLIER_COLUMNS if name not in file.columns}
        after = replace(said, **kept, name=before.name)
        columns = tuple(
            each.name for each in fields(Party) if getattr(before, each.name) != getattr(after, each.name)
        )
        if columns:
            changed.append(ChangedParty(after, columns))
        else:
            unchanged.append(after.name)
    return SuppliersPlan(tuple(new), tuple(changed), tuple(unchanged))


def save_plan(connection: sqlite3.Connection, plan: SuppliersPlan) -> None:
    """Add and amend what the plan says, inside the caller's transaction."""
    save_parties(connection, plan.loaded)


def _party(record: Record, problems: list[Problem]) -> Party:
    """Return the row's party; what is wrong with it is added to the problems."""

    def read(column: str, reader: Callable[[str], str]) -> str:
        try:
            return reader(record.text(column))
        except ValueProblem as problem:
            problems.append(Problem(record.place(column), str(problem)))
            return ""

    return Party(
        name=read("name", _name),
        role=read("role", read_role),
        country=read("country", read_country),
        currency=read("currency", lambda text: read_currency(text) if text else ""),
        terms=record.text("terms"),
        note=record.text("note"),
    )


def _name(text: str) -> str:
    name = " ".join(text.split())
    if not name:
        raise ValueProblem("the name is empty: say who it is.")
    if len(name) > LONGEST_NAME:
        raise ValueProblem(f"the name has {len(name)} characters: {LONGEST_NAME} at most.")
    return name

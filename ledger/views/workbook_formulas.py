"""Where every figure of a pack stands in the workbook, and the formulas that lead to it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ledger.views.pack import (
    Adds,
    Column,
    Divides,
    Gathers,
    LastOf,
    Named,
    Ref,
    SumWhere,
    Table,
    Terms,
    TotalOf,
)

_PLAIN_TEXT = re.compile(r"[A-Za-z][A-Za-z0-9 '_.,()-]*")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a table stands: its sheet's name, its first and last row, and its rows of totals."""

    sheet: str
    table: Table
    first_row: int

    @property
    def last_row(self) -> int:
        """The last row of figures; a table without rows has one that says so."""
        return self.first_row + max(len(self.table.rows), 1) - 1

    @property
    def total_row(self) -> int:
        """The row of totals."""
        return self.last_row + 1

    def letter(self, key: str) -> str | None:
        """Return a column's letter, None where the workbook leaves the column out."""
        for place, column in enumerate(self.table.columns):
            if column.key == key:
                return column_letter(place)
        return None

    def column(self, key: str) -> Column:
        """Return a column by its key."""
        return self.table.columns[self.table.place(key)]


class Places:
    """The places of all tables, and formulas over them. A column that is left out counts as nothing."""

    def __init__(self, places: Mapping[str, Place]) -> None:
        self._places = places

    def in_row(self, place: Place, column: Column, row: int) -> str:
        """Return the formula of a column's cell in a row of figures; '' where it stays empty."""
        formula = column.formula
        if isinstance(formula, Adds):
            return "=" + _signed(
                self._cells(place, formula.plus, row), self._cells(place, formula.minus, row)
            )
        if isinstance(formula, Divides):
            amount, quantity = place.letter(formula.amount), place.letter(formula.quantity)
            return f"={amount}{row}/{quantity}{row}"
        assert isinstance(formula, Gathers)
        group = place.table.rows[row - place.first_row][place.table.place(formula.group)]
        return "=" + (self._ref(SumWhere(formula.table, column.key, formula.group, str(group))) or "0")

    def of_terms(self, terms: Terms) -> str:
        """Return some figures less others as a formula; '=0' where there are none."""
        return "=" + _signed(self._refs(terms.plus), self._refs(terms.minus))

    def total(self, place: Place, key: str) -> str:
        """Return the formula of a column's total."""
        letter = place.letter(key)
        return f"=SUM({letter}{place.first_row}:{letter}{place.last_row})"

    def _cells(self, place: Place, keys: Iterable[str], row: int) -> list[str]:
        letters = (place.letter(key) for key in keys)
        return [f"{letter}{row}" for letter in letters if letter is not None]

    def _refs(self, refs: Iterable[Ref]) -> list[str]:
        found = (self._ref(ref) for ref in refs)
        return [one for one in found if one is not None]

    def _ref(self, ref: Ref) -> str | None:
        """Return one figure as it is spoken of in a formula, None where its column is left out."""
        if isinstance(ref, Named):
            return ref.name
        place = self._places[ref.table]
        letter = place.letter(ref.column)
        if letter is None:
            return None
        if isinstance(ref, LastOf):
            return f"{quoted(place.sheet)}!{letter}{place.last_row}"
        if isinstance(ref, TotalOf):
            if place.column(ref.column).is_summed:
                return f"{quoted(place.sheet)}!{letter}{place.total_row}"
            return f"SUM({_range(place, letter)})"
        where = place.letter(ref.where)
        assert where is not None
        return f"SUMIFS({_range(place, letter)},{_range(place, where)},{criterion(ref.equals)})"


def _signed(plus: Iterable[str], minus: Iterable[str]) -> str:
    text = "+".join(plus) + "".join(f"-{one}" for one in minus)
    return text or "0"


def _range(place: Place, letter: str) -> str:
    return f"{quoted(place.sheet)}!${letter}${place.first_row}:${letter}${place.last_row}"


def quoted(sheet: str) -> str:
    """Return a sheet's name as formulas write it.

    >>> quoted("Value by SKU")
    "'Value by SKU'"
    """
    doubled = sheet.replace("'", "''")
    return f"'{doubled}'"


def criterion(text: str) -> str:
    """Return text as a criterion that it alone fulfils, whatever signs are in it.

    >>> print(criterion("own use"), criterion("a*b"))
    "own use" "=a~*b"
    """
    if _PLAIN_TEXT.fullmatch(text):
        return f'"{text}"'
    escaped = re.sub(r"([~*?])", r"~\1", text).replace('"', '""')
    return f'"={escaped}"'


def column_letter(place: int) -> str:
    """Return the letters of a column counted from 0.

    >>> column_letter(0), column_letter(25), column_letter(26)
    ('A', 'Z', 'AA')
    """
    letters = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters

"""The rows of an unknown sales export as its proposal looks at them, and what it asks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from ledger.intake.column_values import number_of
from ledger.intake.proposal import Question
from ledger.intake.table import Cell, Sheet

LOOKED_AT = 10_000
"""How many rows a proposal looks at; what stands only further down is found when the file is read."""

SAMPLED = 2_000
"""How many of them are looked at for habits of numbers."""


@dataclass(frozen=True)
class SalesQuestion(Question):
    """What the export does not tell; ``in_file`` is how a profile would say it."""

    in_file: str = ""


@dataclass(frozen=True)
class SalesTable:
    """The rows under the headings, with where what stands and how numbers are written."""

    rows: Sequence[tuple[Cell, ...]]
    places: Mapping[str, int]
    decimal_comma: bool
    sheet: Sheet | None = None
    more: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    """Where what several columns are stands."""
    _numbers: dict[tuple[type, object], Fraction | None] = field(
        init=False, repr=False, compare=False, default_factory=dict
    )

    def place(self, row: Sequence[Cell], name: str, heading: str) -> str:
        """Return where a row's cell stands, as the maker sees it."""
        place = self.places[name]
        cell = row[place]
        if self.sheet is None or isinstance(cell.place, str):
            return cell.where
        return self.sheet.cell_place(cell.place.row, place, heading)

    def cells(self, place: int, most: int = SAMPLED) -> list[Cell]:
        """Return the filled cells of a column, of the first rows."""
        return [row[place] for row in self.rows[:most] if place < len(row) and not row[place].is_empty]

    def number(self, row: Sequence[Cell], name: str) -> Fraction | None:
        """Return a row's number in what a column is; None where there is none."""
        cell = self.cell(row, name)
        if cell is None:
            return None
        return self._number_of(cell)

    def numbers(self, row: Sequence[Cell], name: str) -> list[Fraction]:
        """Return a row's numbers in what one column is, or several."""
        places = self.more.get(name, (self.places[name],) if name in self.places else ())
        cells = [row[place] for place in places if place < len(row) and not row[place].is_empty]
        return [number for cell in cells if (number := self._number_of(cell)) is not None]

    def in_all(self, row: Sequence[Cell], name: str) -> Fraction | None:
        """Return a row's number of a column with what is to be added to it; None where there is none."""
        found = [*self.numbers(row, name), *self.numbers(row, f"more_{name}")]
        return sum(found, Fraction(0)) if found else None

    def _number_of(self, cell: Cell) -> Fraction | None:
        key = (type(cell.value), cell.value)
        if key not in self._numbers:
            self._numbers[key] = number_of(cell, decimal_comma=self.decimal_comma)
        return self._numbers[key]

    def cell(self, row: Sequence[Cell], name: str) -> Cell | None:
        """Return a row's cell of what a column is; None where it is empty or there is no such column."""
        place = self.places.get(name)
        if place is None or place >= len(row) or row[place].is_empty:
            return None
        return row[place]

    def text(self, row: Sequence[Cell], name: str) -> str:
        """Return a row's text of what a column is, '' where it has none."""
        cell = self.cell(row, name)
        return "" if cell is None else cell.text

    def sampled(self) -> Iterator[tuple[Cell, ...]]:
        """Return the first rows."""
        yield from self.rows[:SAMPLED]

    def money(self, row: Sequence[Cell]) -> Fraction | None:
        """Return what a row is about: its item total, else its price."""
        total = self.number(row, "item_total")
        return total if total is not None else self.number(row, "unit_price")

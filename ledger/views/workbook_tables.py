"""One table of the pack on its sheet: title, check, headings, rows, totals."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import TYPE_CHECKING

from ledger.exact.currencies import exponent
from ledger.intake.sheet_writing import put_text
from ledger.views.pack import Column, Kind, Pack, Table, Value
from ledger.views.workbook_cells import (
    HEADING,
    NOTE,
    STRONG,
    TITLE,
    Look,
    SheetWriter,
    new_cell,
    number,
    number_format,
    put_value,
    zero_format,
)
from ledger.views.workbook_formulas import Place, Places

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell

LEAST_WIDTH, MOST_WIDTH, PROSE_WIDTH = 7, 36, 90
LEAST_SHEET_WIDTH = 90
"""A narrower table is stretched: its note must have room above it."""

NOTHING = "nothing in this time"
CHECK_WORDS = "check: zero where this sheet agrees with the others"
MOST_HEADING_LINES = 3
_SPARE_SIGNS = 1.5
_LETTERS_PER_WIDTH = 1.2
"""A column is measured in digits; letters are narrower on the whole."""

_DATE_WIDTH = 11
_TEXTS = (Kind.TEXT, Kind.PROSE)
_NUMBERS = (Kind.MONEY, Kind.QUANTITY, Kind.PER_UNIT)


@dataclass(frozen=True, slots=True)
class SheetCheck:
    """The check of a sheet: a formula that is zero where it agrees with the others, and its value."""

    formula: str
    value: Decimal


@dataclass(frozen=True, slots=True)
class Head:
    """What stands above a sheet's headings: its lines, and its check."""

    title: str
    lines: tuple[str, ...]
    check: SheetCheck

    @property
    def headings_row(self) -> int:
        """The row of the headings: title, shop, lines, check and an empty row stand above."""
        return len(self.lines) + 4


def head_of(pack: Pack, title: str, note: str, check: SheetCheck, width: float) -> Head:
    """Return the head of a sheet; its note is broken to the sheet's width."""
    lines = [f"{pack.shop}, {pack.span_words}, {pack.currency}"]
    if pack.is_draft:
        lines.append(f"DRAFT: {pack.span_words} is not closed; what is entered later may change its figures.")
    lines += textwrap.wrap(note, max(int(width), LEAST_SHEET_WIDTH)) if note else []
    return Head(title, tuple(lines), check)


def write_head(writer: SheetWriter, head: Head, first_width: float) -> None:
    """Write what stands above the headings; the check stands beside its words, in the first two columns."""
    writer.text(head.title, look=TITLE)
    for line in head.lines:
        writer.text(line, look=STRONG if line.startswith("DRAFT") else NOTE)
    words_first = first_width > len(CHECK_WORDS)
    look = Look(bold=True, number_format=zero_format(writer.currency), to_the_right=words_first)
    cell = new_cell(writer.sheet, look)
    words = new_cell(writer.sheet, NOTE)
    put_text(words, CHECK_WORDS)
    writer.formula(cell, head.check.formula, head.check.value)
    writer.write([words, cell] if words_first else [cell, words])
    writer.blank()


def widths_of(table: Table, currency: str) -> list[float]:
    """Return how wide each column must be for what stands in it."""
    widths = [_width(table, place, column, currency) for place, column in enumerate(table.columns)]
    stretch = max(LEAST_SHEET_WIDTH / sum(widths), 1)
    return [width * stretch for width in widths]


def _width(table: Table, place: int, column: Column, currency: str) -> float:
    longest = max(*map(len, column.heading.split()), len(column.heading) // MOST_HEADING_LINES + 1)
    if column.kind is Kind.DATE:
        return max(_DATE_WIDTH, longest + 1)
    if column.kind in _TEXTS:
        inside = max((len(str(row[place] or "")) for row in table.rows), default=0)
        most = PROSE_WIDTH if column.kind is Kind.PROSE else MOST_WIDTH
        return min(max(inside + 1, longest + 1, LEAST_WIDTH), most)
    shown = (_figures(row[place], column.kind, currency) for row in table.rows)
    widest = max(shown, default=0)
    if column.is_summed:
        widest = max(widest, _figures(table.total(column.key), column.kind, currency))
    return max(widest + _SPARE_SIGNS, longest + 1, LEAST_WIDTH)


def _figures(value: Value, kind: Kind, currency: str) -> int:
    """Return how many signs a number takes, separators and decimals included."""
    if value is None or isinstance(value, str):
        return 0
    whole = len(f"{abs(int(number(value, kind, currency))):,}")
    places = {Kind.MONEY: exponent(currency), Kind.PER_UNIT: 4}.get(kind, 3 if int(value) % 1000 else 0)
    return whole + (places + 1 if places else 0)


def write_table(writer: SheetWriter, place: Place, places: Places, widths: Sequence[float]) -> None:
    """Write headings, rows and totals of a table at its place."""
    columns = place.table.columns
    _headings(writer, columns, widths)
    assert writer.row + 1 == place.first_row
    fill = [
        _Filler(writer, place, places, column, is_indented=at > 0 and columns[at - 1].kind in _NUMBERS)
        for at, column in enumerate(columns)
    ]
    texts = [(at, widths[at]) for at, column in enumerate(columns) if column.kind in _TEXTS]
    for number_, row in enumerate(place.table.rows, place.first_row):
        lines = max((lines_in(str(row[at] or ""), width) for at, width in texts), default=1)
        if lines > 1:
            writer.next_row_lines(lines)
        cells = zip(fill, row, strict=True)
        writer.write([one.filled(value, number_, is_tall=lines > 1) for one, value in cells])
    if not place.table.rows:
        writer.text(NOTHING, look=NOTE)
    _totals(writer, place, places)


def lines_in(text: str, width: float) -> int:
    """Return how many lines a text takes in a column."""
    fits = int(width * _LETTERS_PER_WIDTH)
    if len(text) <= fits and "\n" not in text:
        return 1
    return sum(max(len(textwrap.wrap(line, max(fits, 1))), 1) for line in text.split("\n"))


def _headings(writer: SheetWriter, columns: tuple[Column, ...], widths: Sequence[float]) -> None:
    cells = []
    for at, column in enumerate(columns):
        is_number = column.kind in _NUMBERS
        after_number = at > 0 and columns[at - 1].kind in _NUMBERS and not is_number
        cell = new_cell(writer.sheet, replace(HEADING, to_the_right=is_number, is_indented=after_number))
        put_text(cell, column.heading)
        cells.append(cell)
    pairs = zip(columns, widths, strict=True)
    # Bold letters are wider: a heading breaks a little before its column's width.
    writer.next_row_lines(max(lines_in(column.heading, width - 1) for column, width in pairs))
    writer.write(cells)


@dataclass(slots=True)
class _Filler:
    """Fills a column's cell for a row: with the value, or with the column's formula."""

    writer: SheetWriter
    place: Place
    places: Places
    column: Column
    is_indented: bool
    cells: dict[tuple[str, bool], Cell] = field(default_factory=dict)

    def filled(self, value: Value, row: int, *, is_tall: bool) -> Cell | None:
        """Return the cell for a row, None where it stays empty."""
        if value is None or value == "":
            return None
        kind, currency = self.column.kind, self.writer.currency
        cell = self._cell(value, is_tall=is_tall)
        if self.column.formula is None:
            put_value(cell, value, kind, currency)
            return cell
        formula = self.places.in_row(self.place, self.column, row)
        return self.writer.formula(cell, formula, number(value, kind, currency))

    def _cell(self, value: Value, *, is_tall: bool) -> Cell:
        kind = self.column.kind
        shown = number_format(value, kind, self.writer.currency)
        key = (shown, is_tall)
        if key not in self.cells:
            is_number = kind in _NUMBERS
            look = Look(
                number_format=shown,
                wraps=is_tall and not is_number,
                is_tall=is_tall,
                to_the_right=is_number,
                is_indented=self.is_indented and not is_number,
            )
            self.cells[key] = new_cell(self.writer.sheet, look)
        return self.cells[key]


def _totals(writer: SheetWriter, place: Place, places: Places) -> None:
    columns = place.table.columns
    if not any(column.is_summed for column in columns):
        return
    cells: list[Cell | None] = []
    for at, column in enumerate(columns):
        total = place.table.total(column.key) if column.is_summed else None
        shown = number_format(total, column.kind, writer.currency) if column.is_summed else ""
        cell = new_cell(writer.sheet, Look(bold=True, rule="top", number_format=shown, to_the_right=at > 0))
        if column.is_summed:
            value = number(total, column.kind, writer.currency)
            writer.formula(cell, places.total(place, column.key), value)
        elif at == 0:
            put_text(cell, "total")
        cells.append(cell)
    writer.write(cells)

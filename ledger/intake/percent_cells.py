"""Numbers that a spreadsheet shows as percent: 0.02 in a cell of the format 0% is 2%, not a bare 0.02."""

from __future__ import annotations

import warnings
import zipfile
from collections.abc import Collection, Iterator
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

from ledger.exact.numbers import show_fraction
from ledger.intake.catalogue_sheet import CatalogueSheet
from ledger.intake.table import Cell, Record, RowPlace

_PLACES = 9
_WHOLE = 100

Place = tuple[str, int, int]
"""A sheet's name, a row counted from 1 and a column counted from 0."""


def with_percent_signs(path: Path, sheet: CatalogueSheet, columns: Collection[str]) -> CatalogueSheet:
    """Return the sheet with the numbers of some columns written as percentages where their format is one.

    ``path`` is the file the sheet was read from, which was found safe then; of a csv nothing changes.
    """
    numbers = {place for record in sheet.records for place in _numbers(record, columns)}
    if not numbers or not zipfile.is_zipfile(path):
        return sheet
    marked = frozenset(_percent_places(path, numbers))
    return replace(sheet, records=tuple(_signed(record, columns, marked) for record in sheet.records))


def _numbers(record: Record, columns: Collection[str]) -> Iterator[Place]:
    for name in columns:
        cell = record.cells.get(name)
        if cell is not None and isinstance(cell.value, Decimal) and isinstance(cell.place, RowPlace):
            yield (cell.place.sheet, cell.place.row, cell.column)


def _percent_places(path: Path, numbers: Collection[Place]) -> Iterator[Place]:
    """Yield those of the places whose number format is a percent format."""
    import openpyxl  # noqa: PLC0415 - slow to import

    with warnings.catch_warnings():
        # As where the values were read: no style that the library drops is a value.
        warnings.simplefilter("ignore")
        workbook = openpyxl.load_workbook(path, read_only=True, data_only=True, keep_links=False)
        try:
            for name in {sheet for sheet, _, _ in numbers}:
                worksheet = workbook[name]
                worksheet.reset_dimensions()
                last = max(row for sheet, row, _ in numbers if sheet == name)
                for number, cells in enumerate(worksheet.iter_rows(max_row=last), start=1):
                    for column, cell in enumerate(cells):
                        if (name, number, column) in numbers and "%" in str(cell.number_format):
                            yield (name, number, column)
        finally:
            workbook.close()


def _signed(record: Record, columns: Collection[str], marked: Collection[Place]) -> Record:
    cells = dict(record.cells)
    for name in columns:
        cell = cells.get(name)
        if cell is None or not isinstance(cell.value, Decimal) or not isinstance(cell.place, RowPlace):
            continue
        if (cell.place.sheet, cell.place.row, cell.column) in marked:
            text = f"{show_fraction(Fraction(cell.value) * _WHOLE, _PLACES)}%"
            cells[name] = Cell(text, cell.place, cell.column)
    return replace(record, cells=cells)

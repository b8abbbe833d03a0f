"""Reading a filled-in count workbook back, with every problem of it at once."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from ledger.errors import InputErrors, Problem, ValueProblem
from ledger.exact.quantity import MAX_QUANTITY, MILLI
from ledger.intake.count_sheet import COUNTED, EXPECTED, NOT_MADE, SKU, SKU_OF
from ledger.intake.nearest import fold
from ledger.intake.table import Cell, Sheet, SourceFile, refusal
from ledger.intake.values import read_number

_SKU_OF = fold(SKU_OF) + " "
_COUNTED = (COUNTED, "quantity")
"""What a column that is counted into may be called; a sheet of one's own often says quantity."""


@dataclass(frozen=True)
class CountedRow:
    """What is there of one item, in its base unit; ``where`` is the cell it stands in."""

    where: str
    sku: str
    quantity: Fraction


@dataclass(frozen=True)
class _Pair:
    """A column that is counted into, and the column with the SKUs of its cells."""

    sku_column: int
    count_column: int
    heading: str


def read_count_sheet(file: SourceFile, *, decimal_comma: bool = False) -> tuple[CountedRow, ...]:
    """Return what was counted, in the order of the file; empty cells were not counted.

    Arguments:
        file: what was read of a workbook of `write_count_sheet`, or of any csv file or workbook with
            the headings SKU and counted (or quantity).
        decimal_comma: whether text numbers are written 4,10 for four and a tenth.

    Raises InputErrors with every cell that holds no number, one below zero or one finer than a
    thousandth, that has no SKU, or whose SKU was counted in another cell too; and where there are no
    headings, or nothing was counted.
    """
    problems: list[Problem] = []
    counted: list[CountedRow] = []
    first: dict[str, str] = {}
    has_headings = False
    for sheet in file.sheets:
        for number, row, pairs in _rows(sheet):
            has_headings = True
            for pair in pairs:
                try:
                    read = _read(sheet, number, row, pair, decimal_comma=decimal_comma)
                except ValueProblem as problem:
                    problems.append(Problem(_place(sheet, number, pair), f"{problem}"))
                    continue
                if read is None:
                    continue
                if fold(read.sku) in first:
                    what = f"{read.sku} was counted twice: also in {first[fold(read.sku)]}."
                    problems.append(
                        Problem(read.where, what, "Add the two up in one cell and empty the other.")
                    )
                first.setdefault(fold(read.sku), read.where)
                counted.append(read)
    if problems:
        raise InputErrors(file.name, problems)
    if not has_headings:
        what = "there are no headings SKU and counted, and no block of sizes with its SKUs."
        raise refusal(file.name, what, "Write a count workbook with: blankbook count --sheet FILE.")
    if not counted:
        raise refusal(file.name, "nothing was counted: every cell to count into is empty.", "Fill some in.")
    return tuple(counted)


def _rows(sheet: Sheet) -> Iterator[tuple[int, tuple[Cell, ...], tuple[_Pair, ...]]]:
    """Yield the rows to read, each with the columns that the headings above it pair; headings yield nothing to read."""
    pairs: tuple[_Pair, ...] = ()
    for number, row in zip(sheet.row_numbers, sheet.rows, strict=True):
        headed = _heading_pairs(row)
        if headed:
            pairs = headed
            yield number, row, ()
        elif pairs and not _is_expected(row, pairs):
            yield number, row, pairs


def _heading_pairs(row: tuple[Cell, ...]) -> tuple[_Pair, ...]:
    """Return the pairs of columns that a heading row makes, none where it is no heading row."""
    folded = [fold(cell.text) for cell in row]
    if SKU in folded:
        for word in _COUNTED:
            if word in folded:
                return (_Pair(folded.index(SKU), folded.index(word), word),)
    # The first column holds the style, which may be called like a size.
    sizes = {text: place for place, text in reversed(list(enumerate(folded))) if place}
    return tuple(
        _Pair(place, sizes[text.removeprefix(_SKU_OF)], row[sizes[text.removeprefix(_SKU_OF)]].text)
        for place, text in enumerate(folded)
        if text.startswith(_SKU_OF) and text.removeprefix(_SKU_OF) in sizes
    )


def _is_expected(row: tuple[Cell, ...], pairs: tuple[_Pair, ...]) -> bool:
    """Return whether the row shows what the book expects, below a row that is counted into.

    Such a row has no SKUs: an item that happens to be called 'expected' has one.
    """
    labels = row[: min(pair.count_column for pair in pairs)]
    has_sku = any(pair.sku_column < len(row) and row[pair.sku_column].text for pair in pairs)
    return not has_sku and any(fold(cell.text) == EXPECTED for cell in labels)


def _read(
    sheet: Sheet, number: int, row: tuple[Cell, ...], pair: _Pair, *, decimal_comma: bool
) -> CountedRow | None:
    """Return what was counted in a row's cell, None where nothing was."""
    cell = row[pair.count_column] if pair.count_column < len(row) else None
    sku_cell = row[pair.sku_column] if pair.sku_column < len(row) else None
    sku = "" if sku_cell is None or sku_cell.is_error else sku_cell.text
    if cell is None or cell.is_empty or (not sku and cell.text == NOT_MADE):
        return None
    quantity = read_number(cell, decimal_comma=decimal_comma)
    if not sku:
        raise ValueProblem(
            f"{cell.text} was counted, and no SKU stands for this cell. "
            "Add the item to the book and count it with its SKU, or empty the cell."
        )
    if quantity < 0:
        raise ValueProblem(f"{cell.text} is below zero. Write what is there: 0 where nothing is.")
    if (quantity * MILLI).denominator != 1:
        raise ValueProblem(f"{cell.text} is finer than a thousandth, the smallest step there is. Round it.")
    if quantity * MILLI > MAX_QUANTITY:
        raise ValueProblem(f"{cell.text} is larger than a book can hold. Check the decimal point.")
    return CountedRow(_place(sheet, number, pair), sku, quantity)


def _place(sheet: Sheet, number: int, pair: _Pair) -> str:
    return sheet.cell_place(number, pair.count_column, pair.heading)


_HEADED = re.compile(r"count at the end of (\d{4}-\d{2}-\d{2})")


def count_day(file: SourceFile) -> datetime.date | None:
    """Return the day a count workbook is headed with, None where no sheet says one."""
    for sheet in file.sheets:
        for row in sheet.rows[:1]:
            for cell in row:
                found = _HEADED.search(cell.text)
                if found is not None:
                    return datetime.date.fromisoformat(found[1])
    return None

"""Reading the cells of one row while every problem in them is collected."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import TypeVar

from ledger.errors import Problem, ValueProblem
from ledger.intake.nearest import did_you_mean, fold, quoted
from ledger.intake.profile import Profile
from ledger.intake.table import Cell, Record
from ledger.intake.values import read_date, read_number, read_text

Value = TypeVar("Value")

FREE = "free"
"""What a price cell says where nothing is paid: a plain 0 may be a forgotten price."""

MAX_PIECES = 1_000_000
"""The most pieces in one line."""
MAX_COUNTED = 10**9
MAX_UNIT_PRICE = 100_000
MAX_PERCENT = 1000


class RowCells:
    """One row's cells by what the profile says their columns are."""

    def __init__(self, record: Record, profile: Profile, problems: list[Problem]) -> None:
        self.record = record
        self._profile = profile
        self._problems = problems
        self._noted: set[Problem] = set()

    def problem(self, column: str, what: str, next_step: str = "") -> None:
        """Note a problem with a cell, or with the row where the column is absent; twice is once."""
        problem = Problem(self.record.place(column), what, next_step)
        if problem not in self._noted:
            self._noted.add(problem)
            self._problems.append(problem)

    def is_empty(self, column: str) -> bool:
        """Return whether the column is absent or its cell empty."""
        cell = self.record.cells.get(column)
        return cell is None or cell.is_empty

    def read(self, column: str, reader: Callable[[Cell], Value], default: Value) -> Value:
        """Return the cell as the reader understands it, or ``default`` where it is empty or wrong."""
        cell = self.record.cells.get(column)
        if cell is None or cell.value is None or cell.is_empty:
            return default
        try:
            return reader(cell)
        except ValueProblem as problem:
            self.problem(column, f"{problem}")
            return default

    def text(self, column: str) -> str:
        """Return the cell's text, empty where there is none."""
        cell = self.record.cells.get(column)
        return "" if cell is None or cell.value is None else self.read(column, read_text, "")

    def number(self, column: str) -> Fraction | None:
        """Return the cell's number, None where it is empty or wrong."""
        return self.read(column, self._number, None)

    def counted(self, column: str, most: int = MAX_COUNTED) -> Fraction | None:
        """Return a number from zero to ``most``, None where it is empty or wrong."""
        return self.read(column, lambda cell: self._counted(cell, most), None)

    def percent(self, column: str, most: int = MAX_PERCENT) -> Fraction | None:
        """Return a percentage in points (10 is 10%), None where it is empty or wrong."""
        return self.read(column, lambda cell: self._percent(cell, most), None)

    def price(self, column: str) -> Fraction | None:
        """Return a price above zero, zero where the cell says 'free', None where it is empty or wrong."""
        return self.read(column, self._price, None)

    def total(self, column: str) -> Fraction | None:
        """Return a row's total of zero or more beside a price that is known; 'free' is zero."""
        is_free = fold(self.record.text(column)) == FREE
        return Fraction(0) if is_free else self.counted(column)

    def date(self, column: str) -> datetime.date | None:
        """Return the cell's date, None where it is empty or wrong."""
        return self.read(column, lambda cell: read_date(cell, self._profile.date_order), None)

    def word(self, column: str, choices: tuple[str, ...], default: str) -> str:
        """Return one of the choices in any case, ``default`` where the cell is empty or wrong."""

        def reader(cell: Cell) -> str:
            word = fold(read_text(cell))
            if word not in choices:
                raise ValueProblem(f"{quoted(cell.text)} is not known. {did_you_mean(word, choices)}")
            return word

        return self.read(column, reader, default)

    def _number(self, cell: Cell) -> Fraction:
        return read_number(cell, decimal_comma=self._profile.decimal_comma)

    def _counted(self, cell: Cell, most: int) -> Fraction:
        value = self._number(cell)
        if value < 0:
            raise ValueProblem(f"{cell.text} is below zero. Write what is there, or leave the cell empty.")
        if value > most:
            raise ValueProblem(f"{cell.text} is more than {most:,}. Check the decimal point.")
        return value

    def _price(self, cell: Cell) -> Fraction:
        if fold(cell.text) == FREE:
            return Fraction(0)
        value = self._number(cell)
        if value < 0:
            raise ValueProblem(
                f"the price {cell.text} is below zero. A discount or a credit is a charge, not a line."
            )
        if value == 0:
            raise ValueProblem(
                "the price is 0. Write 'free' where nothing is paid, or leave it empty where it is not known yet."
            )
        return value

    def _percent(self, cell: Cell, most: int) -> Fraction:
        text = cell.text
        if text.endswith("%"):
            value = self._number(Cell(text.removesuffix("%").strip(), cell.where))
        else:
            value = self._number(cell)
            if isinstance(cell.value, Decimal):
                value = self._points(value, text)
        if not 0 <= value <= most:
            raise ValueProblem(f"{text} is not a percentage from 0 to {most}. Check it.")
        return value

    def _points(self, value: Fraction, text: str) -> Fraction:
        if self._profile.percent_as == "fraction":
            return value * 100
        # A cell formatted as percent holds 0.1 for 10%, and its format is not seen here.
        if 0 < value < 1:
            raise ValueProblem(
                f"{text} may be {float(value * 100):g}% in a cell formatted as percent, or less than one "
                f"percent. Type it as text with its sign, like '10%', or say percent_as = \"fraction\" "
                "under [numbers] in the profile."
            )
        return value

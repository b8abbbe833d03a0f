"""What a reader hands on: sheets of cells that know their place, whatever the file was."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from ledger.errors import InputErrors, Problem

MAX_ROWS = 200_000
"""The most rows with something in them that one sheet may have."""

MAX_COLUMNS = 500
"""The most columns that one sheet may have."""

MAX_CELLS = 5_000_000
"""The most cells, blanks between others included, that one text may have."""

MAX_WORKBOOK_CELLS = 2_000_000
"""The most cells, blank ones with a format included, that one workbook may have: about half a minute."""

_ERROR_TEXT = re.compile(r"#N/A|#GETTING_DATA|#[A-Z][A-Z0-9_/]*[!?]|Err:\d{3}", re.ASCII)


class ErrorValue(str):
    """An error such as #N/A that stands in a cell instead of a value: a problem once it is used."""

    __slots__ = ()


def cell_text(text: str) -> str | None:
    """Return text as a cell holds it: None where there are only blanks, an ErrorValue for #N/A and the like.

    Spreadsheet programs write their errors as plain text into csv files, so text counts too.
    """
    if not text.strip():
        return None
    if text[0] in "#E" and _ERROR_TEXT.fullmatch(text):
        return ErrorValue(text)
    return text


CellValue = str | Decimal | dt.date | bool | None
"""What a cell can hold. Numbers are exact decimals, never floats; empty cells are None."""


@dataclass(frozen=True, slots=True)
class RowPlace:
    """The row a cell stands in; a cell's place is put into words only where it is asked for.

    ``sheet`` is empty where cells have no addresses (a text); ``word`` is then what the maker's program
    calls a row: "row", or "line" of a pasted table.
    """

    sheet: str
    row: int
    word: str = "row"

    def of_column(self, column: int, heading: str = "") -> str:
        """Return "sheet Invoice, cell F12", or "row 12, column Qty"; columns count from 0."""
        if self.sheet:
            return f"sheet {self.sheet}, cell {column_letters(column)}{self.row}"
        return f"{self.word} {self.row}, column {heading or column + 1}"


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: its value and its place as the maker sees it."""

    value: CellValue
    place: str | RowPlace
    """In words, or the row from which the words are made."""
    column: int = 0
    """Counted from 0; without meaning where the place is given in words."""

    @property
    def where(self) -> str:
        """The place in words: "sheet Invoice, cell F12" in a workbook, "row 12, column Qty" in a text."""
        return self.place if isinstance(self.place, str) else self.place.of_column(self.column)

    @property
    def text(self) -> str:
        """The value as trimmed text; an empty string for an empty cell."""
        value = self.value
        # By the exact types first: of a long list every cell is asked many times.
        if value is None:
            return ""
        if type(value) is str:
            return value.strip()
        if isinstance(value, Decimal):
            return format(value, "f")
        if isinstance(value, dt.date):
            return value.isoformat()
        return str(value).strip()

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing in the cell but blanks."""
        value = self.value
        return value is None or (isinstance(value, str) and (not value or value.isspace()))

    @property
    def is_error(self) -> bool:
        """Whether an error such as #N/A stands where a value should."""
        return isinstance(self.value, ErrorValue)


@dataclass(frozen=True)
class Sheet:
    """One sheet: its name, its rows of cells (ragged allowed), and what was noticed reading it."""

    name: str
    rows: Sequence[tuple[Cell, ...]]
    row_numbers: Sequence[int]
    """The row numbers as the maker sees them: hidden and blank rows are left out, so gaps are possible."""
    has_addresses: bool = True
    """Whether cells have addresses like F12 (a workbook) or are told by their heading (a csv file)."""
    row_word: str = "row"
    """What a row is called where cells have no addresses: "row", or "line" of a pasted table."""

    def row_place(self, row_number: int) -> str:
        """Return "sheet Invoice, row 12", or "row 12" in a csv file."""
        if self.has_addresses:
            return f"sheet {self.name}, row {row_number}"
        return f"{self.row_word} {row_number}"

    def cell_place(self, row_number: int, column: int, heading: str = "") -> str:
        """Return "sheet Invoice, cell F12", or "row 12, column Qty" in a csv file; columns count from 0."""
        place = RowPlace(self.name if self.has_addresses else "", row_number, self.row_word)
        return place.of_column(column, heading)


@dataclass(frozen=True)
class SourceFile:
    """A file that was read: its shown name, its visible sheets, and remarks for the maker."""

    name: str
    sheets: tuple[Sheet, ...]
    remarks: tuple[str, ...] = ()
    """Said to the maker: 'sheet Old is hidden and was skipped'."""
    content_sha256: str = ""


@dataclass(frozen=True)
class Record:
    """One data row under a header row: cells by the canonical column name."""

    row: int
    where: str
    cells: dict[str, Cell] = field(default_factory=dict)

    def text(self, column: str) -> str:
        """The column's trimmed text, an empty string where the column or the cell is absent."""
        cell = self.cells.get(column)
        return "" if cell is None else cell.text

    def place(self, column: str) -> str:
        """The cell's place, or the row's where the column is absent."""
        cell = self.cells.get(column)
        return self.where if cell is None else cell.where

    def __iter__(self) -> Iterator[str]:
        """The canonical names of the columns present."""
        return iter(self.cells)


@dataclass(frozen=True)
class Amount:
    """A number that was read from a cell, still exact, with its place."""

    value: Fraction
    where: str


def column_letters(column: int) -> str:
    """Return a column's letters, counted from 0.

    >>> column_letters(0), column_letters(25), column_letters(26)
    ('A', 'Z', 'AA')
    """
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def column_place(letters: str) -> int:
    """Return a column's place, counted from 0, of its letters.

    >>> column_place("A"), column_place("AA")
    (0, 26)
    """
    place = 0
    for letter in letters.upper():
        place = place * 26 + ord(letter) - ord("A") + 1
    return place - 1


def refusal(name: str, what: str, next_step: str) -> InputErrors:
    """Return the error that refuses a whole file: what is wrong with it and what to do."""
    return InputErrors(name, [Problem("", what, next_step)])

"""Rows of a large sheet in little memory: one text a row, its cells made when they are asked for.

A sheet of five million cells as objects fills a gigabyte. Packed, it takes little more than its file,
and the readers above, who look at a row once or twice, make the cells they look at.
"""

from __future__ import annotations

import datetime as dt
import re
from array import array
from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal
from typing import Any, overload

from ledger.intake.table import Cell, CellValue, RowPlace, cell_text

SEPARATOR = "\0"
"""Between the cells of a packed row: neither XML nor any text that is read holds it."""

KEPT_CELLS = 100_000
"""Up to this size the cells once made are kept: looking at a row again then costs nothing."""

Unpack = Callable[[str], "list[CellValue]"]


class PackedRows(Sequence[tuple[Cell, ...]]):
    """The rows of one sheet, each a tuple of cells that is made when it is asked for."""

    __slots__ = ("_made", "_packed", "_unpack", "cells", "numbers", "sheet", "widest", "word")

    def __init__(self, unpack: Unpack, *, sheet: str = "", word: str = "row") -> None:
        self.sheet = sheet
        self.word = word
        self.numbers = array("l")
        """The rows' numbers as the maker sees them."""
        self.cells = 0
        """How many cells there are, blanks between others included."""
        self.widest = 0
        """How many cells the widest row has."""
        self._packed: list[str] = []
        self._unpack = unpack
        self._made: dict[int, tuple[Cell, ...]] = {}

    def add(self, number: int, packed: str) -> int:
        """Add one row, which holds something, by its number; returns its cells."""
        width = packed.count(SEPARATOR) + 1
        self.cells += width
        self.widest = max(self.widest, width)
        self.numbers.append(number)
        self._packed.append(packed)
        return width

    def any_matches(self, pattern: re.Pattern[str]) -> bool:
        """Return whether the pattern is found in any row as packed, without making its cells."""
        return any(map(pattern.search, self._packed))

    def __len__(self) -> int:
        return len(self._packed)

    @overload
    def __getitem__(self, index: int) -> tuple[Cell, ...]: ...
    @overload
    def __getitem__(self, index: slice) -> PackedRows: ...
    def __getitem__(self, index: int | slice) -> tuple[Cell, ...] | PackedRows:
        if isinstance(index, slice):
            part = PackedRows(self._unpack, sheet=self.sheet, word=self.word)
            part.numbers, part._packed = self.numbers[index], self._packed[index]
            part.cells, part.widest = self.cells, self.widest
            return part
        place = index + len(self._packed) if index < 0 else index
        made = self._made.get(place)
        if made is None:
            row = RowPlace(self.sheet, self.numbers[place], self.word)
            values = self._unpack(self._packed[place])
            made = tuple([Cell(value, row, column) for column, value in enumerate(values)])
            if self.cells > KEPT_CELLS:
                self._made.clear()
            # A row asked for twice on end is the very same one, as in a plain tuple.
            self._made[place] = made
        return made

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and tuple(self) == tuple(other)

    __hash__ = None  # type: ignore[assignment]


def pack_texts(fields: list[str]) -> str:
    """Return the texts of a row as one, without the blank ones at the end; "" for a blank row."""
    packed = SEPARATOR.join(fields)
    if packed and packed[-1] != SEPARATOR and not packed[-1].isspace():
        return packed
    return SEPARATOR.join(["" if text.isspace() else text for text in fields]).rstrip(SEPARATOR)


def unpack_texts(packed: str) -> list[CellValue]:
    """Return the values of a row of texts: a text, an ErrorValue, or None where there are only blanks."""
    return [cell_text(text) if text else None for text in packed.split(SEPARATOR)]


def pack_values(values: Iterable[Any]) -> str:
    """Return a row of a workbook's values as one text, without the empty ones at the end.

    >>> pack_values([72.0, None, "red", 0.1 + 0.2, None]).split(SEPARATOR)
    ['n72', '', 'sred', 'n0.3']
    """
    return SEPARATOR.join([_WRITERS.get(type(value), _shown)(value) for value in values]).rstrip(SEPARATOR)


def unpack_values(packed: str) -> list[CellValue]:
    """Return the exact values of a row that `pack_values` packed."""
    return [_READERS[text[0]](text[1:]) if text else None for text in packed.split(SEPARATOR)]


def _text(value: str) -> str:
    # A bad file may name the character that separates here: nobody sees it in a cell.
    return "" if not value or value.isspace() else f"s{value.replace(SEPARATOR, '')}"


def _shown(value: Any) -> str:
    """Return a time of day or a span of time, which is never a number here, as it is shown."""
    return _text(str(value))


def _number(value: float) -> str:
    """Return a stored number by at most 15 significant digits: what spreadsheet programs show of it."""
    if value != value or value in (float("inf"), float("-inf")):  # noqa: PLR0124 - not a number
        return "s#NUM!"
    return f"n{value:.15g}"


_WRITERS: dict[type, Callable[[Any], str]] = {
    type(None): lambda _: "",
    bool: lambda value: f"b{value:d}",
    str: _text,
    int: lambda value: f"n{value}",
    float: _number,
    dt.datetime: lambda value: f"d{value.date().isoformat()}",
    dt.date: lambda value: f"d{value.isoformat()}",
}

_READERS: dict[str, Callable[[str], CellValue]] = {
    "b": lambda text: text == "1",
    "s": cell_text,
    "n": Decimal,
    "d": dt.date.fromisoformat,
}

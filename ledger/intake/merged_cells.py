"""Cells merged down several rows: what stands in the first means all of them, where it is words."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from ledger.intake.table import column_place

_AREA = re.compile(r"\$?([A-Z]{1,3})\$?([1-9]\d{0,6}):\$?([A-Z]{1,3})\$?([1-9]\d{0,6})")
_NUMBER_WORD = re.compile(r"(?<!\S)[^\w\s]*\d[\d.,']*[^\w\s]*(?!\S)")


def runs_down(area: str) -> bool:
    """Return whether an area like A5:A8 is one column wide and several rows high.

    >>> runs_down("A5:A8"), runs_down("A5:C5"), runs_down("A5:C8")
    (True, False, False)
    """
    match = _AREA.fullmatch(area)
    return match is not None and match[1] == match[3] and int(match[2]) < int(match[4])


def is_words(value: object) -> bool:
    """Return whether a value is a text that may be read again in each row of a merged cell.

    A number, and a text with a number in it, may be an amount for all the rows together: read again
    in each of them it would be paid several times.

    >>> is_words("Heather Navy"), is_words("TEE-180"), is_words("freight 18.20 by weight"), is_words(12)
    (True, True, False, False)
    """
    return isinstance(value, str) and any(map(str.isalpha, value)) and _NUMBER_WORD.search(value) is None


class MergedTexts:
    """Fills the rows of one sheet, given from the first to the last, with the texts merged down into them."""

    def __init__(self, areas: Iterable[str]) -> None:
        self._starting: dict[int, list[tuple[int, int]]] = defaultdict(list)
        self._active: dict[int, tuple[int, str]] = {}
        for area in areas:
            if runs_down(area):
                match = _AREA.fullmatch(area)
                assert match is not None
                self._starting[int(match[2])].append((column_place(match[1]), int(match[4])))

    def filled(self, number: int, values: tuple[Any, ...]) -> Iterable[Any]:
        """Return the values of the row with this number, blank cells of a merged text filled with it."""
        if not self._starting and not self._active:
            return values
        for column, last_row in self._starting.pop(number, ()):
            value = values[column] if column < len(values) else None
            if isinstance(value, str) and is_words(value):
                self._active[column] = (last_row, value)
        if not self._active:
            return values
        row = list(values)
        for column, (last_row, text) in list(self._active.items()):
            if number > last_row:
                del self._active[column]
                continue
            row += [None] * (column + 1 - len(row))
            if row[column] is None:
                row[column] = text
        return row

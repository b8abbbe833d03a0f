"""Flat sizes in exact millimetres: named sheets, and width by length as typed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from ledger.catalogue._words import fold, quoted, suggestion
from ledger.catalogue.units import read_unit
from ledger.errors import ValueProblem
from ledger.exact.numbers import read_decimal


@dataclass(frozen=True)
class Area:
    """A flat piece of goods: width and length in millimetres, exactly as stated."""

    width_mm: Fraction
    length_mm: Fraction

    @property
    def area_cm2(self) -> Fraction:
        """The area in square centimetres."""
        return self.width_mm * self.length_mm / 100


def _mm(width: int, length: int) -> Area:
    return Area(Fraction(width), Fraction(length))


def _inches(width: str, length: str) -> Area:
    return Area(Fraction(width) * Fraction("25.4"), Fraction(length) * Fraction("25.4"))


SHEETS: dict[str, Area] = {
    # ISO 216.
    "A0": _mm(841, 1189),
    "A1": _mm(594, 841),
    "A2": _mm(420, 594),
    "A3": _mm(297, 420),
    "A4": _mm(210, 297),
    "A5": _mm(148, 210),
    "A6": _mm(105, 148),
    "B4": _mm(250, 353),
    "B5": _mm(176, 250),
    # A trade size of no standard; its 13 x 19 in cousin is 330.2 x 482.6 mm, another sheet.
    "A3+": _mm(329, 483),
    # ANSI/ASME Y14.1, and Legal from the office trade.
    "Letter": _inches("8.5", "11"),
    "Legal": _inches("8.5", "14"),
    "Tabloid": _inches("11", "17"),
    "ANSI C": _inches("17", "22"),
    "ANSI D": _inches("22", "34"),
    "ANSI E": _inches("34", "44"),
}
"""Named sheets, upright."""

_BY_KEY = {fold(name): name for name in SHEETS} | {
    "us letter": "Letter",
    "ansi a": "Letter",
    "us legal": "Legal",
    "ansi b": "Tabloid",
    "a3 plus": "A3+",
}

_TWO_SIDES = re.compile(
    r"\s*([0-9.]+)\s*([^0-9×*]*?)\s*(?:x|×|\*|by)\s*([0-9.]+)\s*([^0-9×*]*?)\s*\Z", re.IGNORECASE
)
_LONGEST = 80


def read_dimensions(text: str) -> Area:
    """Return the width and length that the text states: a named sheet, or two sides.

    A unit written once, at the end, holds for both sides.

    >>> read_dimensions("11.8 in x 5 yd").width_mm
    Fraction(7493, 25)
    >>> read_dimensions("210 x 297 mm") == read_dimensions("A4")
    True

    Raises ValueProblem where it is neither, has no unit of length, or a side is not above zero.
    """
    name = _BY_KEY.get(fold(text))
    if name is not None:
        return SHEETS[name]
    match = _TWO_SIDES.match(text) if len(text) <= _LONGEST else None
    if match is None:
        raise ValueProblem(
            f"{quoted(text)} is not a sheet or a width by a length: write A4, Letter, or 11.8 in x 5 yd."
            f"{suggestion(text, SHEETS)}"
        )
    width, width_unit, length, length_unit = match.groups()
    if not length_unit:
        # Not guessed from the first side: in '12 in x 5' the lost unit may well be yards.
        raise ValueProblem(f"{quoted(text)} has no unit at its end: write it, like 12 x 15 in.")
    return Area(_side_mm(width, width_unit or length_unit, text), _side_mm(length, length_unit, text))


def _side_mm(number: str, unit_text: str, text: str) -> Fraction:
    unit = read_unit(unit_text)
    if unit.dimension != "length":
        raise ValueProblem(
            f"{quoted(text)}: {unit.name} is not a unit of length: use mm, cm, m, in, ft or yd."
        )
    value = read_decimal(number)
    if value <= 0:
        raise ValueProblem(f"{quoted(text)}: a side must be above zero.")
    return value * unit.factor * 10

"""What the values of one column look like: numbers, dates, sizes, colours, units, words we know."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from ledger.catalogue.units import find_unit
from ledger.errors import ValueProblem
from ledger.exact.currencies import EXPONENTS
from ledger.intake.nearest import fold
from ledger.intake.proposal import CatalogueWords
from ledger.intake.shipment_codes import looks_like_a_size
from ledger.intake.table import Cell
from ledger.intake.values import DateOrder, exact, read_date, read_number

MOST_SAMPLED = 300
"""How many lines are looked at: the first ones, in a long file."""

MOST = Fraction(4, 5)
"""The share of a column's values that must look alike."""

_PLAIN_COLOURS = frozenset(
    [
        "black",
        "white",
        "red",
        "blue",
        "green",
        "yellow",
        "orange",
        "purple",
        "pink",
        "grey",
        "gray",
        "brown",
        "navy",
        "royal",
        "maroon",
        "olive",
        "sand",
        "natural",
        "ash",
        "charcoal",
        "heather",
        "cream",
        "teal",
        "turquoise",
        "gold",
        "silver",
        "burgundy",
        "khaki",
        "lime",
        "coral",
        "mint",
        "plum",
        "violet",
        "beige",
        "ivory",
        "forest",
        "sky",
        "kelly",
        "sport",
        "dark",
        "light",
        "schwarz",
        "weiss",
        "weiß",
        "rot",
        "blau",
        "grün",
        "gelb",
        "grau",
        "braun",
        "lila",
        "noir",
        "blanc",
        "rouge",
        "bleu",
        "vert",
        "jaune",
        "gris",
        "rose",
        "negro",
        "blanco",
        "rojo",
        "azul",
        "verde",
        "amarillo",
    ]
)
_FEWEST_COUNTING = 3
_CONTAINERS = frozenset(
    [
        "case",
        "cases",
        "cs",
        "ctn",
        "carton",
        "box",
        "bag",
        "roll",
        "pack",
        "pk",
        "pkt",
        "bottle",
        "ream",
        "set",
        "tub",
        "jar",
        "tube",
        "spool",
    ]
)
_TEXT_DATE = re.compile(
    r"\d{1,4}[-/. ]\d{1,2}[-/. ]\d{1,4}|(?:[a-z]{3,9}[.,]? )?\d{1,2}(?:st|nd|rd|th)?(?: of)? ?[-. ]?"
    r"[a-z]{3,9}[-., ]+\d{2,4}|(?:[a-z]{3,9}[.,]? )?[a-z]{3,9}[-. ]+\d{1,2}(?:st|nd|rd|th)?[-., ]+\d{2,4}",
    re.IGNORECASE,
)
_NAMED = re.compile(
    r"\b(?i:total|amount|prices?|currency|value|all in|sum|due|\w*betrag|\w*preis|\w*summe)\b[ :/(]*(?:in )?([A-Z]{3})\b"
)
_WORDS = frozenset(
    ["ALL", "TOP", "TRY", "PEN", "CUP", "MOP", "GEL", "COP", "LAK", "MAD", "BAM", "SOS", "BOB", "RON", "NET"]
)
"""Codes of currencies that are words as well."""
_PERCENT = re.compile(r"-?\d+(?:[.,]\d+)? ?%")


@dataclass(frozen=True)
class ColumnFacts:
    """How many of a column's values are what; ``numbers`` has one entry per line, None where there is none."""

    filled: int
    numbers: tuple[Fraction | None, ...]
    whole: int
    dates: int
    sizes: int
    colours: int
    units: int
    known_skus: int
    known_codes: int
    distinct: int
    percents: int
    counts_up: bool
    example: str

    def share(self, count: int) -> Fraction:
        """Return the share of the filled cells that a count is."""
        return Fraction(count, self.filled) if self.filled else Fraction(0)

    @property
    def number_count(self) -> int:
        """How many of the values are numbers."""
        return sum(number is not None for number in self.numbers)

    @property
    def are_numbers(self) -> bool:
        """Whether nearly all values are numbers."""
        return self.filled > 0 and self.share(self.number_count) >= MOST

    @property
    def are_counts(self) -> bool:
        """Whether nearly all values are whole numbers of zero or more."""
        return self.are_numbers and self.share(self.whole) >= MOST

    def are_mostly(self, count: int) -> bool:
        """Whether a count of the values is nearly all of them."""
        return self.filled > 0 and self.share(count) >= MOST


def column_facts(cells: Sequence[Cell | None], words: CatalogueWords, *, decimal_comma: bool) -> ColumnFacts:
    """Return what the cells of one column look like; None stands for a cell that a short row lacks."""
    filled = [cell for cell in cells if cell is not None and not cell.is_empty]
    numbers = tuple(None if cell is None else number_of(cell, decimal_comma=decimal_comma) for cell in cells)
    texts = [cell.text for cell in filled]
    there = [number for number in numbers if number is not None]
    return ColumnFacts(
        filled=len(filled),
        numbers=numbers,
        whole=sum(number.denominator == 1 and number >= 0 for number in there),
        dates=sum(map(looks_like_date, filled)),
        sizes=sum(is_size(text, words) for text in texts),
        colours=sum(_is_colour(text, words) for text in texts),
        units=sum(_is_unit(text, words) for text in texts),
        known_skus=sum(fold(text) in words.skus for text in texts),
        known_codes=sum(fold(text) in words.codes for text in texts),
        distinct=len({fold(text) for text in texts}),
        percents=sum(_PERCENT.fullmatch(text) is not None for text in texts),
        counts_up=_counts_up(there),
        example=next(iter(texts), ""),
    )


def number_of(cell: Cell, *, decimal_comma: bool) -> Fraction | None:
    """Return the cell's number, None where it holds none; 10% is 10."""
    if cell.value is None or isinstance(cell.value, dt.date | bool):
        return None
    if isinstance(cell.value, Decimal):
        return exact(cell.value) if cell.value.is_finite() else None
    text = cell.value
    if not any(char.isdigit() for char in text):
        return None
    try:
        if text.rstrip().endswith("%"):
            return read_number(Cell(text.rstrip().removesuffix("%").strip(), ""), decimal_comma=decimal_comma)
        return read_number(cell, decimal_comma=decimal_comma)
    except ValueProblem:
        return None


def is_size(text: str, words: CatalogueWords) -> bool:
    """Return whether a text is a size of a usual ladder or of the catalogue."""
    return fold(text) in words.sizes or _usual_size(text)


@lru_cache(maxsize=4096)
def _usual_size(text: str) -> bool:
    return 0 < len(text) <= 20 and looks_like_a_size(text)  # noqa: PLR2004 - 'one size fits all' is longest


def _is_colour(text: str, words: CatalogueWords) -> bool:
    return fold(text) in words.colours or not _PLAIN_COLOURS.isdisjoint(re.split(r"[\s/-]+", fold(text)))


def _is_unit(text: str, words: CatalogueWords) -> bool:
    return find_unit(text) is not None or fold(text) in _CONTAINERS or fold(text) in words.packs


def looks_like_date(cell: Cell) -> bool:
    """Return whether a cell can be read as a date in some order."""
    if isinstance(cell.value, dt.date):
        return True
    if not isinstance(cell.value, str) or not _TEXT_DATE.match(cell.text):
        return False
    orders: tuple[DateOrder, ...] = ("day month year", "month day year")
    for order in orders:
        try:
            read_date(cell, order)
        except ValueProblem:
            continue
        return True
    return False


def _counts_up(numbers: Sequence[Fraction]) -> bool:
    return len(numbers) >= _FEWEST_COUNTING and all(
        later - earlier == 1 for earlier, later in pairwise(numbers)
    )


def currency_codes(texts: Iterable[str]) -> set[str]:
    """Return the ISO 4217 codes that stand alone in texts, or right beside a number.

    Words in capitals that happen to be a code (ALL, TOP) do not count inside a sentence.
    """
    found = set()
    for text in texts:
        stripped = text.strip()
        alone = stripped.strip("()[]: ")
        if alone in EXPONENTS:
            found.add(alone)
            continue
        if (
            (named := _NAMED.search(stripped)) is not None
            and named[1] in EXPONENTS
            and named[1] not in _WORDS
        ):
            found.add(named[1])
        for match in re.finditer(r"(?:([A-Z]{3}) ?-?\d)|(?:\d ?([A-Z]{3})\b)|[(\[]([A-Z]{3})[)\]]", stripped):
            code = next(filter(None, match.groups()))
            if code in EXPONENTS:
                found.add(code)
    return found

"""The columns of a sales export that nothing reads though they may hold money: none is dropped silently."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from ledger.errors import Problem
from ledger.exact.currencies import EXPONENTS
from ledger.intake.column_values import number_of
from ledger.intake.heading_words import nearest_word
from ledger.intake.nearest import fold, quoted
from ledger.intake.records import normal_heading
from ledger.intake.sales_headings import (
    HEADINGS,
    NO_AMOUNT_WORDS,
    PIECES_WORDS,
    SUM_WORDS,
    likely_meaning,
    plain_heading,
)
from ledger.intake.sales_profile import MONEY_COLUMNS, MORE_COLUMNS
from ledger.intake.sales_sums import SumLooker
from ledger.intake.sales_words import NEAR, TYPE_WORDS, is_status_heading, status_guess, type_guess
from ledger.intake.table import Cell, Sheet, column_letters

_TOLD_BY_WORDS = ("type", "currency", "returned", "refunded", "refunded_on", *MONEY_COLUMNS)
"""What a column of texts may be without which money is read wrongly."""
_CODES_ALONE = ("discount",)
"""What is as often a code as an amount: 'Promo', 'Coupon'."""
_NOTHING = frozenset(["", "-", "--", "–", "—", "n/a", "na", "none", "no", "0", "0.00", "0,00", "nein", "non"])
_MONEY = re.compile(r"[-(+]?[^\d\s]{0,3}\s?\d[\d.,' ]*[.,]\d{2}\)?\s?[^\d\s]{0,3}-?")
_LONGEST = 24
_MOST_WORDS = 20
"""How many different words a column has at most that says what rows are."""


@dataclass(frozen=True, slots=True)
class UnreadColumn:
    """A column that nothing reads: its place and heading, a value of it, and what it may be ('' unknown)."""

    place: int
    heading: str
    example: str
    where: str
    likely: str = ""
    is_of_numbers: bool = True

    @property
    def letters(self) -> str:
        """The column's letters, as the person names it."""
        return column_letters(self.place)

    @property
    def name(self) -> str:
        """What the profile calls it where it is to be ignored."""
        return self.heading or f"column {self.letters}"

    @property
    def answers(self) -> tuple[str, ...]:
        """The lines that would say what it is, the likeliest first."""
        ignore = f"ignore {self.letters}"
        return (f"{self.letters}={self.likely.replace('_', ' ')}", ignore) if self.likely else (ignore,)

    @property
    def what_to_say(self) -> str:
        """What it may be, where nothing tells."""
        some = (
            f"{self.letters}=shipping, {self.letters}=fees, {self.letters}=discount, {self.letters}=refunded"
        )
        return "What is it?" if self.likely else f"What is it: {some} … or nothing that counts?"

    @property
    def text(self) -> str:
        """What is said of it."""
        named = f", {quoted(self.heading)}," if self.heading else " has no heading,"
        what = "holds numbers" if self.is_of_numbers else "may say what rows are"
        example = self.example if len(self.example) <= _LONGEST else f"{self.example[:_LONGEST]}…"
        return f"column {self.letters}{named} {what} ({quoted(example)}, {self.where}) and is not read."

    def problem(self, where: str) -> Problem:
        """Return what a reading by a profile says of it."""
        ways = " or ".join(f'--as "{answer}"' for answer in self.answers)
        if not self.likely:
            ways = f'--as "{self.letters}=fees" (or shipping, discount, refunded …), or {ways}'
        key = self.likely or "fees"
        step = (
            f"Say what it is: {ways}; it is kept for the next exports. In a profile of your own: a line "
            f'{key} = "{self.name}", or ignore = ["{self.name}"], under [columns].'
        )
        return Problem(where, self.text, step)


@dataclass(frozen=True)
class ReadColumns:
    """What a profile reads of a sheet: ``places`` of its columns, ``ignored`` what it leaves out knowingly.

    Of what several columns are, each has a name of its own: more_fees_1, more_fees_2.
    ``currency`` is what amounts are in where no column says it.
    """

    header: Sequence[Cell]
    places: Mapping[str, int]
    ignored: tuple[str, ...] = ()
    decimal_comma: bool = False
    currency: str = ""

    def taken(self) -> set[int]:
        """Return the places of the columns that are read."""
        return set(self.places.values())

    def ignores(self, place: int, heading: str) -> bool:
        """Return whether a column is left out knowingly."""
        names = {normal_heading(each) for each in self.ignored}
        own = normal_heading(heading) if heading else normal_heading(f"column {column_letters(place)}")
        return own in names


def unread_columns(rows: Sequence[Sequence[Cell]], read: ReadColumns) -> list[UnreadColumn]:
    """Return the columns that are not read and hold numbers, or have a meaning that decides about money.

    Left out is what is surely none: numbers of orders and places, dates, pieces known already, sums of what
    is read, and columns of zeros.
    """
    found = []
    for place, cells in _different(rows, read).items():
        heading = read.header[place].text if place < len(read.header) else ""
        unread = _Column(rows, read, place, heading, cells).unread() if cells else None
        if unread is not None:
            found.append(unread)
    return found


def _different(rows: Sequence[Sequence[Cell]], read: ReadColumns) -> dict[int, list[Cell]]:
    """Return the first cell of each different value that says something, by the column that is not read.

    The rows are gone through once: those of a long list are made anew each time they are asked for.
    """
    left, found = read.taken(), dict[int, dict[tuple[type, object], Cell]]()
    for place, cell in enumerate(read.header):
        if read.ignores(place, cell.text):
            left.add(place)
    for row in rows:
        for place, cell in enumerate(row):
            value = cell.value
            if value is None or place in left:
                continue
            if place not in found:
                if place >= len(read.header) and read.ignores(place, ""):
                    left.add(place)
                    continue
                found[place] = {}
            found[place].setdefault((type(value), value), cell)
    return {
        place: [cell for cell in found[place].values() if fold(cell.text) not in _NOTHING]
        for place in sorted(found)
    }


@dataclass(frozen=True)
class _Column:
    rows: Sequence[Sequence[Cell]]
    read: ReadColumns
    place: int
    heading: str
    cells: Sequence[Cell]

    def unread(self) -> UnreadColumn | None:
        """Return the column where it has to be asked about."""
        words = set(plain_heading(self.heading).split())
        numbers = [cell for cell in self.cells if self._number(cell)]
        known = self._known()
        if known and known not in _CODES_ALONE and not numbers and self._says_something(known):
            return self._as_unread(self.cells[0], self._free(known), is_of_numbers=False)
        money = [cell for cell in self.cells if self._is_money(cell)]
        if not numbers or not (len(numbers) * 2 >= len(self.cells) or money):
            return None
        if self._is_none(words, numbers, money):
            return None
        example = money[0] if money else numbers[0]
        return self._as_unread(example, self._free(known or likely_meaning(self.heading)))

    def _as_unread(self, example: Cell, likely: str, *, is_of_numbers: bool = True) -> UnreadColumn:
        where = example.where
        if "column " in where and self.heading:
            where = where.partition(", column")[0]
        return UnreadColumn(self.place, self.heading, example.text, where, likely, is_of_numbers)

    def _number(self, cell: Cell) -> Fraction | None:
        return number_of(cell, decimal_comma=self.read.decimal_comma)

    def _is_money(self, cell: Cell) -> bool:
        if isinstance(cell.value, str):
            return _MONEY.fullmatch(cell.text) is not None
        return isinstance(cell.value, Decimal) and cell.value != cell.value.to_integral_value()

    def _known(self) -> str:
        """Return what the heading or the values say the column is, of what decides about money."""
        text = plain_heading(self.heading)
        scores = {name: nearest_word(text, HEADINGS[name])[0] for name in _TOLD_BY_WORDS if name in HEADINGS}
        best = max(scores, key=lambda name: scores[name])
        if text and scores[best] >= NEAR:
            return best
        if all(cell.text in EXPONENTS for cell in self.cells):
            return "currency"
        few = len(self.cells) <= _MOST_WORDS
        return "type" if few and any(_tells_no_sale(cell.text) for cell in self.cells) else ""

    def _says_something(self, known: str) -> bool:
        """Return whether the texts of a column of known meaning could change what its rows are."""
        if known == "currency":
            return any(cell.text.upper() != self.read.currency for cell in self.cells)
        if known == "type":
            is_status = is_status_heading(self.heading)
            if not is_status and nearest_word(plain_heading(self.heading), HEADINGS["type"])[0] < NEAR:
                return True
            return any(self._row_meaning(cell.text, is_status=is_status) != "sale" for cell in self.cells)
        if known == "refunded_on":
            return "refunded" in self.read.places and known not in self.read.places
        return known not in self.read.places

    def _row_meaning(self, text: str, *, is_status: bool) -> str:
        guess = status_guess(text, refunds_beside="refunded" in self.read.places) if is_status else None
        return guess.meaning if guess is not None else type_guess(text).meaning

    def _free(self, meaning: str) -> str:
        """Return the meaning, or the one beside it where another column has it."""
        if meaning not in self.read.places:
            return meaning
        more = f"more_{meaning.removeprefix('other_')}"
        return more if more in MORE_COLUMNS else ""

    def _is_none(self, words: set[str], numbers: Sequence[Cell], money: Sequence[Cell]) -> bool:
        """Return whether a column of numbers surely is no part of what a sale comes to."""
        values = [value for cell in numbers if (value := self._number(cell)) is not None]
        if not any(values):
            return True
        says_back = not words.isdisjoint(("returned", "back"))
        if (
            not words.isdisjoint(NO_AMOUNT_WORDS)
            and not says_back
            and not (money and likely_meaning(self.heading))
        ):
            return True
        looker = SumLooker(self.read.places, self.read.decimal_comma)
        if not words.isdisjoint(PIECES_WORDS) and looker.always_is(self.rows, self.place, "pieces"):
            return True
        return not words.isdisjoint(SUM_WORDS) and looker.is_sum(self.rows, self.place)


def _tells_no_sale(text: str) -> bool:
    """Return whether a word alone says that a row is no plain sale: cancelled, refunded."""
    if status_guess(text, refunds_beside=False).meaning == "set aside":
        return True
    return any(nearest_word(fold(text), TYPE_WORDS[name])[0] >= NEAR for name in ("refund", "take back"))


def problems_of_unread(columns: Iterable[UnreadColumn], sheet: Sheet, row_number: int) -> list[Problem]:
    """Return the refusals of columns that a profile does not read, each at its heading in a row."""
    return [each.problem(sheet.cell_place(row_number, each.place, each.heading)) for each in columns]

"""Columns that nobody reads: which of them hold money, pieces or anything that a person must decide about."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from ledger.intake.column_values import looks_like_date, number_of
from ledger.intake.heading_words import heading_scores, plain, reason_not_read, why_not_read
from ledger.intake.nearest import quoted
from ledger.intake.proposal import Question
from ledger.intake.table import Cell, column_letters

WEIGHTY = (
    *(
        "quantity",
        "unit",
        "content",
        "pieces",
        "cartons",
        "per_carton",
        "unit_price",
        "line_total",
        "discount_percent",
    ),
    *("missing", "damaged", "duty", "duty_percent", "expires_on", "currency"),
)
"""What a column must not be left out as without a word, whatever stands in it."""

STILL_TO_COME = "what is still to come"
_TAX = "the sales tax of the line"
_HALF = Fraction(1, 2)
_LEAST_OF_A_CODE = 1_000_000
"""Whole numbers from here on are bar codes and telephone numbers, not pieces or money of one line."""
_CURRENCY_WORDS = ("currency", "curr", "cur", "ccy", "währung", "devise", "moneda")
_FEWEST_COUNTING = 3
_MOST_RATES = 2
_MOST_OF_A_RATE = 100
_CLOSE = 90
_LOSS_WORDS = re.compile(r"short|miss|dam|dmg|defect|fault|broken|lost|reject|not ", re.IGNORECASE)


@dataclass(frozen=True)
class Unread:
    """A column that is not read: its place from 0, its heading, and its cells in the rows that are lines."""

    place: int
    heading: str
    cells: Sequence[Cell]
    decimal_comma: bool = False

    @property
    def letters(self) -> str:
        """The column's letters."""
        return column_letters(self.place)

    @property
    def name(self) -> str:
        """The column as questions call it."""
        return f"Column {self.letters} ({quoted(self.heading)})" if self.heading else f"Column {self.letters}"

    @property
    def numbers(self) -> list[Fraction]:
        """The numbers in it."""
        found = (number_of(cell, decimal_comma=self.decimal_comma) for cell in self.cells)
        return [number for number in found if number is not None]

    @property
    def filled(self) -> int:
        """How many of its cells hold anything."""
        return sum(not cell.is_empty for cell in self.cells)


def is_currency_heading(heading: str) -> bool:
    """Return whether a column with this heading names the currency of each line."""
    return plain(heading) in _CURRENCY_WORDS


def holds_numbers(column: Unread) -> bool:
    """Return whether at least half of what stands in a column is numbers, any of them no zero and no code."""
    numbers = column.numbers
    if not any(numbers) or Fraction(len(numbers), column.filled) < _HALF:
        return False
    if all(number.denominator == 1 and number >= _LEAST_OF_A_CODE for number in numbers):
        return False
    return not (not column.heading and _counts_up(numbers))


def _counts_up(numbers: Sequence[Fraction]) -> bool:
    return len(numbers) >= _FEWEST_COUNTING and all(b - a == 1 for a, b in pairwise(numbers))


def must_be_asked(column: Unread) -> bool:
    """Return whether a column that is not read may hold money, pieces or units, so that somebody must say."""
    if not column.filled:
        return False
    reason = reason_not_read(column.heading, column.numbers)
    if reason == _TAX:
        return holds_numbers(column) and not _is_rate(column)
    if reason:
        return reason == STILL_TO_COME and holds_numbers(column)
    if holds_numbers(column):
        return True
    numbers = column.numbers
    is_nothing = len(numbers) == column.filled and not any(numbers)
    own, score = max(heading_scores(column.heading).items(), key=lambda each: each[1], default=("", 0))
    # Words under a heading that only comes near one are no reason: 'Country' is no count.
    return not is_nothing and ((own in WEIGHTY and score >= _CLOSE) or is_currency_heading(column.heading))


def is_of_words(column: Unread) -> bool:
    """Return whether a column holds words, no dates, of which no heading says that they are not needed."""
    filled = [cell for cell in column.cells if not cell.is_empty]
    is_known = bool(reason_not_read(column.heading, column.numbers)) or is_currency_heading(column.heading)
    return bool(filled) and not is_known and not column.numbers and not any(map(looks_like_date, filled))


def item_question(column: Unread) -> Question:
    """Return the question what a column of words is that tells lines apart which are one item without it."""
    shown = ", ".join(dict.fromkeys(quoted(cell.text) for cell in column.cells if not cell.is_empty))
    shown = shown if len(shown) <= 40 else f"{shown[:40]}…"  # noqa: PLR2004 - a glance
    text = f"{column.name} would be left out, and lines of one item differ in it: {shown}. What is it?"
    letters = column.letters
    meanings = ("variant", "colour", "size", "note")
    return Question(
        f"column {letters}", text, (*(f"{letters}={each}" for each in meanings), f"ignore {letters}")
    )


def _is_rate(column: Unread) -> bool:
    """Return whether the numbers are the few rates of a tax, not its amounts."""
    numbers = set(column.numbers)
    is_percent = "%" in column.heading or any("%" in cell.text for cell in column.cells)
    few = len(numbers) <= _MOST_RATES and all(
        number.denominator == 1 and number < _MOST_OF_A_RATE for number in numbers
    )
    return is_percent or (few and column.filled > len(numbers))


def question_about(column: Unread) -> Question:
    """Return the question what a column is, with the likeliest answers."""
    examples = ", ".join(
        dict.fromkeys(cell.text for cell in column.cells if not cell.is_empty and cell.text != "0")
    )
    shown = examples if len(examples) <= 40 else f"{examples[:40]}…"  # noqa: PLR2004 - a glance
    text = f"{column.name} would be left out, and it holds {shown}. What is it?"
    return Question(f"column {column.letters}", text, (*_likely(column), f"ignore {column.letters}"))


def _likely(column: Unread) -> tuple[str, ...]:
    letters, numbers = column.letters, column.numbers
    scores = heading_scores(column.heading)
    if scores:
        name = max(scores.items(), key=lambda each: each[1])[0]
        return (f"{letters}={name.replace('_', ' ')}",)
    if why_not_read(column.heading) == STILL_TO_COME or _LOSS_WORDS.search(column.heading):
        return (f"{letters}=missing", f"{letters}=damaged")
    if "%" in column.heading:
        return (f"{letters}=discount percent",)
    if numbers and all(number.denominator == 1 for number in numbers):
        return (f"{letters}=missing", f"{letters}=damaged")
    return (f"{letters}=unit price", f"{letters}=line total") if numbers else ()

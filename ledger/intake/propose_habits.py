"""A file's habits: its decimal sign, its order of dates, its currency. Asked where the file does not tell."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import cast

from ledger.intake.column_values import currency_codes
from ledger.intake.currency_marks import SIGNS
from ledger.intake.nearest import quoted
from ledger.intake.proposal import SURE, Decision, Question
from ledger.intake.table import Cell
from ledger.intake.values import DATE_ORDERS, DateOrder

_NUMBERLIKE = re.compile(r"[^\d]{0,5}\d[\d.,'\u00a0\u202f ]*[^\d]{0,5}")
_CERTAIN = (
    r"(?:\d{{1,3}}(?:\{group}\d{{3}})+\{sign}\d+|\d+\{sign}(?:\d{{1,2}}|\d{{4,}})|0\{sign}\d+|\{sign}\d+)"
)
_POINT = re.compile(_CERTAIN.format(group=",", sign="."))
_COMMA = re.compile(_CERTAIN.format(group=".", sign=","))
_EITHER = re.compile(r"[1-9]\d{0,2}[.,]\d{3}")
_DATE = re.compile(r"(?<![\d.,/-])(\d{1,2})([./-])(\d{1,2})\2(\d{4}|\d{2})(?![\d.,/-])")
_LONGEST = 80
_LAST_MONTH = 12


@dataclass(frozen=True)
class Habit:
    """What was found: the value, the decision shown for it, and the question where it is not known."""

    value: str
    decision: Decision
    question: Question | None = None


def decimal_habit(cells: Iterable[Cell], *, told: bool | None) -> Habit:
    """Return the decimal sign, 'comma' or 'point', that the texts among the cells are written with."""
    subject = "decimal sign"
    if told is not None:
        word = "comma" if told else "point"
        return Habit(word, Decision(subject, word, SURE, "as you said"))
    found: dict[str, str] = {}
    for cell in cells:
        if isinstance(cell.value, Decimal):
            if "number" not in found:
                found["number"] = cell.text
        elif isinstance(cell.value, str) and _NUMBERLIKE.fullmatch(cell.text):
            found.setdefault(_sign_of(re.sub(r"[^\d.,]", "", cell.text)), cell.text)
    if "point" in found and "comma" in found:
        point, comma = quoted(found["point"]), quoted(found["comma"])
        text = f"{point} has a decimal point and {comma} a decimal comma. Which does the file use?"
        return _unknown_sign(text)
    for word in ("comma", "point"):
        if word in found:
            return Habit(word, Decision(subject, word, 95, f"as in {quoted(found[word])}"))
    if "either" in found:
        shown = quoted(found["either"])
        text = f"{shown} may be a thousand or a fraction. Which sign has the file before decimals?"
        return _unknown_sign(text)
    why = "the cells are numbers" if "number" in found else "no number has decimals"
    return Habit("point", Decision(subject, "point", 90, why))


def _sign_of(digits: str) -> str:
    """Return the decimal sign that digits with their separators are surely written with, or 'either'."""
    for word, pattern in (("point", _POINT), ("comma", _COMMA), ("either", _EITHER)):
        if pattern.fullmatch(digits):
            return word
    return "none"


def _unknown_sign(text: str) -> Habit:
    question = Question("decimal sign", text, ("decimal comma", "decimal point"))
    return Habit("point", Decision("decimal sign", "not known", 0, "the file does not tell"), question)


def date_habit(evidence: Iterable[str], read: Iterable[str], told: str) -> Habit:
    """Return the order of dates.

    Arguments:
        evidence: every text of the file, any of which may tell.
        read: the texts that will be read as dates: without an answer they need one.
        told: what a person said.
    """
    subject = "date order"
    if told:
        return Habit(told, Decision(subject, told, SURE, "as you said"))
    found = _orders(evidence)
    dotted = found.pop("dotted", "")
    if len(found) == 1:
        order, text = next(iter(found.items()))
        return Habit(order, Decision(subject, order, 97, f"{quoted(text)} can be read in no other way"))
    if not found and dotted:
        why = f"with full stops, as in {quoted(dotted)}, the day stands first"
        return Habit("day month year", Decision(subject, "day month year", 88, why))
    texts = list(read)
    unclear = [text for text in texts if _dates(text)]
    if unclear:
        return _unknown_order(unclear[0], found)
    why = "no date of the file can be read in two ways"
    if any(char.isalpha() for text in texts for char in text):
        return Habit(
            "day month year", Decision(subject, "day month year", 80, f"{why}: the months are words")
        )
    # The year first is what no ambiguous date of a later file can be read by: it is refused, not guessed.
    return Habit("year month day", Decision(subject, "year month day", 90, why))


def _orders(evidence: Iterable[str]) -> dict[str, str]:
    """Return the orders that dates of the texts can only be read by, each with a date that tells."""
    found: dict[str, str] = {}
    for text in evidence:
        for first, sign, second, _ in _dates(text):
            if first > _LAST_MONTH:
                found.setdefault("day month year", text)
            elif second > _LAST_MONTH:
                found.setdefault("month day year", text)
            elif sign == ".":
                found.setdefault("dotted", text)
    return found


def _unknown_order(text: str, found: dict[str, str]) -> Habit:
    text = f"{quoted(text)} can be read in two ways, and " + (
        "other dates of the file point to both." if found else "no other date of the file tells which."
    )
    orders = tuple(order for order in DATE_ORDERS if order != "year month day")
    question = Question("date order", text, tuple(f"date order {order}" for order in orders))
    return Habit("", Decision("date order", "not known", 0, "the file does not tell"), question)


def _dates(text: str) -> list[tuple[int, str, int, str]]:
    if len(text) > _LONGEST:
        return []
    return [(int(a), sign, int(b), year) for a, sign, b, year in _DATE.findall(text)]


def as_date_order(habit: Habit) -> DateOrder:
    """Return the order a profile holds; what is still to be asked stands as the year first."""
    return cast("DateOrder", habit.value or "year month day")


def currency_habit(
    texts: list[str], told: str, label: str, book: str, book_words: str = "the book's own"
) -> Habit:
    """Return the currency: what was said, what the head's label, the codes and signs tell, else the book's.

    ``label`` is the value beside the head's label, empty where there is none. The value is empty
    where the book's own is meant.
    """
    subject = "currency"
    if told:
        return Habit(told, Decision(subject, told, SURE, "as you said"))
    stated = currency_codes([label.upper()]) if label else set()
    codes = stated or currency_codes(texts)
    if len(codes) == 1:
        code = next(iter(codes))
        why = "the head says so" if stated else "its code stands in the file"
        return Habit(code, Decision(subject, code, 95, why))
    if codes:
        names = sorted(codes)
        text = f"The file names {', '.join(names)}. In which are the prices?"
        question = Question(subject, text, tuple(f"currency {name}" for name in names))
        return Habit("", Decision(subject, "not known", 0, "several are named"), question)
    return _by_sign(texts, book, book_words)


def _by_sign(texts: list[str], book: str, book_words: str) -> Habit:
    subject = "currency"
    signs = sorted(
        {sign for text in texts for sign in SIGNS if sign in text and any(c.isdigit() for c in text)}
    )
    if len(signs) > 1:
        text = f"The signs {' and '.join(signs)} stand in the file. In which currency are the prices?"
        question = Question(subject, text, tuple(f"currency {SIGNS[sign][0]}" for sign in signs))
        return Habit("", Decision(subject, "not known", 0, "several signs"), question)
    if not signs:
        why = f"the file names none: {book_words} is proposed"
        return Habit(book, Decision(subject, book or "the book's", 60, why))
    possible = SIGNS[signs[0]]
    if len(possible) == 1:
        return Habit(possible[0], Decision(subject, possible[0], 92, f"the sign {signs[0]}"))
    if book in possible:
        return Habit(book, Decision(subject, book, 80, f"the sign {signs[0]}, and it is {book_words}"))
    text = f"The sign {signs[0]} may be {', '.join(possible)}. Which is it?"
    question = Question(subject, text, tuple(f"currency {name}" for name in possible))
    return Habit(
        "", Decision(subject, "not known", 0, f"the sign {signs[0]} is several currencies'"), question
    )

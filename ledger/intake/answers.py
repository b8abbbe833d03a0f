"""Corrections of a proposal, each in a line: ``F=unit price``, ``date order day month year``, ``ignore G``."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from fractions import Fraction

from ledger.errors import InputErrors, Problem, ValueProblem
from ledger.exact.currencies import EXPONENTS, read_currency
from ledger.intake.charge_words import read_charge
from ledger.intake.head_labels import is_date_text
from ledger.intake.nearest import fold, nearest, quoted
from ledger.intake.profile import (
    COLUMNS,
    DATE_ORDERS,
    FOOT_MEANINGS,
    HEAD_FIELDS,
    LOSS_UNITS,
    PRICE_UNITS,
    base_of_content,
)
from ledger.intake.proposal import IGNORED, Answers
from ledger.intake.table import Cell
from ledger.intake.values import DateOrder, read_date

FORMS = (
    "F=unit price",
    "ignore G",
    "date order day month year",
    "decimal comma",
    "currency EUR",
    "price per dozen",
    "header row 5",
    "sheet Invoice",
    'label "Handling" = other by value',
    "reference = cell B2",
    "date = 2026-01-31",
    "pack CS = 72 each",
    "unit of INK-7 = bottle",
    "unit dozen",
    "losses in pieces",
    "sku pattern {style}-{colour}-{size}",
)
"""One of each line that is understood."""

WHAT_A_LABEL_IS = (
    f"{', '.join(FOOT_MEANINGS)}, or a charge such as freight by value, tax by value, other by value"
)
"""What a row under the lines can be called."""

_COLUMN = re.compile(r"(?:column\s+)?([A-Za-z]{1,3})\s*=\s*(.+)")
_LABEL = re.compile(r'label\s+(?:"([^"]+)"|([^=]+?))\s*=\s*(.+)', re.IGNORECASE)
_PACK = re.compile(r"pack\s+(?:\"([^\"]+)\"|([^=]+?))\s*=\s*(.+)", re.IGNORECASE)
_UNIT_OF = re.compile(r"unit\s+of\s+(?:\"([^\"]+)\"|([^=]+?))\s*=\s*(.+)", re.IGNORECASE)
_SEVERAL = re.compile(r"[A-Za-z]{1,3}(?:(?: *, *| +)[A-Za-z]{1,3})*")
_ORDERS: tuple[DateOrder, ...] = ("day month year", "month day year", "year month day")
_SIZE = re.compile(r"size\s+(\S.*)", re.IGNORECASE)


def read_answers(lines: Iterable[str], before: Answers | None = None) -> Answers:
    """Return what several lines say, on top of what was said before.

    Raises InputErrors with every line that is not understood.
    """
    answers, problems = before or Answers(), []
    for number, line in enumerate(lines, 1):
        try:
            answers = read_answer(line, answers)
        except ValueProblem as problem:
            problems.append(Problem(f"--as {number}", str(problem)))
    if problems:
        raise InputErrors("what you said of the file", problems)
    return answers


def read_answer(line: str, before: Answers) -> Answers:
    """Return what one line says, on top of what was said before; FORMS shows the lines.

    Raises ValueProblem where the line is not understood.
    """
    text = " ".join(line.split())
    word, _, rest = text.partition(" ")
    word = word.casefold()
    if word == "ignore" and _SEVERAL.fullmatch(rest):
        for letters in re.findall(r"[A-Za-z]+", rest):
            before = _with_column(before, letters, IGNORED)
        return before
    for pattern, reader in ((_LABEL, _label), (_PACK, _pack), (_UNIT_OF, _unit_of)):
        match = pattern.fullmatch(text)
        if match is not None:
            return reader(before, (match[1] or match[2]).strip(), match[3].strip())
    name, equals, value = (part.strip() for part in text.partition("="))
    if equals and value and fold(name) in HEAD_FIELDS:
        return _head(before, fold(name), value.strip('"'))
    match = _COLUMN.fullmatch(text)
    if match is not None:
        return _with_column(before, match[1], _meaning(match[2]))
    return _habit(before, text)


def _head(before: Answers, name: str, value: str) -> Answers:
    """Return what is said of a field of the head: its label or cell, or the date or currency itself."""
    if name == "date" and is_date_text(value):
        return replace(before, date=_day(value))
    if name == "currency" and value.upper() in EXPONENTS:
        return replace(before, currency=value.upper())
    return replace(before, head={**before.head, name: value})


def _day(text: str) -> datetime.date:
    """Return a date typed as an answer. Raises ValueProblem where it could be two days."""
    days = set()
    for order in _ORDERS:
        try:
            days.add(read_date(Cell(text, ""), order))
        except ValueProblem:
            continue
    if len(days) > 1:
        raise ValueProblem(f"{quoted(text)} can be read in more than one way: write it like 2026-01-31.")
    return days.pop()


def _habit(before: Answers, text: str) -> Answers:
    folded = fold(text)
    if folded in ("decimal comma", "decimal point"):
        return replace(before, decimal_comma=folded == "decimal comma")
    for start, reader in _HABITS.items():
        if folded.startswith(f"{start} "):
            return reader(before, text[len(start) :].strip())
    raise ValueProblem(f"{quoted(text)} is not understood. Write it like one of these: {'; '.join(FORMS)}.")


def _header_row(before: Answers, value: str) -> Answers:
    if re.fullmatch(r"[1-9]\d{0,6}", value, re.ASCII) is None:
        raise ValueProblem(f"{quoted(value)} is not a row number: rows are whole numbers from 1.")
    return replace(before, header_row=int(value))


_HABITS: dict[str, Callable[[Answers, str], Answers]] = {
    "date order": lambda before, value: replace(before, date_order=_choice(value, DATE_ORDERS)),
    "price per": lambda before, value: replace(before, price_per=_choice(value, PRICE_UNITS)),
    "losses in": lambda before, value: replace(before, losses_in=_choice(value, LOSS_UNITS)),
    "currency": lambda before, value: replace(before, currency=read_currency(value)),
    "sheet": lambda before, value: replace(before, sheet=value.strip('"')),
    "sku pattern": lambda before, value: replace(before, sku_pattern=value),
    "header row": _header_row,
    "unit": lambda before, value: replace(before, default_unit=value.strip('"')),
}


def _choice(text: str, choices: tuple[str, ...]) -> str:
    value = fold(text)
    if value not in choices:
        raise ValueProblem(f"{quoted(text)} is none of {', '.join(choices)}.")
    return value


def _with_column(before: Answers, letters: str, meaning: str) -> Answers:
    columns = {key: value for key, value in before.columns.items() if value != meaning or meaning == IGNORED}
    return replace(before, columns={**columns, letters.upper(): meaning})


def _meaning(text: str) -> str:
    """Return what a column is said to be: a column of profiles, 'size M', or IGNORED."""
    folded = fold(text).replace("_", " ").replace("color", "colour")
    size = _SIZE.fullmatch(text.strip())
    if size is not None:
        return f"size {size[1].strip()}"
    if folded in (IGNORED, "nothing", "no"):
        return IGNORED
    names = {name.replace("_", " "): name for name in COLUMNS}
    if folded not in names:
        near = nearest(folded, names)
        hint = f"Did you mean {quoted(near[0])}? " if near else ""
        raise ValueProblem(
            f"{quoted(text)} is nothing a column can be. {hint}A column can be: {', '.join(names)}, "
            "size with its name (size M), or ignore."
        )
    return names[folded]


def _label(before: Answers, label: str, meaning: str) -> Answers:
    folded = fold(meaning)
    if folded not in FOOT_MEANINGS:
        _check_charge(meaning)
    return replace(before, foot={**before.foot, label: folded if folded in FOOT_MEANINGS else meaning})


def _check_charge(meaning: str) -> None:
    """Check the words of a charge, which do without an amount: that stands in the file."""
    if any(word in ("off", "less") for word in fold(meaning).split()) or meaning.strip().endswith("%"):
        raise ValueProblem(
            f"{quoted(meaning)}: the amount stands in the file. What lowers the price of the lines is: discount."
        )
    try:
        read_charge(meaning, amount=Fraction(1))
    except ValueProblem as problem:
        raise ValueProblem(f"{problem} A label can be: {WHAT_A_LABEL_IS}.") from None


def _pack(before: Answers, word: str, content: str) -> Answers:
    if content[:1].isdigit() and base_of_content(content) is None:
        raise ValueProblem(f"{quoted(content)} is not the content of a pack: write it like 72 each.")
    return replace(before, packs={**before.packs, word: content})


def _unit_of(before: Answers, item: str, unit: str) -> Answers:
    return replace(before, units={**before.units, item: unit.strip('"')})

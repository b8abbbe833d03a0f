"""Corrections of a proposal, each in a line: ``F=unit price``, ``date order day month year``, ``ignore G``."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from fractions import Fraction

from ledger.errors import ValueProblem
from ledger.exact.currencies import EXPONENTS, read_currency
from ledger.intake.answer_lines import (
    COLUMN,
    choice,
    column_meaning,
    ignored_columns,
    read_lines,
    with_column,
)
from ledger.intake.charge_words import read_charge
from ledger.intake.head_labels import is_date_text
from ledger.intake.nearest import fold, quoted
from ledger.intake.pack_content import stated_content
from ledger.intake.profile import (
    COLUMNS,
    FOOT_MEANINGS,
    HEAD_FIELDS,
    LOSS_UNITS,
    PRICE_UNITS,
)
from ledger.intake.proposal import IGNORED, Answers
from ledger.intake.table import Cell
from ledger.intake.values import DATE_ORDERS, read_date

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

_OF_A_NAME = r'\s+(?:"([^"]+)"|([^=]+?))\s*=\s*(.+)'
_LABEL = re.compile(f"label{_OF_A_NAME}", re.IGNORECASE)
_PACK = re.compile(f"pack{_OF_A_NAME}", re.IGNORECASE)
_UNIT_OF = re.compile(rf"unit\s+of{_OF_A_NAME}", re.IGNORECASE)
_SIZE = re.compile(r"size\s+(\S.*)", re.IGNORECASE)


def read_answers(lines: Iterable[str], before: Answers | None = None) -> Answers:
    """Return what several lines say, on top of what was said before.

    Raises InputErrors with every line that is not understood.
    """
    return read_lines(lines, read_answer, before or Answers())


def read_answer(line: str, before: Answers) -> Answers:
    """Return what one line says, on top of what was said before; FORMS shows the lines.

    Raises ValueProblem where the line is not understood.
    """
    text = " ".join(line.split())
    if left := ignored_columns(text):
        return replace(before, columns={**before.columns, **{each.upper(): IGNORED for each in left}})
    for pattern, reader in ((_LABEL, _label), (_PACK, _pack), (_UNIT_OF, _unit_of)):
        match = pattern.fullmatch(text)
        if match is not None:
            return reader(before, (match[1] or match[2]).strip(), match[3].strip())
    name, equals, value = (part.strip() for part in text.partition("="))
    if equals and value and fold(name) in HEAD_FIELDS:
        return _head(before, fold(name), value.strip('"'))
    match = COLUMN.fullmatch(text)
    if match is not None:
        return replace(before, columns=with_column(before.columns, match[1], _meaning(match[2])))
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
    for order in DATE_ORDERS:
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
    "date order": lambda before, value: replace(before, date_order=choice(value, DATE_ORDERS)),
    "price per": lambda before, value: replace(before, price_per=choice(value, PRICE_UNITS)),
    "losses in": lambda before, value: replace(before, losses_in=choice(value, LOSS_UNITS)),
    "currency": lambda before, value: replace(before, currency=read_currency(value)),
    "sheet": lambda before, value: replace(before, sheet=value.strip('"')),
    "sku pattern": lambda before, value: replace(before, sku_pattern=value),
    "header row": _header_row,
    "unit": lambda before, value: replace(before, default_unit=value.strip('"')),
}


def _meaning(text: str) -> str:
    """Return what a column is said to be: a column of profiles, 'size M', or IGNORED."""
    size = _SIZE.fullmatch(text.strip())
    if size is not None:
        return f"size {size[1].strip()}"
    said = "colour" if fold(text) == "color" else text
    return column_meaning(said, COLUMNS, "size with its name (size M), ")


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
    if content[:1].isdigit() and stated_content(content) is None:
        raise ValueProblem(f"{quoted(content)} is not the content of a pack: write it like 72 each.")
    return replace(before, packs={**before.packs, word: content})


def _unit_of(before: Answers, item: str, unit: str) -> Answers:
    return replace(before, units={**before.units, item: unit.strip('"')})

"""Corrections of a proposal, each in a line: ``F=unit price``, ``date order day month year``, ``ignore G``."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from ledger.errors import InputErrors, Problem, ValueProblem
from ledger.exact.currencies import read_currency
from ledger.intake.charge_words import read_charge
from ledger.intake.nearest import did_you_mean, fold, quoted
from ledger.intake.profile import COLUMNS, DATE_ORDERS, FOOT_MEANINGS, HEAD_FIELDS, PRICE_UNITS, base_of_content
from ledger.intake.proposal import IGNORED, Answers

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
    "pack CS = 72 each",
    "sku pattern {style}-{colour}-{size}",
)
"""One of each line that is understood."""

_COLUMN = re.compile(r"(?:column\s+)?([A-Za-z]{1,3})\s*=\s*(.+)")
_LABEL = re.compile(r'label\s+(?:"([^"]+)"|([^=]+?))\s*=\s*(.+)', re.IGNORECASE)
_PACK = re.compile(r"pack\s+(?:\"([^\"]+)\"|([^=]+?))\s*=\s*(.+)", re.IGNORECASE)
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
    if word == "ignore" and re.fullmatch(r"[A-Za-z]{1,3}", rest):
        return _with_column(before, rest, IGNORED)
    for pattern, reader in ((_LABEL, _label), (_PACK, _pack)):
        match = pattern.fullmatch(text)
        if match is not None:
            return reader(before, (match[1] or match[2]).strip(), match[3].strip())
    name, equals, value = (part.strip() for part in text.partition("="))
    if equals and value and fold(name) in HEAD_FIELDS:
        return replace(before, head={**before.head, fold(name): value.strip('"')})
    match = _COLUMN.fullmatch(text)
    if match is not None:
        return _with_column(before, match[1], _meaning(match[2]))
    return _habit(before, text)


def _habit(before: Answers, text: str) -> Answers:
    folded = fold(text)
    for start, field, choices in (
        ("date order", "date_order", DATE_ORDERS),
        ("price per", "price_per", PRICE_UNITS),
    ):
        if folded.startswith(f"{start} "):
            value = folded.removeprefix(start).strip()
            if value not in choices:
                raise ValueProblem(f"{quoted(value)}: {start} is {', '.join(choices)}.")
            return replace(before, **{field: value})
    if folded in ("decimal comma", "decimal point"):
        return replace(before, decimal_comma=folded == "decimal comma")
    if folded.startswith("currency "):
        return replace(before, currency=read_currency(text.split(" ", 1)[1]))
    if folded.startswith("sheet "):
        return replace(before, sheet=text.split(" ", 1)[1].strip('"'))
    row = re.fullmatch(r"header row ([1-9]\d{0,6})", folded, re.ASCII)
    if row is not None:
        return replace(before, header_row=int(row[1]))
    if folded.startswith("sku pattern "):
        return replace(before, sku_pattern=text.split(" ", 2)[2])
    raise ValueProblem(f"{quoted(text)} is not understood. Write it like one of these: {'; '.join(FORMS)}.")


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
        raise ValueProblem(f"{quoted(text)} is nothing a column can be. {did_you_mean(folded, names)}")
    return names[folded]


def _label(before: Answers, label: str, meaning: str) -> Answers:
    folded = fold(meaning)
    if folded not in FOOT_MEANINGS:
        # The amount of a charge stands in the file: the words do without.
        read_charge(meaning, amount=Fraction(1))
    return replace(before, foot={**before.foot, label: folded if folded in FOOT_MEANINGS else meaning})


def _pack(before: Answers, word: str, content: str) -> Answers:
    if content[:1].isdigit() and base_of_content(content) is None:
        raise ValueProblem(f"{quoted(content)} is not the content of a pack: write it like 72 each.")
    return replace(before, packs={**before.packs, word: content})

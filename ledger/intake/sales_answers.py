"""Corrections of a sales proposal, each in a line: ``F=fees``, ``ignore G``, ``type "Order" = sale``."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any

from ledger.errors import ValueProblem
from ledger.intake.answer_lines import (
    COLUMN,
    choice,
    column_meaning,
    ignored_columns,
    read_lines,
    with_column,
)
from ledger.intake.answers import read_answer
from ledger.intake.nearest import fold, quoted
from ledger.intake.proposal import IGNORED, Answers
from ledger.intake.sales_profile import (
    DISCOUNT_HABITS,
    MINUS_COLUMNS,
    MORE_COLUMNS,
    PER_ORDER_COLUMNS,
    SALES_COLUMNS,
    TAX_HABITS,
    TYPES,
)

SALES_FORMS = (
    "F=fees",
    "ignore G",
    'type "Order" = sale',
    "date order day month year",
    "decimal comma",
    "currency EUR",
    "header row 5",
    "sheet Orders",
    "tax inside",
    "discount taken off",
    "discount in the price",
    "minus fees",
    "per order shipping",
    "per row shipping",
    "refunds on sale date",
    "refunds above shipping",
    "money below zero is refund",
    "fee rows minus",
    'set aside "gift card"',
)
"""One of each line that is understood."""

_COLUMN_AS_WORDS = re.compile(r"(?:column\s+)?([A-Za-z]{1,3})\s+(.+)")
_TYPE = re.compile(r"(?:type\s+)?\"([^\"]*)\"\s*=\s*\"?([^\"]+?)\"?", re.IGNORECASE)
_TYPE_UNQUOTED = re.compile(r"type\s+([^=\"]+?)\s*=\s*\"?([^\"]+?)\"?", re.IGNORECASE)
_SHARED = ("date order ", "decimal ", "currency ", "sheet ", "header row ")
"""How the lines begin that say the same of a supplier's file."""


def _none() -> Mapping[Any, Any]:
    return MappingProxyType({})


@dataclass(frozen=True)
class SalesAnswers:
    """What a person said about a sales export; it comes before every proposal.

    ``columns`` maps letters to what the column is, IGNORED among it; ``types`` a word of the type column
    to its meaning. ``settings`` are values of the profile's tables by table and key; ``per_order`` says of
    a column whether it stands once for an order.
    """

    columns: Mapping[str, str] = field(default_factory=_none)
    types: Mapping[str, str] = field(default_factory=_none)
    settings: Mapping[tuple[str, str], Any] = field(default_factory=_none)
    minus: tuple[str, ...] = ()
    per_order: Mapping[str, bool] = field(default_factory=_none)
    set_aside: tuple[str, ...] = ()
    currency: str = ""

    def setting(self, table: str, key: str, default: Any = "") -> Any:
        """Return what was said of one key of a profile's table."""
        return self.settings.get((table, key), default)


def read_sales_answers(lines: Iterable[str], before: SalesAnswers | None = None) -> SalesAnswers:
    """Return what several lines say, on top of what was said before.

    Raises InputErrors with every line that is not understood.
    """
    return read_lines(lines, read_sales_answer, before or SalesAnswers())


def read_sales_answer(line: str, before: SalesAnswers) -> SalesAnswers:
    """Return what one line says, on top of what was said before; SALES_FORMS shows the lines.

    Raises ValueProblem where the line is not understood.
    """
    text = " ".join(line.split())
    folded = fold(text)
    if left := ignored_columns(text):
        return replace(before, columns={**before.columns, **{each.upper(): IGNORED for each in left}})
    for pattern in (_TYPE, _TYPE_UNQUOTED):
        match = pattern.fullmatch(text)
        if match is not None:
            return replace(before, types={**before.types, match[1].strip(): choice(match[2], TYPES)})
    match = COLUMN.fullmatch(text)
    if match is not None:
        return _with_column(before, match[1], match[2])
    if folded.startswith(_SHARED):
        return _shared(before, text)
    for start, reader in _HABITS.items():
        if folded.startswith(f"{start} "):
            return reader(before, text[len(start) :].strip())
    match = _COLUMN_AS_WORDS.fullmatch(text)
    if match is not None and fold(match[2]).replace("_", " ") in _MEANINGS:
        return _with_column(before, match[1], match[2])
    raise ValueProblem(
        f"{quoted(text)} is not understood. Write it like one of these: {'; '.join(SALES_FORMS)}."
    )


def _shared(before: SalesAnswers, text: str) -> SalesAnswers:
    """Return what a line says that means the same for a supplier's file."""
    said = read_answer(text, Answers())
    if said.currency:
        return replace(before, currency=said.currency)
    for table, key, value in (
        ("numbers", "date_order", said.date_order or None),
        ("numbers", "decimal_comma", said.decimal_comma),
        ("file", "sheet", said.sheet or None),
        ("file", "header_row", said.header_row),
    ):
        if value is not None:
            return _set(before, table, key, value)
    raise ValueProblem(f"{quoted(text)} is not understood. Write it like: {'; '.join(SALES_FORMS)}.")


def _set(before: SalesAnswers, table: str, key: str, value: Any) -> SalesAnswers:
    return replace(before, settings={**before.settings, (table, key): value})


_MEANINGS = tuple(name.replace("_", " ") for name in SALES_COLUMNS)


def _with_column(before: SalesAnswers, letters: str, text: str) -> SalesAnswers:
    meaning = column_meaning(text, SALES_COLUMNS)
    return replace(before, columns=with_column(before.columns, letters, meaning, MORE_COLUMNS))


def _column_of(text: str, columns: tuple[str, ...]) -> str:
    return choice(text.replace("_", " "), tuple(name.replace("_", " ") for name in columns)).replace(" ", "_")


def _minus(before: SalesAnswers, value: str) -> SalesAnswers:
    return replace(before, minus=tuple(dict.fromkeys((*before.minus, _column_of(value, MINUS_COLUMNS)))))


def _per(before: SalesAnswers, value: str, *, once: bool) -> SalesAnswers:
    name = _column_of(value, PER_ORDER_COLUMNS)
    return replace(before, per_order={**before.per_order, name: once})


def _aside(before: SalesAnswers, value: str) -> SalesAnswers:
    word = value.strip('"').strip()
    if not word:
        raise ValueProblem('nothing stands after it: write it like set aside "gift card".')
    return replace(before, set_aside=tuple(dict.fromkeys((*before.set_aside, word))))


_HABITS: Mapping[str, Callable[[SalesAnswers, str], SalesAnswers]] = {
    "tax": lambda before, value: _set(before, "amounts", "tax", choice(value, TAX_HABITS)),
    "refund tax": lambda before, value: _set(before, "refunds", "tax", choice(value, TAX_HABITS)),
    "discount": lambda before, value: _set(before, "amounts", "discount", choice(value, DISCOUNT_HABITS)),
    "minus": _minus,
    "per order": lambda before, value: _per(before, value, once=True),
    "per row": lambda before, value: _per(before, value, once=False),
    "refunds on": lambda before, value: _set(before, "refunds", "undated", choice(value, ("sale date",))),
    "refunds above": lambda before, value: _set(
        before, "refunds", "above_item_total", choice(value, ("shipping",))
    ),
    "money below zero is": lambda before, value: _set(
        before, "refunds", "below_zero", choice(value, ("refund", "take back"))
    ),
    "fee rows": lambda before, value: _set(before, "amounts", "fee_rows", choice(value, ("minus", "plus"))),
    "set aside": _aside,
}

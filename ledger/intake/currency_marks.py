"""Currency codes and signs in a file: which currencies each of them can mean."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ledger.intake.column_values import currency_codes
from ledger.intake.table import Cell

DOLLARS = ("USD", "CAD", "AUD", "NZD", "HKD", "SGD", "MXN")
SIGNS = {"€": ("EUR",), "£": ("GBP",), "¥": ("CNY", "JPY"), "$": DOLLARS, "元": ("CNY",), "₹": ("INR",)}
"""Each sign with the currencies it is used for, the likeliest first."""

_WHOSE = {
    "US$": "USD",
    "CA$": "CAD",
    "C$": "CAD",
    "A$": "AUD",
    "AU$": "AUD",
    "NZ$": "NZD",
    "HK$": "HKD",
    "S$": "SGD",
    "CN¥": "CNY",
    "RMB": "CNY",
    "EURO": "EUR",
}
_DOLLAR = re.compile(r"[A-Z]{0,2}[$¥]")
_PLAIN = re.compile(r"[\d\s.,'()+-]*")


@dataclass(frozen=True)
class CurrencyMark:
    """What tells a currency: the cell it stands in, and the currencies it can mean."""

    cell: Cell
    possible: tuple[str, ...]


def marks_of(cell: Cell, *, is_label_value: bool = False) -> list[CurrencyMark]:
    """Return what a cell says about the currency: its codes, and the signs beside its numbers.

    Arguments:
        cell: any cell; numbers and dates say nothing.
        is_label_value: it stands beside the label of the currency, so a word alone is enough.
    """
    if not isinstance(cell.value, str):
        return []
    text = cell.text
    if _PLAIN.fullmatch(text):
        return []
    codes = currency_codes([text.upper() if is_label_value else text])
    found = [CurrencyMark(cell, (code,)) for code in sorted(codes)]
    if found or not (is_label_value or any(char.isdigit() for char in text)):
        return found
    whose = next((code for sign, code in _WHOSE.items() if sign in text.upper()), "")
    signs = [match[0] for match in _DOLLAR.finditer(text)] if not whose else []
    if whose or signs:
        return [CurrencyMark(cell, (whose,) if whose else SIGNS[signs[0][-1]])]
    return [CurrencyMark(cell, currencies) for sign, currencies in SIGNS.items() if sign in text]

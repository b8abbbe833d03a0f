"""What a sales export tells of its currency: in headings like 'Amount EUR', in signs beside its numbers."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

from ledger.errors import Problem
from ledger.exact.currencies import EXPONENTS
from ledger.intake.nearest import quoted
from ledger.intake.table import Cell

DOLLARS = ("USD", "CAD", "AUD", "NZD", "HKD", "SGD", "MXN")
"""The currencies that a plain $ may be."""

_SIGNS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "€": ("EUR",),
        "£": ("GBP",),
        "¥": ("CNY", "JPY"),
        "$": DOLLARS,
        "元": ("CNY",),
        "₹": ("INR",),
        "₩": ("KRW",),
        "₺": ("TRY",),
        "₪": ("ILS",),
        "₫": ("VND",),
        "฿": ("THB",),
        "₱": ("PHP",),
    }
)
_COUNTRY_SIGNS: Mapping[str, str] = MappingProxyType(
    {
        "us$": "USD",
        "c$": "CAD",
        "ca$": "CAD",
        "a$": "AUD",
        "au$": "AUD",
        "nz$": "NZD",
        "hk$": "HKD",
        "s$": "SGD",
        "mx$": "MXN",
        "r$": "BRL",
        "cn¥": "CNY",
        "jp¥": "JPY",
    }
)
_WORDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "euro": ("EUR",),
        "euros": ("EUR",),
        "dollar": DOLLARS,
        "dollars": DOLLARS,
        "sterling": ("GBP",),
        "pounds": ("GBP",),
        "zł": ("PLN",),
        "zloty": ("PLN",),
        "yen": ("JPY",),
        "yuan": ("CNY",),
    }
)
_IN_SMALL_LETTERS = frozenset(
    [
        *("usd", "eur", "gbp", "cad", "aud", "nzd", "chf", "jpy", "cny", "inr", "sek", "nok", "dkk", "pln"),
        "czk",
    ]
)
"""Codes that count in small letters too: no other word is written so."""
_ALSO_WORDS = frozenset(
    ["ALL", "TOP", "TRY", "PEN", "CUP", "MOP", "GEL", "COP", "LAK", "MAD", "BAM", "SOS", "BOB", "RON", "MUR"]
)
"""Codes that are words as well: 'TOTAL ALL' tells no currency."""
_PART = re.compile(r"[^\W\d_]+")
_SIGNED = re.compile(r"([A-Za-z]{0,2})([€£¥$元₹₩₺₪₫฿₱])")


@lru_cache(maxsize=8192)
def currencies_in(text: str) -> tuple[str, ...]:
    """Return the currencies that a heading or a number's text may mean; empty where it tells none.

    >>> currencies_in("Amount EUR"), currencies_in("Fees (£)"), currencies_in("22.00")
    (('EUR',), ('GBP',), ())
    """
    for letters, sign in _SIGNED.findall(text):
        country = _COUNTRY_SIGNS.get(f"{letters}{sign}".casefold())
        return (country,) if country else _SIGNS[sign]
    for part in _PART.findall(text):
        if part.upper() in EXPONENTS and (
            (part.isupper() and part not in _ALSO_WORDS) or part in _IN_SMALL_LETTERS
        ):
            return (part.upper(),)
        if part.casefold() in _WORDS:
            return _WORDS[part.casefold()]
        if part.casefold() in _IN_SMALL_LETTERS:
            return (part.upper(),)
    return ()


@dataclass(frozen=True, slots=True)
class CurrencyTold:
    """What may be the currency of some amounts, with the first place that says it and the others."""

    codes: tuple[str, ...]
    text: str
    where: str
    also: tuple[str, ...] = ()


def currencies_told(cells: Iterable[Cell]) -> list[CurrencyTold]:
    """Return what headings and amounts tell of their currency, each of it once."""
    found: dict[tuple[str, ...], tuple[Cell, list[Cell]]] = {}
    for cell in cells:
        if type(cell.value) is str and (codes := currencies_in(cell.value)):
            known = found.setdefault(codes, (cell, []))
            known[1].append(cell)
    return [
        CurrencyTold(codes, first.text, first.where, tuple(dict.fromkeys(each.where for each in rest[1:])))
        for codes, (first, rest) in found.items()
    ]


def other_currency(told: CurrencyTold, used: str) -> Problem:
    """Return the refusal of amounts that are told to be in another currency than they would be read in."""
    names = " or ".join(told.codes)
    what = f"{quoted(told.text)} says {names}, and the amounts would be read as {used}."
    first = told.codes[0]
    advice = (
        f'Say what they are in: --as "currency {first}" (kept for the next exports), or --currency {first} for '
        "this file alone; --rate gives what one unit of it is in the book's. Where the sign is wrong, mend it."
    )
    return Problem(told.where, what, advice, told.also)

"""Readers of the cells of the quotes sheet: text as typed to text as kept."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from fractions import Fraction

from ledger.catalogue.country_names import country_hint
from ledger.catalogue.parties import read_country
from ledger.catalogue.terms import read_terms
from ledger.errors import ValueProblem
from ledger.exact.numbers import read_decimal, show_fraction
from ledger.sourcing.price_breaks import break_faults
from ledger.sourcing.quote import DOMESTIC, PriceBreak, SizeShare

OWN_ORDERS = "own orders"
"""What stands in lead_days where the shop's own past orders say how long it takes."""

_MOST = 10**9
_PLACES = 9
_LONGEST = 500
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_WHOLE = 100

Reader = Callable[[str], str]


def amount(text: str) -> str:
    """Return an amount of zero or more as plain decimal text, trailing zeros off.

    Raises ValueProblem where it is none, or negative.
    """
    value = read_decimal(text, what="an amount")
    if not 0 <= value <= _MOST:
        raise ValueProblem(f"'{text}' must be zero or more, and not far too large.")
    return show_fraction(value, _PLACES)


def percentage(text: str) -> str:
    """Return a percentage from 0 to 1000 as decimal text without its sign.

    >>> percentage("16.5%"), percentage("3")
    ('16.5', '3')

    Raises ValueProblem where it is none, and for a bare number below one: a spreadsheet keeps 15% as 0.15.
    """
    has_sign = text.endswith("%")
    value = read_decimal(text.removesuffix("%").strip(), what="percentage")
    if not has_sign and 0 < value < 1:
        raise ValueProblem(
            f"'{text}' may be {show_fraction(value)}% or {show_fraction(value * _WHOLE)}%: write the per cent sign."
        )
    if not 0 <= value <= 10 * _WHOLE:
        raise ValueProblem(f"'{text}' must be between 0% and 1000%.")
    return show_fraction(value, _PLACES)


def part_of_all(text: str) -> str:
    """Return a percentage from 0 to 100 as decimal text.

    Raises ValueProblem where it is none, or more than everything.
    """
    shown = percentage(text)
    if Fraction(shown) > _WHOLE:
        raise ValueProblem(f"'{text}' is more than 100%.")
    return shown


def bad_part(text: str) -> str:
    """Return a percentage from 0 to below 100 as decimal text.

    Raises ValueProblem where nothing good would be left.
    """
    shown = part_of_all(text)
    if Fraction(shown) == _WHOLE:
        raise ValueProblem("100% bad leaves no good piece.")
    return shown


def count(text: str) -> str:
    """Return a whole number of zero or more as text.

    Raises ValueProblem where it is none.
    """
    try:
        value = read_decimal(text, what="whole number")
    except ValueProblem:
        raise ValueProblem(f"'{text[:40]}' is not a whole number: write digits, like 72.") from None
    if value.denominator != 1 or not 0 <= value <= _MOST:
        raise ValueProblem(f"'{text}' must be a whole number, zero or more.")
    return str(value.numerator)


def positive_count(text: str) -> str:
    """Return a whole number above zero as text.

    Raises ValueProblem where it is none.
    """
    shown = count(text)
    if shown == "0":
        raise ValueProblem("0 is too little here: at least 1, or leave it empty.")
    return shown


def day(text: str) -> str:
    """Return a date like 2026-03-31 as it is.

    Raises ValueProblem where it is none, or lies outside 2000 to 2100.
    """
    if _DATE.fullmatch(text):
        try:
            date = datetime.date.fromisoformat(text)
        except ValueError:
            date = None
        if date is not None and 2000 <= date.year <= 2100:  # noqa: PLR2004
            return text
    raise ValueProblem(f"'{text[:40]}' is not a date: write it like 2026-03-31.")


def words(text: str) -> str:
    """Return free text with single blanks.

    Raises ValueProblem where it is longer than a note may be.
    """
    if len(text) > _LONGEST:
        raise ValueProblem(f"the text has {len(text)} characters: {_LONGEST} at most.")
    return " ".join(text.split())


def listed(text: str) -> str:
    """Return a list with '; ' between its entries.

    Raises ValueProblem where an entry stands twice.
    """
    parts = [" ".join(part.split()) for part in re.split(r"[;,]", words(text)) if part.strip()]
    if len({part.casefold() for part in parts}) < len(parts):
        raise ValueProblem(f"'{text[:60]}' names one of them twice.")
    return "; ".join(parts)


def origin(text: str) -> str:
    """Return DOMESTIC or an ISO 3166 country.

    Raises ValueProblem for an unknown origin.
    """
    if text.casefold() == DOMESTIC:
        return DOMESTIC
    try:
        return read_country(text)
    except ValueProblem as problem:
        raise ValueProblem(f"{problem}{country_hint(text)}") from None


def one_of(*choices: str) -> Reader:
    """Return a reader that takes one of some words, whatever its case, blanks or underscores."""

    def read(text: str) -> str:
        key = text.casefold().replace("_", " ").replace("-", " ").strip()
        for choice in choices:
            if choice.casefold().replace("_", " ") == key:
                return choice
        shown = ", ".join(choice.replace("_", " ") for choice in choices)
        raise ValueProblem(f"'{text[:60]}' is not one of {shown}.")

    return read


def prices(text: str) -> str:
    """Return price breaks as they are kept: 1 = 4.1; 72 = 3.6.

    A single price stands for every quantity.

    Raises ValueProblem with everything wrong: no number, out of order, twice the same start, a price of 0.
    """
    breaks = read_breaks(text)
    faults = break_faults(breaks)
    faults += [
        f"the price from {each.from_quantity} on is 0, and an offer for nothing would always win: leave the row "
        "out until the price is known. A gift is no offer."
        for each in breaks
        if not each.price_minor
    ]
    if faults:
        raise ValueProblem(" ".join(faults))
    return show_breaks(breaks)


def read_breaks(text: str) -> tuple[PriceBreak, ...]:
    """Return the breaks of a cell; prices stay in units of the currency, not in minor ones.

    >>> read_breaks("1 = 4.10; 72 = 3.60")[1].from_quantity
    72

    Raises ValueProblem where a part is no break.
    """
    breaks = []
    for part in filter(None, map(str.strip, text.split(";"))):
        start, sign, price = part.partition("=")
        if not sign:
            start, price = "1", part
        breaks.append(PriceBreak(int(count(start.strip())), Fraction(amount(price.strip()))))
    return tuple(breaks)


def show_breaks(breaks: tuple[PriceBreak, ...]) -> str:
    """Return breaks as a cell holds them."""
    return "; ".join(f"{each.from_quantity} = {show_fraction(each.price_minor, _PLACES)}" for each in breaks)


def prepack(text: str) -> str:
    """Return a prepack as it is kept: S = 1; M = 2.

    Raises ValueProblem where a part is no size with a number, or a size stands twice.
    """
    shares = read_prepack(text)
    sizes = [share.size.casefold() for share in shares]
    if not shares or len(set(sizes)) < len(sizes):
        raise ValueProblem(
            f"'{text[:60]}' is no prepack: write each size once with its pieces, like S = 1; M = 2."
        )
    return "; ".join(f"{share.size} = {share.pieces}" for share in shares)


def read_prepack(text: str) -> tuple[SizeShare, ...]:
    """Return the sizes of a prepack with the pieces of each.

    Raises ValueProblem where a part is no size with a number.
    """
    shares = []
    for part in filter(None, map(str.strip, text.split(";"))):
        size, sign, pieces = part.partition("=")
        if not sign or not size.strip():
            raise ValueProblem(f"'{part[:60]}' is not a size with its pieces: write S = 1.")
        shares.append(SizeShare(size.strip(), int(positive_count(pieces.strip()))))
    return tuple(shares)


def lead_days(text: str) -> str:
    """Return days as decimal text, or OWN_ORDERS.

    Raises ValueProblem where it is neither.
    """
    return OWN_ORDERS if text.casefold() in {OWN_ORDERS, "own"} else amount(text)


def terms(text: str) -> str:
    """Return the code of delivery terms.

    Raises ValueProblem for unknown ones.
    """
    return read_terms(text).code

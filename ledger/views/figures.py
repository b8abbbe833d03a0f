"""Figures as people read them and as scripts take them."""

from __future__ import annotations

from fractions import Fraction

from ledger.exact.currencies import exponent
from ledger.exact.money import grouped_money
from ledger.exact.money import unit_cost as exact_unit_cost
from ledger.exact.numbers import show_fraction, show_scaled
from ledger.exact.quantity import show_quantity
from ledger.exact.rounding import round_fraction

SHOWN_UNIT_PLACES = 4

SMALL_UNIT_PLACES = 6
"""For what costs less than a hundredth of the currency: a square centimetre of vinyl, a millilitre."""


def money(minor: int, currency: str) -> str:
    """Return an amount with separators between thousands: 1,234.50."""
    return grouped_money(minor, currency)


def quantity(milli: int) -> str:
    """Return a quantity with separators between thousands: 1,440."""
    text = show_quantity(milli)
    whole, point, rest = text.partition(".")
    return f"{int(whole):,}{point}{rest}" if int(whole) else text


def per_unit(minor: int, milli: int, currency: str) -> str:
    """Return a cost per base unit with four decimals for people, six below 0.01; '' at zero quantity."""
    if milli == 0:
        return ""
    value = Fraction(minor * 1000, milli) / 10 ** exponent(currency)
    shown = SMALL_UNIT_PLACES if 0 < abs(value) < Fraction(1, 100) else SHOWN_UNIT_PLACES
    places = max(shown, exponent(currency))
    return show_scaled(round_fraction(value * 10**places), places)


def unit_cost(minor: int, milli: int, currency: str) -> str | None:
    """Return a cost per base unit as scripts take it: exponent + 4 decimals, None at zero quantity."""
    return exact_unit_cost(minor, milli, currency)


def change(before: Fraction | None, minor: int, milli: int) -> str:
    """Return how a landed unit cost differs from the one before: '+4.2%', 'same', or 'first'."""
    if milli == 0:
        return ""
    if before is None:
        return "first"
    now = Fraction(minor * 1000, milli)
    if now == before:
        return "same"
    tenths = round_fraction((now / before - 1) * 1000)
    if tenths == 0:
        return "same"
    percent = show_scaled(tenths, 1)
    return f"{percent}%" if percent.startswith("-") else f"+{percent}%"


def plain(value: Fraction) -> str:
    """Return an exact number without trailing zeros."""
    return show_fraction(value)

"""Money as whole minor units of one currency."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from ledger.errors import ValueProblem
from ledger.exact.currencies import exponent
from ledger.exact.numbers import read_decimal, show_scaled
from ledger.exact.rounding import divide_round, round_fraction

MAX_AMOUNT = 10**12
"""The largest amount the book accepts, in minor units: ten thousand million dollars."""


def read_money(text: str | int | Decimal, currency: str) -> int:
    """Return an amount in whole minor units of ``currency``.

    >>> read_money("182.40", "USD"), read_money("1200", "JPY")
    (18240, 1200)

    Raises ValueProblem where the text is no number, has more decimals than the currency, or is
    beyond ten thousand million in the currency's hundredths.
    """
    places = exponent(currency)
    value = read_decimal(text, what="an amount of money") * 10**places
    if value.denominator != 1:
        raise ValueProblem(f"'{text}' has more than {places} decimals, the most that {currency} has.")
    return check_amount(int(value))


def check_amount(minor: int) -> int:
    """Return the amount unchanged, or raise ValueProblem where it is absurdly large."""
    if abs(minor) > MAX_AMOUNT:
        raise ValueProblem("the amount is larger than a book can hold; check for a misplaced decimal point.")
    return minor


def show_money(minor: int, currency: str) -> str:
    """Return an amount as decimal text at the currency's exponent, without sign or separators.

    >>> show_money(18240, "USD"), show_money(1200, "JPY")
    ('182.40', '1200')
    """
    return show_scaled(minor, exponent(currency))


def grouped_money(minor: int, currency: str) -> str:
    """Return an amount as people read it, with separators between thousands.

    >>> grouped_money(-123450, "USD"), grouped_money(-50, "USD"), grouped_money(1200, "JPY")
    ('-1,234.50', '-0.50', '1,200')
    """
    text = show_money(minor, currency)
    whole, point, rest = text.partition(".")
    return f"{int(whole):,}{point}{rest}" if int(whole) else text


def unit_cost(minor: int, quantity_milli: int, currency: str) -> str | None:
    """Return cost per base unit as decimal text at exponent + 4, or None at zero quantity.

    >>> unit_cost(1000, 3000, "USD")
    '3.333333'
    """
    if quantity_milli == 0:
        return None
    return show_scaled(divide_round(minor * 10**4 * 1000, quantity_milli), exponent(currency) + 4)


def convert_minor(minor: int, rate: Fraction, source: str, target: str) -> int:
    """Return a foreign amount in the target currency's minor units, rounded once.

    ``rate`` is in units of ``target`` per one unit of ``source`` (0.137 dollars for one yuan).
    """
    return round_fraction(Fraction(minor) * rate * Fraction(10) ** (exponent(target) - exponent(source)))

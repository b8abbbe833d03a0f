"""Quantities as whole thousandths of an item's base unit."""

from __future__ import annotations

from fractions import Fraction

from ledger.errors import ValueProblem
from ledger.exact.numbers import show_fraction, show_scaled
from ledger.exact.rounding import round_fraction

MILLI = 1000
MAX_QUANTITY = 10**12
"""The largest quantity the book accepts, in thousandths: a thousand million base units."""


def to_base(amount: Fraction, factor: Fraction) -> int:
    """Return ``amount`` packs of ``factor`` base units in thousandths, rounded once.

    >>> to_base(Fraction(2), Fraction(72))
    144000
    """
    return check_quantity(round_fraction(amount * factor * MILLI))


def check_step(amount: Fraction, factor: Fraction) -> None:
    """Return nothing, or raise ValueProblem where an amount of base units is finer than a thousandth.

    Packs of other sizes are rounded once in base units: a third of a dozen is four.
    """
    if factor == 1 and MILLI % amount.denominator:
        raise ValueProblem(
            f"the quantity {show_fraction(amount)} is finer than a thousandth, the smallest step it can have. "
            "Round it."
        )


def check_quantity(milli: int) -> int:
    """Return the quantity unchanged, or raise ValueProblem where it is absurdly large."""
    if abs(milli) > MAX_QUANTITY:
        raise ValueProblem(
            "the quantity is larger than a book can hold; check the unit and the decimal point."
        )
    return milli


def show_quantity(milli: int) -> str:
    """Return a quantity as decimal text without trailing zeros.

    >>> show_quantity(72000), show_quantity(-1500), show_quantity(125)
    ('72', '-1.5', '0.125')
    """
    text = show_scaled(milli, 3)
    return text.rstrip("0").rstrip(".")

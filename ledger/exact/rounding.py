"""Rounding half away from zero, on whole numbers and exact fractions only."""

from __future__ import annotations

from fractions import Fraction


def divide_round(numerator: int, denominator: int) -> int:
    """Return ``numerator / denominator`` rounded half away from zero.

    This is the R of the costing rules, the only rounding the book knows.

    >>> divide_round(13125, 1000), divide_round(5, 2), divide_round(-5, 2)
    (13, 3, -3)

    Raises ZeroDivisionError where the denominator is zero.
    Source: 19 CFR 24.24 computations round 13.125 to 13.13 (CBP licence key, October 2020, Q33);
    half away from zero is our own rule for both signs.
    """
    if denominator < 0:
        numerator, denominator = -numerator, -denominator
    if numerator >= 0:
        return (2 * numerator + denominator) // (2 * denominator)
    return -((-2 * numerator + denominator) // (2 * denominator))


def round_fraction(value: Fraction) -> int:
    """Return an exact fraction rounded half away from zero to a whole number."""
    return divide_round(value.numerator, value.denominator)

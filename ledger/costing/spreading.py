"""Spreading one amount over several lines so that the parts add up to it exactly."""

from __future__ import annotations

from collections.abc import Sequence


def spread(amount: int, weights: Sequence[int]) -> list[int]:
    """Return the parts of ``amount`` in proportion to ``weights``, by largest remainder.

    ``amount`` is in minor units and may be negative (a discount: spread by its absolute value).
    ``weights`` are whole numbers of any one scale, none negative, at least one above zero.
    The parts are whole minor units in the order of the weights and add up to ``amount``; the
    units left over by rounding down go to the largest remainders, ties to the earlier line.

    >>> spread(48500, [50000, 90000, 200000])
    [7132, 12838, 28530]

    Raises ValueError where a weight is negative or all are zero: callers check first and name
    the lines to the maker.
    Source: largest remainder method; the lines and the fee are 19 CFR 190.51(b)(2), example 1.
    """
    total = sum(weights)
    if total <= 0 or any(weight < 0 for weight in weights):
        raise ValueError("weights must be zero or more, and not all zero")
    size = abs(amount)
    parts = [size * weight // total for weight in weights]
    missing = size - sum(parts)
    if missing:
        remainders = [size * weight % total for weight in weights]
        # sorted is stable: equal remainders keep the order of the lines.
        for place in sorted(range(len(weights)), key=lambda i: -remainders[i])[:missing]:
            parts[place] += 1
    return parts if amount >= 0 else [-part for part in parts]

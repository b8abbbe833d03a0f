"""What it is worth to look at some weeks of sales before buying: exact for a gamma-distributed rate."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ledger.errors import ValueProblem
from ledger.sourcing.chance import negative_binomial
from ledger.sourcing.demand import GammaRate

MOST_COUNTS = 200_000
"""Beyond so many pieces the sums are not taken one by one."""


@dataclass(frozen=True)
class OneOrder:
    """One order for some weeks with a domestic back-up; money in one unit throughout."""

    domestic_cost: float
    overseas_cost: float
    salvage: float
    fixed_cost: float
    weeks: float

    def __post_init__(self) -> None:
        if self.salvage >= self.overseas_cost:
            raise ValueProblem("a leftover would fetch what it cost or more.")


@dataclass(frozen=True)
class Waiting:
    """The value of looking at ``weeks`` weeks of sales first: more than buying best now."""

    weeks: int
    value: float


def best_value(order: OneOrder, rate: GammaRate) -> float:
    """Return what the best quantity is expected to save; it may be negative.

    >>> round(best_value(OneOrder(3.5, 2.2, 0.8, 250, 40), GammaRate(6, 4 / 7)), 2)
    115.63

    Source: newsvendor with underage c_d - c_o and overage c_o - s under a negative binomial demand.
    """
    import numpy as np  # noqa: PLC0415  (slow, and only needed for these sums)

    spread, cost = order.domestic_cost - order.salvage, order.overseas_cost - order.salvage
    if spread <= cost:
        return -order.fixed_cost
    mean = rate.mean * order.weeks
    sd = math.sqrt(mean + mean**2 / rate.shape)
    # Cantelli: beyond this the n-th piece is used less often than its cost asks for.
    last = min(int(mean + sd * math.sqrt((spread - cost) / cost)) + 1, _reach(rate, order.weeks))
    # So far below the mean no demand ever lies: those pieces are used for certain.
    sure = min(max(0, int(mean - _SURE_SDS * sd)), last)
    chances = negative_binomial(rate.shape, rate.rate, order.weeks, last, sure)
    at_least = 1 - np.cumsum(chances)
    # The n-th piece is used with chance P(D >= n); pieces are added while they are worth their cost.
    gains = spread * at_least - cost
    worthwhile = gains > 0
    return float(gains[worthwhile].sum()) + sure * (spread - cost) - order.fixed_cost


_SURE_SDS = 12
"""Demand lies so many standard deviations below its mean with less than one chance in 10 to the 25."""


def value_of_waiting(order: OneOrder, rate: GammaRate, weeks: Sequence[int]) -> tuple[Waiting, ...]:
    """Return for each number of weeks what knowing those weeks' sales is worth.

    The order afterwards is for as many weeks as now; what the weeks of waiting themselves would have
    saved is not taken off.

    Source: expected value of sample information, summed over the negative binomial of the sales seen.
    """
    now = max(0.0, best_value(order, rate))
    return tuple(Waiting(each, value_after(order, rate, each) - now) for each in weeks)


def value_after(order: OneOrder, rate: GammaRate, weeks: int) -> float:
    """Return what the best decision is expected to save once the sales of some weeks are known.

    >>> [round(value_after(OneOrder(3.5, 2.2, 0.8, 250, 40), GammaRate(6, 4 / 7), m), 2) for m in (4, 26)]
    [233.46, 266.09]

    Of more than ``MOST_SEEN`` counts so many, evenly spread, are worked out; between them the value goes
    straight. It is convex, so that this is never below the exact sum, and above it by less than a thousandth
    of what the waiting is worth (a test measures it).
    """
    import numpy as np  # noqa: PLC0415  (slow, and only needed for these sums)

    seen = negative_binomial(rate.shape, rate.rate, weeks, _reach(rate, weeks))
    counts = np.nonzero(seen > _NEGLIGIBLE)[0]
    if len(counts) > MOST_SEEN:
        nodes = np.unique(np.linspace(counts[0], counts[-1], MOST_SEEN).astype(np.int64))
    else:
        nodes = counts
    values = [max(0.0, best_value(order, rate.after([int(each)], [weeks]))) for each in nodes]
    return float((np.interp(counts, nodes, values) * seen[counts]).sum())


_NEGLIGIBLE = 1e-9
MOST_SEEN = 600
"""So many counts of what is sold while waiting are looked at; with fewer possible ones the sum is exact."""


def _reach(rate: GammaRate, weeks: float) -> int:
    """Return a count that demand over some weeks practically never exceeds."""
    mean = rate.mean * weeks
    sd = math.sqrt(mean + mean**2 / rate.shape)
    # The tail falls by a factor of e every mean / shape pieces, or faster.
    reach = int(mean + 6 * sd + 20 * (1 + mean / rate.shape) + 30)
    if reach > MOST_COUNTS:
        raise ValueProblem("the demand is too large to sum over every count.")
    return reach


def worthwhile_cover_years(
    domestic_cost: float, overseas_cost: float, salvage: float, discount: float, hazard: float
) -> float | None:
    """Return how many years of demand are worth buying at once; None where there is no end.

    >>> [round(worthwhile_cover_years(3.5, 2.4, 0.8, 0.1, hazard), 1) for hazard in (0, 0.1, 0.3, 0.6)]
    [3.8, 2.2, 1.2, 0.7]
    """
    total = discount + hazard
    if domestic_cost <= overseas_cost:
        return 0.0
    floor = salvage * hazard / total if total else 0.0
    if total == 0 or floor >= overseas_cost:
        return None
    return math.log((domestic_cost - floor) / (overseas_cost - floor)) / total


def present_value(amounts: Sequence[float], rate: float) -> float:
    """Return what payments now and at the end of each period are worth now.

    >>> round(present_value([-15_000, 5_000, 6_000, 7_000], 0.10), 2)
    -236.66

    Source: the usual definition of net present value.
    """
    return sum(amount / (1 + rate) ** period for period, amount in enumerate(amounts))

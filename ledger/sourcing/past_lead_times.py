"""How long past orders took: the figures that say what to expect of the next one."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DaysSummary:
    """Days that something took, over several times.

    ``spread`` is the sample standard deviation, None for a single time.
    """

    count: int
    mean: float
    median: float
    shortest: int
    longest: int
    spread: float | None


def summary(days: Sequence[int]) -> DaysSummary:
    """Return the figures of some numbers of days.

    Args:
        days: whole days, at least one.

    Returns:
        count, mean, median, shortest, longest and sample standard deviation (n - 1), in days.

    Raises ValueError where there are none.

    >>> summary([2, 4, 4, 4, 5, 5, 7, 9]).mean
    5.0
    """
    if not days:
        raise ValueError("a summary needs at least one number of days")
    return DaysSummary(
        count=len(days),
        mean=statistics.fmean(days),
        median=float(statistics.median(days)),
        shortest=min(days),
        longest=max(days),
        spread=statistics.stdev(days) if len(days) > 1 else None,
    )

"""What the shop's own records say about demand: what left the shelf by month and size, and when none was there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.exact.quantity import MILLI

MONTH_DAYS = Fraction(365, 12)
"""The days of an average month."""

FEW_MONTHS = 3
"""A shorter history says nothing of seasons, and little of how much months vary."""


@dataclass(frozen=True)
class HistoryMonth:
    """One month of the history: ISO 8601 (2026-03), its days, and how many of them the history covers."""

    month: str
    days: int
    observed_days: int


@dataclass(frozen=True)
class SizeHistory:
    """One size of some goods, month by month.

    Attributes:
        name: the size; empty where the goods come in one.
        left_milli: what left the shelf, net of what came back, in thousandths.
        days_out: days of the history on which there was none from morning to night.
        on_hand_milli: what is on the shelf now, in thousandths.
        coming_milli: what is ordered and has not arrived, in thousandths.
    """

    name: str
    left_milli: tuple[int, ...]
    days_out: tuple[int, ...]
    on_hand_milli: int = 0
    coming_milli: int = 0

    @property
    def total_milli(self) -> int:
        """What left the shelf in all; never below 0, whatever came back."""
        return max(0, sum(self.left_milli))

    @property
    def stock(self) -> int:
        """Whole pieces on the shelf or on their way."""
        return max(0, (self.on_hand_milli + self.coming_milli) // MILLI)


@dataclass(frozen=True)
class OwnHistory:
    """The history of some goods; ``through`` is the last day the book tells of, ISO 8601."""

    label: str
    through: str
    months: tuple[HistoryMonth, ...]
    sizes: tuple[SizeHistory, ...]

    @property
    def total_milli(self) -> int:
        """What left the shelf in all."""
        return sum(size.total_milli for size in self.sizes)

    @property
    def is_empty(self) -> bool:
        """Whether nothing ever left the shelf."""
        return self.total_milli <= 0

    def left_milli(self, place: int) -> int:
        """Return what left the shelf in a month, all sizes together; at least 0."""
        return max(0, sum(size.left_milli[place] for size in self.sizes))


def size_shares(history: OwnHistory) -> tuple[Fraction, ...]:
    """Return the share of each size in demand, exactly; they add up to 1.

    What left of a size is set against the time it was there to leave, so that a size which was out of
    stock for half of the history is not taken for one half as wanted. One piece spread evenly over the
    sizes is added, so that a size of which none left yet is rare, not impossible.

    Source: the mean of a Dirichlet belief with a prior of one piece in all, over the exposure of each size;
    our own rule for the exposure.
    """
    prior = Fraction(1, len(history.sizes))
    there = [sum(_exposures(history, size), Fraction(0)) for size in history.sizes]
    longest = max(there, default=Fraction(0))
    rates = [
        (Fraction(size.total_milli, MILLI) + prior) / (months or longest or Fraction(1))
        for size, months in zip(history.sizes, there, strict=True)
    ]
    total = sum(rates, Fraction(0))
    return tuple(rate / total for rate in rates)


def days_without_stock(history: OwnHistory) -> tuple[Fraction, ...]:
    """Return for each month the days that say nothing about demand, in days of an average month of 30.4.

    Days before the history begins and after it ends count in full. A size that is out of stock takes as
    much of a day as it has of demand.

    Source: our own rule; a Poisson count over the exposure that its sizes had.
    """
    shares = size_shares(history)
    exposures = [_exposures(history, size) for size in history.sizes]
    found = []
    for place in range(len(history.months)):
        exposure = sum(
            (share * each[place] for share, each in zip(shares, exposures, strict=True)), Fraction(0)
        )
        found.append((1 - exposure) * MONTH_DAYS)
    return tuple(found)


def days_outside(history: OwnHistory) -> tuple[Fraction, ...]:
    """Return for each month the days before the history begins or after it ends, of an average month of 30.4."""
    return tuple(
        Fraction(month.days - month.observed_days, month.days) * MONTH_DAYS for month in history.months
    )


def _exposures(history: OwnHistory, size: SizeHistory) -> Sequence[Fraction]:
    """Return the part of each month in which the size was there to leave."""
    return [
        Fraction(max(0, month.observed_days - out), month.days)
        for month, out in zip(history.months, size.days_out, strict=True)
    ]


def history_remarks(history: OwnHistory) -> tuple[str, ...]:
    """Return in words what to be careful about in a history that is not empty."""
    found = []
    months = sum((Fraction(month.observed_days, month.days) for month in history.months), Fraction(0))
    if months < FEW_MONTHS:
        found.append(
            f"the book tells of {float(months):.1f} months only: seasons are not in it, and how much months vary "
            "can hardly be seen."
        )
    if history.total_milli <= MILLI:
        found.append("only one piece ever left the shelf: the demand is little more than a guess.")
    coming = sum(size.coming_milli for size in history.sizes) // MILLI
    if coming:
        found.append(f"{coming:,} on their way are counted as if they were on the shelf already.")
    return tuple(found)

"""Shares and days without stock from a history."""

from __future__ import annotations

import calendar
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.sourcing.demand import demand_from_history
from ledger.sourcing.own_history import (
    HistoryMonth,
    OwnHistory,
    SizeHistory,
    days_without_stock,
    history_remarks,
    size_shares,
)

MONTHS = tuple(
    HistoryMonth(f"2025-{number:02d}", days, days)
    for number in range(1, 13)
    for days in [calendar.monthrange(2025, number)[1]]
)


def size(name: str, pieces: int, out: int = 0, months: int = 12) -> SizeHistory:
    """A size of which so many left each month, out of stock on so many days of each."""
    return SizeHistory(name, (pieces * 1000,) * months, (out,) * months)


def history(*sizes: SizeHistory, months: tuple[HistoryMonth, ...] = MONTHS) -> OwnHistory:
    """The history of these sizes."""
    return OwnHistory("Tee", "2025-12-31", months, sizes)


def test_a_size_out_of_stock_for_half_of_the_time_is_wanted_twice_as_much() -> None:
    """Its sales are set against the days it was there."""
    months = tuple(HistoryMonth(month.month, 30, 30) for month in MONTHS)
    always, half = size_shares(history(size("M", 100), size("L", 50, out=15), months=months))
    assert float(always) == pytest.approx(float(half), rel=0.001)


def test_a_size_of_which_none_left_is_rare_not_impossible() -> None:
    """One piece in all is spread over the sizes."""
    none, some = size_shares(history(size("S", 0), size("M", 10)))
    assert none == Fraction(1, 2) / (Fraction(1) + 120)
    assert none + some == 1


def test_a_month_that_is_not_over_counts_by_its_days() -> None:
    """Ten days of thirty are a third of a month."""
    found = history(size("", 10, months=1), months=(HistoryMonth("2026-04", 30, 10),))
    (days,) = days_without_stock(found)
    demand = demand_from_history([10.0], [float(days)])
    # A third of a month brought 10 and half a piece of prior.
    assert demand.per_year == pytest.approx(10.5 * 3 * 12, rel=1e-6)


def test_days_without_stock_are_those_of_the_size_by_its_share() -> None:
    """Half of demand missing for the whole month is half of the month."""
    months = tuple(HistoryMonth(month.month, 30, 30) for month in MONTHS[:2])
    one = SizeHistory("M", (10_000, 10_000), (0, 0))
    other = SizeHistory("L", (10_000, 0), (0, 30))
    first, second = days_without_stock(history(one, other, months=months))
    share = size_shares(history(one, other, months=months))[1]
    assert first == 0
    assert second == share * Fraction(365) / 12


@given(st.lists(st.tuples(st.integers(0, 5000), st.integers(0, 28)), min_size=1, max_size=8))
def test_shares_add_up_and_days_stay_within_a_month(sizes: list[tuple[int, int]]) -> None:
    """Whatever left, whatever was missing."""
    found = history(*(size(str(place), pieces, out) for place, (pieces, out) in enumerate(sizes)))
    shares = size_shares(found)
    assert sum(shares) == 1
    assert all(share > 0 for share in shares)
    assert all(0 <= days <= Fraction(365) / 12 for days in days_without_stock(found))


def test_a_short_history_says_so() -> None:
    """One month, one piece."""
    found = history(size("", 1, months=1), months=MONTHS[:1])
    told = " ".join(history_remarks(found))
    assert "1.0 months only" in told
    assert "only one piece" in told
    assert history_remarks(history(size("", 10))) == ()

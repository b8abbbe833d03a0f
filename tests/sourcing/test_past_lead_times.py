"""The figures of past lead times."""

from __future__ import annotations

import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.sourcing.past_lead_times import summary


def test_a_single_order_has_no_spread() -> None:
    """One time says nothing of how much it varies."""
    found = summary([41])
    assert (found.count, found.mean, found.median, found.spread) == (1, 41.0, 41.0, None)


def test_several_orders_have_their_figures() -> None:
    """Median between the middle two, spread with n - 1."""
    found = summary([29, 33, 33, 36])
    assert (found.mean, found.median, found.shortest, found.longest) == (32.75, 33.0, 29, 36)
    assert found.spread == pytest.approx(2.8723, abs=1e-4)


def test_nothing_has_no_summary() -> None:
    """A supplier without an order has no row."""
    with pytest.raises(ValueError, match="at least one"):
        summary([])


@given(st.lists(st.integers(0, 400), min_size=2, max_size=40))
def test_every_figure_lies_between_the_shortest_and_the_longest(days: list[int]) -> None:
    """And the spread is that of the numbers."""
    found = summary(days)
    assert found.shortest <= found.median <= found.longest
    assert found.shortest - 1e-9 <= found.mean <= found.longest + 1e-9
    assert found.spread == pytest.approx(statistics.stdev(days))

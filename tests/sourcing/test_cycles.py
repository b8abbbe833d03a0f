"""Reorder points from simulated cycles beside the formula's, and the plain day-by-day walk."""

from __future__ import annotations

import itertools

import pytest

from ledger.sourcing.cycles import reordering
from ledger.sourcing.demand import stated_demand, with_sizes
from ledger.sourcing.futures import Futures
from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.stock_walk import ReorderRule, walk

WEEKLY = 52 / 12


def test_the_normal_tail_promises_too_much() -> None:
    """Lead times of 12 ± 4 weeks: the formula's 99% gives about 97.4%; the simulated quantile gives 99."""
    futures = Futures(with_sizes(stated_demand(100 * WEEKLY, 1), {}), 104, 2_000, 1)
    # One order at a time: earlier orders would make later ones wait.
    found = reordering(futures, LeadTimes(84, 28), 100 * 104, 0.99)
    assert found.formula_service == pytest.approx(0.974, abs=0.008)
    assert found.service == pytest.approx(0.99, abs=0.001)
    assert found.reorder_at > found.formula_reorder_at


def test_certainty_needs_no_safety() -> None:
    """Demand and lead time as told: the reorder point is what is asked for on the way."""
    futures = Futures(with_sizes(stated_demand(30 * WEEKLY, 0), {"S": 0.4, "M": 0.6}), 52, 1, 1)
    found = reordering(futures, LeadTimes(21), 200, 0.95)
    assert (found.reorder_at, found.safety_stock, found.short_per_cycle) == (pytest.approx(90), 0, 0)


def test_poisson_demand_over_a_certain_lead_time() -> None:
    """The simulated point is the Poisson quantile: 34 is the 95% point of a mean of 25.

    Source: tables of the Poisson distribution; from memory.
    """
    futures = Futures(with_sizes(stated_demand(5 * WEEKLY, (5 * WEEKLY) ** 0.5 * 1.0001), {}), 52, 2_000, 1)
    found = reordering(futures, LeadTimes(35), 65, 0.95)
    assert found.reorder_at == pytest.approx(33, abs=1)
    assert found.mean_on_the_way == pytest.approx(25, abs=0.4)


def test_sizes_need_more_safety_than_their_total() -> None:
    """Each size runs short by itself."""
    whole = Futures(with_sizes(stated_demand(60), {}), 52, 2_000, 1)
    split = Futures(with_sizes(stated_demand(60), {"S": 0.2, "M": 0.5, "L": 0.3}), 52, 2_000, 1)
    lead = LeadTimes(30, 6)
    assert reordering(split, lead, 200, 0.95).safety_stock > reordering(whole, lead, 200, 0.95).safety_stock


def test_a_walk_loses_what_it_cannot_fill() -> None:
    """Two on hand, five asked for: three are lost, and an order goes out."""
    day = walk([5], [2], ReorderRule(1, 10), 2)[0]
    assert (day.ending, day.lost, day.ordered) == (0, 3, True)


def test_orders_of_a_walk_do_not_overtake() -> None:
    """The second order, though quicker, comes with the first."""
    days = walk([4, 4, 0, 0, 0, 0, 0, 0], itertools.chain([6], itertools.repeat(0)), ReorderRule(12, 5), 8)
    assert [day.ending for day in days][:7] == [4, 0, 0, 0, 0, 0, 0]
    assert days[7].ending >= 10

"""Closed forms of reordering: properties, and what they refuse."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import ValueProblem
from ledger.sourcing.reorder import (
    LeadDemand,
    demand_over_lead_time,
    one_time_order,
    poisson_reorder_policy,
    premium_ratio,
    service_of,
    standard_loss,
    z_for_fill_rate,
    z_of,
)


def test_a_shortage_costs_the_premium() -> None:
    """c_d 3.5, c_o 2.2, s .8: 1.3 / 2.7, far below the ratio that a lost sale would give."""
    assert premium_ratio(3.5, 2.2, 0.8) == pytest.approx(1.3 / 2.7)
    assert premium_ratio(12.0, 2.2, 0.8) > 0.87


def test_bulk_that_is_dearer_has_no_ratio() -> None:
    """Nothing is bought from afar."""
    assert premium_ratio(2.0, 2.2, 0.8) == 0.0


def test_salvage_above_cost_is_refused() -> None:
    """In words, by both formulas."""
    with pytest.raises(ValueProblem, match="leftover"):
        premium_ratio(3.5, 2.2, 2.3)
    with pytest.raises(ValueProblem, match="salvage below cost"):
        one_time_order(3.5, 2.2, 2.3, 100, 20)


@given(st.floats(-3, 3))
def test_the_loss_is_an_expectation(z: float) -> None:
    """The loss of z less that of -z is -z; both are positive."""
    assert standard_loss(z) - standard_loss(-z) == pytest.approx(-z, abs=1e-12)
    assert standard_loss(z) > 0


@given(st.floats(0.5, 0.9999), st.floats(50, 2_000), st.floats(5, 100))
def test_z_for_a_fill_rate_gives_that_fill_rate(rate: float, quantity: float, sd: float) -> None:
    """There and back."""
    z = z_for_fill_rate(rate, quantity, sd)
    assert service_of(LeadDemand(500, sd), 500 + z * sd, quantity).fill_rate == pytest.approx(rate, abs=1e-9)


def test_certain_demand_is_served_or_not() -> None:
    """Without variation there is no tail."""
    assert service_of(LeadDemand(50, 0), 50, 100).fill_rate == 1
    assert service_of(LeadDemand(50, 0), 40, 100).short_per_cycle == 10


@pytest.mark.parametrize("level", [0.0, 1.0, -1.0, 95.0])
def test_a_service_level_lies_between_nothing_and_all(level: float) -> None:
    """The value is named."""
    with pytest.raises(ValueProblem, match=f"{level:g}"):
        z_of(level)


def test_negative_times_are_refused() -> None:
    """No lead time is below 0."""
    with pytest.raises(ValueProblem, match="negative"):
        demand_over_lead_time(10, 2, -1)


def test_the_poisson_policy_is_the_best_by_brute_force() -> None:
    """Every reorder point and quantity within reach, with sums over the distribution."""
    holding, penalty, fixed, rate, lead = 3.0, 40.0, 25.0, 2.0, 1.5
    mean = rate * lead
    demand = np.arange(80)
    chances = np.exp(demand * math.log(mean) - mean - np.array([math.lgamma(each + 1) for each in demand]))

    def level_cost(level: int) -> float:
        left = np.maximum(level - demand, 0) * holding + np.maximum(demand - level, 0) * penalty
        return float((left * chances).sum())

    def cost(at: int, quantity: int) -> float:
        return (fixed * rate + sum(level_cost(at + step) for step in range(1, quantity + 1))) / quantity

    best = min((cost(at, quantity), at, quantity) for at in range(-3, 15) for quantity in range(1, 25))
    found = poisson_reorder_policy(holding, penalty, fixed, rate, lead)
    assert (found.reorder_at, found.order_quantity) == best[1:]
    assert found.cost == pytest.approx(best[0])

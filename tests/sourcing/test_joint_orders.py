"""Joint orders: what is always true of them, against brute force over the multiples."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import ValueProblem
from ledger.sourcing.joint_orders import (
    JointItem,
    best_together,
    joint_orders,
    of_multiples,
    separate_cost,
    tailored_orders,
)

MONEY = st.floats(0.5, 500)
DEMANDS = st.floats(1, 50_000)
ITEMS = st.lists(st.builds(JointItem, DEMANDS, MONEY, MONEY), min_size=1, max_size=4)
RATES = st.floats(0.02, 1)
SET_UPS = st.floats(1, 5_000)
FACTORS = st.floats(0.01, 100)
MOST = 8


@given(ITEMS, SET_UPS, RATES, FACTORS)
def test_a_common_factor_on_money_scales_the_cost_and_nothing_else(
    items: list[JointItem], common: float, rate: float, factor: float
) -> None:
    """Cents instead of dollars order the same things as often."""
    scaled = [
        JointItem(each.demand_per_year, each.unit_cost * factor, each.cost_per_order * factor)
        for each in items
    ]
    before = best_together(items, common, rate)
    # A ratio that is whole up to rounding could give another multiple: the same ones are compared.
    after = of_multiples(scaled, common * factor, rate, before.multiples)
    assert after.annual_cost == pytest.approx(before.annual_cost * factor, rel=1e-9)
    assert after.quantities == pytest.approx(before.quantities, rel=1e-9)


@given(ITEMS, SET_UPS, RATES)
def test_the_best_frequency_is_not_beaten_by_one_nearby(
    items: list[JointItem], common: float, rate: float
) -> None:
    """Ordering a tenth more or less often costs more."""
    best = joint_orders(items, common, rate)
    for factor in (0.9, 1.1):
        other = joint_orders(items, common, rate, orders_per_year=best.orders_per_year * factor)
        assert other.annual_cost > best.annual_cost


@given(ITEMS, SET_UPS, RATES)
def test_together_at_the_frequencies_of_separate_orders_saves_the_shared_set_up(
    items: list[JointItem], common: float, rate: float
) -> None:
    """Where all items would be ordered equally often alone, one common cost instead of several is cheaper."""
    first = items[0]
    alike = [first] * len(items)
    together = best_together(alike, common, rate)
    assert together.annual_cost <= separate_cost(alike, common, rate) * (1 + 1e-9)


@given(st.builds(JointItem, DEMANDS, MONEY, MONEY), SET_UPS, RATES)
def test_one_item_alone_is_ordered_as_if_it_stood_alone(item: JointItem, common: float, rate: float) -> None:
    """Joint, tailored and separate orders of a single item are the same."""
    cost = separate_cost([item], common, rate)
    assert joint_orders([item], common, rate).annual_cost == pytest.approx(cost)
    assert tailored_orders([item], common, rate).annual_cost == pytest.approx(cost)


@given(ITEMS, SET_UPS, RATES)
def test_the_better_of_both_is_never_dearer_than_everything_every_time(
    items: list[JointItem], common: float, rate: float
) -> None:
    """What is chosen costs no more than complete aggregation."""
    assert best_together(items, common, rate).annual_cost <= joint_orders(items, common, rate).annual_cost * (
        1 + 1e-9
    )


@given(
    st.lists(
        st.builds(JointItem, st.floats(20, 5_000), st.floats(1, 20), st.floats(1, 50)), min_size=2, max_size=3
    ),
    st.floats(1, 500),
)
def test_multiples_are_within_a_sixth_of_the_best_by_brute_force(
    items: list[JointItem], common: float
) -> None:
    """Trying every multiple up to eight finds nothing that is much cheaper than the four steps."""
    found = best_together(items, common, 0.2)
    best = min(
        of_multiples(items, common, 0.2, each).annual_cost
        for each in itertools.product(range(1, MOST + 1), repeat=len(items))
    )
    assert found.annual_cost <= best * 1.17


def test_brute_force_agrees_on_the_multiples_of_three_plain_items() -> None:
    """For a fast, a middling and a slow item no other multiples are cheaper by a hundredth."""
    items = [JointItem(12_000, 500, 1000), JointItem(1_200, 500, 1000), JointItem(120, 500, 1000)]
    best = min(
        of_multiples(items, 4000, 0.2, each).annual_cost
        for each in itertools.product(range(1, MOST + 1), repeat=3)
    )
    assert tailored_orders(items, 4000, 0.2).annual_cost <= best * 1.01


def test_an_item_that_adds_nothing_to_an_order_is_in_every_one() -> None:
    """Without a cost of its own there is no reason to wait."""
    items = [JointItem(1000, 5, 10), JointItem(10, 5, 0)]
    assert tailored_orders(items, 100, 0.2).multiples == (1, 1)


@pytest.mark.parametrize(
    ("items", "common", "rate", "said"),
    [
        ([], 10.0, 0.2, "at least one item"),
        ([JointItem(0, 5, 1)], 10.0, 0.2, "demand"),
        ([JointItem(10, 0, 1)], 10.0, 0.2, "unit cost"),
        ([JointItem(10, 5, 1)], 10.0, 0.0, "no order is too large"),
        ([JointItem(10, 5, 0)], 0.0, 0.2, "no order is too small"),
        ([JointItem(10, 5, -1)], 10.0, 0.2, "negative"),
    ],
)
def test_what_has_no_best_order_is_refused_in_words(
    items: list[JointItem], common: float, rate: float, said: str
) -> None:
    """Free holding, free ordering, no item and negative costs each say what is wrong."""
    with pytest.raises(ValueProblem, match=said):
        joint_orders(items, common, rate)

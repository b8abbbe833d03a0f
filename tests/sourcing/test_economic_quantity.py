"""Best order quantities against trying every one."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from ledger.errors import ValueProblem
from ledger.sourcing.economic_quantity import (
    Allowed,
    Ordering,
    best_allowed,
    best_under_breaks,
    economic_quantity,
)
from ledger.sourcing.price_breaks import goods_cost
from ledger.sourcing.quote import ALL_UNITS, INCREMENTAL, PriceBreak

MOST = 300

schedules = st.lists(
    st.tuples(st.integers(2, 250), st.integers(50, 900)),
    min_size=0,
    max_size=4,
    unique_by=lambda each: each[0],
).map(
    lambda rows: [
        PriceBreak(1, Fraction(1_000)),
        *(PriceBreak(start, Fraction(price)) for start, price in sorted(rows)),
    ]
)
years = st.builds(
    Ordering,
    demand_per_year=st.floats(20, 900),
    cost_per_order=st.floats(100, 20_000),
    carrying_per_year=st.floats(0.05, 0.5),
)
rules = st.builds(Allowed, st.integers(1, 200), st.integers(1, 24), st.just(MOST))


@example(
    Ordering(20.0, 100.0, 0.05078125),
    [PriceBreak(1, Fraction(1000)), PriceBreak(22, Fraction(50)), PriceBreak(23, Fraction(166))],
    Allowed(91, 10, MOST),
    INCREMENTAL,
)
@settings(deadline=None, max_examples=200)
@given(years, schedules, rules, st.sampled_from([ALL_UNITS, INCREMENTAL]))
def test_no_allowed_quantity_is_cheaper(
    year: Ordering, breaks: list[PriceBreak], allowed: Allowed, discount: str
) -> None:
    """Minimum, multiple, maximum and breaks at once, against brute force."""

    def landed(quantity: int) -> float:
        return float(goods_cost(breaks, quantity, discount))

    hints = [each.from_quantity for each in breaks]
    best = best_allowed(year, landed, allowed, hints)
    every = [quantity for quantity in range(1, MOST + 1) if allowed.up(quantity) == quantity]
    assert best is not None
    assert best.quantity in every
    assert best.annual_cost == pytest.approx(min(year.annual_cost(q, landed(q)) for q in every), rel=1e-12)


@settings(deadline=None)
@given(years, schedules, st.integers(2, 600), st.integers(1, 49))
def test_a_further_tier_never_raises_the_best_cost(
    year: Ordering, breaks: list[PriceBreak], start: int, price: int
) -> None:
    """A cheaper tier can be ignored; prices here are 50 at least, the new one below."""
    if any(each.from_quantity >= start for each in breaks):
        return
    before = best_under_breaks(year, breaks, ALL_UNITS)
    after = best_under_breaks(year, [*breaks, PriceBreak(start, Fraction(price))], ALL_UNITS)
    assert after.annual_cost <= before.annual_cost * (1 + 1e-12)


@given(years, st.floats(0.5, 20))
def test_the_economic_quantity_balances_ordering_and_holding(year: Ordering, price: float) -> None:
    """At it both cost the same."""
    best = economic_quantity(year, price)
    ordering = year.demand_per_year / best.quantity * year.cost_per_order
    assert ordering == pytest.approx(year.carrying_per_year * price * best.quantity / 2)
    assert ordering * 2 == pytest.approx(best.annual_cost)


def test_free_holding_is_refused() -> None:
    """Without a cost of holding one order for ever would be best."""
    with pytest.raises(ValueProblem, match="capital_per_year"):
        economic_quantity(Ordering(100, 5))


def test_no_demand_is_refused() -> None:
    """There is nothing to order."""
    with pytest.raises(ValueProblem, match="demand above 0"):
        Ordering(0, 5, 0.1)


def test_rules_that_allow_nothing() -> None:
    """A minimum above the maximum leaves no quantity."""
    assert best_allowed(Ordering(100, 5, 0.1), float, Allowed(minimum=50, maximum=40)) is None


@pytest.mark.parametrize(
    ("allowed", "up", "down"),
    [
        (Allowed(), 37, 37),
        (Allowed(minimum=50), 50, None),
        (Allowed(multiple=12), 48, 36),
        (Allowed(maximum=30), None, 30),
        (Allowed(minimum=37, multiple=12), 48, None),
    ],
)
def test_rounding_to_what_is_allowed(allowed: Allowed, up: int | None, down: int | None) -> None:
    """From 37 up and down."""
    assert (allowed.up(37), allowed.down(37)) == (up, down)


def test_a_threshold_is_looked_at_from_both_sides() -> None:
    """Crossing the formal entry makes the larger order dearer a piece: 1,560 is best, not 1,563."""

    def landed(quantity: int) -> float:
        return 250 * quantity + 28_000 + (20_000 if quantity >= 1_563 else 0)

    year = Ordering(9_000, 20_000, 0.10)
    best = best_allowed(year, landed, Allowed(), [1_563])
    assert best is not None
    below = year.annual_cost(1_562, landed(1_562)) / 9_000
    above = year.annual_cost(1_563, landed(1_563)) / 9_000
    assert below < above
    every = min(range(1, 20_000), key=lambda quantity: year.annual_cost(quantity, landed(quantity)))
    assert best.quantity == every

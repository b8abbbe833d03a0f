"""Closed forms held against the reference library stockpyl on random problems.

It is installed with the extra `differential`; without it these tests are skipped and said so. Source: stockpyl, which
follows Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd edition.
"""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from ledger.sourcing.economic_quantity import Ordering, best_under_breaks, economic_quantity
from ledger.sourcing.quote import ALL_UNITS, INCREMENTAL, PriceBreak
from ledger.sourcing.reorder import one_time_order, poisson_reorder_policy

eoq = pytest.importorskip("stockpyl.eoq", reason="the extra 'differential' is not installed")
newsvendor = pytest.importorskip("stockpyl.newsvendor", reason="the extra 'differential' is not installed")
rq = pytest.importorskip("stockpyl.rq", reason="the extra 'differential' is not installed")

SEEDS = range(40)


def problem(seed: int) -> tuple[Ordering, list[PriceBreak]]:
    """A random year of ordering and a falling price schedule."""
    chance = random.Random(seed)  # noqa: S311 - made-up problems
    year = Ordering(chance.uniform(50, 5_000), chance.uniform(1, 300), chance.uniform(0.05, 0.5))
    starts = [0, *sorted(chance.sample(range(20, 3_000), chance.randint(1, 4)))]
    price, steps = Fraction(chance.randint(300, 2_000), 100), []
    for start in starts:
        steps.append(PriceBreak(start, price))
        price -= Fraction(chance.randint(1, 40), 100)
    return year, steps


@pytest.mark.parametrize("seed", SEEDS)
def test_economic_quantity(seed: int) -> None:
    """Quantity and cost without discounts."""
    year, _ = problem(seed)
    ours = economic_quantity(year, 3.0)
    quantity, cost = eoq.economic_order_quantity(
        year.cost_per_order, year.carrying_per_year * 3.0, year.demand_per_year
    )
    assert (ours.quantity, ours.annual_cost) == (pytest.approx(float(quantity)), pytest.approx(float(cost)))


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("discount", [ALL_UNITS, INCREMENTAL])
def test_price_breaks(seed: int, discount: str) -> None:
    """Quantity and whole annual cost under both kinds of discount."""
    year, steps = problem(seed)
    theirs = {
        ALL_UNITS: eoq.economic_order_quantity_with_all_units_discounts,
        INCREMENTAL: eoq.economic_order_quantity_with_incremental_discounts,
    }[discount]
    quantity, _, cost = theirs(
        year.cost_per_order,
        year.carrying_per_year,
        year.demand_per_year,
        [step.from_quantity for step in steps],
        [float(step.price_minor) for step in steps],
    )
    ours = best_under_breaks(year, steps, discount)
    assert ours.annual_cost == pytest.approx(float(cost), rel=1e-9)
    assert ours.quantity == pytest.approx(float(quantity), rel=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_one_time_order(seed: int) -> None:
    """The quantity for a season of normal demand."""
    chance = random.Random(seed)  # noqa: S311 - made-up problems
    cost, salvage = chance.uniform(5, 20), chance.uniform(0, 4)
    price, mean = cost + chance.uniform(1, 30), chance.uniform(50, 900)
    sd = mean * chance.uniform(0.05, 0.3)
    theirs, _ = newsvendor.newsvendor_normal(cost - salvage, price - cost, mean, sd)
    assert one_time_order(price, cost, salvage, mean, sd).quantity == pytest.approx(float(theirs), rel=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_poisson_reorder_policy(seed: int) -> None:
    """Reorder point, quantity and cost under Poisson demand."""
    chance = random.Random(seed)  # noqa: S311 - made-up problems
    holding, penalty = chance.uniform(1, 20), chance.uniform(30, 200)
    fixed, rate, lead = chance.uniform(10, 200), chance.uniform(0.5, 4), chance.uniform(0.5, 3)
    at, quantity, cost = rq.r_q_poisson_exact(holding, penalty, fixed, rate, lead)
    ours = poisson_reorder_policy(holding, penalty, fixed, rate, lead)
    assert ours.cost == pytest.approx(float(cost), rel=1e-6)
    assert (ours.reorder_at, ours.order_quantity) == (int(at), int(quantity))

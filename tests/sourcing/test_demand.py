"""Beliefs about demand, and the futures drawn from them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import ValueProblem
from ledger.sourcing.chance import gamma_quantiles, negative_binomial, sample_quantiles, stratified
from ledger.sourcing.demand import (
    WEEKS_PER_MONTH,
    Demand,
    demand_from_history,
    guessed_demand,
    stated_demand,
    with_sizes,
)
from ledger.sourcing.futures import Futures


def drawn(demand: Demand, weeks: int = 52, count: int = 4_000, seed: int = 3) -> np.ndarray:
    """Demand of every future up to each week, by size."""
    return np.concatenate([chunk.cumulative for chunk in Futures(demand, weeks, count, seed).chunks()])


def test_days_out_of_stock_are_not_days_without_demand() -> None:
    """A month that was sold out from its first day says nothing; left out it gives the same belief."""
    told = demand_from_history([60, 58, 0, 62], [0, 0, 365 / 12, 0])
    left_out = demand_from_history([60, 58, 62])
    assert told.rate == left_out.rate
    assert demand_from_history([60, 58, 0, 62]).per_week < told.per_week


def test_half_a_month_out_of_stock_doubles_what_its_sales_say() -> None:
    """Thirty sold in half a month count as a rate of sixty."""
    halved = demand_from_history([30], [365 / 24])
    assert halved.per_week * WEEKS_PER_MONTH == pytest.approx(61, abs=0.01)


def test_what_really_left_stands_beside_what_is_counted_with() -> None:
    """Thirty a month left; with half of each month sold out twice as many are counted with."""
    told = demand_from_history([30, 30, 15], [365 / 24, 365 / 24, 365 / 24], days_outside=[0, 0, 365 / 24])
    assert told.left_per_month == pytest.approx(75 / 2.5)
    assert told.per_month == pytest.approx(75.5 / 1.5)
    assert stated_demand(60).left_per_month is None


def test_scattered_months_are_less_sure() -> None:
    """Months that vary more than counts do widen the belief about the rate as well."""
    calm, wild = demand_from_history([60, 61, 59, 60]), demand_from_history([20, 110, 15, 95])
    assert calm.weekly_variation == 0
    assert wild.weekly_variation > 0
    assert wild.rate.shape < calm.rate.shape / 5


@pytest.mark.parametrize(("pieces", "days"), [([0, 0, 0], []), ([5, 6], [31, 31])])
def test_a_history_that_says_nothing_is_refused(pieces: list[float], days: list[float]) -> None:
    """No sale at all, or no day with stock, is told in words."""
    with pytest.raises(ValueProblem, match="low, likely and high"):
        demand_from_history(pieces, days)


def test_one_sale_ever_is_a_belief() -> None:
    """It is small and very unsure, and no figure of it is infinite."""
    one = demand_from_history([0, 0, 1, 0])
    assert 0 < one.per_week < 1
    assert math.isfinite(one.rate.shape)


def test_a_guess_keeps_its_mean() -> None:
    """Low, likely and high in the 30-40-30 weights."""
    assert guessed_demand(30, 50, 80).per_week * WEEKS_PER_MONTH == pytest.approx(53)
    assert guessed_demand(50, 50, 50).is_rate_known


def test_a_guess_must_rise() -> None:
    """A high below the likely is refused."""
    with pytest.raises(ValueProblem, match="must rise"):
        guessed_demand(30, 80, 50)


@pytest.mark.parametrize(
    "demand",
    [
        stated_demand(60),
        stated_demand(60, 4),
        stated_demand(60, 25),
        demand_from_history([52, 61, 48, 70, 66]),
        guessed_demand(20, 55, 90),
    ],
    ids=["rate unsure", "steady", "lumpy", "history", "guess"],
)
def test_drawn_demand_has_the_mean_that_is_believed(demand: Demand) -> None:
    """Within four standard errors, in the first weeks and in all."""
    total = drawn(demand)[:, :, 0]
    for weeks in (4, 52):
        of = total[:, weeks - 1]
        error = of.std() / math.sqrt(len(of))
        # Whole pieces are counted when they are due: up to half a piece comes later.
        assert of.mean() == pytest.approx(demand.per_week * weeks, abs=4 * error + 0.55)


@pytest.mark.parametrize("sd", [4.0, 25.0])
def test_drawn_months_vary_as_told(sd: float) -> None:
    """The standard deviation of a month, smaller and larger than that of single sales."""
    total = drawn(stated_demand(60, sd), weeks=52, count=6_000)[:, -1, 0]
    assert total.std() == pytest.approx(sd * math.sqrt(12), rel=0.06)


def test_gamma_poisson_futures_follow_the_negative_binomial() -> None:
    """Against the exact chances of sales over the horizon."""
    demand = stated_demand(10)
    total = drawn(demand, weeks=26, count=20_000)[:, -1, 0]
    exact = negative_binomial(demand.rate.shape, demand.rate.rate, 26, 400)
    for limit in (30, 60, 90):
        chance = exact[: limit + 1].sum()
        error = math.sqrt(chance * (1 - chance) / len(total))
        assert (total <= limit).mean() == pytest.approx(chance, abs=4 * error)


def test_sizes_add_up_to_the_same_demand() -> None:
    """Splitting demand into sizes changes neither its mean nor its spread."""
    whole = drawn(stated_demand(60))[:, -1].sum(axis=1)
    split = drawn(with_sizes(stated_demand(60), {"S": 0.2, "M": 0.5, "L": 0.3}))[:, -1].sum(axis=1)
    error = whole.std() / math.sqrt(len(whole))
    assert split.mean() == pytest.approx(whole.mean(), abs=6 * error)
    assert split.std() == pytest.approx(whole.std(), rel=0.08)


def test_splitting_a_size_in_two_changes_nothing_in_total() -> None:
    """Certain demand of one size, and of two halves of it."""
    one = drawn(with_sizes(stated_demand(104, 0), {"M": 1.0}), count=1)
    two = drawn(with_sizes(stated_demand(104, 0), {"M": 0.5, "m": 0.5}), count=1)
    assert (one.sum(axis=2) == two.sum(axis=2)).all()


def test_shares_of_sizes_vary_as_their_strength_says() -> None:
    """A share of one half known from sixty pieces varies by about 0.064."""
    split = drawn(with_sizes(stated_demand(6_000), {"M": 0.5, "L": 0.5}), weeks=4, count=3_000)[:, -1]
    shares = split[:, 0] / split.sum(axis=1)
    assert shares.std() == pytest.approx(math.sqrt(0.25 / 61), rel=0.06)


def test_obsolescence_ends_demand() -> None:
    """With a hazard of one a year about 63% of sizes are out of use after a year."""
    futures = Futures(with_sizes(stated_demand(60), {"M": 1.0}, obsolescence_per_year=1.0), 60, 4_000, 5)
    weeks = np.concatenate([chunk.out_of_use for chunk in futures.chunks() if chunk.out_of_use is not None])
    assert (weeks <= 52).mean() == pytest.approx(1 - math.exp(-1), abs=0.03)
    for chunk in futures.chunks():
        assert chunk.out_of_use is not None
        gone = np.minimum(chunk.out_of_use[:, 0], 59)
        at_the_end = chunk.cumulative[np.arange(chunk.count), gone - 1, 0]
        assert (chunk.cumulative[:, -1, 0] == at_the_end)[chunk.out_of_use[:, 0] < 60].all()


def test_the_same_seed_draws_the_same_futures() -> None:
    """Once more, kept or drawn again, and never with another seed."""
    demand = with_sizes(demand_from_history([52, 20, 70]), {"M": 0.5, "L": 0.5})
    futures = Futures(demand, 30, 900, 7)
    first = [chunk.cumulative.copy() for chunk in futures.chunks()]
    again = [chunk.cumulative for chunk in futures.chunks()]
    anew = [chunk.cumulative for chunk in Futures(demand, 30, 900, 7).chunks()]
    other = [chunk.cumulative for chunk in Futures(demand, 30, 900, 8).chunks()]
    for one, two, three in zip(first, again, anew, strict=True):
        assert (one == two).all()
        assert (one == three).all()
    assert not all((one == two).all() for one, two in zip(first, other, strict=True))


def test_too_much_demand_is_refused_in_words() -> None:
    """A demand in the thousands of millions is no demand in pieces."""
    with pytest.raises(ValueProblem, match="by the dozen or the case"):
        Futures(stated_demand(10**9), 52, 10, 1)


@given(st.floats(0.3, 500), st.floats(0.02, 0.98))
def test_gamma_quantiles_rise(shape: float, chance: float) -> None:
    """A higher chance has a higher quantile, around the mean."""
    low, high = gamma_quantiles(shape, np.array([chance, min(0.999, chance + 0.01)]))
    assert 0 < low < high < shape + 30 * math.sqrt(shape) + 30


@pytest.mark.parametrize(
    ("shape", "median", "high"),
    # Source: tables of the chi-squared distribution, half of 2 shape degrees of freedom; from memory.
    [(0.5, 0.2275, 1.3528), (1.0, 0.6931, 2.3026), (5.0, 4.6709, 7.9936)],
)
def test_gamma_quantiles_of_tables(shape: float, median: float, high: float) -> None:
    """Median and 90% point of three shapes."""
    assert gamma_quantiles(shape, np.array([0.5, 0.9])) == pytest.approx([median, high], rel=2e-4)


def test_strata_hold_one_draw_each() -> None:
    """Of a hundred draws one lies in each hundredth."""
    chances = stratified(100, np.random.default_rng(1))
    assert sorted(int(each * 100) for each in chances) == list(range(100))


def test_quantiles_of_what_was_observed() -> None:
    """Between the smallest and the largest; a single observation stands for all."""
    assert sample_quantiles([10, 20, 30], np.array([0.0, 0.5, 1.0])).tolist() == [10, 20, 30]
    assert sample_quantiles([7], np.array([0.2, 0.9])).tolist() == [7, 7]

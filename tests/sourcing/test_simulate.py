"""Counts of pieces used and weeks on the shelf, against plain loops and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from ledger.sourcing.chance import negative_binomial
from ledger.sourcing.demand import Demand, stated_demand, with_sizes
from ledger.sourcing.futures import Futures
from ledger.sourcing.simulate import CashPlan, Order, UnitCurves, outcomes, unit_curves
from ledger.sourcing.size_quantities import (
    PieceValues,
    by_ratio,
    by_service,
    by_value,
    enough_for,
    gross,
    split_by_share,
)

SIZES = {"S": 0.2, "M": 0.5, "L": 0.3}
NOTHING_PAID = CashPlan((), (), 1.0)


def lumpy(**more: float) -> Demand:
    """Demand in three sizes with everything uncertain."""
    return with_sizes(stated_demand(20, 9), SIZES, **more)


def arrivals(futures: Futures, most: int = 8) -> np.ndarray:
    """A week of arrival for every future."""
    return np.random.default_rng(4).integers(0, most, futures.count)


def by_hand(futures: Futures, arrival: np.ndarray, quantities: list[int]) -> tuple[float, float]:
    """Mean pieces used and mean weeks on the shelf, piece by piece."""
    used, weeks = 0, 0.0
    for chunk in futures.chunks():
        for place in range(chunk.count):
            week_there = int(arrival[chunk.first + place])
            for size, quantity in enumerate(quantities):
                path = chunk.cumulative[place, :, size]
                before = 0 if week_there == 0 else int(path[min(week_there, futures.weeks) - 1])
                end = futures.weeks if chunk.out_of_use is None else int(chunk.out_of_use[place, size])
                for piece in range(1, quantity + 1):
                    due = [t for t in range(week_there, futures.weeks) if path[t] - before >= piece]
                    used += bool(due)
                    weeks += due[0] - week_there + 0.5 if due else max(0, end - week_there)
    return used / futures.count, weeks / futures.count


@pytest.mark.parametrize("hazard", [0.0, 1.5])
def test_curves_and_outcomes_are_what_loops_count(hazard: float) -> None:
    """The sums of the curves, the outcomes of the order and a loop over every piece agree."""
    futures = Futures(lumpy(obsolescence_per_year=hazard), 20, 60, 11)
    arrival, quantities = arrivals(futures), [12, 40, 25]
    curve = unit_curves(futures, [arrival])[0].padded(60)
    used = sum(float(curve.used[size, :n].sum()) for size, n in enumerate(quantities))
    weeks = sum(float(curve.held_weeks[size, :n].sum()) for size, n in enumerate(quantities))
    found = outcomes(futures, Order(np.array(quantities), 0.0, arrival), NOTHING_PAID)
    assert by_hand(futures, arrival, quantities) == (pytest.approx(used), pytest.approx(weeks))
    assert float(found.used.mean()) == pytest.approx(used)
    assert float(found.held_weeks.mean()) == pytest.approx(weeks)
    assert (found.used + found.left == sum(quantities)).all()


def test_the_chance_of_use_is_the_closed_form() -> None:
    """P(demand >= n) of a gamma-distributed rate, within four standard errors."""
    demand = stated_demand(12)
    futures = Futures(demand, 26, 20_000, 2)
    used = unit_curves(futures, [np.zeros(futures.count, dtype=np.int64)])[0].used[0]
    exact = 1 - np.cumsum(negative_binomial(demand.rate.shape, demand.rate.rate, 26, 200))
    for piece in (40, 70, 100):
        chance = float(exact[piece - 1])
        assert used[piece - 1] == pytest.approx(chance, abs=4 * math.sqrt(chance * (1 - chance) / 20_000))


def test_curves_never_turn() -> None:
    """A further piece is used less often and lies longer."""
    futures = Futures(lumpy(obsolescence_per_year=0.5), 40, 300, 3)
    curve = unit_curves(futures, [arrivals(futures)])[0]
    assert (np.diff(curve.used, axis=1) <= 0).all()
    assert (np.diff(curve.held_weeks, axis=1) >= -1e-9).all()


def test_stock_on_hand_is_used_first() -> None:
    """Pieces that arrive wait until what was there is gone."""
    demand = with_sizes(stated_demand(52 / 12 * 2, 0), {}, on_hand={"": 30})
    futures = Futures(demand, 40, 1, 1)
    found = outcomes(futures, Order(np.array([100]), 0.0, np.array([5])), NOTHING_PAID)
    assert int(found.used[0]) == 40 * 2 - 30


def test_what_arrives_after_the_horizon_is_never_used() -> None:
    """All of it is left, and it never lay on the shelf within the horizon."""
    futures = Futures(lumpy(), 10, 50, 1)
    late = np.full(50, 30)
    found = outcomes(futures, Order(np.array([5, 5, 5]), 0.0, late), NOTHING_PAID)
    assert (int(found.used.sum()), int(found.left.sum())) == (0, 750)
    assert float(np.abs(found.held_weeks).sum()) == 0


def test_defects_cost_pieces() -> None:
    """A tenth of a large order is bad, by chance and on average."""
    futures = Futures(with_sizes(stated_demand(5_000), {}), 20, 400, 1)
    zero = np.zeros(400, dtype=np.int64)
    found = outcomes(futures, Order(np.array([1_000]), 0.1, zero), NOTHING_PAID)
    assert float((found.used + found.left).mean()) == pytest.approx(900, abs=4 * math.sqrt(90 / 400))
    assert len(set((found.used + found.left).tolist())) > 1


def test_the_cash_path_of_a_certain_future() -> None:
    """100 paid at once and 50 on arrival in week 2; ten a week come back: 150 deep, made good in week 17."""
    futures = Futures(with_sizes(stated_demand(52 / 12 * 5, 0), {}), 30, 1, 1)
    arrival = np.array([2])
    cash = CashPlan((100.0, 50.0), (np.array([0]), arrival), 2.0)
    found = outcomes(futures, Order(np.array([200]), 0.0, arrival), cash)
    assert float(found.cash_peak_minor[0]) == 150
    assert int(found.payback_week[0]) == 17


def test_cash_that_never_comes_back() -> None:
    """Too few pieces are used within the horizon."""
    futures = Futures(with_sizes(stated_demand(4, 0), {}), 10, 1, 1)
    cash = CashPlan((1_000.0,), (np.array([0]),), 1.0)
    found = outcomes(futures, Order(np.array([50]), 0.0, np.array([0])), cash)
    assert int(found.payback_week[0]) == -1


VALUES = PieceValues(used_minor=300.0, left_minor=40.0, week_minor=1.5)


def test_no_other_split_is_worth_more() -> None:
    """Every split of 24 pieces over three sizes, tried one by one."""
    futures = Futures(lumpy(), 12, 200, 9)
    curve = unit_curves(futures, [arrivals(futures, 3)])[0].padded(30)
    shares = list(SIZES.values())
    best = by_value(curve, shares, VALUES).quantities(24)

    def worth(split: tuple[int, ...]) -> float:
        return sum(
            (300 - 40) * float(curve.used[size, :n].sum()) - 1.5 * float(curve.held_weeks[size, :n].sum())
            for size, n in enumerate(split)
        )

    every = [(a, b, 24 - a - b) for a in range(25) for b in range(25 - a)]
    assert worth(tuple(best.tolist())) == pytest.approx(max(worth(split) for split in every), rel=1e-12)


def test_a_piece_that_lies_long_gives_way_to_one_that_is_used_soon() -> None:
    """Likelier to be used in the end, and still worth less: the weeks on the shelf cost money."""
    used = np.array([[0.90, 0.50], [0.85, 0.45]])
    weeks = np.array([[1.0, 50.0], [1.0, 2.0]])
    curves = UnitCurves(used, weeks, np.array([52.0, 52.0]))
    best = by_value(curves, [0.5, 0.5], PieceValues(used_minor=100.0, left_minor=0.0, week_minor=1.0))
    assert best.quantities(3).tolist() == [1, 2]
    free = by_value(curves, [0.5, 0.5], PieceValues(used_minor=100.0, left_minor=0.0, week_minor=0.0))
    assert free.quantities(3).tolist() == [2, 1]


def test_the_total_hides_leftovers() -> None:
    """Prepacks of the wrong ratio leave more, size by size, than the total shows."""
    futures = Futures(with_sizes(stated_demand(20), {"S": 0.1, "M": 0.3, "L": 0.4, "XL": 0.2}), 52, 1_000, 1)
    zero = np.zeros(1_000, dtype=np.int64)
    curve = unit_curves(futures, [zero])[0].padded(100)
    packs = by_ratio(curve, [2, 4, 4, 2])
    by_size = 240 - packs.expected_used(240)
    total = np.concatenate([chunk.cumulative[:, -1].sum(axis=1) for chunk in futures.chunks()])
    aggregate = float(np.maximum(240 - total, 0).mean())
    assert by_size > aggregate + 5
    assert packs.quantities(240).tolist() == [40, 80, 80, 40]


def test_bad_pieces_are_neither_used_nor_kept() -> None:
    """With a fifth bad, five bought do what four good ones do."""
    futures = Futures(lumpy(), 20, 100, 1)
    good = unit_curves(futures, [arrivals(futures)])[0]
    bought = gross(good, 0.2, 0)
    assert float(bought.used[1, :25].sum()) == pytest.approx(float(good.used[1, :20].sum()), rel=0.02)


def test_enough_for_a_service_level() -> None:
    """One piece fewer in a size would miss it."""
    futures = Futures(with_sizes(stated_demand(20), {}), 20, 2_000, 1)
    curve = unit_curves(futures, [np.zeros(2_000, dtype=np.int64)])[0]
    enough = enough_for(curve, 0.9)
    assert curve.used[0, enough] <= 0.1 < curve.used[0, enough - 1]
    assert by_service(curve, [1.0]).quantities(enough).tolist() == [enough]


@pytest.mark.parametrize("quantity", [0, 1, 7, 100])
def test_shares_add_up_to_the_quantity(quantity: int) -> None:
    """Largest remainders lose nothing."""
    assert sum(split_by_share(quantity, [0.15, 0.25, 0.35, 0.25])) == quantity

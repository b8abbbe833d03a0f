"""Cash and stock from week to week: their bands are those of the futures the tables came from."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from study_builder import FAR, NEAR, study

from ledger.sourcing import chart_paths
from ledger.sourcing.chart_data import drawn_again, source_of, subject
from ledger.sourcing.chart_paths import cash_chart, stock_chart
from ledger.sourcing.decide import Decision, decide
from ledger.sourcing.demand import stated_demand, with_sizes
from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.quote import Defects, Deposit
from ledger.sourcing.simulate import used_after_arrival
from ledger.sourcing.study import Limits

SLOW = replace(FAR, lead=LeadTimes(50.0, 12.0), cost_per_order=20_000.0)


def made(defects: Fraction = Fraction(0)) -> Decision:
    """A decision with stock on hand, a deposit, uncertain arrival, and bad pieces where asked for."""
    demand = with_sizes(stated_demand(60.0), {"S": 0.2, "M": 0.5, "L": 0.3})
    sizes = tuple(replace(size, on_hand=9 + place) for place, size in enumerate(demand.sizes))
    asked = study(replace(demand, sizes=sizes), (NEAR, SLOW), limits=Limits(cash_minor=500_000.0))
    near, far = asked.offers
    quote = replace(far.quote, deposit=Deposit(Fraction(3, 10), 20), defects=Defects(defects))
    return decide(replace(asked, offers=(near, replace(far, quote=quote))), 400, 1)


@pytest.fixture(scope="module")
def decision() -> Decision:
    """Without bad pieces."""
    return made()


@pytest.mark.parametrize("defects", [Fraction(0), Fraction(1, 20)])
def test_the_deepest_cash_is_the_tables(defects: Fraction) -> None:
    """The most that is tied up in any future is the lowest point of the picture."""
    decision = made(defects)
    chart, held = cash_chart(decision, drawn_again(decision)), subject(decision)
    assert chart is not None
    assert held is not None
    assert -chart.deepest_minor == pytest.approx(held.cash_peak)
    assert chart.payback_weeks == held.payback_weeks
    assert (chart.quantity, chart.limit_minor) == (held.quantity, 500_000.0)


@pytest.mark.parametrize("defects", [Fraction(0), Fraction(1, 20)])
def test_what_is_left_of_all_sizes_is_the_tables(defects: Fraction) -> None:
    """The leftovers of the sizes add up to those of the alternative, on the very same futures."""
    decision = made(defects)
    held, futures = subject(decision), drawn_again(decision)
    assert held is not None
    charts = [stock_chart(decision, futures, size) for size in range(3)]
    assert sum(chart.expected_left for chart in charts if chart) == pytest.approx(held.expected_left)
    assert [chart.ordered for chart in charts if chart] == list(held.quantities)


def test_bands_are_those_of_single_futures(decision: Decision) -> None:
    """Reckoned future by future with nothing counted together, cash and stock come out the same."""
    futures, held = drawn_again(decision), subject(decision)
    assert held is not None
    assert decision.bulk_plan is not None
    bulk = source_of(decision, decision.bulk_plan, futures)
    cash, stock = [], []
    place = chart_paths.main_size(held)
    for chunk in futures.chunks():
        used = np.minimum(
            used_after_arrival(futures, chunk, bulk.arrival[chunk.part]), np.array(held.quantities)
        )
        for row in range(chunk.count):
            arrival = bulk.arrival[chunk.first + row]
            cash.append(_cash_of(decision, used[row].sum(axis=1), arrival))
            stock.append(
                _stock_of(decision, used[row][:, place], chunk.cumulative[row][:, place], arrival, place)
            )
    for chart, paths in ((cash_chart(decision, futures), cash), (stock_chart(decision, futures), stock)):
        assert chart is not None
        ordered = np.sort(np.array(paths), axis=0)
        assert chart.band.low == pytest.approx(ordered[39])
        assert chart.band.middle == pytest.approx(ordered[199])
        assert chart.band.high == pytest.approx(ordered[359])


def _cash_of(decision: Decision, used: np.ndarray, arrival: int) -> list[float]:
    """Cash at the start of each week: handling and deposit now, the balance at shipping, the rest on arrival."""
    assert decision.bulk_plan is not None
    assert decision.home is not None
    held, curve = subject(decision), decision.bulk_plan.curve
    assert held is not None
    goods = curve.goods(held.quantity)
    rest = curve.total(held.quantity) - goods
    path = []
    for week in range(53):
        paid = (
            20_000
            + 0.3 * goods
            + (0.7 * goods if min(week, 51) >= 3 else 0)
            + (rest if min(week, 51) >= arrival else 0)
        )
        saved = (used[week - 1] if week else 0) * (decision.home.cost_per_unit_minor or 0)
        path.append(saved - paid)
    return path


def _stock_of(
    decision: Decision, used: np.ndarray, asked: np.ndarray, arrival: int, place: int
) -> list[float]:
    """Stock of a size: what was there less what is asked for, and what came less what of it is used."""
    held, there = subject(decision), decision.study.demand.sizes[place].on_hand
    assert held is not None
    path = [float(there)]
    for week in range(52):
        old = max(0, there - int(asked[week]))
        path.append(float(old + (held.quantities[place] - int(used[week]) if arrival <= week else 0)))
    return path


def test_the_arrival_is_that_of_the_lead_time(decision: Decision) -> None:
    """One, five and nine of ten are there in the weeks of the same points of the lead time."""
    chart = stock_chart(decision, drawn_again(decision))
    assert chart is not None
    days = SLOW.lead.days(np.array([0.1, 0.5, 0.9]))
    weeks = [chart.arrival.low, chart.arrival.middle, chart.arrival.high]
    assert weeks == pytest.approx(np.ceil(days / 7), abs=1)


def test_large_orders_are_counted_coarsely_and_nearly_alike(
    decision: Decision, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Memory does not grow with the order: neighbouring counts stand together, within their step."""
    exact = stock_chart(decision, drawn_again(decision))
    monkeypatch.setattr(chart_paths, "MOST_COLUMNS", 40)
    coarse = stock_chart(decision, drawn_again(decision))
    assert exact is not None
    assert coarse is not None
    step = -(-(exact.on_hand + exact.ordered + 1) // 40)
    gaps = np.array(exact.band.middle) - np.array(coarse.band.middle)
    assert (gaps >= 0).all()
    assert (gaps < step).all()

"""What the pictures of a decision show agrees with its tables: the same seed, the same futures."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from study_builder import FAR, NEAR, OfferShape, study

from ledger.sourcing.chart_data import (
    LEAST_LOST,
    cost_lines,
    drawn_again,
    name_of,
    orders,
    saving_chart,
    subject,
    tornado_chart,
    volume_chart,
)
from ledger.sourcing.charts import DecisionCharts, charts_of
from ledger.sourcing.decide import Decision, decide
from ledger.sourcing.demand import WEEKS_PER_MONTH, stated_demand, with_sizes
from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.study import Limits

SLOW = replace(FAR, lead=LeadTimes(50.0, 12.0), cost_per_order=20_000.0)
BREAKS = OfferShape("near", ((1, 420.0), (72, 375.0), (288, 350.0)), per_order=1_400.0)


@pytest.fixture(scope="module")
def decision() -> Decision:
    """A decision in which one bulk and the base differ, and everything is uncertain."""
    demand = with_sizes(stated_demand(60.0), {"S": 0.2, "M": 0.5, "L": 0.3})
    asked = study(demand, (BREAKS, SLOW), limits=Limits(worst_tenth_minor=-20_000.0))
    return decide(asked, 500, 1)


def test_the_same_futures_are_drawn_again(decision: Decision) -> None:
    """As many, over as many weeks, from the same seed."""
    again = drawn_again(decision)
    assert (again.count, again.weeks, again.seed) == (500, 52, 1)


def test_landed_cost_has_the_orders_of_the_tables(decision: Decision) -> None:
    """Each offer's own order, and those of the alternatives, cost there what the tables say."""
    for line, plan in zip(cost_lines(decision), decision.plans, strict=True):
        costs = {point.quantity: point.unit_minor for point in line.points}
        assert plan.order_quantity in line.ordered
        for quantity in line.ordered:
            assert costs[quantity] == pytest.approx(plan.curve.unit(quantity), abs=1e-9)
    far = next(line for line in cost_lines(decision) if line.offer == "far")
    assert {held.quantity for held in orders(decision)} <= set(far.ordered)


def test_landed_cost_shows_both_sides_of_a_break(decision: Decision) -> None:
    """Just below 72 and at 72, just below 288 and at 288: the line drops where the price does."""
    line = next(line for line in cost_lines(decision) if line.offer == "near")
    costs = {point.quantity: point.unit_minor for point in line.points}
    assert costs[71] - costs[72] == pytest.approx(45 + 1400 / 71 - 1400 / 72)
    assert costs[287] > costs[288]
    said = {point.quantity: point.what for point in line.points}
    assert (said[72], said[71]) == ("price break at 72", "last below the break")


def test_landed_cost_goes_to_twice_the_largest_order(decision: Decision) -> None:
    """Of all offers alike, so that they can be held against each other."""
    lines = cost_lines(decision)
    most = max(quantity for line in lines for quantity in line.ordered)
    assert {line.points[-1].quantity for line in lines} == {2 * most}


def test_volumes_go_in_eighths_to_twice_what_is_counted(decision: Decision) -> None:
    """What is counted is one of them; the break-even stands between them."""
    chart = volume_chart(decision, drawn_again(decision))
    assert chart is not None
    even = [each for each in chart.per_month if each != chart.break_even]
    assert even == pytest.approx([15 * step for step in range(9)])
    assert chart.counted_per_month == pytest.approx(60)


def test_the_break_even_is_that_of_the_decision(decision: Decision) -> None:
    """At it the order costs what home costs; a little below it costs more, a little above less."""
    chart = volume_chart(decision, drawn_again(decision))
    assert chart is not None
    assert decision.break_even is not None
    assert chart.break_even == decision.break_even.units_per_month
    assert chart.break_even is not None
    place = chart.per_month.index(chart.break_even)
    home, order = chart.lines[0], next(line for line in chart.lines if line.name == chart.of)
    gaps = [mine - its for mine, its in zip(home.totals_minor, order.totals_minor, strict=True)]
    assert gaps[place - 1] < 0 < gaps[place + 1]
    assert abs(gaps[place]) < 0.02 * (gaps[place + 1] - gaps[place - 1])


def test_volumes_go_on_beyond_a_break_even_far_away(decision: Decision) -> None:
    """By three tenths of it, so that the crossing is not at the edge of the picture."""
    assert decision.break_even is not None
    far = replace(decision, break_even=replace(decision.break_even, units_per_month=200.0))
    chart = volume_chart(far, drawn_again(decision))
    assert chart is not None
    assert chart.per_month[-1] == pytest.approx(260)
    assert {60.0, 200.0} <= {round(each, 9) for each in chart.per_month}


def test_home_costs_nothing_without_demand_and_the_order_all_of_itself(decision: Decision) -> None:
    """At no demand the gap to buying at home is the whole order with its time on the shelf."""
    chart = volume_chart(decision, drawn_again(decision))
    assert chart is not None
    assert chart.per_month[0] == 0
    assert chart.lines[0].totals_minor[0] == 0
    for line in chart.lines[1:]:
        assert decision.bulk_plan is not None
        assert line.totals_minor[0] > decision.bulk_plan.curve.total(line.quantity)


def test_the_spread_of_savings_is_that_of_the_table(decision: Decision) -> None:
    """All futures are counted once; what lies above 0 is what is cheaper; mean and worst tenth are the table's."""
    chart = saving_chart(decision)
    assert chart is not None
    assert 0.0 in chart.edges_minor
    assert chart.limit_minor == -20_000.0
    for spread, held in zip(chart.spreads, orders(decision), strict=True):
        assert sum(spread.counts) == decision.futures
        above = sum(count for edge, count in zip(chart.edges_minor, spread.counts, strict=False) if edge >= 0)
        assert above / decision.futures == held.probability_cheaper
        assert (spread.mean_minor, spread.worst_tenth_minor) == (held.expected_saving, held.worst_tenth)


def test_the_tornado_is_the_decisions_own(decision: Decision) -> None:
    """The same lines in the same order, around the saving of the order they are about."""
    chart = tornado_chart(decision)
    assert chart is not None
    assert decision.focus is not None
    assert chart.swings == decision.sensitivity
    assert (chart.quantity, chart.expected_minor) == (decision.focus.quantity, decision.focus.expected_saving)


def test_where_nothing_pays_the_order_that_loses_least_is_shown() -> None:
    """Its pictures say what it would be like, under a name of its own."""
    dear = replace(SLOW, breaks=((1, 400.0),))
    demand = with_sizes(stated_demand(60.0), {})
    decision = decide(study(demand, (NEAR, dear)), 200, 1)
    assert decision.verdict.chosen.quantity == 0
    shown = subject(decision)
    assert shown is decision.focus
    assert shown is not None
    assert name_of(decision, shown) == LEAST_LOST
    chart = volume_chart(decision, drawn_again(decision))
    assert chart is not None
    assert LEAST_LOST in {line.name for line in chart.lines}


def test_without_an_offer_from_afar_there_is_only_the_cost() -> None:
    """Nothing is weighed, so nothing else can be drawn."""
    charts = charts_of(decide(study(shapes=(NEAR,)), 50, 1))
    assert [line.offer for line in charts.cost] == ["near"]
    assert replace(charts, cost=()) == DecisionCharts()


def test_without_chance_no_spread_is_shown() -> None:
    """One future has no spread; the other pictures are there."""
    demand = with_sizes(stated_demand(60.0), {}).known(60 / WEEKS_PER_MONTH)
    decision = decide(study(replace(demand, weekly_sd=0.0)), 50, 1)
    assert decision.futures == 1
    charts = charts_of(decision)
    assert charts.saving is None
    assert charts.cash is not None
    assert charts.cash.band.low == charts.cash.band.high


@settings(deadline=None, max_examples=25)
@given(st.lists(st.floats(-1e7, 1e7), min_size=2, max_size=60))
def test_every_saving_falls_into_one_bar(savings: list[float]) -> None:
    """Whatever the savings are, the edges take all of them, and 0 parts what saves from what loses."""
    import numpy as np  # noqa: PLC0415  (only here)

    base = decide(study(), 50, 1)
    held = next(each for each in base.alternatives if each.quantity)
    values = np.array(savings)
    drawn = replace(held, savings=values, probability_cheaper=float((values > 0).mean()))
    chart = saving_chart(
        replace(base, alternatives=(drawn,), focus=None, verdict=replace(base.verdict, chosen=drawn))
    )
    assert chart is not None
    (spread,) = chart.spreads
    assert sum(spread.counts) == len(savings)
    below, above = chart.edges_minor[0], chart.edges_minor[-1]
    assert below < min(savings)
    assert above >= max(savings)
    # Steps are round: from half of the twenty-four bars to two more, for both ends.
    if max(savings) - min(savings) >= 1:
        assert 12 <= len(spread.counts) <= 26

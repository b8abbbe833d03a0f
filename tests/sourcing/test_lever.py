"""The saving of a fixed order with one figure changed: it agrees with the decision itself, and with plain recounts."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from study_builder import FAR, NEAR, TODAY, OfferShape, study

from ledger.sourcing.chance import binomial
from ledger.sourcing.chart_data import drawn_again, source_of
from ledger.sourcing.decide import Decision, decide
from ledger.sourcing.demand import stated_demand, with_sizes
from ledger.sourcing.futures import Futures
from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.lever import BentLine, Lever
from ledger.sourcing.offer_plan import CostCurve, payments, pipeline_cost, weeks_until
from ledger.sourcing.screen import saving
from ledger.sourcing.sensitivity import DEMAND, LEAD_TIME, Swing
from ledger.sourcing.study import MoneyTerms

SLOW = LeadTimes(56, 0, start=TODAY)
CERTAIN = with_sizes(stated_demand(52 / 12 * 18, 0), {})


def swing_of(decision: Decision, name: str) -> Swing:
    """The line of the tornado for an assumption."""
    return next(swing for swing in decision.sensitivity if swing.assumption == name)


@pytest.mark.parametrize(("days", "week"), [(0, 0), (3.4, 0), (3.5, 1), (10.4, 1), (10.6, 2), (56, 8)])
def test_an_order_is_there_in_the_nearest_week(days: float, week: int) -> None:
    """Rounding up would make every order half a week late on average."""
    assert weeks_until(days) == week


def test_paying_early_grows_with_the_time() -> None:
    """Goods paid with the order and there a hundred days later cost a hundred days of capital."""
    told = study(shapes=(NEAR, replace(FAR, lead=SLOW)))
    curve = CostCurve(told.offers[1])
    usual, longer = pipeline_cost(told, curve, 100), pipeline_cost(told, curve, 100, 112)
    assert longer == pytest.approx(2 * usual)
    assert [each.days_before_arrival for each in payments(curve, 100, 112)] == [112, 0]


def test_the_row_of_the_lead_time_is_a_decision_at_that_time() -> None:
    """A week longer and a week shorter, the order as it is: what the whole decision says of them."""
    shape = replace(FAR, lead=SLOW, cost_per_order=10_000.0)
    told = study(CERTAIN, (NEAR, shape))
    fixed = replace(
        told,
        offers=(told.offers[0], replace(told.offers[1], quote=replace(told.offers[1].quote, quantity=500))),
    )
    swing = swing_of(decide(fixed, 50, 1), LEAD_TIME)
    for days, row in ((swing.low, swing.saving_low), (swing.high, swing.saving_high)):
        moved = replace(
            fixed, offers=(fixed.offers[0], replace(fixed.offers[1], lead=LeadTimes(days, start=TODAY)))
        )
        assert decide(moved, 50, 1).alternatives[1].expected_saving == pytest.approx(row, rel=1e-9)


def test_few_futures_agree_with_all_of_them() -> None:
    """At the price, the time and the rate as they are every line goes through the saving of the table."""
    told = study(
        with_sizes(stated_demand(60, 20), {"S": 0.4, "M": 0.6}),
        (NEAR, replace(FAR, lead=LeadTimes(45, 12, start=TODAY))),
    )
    decision = decide(told, 2_000, 1)
    held, swing = decision.focus, swing_of(decision, DEMAND)
    assert held is not None
    assert 0 < swing.futures < decision.futures
    # What is not drawn anew is looked at in all of them.
    assert swing_of(decision, LEAD_TIME).futures == decision.futures
    assert swing.standard_error > 0
    assert decision.bulk_plan is not None
    futures = drawn_again(decision)
    lever = Lever(source_of(decision, decision.bulk_plan, futures), held, futures)
    # The rate is known already: taken as known once more, nothing changes, in few futures as in all.
    assert lever.at_demand(told.demand.per_week) == pytest.approx(held.expected_saving, rel=1e-9)
    assert swing.saving_low < held.expected_saving < swing.saving_high


@pytest.mark.parametrize(("sizes", "count"), [(1, 300), (4, 288), (20, 100)])
def test_so_few_futures_are_drawn_anew_as_their_cells_allow(sizes: int, count: int) -> None:
    """Sixty thousand cells of 52 weeks and some sizes; never over three hundred, never below a hundred."""
    decision = decide(study(CERTAIN), 50, 1)
    assert decision.bulk_plan is not None
    assert decision.focus is not None
    bulk = source_of(decision, decision.bulk_plan, drawn_again(decision))
    split = with_sizes(stated_demand(60, 20), {str(size): 1.0 for size in range(sizes)})
    assert Lever(bulk, decision.focus, Futures(split, 52, 2_000, 1)).few.count == count


@given(quantity=st.integers(1, 400), chance=st.floats(0, 1))
def test_binomial_chances(quantity: int, chance: float) -> None:
    """They add up to one and have the right mean."""
    found = binomial(quantity, chance)
    assert float(found.sum()) == pytest.approx(1)
    assert float((found * range(quantity + 1)).sum()) == pytest.approx(quantity * chance, abs=1e-6)


def test_a_bent_line_has_its_root_where_it_is_nothing() -> None:
    """On either side of the bend."""
    for line in (BentLine(3, 2, -1, -4), BentLine(3, -2, -1, -4), BentLine(3, 2, 1, 4)):
        assert line.root is not None
        assert line.at(line.root) == pytest.approx(0)
    assert BentLine(3, 2, 0, 0).root is None


def test_a_leftover_fetches_no_part_of_more_than_the_price_at_home() -> None:
    """One piece that carries 400.00 of fixed cost sells for a fraction of a new one at home."""
    shape = replace(FAR, per_order=40_000.0, cost_per_order=0.0)
    told = study(CERTAIN, (NEAR, shape), money=MoneyTerms(salvage_fraction=0.5))
    trial = decide(told, 50, 1).trial
    assert trial is not None
    assert trial.quantity == 1
    # The one piece is used: it costs 402.20 and saves the 3.75 at home.
    assert trial.saving_minor == pytest.approx(375 - 40_220)


@pytest.mark.parametrize("deposit_days", [0, 56])
@pytest.mark.parametrize("per_order", [0.0, 25_000.0])
def test_nothing_uncertain_is_the_screen_exactly(per_order: float, deposit_days: int) -> None:
    """What is fixed in the landed cost is carried and paid early in both; nothing is left within the horizon."""
    lead = LeadTimes(float(deposit_days), start=TODAY)
    shape = OfferShape(
        "far", ((1, 220.0),), origin="VN", per_order=per_order, cost_per_order=500.0, lead=lead
    )
    decision = decide(study(CERTAIN, (NEAR, shape)), 50, 1)
    assert decision.screen is not None
    held, (screened, _) = decision.focus, decision.screen
    assert held is not None
    # Whole weeks' worth, so that no piece of a week is left over to the next.
    assert held.quantity % 18 == 0
    assert screened.carried_fixed == pytest.approx(per_order)
    assert held.expected_saving == pytest.approx(saving(screened, held.quantity), rel=1e-9)


@pytest.mark.parametrize("rate", [0.0, 0.25])
def test_paying_goes_on_beyond_what_any_future_uses(rate: float) -> None:
    """Every further piece is lost but for what it fetches: the end is where the saving is eaten up."""
    shape = replace(FAR, cost_per_order=1_000.0)
    told = study(CERTAIN, (NEAR, shape), money=MoneyTerms(capital_per_year=0.0, salvage_fraction=rate))
    points = decide(told, 50, 1).break_even
    assert points is not None
    # 936 are asked for; at home 3.75, afar 2.20, and a leftover costs 2.20 less what it fetches.
    most = 936 + (936 * 155 - 1_000) / (220 * (1 - rate))
    assert points.quantity_to == int(most)

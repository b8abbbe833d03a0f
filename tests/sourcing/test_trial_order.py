"""A small order first: what it costs, what it tells, when there is none."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from study_builder import FAR, NEAR, TODAY, study

from ledger.sourcing.decide import Decision, decide
from ledger.sourcing.demand import guessed_demand, with_sizes
from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.quote import OrderRules
from ledger.sourcing.study import Study

DOUBTFUL = with_sizes(guessed_demand(20, 50, 110), {})
MILL = replace(FAR, cost_per_order=12_000.0, lead=LeadTimes(40, 8, start=TODAY), rules=OrderRules(minimum=60))


def decided(shape: object = MILL) -> Decision:
    """The decision between home and this offer."""
    return decide(study(DOUBTFUL, (NEAR, shape)), 400, 1)  # type: ignore[arg-type]


def test_the_smallest_order_is_the_trial_of_the_larger_one() -> None:
    """60 pieces carry the whole fixed cost, so they cost more than at home."""
    trial = decided().trial
    assert trial is not None
    assert (trial.quantity, trial.is_smaller, trial.weeks) == (60, True, 6)
    # 60 pieces save 1.55 each before carrying, and the order costs 120.00.
    assert -12_000 < trial.saving_minor < 60 * 155 - 12_000


def test_the_sales_seen_are_worth_what_waiting_as_long_is() -> None:
    """Between what four and eight weeks are worth."""
    decision = decided()
    worth = {each.weeks: each.value for each in decision.waiting}
    assert decision.trial is not None
    assert decision.trial.sales_worth_minor is not None
    assert worth[4] <= decision.trial.sales_worth_minor <= worth[8]


@pytest.mark.parametrize("expected", [0, Fraction(1, 50)])
def test_at_the_named_defect_rate_the_larger_order_saves_nothing(expected: Fraction) -> None:
    """The whole decision made again with so many bad pieces and that quantity: within its error nothing is saved."""
    told = of_defects(study(DOUBTFUL, (NEAR, MILL)), Fraction(expected))
    trial = decide(told, 400, 1).trial
    assert trial is not None
    assert trial.most_defects is not None
    worse = of_defects(told, Fraction(str(round(trial.most_defects, 6))), trial.larger_quantity)
    again = decide(worse, 400, 1).alternatives[1]
    assert again.quantity == trial.larger_quantity
    # Which pieces are bad is drawn there, and summed up exactly for the trial.
    assert abs(again.expected_saving) < 2 * again.standard_error


def of_defects(told: Study, rate: Fraction, quantity: int = 0) -> Study:
    """The study with so many bad pieces from afar, and its quantity fixed."""
    near, far = told.offers
    quote = replace(far.quote, quantity=quantity, defects=replace(far.quote.defects, rate=rate))
    return replace(told, offers=(near, replace(far, quote=quote)))


def test_no_smaller_order_no_trial() -> None:
    """A minimum that is the order itself."""
    trial = decided(replace(MILL, rules=OrderRules(minimum=900))).trial
    assert trial is not None
    assert not trial.is_smaller


def test_nothing_is_tried_without_an_offer_from_afar() -> None:
    """There is nothing to find out."""
    assert decide(study(DOUBTFUL, (NEAR,)), 50, 1).trial is None


def stocked(on_hand: int) -> Study:
    """A certain 52 a year at home in five days, with so many on the shelf."""
    demand = with_sizes(guessed_demand(10, 10, 10), {}, on_hand={"": on_hand})
    near = replace(NEAR, lead=LeadTimes(5, start=TODAY))
    return replace(study(demand, (near,)), is_stock_known=True)


def test_stock_says_when_to_order() -> None:
    """Ten a month last until the stock is used up; five days before that is the last day to order."""
    decision = decide(stocked(20), 50, 1)
    assert decision.order_by is not None
    # Twenty pieces are two months of 52 / 12 weeks, sixty days.
    assert (decision.order_by - TODAY).days == 60 - 5
    assert decision.warnings == ()


def test_a_shelf_that_is_empty_is_ordered_for_today_and_told() -> None:
    """None on hand is known to be none."""
    decision = decide(stocked(0), 50, 1)
    assert decision.order_by == TODAY
    assert any("the stock lasts until" in text for text in decision.warnings)


def test_a_very_cheap_order_bears_more_bad_pieces_than_good_ones() -> None:
    """At a tenth of the price at home more than half may be bad before it saves nothing."""
    trial = decided(replace(MILL, breaks=((1, 37.5),))).trial
    assert trial is not None
    assert trial.most_defects is not None
    assert 0.6 < trial.most_defects < 0.9

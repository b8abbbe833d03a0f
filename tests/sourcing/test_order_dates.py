"""By when to order, and what is said where no day can be given."""

from __future__ import annotations

import datetime
from dataclasses import replace

from study_builder import FAR, NEAR, TODAY, study

from ledger.sourcing.decide import Decision, decide
from ledger.sourcing.demand import guessed_demand, stated_demand, with_sizes
from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.verdict import DOMESTIC
from ledger.sourcing.year_bridge import year_bridge

SLOW = replace(FAR, lead=LeadTimes(45, 10, start=TODAY), cost_per_order=10_000)


def decided(need_by: datetime.date | None = None, on_hand: int | None = None, months: int = 12) -> Decision:
    """A decision for an offer that takes 45 days."""
    demand = with_sizes(stated_demand(60), {}, on_hand={"": on_hand or 0})
    told = replace(study(demand, (NEAR, SLOW), months=months), need_by=need_by)
    return decide(replace(told, is_stock_known=on_hand is not None), 200, 1)


def test_a_day_that_cannot_be_met_is_called_too_late() -> None:
    """With the days on which goods ordered today are there."""
    decision = decided(TODAY + datetime.timedelta(days=20), on_hand=30)
    late = decision.order_date.too_late
    assert decision.order_by is None
    assert late is not None
    assert late.about == TODAY + datetime.timedelta(days=45)
    assert late.about < late.surely < TODAY + datetime.timedelta(days=75)
    text = " ".join(decision.warnings)
    assert f"too late: ordered today it is there about {late.about}, surely by {late.surely}" in text
    # The stock of half a month is a caution of its own.
    assert "the stock lasts until about" in text


def test_without_stock_or_need_the_missing_day_is_explained() -> None:
    """Nothing says when goods are needed."""
    decision = decided()
    assert decision.order_by is None
    assert any("neither on_hand nor need_by" in text for text in decision.warnings)


def test_a_day_beyond_the_horizon_is_none() -> None:
    """Stock for eight years: the real reason is told, and no day in 2034."""
    decision = decided(on_hand=6_000)
    assert decision.order_by is None
    assert decision.verdict.word == DOMESTIC
    assert decision.verdict.reasons == ("The stock on hand is expected to cover the 12 months looked at.",)
    assert any("beyond the 12 months looked at" in text for text in decision.warnings)


def test_goods_that_come_after_the_horizon_are_told_so() -> None:
    """Not that they would lose so much."""
    late = replace(SLOW, lead=LeadTimes(500, 10, start=TODAY))
    decision = decide(study(shapes=(NEAR, late)), 200, 1)
    assert decision.verdict.word == DOMESTIC
    assert "take about 500 days" in decision.verdict.reasons[0]
    assert (decision.trial, decision.break_even) == (None, None)


def test_few_pieces_ever_asked_for_are_no_stock() -> None:
    """A demand of next to nothing is not told that its stock covers it."""
    decision = decide(study(with_sizes(guessed_demand(0, 0.01, 0.1), {})), 200, 1)
    assert not any("stock on hand" in reason for reason in decision.verdict.reasons)


def test_reasons_say_what_the_figures_say() -> None:
    """An order of which a tenth is left over is not called the certain part; a larger one than bulk is explained."""
    decision = decided()
    base = decision.verdict.chosen
    assert base.expected_left > 0.02 * base.quantity
    assert f"Of the {base.quantity} from afar" in decision.verdict.reasons[0]
    told = study(shapes=(NEAR, replace(SLOW, breaks=((1, 220.0), (900, 60.0)))))
    more = decide(told, 200, 1)
    bulk, chosen = more.alternatives[1], more.verdict.chosen
    assert chosen.quantity >= 900 > bulk.quantity
    why = next(each for each in more.verdict.reasons if "that cover the need" in each)
    assert f"more than the {bulk.quantity} that" in why
    assert "so many cost 0.60 USD landed a piece instead of 2.20 USD" in why


def test_the_bridge_adds_up() -> None:
    """From the year in all to what one bulk saves, part by part."""
    decision = decided()
    assert decision.home is not None
    assert decision.bulk_plan is not None
    bulk = decision.alternatives[1]
    bridge = year_bridge(decision.study, decision.home, decision.bulk_plan, bulk)
    assert bridge is not None
    assert (
        abs(bridge.yearly - bridge.left_over - bridge.not_served + bridge.rest - bulk.expected_saving) < 1e-6
    )
    assert bridge.pieces_left == bulk.expected_left
    # What is left names most of the difference here, not the rest.
    assert abs(bridge.rest) < bridge.left_over

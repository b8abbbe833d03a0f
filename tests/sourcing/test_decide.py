"""Whole decisions: what must hold whatever the figures, and the edges."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import pytest
from study_builder import FAR, NEAR, TODAY, OfferShape, offer, scaled, study

from ledger.errors import InputErrors
from ledger.sourcing.bulk import assortment_for
from ledger.sourcing.decide import Decision, decide
from ledger.sourcing.demand import demand_from_history, guessed_demand, stated_demand, with_sizes
from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.quote import OrderRules, SizeShare
from ledger.sourcing.screen import ScreenInput, saving, screen
from ledger.sourcing.study import Limits, MoneyTerms, Study
from ledger.sourcing.verdict import BASE_AND_TOP_UP, BULK, DOMESTIC, NEED_DATA, TOO_CLOSE, VERDICTS

CERTAIN = with_sizes(stated_demand(52 / 12 * 18, 0), {})
"""Exactly 18 pieces a week."""

SLOW = LeadTimes(45, 10, start=TODAY)


def base_of(decision: Decision) -> tuple[int, float]:
    """Pieces and saving of base and top-up."""
    held = decision.alternatives[2]
    return held.quantity, held.expected_saving


@pytest.mark.parametrize("quantity", [180, 936, 1_800])
def test_certainty_is_exactly_the_screen(quantity: int) -> None:
    """One future, no chance: the saving is B Q - F - A Q² to the last digit that floats have."""
    fixed = replace(offer(FAR).quote, quantity=quantity)
    told = study(CERTAIN, months=48)
    told = replace(told, offers=(told.offers[0], replace(told.offers[1], quote=fixed)))
    decision = decide(told, 500, 1)
    held, home = decision.alternatives[1], decision.home
    assert home is not None
    # A piece at home costs its price and half a piece's time on the shelf.
    assert home.cost_per_unit_minor == pytest.approx(375 + 0.25 * 375 / 2 / 936)
    given = ScreenInput(375 + 0.25 * 375 / 2 / 936, 220, 40_000, 18 * 52, 0.25)
    assert held.quantity == quantity
    assert held.expected_saving == pytest.approx(saving(given, quantity), rel=1e-9)


def test_the_best_certain_quantity_is_the_screens() -> None:
    """At the vertex, where the horizon reaches that far."""
    decision = decide(study(CERTAIN, months=48), 500, 1)
    best = screen(ScreenInput(375, 220, 40_000, 18 * 52, 0.25)).best_quantity
    assert best is not None
    # Pieces of one week lie equally long on average, so the optimum is a whole week's worth.
    assert base_of(decision)[0] == pytest.approx(best, abs=18)
    assert decision.futures == 1


def test_buying_nothing_saves_nothing() -> None:
    """Where bulk is dearer than home the base is empty and its saving nothing."""
    decision = decide(study(shapes=(NEAR, replace(FAR, breaks=((1, 400.0),)))), 300, 1)
    assert base_of(decision) == (0, 0.0)
    assert decision.verdict.word == DOMESTIC


def test_money_in_another_unit_changes_no_decision() -> None:
    """Everything ten times as dear: the same quantities, ten times the savings."""
    told = study(shapes=(NEAR, replace(FAR, lead=SLOW)))
    dearer = study(shapes=(scaled(NEAR, 10), scaled(replace(FAR, lead=SLOW), 10)))
    one, ten = decide(told, 400, 1), decide(dearer, 400, 1)
    assert base_of(ten)[0] == base_of(one)[0]
    assert base_of(ten)[1] == pytest.approx(10 * base_of(one)[1], rel=1e-9)
    assert ten.verdict.word == one.verdict.word


def test_a_dearer_home_never_turns_bulk_into_domestic() -> None:
    """As the price at home rises the saving does, and the verdict goes one way."""
    savings, words = [], []
    for price in (240, 280, 320, 375, 450, 600):
        shapes = (replace(NEAR, breaks=((1, float(price)),)), replace(FAR, lead=SLOW))
        decision = decide(study(shapes=shapes), 400, 1)
        savings.append(base_of(decision)[1])
        words.append(decision.verdict.word)
    assert savings == sorted(savings)
    first = next(place for place, word in enumerate(words) if word in {BULK, BASE_AND_TOP_UP})
    assert all(word in {BULK, BASE_AND_TOP_UP} for word in words[first:])


def test_a_further_tier_never_makes_bulk_dearer() -> None:
    """A lower price for more can be ignored."""
    told = decide(study(shapes=(NEAR, replace(FAR, lead=SLOW))), 300, 1)
    tier = replace(FAR, lead=SLOW, breaks=((1, 220.0), (900, 205.0)))
    assert base_of(decide(study(shapes=(NEAR, tier)), 300, 1))[1] >= base_of(told)[1] - 1e-6


def test_no_other_quantity_saves_more() -> None:
    """Every allowed quantity by brute force, with breaks, a minimum and a multiple."""
    shape = replace(
        FAR,
        lead=SLOW,
        breaks=((1, 240.0), (300, 222.0)),
        rules=OrderRules(minimum=60, multiple=12),
        per_order=5_000,
    )
    told = study(with_sizes(stated_demand(60), {"S": 0.3, "M": 0.5, "L": 0.2}), (NEAR, shape))
    decision = decide(told, 200, 1)
    quantity, expected = base_of(decision)
    bulk = bulk_of(told, 200)
    by_hand = max(bulk.expected_saving(assortment_for(bulk, quantity), each) for each in range(60, 1_600, 12))
    assert expected == pytest.approx(by_hand, rel=1e-9)


def bulk_of(told: Study, count: int):  # noqa: ANN201 - the room's own record
    """The source that a decision weighs, made as it makes it."""
    from ledger.sourcing.decide import _bulks  # noqa: PLC0415
    from ledger.sourcing.futures import Futures  # noqa: PLC0415
    from ledger.sourcing.offer_plan import plan_offer  # noqa: PLC0415

    futures = Futures(told.demand, told.weeks, count, 1)
    plans = tuple(plan_offer(told, each, futures) for each in told.offers)
    return _bulks(told, futures, plans, plans[0])[0].bulk


def test_running_out_costs_the_premium_not_the_sale() -> None:
    """A lost margin is not used where somebody at home fills the gap, and that is said."""
    plain = decide(study(shapes=(NEAR, FAR)), 300, 1)
    flagged = study(shapes=(NEAR, FAR), money=MoneyTerms(capital_per_year=0.25, lost_margin_minor=900))
    decision = decide(flagged, 300, 1)
    assert base_of(decision) == base_of(plain)
    assert any("lost_margin is not used" in text for text in decision.warnings)


def test_a_lost_margin_counts_where_nobody_at_home_can_help() -> None:
    """Without a domestic offer the margin decides, and a greater one buys more."""
    quantities = []
    for margin in (300.0, 900.0):
        told = study(
            shapes=(replace(FAR, lead=SLOW),),
            money=MoneyTerms(capital_per_year=0.25, lost_margin_minor=margin),
        )
        decision = decide(told, 300, 1)
        quantities.append(decision.alternatives[1].quantity)
        assert len(decision.alternatives) == 2
    assert 0 < quantities[0] < quantities[1]


def test_nothing_to_hold_offers_against() -> None:
    """Only foreign offers and no lost margin: more has to be known."""
    decision = decide(study(shapes=(FAR,)), 100, 1)
    assert decision.verdict.word == NEED_DATA
    assert "domestic offer" in decision.verdict.reasons[0]


def test_only_domestic_offers() -> None:
    """The one that costs least a year is chosen."""
    dear = OfferShape("dear", ((1, 390.0),))
    decision = decide(study(shapes=(dear, NEAR)), 100, 1)
    assert (decision.verdict.word, decision.verdict.chosen.offer_name) == (DOMESTIC, "near")


def test_no_demand() -> None:
    """Nothing is bought, and no figure is made up."""
    decision = decide(study(stated_demand(0)), 100, 1)
    assert decision.verdict.word == DOMESTIC
    assert decision.alternatives == ()


def test_one_sale_ever() -> None:
    """Every figure is finite."""
    decision = decide(study(with_sizes(demand_from_history([0, 0, 1, 0]), {})), 300, 1)
    assert decision.verdict.word in VERDICTS
    for held in decision.alternatives:
        assert math.isfinite(held.expected_saving)
        assert math.isfinite(held.standard_error)


def test_a_minimum_of_five_years_of_demand() -> None:
    """It is held against home as it is, and said."""
    shape = replace(FAR, rules=OrderRules(minimum=3_600))
    decision = decide(study(shapes=(NEAR, shape)), 300, 1)
    assert decision.verdict.word == DOMESTIC
    assert any("5.0 years of demand" in text for text in decision.warnings)


def test_salvage_above_cost_is_refused() -> None:
    """In words, before anything is drawn."""
    with pytest.raises(InputErrors, match="salvage_fraction"):
        decide(study(money=MoneyTerms(salvage_fraction=1.0)), 100, 1)


def test_two_offers_of_one_name_are_refused() -> None:
    """They could not be told apart in the answer."""
    with pytest.raises(InputErrors, match="two offers"):
        decide(study(shapes=(NEAR, NEAR)), 100, 1)


@pytest.mark.parametrize(
    ("limits", "words"),
    [
        (Limits(cash_minor=100.0), "ties up"),
        (Limits(weeks_of_cover=0.1), "weeks of cover"),
        (Limits(space_units=1), "the shelf holds 1"),
    ],
    ids=["cash", "cover", "space"],
)
def test_limits_that_exclude_everything(limits: Limits, words: str) -> None:
    """The verdict is to stay at home, and the limit that says so is named."""
    shape = replace(FAR, rules=OrderRules(minimum=120))
    decision = decide(study(shapes=(NEAR, shape), limits=limits), 300, 1)
    assert decision.verdict.word == DOMESTIC
    assert any(words in reason for reason in decision.verdict.reasons)
    assert any("more than your limits" in reason for reason in decision.verdict.reasons)


@pytest.mark.parametrize("space", [50, 200])
def test_a_limit_is_kept(space: int) -> None:
    """Base and top-up fills the shelf and no more."""
    decision = decide(
        study(shapes=(NEAR, replace(FAR, cost_per_order=1_000)), limits=Limits(space_units=space)), 300, 1
    )
    assert decision.verdict.word == BASE_AND_TOP_UP
    assert base_of(decision)[0] == space


def test_a_demand_that_decides_is_named() -> None:
    """Where low and high demand say opposite things, demand is what has to be found out."""
    told = study(with_sizes(guessed_demand(5, 40, 90), {}), (NEAR, replace(FAR, cost_per_order=12_000)))
    decision = decide(told, 500, 1)
    assert decision.verdict.word == NEED_DATA
    assert "demand per month" in decision.verdict.reasons[-1]


def test_too_close_to_call() -> None:
    """At the price at home where the best order saves nothing, chance alone would decide."""
    steady = LeadTimes(45, 1, start=TODAY)
    far = replace(FAR, lead=steady, rules=OrderRules(minimum=600, maximum=600))
    demand = with_sizes(stated_demand(60, 25), {})
    told = decide(study(demand, (NEAR, far)), 400, 1)
    assert told.break_even is not None
    price = told.break_even.domestic_unit_minor
    assert price is not None
    even = decide(study(demand, (replace(NEAR, breaks=((1, float(math.ceil(price))),)), far)), 400, 1)
    held = even.alternatives[2]
    assert abs(held.expected_saving) < 2 * held.standard_error
    assert even.verdict.word == TOO_CLOSE


@pytest.mark.parametrize(("away", "pays"), [(-1, False), (1, True)])
def test_the_switch_point_at_home_is_where_it_flips(away: int, *, pays: bool) -> None:
    """A cent below the break-even price at home the same order loses, a cent above it saves."""
    shape = replace(FAR, lead=SLOW, rules=OrderRules(minimum=400, maximum=400))
    decision = decide(study(shapes=(NEAR, shape)), 300, 1)
    assert decision.break_even is not None
    price = decision.break_even.domestic_unit_minor
    assert price is not None
    beside = replace(NEAR, breaks=((1, float(round(price + away))),))
    held = decide(study(shapes=(beside, shape)), 300, 1).alternatives[1]
    assert held.quantity == 400
    assert (held.expected_saving > 0) is pays


def test_the_same_seed_gives_the_same_decision() -> None:
    """To the last digit; another seed gives other futures."""
    told = study(with_sizes(stated_demand(60), {"S": 0.4, "M": 0.6}), (NEAR, replace(FAR, lead=SLOW)))
    one, two, other = decide(told, 300, 7), decide(told, 300, 7), decide(told, 300, 8)
    assert base_of(one) == base_of(two)
    assert one.break_even == two.break_even
    assert one.sensitivity == two.sensitivity
    assert base_of(one) != base_of(other)


def test_splitting_a_size_changes_nothing_in_total() -> None:
    """Certain demand of one size or of two equal halves of it: the same order, the same saving."""
    one = decide(study(with_sizes(stated_demand(52 / 12 * 18, 0), {"M": 1.0}), months=24), 10, 1)
    two = decide(study(with_sizes(stated_demand(52 / 12 * 18, 0), {"M": 0.5, "m": 0.5}), months=24), 10, 1)
    assert base_of(two) == (base_of(one)[0], pytest.approx(base_of(one)[1]))


def test_prepacks_are_bought_whole() -> None:
    """Quantities of sizes keep the pack's ratio."""
    shape = replace(
        FAR, rules=OrderRules(size_ratio=(SizeShare("S", 2), SizeShare("M", 4), SizeShare("L", 6)))
    )
    demand = with_sizes(stated_demand(60), {"S": 0.2, "M": 0.3, "L": 0.5})
    held = decide(study(demand, (NEAR, shape)), 300, 1).alternatives[2]
    assert held.quantity > 0
    small, middle, large = held.quantities
    assert (middle, large) == (2 * small, 3 * small)


def test_defects_make_bulk_dearer() -> None:
    """Bad pieces lower the saving and are bought in addition."""
    good = study(shapes=(NEAR, replace(FAR, lead=SLOW)))
    far = good.offers[1]
    bad = replace(far, quote=replace(far.quote, defects=replace(far.quote.defects, rate=Fraction(1, 10))))
    spoilt = replace(good, offers=(good.offers[0], bad))
    assert base_of(decide(spoilt, 300, 1))[1] < base_of(decide(good, 300, 1))[1]


def test_obsolescence_buys_less() -> None:
    """A hazard shortens what is worth buying."""
    calm = with_sizes(stated_demand(60), {})
    risky = with_sizes(stated_demand(60), {}, obsolescence_per_year=0.6)
    assert base_of(decide(study(risky), 400, 1))[0] < base_of(decide(study(calm), 400, 1))[0]


def test_an_order_by_date_needs_a_date() -> None:
    """With one it is worked out, without one it is left open."""
    told = study(shapes=(NEAR, replace(FAR, lead=LeadTimes(45, start=TODAY))))
    assert decide(told, 50, 1).order_by is None
    dated = decide(replace(told, need_by=TODAY.replace(year=2027)), 50, 1)
    assert dated.order_by is not None
    assert (TODAY.replace(year=2027) - dated.order_by).days == 45


def test_the_least_bad_order_is_the_one_that_is_told() -> None:
    """Where nothing pays, the loss named is that of the best order, not of one for everything."""
    shape = replace(FAR, breaks=((1, 380.0),), cost_per_order=1_000, rules=OrderRules(minimum=60))
    decision = decide(study(shapes=(NEAR, shape)), 300, 1)
    assert decision.verdict.word == DOMESTIC
    assert "60 pieces, would lose" in decision.verdict.reasons[0]


def test_a_bulk_too_small_to_cover_the_need_is_topped_up() -> None:
    """A quantity the offer fixes is a base, whatever it is called."""
    fixed = replace(offer(FAR).quote, quantity=504)
    told = study()
    told = replace(told, offers=(told.offers[0], replace(told.offers[1], quote=fixed)))
    assert decide(told, 300, 1).verdict.word == BASE_AND_TOP_UP


@pytest.mark.parametrize(("shares", "is_fault"), [({"S": 1.0, "L": 1.0}, True), ({}, False)])
def test_prepacks_need_the_sizes_of_the_demand(shares: dict[str, float], *, is_fault: bool) -> None:
    """A size without a share is told; where sizes are not told apart a pack is so many pieces."""
    shape = replace(FAR, rules=OrderRules(size_ratio=(SizeShare("S", 2), SizeShare("M", 4))))
    told = study(with_sizes(stated_demand(60), shares), (NEAR, shape))
    if is_fault:
        with pytest.raises(InputErrors, match="no share of demand is given for M"):
            decide(told, 100, 1)
    else:
        assert decide(told, 100, 1).alternatives[2].quantity % 6 == 0


def test_freight_by_weight_needs_a_weight() -> None:
    """The key that is missing is named."""
    told = study()
    far = told.offers[1]
    heavy = replace(
        far, quote=replace(far.quote, freight=replace(far.quote.freight, per_kg_minor=Fraction(200)))
    )
    with pytest.raises(InputErrors, match="weight_g"):
        decide(replace(told, offers=(told.offers[0], heavy)), 100, 1)


@pytest.mark.parametrize("months", [24, 120])
def test_certain_demand_is_bought_in_one_bulk(months: int) -> None:
    """Nothing has to be topped up; over ten years the bulk is as large as pays, not ten years' demand."""
    decision = decide(study(CERTAIN, months=months, limits=Limits()), 10, 1)
    assert decision.verdict.word == BULK
    assert decision.verdict.chosen.quantity < 2_700

"""Who is cheapest, and the steps that say why."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from landed_cases import DRAWN, ENTRY, offers, overseas, priced

from ledger.sourcing.comparison import Contender, contender, ranked, step_names, waterfall, why_cheaper
from ledger.sourcing.landed_estimate import landed_estimate
from ledger.sourcing.order_rules import buyable
from ledger.sourcing.quote import Defects, OrderQuantities, OrderRules, Quote


def standing(quote: Quote, quantity: int) -> Contender:
    """Return an offer as it stands in a comparison."""
    buying = buyable(quote, quantity)
    return contender(quote, landed_estimate(quote, OrderQuantities.of(buying.quantity), ENTRY), buying)


@DRAWN
@given(offers(), st.integers(1, 600))
def test_the_steps_add_up_to_the_landed_cost(quote: Quote, quantity: int) -> None:
    """Exactly, defects included."""
    estimate = landed_estimate(quote, OrderQuantities.of(quantity), ENTRY)
    steps = waterfall(quote, estimate)
    assert sum(step.amount_minor for step in steps) == estimate.unit_cost_minor


@DRAWN
@given(st.lists(offers(), min_size=1, max_size=4), st.integers(1, 600))
def test_the_first_costs_least_in_all(quotes: list[Quote], quantity: int) -> None:
    """Whatever the others force one to take: so another quote can only be cheaper or not matter."""
    each = [standing(quote, quantity) for quote in quotes]
    first = ranked(each, Fraction(quantity))[0]
    wanted = Fraction(quantity)
    assert first.cost_of(wanted) == min(one.cost_of(wanted) for one in each)


@pytest.mark.parametrize(("minimum", "stands"), [(149, "ranked"), (150, "much more"), (400, "much more")])
def test_from_half_as_many_again_on_an_offer_stands_apart(minimum: int, stands: str) -> None:
    """A hundred are wanted."""
    near = standing(priced((1, "3")), 100)
    more = standing(priced((1, "2.99"), name="more", rules=OrderRules(minimum=minimum)), 100)
    found = {each.name: each.standing for each in ranked([more, near], Fraction(100))}
    assert found == {"offer": "ranked", "more": stands}


def test_much_more_for_less_in_all_is_no_burden() -> None:
    """Two hundred for less than what a hundred cost elsewhere."""
    near = standing(priced((1, "3")), 100)
    more = standing(priced((1, "1.40"), name="more", rules=OrderRules(minimum=200)), 100)
    assert [(each.name, each.standing) for each in ranked([near, more], Fraction(100))] == [
        ("more", "ranked"),
        ("offer", "ranked"),
    ]


def test_what_is_not_all_quoted_comes_last_of_the_offers() -> None:
    """However cheap it looks."""
    cheap = standing(priced((1, "1"), name="cheap", unquoted=("freight",)), 100)
    dear = standing(priced((1, "3")), 100)
    paid = Contender("Receipt", "paid", Fraction(10), Fraction(50), Fraction(50))
    assert [each.name for each in ranked([paid, cheap, dear], Fraction(100))] == ["offer", "cheap", "Receipt"]


@DRAWN
@given(offers(), offers(), st.integers(1, 600))
def test_the_differences_add_up_to_the_gap(one: Quote, other: Quote, quantity: int) -> None:
    """What is said to make one cheaper is all of it."""
    left, right = standing(one, quantity), standing(other, quantity)
    gap = sum(each.amount_minor for each in why_cheaper(left, right))
    assert gap == left.unit_cost_minor - right.unit_cost_minor


def test_a_lower_price_can_be_dearer_landed() -> None:
    """Three dollars at home against two from abroad with duty and bad pieces."""
    home = standing(priced((1, "3")), 100)
    abroad = standing(overseas((1, "2.90"), defects=Defects(Fraction("0.05"))), 100)
    assert [each.quote.origin for each in ranked([abroad, home], Fraction(100)) if each.quote] == [
        "domestic",
        "CN",
    ]


def test_of_a_past_purchase_only_price_and_the_rest_are_told_apart() -> None:
    """Its charges are known, not what they would be today."""
    paid = Contender("Receipt", "paid", Fraction(10), Fraction(350), Fraction(300))
    offered = standing(priced((1, "3.20")), 10)
    assert [(each.name, each.amount_minor) for each in why_cheaper(offered, paid)] == [
        ("price", 20),
        ("everything else", -50),
    ]


def test_the_rank_counts_good_pieces() -> None:
    """Seconds at 2.90 of which a fifth is bad are 3.625 each, and lose against 2.95."""
    seconds = standing(priced((1, "2.90"), name="seconds", defects=Defects(Fraction("0.2"))), 500)
    whole = standing(priced((1, "2.95"), name="whole"), 500)
    found = ranked([seconds, whole], Fraction(500))
    assert [(each.name, each.cost_of(Fraction(500))) for each in found] == [
        ("whole", 147_500),
        ("seconds", 181_250),
    ]


def test_more_good_ones_than_wanted_are_no_credit() -> None:
    """Who has to take 120 for the 100 wanted pays for 120."""
    more = standing(priced((1, "3"), rules=OrderRules(minimum=120)), 100)
    assert more.cost_of(Fraction(100)) == 36_000


@DRAWN
@given(st.lists(offers(), min_size=1, max_size=3), st.integers(1, 600))
def test_steps_of_several_offers_stand_in_one_order(quotes: list[Quote], quantity: int) -> None:
    """Whichever offer comes first: claims behind freight and duty."""
    ways = [waterfall(quote, landed_estimate(quote, OrderQuantities.of(quantity), ENTRY)) for quote in quotes]
    names = step_names(ways)
    assert names == step_names(reversed(ways))
    assert set(names) == {step.name for way in ways for step in way}

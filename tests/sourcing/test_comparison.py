"""Who is cheapest, and the steps that say why."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st
from landed_cases import DRAWN, ENTRY, offers, overseas, priced

from ledger.sourcing.comparison import Contender, contender, ranked, waterfall, why_cheaper
from ledger.sourcing.landed_estimate import landed_estimate
from ledger.sourcing.order_rules import buyable
from ledger.sourcing.quote import Defects, OrderQuantities, Quote


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
@given(offers(), offers(), st.integers(1, 600))
def test_another_quote_never_raises_the_best_price(quote: Quote, more: Quote, quantity: int) -> None:
    """It can only be cheaper or not matter."""
    before = ranked([standing(quote, quantity)])
    after = ranked([standing(quote, quantity), standing(more, quantity)])
    assert after[0].unit_cost_minor <= before[0].unit_cost_minor


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
    assert [each.quote.origin for each in ranked([abroad, home]) if each.quote] == ["domestic", "CN"]


def test_of_a_past_purchase_only_price_and_the_rest_are_told_apart() -> None:
    """Its charges are known, not what they would be today."""
    paid = Contender("Receipt", "paid", Fraction(10), Fraction(350), Fraction(300))
    offered = standing(priced((1, "3.20")), 10)
    assert [(each.name, each.amount_minor) for each in why_cheaper(offered, paid)] == [
        ("price", 20),
        ("everything else", -50),
    ]

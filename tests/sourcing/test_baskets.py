"""What may be added to an order, and how much: the limits of our own rules, on both sides of each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest
from plan_builder import TERMS, TODAY, lead, offer, stocked, use, wish

from ledger.sourcing.baskets import Basket, Candidate, addition, reach_breaks
from ledger.sourcing.quote import PER_COLOUR, PER_ORDER, PER_SKU, PER_STYLE, OrderLine, Quote
from ledger.sourcing.ways_to_buy import Chosen
from ledger.sourcing.what_to_order import Stocked, outlook

FREE_SHELF = replace(TERMS, capital_per_year=0.0, line_cost_minor=0)


def candidate(item: Stocked, quote: Quote, line: OrderLine | None = None, level: float = 0) -> Candidate:
    """An item as it may be in an order under an offer."""
    asked = wish(item, quote)
    (way,) = asked.ways
    way = replace(way, line=line or way.line)
    return Candidate(Chosen(asked, way, outlook(item, lead(), 0.95, TODAY)), level)


def enough(count: int) -> Callable[[int, float], bool]:
    """Whether so many units were added."""
    return lambda added, _: added >= count


@pytest.mark.parametrize(("start", "is_added"), [(150, True), (151, False)])
def test_up_to_half_of_an_order_is_added_more_is_a_decision_of_its_own(start: int, *, is_added: bool) -> None:
    """A hundred are wanted, and a third less is asked from a hundred and fifty on, or from one more."""
    basket = Basket([candidate(stocked(), offer(breaks=((start, "200"),)))], {"TEE": 100}, FREE_SHELF)
    reach_breaks(basket)
    assert (basket.units["TEE"] == start, not basket.beyond) == (is_added, is_added)


@pytest.mark.parametrize(("price", "is_added"), [("299.4", True), ("299.5", False)])
def test_an_addition_gains_two_in_a_hundred_of_itself(price: str, *, is_added: bool) -> None:
    """Ten of 3.00 more have to gain over 0.60: a hundred and ten save 0.66, or 0.55."""
    basket = Basket([candidate(stocked(), offer(breaks=((110, price),)))], {"TEE": 100}, FREE_SHELF)
    reach_breaks(basket)
    assert (basket.units["TEE"] == 110) is is_added


@pytest.mark.parametrize(("times", "is_added"), [(2, True), (1, False)])
def test_what_was_used_once_is_not_added(times: int, *, is_added: bool) -> None:
    """Nobody knows that it will be used again; what was used twice may be."""
    basket = Basket([candidate(stocked("RARE", use=use(times)), offer())], {}, TERMS)
    found = addition(basket, list(basket.candidates.values()), enough(1))
    assert (found is not None) is is_added


@pytest.mark.parametrize(("shelf_life_days", "most"), [(None, 360), (30, 25)])
def test_no_more_is_bought_than_is_used_in_a_year_or_before_it_expires(
    shelf_life_days: int | None, most: int
) -> None:
    """One is used a day, and five are there."""
    each = candidate(stocked(shelf_life_days=shelf_life_days), offer(), level=5)
    assert each.most_units() == most


@pytest.mark.parametrize(
    ("scope", "start", "units"),
    [
        (PER_SKU, 96, {"RED-S": 96, "RED": 192, "TEE": 288, "ALL": 384}),
        (PER_COLOUR, 186, {"RED": 186, "TEE": 276, "ALL": 366}),
        (PER_STYLE, 276, {"TEE": 276, "ALL": 366}),
        (PER_ORDER, 366, {"ALL": 366}),
    ],
)
def test_a_break_is_reached_with_what_it_counts(scope: str, start: int, units: dict[str, int]) -> None:
    """Ninety each of two red tees, a blue one and a mug: six are missing wherever a break can be reached."""
    quote = offer(breaks=((start, "250"),), break_scope=scope)
    lines = (
        OrderLine(0, sku="RED-S", style="TEE", colour="Red", size="S"),
        OrderLine(0, sku="RED-M", style="TEE", colour="Red", size="M"),
        OrderLine(0, sku="BLUE-S", style="TEE", colour="Blue", size="S"),
        OrderLine(0, sku="MUG"),
    )
    # What keeps a hundred days is not bought twice over, so that blue alone reaches no break of two colours.
    every = [candidate(stocked(each.sku, shelf_life_days=100), quote, each) for each in lines]
    basket = Basket(every, {each.sku: 90 for each in every}, FREE_SHELF)
    reach_breaks(basket)
    found = {
        "RED-S": basket.units["RED-S"],
        "RED": basket.units["RED-S"] + basket.units["RED-M"],
        "TEE": sum(basket.units.values()) - basket.units["MUG"],
        "ALL": sum(basket.units.values()),
    }
    assert {name: found[name] for name in units} == units


def test_an_order_with_more_is_the_order_and_what_was_added() -> None:
    """The order itself stays as it is."""
    basket = Basket([candidate(stocked("A"), offer()), candidate(stocked("B"), offer())], {"A": 3}, TERMS)
    assert basket.with_more({"A": 2, "B": 4}).units == {"A": 5, "B": 4}
    assert basket.units == {"A": 3}


def test_prices_are_those_of_the_whole_scope() -> None:
    """What is added to reach a break makes all that the break counts cheaper."""
    quote = offer(breaks=((110, "250"),))
    basket = Basket([candidate(stocked(), quote)], {"TEE": 100}, FREE_SHELF)
    reach_breaks(basket)
    assert basket.goods_foreign() == Fraction(110 * 250)
    (added,) = basket.added
    assert (added.saving_minor, added.bill_minor) == (110 * 50, 110 * 250 - 100 * 300)

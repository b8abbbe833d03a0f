"""Landed cost by quantity: both sides of every cliff, and where more costs no more."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st
from landed_cases import DAY, DRAWN, ENTRY, offers, overseas, priced

from ledger.sourcing.entry_fees import fees_on
from ledger.sourcing.landed_curve import better_buys, curve
from ledger.sourcing.landed_estimate import landed_estimate
from ledger.sourcing.quote import Freight, LocalCosts, OrderQuantities, OrderRules, Quote

SHOP = priced((1, "4.10"), (72, "3.60"), (144, "3.30"))


def test_sixty_four_or_more_buy_seventy_two() -> None:
    """64 x 4.10 is 262.40, more than 72 x 3.60 = 259.20; 63 x 4.10 is less."""
    found = [(each.wanted_from, each.quantity, each.total_minor) for each in better_buys(SHOP, ENTRY, 200)]
    assert found == [(64, 72, 25_920), (132, 144, 47_520)]


def test_free_freight_can_make_more_cheaper() -> None:
    """From 200 dollars freight of 15 is free: 46 pieces cost more than 49."""
    quote = replace(
        priced((1, "4.10")),
        freight=Freight(per_order_minor=Fraction(1500), free_above_minor=Fraction(20_000)),
    )
    assert [(each.wanted_from, each.quantity) for each in better_buys(quote, ENTRY, 100)] == [(46, 49)]


def test_a_multiple_moves_the_better_quantity() -> None:
    """By twelves, the break at 75 is reached with 84."""
    quote = replace(priced((1, "4"), (75, "3")), rules=OrderRules(multiple=12))
    assert [each.quantity for each in better_buys(quote, ENTRY, 200)] == [84]


def test_both_sides_of_the_formal_entry() -> None:
    """2,500 is informal; the next piece makes the order dearer by more than itself."""
    quote = overseas((1, "1.60"), entry_fees=fees_on(DAY), local=LocalCosts(bond_minor=10_000))
    points = {point.quantity: point for point in curve(quote, ENTRY, 3000)}
    below, above = points[1562], points[1563]
    assert (below.estimate.is_formal, above.estimate.is_formal) == (False, True)
    assert above.unit_cost_minor > below.unit_cost_minor


def test_both_sides_of_a_price_break() -> None:
    """Seventy-one and seventy-two stand next to each other."""
    words = {point.quantity: point.what for point in curve(SHOP, ENTRY, 100)}
    assert (words[71], words[72]) == ("last below the break", "price break at 72")


def test_a_curve_begins_with_the_smallest_order() -> None:
    """Nothing less can be bought, and nothing beyond the maximum."""
    quote = replace(SHOP, rules=OrderRules(minimum=50, multiple=12, maximum=120))
    quantities = [point.quantity for point in curve(quote, ENTRY, 500)]
    assert (quantities[0], quantities[-1]) == (60, 120)


@DRAWN
@given(offers(), st.integers(1, 500))
def test_every_point_is_what_the_estimate_says(quote: Quote, most: int) -> None:
    """The curve adds nothing of its own."""
    for point in curve(quote, ENTRY, most):
        assert point.estimate == landed_estimate(quote, OrderQuantities.of(point.quantity), ENTRY)


@DRAWN
@given(offers(), st.integers(2, 400))
def test_a_better_buy_is_no_dearer_in_all(quote: Quote, most: int) -> None:
    """Whatever is said to be the better order costs no more than the one it replaces."""
    for each in better_buys(quote, ENTRY, most):
        wanted = landed_estimate(quote, OrderQuantities.of(each.wanted_from), ENTRY)
        assert each.total_minor <= wanted.total_minor
        assert each.wanted_from < each.quantity


@DRAWN
@given(offers(), st.integers(2, 300))
def test_a_better_buy_is_told_from_the_first_quantity_on(quote: Quote, most: int) -> None:
    """One less than that is cheaper than the better order, unless it lies below another cliff."""
    targets = {each.quantity for each in better_buys(quote, ENTRY, most)}
    for each in better_buys(quote, ENTRY, most):
        before = each.wanted_from - 1
        if before < 1 or each.wanted_from in targets | {
            point.quantity for point in curve(quote, ENTRY, most) if point.what
        }:
            continue
        assert landed_estimate(quote, OrderQuantities.of(before), ENTRY).total_minor < each.total_minor

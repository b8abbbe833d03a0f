"""What goods cost by price breaks, and what a break is counted by."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from landed_cases import DRAWN, offers, priced

from ledger.errors import ValueProblem
from ledger.sourcing.price_breaks import (
    break_faults,
    break_quantities,
    break_warnings,
    goods_cost,
    group_for,
    line_costs,
)
from ledger.sourcing.quote import (
    ALL_UNITS,
    INCREMENTAL,
    OrderLine,
    OrderQuantities,
    PriceBreak,
    PriceGroup,
    Quote,
)

STEPS = (PriceBreak(1, Fraction(410)), PriceBreak(72, Fraction(360)), PriceBreak(144, Fraction(330)))


def breaks(*pairs: tuple[int, int]) -> tuple[PriceBreak, ...]:
    """Return breaks of (from, cents)."""
    return tuple(PriceBreak(start, Fraction(price)) for start, price in pairs)


@pytest.mark.parametrize(("quantity", "cents"), [(1, 410), (71, 29_110), (72, 25_920), (144, 47_520)])
def test_a_break_lowers_every_piece(quantity: int, cents: int) -> None:
    """All-units: seventy-two pieces cost less than seventy-one."""
    assert goods_cost(STEPS, quantity, ALL_UNITS) == cents


@pytest.mark.parametrize(("quantity", "cents"), [(72, 29_520), (100, 39_600), (200, 73_920)])
def test_an_incremental_break_lowers_what_goes_beyond(quantity: int, cents: int) -> None:
    """The first seventy-two keep the first price."""
    assert goods_cost(STEPS, quantity, INCREMENTAL) == cents


@DRAWN
@given(offers(), st.integers(1, 500))
def test_incremental_prices_never_fall_in_total(quote: Quote, quantity: int) -> None:
    """One piece more never costs less."""
    steps = quote.prices[0].breaks
    assert goods_cost(steps, quantity + 1, INCREMENTAL) >= goods_cost(steps, quantity, INCREMENTAL)


@DRAWN
@given(offers(), st.integers(1, 500))
def test_incremental_is_never_cheaper_than_all_units(quote: Quote, quantity: int) -> None:
    """Where prices fall with the quantity."""
    steps = quote.prices[0].breaks
    assert goods_cost(steps, quantity, INCREMENTAL) >= goods_cost(steps, quantity, ALL_UNITS)


@pytest.mark.parametrize(
    ("scope", "prices"),
    [("sku", [410, 410, 410]), ("colour", [360, 360, 410]), ("style", [360, 360, 410]), ("order", [360] * 3)],
)
def test_a_break_is_counted_by_its_scope(scope: str, prices: list[int]) -> None:
    """Forty of two sizes each reach seventy-two by colour, not by SKU."""
    order = OrderQuantities(
        (
            OrderLine(40, "A-S", "A", "red", "S"),
            OrderLine(40, "A-M", "A", "red", "M"),
            OrderLine(10, "B-M", "B", "red", "M"),
        )
    )
    quote = Quote("offer", prices=(PriceGroup(STEPS[:2]),), break_scope=scope)
    expected = [price * line.quantity for price, line in zip(prices, order.lines, strict=True)]
    assert list(line_costs(quote, order)) == expected


def test_a_size_group_has_its_own_price() -> None:
    """Large sizes are dearer; the break counts all of them."""
    quote = Quote(
        "offer",
        prices=(
            PriceGroup(breaks((1, 400), (72, 350)), style="Wren", sizes=("S", "M")),
            PriceGroup(breaks((1, 600)), style="Wren", sizes=("2XL",)),
        ),
    )
    order = OrderQuantities((OrderLine(70, "W-M", "Wren", "", "M"), OrderLine(2, "W-2", "Wren", "", "2XL")))
    assert line_costs(quote, order) == (70 * 350, 2 * 600)


def test_goods_no_group_covers_are_refused_by_name() -> None:
    """A style without a price is named."""
    quote = Quote("offer", prices=(PriceGroup(STEPS, style="Wren"),))
    with pytest.raises(ValueProblem, match="no price for FINCH-M"):
        group_for(quote, OrderLine(1, "FINCH-M", "Finch"))


def test_a_paper_is_not_covered_by_a_style() -> None:
    """An item without a style is none of the style's sizes."""
    quote = Quote("offer", prices=(PriceGroup(STEPS, style="Wren"),))
    with pytest.raises(ValueProblem, match="PAPER"):
        group_for(quote, OrderLine(1, "PAPER"))


def test_a_line_that_names_nothing_is_what_the_offer_is_for() -> None:
    """A study orders so many of the offer."""
    quote = Quote("offer", prices=(PriceGroup(STEPS, style="Wren", sizes=("M",)),))
    assert line_costs(quote, OrderQuantities.of(2)) == (820,)


@pytest.mark.parametrize(
    ("pairs", "words"),
    [
        (((72, 360), (1, 410)), "stands behind"),
        (((1, 410), (1, 400)), "two prices begin at 1"),
        (((0, 410),), "at least 1"),
        (((1, -5),), "negative"),
        ((), "no price"),
    ],
)
def test_breaks_out_of_order_are_told(pairs: tuple[tuple[int, int], ...], words: str) -> None:
    """Each fault in words."""
    assert words in " ".join(break_faults(breaks(*pairs)))


def test_sound_breaks_have_no_fault() -> None:
    """Rising starts and falling prices are what is expected."""
    assert (break_faults(STEPS), break_warnings(STEPS)) == ([], [])


def test_a_price_that_rises_is_asked_about() -> None:
    """It may be meant, so it is no fault."""
    assert break_warnings(breaks((1, 410), (72, 420))) == ["the price rises from 72 on: is that meant?"]


def test_the_quantities_at_which_a_price_changes() -> None:
    """Those of every group, each once, in order."""
    quote = priced((1, "4"), (72, "3"))
    both = replace(quote, prices=(*quote.prices, PriceGroup(breaks((1, 5), (36, 4)))))
    assert break_quantities(both) == (1, 36, 72)

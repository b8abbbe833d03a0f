"""Where a price really bends in orders of several sizes, and what to buy just below."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st
from landed_cases import DRAWN, ENTRY, offers, priced

from ledger.costing.spreading import spread
from ledger.sourcing.landed_curve import Reach, better_buys, curve
from ledger.sourcing.landed_estimate import landed_estimate
from ledger.sourcing.quote import (
    PER_SKU,
    Freight,
    OrderLine,
    OrderQuantities,
    PriceBreak,
    PriceGroup,
    Quote,
)

SIZES = ("S", "M", "L", "XL", "2XL")
BY_SKU = replace(
    priced((1, "4.00"), (50, "3.00")),
    break_scope=PER_SKU,
    freight=Freight(per_order_minor=Fraction(1000)),
)


def style_order(quantity: int, weights: tuple[int, ...] = (1, 1, 1, 1, 1)) -> OrderQuantities:
    """Return an order of a style spread over its sizes."""
    counts = spread(quantity, list(weights))
    lines = [
        OrderLine(count, sku=f"R-{size}", style="R", size=size)
        for size, count in zip(SIZES, counts, strict=True)
        if count
    ]
    return OrderQuantities(tuple(lines))


def words_of(quote: Quote, most: int) -> dict[int, str]:
    """Return what a curve says at each quantity."""
    return {point.quantity: point.what for point in curve(quote, ENTRY, most, style_order)}


def test_a_break_by_sku_stands_where_a_size_reaches_it() -> None:
    """Five sizes alike reach 50 each with 250 in all, not with 50."""
    words = words_of(BY_SKU, 400)
    assert words[50] == ""
    assert words[250].endswith("(2XL)")
    assert words[246] == "price break at 50 (S)"


def test_more_is_bought_where_the_sizes_reach_their_breaks() -> None:
    """250 cost 760.00, and 200 cost 810.00: from 188 on, 250 are no dearer."""
    (hint,) = better_buys(BY_SKU, ENTRY, 400, style_order)
    assert (hint.wanted_from, hint.quantity, hint.total_minor) == (188, 250, 76_000)


def test_breaks_of_other_sizes_do_not_bend_an_order_without_them() -> None:
    """The 2XL has a break at 36; an order of M alone has none there."""
    large = PriceGroup((PriceBreak(1, Fraction(610)), PriceBreak(36, Fraction(555))), sizes=("2XL",))
    small = PriceGroup((PriceBreak(1, Fraction(435)), PriceBreak(72, Fraction(385))), sizes=("M",))
    quote = Quote("offer", prices=(large, small))
    points = curve(
        quote, ENTRY, 100, lambda n: OrderQuantities((OrderLine(n, sku="W-M", style="W", size="M"),))
    )
    assert [point.what for point in points if point.what] == ["last below the break", "price break at 72"]


def test_the_quantity_asked_for_is_a_point() -> None:
    """Beside the round grid and the cliffs."""
    words = {point.quantity: point.what for point in curve(priced((1, "4")), ENTRY, Reach(200, 137))}
    assert words[137] == "as asked"


def test_a_hint_that_saves_nothing_is_left_out() -> None:
    """3 x 4.00 is 4 x 3.00: nothing is gained by the fourth."""
    assert better_buys(priced((1, "4"), (4, "3")), ENTRY, 10) == ()


@DRAWN
@given(offers(), st.integers(2, 400), st.lists(st.integers(0, 9), min_size=5, max_size=5).filter(any))
def test_a_better_buy_by_sizes_is_cheaper_than_the_dearest_it_replaces(
    quote: Quote, most: int, weights: list[int]
) -> None:
    """And no dearer than the first; no other hint points into what it covers."""

    def make(quantity: int) -> OrderQuantities:
        return style_order(quantity, tuple(weights))

    found = better_buys(replace(quote, break_scope=PER_SKU), ENTRY, most, make)
    for each in found:
        first = landed_estimate(replace(quote, break_scope=PER_SKU), make(each.wanted_from), ENTRY)
        assert each.total_minor <= first.total_minor
        assert each.saving_minor > 0
        assert not any(each.wanted_from <= other.quantity < each.quantity for other in found)

"""Which offer an order was placed under: what could take it, and how near it is."""

from __future__ import annotations

import datetime
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.sourcing.offer_fit import Fit, Placed, fit_of, takes_order
from ledger.sourcing.order_rules import buyable
from ledger.sourcing.quote import (
    OrderLine,
    OrderQuantities,
    OrderRules,
    PriceBreak,
    PriceGroup,
    Quote,
    SizeShare,
)

BREAKS = (PriceBreak(1, Fraction(410)), PriceBreak(72, Fraction(360)))
QUOTE = Quote(
    "mill",
    currency="EUR",
    terms="EXW",
    prices=(PriceGroup(BREAKS),),
    valid_until=datetime.date(2026, 6, 30),
)
PACK = (SizeShare("S", 1), SizeShare("M", 2))


def _order(*lines: tuple[int, str, str]) -> OrderQuantities:
    return OrderQuantities(
        tuple(OrderLine(pieces, colour=colour, size=size) for pieces, colour, size in lines)
    )


def _placed(amount: int, quantity: int = 72) -> Placed:
    return Placed(_order((quantity, "", "")), amount, "EUR", "EXW", "2026-05-01")


@pytest.mark.parametrize(
    ("rules", "order", "takes"),
    [
        (OrderRules(minimum=72), _order((71, "", "")), False),
        (OrderRules(minimum=72), _order((40, "Red", "S"), (32, "Blue", "S")), True),
        (OrderRules(minimum_per_colour=40), _order((40, "Red", "S"), (32, "Blue", "S")), False),
        (OrderRules(minimum_per_colour=40), _order((20, "Red", "S"), (20, "Red", "M")), True),
        (OrderRules(maximum=100), _order((101, "", "")), False),
        (OrderRules(multiple=12), _order((30, "", "S"), (30, "", "M")), True),
        (OrderRules(multiple=12), _order((30, "", "")), False),
        (OrderRules(size_ratio=PACK), _order((10, "Red", "S"), (20, "Red", "M")), True),
        (OrderRules(size_ratio=PACK), _order((10, "Red", "s"), (20, "Red", "m")), True),
        (OrderRules(size_ratio=PACK), _order((20, "Red", "S"), (10, "Red", "M")), False),
        (OrderRules(size_ratio=PACK), _order((10, "Red", "S"), (20, "Blue", "M")), False),
        (OrderRules(size_ratio=PACK), _order((30, "Red", "M")), False),
        (OrderRules(size_ratio=PACK), _order((1, "Red", "S"), (2, "Red", "M"), (3, "Red", "L")), False),
    ],
)
def test_an_offer_takes_what_its_rules_allow(
    rules: OrderRules, order: OrderQuantities, *, takes: bool
) -> None:
    """Minimum, minimum of each colour, maximum, multiple and prepack, all at once."""
    assert takes_order(rules, order) is takes


@given(
    st.builds(
        OrderRules,
        minimum=st.integers(1, 300),
        minimum_per_colour=st.integers(0, 100),
        multiple=st.integers(1, 24),
    ),
    st.integers(1, 500),
)
def test_what_has_to_be_bought_can_be_ordered(rules: OrderRules, wanted: int) -> None:
    """The quantity that the rules make of a wish is one that they take, in one colour."""
    quantity = buyable(Quote("mill", rules=rules), wanted).quantity
    assert takes_order(rules, _order((quantity, "Red", "M")))


def test_the_same_price_currency_and_terms_fit() -> None:
    """72 at 3.60, bought EXW in euros."""
    assert fit_of(QUOTE, _placed(72 * 360)) == Fit(0, Fraction(0))


@pytest.mark.parametrize(
    ("other", "misfits"),
    [
        (replace(QUOTE, terms="FCA"), 1),
        (replace(QUOTE, valid_until=datetime.date(2026, 4, 30)), 1),
        (replace(QUOTE, currency="USD"), 2),
        (replace(QUOTE, prices=(PriceGroup((PriceBreak(1, Fraction(400)),)),)), 1),
        (replace(QUOTE, terms=""), 0),
    ],
)
def test_what_differs_counts_against_an_offer(other: Quote, misfits: int) -> None:
    """One for terms, for an end before the order, for the price; another currency has no price to go by."""
    fit = fit_of(other, _placed(72 * 360))
    assert fit is not None
    assert fit.misfits == misfits


def test_the_nearer_price_is_the_nearer_offer() -> None:
    """Where no price is met, the one that is less far away in proportion."""
    near = fit_of(QUOTE, _placed(72 * 370))
    far = fit_of(QUOTE, _placed(72 * 380))
    assert near is not None
    assert far is not None
    assert near < far


def test_an_offer_that_cannot_take_the_order_has_no_fit() -> None:
    """However well its price fits."""
    assert fit_of(replace(QUOTE, rules=OrderRules(minimum=73)), _placed(72 * 360)) is None

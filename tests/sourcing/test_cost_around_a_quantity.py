"""A landed cost around a quantity as a fixed part and a part for each piece, also at the start of a price tier."""

from __future__ import annotations

import datetime
from fractions import Fraction

import pytest

from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.offer_plan import CostCurve
from ledger.sourcing.quote import Entry, Freight, PriceBreak, PriceGroup, Quote
from ledger.sourcing.study import StudyOffer

BREAKS = (PriceBreak(1, Fraction(400)), PriceBreak(100, Fraction(300)), PriceBreak(104, Fraction(250)))


def curve(*breaks: PriceBreak) -> CostCurve:
    """An offer with 90.00 for each order and prices in cents."""
    quote = Quote("home", prices=(PriceGroup(breaks),), freight=Freight(per_order_minor=Fraction(9000)))
    return CostCurve(StudyOffer(quote, Entry(datetime.date(2026, 4, 2)), LeadTimes(4.0), 0.0))


@pytest.mark.parametrize("quantity", [60, 99, 100, 101, 103, 104, 150])
def test_the_fixed_part_is_found_within_every_tier(quantity: int) -> None:
    """Also of the first order of a tier, which has no smaller one at its price."""
    found = curve(*BREAKS).linear_at(quantity)
    price = 400 if quantity < 100 else 300 if quantity < 104 else 250
    assert (found.fixed_minor, found.unit_minor) == (pytest.approx(9000), pytest.approx(price))


@pytest.mark.parametrize(("quantity", "near"), [(99, 89), (100, 103), (102, 100), (104, 116), (1, 2)])
def test_the_neighbour_is_of_the_same_tier(quantity: int, near: int) -> None:
    """A tenth less, but not below the tier; from its start a tenth more, but not beyond it."""
    assert curve(*BREAKS).neighbour(quantity) == near


def test_a_tier_of_one_quantity_has_no_neighbour() -> None:
    """Then everything counts as paid by the piece."""
    only = curve(PriceBreak(1, Fraction(400)), PriceBreak(10, Fraction(300)), PriceBreak(11, Fraction(250)))
    assert only.neighbour(10) == 0
    assert only.linear_at(10).fixed_minor == 0
    assert only.linear_at(10).unit_minor == only.unit(10)

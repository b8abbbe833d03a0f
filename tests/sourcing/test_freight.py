"""Carriage by weight, by volume, with minima and free above an amount."""

from __future__ import annotations

from fractions import Fraction

import pytest
from landed_cases import priced

from ledger.errors import ValueProblem
from ledger.sourcing.freight import freight_cost
from ledger.sourcing.quote import Freight, OrderLine, OrderQuantities

CARTON = OrderQuantities((OrderLine(72, "TEE", weight_grams=Fraction(150), volume_cm3=Fraction(2000)),))
"""10.8 kg and 0.144 m3."""


@pytest.mark.parametrize(
    ("freight", "cents"),
    [
        (Freight(per_order_minor=Fraction(1500), per_unit_minor=Fraction(10)), 2220),
        (Freight(per_kg_minor=Fraction(300)), 3240),
        (Freight(per_kg_minor=Fraction(300), weight_step_grams=500), 3300),
        (Freight(per_kg_minor=Fraction(300), volumetric_cm3_per_kg=5000), 8640),
        (Freight(per_kg_minor=Fraction(300), volumetric_cm3_per_kg=6000), 7200),
        (Freight(per_revenue_ton_minor=Fraction(18_000)), 18_000),
        (Freight(per_revenue_ton_minor=Fraction(18_000), minimum_revenue_tons=Fraction(0)), 2592),
        (Freight(per_unit_minor=Fraction(10), minimum_minor=Fraction(900)), 900),
    ],
)
def test_each_way_of_charging(freight: Freight, cents: int) -> None:
    """Worked by hand for one carton."""
    assert freight_cost(priced((1, "4"), freight=freight), CARTON, Fraction(28_800)) == cents


@pytest.mark.parametrize(("goods", "cents"), [(19_999, 1500), (20_000, 0)])
def test_freight_is_free_from_the_amount_on(goods: int, cents: int) -> None:
    """Exactly the amount is enough."""
    freight = Freight(per_order_minor=Fraction(1500), free_above_minor=Fraction(20_000))
    assert freight_cost(priced((1, "4"), freight=freight), CARTON, Fraction(goods)) == cents


@pytest.mark.parametrize(
    ("freight", "what"),
    [
        (Freight(per_kg_minor=Fraction(1)), "weight"),
        (Freight(per_kg_minor=Fraction(1), volumetric_cm3_per_kg=5000), "weight"),
        (Freight(per_revenue_ton_minor=Fraction(1)), "weight"),
    ],
)
def test_what_is_missing_is_named_for_all_items(freight: Freight, what: str) -> None:
    """Every item without the measure, in one message."""
    order = OrderQuantities((OrderLine(1, "A"), OrderLine(1, "B")))
    with pytest.raises(ValueProblem, match=f"no {what} is known for A, B"):
        freight_cost(priced((1, "4"), freight=freight), order, Fraction(0))


def test_volumetric_weight_needs_a_volume() -> None:
    """A weight alone is not enough."""
    order = OrderQuantities((OrderLine(1, "A", weight_grams=Fraction(100)),))
    freight = Freight(per_kg_minor=Fraction(1), volumetric_cm3_per_kg=5000)
    with pytest.raises(ValueProblem, match="by volume too, and none is known for A"):
        freight_cost(priced((1, "4"), freight=freight), order, Fraction(0))

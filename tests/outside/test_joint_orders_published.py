"""Joint orders as published; the comment above each is its source."""

from __future__ import annotations

import pytest

from ledger.sourcing.joint_orders import JointItem, joint_orders, tailored_orders

COMPUTERS = (
    JointItem(12_000, 500, 1000),
    JointItem(1_200, 500, 1000),
    JointItem(120, 500, 1000),
)
SEEN = (JointItem(20_000, 5, 100), JointItem(2_500, 4, 100), JointItem(900, 5, 100))


# Source: Chopra & Meindl, Supply Chain Management, chapter 10.
def test_three_items_of_one_supplier_ordered_separately_and_four_times_a_year_together() -> None:
    """Each alone costs 6,835 a year; together, four times a year, 5,663 (5,662.50)."""
    together = joint_orders(SEEN, 400, 0.2, orders_per_year=4)
    assert round(together.separate_annual_cost) == 6835
    assert together.annual_cost == pytest.approx(5663, abs=0.51)


# Source: Chopra & Meindl, Supply Chain Management, chapter 10, examples of three computer models; from memory.
def test_three_computers_ordered_separately() -> None:
    """Each alone costs 155,140 a year."""
    assert joint_orders(COMPUTERS, 4000, 0.2).separate_annual_cost == pytest.approx(155_140, abs=1)


# Source: as above; from memory.
def test_three_computers_ordered_together_every_time() -> None:
    """Together 9.75 times a year: 1,230, 123 and 12.3 at a time, 136,528 a year."""
    together = joint_orders(COMPUTERS, 4000, 0.2)
    assert together.orders_per_year == pytest.approx(9.75, abs=0.006)
    assert together.quantities == pytest.approx((1230, 123, 12.3), rel=0.002)
    # 9.75 orders and those quantities come to 136,558 exactly; the printed sum is 30 lower.
    assert together.annual_cost == pytest.approx(136_528, abs=31)


# Source: as above; from memory.
def test_three_computers_in_tailored_orders() -> None:
    """The second comes in every second order and the third in every fifth, 11.47 orders, 130,767 a year."""
    tailored = tailored_orders(COMPUTERS, 4000, 0.2)
    assert tailored.multiples == (1, 2, 5)
    assert tailored.orders_per_year == pytest.approx(11.47, abs=0.006)
    assert tailored.quantities == pytest.approx((1046, 209, 52), abs=1)
    assert tailored.annual_cost == pytest.approx(130_767, abs=5)

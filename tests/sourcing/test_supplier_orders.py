"""Orders per supplier: who is asked, what goes along, what is added and why."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_builder import (
    TERMS,
    TODAY,
    after,
    coming,
    lead,
    line_of,
    offer,
    only,
    planned,
    stocked,
    use,
    way,
    wish,
)

from ledger.sourcing.joint_orders import JointItem, best_together
from ledger.sourcing.quote import Freight, OrderRules
from ledger.sourcing.ways_to_buy import PlanTerms, Wish

MILL = offer()


def test_an_item_above_its_reorder_point_needs_nothing_now() -> None:
    """A hundred pieces at one a day and five days to wait."""
    plan = planned(wish(stocked(there=100), MILL))
    assert plan.orders == ()
    assert [each.item.sku for each in plan.later] == ["TEE"]


def test_a_due_item_is_ordered_up_to_its_point_and_the_joint_quantity() -> None:
    """The level on the day of the order and the order together are the reorder point and the joint quantity."""
    order = only(planned(wish(stocked(there=10), MILL)))
    line = line_of(order, "TEE")
    item = JointItem(365.0, 300.0, 50.0)
    quantity = best_together([item], 500.0, 0.12).quantities[0]
    assert order.order_by == line.chosen.seen.order_by
    level = 10 - (order.order_by - TODAY).days
    assert line.units == math.ceil(quantity + line.chosen.seen.reorder_at - level - 1e-6)


def test_packs_are_rounded_up_for_what_is_due() -> None:
    """In cases of 24 nothing less than a case is ordered."""
    order = only(planned(wish(stocked(there=3), offer(unit_factor=Fraction(24)))))
    line = line_of(order, "TEE")
    assert line.quantity == line.units * 24
    assert line.units >= 1


def test_multiples_hold_for_each_line() -> None:
    """An offer by twelves."""
    order = only(planned(wish(stocked(there=3), offer(rules=OrderRules(multiple=12)))))
    assert line_of(order, "TEE").units % 12 == 0


def test_what_falls_due_before_the_next_order_goes_along() -> None:
    """An item due in a month goes along where the supplier's next order is later; one with a year's stock does not."""
    plan = planned(
        wish(stocked("NOW", 3), MILL), wish(stocked("SOON", 40), MILL), wish(stocked("LATER", 390), MILL)
    )
    order = only(plan)
    assert [line.chosen.item.sku for line in order.lines] == ["NOW", "SOON"]
    assert line_of(order, "SOON").why[0].startswith("goes along: due ")
    assert [each.item.sku for each in plan.later] == ["LATER"]


def test_an_item_used_once_does_not_go_along_and_is_ordered_for_one_more_use() -> None:
    """One use says little: it is ordered only when due, and then for another like it."""
    plan = planned(wish(stocked("NOW", 3), MILL), wish(stocked("ONCE", 40, use=use(times=1, size=20)), MILL))
    assert [line.chosen.item.sku for line in only(plan).lines] == ["NOW"]
    due = only(planned(wish(stocked("ONCE", 0, use=use(times=1, size=20)), MILL)))
    line = line_of(due, "ONCE")
    assert line.units == math.ceil(line.chosen.seen.reorder_at + 20)
    assert "used once only: a guess, enough for one more use like it" in line.why


def test_the_minimum_is_reached_with_what_lies_shortest_on_the_shelf() -> None:
    """A minimum somewhat above what is wanted is filled up, and said."""
    quote = offer(rules=OrderRules(minimum=150))
    order = only(planned(wish(stocked("A", 3), quote), wish(stocked("B", 390), quote)))
    assert sum(line.units for line in order.lines) == 150
    assert any("added for the minimum of 150" in words for words in line_of(order, "A").why)
    assert any("added to reach the minimum of 150" in note for note in order.notes)


def test_a_minimum_of_more_than_a_years_use_is_told_not_ordered() -> None:
    """Five years' demand: no order, and the reason in words."""
    plan = planned(wish(stocked(there=3), offer(rules=OrderRules(minimum=2000))))
    assert plan.orders == ()
    assert "the minimum of 2000" in plan.stuck[0].why


def test_where_the_minimum_is_much_more_than_wanted_another_supplier_is_asked() -> None:
    """The cheaper offer begins at 300, the other sells any quantity."""
    cheap = offer("Far Mill", "250", rules=OrderRules(minimum=300))
    order = only(planned(wish(stocked(there=3), cheap, MILL)))
    assert order.way.supplier == "Mill Lane"


@pytest.mark.parametrize(("more", "supplier"), [(0, "Mill Lane"), (-1, "Far Mill")])
def test_a_minimum_of_half_as_much_again_gives_way_to_another_supplier(more: int, supplier: str) -> None:
    """The far cheaper offer begins at one and a half times what is wanted of it, or one below that."""
    item = stocked(there=3)
    wanted = only(planned(wish(item, offer("Far Mill", "250")))).lines[0].units
    cheap = offer("Far Mill", "250", rules=OrderRules(minimum=math.ceil(1.5 * wanted) + more))
    assert only(planned(wish(item, cheap, offer("Mill Lane", "600")))).way.supplier == supplier


def test_the_cheaper_offer_is_taken_where_it_comes_in_time() -> None:
    """Two offers that differ in price alone."""
    order = only(planned(wish(stocked(there=3), MILL, offer("Cheap", "250"))))
    assert order.way.supplier == "Cheap"


def test_the_cheaper_offer_is_not_taken_where_it_comes_too_late() -> None:
    """Fifty days to wait with fifteen pieces there: the nearer one, and it is said."""
    far, near = offer("Far Mill", "200"), MILL
    both = Wish(stocked(there=15), (way(far, lead_time=lead(50)), way(near, lead_time=lead(3))))
    order = only(planned(both))
    assert order.way.supplier == "Mill Lane"
    assert any("Far Mill is cheaper landed, but takes about 50 days" in note for note in order.notes)


def test_a_price_break_is_taken_where_it_saves_more_than_the_shelf_costs() -> None:
    """Five per cent less from a few pieces more on."""
    plain = only(planned(wish(stocked(there=3), MILL))).lines[0].units
    quote = offer(breaks=((plain + 3, "285"),))
    order = only(planned(wish(stocked(there=3), quote)))
    assert order.lines[0].units == plain + 3
    assert any(note.startswith("3 added for the TEE price from ") for note in order.notes)


def test_a_price_break_that_saves_next_to_nothing_is_not_taken() -> None:
    """A hundredth of a cent less, thirty pieces further on."""
    plain = only(planned(wish(stocked(there=3), MILL))).lines[0].units
    order = only(planned(wish(stocked(there=3), offer(breaks=((plain + 30, "299.99"),)))))
    assert order.lines[0].units == plain


def test_a_break_that_asks_for_much_more_is_a_decision_of_its_own() -> None:
    """Twice what is wanted is not added by itself, but named."""
    plain = only(planned(wish(stocked(there=3), MILL))).lines[0].units
    order = only(planned(wish(stocked(there=3), offer(breaks=((plain * 2, "200"),)))))
    assert order.lines[0].units == plain
    assert any("decide with 'compare TEE'" in note for note in order.notes)


def test_free_freight_is_reached_where_it_pays() -> None:
    """A few pieces more save twelve of freight."""
    freight = Freight(per_order_minor=Fraction(1200))
    plain = only(planned(wish(stocked(there=3), offer(freight=freight))))
    limit = Fraction((plain.lines[0].units + 4) * 300)
    free = replace(freight, free_above_minor=limit)
    order = only(planned(wish(stocked(there=3), offer(freight=free))))
    assert (order.lines[0].units, order.cost.freight_minor) == (plain.lines[0].units + 4, 0)
    assert any("freight free from" in note and "saves 12.00" in note for note in order.notes)


def test_free_freight_far_away_is_left() -> None:
    """A year of use would be needed to save twelve."""
    freight = Freight(per_order_minor=Fraction(1200), free_above_minor=Fraction(90_000))
    order = only(planned(wish(stocked(there=3), offer(freight=freight))))
    assert order.cost.freight_minor == 1200


def test_freight_of_several_offers_of_one_supplier_counts_once() -> None:
    """Two offers with the same freight make one order that pays it once."""
    freight = Freight(per_order_minor=Fraction(1200))
    first = replace(offer(freight=freight), name="Mill Lane, tees")
    second = replace(offer(freight=freight), name="Mill Lane, ink")
    order = only(planned(wish(stocked("TEE", 3), first), wish(stocked("INK", 3), second)))
    assert len(order.lines) == 2
    assert order.cost.freight_minor == 1200
    assert order.cost.landed_minor == order.cost.goods_minor + 1200


def test_nothing_is_ordered_that_expires_before_it_is_used() -> None:
    """A shelf life of twenty days holds the order down to twenty days' use."""
    order = only(planned(wish(stocked(there=0, shelf_life_days=20), MILL)))
    assert order.lines[0].units <= 20


def test_a_single_pack_that_outlasts_its_shelf_life_is_said() -> None:
    """The smallest pack holds more than is used before it expires."""
    quote = offer(unit_factor=Fraction(100))
    order = only(planned(wish(stocked(there=0, shelf_life_days=20), quote)))
    assert order.lines[0].units == 1
    assert "keeps 20 days, less than it lasts" in order.lines[0].why


def test_until_a_late_order_is_there_only_the_gap_is_bought() -> None:
    """Three hundred pieces in twenty days: the nearer supplier bridges those twenty, no more."""
    item = stocked(there=0, coming=(coming(300, 20),))
    order = only(planned(wish(item, MILL)))
    line = order.lines[0]
    assert line.units <= 20 + math.ceil(line.chosen.seen.reorder_at)
    assert "only until order 7 is there" in line.why


def test_an_item_without_supplier_is_said() -> None:
    """Nobody offers it and it was never received."""
    plan = planned(wish(stocked(there=0)))
    assert (plan.orders, plan.stuck[0].wish.item.sku) == ((), "TEE")
    assert "no supplier is known" in plan.stuck[0].why


def test_the_most_urgent_order_comes_first() -> None:
    """The supplier whose item is due first stands first."""
    plan = planned(wish(stocked("LATER", 14), offer("A Mill")), wish(stocked("NOW", 0), offer("B Mill")))
    assert [order.way.supplier for order in plan.orders] == ["B Mill", "A Mill"]
    assert plan.orders[0].order_by == TODAY


def test_ordering_counts_afterwards_as_under_way() -> None:
    """With what was planned under way nothing is due any more."""
    before = stocked(there=3)
    line = only(planned(wish(before, MILL))).lines[0]
    after_it = stocked(there=3, coming=(coming(line.units, 5),))
    assert planned(wish(after_it, MILL)).orders == ()


@given(st.integers(1, 50), st.integers(2, 9))
def test_a_common_factor_on_all_money_orders_the_same(there: int, factor: int) -> None:
    """Prices and costs of ordering nine times as high give the same lines."""
    terms = replace(TERMS, order_cost_minor=500 * factor, line_cost_minor=50 * factor)
    wishes = (wish(stocked("A", there), MILL), wish(stocked("B", 40), MILL))
    dear = offer(price=str(300 * factor))
    scaled = (wish(stocked("A", there), dear), wish(stocked("B", 40), dear))
    units = [
        [(line.chosen.item.sku, line.units) for order in plan.orders for line in order.lines]
        for plan in (planned(*wishes), planned(*scaled, terms=terms))
    ]
    assert units[0] == units[1]


@given(
    st.lists(st.tuples(st.integers(0, 60), st.integers(1, 90)), min_size=1, max_size=6),
    st.integers(0, 200),
    st.integers(1, 12),
)
def test_every_order_keeps_the_rules_of_its_offer(
    items: list[tuple[int, int]], minimum: int, multiple: int
) -> None:
    """At least the minimum, each line a multiple, a cost that is its parts, and no line of nothing."""
    quote = offer(rules=OrderRules(minimum=max(1, minimum), multiple=multiple))
    wishes = [
        wish(stocked(f"I{place}", there, use=use(times)), quote) for place, (there, times) in enumerate(items)
    ]
    plan = planned(*wishes)
    for order in plan.orders:
        assert sum(line.units for line in order.lines) >= minimum
        assert all(line.units > 0 and line.units % multiple == 0 for line in order.lines)
        assert order.cost.landed_minor == order.cost.goods_minor + order.cost.freight_minor
        assert order.order_by <= after(TERMS.ahead_days)
        assert all(line.why for line in order.lines)


def test_a_single_item_is_ordered_as_the_square_root_says() -> None:
    """Joint orders of one item are its economic quantity: D 365, S 5.50, i 12%, C 3.00."""
    order = only(planned(wish(stocked(there=0), MILL)))
    quantity = math.sqrt(2 * 365 * 550 / (0.12 * 300))
    assert order.joint.quantities[0] == pytest.approx(quantity)


def test_dearer_ordering_makes_orders_rarer() -> None:
    """Twenty-five instead of five for placing one."""
    dear = PlanTerms(TODAY, "USD", order_cost_minor=2500)
    cheap = only(planned(wish(stocked(there=0), MILL))).joint.days_between
    assert only(planned(wish(stocked(there=0), MILL), terms=dear)).joint.days_between > cheap

"""What a plan says of its lines: expiry, closures, the next order, what an addition adds to the bill."""

from __future__ import annotations

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

from ledger.sourcing.baskets import LEAST_GAIN, Basket, Candidate, addition, reach_free_freight
from ledger.sourcing.closures import ClosedDays, Closures
from ledger.sourcing.plan_reasons import closed_between, closed_words
from ledger.sourcing.quote import Freight
from ledger.sourcing.ways_to_buy import Chosen
from ledger.sourcing.what_to_order import Batch, outlook, usable_of

MILL = offer()
CLOSED = Closures(own=(ClosedDays(after(12), after(40)),))


def test_what_is_due_because_it_expires_says_so_and_not_that_it_is_below_its_point() -> None:
    """Fifty on the shelf of which five are of use: the date is the reason."""
    order = only(planned(wish(stocked(batches=(Batch(50_000, after(4)),)), MILL)))
    assert line_of(order, "TEE").why[0] == f"45 pieces expire on {after(4)}; 5 are of use until then"


def test_what_has_expired_says_when() -> None:
    """The day is past, so nothing is of use until then."""
    order = only(planned(wish(stocked(batches=(Batch(50_000, after(-3)),)), MILL)))
    assert line_of(order, "TEE").why[0] == f"50 pieces expired on {after(-3)}"


def test_below_its_reorder_point_is_said_only_where_it_is_so() -> None:
    """Six there and more than six wanted by the day an order is there."""
    line = only(planned(wish(stocked(there=6), MILL))).lines[0]
    assert line.why[0] == "below its reorder point"
    assert line.chosen.seen.reorder_at > 6


@given(st.integers(1, 300), st.integers(0, 90), st.integers(1, 3))
def test_stock_never_lasts_beyond_the_day_it_expires(there: int, days: int, size: int) -> None:
    """The last day it can be used is the last day named."""
    item = stocked(batches=(Batch(there * 1000, after(days)),), use=use(size=size))
    seen = outlook(item, lead(5), 0.95, TODAY)
    assert seen.lasts_until is not None
    assert TODAY <= seen.lasts_until <= after(days)
    assert seen.ends_by_expiry == bool(seen.lost)


def test_what_is_under_way_counts_only_until_it_expires() -> None:
    """Three hundred that keep thirty days from the tenth: of use are the days from it to its last."""
    found = usable_of(stocked(there=0, shelf_life_days=30, coming=(coming(300, 10),)), TODAY)
    assert [each.quantity_milli for each in found.comes] == [31_000]
    assert [(lost.quantity, lost.expires_on, lost.order) for lost in found.lost] == [(269.0, after(40), 7)]


def test_the_next_order_is_no_later_than_what_was_ordered_lasts() -> None:
    """A shelf life of ten days: what would be due in a month does not go along."""
    plan = planned(wish(stocked("SHORT", 0, shelf_life_days=10), MILL), wish(stocked("SOON", 40), MILL))
    order = only(plan)
    assert order.joint.days_between > 30
    assert (order.next_on <= after(10), order.next_for) == (True, "SHORT")
    assert [line.chosen.item.sku for line in order.lines] == ["SHORT"]


def test_an_order_of_what_keeps_is_followed_by_the_joint_computation() -> None:
    """Nothing calls for another order before."""
    order = only(planned(wish(stocked(there=0), MILL)))
    assert (order.next_on - order.order_by).days == int(order.joint.days_between)
    assert order.next_for == ""


def test_the_point_shown_is_that_of_the_day_to_order_on() -> None:
    """A closure that only matters for an order after that day is no part of it, and is the reason."""
    item = stocked(there=30)
    plain = outlook(item, lead(5), 0.95, TODAY)
    closing = outlook(item, lead(5, closures=CLOSED), 0.95, TODAY)
    assert closing.before_closure
    assert not plain.before_closure
    assert closing.order_by is not None
    assert closing.reorder_at == pytest.approx(plain.reorder_at)
    order = only(planned(wish(item, MILL, lead_time=lead(5, closures=CLOSED))))
    assert (
        order.lines[0].why[0] == f"due {closing.order_by}: an order after it waits while Mill Lane is closed"
    )


def test_why_it_is_there_about_that_day_is_said() -> None:
    """The days stated, and which days are closed between and after."""
    near = Closures(own=(ClosedDays(after(2), after(3)), ClosedDays(after(20), after(21))))
    both = way(MILL, lead_time=lead(5, closures=near))
    order = only(
        planned(
            replace(wish(stocked(there=0), MILL), ways=(replace(both, lead_words="as the offer states"),))
        )
    )
    assert order.expected_on == after(7)
    assert order.there == (
        f"there about {after(7)}: 5 days, as the offer states (closed: 2 closures of its own), closed {after(2)} to "
        f"{after(3)} between; closed after it: {after(20)} to {after(21)}"
    )


def test_what_too_few_own_orders_took_stands_beside_what_is_stated() -> None:
    """In the same brackets as the closures."""
    few = replace(way(MILL), lead_words="as the offer states (1 order of your own took 51; 3 would count)")
    order = only(planned(replace(wish(stocked(there=0), MILL), ways=(few,))))
    assert order.there.endswith(
        "5 days, as the offer states (1 order of your own took 51; 3 would count; no closures told)"
    )


@pytest.mark.parametrize(("days", "is_said"), [(60, True), (61, False)])
def test_closures_of_the_next_sixty_days_are_said(days: int, *, is_said: bool) -> None:
    """Counted from the day the order is there."""
    day = ClosedDays(after(5 + days), after(5 + days))
    far = replace(
        way(MILL, lead_time=lead(5, closures=Closures(own=(day,)))), lead_words="as the offer states"
    )
    order = only(planned(replace(wish(stocked(there=0), MILL), ways=(far,))))
    assert order.expected_on == after(5)
    assert ("closed after it" in order.there) is is_said


def test_closed_days_in_a_row_are_one_closure() -> None:
    """The first and last day of each, up to four of them."""
    found = closed_between(lead(5, closures=CLOSED), TODAY, after(60))
    assert found == [ClosedDays(after(12), after(40))]
    many = [ClosedDays(after(day), after(day)) for day in range(1, 13, 2)]
    assert closed_words(many).endswith("and 2 more")


def test_an_addition_says_what_it_adds_to_the_bill() -> None:
    """Four pieces of 3.00 for a freight of 12.00: nothing more to pay, twelve saved."""
    freight = Freight(per_order_minor=Fraction(1200))
    plain = only(planned(wish(stocked(there=3), offer(freight=freight))))
    free = replace(freight, free_above_minor=Fraction((plain.lines[0].units + 4) * 300))
    order = only(planned(wish(stocked(there=3), offer(freight=free))))
    added = next(note for note in order.notes if "freight free" in note)
    assert "adds 0.00 to the bill, saves 12.00 and costs 0." in added
    assert order.cost.landed_minor == plain.cost.landed_minor


@pytest.mark.parametrize(("more", "is_taken"), [(-1, False), (2, True)])
def test_free_freight_has_to_gain_clearly(more: int, *, is_taken: bool) -> None:
    """A freight that is a cent less than shelf time and two in a hundred of what is added is paid, two more are saved."""

    def basket(cents: int) -> Basket:
        quote = offer(freight=Freight(per_order_minor=Fraction(cents), free_above_minor=Fraction(140 * 300)))
        both = wish(stocked(there=3), quote)
        chosen = Chosen(both, both.ways[0], outlook(both.item, lead(), 0.95, TODAY))
        return Basket([Candidate(chosen, 3)], {"TEE": 100}, TERMS)

    first = basket(5000)
    found = addition(first, list(first.candidates.values()), lambda added, _: added >= 40)
    assert found is not None
    tried = basket(round(found.shelf_minor + LEAST_GAIN * 40 * 300) + more)
    reach_free_freight(tried)
    assert (tried.units["TEE"] == 140) is is_taken

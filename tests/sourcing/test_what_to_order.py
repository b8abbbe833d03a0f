"""When an item has to be ordered: reorder points, cover, what comes, what expires, closures."""

from __future__ import annotations

import datetime
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_builder import TODAY, after, coming, lead, stocked, use

from ledger.sourcing.closures import ClosedDays, Closures
from ledger.sourcing.reorder_points import Use, reorder_points
from ledger.sourcing.what_to_order import Batch, outlook, usable_of

USES = st.builds(
    Use,
    days=st.integers(1, 700),
    times=st.integers(1, 300),
    left_milli=st.integers(1, 10**9),
    sd_milli=st.floats(0, 10**6),
)


def test_a_lead_time_and_a_use_that_never_vary_much_give_about_their_product() -> None:
    """3,000 uses of one piece in 1,000 days over ten days are about 30 pieces, and some for safety."""
    found = reorder_points(use(3000, days=1000), lead(10), 0.5)
    assert found.simulated == pytest.approx(30, abs=1.5)
    assert found.formula == pytest.approx(30, abs=0.01)


def test_the_simulated_point_agrees_with_the_formula_where_the_tail_is_normal() -> None:
    """Much use and a certain lead time: both within a twentieth of one another."""
    found = reorder_points(use(9000, days=900), lead(20), 0.95)
    assert found.simulated == pytest.approx(found.formula, rel=0.05)


@given(USES, st.floats(0.5, 60), st.floats(0, 20), st.floats(0.5, 0.99))
def test_reorder_points_are_finite_and_not_below_zero(
    seen: Use, days: float, sd: float, service: float
) -> None:
    """Whatever was seen, a figure comes out."""
    found = reorder_points(seen, lead(days, sd), service)
    assert math.isfinite(found.simulated)
    assert math.isfinite(found.formula)
    assert found.simulated >= 0


@given(USES, st.floats(0.5, 60))
def test_more_service_never_lowers_the_point(seen: Use, days: float) -> None:
    """99 in a hundred asks for as much as 90, or more."""
    assert reorder_points(seen, lead(days), 0.99).simulated >= reorder_points(seen, lead(days), 0.9).simulated


def test_the_day_to_order_on_is_the_last_on_which_stock_reaches_the_point() -> None:
    """With one piece a day, what is above the reorder point today lasts so many days."""
    seen = outlook(stocked(there=30), lead(5), 0.95, TODAY)
    assert seen.order_by == after(math.floor(30 - seen.reorder_at + 1e-9))
    assert not seen.is_late
    assert seen.lasts_until == after(30)


def test_stock_below_the_point_is_late_and_due_today() -> None:
    """Six pieces with five days to wait and one a day: too few to be sure of it, but not out on average."""
    seen = outlook(stocked(there=6), lead(5), 0.95, TODAY)
    assert (seen.order_by, seen.is_late, seen.runs_out_first) == (TODAY, True, False)


def test_stock_that_does_not_last_until_an_order_comes_is_said() -> None:
    """Three pieces with five days to wait."""
    seen = outlook(stocked(there=3), lead(5), 0.95, TODAY)
    assert (seen.is_late, seen.runs_out_first) == (True, True)


def test_what_comes_before_an_order_would_counts_as_there() -> None:
    """Fifty pieces in three days put the order off by fifty days."""
    without = outlook(stocked(there=30), lead(5), 0.95, TODAY).order_by
    with_them = outlook(stocked(there=30, coming=(coming(50, 3),)), lead(5), 0.95, TODAY).order_by
    assert without is not None
    assert with_them == without + datetime.timedelta(days=50)


def test_what_comes_long_after_an_order_would_does_not_help_until_then() -> None:
    """With nothing there, fifty pieces in sixty days do not stop an order of goods that take five."""
    seen = outlook(stocked(there=0, coming=(coming(50, 60),)), lead(5), 0.95, TODAY)
    assert (seen.order_by, seen.is_late) == (TODAY, True)
    assert [each.order for each in seen.waits_for] == [7]


def test_what_comes_while_there_still_is_some_counts() -> None:
    """Thirty pieces last until fifty come in twenty days, so nothing has to be ordered between."""
    seen = outlook(stocked(there=30, coming=(coming(50, 20),)), lead(5), 0.95, TODAY)
    assert seen.waits_for == ()
    assert seen.order_by is not None
    assert seen.order_by > after(50)


def test_an_order_just_placed_comes_no_later_than_another_would() -> None:
    """A lead time that varies has a mean of a little under four days drawn: the day is rounded up as for the order."""
    seen = outlook(stocked(there=1, coming=(coming(50, 4),)), lead(4, 1.0), 0.95, TODAY)
    assert (seen.waits_for, seen.is_late) == ((), False)


def test_what_comes_on_a_day_nobody_knows_counts() -> None:
    """An order without a day is taken for one that comes in time, or it would be ordered twice."""
    assert not outlook(stocked(there=0, coming=(coming(50, None),)), lead(5), 0.95, TODAY).is_late


def test_what_expires_before_it_is_used_counts_as_not_there() -> None:
    """Of 50 pieces that can be used for ten days more, the last day included, eleven are."""
    found = usable_of(stocked(batches=(Batch(50_000, after(10)),)), TODAY)
    assert found.usable == pytest.approx(11)
    assert [(each.quantity, each.expires_on) for each in found.lost] == [(pytest.approx(39), after(10))]


def test_what_expires_first_is_used_first() -> None:
    """Ten that expire in nine days and ten in nineteen are all used at one a day."""
    batches = (Batch(10_000, after(19)), Batch(10_000, after(9)))
    found = usable_of(stocked(batches=batches), TODAY)
    assert (found.usable, found.lost) == (pytest.approx(20), ())


def test_all_that_is_expired_is_not_there() -> None:
    """Yesterday's date: nothing usable, and an order is due at once."""
    item = stocked(batches=(Batch(50_000, after(-1)),))
    assert usable_of(item, TODAY).usable == 0
    assert outlook(item, lead(5), 0.95, TODAY).runs_out_first


def test_what_is_short_comes_off() -> None:
    """Three used before they were entered: the stock begins below nothing."""
    seen = outlook(stocked(there=0, short_milli=3000), lead(5), 0.95, TODAY)
    assert (seen.usable, seen.lasts_until, seen.order_by) == (-3, TODAY, TODAY)


@given(st.integers(0, 200), st.integers(0, 300))
def test_no_stock_is_used_and_lost_at_once(there: int, days: int) -> None:
    """What is usable and what is lost are together what is there."""
    found = usable_of(stocked(batches=(Batch(there * 1000, after(days)),)), TODAY)
    assert found.usable + sum(each.quantity for each in found.lost) == pytest.approx(there, abs=0.001)


def test_an_item_never_used_has_no_day_and_no_point() -> None:
    """No history: nothing to order, and no figure that is none."""
    seen = outlook(stocked(use=Use()), lead(5), 0.95, TODAY)
    assert (seen.per_day, seen.order_by, seen.lasts_until, seen.reorder_at) == (0, None, None, 0)


def test_one_use_ever_gives_figures() -> None:
    """A single piece in ninety days: an order far ahead, or none within the horizon."""
    seen = outlook(stocked(there=1, use=use(times=1)), lead(5), 0.95, TODAY)
    assert math.isfinite(seen.reorder_at)
    assert seen.per_day == pytest.approx(1 / 90)


CLOSED = Closures(own=(ClosedDays(after(12), after(40)),))


def test_it_is_looked_four_hundred_days_ahead() -> None:
    """The more there is, the later the day to order on, up to the last that is looked at; beyond it there is none."""
    days = [outlook(stocked(there=there), lead(5), 0.95, TODAY).order_by for there in range(380, 430)]
    assert max(day for day in days if day is not None) == after(399)
    assert days[-1] is None


def test_a_closure_brings_the_day_to_order_on_forward() -> None:
    """A supplier that is closed from the twelfth day on for four weeks is to be asked before."""
    open_always = outlook(stocked(there=30), lead(5), 0.95, TODAY).order_by
    closing = outlook(stocked(there=30), lead(5, closures=CLOSED), 0.95, TODAY).order_by
    assert open_always is not None
    assert closing is not None
    assert closing < open_always
    assert closing + datetime.timedelta(days=5) < after(13)


@given(st.integers(1, 120), st.integers(0, 60), st.integers(0, 40))
def test_a_closure_never_lets_one_order_later(there: int, first: int, days: int) -> None:
    """Whatever the closed days, the order is due as early or earlier."""
    closed = Closures(own=(ClosedDays(after(first), after(first + days)),))
    without = outlook(stocked(there=there), lead(5), 0.95, TODAY).order_by
    with_it = outlook(stocked(there=there), lead(5, closures=closed), 0.95, TODAY).order_by
    assert without is not None
    assert with_it is not None
    # Less to wait is never drawn: the safety stock of a later day may differ by the rounding of one day.
    assert with_it <= without + datetime.timedelta(days=1)

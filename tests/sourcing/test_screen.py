"""The instant screen."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import ValueProblem
from ledger.sourcing.screen import ScreenInput, saving, screen

CASE = ScreenInput(3.75, 2.20, 400, 900, 0.25, 0.25)

inputs = st.builds(
    ScreenInput,
    domestic_cost=st.floats(0.5, 20),
    overseas_cost=st.floats(0.2, 15),
    fixed_cost=st.floats(0, 2_000),
    demand_per_year=st.floats(1, 50_000),
    carrying_per_year=st.floats(0, 0.6),
    paid_years=st.floats(0, 0.5),
)


def test_the_worked_case() -> None:
    """The window, the best quantity and its saving; the naive break-even forgets the shelf."""
    found = screen(CASE)
    assert found.window is not None
    assert found.naive_quantity is not None
    assert found.best_quantity is not None
    assert found.best_saving is not None
    assert round(found.naive_quantity) == 258
    assert (round(found.window.quantity_from), round(found.window.quantity_to or 0)) == (303, 4320)
    assert (round(found.best_quantity), round(found.best_saving)) == (2311, 1232)


def test_a_naive_break_even_where_nothing_pays() -> None:
    """500 by the naive reckoning, never in truth."""
    found = screen(ScreenInput(3.20, 2.40, 400, 600, 0.30, 0.25))
    assert found.naive_quantity == pytest.approx(500)
    assert not found.can_pay


@given(inputs)
def test_the_saving_is_nothing_at_both_ends_of_the_window(given_input: ScreenInput) -> None:
    """Inside it is positive, at its ends zero."""
    found = screen(given_input)
    if found.window is None:
        return
    scale = 1e-6 * (given_input.fixed_cost + 1)
    assert saving(given_input, found.window.quantity_from) == pytest.approx(0, abs=scale + 1e-6)
    if found.window.quantity_to is not None and found.best_quantity is not None:
        assert saving(given_input, found.window.quantity_to) == pytest.approx(
            0, abs=1e-6 * given_input.domestic_cost * found.window.quantity_to + 1e-6
        )
        assert saving(given_input, found.best_quantity) >= -1e-9


@given(inputs)
def test_beyond_a_switch_point_the_answer_is_the_other_one(given_input: ScreenInput) -> None:
    """A domestic price a hair above or below the switch point pays or does not."""
    point = screen(given_input).switch_points.domestic_cost
    for factor, pays in ((1.001, True), (0.999, False)):
        changed = ScreenInput(
            point * factor,
            given_input.overseas_cost,
            given_input.fixed_cost,
            given_input.demand_per_year,
            given_input.carrying_per_year,
            given_input.paid_years,
        )
        assert screen(changed).can_pay is pays


def test_the_landed_cost_and_the_volume_switch_too() -> None:
    """At each switch point alone the best saving is nothing."""
    points = screen(CASE).switch_points
    assert points.overseas_cost is not None
    assert points.demand_per_year is not None
    dearer = screen(ScreenInput(3.75, points.overseas_cost * 0.99999, 400, 900, 0.25, 0.25))
    slower = screen(ScreenInput(3.75, 2.20, 400, points.demand_per_year * 1.00001, 0.25, 0.25))
    assert dearer.best_saving == pytest.approx(0, abs=0.1)
    assert slower.best_saving == pytest.approx(0, abs=0.1)


def test_a_free_shelf_has_no_end() -> None:
    """Without carrying cost every larger order saves more."""
    found = screen(ScreenInput(3.0, 2.0, 100, 500, 0.0))
    assert found.window is not None
    assert (found.window.quantity_from, found.window.quantity_to) == (100, None)


@pytest.mark.parametrize("name", ["overseas_cost", "demand_per_year"])
def test_nothing_is_divided_by_zero(name: str) -> None:
    """A cost or a demand of zero is refused in words."""
    values = {
        "domestic_cost": 3,
        "overseas_cost": 2,
        "fixed_cost": 1,
        "demand_per_year": 5,
        "carrying_per_year": 0,
    }
    with pytest.raises(ValueProblem, match=name.split("_", maxsplit=1)[0]):
        ScreenInput(**{**values, name: 0})

"""How many days an offer takes, and who says so: one rule for the price comparison, the decision and the plan."""

from __future__ import annotations

import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import ValueProblem
from ledger.sourcing.expected_days import (
    ENOUGH_ORDERS,
    counted,
    expected_days,
    lead_times,
    mean_days,
    source_words,
)
from ledger.sourcing.quote import LeadTime

TODAY = datetime.date(2026, 4, 2)
STATED, SILENT, OWN = LeadTime(55.0, 12.0), LeadTime(), LeadTime(from_own_orders=True)
WEEK = ("2026-04-10..2026-04-16",)


@pytest.mark.parametrize(
    ("said", "own", "days", "words"),
    [
        (STATED, [], 55, "as the offer states"),
        (STATED, [51], 55, "as the offer states (1 order of your own took 51; 3 would count)"),
        (STATED, [50, 53], 55, "as the offer states (2 orders of your own took 52 on average; 3 would count)"),
        (STATED, [51, 60, 48], 53, "from 3 orders of your own"),
        (OWN, [51], 51, "from 1 order of your own"),
        (OWN, [], 0, ""),
        (SILENT, [50, 54], 52, "from 2 orders of your own"),
        (SILENT, [], 0, ""),
        (LeadTime(0.0, 9.0, from_own_orders=True), [20], 20,
         "from 1 order of your own, spread as the offer states"),
        (LeadTime(0.0, 9.0, from_own_orders=True), [20, 30, 25], 25, "from 3 orders of your own"),
    ],
)  # fmt: skip
def test_the_offer_counts_unless_enough_own_orders_say_otherwise(
    said: LeadTime, own: list[int], days: float, words: str
) -> None:
    """Fewer own orders count where the offer states no days or leaves them to own orders."""
    found = counted(said, own)
    assert (mean_days(found), source_words(found)) == (days, words)


@given(st.floats(1, 300), st.lists(st.integers(1, 300), max_size=8))
def test_what_counts_is_either_what_is_stated_or_what_own_orders_took(stated: float, own: list[int]) -> None:
    """Never a mixture of both, and asking again of what counts changes nothing."""
    found = counted(LeadTime(stated), own)
    assert found.samples == (tuple(own) if len(own) >= ENOUGH_ORDERS else ())
    assert mean_days(found) == (sum(own) / len(own) if len(own) >= ENOUGH_ORDERS else stated)
    assert counted(found, own) == found


def test_closures_come_on_top_of_stated_days_only() -> None:
    """Seven closed days on the way make 20 days 27; what own orders took has its closed days in it."""
    stated, own = counted(LeadTime(20.0), []), counted(LeadTime(20.0), [20, 20, 20])
    assert (expected_days(stated, WEEK, TODAY), expected_days(own, WEEK, TODAY)) == (27, 20)
    assert lead_times(stated, WEEK, TODAY).mean_total() == 27
    assert lead_times(own, WEEK, TODAY).closures.are_none


def test_own_orders_are_the_distribution_from_three_on() -> None:
    """Of fewer the mean is taken with the spread that is stated, where one is."""
    few = LeadTime(0.0, 9.0, from_own_orders=True)
    assert lead_times(counted(few, [20, 30, 25]), (), TODAY).samples == (20, 30, 25)
    found = lead_times(counted(few, [20, 30]), WEEK, TODAY)
    assert (found.mean_days, found.sd_days, found.samples, found.closures.are_none) == (25, 9, (), True)
    assert lead_times(counted(OWN, [20, 30]), (), TODAY).samples == (20, 30)


def test_where_nobody_says_closures_add_nothing() -> None:
    """No days are known, so none are made up."""
    assert expected_days(counted(SILENT, []), WEEK, TODAY) == 0


def test_an_absurd_lead_time_is_told() -> None:
    """No calendar reaches that far."""
    with pytest.raises(ValueProblem, match="over ten years"):
        expected_days(LeadTime(1e9), (), TODAY)

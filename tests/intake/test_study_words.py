"""What a study says of sizes, colours, lead times and closures: the good message, once."""

from __future__ import annotations

import datetime

import pytest
from study_texts import study_of

from ledger.errors import InputErrors
from ledger.sourcing.study import Study

TODAY = datetime.date(2026, 4, 2)
TEXT = """
currency = "USD"
[demand]
per_month = 50
sizes = {M = 0.6, L = 0.4}
[[offer]]
name = "Far"
origin = "VN"
breaks = [{from = 1, price = "2.00"}]
duty = [{rate = "0", from = 2020-01-01}]
lead_time = {mean_days = 50}
"""


def told(old: str = "", new: str = "") -> Study:
    """The study with one thing written otherwise."""
    return study_of(TEXT.replace(old, new) if old else TEXT, "mine.toml", TODAY)


@pytest.mark.parametrize(("line", "strength"), [("", 60), ("sizes_as_if_counted = 400", 400)])
def test_how_sure_shares_are_can_be_said(line: str, strength: int) -> None:
    """Left out it is sixty pieces."""
    assert told("per_month = 50", f"per_month = 50\n{line}").demand.share_strength == strength


def test_a_minimum_per_colour_without_colours_is_told() -> None:
    """All then counts as one colour."""
    remarks = told('origin = "VN"', 'origin = "VN"\nminimum_per_colour = 60').remarks
    assert any("minimum_per_colour 60 is taken for one colour" in each for each in remarks)


def test_an_empty_list_of_past_lead_times_is_refused() -> None:
    """It would stand for goods that are there at once."""
    with pytest.raises(InputErrors, match="the list is empty"):
        told("{mean_days = 50}", "{samples = []}")


def test_a_lead_time_left_out_is_told() -> None:
    """It is taken to deliver at once."""
    assert any("no lead time" in each for each in told("lead_time = {mean_days = 50}", "").remarks)


def test_closures_as_a_table_are_told_once() -> None:
    """With how to write them."""
    with pytest.raises(InputErrors) as caught:
        told('origin = "VN"', 'origin = "VN"\nclosures = {from = "2027-01-25"}')
    assert str(caught.value).count("closures") <= 2
    assert 'closures = ["VN"' in str(caught.value)

"""When goods enter, and what ends or begins before they do."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest
from landed_cases import LAYERS

from ledger.errors import ValueProblem
from ledger.sourcing.landed_changes import change_warnings, duty_changes, entry_day
from ledger.sourcing.quote import Entry, LeadTime, Quote

TODAY = datetime.date(2026, 7, 1)
TEE = "6109.10"


@pytest.mark.parametrize(
    ("lead", "day"),
    [
        (LeadTime(), TODAY),
        (LeadTime(58.0), datetime.date(2026, 8, 28)),
        (LeadTime(58.0, samples=(20, 30)), datetime.date(2026, 7, 26)),
    ],
)
def test_goods_enter_when_they_come(lead: LeadTime, day: datetime.date) -> None:
    """Own orders that count before what is offered; today where nobody says."""
    assert entry_day(TODAY, Quote("Mill", lead_time=lead)) == day


def test_closed_days_make_goods_enter_later() -> None:
    """Ten days with a closed week on the way are 17."""
    closed = Quote("Mill", lead_time=LeadTime(10.0), closures=("2026-07-03..2026-07-09",))
    assert entry_day(TODAY, closed) == datetime.date(2026, 7, 18)


def test_an_absurd_lead_time_is_told() -> None:
    """No calendar reaches that far."""
    with pytest.raises(ValueProblem, match="over ten years"):
        entry_day(TODAY, Quote("Mill", lead_time=LeadTime(1e9)))


@pytest.mark.parametrize(
    ("on", "said"),
    [
        (datetime.date(2026, 7, 1), 0),
        (datetime.date(2026, 7, 23), 0),
        (datetime.date(2026, 7, 24), 2),
        (datetime.date(2026, 6, 1), 0),
    ],
)
def test_layers_that_end_or_begin_before_the_entry_are_said(on: datetime.date, said: int) -> None:
    """One ends and one begins on 24 July, and only layers of the goods' own origin count."""
    found = duty_changes(LAYERS, TEE, "CN", Entry(on, today=TODAY))
    assert len(found) == said
    if said:
        assert found == (
            "section 122 10% (class any, origin any) is no longer charged from 2026-07-24 on",
            "note 52 12.5% (class any, origin CN) is charged from 2026-07-24 on",
        )


def test_a_layer_that_another_stands_in_for_is_not_said() -> None:
    """A shorter class of the same program was never charged."""
    ending = replace(LAYERS[0], class_prefix="61", until=datetime.date(2026, 7, 20))
    assert duty_changes((LAYERS[0], ending), TEE, "CN", Entry(datetime.date(2026, 8, 1), today=TODAY)) == ()


def test_several_classes_are_warned_about_once() -> None:
    """The same change of two lines is one."""
    entry = Entry(datetime.date(2026, 8, 1), today=TODAY)
    (warning,) = change_warnings(["a ends", "a ends", "b begins"], entry)
    assert "a ends; b begins. It is reckoned for an entry on 2026-08-01" in warning
    assert change_warnings([], entry) == ()

"""What two studies give differently, and one study with a single figure of the other."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from ledger.intake.study_differences import ABSENT, differences, with_difference

BEFORE: dict[str, Any] = {
    "currency": "USD",
    "demand": {"history": [37], "sizes": {"M": Decimal("0.5"), "L": Decimal("0.5")}},
    "money": {"capital_per_year": Decimal("0.10")},
    "offer": [{"name": "Near", "breaks": [{"from": 1, "price": "4.10"}]}, {"name": "Far", "minimum": 300}],
}


def test_the_same_figures_are_the_same_however_they_are_written() -> None:
    """In quotes or not, with or without zeros at the end."""
    after = {**BEFORE, "money": {"capital_per_year": "0.1"}}
    assert differences(BEFORE, after) == ()


def test_each_figure_that_differs_is_named_with_its_place() -> None:
    """At the top, in a table, in an offer."""
    after = {
        **BEFORE,
        "horizon_months": 6,
        "money": {"capital_per_year": "0.2"},
        "offer": [BEFORE["offer"][0], {"name": "Far", "minimum": 200}],
    }
    found = differences(BEFORE, after)
    assert [(each.place, each.before, each.after) for each in found] == [
        ("horizon_months", ABSENT, "6"),
        ("[money] capital_per_year", "0.10", "0.2"),
        ("Far: minimum", "300", "200"),
    ]


def test_ways_to_say_demand_are_one_figure() -> None:
    """per_month in place of history is one change, and is taken over as one."""
    after = {**BEFORE, "demand": {"per_month": 60, "sizes": BEFORE["demand"]["sizes"]}}
    (found,) = differences(BEFORE, after)
    assert (found.place, found.before, found.after) == ("[demand]", "history 37", "per_month 60")
    assert with_difference(BEFORE, after, found)["demand"] == after["demand"]


def test_an_offer_in_only_one_study_is_one_difference() -> None:
    """It is added or taken out as a whole."""
    after = {**BEFORE, "offer": [BEFORE["offer"][0], {"name": "Third", "minimum": 1}]}
    gone, new = differences(BEFORE, after)
    assert [each["name"] for each in with_difference(BEFORE, after, gone)["offer"]] == ["Near"]
    assert [each["name"] for each in with_difference(BEFORE, after, new)["offer"]] == ["Near", "Far", "Third"]


def test_all_differences_together_make_the_other_study() -> None:
    """Taken one after the other nothing is left to differ."""
    after = {
        "currency": "USD",
        "demand": {"per_month": 60},
        "limits": {"cash": "900"},
        "offer": [{"name": "Far", "minimum": 100, "multiple": 12}],
    }
    changed = BEFORE
    for each in differences(BEFORE, after):
        changed = with_difference(changed, after, each)
    assert differences(changed, after) == ()

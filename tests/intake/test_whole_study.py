"""A study written whole, and with what really came in it."""

from __future__ import annotations

import datetime
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.intake.study_differences import differences
from ledger.intake.study_file import content_of, study_from, taken_from_history
from ledger.intake.whole_study import Came, study_text, with_what_came
from ledger.sourcing.own_history import HistoryMonth, OwnHistory, SizeHistory

ROOT = Path(__file__).resolve().parents[2]
TODAY = datetime.date(2026, 4, 2)
STUDIES = (ROOT / "imports" / "study.toml", ROOT / "samples" / "wren-study.toml")

TEXTS = st.text(min_size=1, max_size=12)
VALUES = st.one_of(
    TEXTS,
    st.booleans(),
    st.integers(-(10**9), 10**9),
    st.decimals(-(10**6), 10**6, allow_nan=False, allow_infinity=False, places=4),
    st.dates(datetime.date(1900, 1, 1)),
    st.lists(st.integers(0, 99), max_size=3),
    st.lists(st.dictionaries(TEXTS, st.integers(0, 9), max_size=2), max_size=2),
)
TABLES = st.dictionaries(TEXTS, VALUES, max_size=4)


@pytest.mark.parametrize("path", STUDIES, ids=lambda path: path.name)
def test_a_written_study_means_the_same(path: Path) -> None:
    """The carried studies, read, written and read again: no figure differs, and the study is the same."""
    content = content_of(path.read_text("utf-8"), path.name)
    again = content_of(study_text(content), "again")
    assert differences(content, again) == ()
    assert study_from(again, "a", TODAY) == study_from(content, "a", TODAY)


@given(TABLES, TABLES, st.lists(TABLES, max_size=2))
def test_any_tables_are_read_back(
    top: dict[str, Any], demand: dict[str, Any], offers: list[dict[str, Any]]
) -> None:
    """Texts with quotes and line ends, numbers, days, lists and tables, under any key."""
    top = {key: value for key, value in top.items() if key not in {"demand", "offer"}}
    content = {**top, "demand": demand} | ({"offer": offers} if offers else {})
    assert content_of(study_text(content), "again") == content


def history(*left: int, out: int = 0) -> OwnHistory:
    """Whole months from April on in which so many left."""
    months = tuple(HistoryMonth(f"2026-{number:02d}", 30, 30) for number in range(4, 4 + len(left)))
    size = SizeHistory("", tuple(each * 1000 for each in left), (out,) * len(left), 5_000)
    return OwnHistory("tees", "2026-06-30", months, (size,))


def test_months_that_came_follow_those_of_the_study() -> None:
    """Its own months stay, days without stock too; the stock stays as it was."""
    content = {"demand": {"history": [52, 47], "days_out_of_stock": [0, 3], "on_hand": 9, "sizes": {"M": 1}}}
    demand = with_what_came(content, Came(history(40, 50)))["demand"]
    assert demand["history"] == [52, 47, 40, 50]
    assert demand["days_out_of_stock"] == [0, 3, 0, 0]
    assert (demand["on_hand"], demand["sizes"]) == (9, {"M": 1})


def test_one_figure_for_all_months_is_spread_over_them() -> None:
    """So that the new months can have their own."""
    content = {"demand": {"history": [52, 47], "days_out_of_stock": 2}}
    demand = with_what_came(content, Came(history(40, out=15)))["demand"]
    assert demand["days_out_of_stock"] == [2, 2, pytest.approx(Decimal("15.2"))]


@pytest.mark.parametrize(
    "stated",
    [{"per_month": 60, "sd_per_month": 15}, {"low": 10, "likely": 20, "high": 40}, {"per_year": 700}],
)
def test_what_was_only_stated_gives_way(stated: dict[str, int]) -> None:
    """A guess is no history: what came stands in its place, and the study can be read."""
    offer = {"name": "Here", "breaks": [{"from": 1, "price": "3"}]}
    changed = with_what_came({"demand": stated, "offer": [offer]}, Came(history(40, 50, 45)))
    assert set(changed["demand"]) == {"history"}
    assert study_from(changed, "changed", TODAY).demand.per_month == pytest.approx(45.2, abs=0.5)


FAR = {
    "name": "Far",
    "breaks": [{"from": 1, "price": "2.50"}, {"from": 100, "price": Decimal("2.00")}],
    "lead_time": {"mean_days": 40, "sd_days": 8, "working_days": 3},
}


def test_prices_and_days_go_to_the_offer_that_was_bought_from() -> None:
    """The other stays; the content that was given is not touched."""
    content = {"offer": [FAR, {**FAR, "name": "Near"}]}
    changed = with_what_came(content, Came(offer="Far", price_factor=Fraction(11, 10), took_days=(50, 61)))
    far, near = changed["offer"]
    assert [each["price"] for each in far["breaks"]] == ["2.75", "2.2"]
    assert far["lead_time"] == {"mean_days": Decimal("55.5"), "sd_days": 8}
    assert near == {**FAR, "name": "Near"}
    assert content["offer"][0] is FAR
    assert FAR["lead_time"] == {"mean_days": 40, "sd_days": 8, "working_days": 3}


def test_three_orders_speak_for_themselves() -> None:
    """Then how their days scatter counts too."""
    (far,) = with_what_came({"offer": [FAR]}, Came(offer="Far", took_days=(50, 61, 44)))["offer"]
    assert far["lead_time"] == {"samples": [50, 61, 44]}


def test_prices_by_size_are_taken_times_too() -> None:
    """Each list of breaks, to a hundred millionth."""
    offer = {"name": "Far", "prices": [{"sizes": ["M"], "breaks": [{"price": "2"}]}]}
    (far,) = with_what_came({"offer": [offer]}, Came(offer="Far", price_factor=Fraction(1, 2)))["offer"]
    assert far["prices"] == [{"sizes": ["M"], "breaks": [{"price": "1"}]}]
    (fine,) = with_what_came({"offer": [offer]}, Came(offer="Far", price_factor=Fraction(1, 3)))["offer"]
    assert fine["prices"][0]["breaks"] == [{"price": "0.66666667"}]


def test_what_a_study_leaves_open_is_told_apart() -> None:
    """The keys that the book's history gives, not those the study states."""
    content = {"sku": "WREN", "demand": {"on_hand": 4}}
    taken = taken_from_history(content, lambda _name, _colour: history(40, 50))
    assert taken["history"] == [40, 50]
    assert "on_hand" not in taken
    assert taken_from_history({"demand": {"per_month": 4}}, lambda _name, _colour: history(1)) == {}

"""Duty layers by class, origin and day of entry."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from landed_cases import LAYERS

from ledger.errors import ValueProblem
from ledger.sourcing.duties import (
    DutyLayer,
    dated_layers,
    layers_for,
    percent,
    silent_programs,
    superseded_on,
)

D = datetime.date


def summed(layers: Iterable[DutyLayer]) -> Fraction:
    """All rates together: they are levied on one customs value."""
    return sum((layer.rate for layer in layers), Fraction(0))


@pytest.mark.parametrize(
    ("origin", "day", "percents"),
    [
        ("CN", D(2026, 3, 15), ["16.5%", "7.5%", "10%"]),
        ("CN", D(2026, 11, 24), ["16.5%", "7.5%", "12.5%"]),
        ("VN", D(2026, 11, 24), ["16.5%", "12.5%"]),
        ("VN", D(2019, 1, 1), ["16.5%"]),
    ],
)
def test_the_entry_date_picks_the_layers(origin: str, day: datetime.date, percents: list[str]) -> None:
    """Of each program the layer in force on that day."""
    assert [percent(layer.rate) for layer in layers_for(LAYERS, "6109.10.0012", origin, day)] == percents


@pytest.mark.parametrize(
    ("day", "rate"),
    [(D(2026, 2, 23), "0.24"), (D(2026, 2, 24), "0.34"), (D(2026, 7, 23), "0.34"), (D(2026, 7, 24), "0.365")],
)
def test_a_layer_holds_from_its_first_day_until_the_day_before_the_next(
    day: datetime.date, rate: str
) -> None:
    """No day has both the old and the new surcharge, none has neither."""
    assert summed(layers_for(LAYERS, "6109.10", "CN", day)) == Fraction(rate)


def found(layers: tuple[DutyLayer, ...], day: datetime.date, customs_class: str = "") -> list[Fraction]:
    """The rates of a day; none where nothing is known of it."""
    try:
        return [layer.rate for layer in layers_for(layers, customs_class, "CN", day)]
    except ValueProblem:
        return []


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["general", "added", ""]),
            st.sampled_from(["61", "6109", "6109.10", "62", ""]),
            st.sampled_from(["CN", "VN", ""]),
            st.none() | st.integers(0, 30),
            st.none() | st.integers(1, 30),
        ),
        max_size=6,
    )
)
def test_layers_with_their_dates_say_the_same_on_every_day(
    told: list[tuple[str, str, str, int | None, int | None]],
) -> None:
    """Without class and origin, a program in which one stands in for another meanwhile included."""
    first = D(2026, 1, 1)
    layers = tuple(
        DutyLayer(
            Fraction(number + 1, 100),
            None if start is None else first + datetime.timedelta(days=start),
            None if length is None else first + datetime.timedelta(days=(start or 0) + length),
            program, prefix, origin,
        )
        for number, (program, prefix, origin, start, length) in enumerate(told)
    )  # fmt: skip
    alone = dated_layers(layers, "6109.10", "CN")
    for day in (first + datetime.timedelta(days=number) for number in range(-2, 64)):
        assert found(alone, day) == found(layers, day, "6109.10")


@pytest.mark.parametrize("customs_class", ["6205.20", "", "61"])
def test_a_class_without_a_rate_of_its_own_is_unknown(customs_class: str) -> None:
    """A surcharge on everything does not make the class free."""
    with pytest.raises(ValueProblem, match="unknown is not free"):
        layers_for(LAYERS, customs_class, "VN", D(2026, 11, 24))


def test_no_layer_at_all_is_unknown() -> None:
    """A foreign offer without any layer is refused."""
    with pytest.raises(ValueProblem, match="no duty layer holds for class 6109 from BD"):
        layers_for((), "6109", "BD", D(2026, 11, 24))


def test_a_free_class_is_a_row_of_zero() -> None:
    """Zero is a rate that somebody entered."""
    layers = layers_for((DutyLayer(Fraction(0), class_prefix="4908.90"),), "4908.90", "CN", D(2026, 1, 1))
    assert summed(layers) == 0


def test_the_longest_prefix_stands_in_for_shorter_ones_of_its_program() -> None:
    """A heading's rate gives way to the line's own."""
    layers = (
        DutyLayer(Fraction("0.2"), program="general", class_prefix="61"),
        DutyLayer(Fraction("0.165"), program="General", class_prefix="6109.10"),
        DutyLayer(Fraction("0.1"), program="surcharge", class_prefix="61"),
    )
    rates = [layer.rate for layer in layers_for(layers, "6109.10.0012", "CN", D(2026, 1, 1))]
    assert rates == [Fraction("0.165"), Fraction("0.1")]


def test_an_origin_stands_in_for_any() -> None:
    """A preference of one country replaces the general rate of the program."""
    layers = (
        DutyLayer(Fraction("0.165"), program="general", class_prefix="6109"),
        DutyLayer(Fraction(0), program="general", class_prefix="6109", origin="HN"),
    )
    found = {origin: summed(layers_for(layers, "6109", origin, D(2026, 1, 1))) for origin in ("HN", "CN")}
    assert found == {"HN": 0, "CN": Fraction("0.165")}


def test_layers_without_a_program_add_up() -> None:
    """As a study lists them."""
    layers = (DutyLayer(Fraction("0.165")), DutyLayer(Fraction("0.075")))
    assert summed(layers_for(layers, "", "CN", D(2026, 1, 1))) == Fraction("0.24")


@pytest.mark.parametrize(("days", "is_old"), [(0, False), (60, False), (61, True)])
def test_a_rate_is_old_after_sixty_days(days: int, is_old: bool) -> None:  # noqa: FBT001
    """The sixtieth day is still fine."""
    checked = DutyLayer(Fraction("0.1"), checked_on=D(2026, 1, 1))
    assert checked.is_old(D(2026, 1, 1) + datetime.timedelta(days)) is is_old


def test_a_rate_without_a_date_is_old() -> None:
    """Nobody knows when it was read."""
    assert DutyLayer(Fraction("0.1")).is_old(D(2026, 1, 1))


GENERAL = (
    DutyLayer(Fraction("0.165"), program="general", class_prefix="6109.10"),
    DutyLayer(Fraction("0.17"), D(2026, 5, 1), program="General", class_prefix="610910"),
    DutyLayer(Fraction("0.12"), program="surcharge", origin="PT"),
)


@pytest.mark.parametrize(("day", "rate"), [(D(2026, 4, 30), "0.285"), (D(2026, 5, 1), "0.29")])
def test_a_later_row_of_a_program_stands_in_for_an_older_one(day: datetime.date, rate: str) -> None:
    """The undated 16.5% and the 17% from May on are one duty, not two."""
    assert summed(layers_for(GENERAL, "6109.10.0012", "PT", day)) == Fraction(rate)


def test_the_day_on_which_a_later_row_replaces_one_is_known() -> None:
    """Only of the same program, class and origin."""
    assert [superseded_on(layer, GENERAL) for layer in GENERAL] == [D(2026, 5, 1), None, None]


def test_a_row_that_ended_before_is_not_replaced() -> None:
    """Its own last day says when it no longer holds."""
    ended = DutyLayer(Fraction("0.1"), until=D(2026, 4, 1), program="general", class_prefix="6109.10")
    assert superseded_on(ended, (ended, *GENERAL)) is None


def test_what_holds_for_every_class_is_named_where_the_class_itself_is_unknown() -> None:
    """Nobody can read 'no layer holds' beside a surcharge that does."""
    with pytest.raises(ValueProblem, match=r"only what holds for every class is known \(surcharge 12%\)"):
        layers_for(GENERAL, "6205.20", "PT", D(2026, 4, 1))


@pytest.mark.parametrize(
    ("customs_class", "origin", "silent"),
    [("6109.10", "PT", ()), ("6110.20", "PT", ("general",)), ("6110.20", "CN", ("general",))],
)
def test_a_program_with_rows_of_other_classes_only_is_named(
    customs_class: str, origin: str, silent: tuple[str, ...]
) -> None:
    """A program of one other origin, or a surcharge on everything, is not missed."""
    layers = (*GENERAL, DutyLayer(Fraction("0.05"), program="list", class_prefix="6110", origin="PT"))
    found = [name for name in silent_programs(layers, customs_class, origin, D(2026, 4, 1)) if name != "list"]
    assert tuple(found) == silent

"""Reference rates: which day's rate, in which direction, and when there is none."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import RateUnknown, ValueProblem
from ledger.intake import reference_rates
from ledger.intake.reference_rates import rate_text, reference_rate


def test_the_rate_is_in_units_of_the_target() -> None:
    """A yuan is worth about fourteen cents, not seven dollars."""
    assert Fraction("0.13") < reference_rate("CNY", "USD", dt.date(2024, 12, 31)).rate < Fraction("0.14")


def test_the_rate_is_exactly_the_decimal_that_is_stored() -> None:
    """What is written down is what was used."""
    rate = reference_rate("CNY", "USD", dt.date(2024, 12, 31)).rate
    assert Fraction(rate_text(rate)) == rate


def test_a_weekend_takes_the_friday_before() -> None:
    """A day without rates looks back, never forward."""
    assert reference_rate("USD", "CNY", dt.date(2024, 2, 4)).rate_date == dt.date(2024, 2, 2)


def test_the_same_currency_is_one_to_one() -> None:
    """No table is needed for that."""
    assert reference_rate("VND", "VND", dt.date(2090, 1, 1)).rate == 1


def test_the_rate_names_its_source() -> None:
    """The terms of use ask for it."""
    assert "European Central Bank" in reference_rate("USD", "EUR", dt.date(2024, 2, 2)).source_name


@pytest.mark.parametrize(
    ("source", "target", "on", "words"),
    [
        ("USD", "VND", dt.date(2024, 1, 2), "do not carry VND"),
        ("BDT", "USD", dt.date(2024, 1, 2), "do not carry BDT"),
        ("RUB", "USD", dt.date(2023, 1, 2), "none on 2023-01-02 or the 7 days before"),
        ("USD", "EUR", dt.date(1999, 1, 1), "none on 1999-01-01"),
        ("USD", "EUR", dt.date(2090, 1, 1), "end on"),
    ],
)
def test_an_unknown_rate_is_refused_with_the_way_out(
    source: str, target: str, on: dt.date, words: str
) -> None:
    """Currencies not carried or no longer carried, and dates before and after the table."""
    with pytest.raises(RateUnknown, match=words) as caught:
        reference_rate(source, target, on)
    assert f"--rate ({target} for one {source})" in str(caught.value)


def test_the_day_after_the_end_of_the_table_is_refused() -> None:
    """Otherwise the rate of that day would depend on the installed version."""
    last = reference_rates._table().last_date
    assert reference_rate("USD", "EUR", last).rate_date == last
    with pytest.raises(RateUnknown, match=f"end on {last}"):
        reference_rate("USD", "EUR", last + dt.timedelta(days=1))


def table_of(*lines: str) -> reference_rates._Table:
    """Return a made-up table of one currency, ending far in the future."""
    return reference_rates._Table({"USD": 1}, {line[:10]: line for line in lines}, dt.date(2100, 1, 1))


@pytest.mark.parametrize(("days", "known"), [(7, True), (8, False)])
def test_seven_days_back_and_no_further(monkeypatch: pytest.MonkeyPatch, days: int, known: bool) -> None:  # noqa: FBT001
    """A rate a week old serves, an older one does not."""
    monkeypatch.setattr(reference_rates, "_table", lambda: table_of("2026-01-01,1.25"))
    on = dt.date(2026, 1, 1) + dt.timedelta(days=days)
    if known:
        assert reference_rate("USD", "EUR", on).rate == Fraction("0.8")
    else:
        with pytest.raises(RateUnknown):
            reference_rate("USD", "EUR", on)


def test_a_day_on_which_only_one_of_the_two_was_published_is_passed_over(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Both rates of a cross are of one day."""
    table = table_of("2026-01-02,N/A", "2026-01-01,1.25")
    monkeypatch.setattr(reference_rates, "_table", lambda: table)
    assert reference_rate("USD", "EUR", dt.date(2026, 1, 2)).rate_date == dt.date(2026, 1, 1)


@given(st.fractions(min_value=Fraction(1, 10**9), max_value=10**9))
def test_rate_text_keeps_ten_digits(rate: Fraction) -> None:
    """The stored decimal is within half a unit of the tenth digit."""
    text = rate_text(rate)
    digits = text.replace(".", "").lstrip("0")
    assert (len(digits) <= 10, abs(Fraction(text) - rate) <= rate / (2 * 10**9)) == (True, True)


@pytest.mark.parametrize("rate", [Fraction(0), Fraction(-1)])
def test_a_rate_that_is_not_positive_has_no_text(rate: Fraction) -> None:
    """Nothing is converted at zero."""
    with pytest.raises(ValueProblem):
        rate_text(rate)

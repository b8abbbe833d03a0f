"""Lead times through closures, orders that do not overtake, order-by dates."""

from __future__ import annotations

import datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.errors import ValueProblem
from ledger.sourcing.closures import Calendar, ClosedDays, Closures, last_published_year, read_closures
from ledger.sourcing.lead_time import LeadTimes, arrivals_in_order, order_by

DAY = datetime.date
NEED = DAY(2027, 4, 15)
FACTORY = LeadTimes(32, working_days=30, start=DAY(2026, 11, 1))
HOLIDAY = "2027-01-25..2027-02-22"


def test_the_worked_order_by_date() -> None:
    """30 working days and 32 more, closed over the new year: 2026-12-31, not 2027-01-27."""
    closed = LeadTimes(32, working_days=30, closures=read_closures([HOLIDAY]), start=DAY(2026, 11, 1))
    assert order_by(closed, NEED, 0.95) == DAY(2026, 12, 31)
    without = order_by(FACTORY, NEED, 0.95)
    assert without is not None
    assert without > DAY(2027, 1, 25)


def test_a_date_that_cannot_be_met() -> None:
    """Even an order today would be late."""
    assert order_by(FACTORY, DAY(2026, 11, 20), 0.95) is None
    assert order_by(FACTORY, DAY(2026, 10, 1), 0.95) is None


# Source: the State Council's notices on public holidays of 2026, as package holidays carries them; checked there.
def test_chinese_working_days() -> None:
    """2026-02-14 is a working Saturday; the fifth working day after 2026-02-13 is 2026-02-27."""
    calendar = Calendar(read_closures(["CN"]), DAY(2026, 2, 13), 60)
    assert calendar.is_open(DAY(2026, 2, 14))
    finish = calendar.finish(np.array([0]), np.array([5]))
    assert DAY(2026, 2, 13) + datetime.timedelta(days=int(finish[0])) == DAY(2026, 2, 27)


def test_plain_days_are_not_stopped_by_weekends() -> None:
    """Without working days closed days come on top, and only they."""
    chances = np.array([0.5])
    plain = LeadTimes(45, start=DAY(2026, 11, 2))
    closed = LeadTimes(45, closures=read_closures(["2026-11-10..2026-11-19"]), start=DAY(2026, 11, 2))
    assert plain.days(chances)[0] == 45
    assert closed.days(chances)[0] == 55


windows = st.tuples(st.integers(0, 200), st.integers(0, 40)).map(
    lambda pair: ClosedDays(
        DAY(2026, 11, 1) + datetime.timedelta(days=pair[0]),
        DAY(2026, 11, 1) + datetime.timedelta(days=pair[0] + pair[1]),
    )
)


@settings(deadline=None)
@given(windows, st.integers(0, 60), st.floats(0, 60), st.integers(0, 100), st.floats(0.05, 0.95))
def test_a_closure_never_makes_an_arrival_earlier(
    window: ClosedDays, working: int, mean: float, begin: int, chance: float
) -> None:
    """Whatever the lead time, the date of the order and the chance."""
    at, begins = np.array([chance]), np.array([float(begin)])
    start = DAY(2026, 11, 1)
    without = LeadTimes(mean, mean / 5, working_days=working, start=start).days(at, begins)
    closed = LeadTimes(mean, mean / 5, working_days=working, closures=Closures(own=(window,)), start=start)
    assert closed.days(at, begins)[0] >= without[0] - 1e-9


def test_orders_do_not_overtake() -> None:
    """A quick second order waits for the slow first one."""
    placed, days = np.array([[0.0, 10.0, 40.0]]), np.array([[50.0, 20.0, 15.0]])
    assert arrivals_in_order(placed, days).tolist() == [[50.0, 50.0, 55.0]]


def test_a_lognormal_lead_time_keeps_mean_and_spread() -> None:
    """Delay is one-sided: the mean lies above the median."""
    days = LeadTimes(12, 4).days((np.arange(20_000) + 0.5) / 20_000)
    assert days.mean() == pytest.approx(12, rel=1e-3)
    assert days.std() == pytest.approx(4, rel=5e-3)
    assert np.median(days) < 11.5


def test_samples_are_taken_as_they_are() -> None:
    """The quantiles of past orders, nothing beyond them."""
    days = LeadTimes(0, samples=(40, 50, 90)).days(np.array([0.01, 0.5, 0.99]))
    assert days.tolist() == [40, 50, 90]


def test_a_lead_time_of_nothing() -> None:
    """Goods that are there at once."""
    assert LeadTimes(0).days(np.array([0.5])).tolist() == [0]
    assert order_by(LeadTimes(0, start=DAY(2026, 11, 1)), DAY(2026, 12, 1), 0.95) == DAY(2026, 12, 1)


@pytest.mark.parametrize(
    "fields", [{"mean_days": -1.0}, {"mean_days": 5.0, "sd_days": -1.0}, {"mean_days": 1e6}]
)
def test_a_senseless_lead_time_is_refused(fields: dict[str, float]) -> None:
    """Negative or absurdly long, in words."""
    with pytest.raises(ValueProblem, match="lead time"):
        LeadTimes(**fields)


@pytest.mark.parametrize("text", ["ZZ", "2027-02-30..2027-03-01", "2027-03-01..2027-02-01", "spring"])
def test_closures_that_cannot_be_read(text: str) -> None:
    """The text is named."""
    with pytest.raises(ValueProblem, match=text[:4]):
        read_closures([text])


def test_a_second_country_is_refused() -> None:
    """Goods come from one."""
    with pytest.raises(ValueProblem, match="second country"):
        read_closures(["CN", "VN"])


def test_a_factory_that_never_opens() -> None:
    """Closures without end are told, not waited for."""
    closed = LeadTimes(
        10, working_days=5, closures=read_closures(["2026-01-01..2036-01-01"]), start=DAY(2026, 11, 1)
    )
    with pytest.raises(ValueProblem, match="too few working days"):
        closed.days(np.array([0.5]))


def test_shifted_days_are_known_for_some_years_only() -> None:
    """China says them year by year; a country without make-up days has none to wait for."""
    last = last_published_year("CN")
    assert last is not None
    assert last >= 2026
    assert (last_published_year("US"), last_published_year("")) == (None, None)

"""Looking back at a decision: figures to be kept, demand within chance or not, and a saving that adds up."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from study_builder import FAR, NEAR, study

from ledger.sourcing.decide import Decision, decide
from ledger.sourcing.demand import demand_from_history, stated_demand, with_sizes
from ledger.sourcing.hindsight import (
    AS_EXPECTED,
    LESS,
    MORE,
    TOO_EARLY,
    LotSince,
    SavingSoFar,
    days_late,
    demand_since,
    expected_of,
    is_same_answer,
    mean_days,
    saving_so_far,
    unit_ten_thousandths,
)
from ledger.sourcing.own_history import HistoryMonth, OwnHistory, SizeHistory

MOST = 10**9
HOME_UNIT = 3_000_000


@st.composite
def some_lots(draw: st.DrawFn) -> tuple[tuple[LotSince, ...], int]:
    """Lots, and how many thousandths of them were lost."""
    count, found, lost = draw(st.integers(0, 5)), [], 0
    for _ in range(count):
        wanted, back, gone, left = (draw(st.integers(0, 10**7)) for _ in range(4))
        landed = draw(st.integers(0, MOST))
        value = draw(st.integers(0, landed))
        found.append(
            LotSince(
                wanted + back + gone + left, landed, left, value, wanted, back, draw(st.integers(0, MOST))
            )
        )
        lost += gone
    return tuple(found), lost


@given(some_lots(), st.integers(0, 10**9))
def test_the_saving_so_far_foots(drawn: tuple[tuple[LotSince, ...], int], home: int) -> None:
    """Whatever came: landed is what left, what was credited and what is there; pieces likewise, to the last one."""
    of, lost = drawn
    found = saving_so_far(of, home)
    assert found.landed_minor == found.gone_minor + found.credited_minor + found.on_hand_minor
    assert found.lost_milli == lost
    assert found.saved_minor == found.home_minor - found.gone_minor
    assert found.if_none_used_minor == found.saved_minor - found.on_hand_minor
    assert found.if_all_used_minor - found.if_none_used_minor == found.home_of_rest_minor
    exact = Fraction(found.wanted_milli * home, 1000 * 10_000)
    assert abs(found.home_minor - exact) <= Fraction(1, 2)


@given(some_lots(), some_lots(), st.integers(0, 10**9))
def test_savings_of_two_buys_add_up(
    one: tuple[tuple[LotSince, ...], int], two: tuple[tuple[LotSince, ...], int], home: int
) -> None:
    """Together they saved what each did, but for a cent of rounding."""
    together = saving_so_far(one[0] + two[0], home)
    apart = saving_so_far(one[0], home).saved_minor + saving_so_far(two[0], home).saved_minor
    assert abs(together.saved_minor - apart) <= 1


def test_a_worked_saving() -> None:
    """100 for 200.00; 58 wanted, 2 lost, 40 left at 80.00: at home 58 at 3.00 are 174.00, 120.00 left: 54.00."""
    found = saving_so_far((LotSince(100_000, 20_000, 40_000, 8_000, 58_000),), HOME_UNIT)
    assert found == SavingSoFar(100_000, 20_000, 58_000, 2_000, 40_000, 8_000, 0, 17_400, 12_000)
    assert (found.gone_minor, found.saved_minor) == (12_000, 5_400)
    assert (found.if_all_used_minor, found.if_none_used_minor) == (9_400, -2_600)


def test_what_was_credited_lowers_what_left_cost() -> None:
    """Ten sent back at what they cost are as if they had never come."""
    found = saving_so_far((LotSince(60_000, 12_000, 0, 0, 50_000, 10_000, 2_000),), HOME_UNIT)
    assert (found.saved_minor, found.lost_milli) == (5_000, 0)


def decided(*, demand: float = 60.0, months: int = 12) -> Decision:
    """A decision whose demand is known."""
    return decide(
        study(with_sizes(stated_demand(demand), {"M": 0.5, "L": 0.5}), (NEAR, FAR), months=months), 50, 1
    )


def test_what_an_order_from_afar_expects() -> None:
    """The figures of the chosen alternative in whole steps."""
    decision = decided()
    chosen = decision.verdict.chosen
    assert chosen.quantity > 0
    found = expected_of(decision)
    assert (found.is_from_afar, found.offer, found.quantity) == (True, "far", chosen.quantity)
    assert found.expected_saving == pytest.approx(chosen.expected_saving, abs=0.5)
    assert found.landed_unit_ten_thousandths == pytest.approx(
        (chosen.landed_unit_minor or 0) * 10_000, abs=0.5
    )
    assert found.home_unit_ten_thousandths == 3_750_000
    assert found.demand_per_month_milli == pytest.approx(60_000, abs=1)
    assert found.home_offer == "near"


def test_what_buying_at_home_expects() -> None:
    """The usual order there; nothing is saved by it."""
    decision = decide(study(with_sizes(stated_demand(60.0), {}), (NEAR,)), 50, 1)
    found = expected_of(decision)
    assert decision.home is not None
    assert (found.is_from_afar, found.offer, found.expected_saving) == (False, "near", 0)
    assert found.quantity == decision.home.order_quantity
    assert found.landed_unit_ten_thousandths == found.home_unit_ten_thousandths == 3_750_000


def test_no_demand_expects_nothing() -> None:
    """There is no plan, so its figures are not known instead of zero."""
    found = expected_of(decide(study(with_sizes(stated_demand(0.0), {}), (NEAR, FAR)), 50, 1))
    assert (found.offer, found.quantity, found.demand_per_month_milli) == ("", 0, 0)
    assert found.landed_unit_ten_thousandths is None
    assert found.expected_saving is None


def test_the_same_answer_is_the_same_verdict_offer_and_about_the_quantity() -> None:
    """A tenth of the larger less is the same; one less than that, another offer or verdict is not."""
    again = decided()
    word, quantity = again.verdict.word, expected_of(again).quantity
    assert is_same_answer(word, "far", quantity, again)
    assert is_same_answer(word, "far", math.ceil(quantity / 1.1) + 1, again)
    assert is_same_answer(word, "far", math.ceil(quantity * 0.9), again)
    assert not is_same_answer(word, "far", math.ceil(quantity * 0.9) - 1, again)
    assert not is_same_answer(word, "near", quantity, again)
    assert not is_same_answer("DOMESTIC", "far", quantity, again)


def since(pieces: int, months: int = 4, *, out: int = 0) -> OwnHistory:
    """Whole months of 30 days in which so many pieces left each; ``out`` days of each without stock."""
    each = tuple(HistoryMonth(f"2026-{number + 1:02d}", 30, 30) for number in range(months))
    return OwnHistory(
        "tees", "2026-04-30", each, (SizeHistory("", (pieces * 1000,) * months, (out,) * months),)
    )


@pytest.mark.parametrize(
    ("pieces", "word"), [(60, AS_EXPECTED), (52, LESS), (53, AS_EXPECTED), (67, AS_EXPECTED), (68, MORE)]
)
def test_demand_is_judged_by_chance(pieces: int, word: str) -> None:
    """Of a known 60 a month four months bring 240, and two standard deviations of that are 31."""
    belief = with_sizes(stated_demand(60.0, 60.0**0.5), {})
    known = replace(belief, rate=belief.rate, weekly_sd=None, known_mean=60 * 12 / 52, weekly_variation=0.0)
    found = demand_since(known, since(pieces), 120)
    assert found.word == word
    assert found.per_month == pieces
    assert found.low == pytest.approx(60 - 2 * 240**0.5 / 4, abs=0.01)


def test_a_rate_that_is_only_believed_allows_for_more() -> None:
    """After one month of 60 nobody is sure of the rate."""
    belief = demand_from_history([60.0])
    sure = replace(belief, known_mean=belief.per_week)
    assert demand_since(belief, since(75), 120).word == AS_EXPECTED
    assert demand_since(sure, since(75), 120).word == MORE


def test_days_without_stock_are_no_lack_of_demand() -> None:
    """Thirty in half a month are sixty a month."""
    found = demand_since(stated_demand(60.0), since(30, out=15), 120)
    assert found.months == 2
    assert found.per_month == 60


def test_a_few_days_say_nothing() -> None:
    """Whatever left in them."""
    assert demand_since(stated_demand(60.0), since(500, 1), 27).word == TOO_EARLY
    assert demand_since(stated_demand(60.0), OwnHistory("tees", "2026-01-01", (), ()), 0).per_month is None


def test_days_and_units() -> None:
    """Means, units and delays; none where there is nothing."""
    assert mean_days(()) is None
    assert mean_days((40, 61)) == Fraction(101, 2)
    assert unit_ten_thousandths(160_752, 600_000) == 2_679_200
    assert unit_ten_thousandths(5, 0) is None
    assert (days_late(54_991, 55), days_late(54_991, 60), days_late(None, 99)) == (0, 5, 0)

"""The invariants: sound legs give no finding, and each finding comes of legs broken by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from strategies import FIRST_DAY, LAST_DAY, histories

from ledger.costing.facts import FactLine, Facts, Leg, ShareFact, UndoFact
from ledger.costing.invariants import (
    Finding,
    Movement,
    RollForward,
    cost_of_goods_sold_findings,
    document_findings,
    engine_findings,
    lot_findings,
    negative_stock_findings,
    roll_forward,
    roll_forward_findings,
    rows_by_group,
    total_row,
)
from ledger.costing.plain import plain_legs

YEAR = ("2026-01-01", "2026-12-31")

FACTS = Facts(
    lines=(
        FactLine(1, 1, "opening", "2026-01-01", "shirt", "goods", 2000, 500),
        FactLine(2, 1, "receipt", "2026-01-05", "shirt", "goods", 4000, 1200),
        FactLine(2, 2, "receipt", "2026-01-05", "ink", "supplies when used", 1500, 900),
        FactLine(4, 1, "sale", "2026-01-09", "shirt", "goods", 3000),
        FactLine(5, 1, "use", "2026-02-03", "ink", "supplies when used", 500),
    ),
    shares=(
        ShareFact(3, 1, 1, 2, 1, 80, "with receipt", "2026-01-05"),
        ShareFact(3, 1, 2, 2, 2, 30, "with receipt", "2026-01-05"),
    ),
)
"""Shirts at 2.50 and 3.20 of which three are sold for 8.20; ink at 6.20 a unit of which half a unit is used."""


@pytest.fixture
def legs() -> list[Leg]:
    """The sound legs of the facts above."""
    return plain_legs(FACTS)


def changed(legs: list[Leg], number: tuple[int, int, int], **change: object) -> list[Leg]:
    """The legs with one of them changed."""
    assert number in {(leg.document, leg.line, leg.part) for leg in legs}
    return [
        replace(leg, **change) if (leg.document, leg.line, leg.part) == number else leg  # type: ignore[arg-type]
        for leg in legs
    ]


def without(legs: list[Leg], number: tuple[int, int, int]) -> list[Leg]:
    """The legs without one of them."""
    return [leg for leg in legs if (leg.document, leg.line, leg.part) != number]


def test_sound_legs_give_no_finding(legs: list[Leg]) -> None:
    """No check complains of legs that are right."""
    assert document_findings(legs) == []
    assert lot_findings(FACTS, legs) == []
    assert roll_forward_findings(legs, *YEAR) == []
    assert cost_of_goods_sold_findings(legs, *YEAR) == []
    assert negative_stock_findings(legs) == []
    assert engine_findings(legs, legs) == []


def test_document_whose_amounts_do_not_balance_is_found(legs: list[Leg]) -> None:
    """A leg that lost a cent unbalances its document."""
    broken = changed(legs, (5, 1, 2), amount=309)
    assert document_findings(broken) == [
        Finding(1, "amounts add up to -1 minor unit, not to zero", "document 5")
    ]


def test_document_whose_quantities_do_not_balance_is_found(legs: list[Leg]) -> None:
    """A leg that moved to another SKU unbalances the quantities of both."""
    broken = changed(legs, (5, 1, 2), sku="shirt")
    assert document_findings(broken) == [
        Finding(1, "quantities of ink add up to -0.5, not to zero", "document 5"),
        Finding(1, "quantities of shirt add up to 0.5, not to zero", "document 5"),
    ]


def test_lot_that_lost_cost_is_found(legs: list[Leg]) -> None:
    """A charge that did not reach its lot is missed in cents."""
    broken = without(legs, (3, 1, 4))
    what = "cost 930 minor units with its charges, but 310 minor units left and 590 minor units are on hand"
    assert lot_findings(FACTS, broken) == [Finding(2, what, "lot 2.2")]


def test_lot_that_lost_quantity_is_found(legs: list[Leg]) -> None:
    """A lot from which less came in than was received is missed in quantity."""
    broken = changed(legs, (2, 2, 2), quantity_milli=1250)
    what = "received 1.5, but 0.5 left and 0.75 are on hand"
    assert lot_findings(FACTS, broken) == [Finding(2, what, "lot 2.2")]


def test_empty_lot_that_still_costs_something_is_found(legs: list[Leg]) -> None:
    """Both legs of a taking one cent short: the lot foots, but nothing is worth a cent."""
    broken = changed(changed(legs, (4, 1, 1), amount=-499), (4, 1, 2), amount=499)
    assert lot_findings(FACTS, broken) == [
        Finding(2, "nothing is on hand, but it costs 1 minor unit", "lot 1.1")
    ]


def test_lot_that_gave_more_than_it_had_is_found(legs: list[Leg]) -> None:
    """Three taken from a lot of two."""
    broken = changed(changed(legs, (4, 1, 1), quantity_milli=-3000), (4, 1, 2), quantity_milli=3000)
    assert lot_findings(FACTS, broken) == [Finding(2, "holds -1, less than nothing", "lot 1.1")]


def test_lot_that_follows_from_nothing_is_found(legs: list[Leg]) -> None:
    """A leg that names a lot no fact makes."""
    stray = Leg(9, 1, 1, "2026-01-09", "on hand", "shirt", 8, 1, 1000, 100)
    what = "the lot 8.1 follows from no line that makes one"
    assert lot_findings(FACTS, [*legs, stray]) == [Finding(2, what, "document 9, line 1, part 1")]


def test_lot_of_an_undone_receipt_is_found(legs: list[Leg]) -> None:
    """The legs of a receipt that dropped out of the costing should be gone."""
    undone = replace(FACTS, undos=(UndoFact(9, 1, "dropped"),))
    assert {finding.where for finding in lot_findings(undone, legs)} == {
        "document 1, line 1, part 2",
        "document 4, line 1, part 1",
        "document 4, line 1, part 2",
    }


def test_negative_stock_is_found_on_each_day_it_lasts(legs: list[Leg]) -> None:
    """A sale dated before its receipt leaves less than nothing until the receipt comes."""
    early = [replace(leg, effect_date="2026-01-03") if leg.document == 4 else leg for leg in legs]
    what = "-1 on hand at the end of the day, less than nothing"
    assert negative_stock_findings(early) == [Finding(5, what, "shirt on 2026-01-03")]


def test_roll_forward_tells_opening_movements_and_closing(legs: list[Leg]) -> None:
    """January: all that came in, what was sold, and what February opens with."""
    assert roll_forward(legs, "2026-01-02", "2026-01-31") == [
        RollForward("ink", 0, 0, (Movement("charges", 0, 30), Movement("purchases", 1500, 900)), 1500, 930),
        RollForward(
            "shirt",
            2000,
            500,
            (
                Movement("charges", 0, 80),
                Movement("pieces sold", -3000, -820),
                Movement("purchases", 4000, 1200),
            ),
            3000,
            960,
        ),
    ]


def test_roll_forward_has_a_row_for_stock_that_did_not_move(legs: list[Leg]) -> None:
    """February: the shirts lie still, and their row says so."""
    assert roll_forward(legs, "2026-02-01", "2026-02-28") == [
        RollForward("ink", 1500, 930, (Movement("used", -500, -310),), 1000, 620),
        RollForward("shirt", 3000, 960, (), 3000, 960),
    ]


def test_roll_forward_has_no_row_for_what_comes_later(legs: list[Leg]) -> None:
    """On the second of January no ink was ever seen."""
    assert [row.name for row in roll_forward(legs, "2026-01-01", "2026-01-02")] == ["shirt"]


def test_rows_are_summed_by_kind(legs: list[Leg]) -> None:
    """Two SKUs of one kind make one row, with one movement for each account."""
    rows = roll_forward(legs, "2026-02-01", "2026-02-28")
    assert rows_by_group(rows, {"ink": "all", "shirt": "all"}) == [
        RollForward("all", 4500, 1890, (Movement("used", -500, -310),), 4000, 1580)
    ]


def test_total_row_sums_all_rows(legs: list[Leg]) -> None:
    """The year: what is on hand at its end is 9.60 of shirts and 6.20 of ink."""
    assert total_row(roll_forward(legs, *YEAR)).closing_amount == 1580


def test_total_row_of_nothing_is_zero() -> None:
    """A book without legs has a total too."""
    assert total_row(roll_forward([], *YEAR)) == RollForward("total", 0, 0, (), 0, 0)


def test_closing_that_is_not_what_is_on_hand_is_found(legs: list[Leg]) -> None:
    """A movement that never reached stock shows in quantity and in amount."""
    broken = without(legs, (5, 1, 1))
    where = "ink from 2026-01-01 to 2026-12-31"
    assert roll_forward_findings(broken, *YEAR) == [
        Finding(3, "opening and movements give 1, but 1.5 in stock", where),
        Finding(3, "opening and movements give 620 minor units, but 930 minor units in stock", where),
    ]


def test_cost_of_goods_sold_that_does_not_meet_is_found(legs: list[Leg]) -> None:
    """A sale whose cost grew by a cent on the way out of stock."""
    broken = changed(legs, (4, 1, 2), amount=501)
    what = (
        "opening + came in - closing is 1130 minor units, "
        "but the accounts of the cost of goods sold add up to 1131 minor units"
    )
    assert cost_of_goods_sold_findings(broken, *YEAR) == [Finding(4, what, "from 2026-01-01 to 2026-12-31")]


def test_account_nobody_knows_is_found(legs: list[Leg]) -> None:
    """A leg on a misspelt account is named, and its amount is missed."""
    broken = changed(legs, (5, 1, 2), account="usd")
    findings = cost_of_goods_sold_findings(broken, *YEAR)
    assert findings[0] == Finding(4, "movements on an account that is not known: 1", "account 'usd'")


def test_leg_that_differs_between_the_engines_is_told(legs: list[Leg]) -> None:
    """The two versions stand side by side, in words."""
    broken = changed(legs, (5, 1, 1), amount=-311)
    what = (
        "the book has on hand, ink, lot 2.2, quantity -0.5, amount -311 minor units on 2026-02-03; "
        "the second engine has on hand, ink, lot 2.2, quantity -0.5, amount -310 minor units on 2026-02-03"
    )
    assert engine_findings(broken, legs) == [Finding(7, what, "document 5, line 1, part 1")]


def test_leg_only_the_book_has_is_told(legs: list[Leg]) -> None:
    """A leg too many is one difference, not one for every leg after it."""
    what = "only the book has this movement: charges, shirt, no lot, quantity 0, amount -80 minor units on 2026-01-05"
    assert engine_findings(legs, without(legs, (3, 1, 1))) == [Finding(7, what, "document 3, line 1, part 1")]


def test_leg_only_the_plain_engine_has_is_told(legs: list[Leg]) -> None:
    """A leg too few at the very end is found as well."""
    what = (
        "only the second engine has this movement: "
        "used, ink, lot 2.2, quantity 0.5, amount 310 minor units on 2026-02-03"
    )
    assert engine_findings(without(legs, (5, 1, 2)), legs) == [Finding(7, what, "document 5, line 1, part 2")]


def test_leg_written_twice_is_told(legs: list[Leg]) -> None:
    """Two legs of the same number are one too many."""
    assert len(engine_findings([*legs, legs[3]], legs)) == 1


def test_order_of_the_legs_is_no_difference(legs: list[Leg]) -> None:
    """The book may give its legs in any order."""
    assert engine_findings(legs[::-1], legs) == []


def test_more_than_twenty_differences_are_counted() -> None:
    """Twenty-three missing legs: twenty are told, three are counted."""
    legs = [Leg(1, 1, part, "2026-01-01", "on hand", "shirt", 1, 1, 1000, 1) for part in range(1, 24)]
    findings = engine_findings([], legs)
    assert len(findings) == 21
    assert findings[-1] == Finding(7, "3 more movements differ between the two engines", "the whole book")


@given(histories())
def test_any_span_of_dates_rolls_forward(facts: Facts) -> None:
    """Invariants 3 and 4 hold for the first half, the second half and the whole of any history."""
    legs = plain_legs(facts)
    for span in ((FIRST_DAY, "2026-01-20"), ("2026-01-21", LAST_DAY), (FIRST_DAY, LAST_DAY)):
        assert roll_forward_findings(legs, *span) == []
        assert cost_of_goods_sold_findings(legs, *span) == []


JOB = Facts(
    (
        FactLine(1, 1, "receipt", "2026-01-05", "shirt", "goods", 2000, 500),
        FactLine(2, 1, "make", "2026-01-06", "print", "goods", 1000, role="product"),
        FactLine(2, 2, "make", "2026-01-06", "shirt", "goods", 1000, role="component"),
        FactLine(3, 1, "sale", "2026-01-07", "print", "goods", 1000),
        FactLine(4, 1, "take back", "2026-01-08", "print", "goods", 1000, ref_document=3, ref_line=1),
        FactLine(5, 1, "write down", "2026-01-09", "print", "goods", 0, 50),
        FactLine(6, 1, "count", "2026-01-10", "shirt", "goods", 2000),
        FactLine(7, 1, "use", "2026-01-11", "shirt", "goods", 3000, short_allowed=True),
    )
)
"""A print that was sold, came back and lost value; a shirt that was found, and one used that was not there."""


def test_sound_legs_of_all_events_give_no_finding() -> None:
    """Jobs, returns, write-downs, counts and shorts pass every check."""
    legs = plain_legs(JOB)
    assert document_findings(legs) == []
    assert lot_findings(JOB, legs) == []
    assert negative_stock_findings(legs, JOB) == []


def test_cost_that_stays_in_process_is_found() -> None:
    """The print came out of process at two cents less than went in, and the rest went to spoilage."""
    broken = changed(plain_legs(JOB), (2, 1, 1), amount=-248)
    broken.append(Leg(2, 1, 4, "2026-01-06", "spoilage", "print", None, None, 0, -2))
    what = "2 minor units stayed in work in process"
    assert document_findings(broken) == [Finding(1, what, "document 2")]


def test_lot_that_got_back_more_than_left_is_found() -> None:
    """The sale of what came back is gone."""
    broken = [leg for leg in plain_legs(JOB) if leg.document != 3]
    what = "1 came back, but only 0 left"
    assert Finding(2, what, "lot 2.1") in lot_findings(JOB, broken)


def test_cost_that_got_lost_tells_what_came_back_and_was_written_down() -> None:
    """A write-down that did not reach stock."""
    broken = without(plain_legs(JOB), (5, 1, 1))
    what = (
        "cost 250 minor units with its charges and 250 minor units came back, "
        "but 250 minor units left, 50 minor units written down and 250 minor units are on hand"
    )
    assert lot_findings(JOB, broken) == [Finding(2, what, "lot 2.1")]


def test_stock_that_was_written_up_is_found() -> None:
    """A write-down with its signs turned round."""
    broken = changed(changed(plain_legs(JOB), (5, 1, 1), amount=50), (5, 1, 2), amount=-50)
    assert lot_findings(JOB, broken) == [Finding(2, "was written up by 50 minor units", "lot 2.1")]


def test_short_of_a_line_that_may_not_go_short_is_found() -> None:
    """Without its mark, the use of three of two is below zero, and left without a lot."""
    unmarked = Facts(tuple(replace(line, short_allowed=False) for line in JOB.lines))
    assert negative_stock_findings(plain_legs(JOB), unmarked) == [
        Finding(
            5,
            "1 of shirt left without a lot, though nothing may go short there",
            "document 7, line 1, part 5",
        ),
        Finding(5, "-1 on hand at the end of the day, less than nothing", "shirt on 2026-01-11"),
    ]


def test_marked_line_that_took_of_a_later_lot_is_no_finding() -> None:
    """A settled short takes of a lot that came days later."""
    lines = (
        FactLine(1, 1, "sale", "2026-01-05", "shirt", "goods", 1000, 90, short_allowed=True),
        FactLine(2, 1, "receipt", "2026-01-08", "shirt", "goods", 1000, 80),
    )
    assert negative_stock_findings(plain_legs(Facts(lines)), Facts(lines)) == []

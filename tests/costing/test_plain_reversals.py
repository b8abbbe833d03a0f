"""The plain engine on documents of closed months that are reversed: each rule by a case worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from late_facts import arrival, facts, job, late, legs_of, line, on_hand, reversal, share, told

from ledger.costing.facts import FactLine, Facts, UndoFact
from ledger.costing.findings import Finding
from ledger.costing.invariants import (
    document_findings,
    lot_findings,
    negative_stock_findings,
    roll_forward_findings,
)
from ledger.costing.plain import plain_legs
from ledger.errors import Refused

BOUGHT = line(1, "receipt", 3, 1000)
USED = "late charges on used stock"


def claims(**more: object) -> FactLine:
    """Ten for 10.00: two claimed for 1.90, one lost as usual."""
    return line(1, "receipt", 10, 1000, claimed_milli=2000, claimed_amount=190, normal_milli=1000, **more)


@pytest.mark.parametrize(
    ("event", "account"),
    [
        ("sale", "pieces sold"),
        ("use", "used"),
        ("spoil", "spoilage"),
        ("own use", "own use"),
        ("sample", "samples"),
        ("donate", "donations"),
    ],
)
def test_what_left_comes_back_at_what_it_cost(event: str, account: str) -> None:
    """The two legs with their signs turned round, and the goods in front of their lot."""
    gone = line(2, event, 1)
    legs = legs_of(BOUGHT, gone, reversal(5, gone), line(6, "sale", 1, on="04-21"))
    assert told(legs, 5) == [(1, "on hand", "1.1", 1000, 333), (2, account, "1.1", -1000, -333)]
    assert told(legs, 6)[1][4] == 333


def test_what_was_taken_last_comes_back_first() -> None:
    """A sale from two lots: that of the second lot comes back first, each in front of its lot."""
    sold = line(3, "sale", 4)
    legs = legs_of(
        BOUGHT, line(2, "receipt", 2, 900), sold, reversal(5, sold), line(6, "sale", 4, on="04-21")
    )
    assert told(legs, 5) == [
        (1, "on hand", "2.1", 1000, 450),
        (2, "pieces sold", "2.1", -1000, -450),
        (3, "on hand", "1.1", 3000, 1000),
        (4, "pieces sold", "1.1", -3000, -1000),
    ]
    assert [leg[2:] for leg in told(legs, 6)][::2] == [("1.1", -3000, -1000), ("2.1", -1000, -450)]


def test_open_short_of_what_is_reversed_is_gone() -> None:
    """Two of five were short at 3.33 each: they come back first, without a lot, and are short no more."""
    sold = line(3, "sale", 5, short_allowed=True)
    counted = line(6, "count", 3, on="04-21")
    legs = legs_of(BOUGHT, sold, reversal(5, sold), counted)
    assert told(legs, 5) == [
        (1, "on hand", "", 2000, 667),
        (2, "pieces sold", "", -2000, -667),
        (3, "on hand", "1.1", 3000, 1000),
        (4, "pieces sold", "1.1", -3000, -1000),
    ]
    assert told(legs, 6) == []


def test_job_that_is_reversed_gives_its_materials_and_labour_back() -> None:
    """Two shirts and labour made four prints, one lost as usual and one ruined: all of it goes back."""
    labour = line(2, "make", 0, 100, sku="print", line=3, role="labour")
    made = (*job(2, 2, 4, normal_milli=1000, expensed_milli=1000), labour)
    legs = legs_of(BOUGHT, *made, reversal(5, *made))
    assert told(legs, 5, 2) == [
        (1, "on hand", "1.1", 2000, 667),
        (2, "used", "1.1", -2000, 0),
        (3, "work in process", "1.1", 0, -667),
    ]
    assert told(legs, 5, 3) == [(1, "labour", "", 0, 100), (2, "work in process", "", 0, -100)]
    assert told(legs, 5, 1) == [
        (1, "work in process", "", 0, 767),
        (2, "made", "", 3000, 0),
        (3, "on hand", "2.1", -2000, -511),
        (4, "spoilage", "", -1000, -256),
    ]
    assert on_hand(legs) == (3000, 1000)
    assert on_hand(legs, "print") == on_hand(legs, "print", "spoilage") == (0, 0)


def test_labour_of_nothing_comes_back_as_nothing() -> None:
    """No legs, as there were none."""
    labour = line(2, "make", 0, 0, sku="print", line=3, role="labour")
    made = (*job(2, 2, 1), labour)
    assert told(legs_of(BOUGHT, *made, reversal(5, *made)), 5, 3) == []


def test_job_of_which_nothing_was_kept_comes_back_from_spoilage() -> None:
    """There was no lot."""
    made = job(2, 1, 1, normal_milli=1000)
    assert told(legs_of(BOUGHT, *made, reversal(5, *made)), 5, 1) == [
        (1, "work in process", "", 0, 333),
        (2, "spoilage", "", 0, -333),
    ]


def test_late_charge_that_came_on_goes_to_used_stock_when_its_job_is_reversed() -> None:
    """The print got 1.00 of a late charge: its job still cost 3.33."""
    made = job(2, 1, 1)
    legs = legs_of(BOUGHT, *made, share(4, 300), reversal(5, *made))
    assert told(legs, 5, 1) == [
        (1, "work in process", "", 0, 333),
        (2, "made", "", 1000, 0),
        (3, "on hand", "2.1", -1000, -433),
        (4, USED, "", 0, 100),
    ]


def test_receipt_that_is_reversed_goes_as_a_whole() -> None:
    """To where it came from, with what was claimed and lost of it."""
    bought = claims()
    assert told(legs_of(bought, reversal(5, bought)), 5) == [
        (1, "purchases", "", 10_000, 1000),
        (2, "on hand", "1.1", -7000, -810),
        (3, "returned to supplier", "", -2000, -190),
        (4, "spoilage", "", -1000, 0),
    ]


def test_opening_that_is_reversed_goes_to_the_opening_balance() -> None:
    """Two legs."""
    opened = line(1, "opening", 3, 1000)
    assert told(legs_of(opened, reversal(5, opened)), 5) == [
        (1, "opening balance", "", 3000, 1000),
        (2, "on hand", "1.1", -3000, -1000),
    ]


def test_reversed_receipt_takes_its_expense_back() -> None:
    """One of seven kept was ruined, at 1.16 of 8.10: spoilage gives it back."""
    bought = claims(expensed_milli=1000)
    legs = legs_of(bought, reversal(5, bought))
    assert told(legs, 5)[1] == (2, "on hand", "1.1", -6000, -694)
    assert told(legs, 5)[3:] == [(4, "spoilage", "", -1000, 0), (5, "spoilage", "", -1000, -116)]


def test_charges_of_a_reversed_receipt_are_used_stock() -> None:
    """What the lot cost beyond the invoice stays an expense."""
    freight = share(2, 50, path="with receipt", on="03-01")
    assert told(legs_of(BOUGHT, freight, reversal(5, BOUGHT)), 5) == [
        (1, "purchases", "", 3000, 1000),
        (2, "on hand", "1.1", -3000, -1050),
        (3, USED, "", 0, 50),
    ]


def test_receipt_of_which_nothing_was_kept_is_reversed_without_its_shelf() -> None:
    """All was claimed: there was no lot."""
    bought = line(1, "receipt", 3, 1000, claimed_milli=3000, claimed_amount=1000)
    assert told(legs_of(bought, reversal(5, bought)), 5) == [
        (1, "purchases", "", 3000, 1000),
        (2, "returned to supplier", "", -3000, -1000),
    ]


def test_receipt_of_which_all_was_ruined_keeps_a_leg_of_nothing() -> None:
    """Its lot was there, if only for a moment."""
    bought = line(1, "receipt", 3, 1000, expensed_milli=3000)
    assert told(legs_of(bought, reversal(5, bought)), 5) == [
        (1, "purchases", "", 3000, 1000),
        (2, "on hand", "1.1", 0, 0),
        (3, "spoilage", "", -3000, -1000),
    ]


def test_supplies_when_bought_go_back_from_supplies() -> None:
    """Ten less two claimed."""
    bought = replace(claims(tax_class="supplies when bought"), normal_milli=0)
    assert told(legs_of(bought, reversal(5, bought)), 5) == [
        (1, "purchases", "", 10_000, 1000),
        (2, "supplies", "", -8000, -810),
        (3, "returned to supplier", "", -2000, -190),
    ]


def test_latest_known_cost_is_the_one_before() -> None:
    """After the dear lot is reversed, what goes short costs as the one before it."""
    dear = line(2, "receipt", 1, 900)
    short = line(6, "sale", 4, on="04-21", short_allowed=True)
    assert told(legs_of(BOUGHT, dear, reversal(5, dear), short), 6)[2] == (3, "on hand", "", -1000, -333)


def test_reversal_that_brings_back_comes_before_what_leaves() -> None:
    """On one day: the goods of a reversed sale can be sold by an earlier document."""
    sold = line(3, "sale", 3)
    legs = legs_of(BOUGHT, sold, line(4, "sale", 3, on="04-20"), reversal(5, sold))
    assert told(legs, 4)[0] == (1, "on hand", "1.1", -3000, -1000)


def test_reversal_that_takes_away_comes_with_what_leaves() -> None:
    """A sale of the day with a lower number takes first, and the receipt cannot be reversed any more."""
    with pytest.raises(Refused, match="brought 3, but 2 of it is on hand"):
        legs_of(BOUGHT, line(4, "sale", 1, on="04-20"), reversal(5, BOUGHT))


def test_job_whose_prints_were_sold_cannot_be_reversed() -> None:
    """One of two prints is gone."""
    made = job(2, 1, 2)
    with pytest.raises(Refused, match="brought 2, but 1 of it is on hand"):
        legs_of(BOUGHT, *made, line(3, "sale", 1, sku="print"), reversal(5, *made))


def test_goods_sold_and_taken_back_can_be_reversed() -> None:
    """All three are there again."""
    sold = line(3, "sale", 1)
    legs = legs_of(BOUGHT, sold, reversal(4, sold, on="04-10"), reversal(5, BOUGHT))
    assert on_hand(legs) == (0, 0)


def test_units_of_a_reversed_lot_are_used_stock_of_a_late_charge() -> None:
    """Nothing of it is anywhere."""
    legs = legs_of(BOUGHT, reversal(5, BOUGHT), share(6, 30, on="04-21"))
    assert late(legs, 6) == [(1, "charges", "", -30), (2, USED, "1.1", 30)]


def test_units_that_came_back_by_a_reversal_bear_a_late_charge_again() -> None:
    """One was used in a job and one taken by the owner: both were reversed."""
    made, taken = job(2, 1, 1), line(3, "own use", 1)
    legs = legs_of(BOUGHT, *made, taken, reversal(5, *made), reversal(6, taken), share(7, 30, on="04-21"))
    assert late(legs, 7) == [(1, "charges", "", -30), (2, "on hand", "1.1", 30)]


SOLD = line(3, "sale", 1)
SHIPPED = line(1, "ship", 3, 1000)


@pytest.mark.parametrize(
    ("parts", "match"),
    [
        ((BOUGHT, reversal(5, SOLD)), "no line 3.1"),
        ((BOUGHT, SOLD, reversal(5, replace(SOLD, sku="hood"))), "no line 3.1 of hood"),
        ((BOUGHT, SOLD, reversal(5, replace(SOLD, quantity_milli=500))), "reverses 0.5 .* has 1"),
        ((BOUGHT, SOLD, reversal(5, SOLD, on="03-03")), "not before 2026-03-03"),
        ((SHIPPED, reversal(5, SHIPPED)), "event 'ship', which cannot be reversed"),
        ((SHIPPED, arrival(2, 1), reversal(5, arrival(2, 1))), "is an arrival"),
        ((BOUGHT, SOLD, reversal(5, SOLD), reversal(6, SOLD)), "more than one reversal"),
        ((BOUGHT, SOLD, Facts(reversal(5, SOLD).lines)), "does not reverse each line"),
        ((BOUGHT, SOLD, UndoFact(5, 3, "reversal")), "does not reverse each line"),
        (
            (BOUGHT, SOLD, line(4, "take back", 1, ref_document=3, ref_line=1), reversal(5, SOLD)),
            "came back before",
        ),
        ((BOUGHT, line(2, "count", 3), reversal(5, line(2, "count", 3))), "event 'count'"),
    ],
)
def test_reversals_that_cannot_be_are_an_error(parts: tuple, match: str) -> None:
    """A reversal turns round the lines of one document that allows it, once, on a later day."""
    with pytest.raises(ValueError, match=match):
        legs_of(*parts)


# The invariants on reversals

MADE = job(2, 2, 2)
ALL = facts(
    BOUGHT, line(4, "receipt", 1, 300), *MADE, reversal(5, *MADE), reversal(6, line(4, "receipt", 1, 300))
)


def test_sound_legs_give_no_finding() -> None:
    """No check complains of a reversed job, a reversed receipt, and a sale that went short and was reversed."""
    short = line(7, "sale", 9, on="04-21", short_allowed=True)
    whole = facts(ALL, short, reversal(8, short, on="04-25"))
    legs = plain_legs(whole)
    assert document_findings(legs) == []
    assert lot_findings(whole, legs) == []
    assert negative_stock_findings(legs, whole) == []
    assert roll_forward_findings(legs, "2026-04-01", "2026-04-30") == []


def test_reversed_lot_that_left_at_another_cost_is_found() -> None:
    """The prints left the shelf a cent cheaper than they came."""
    legs = [
        replace(leg, amount=leg.amount + 1) if (leg.document, leg.line, leg.part) == (5, 1, 3) else leg
        for leg in plain_legs(ALL)
    ]
    whats = [finding.what for finding in lot_findings(ALL, legs) if finding.where == "lot 2.1"]
    assert whats == [
        "cost 667 minor units with its charges, but 667 minor units left and 1 minor unit are on hand",
        "nothing is on hand, but it costs 1 minor unit",
    ]


def test_reversed_lot_that_stayed_is_found() -> None:
    """The receipt was reversed, but its shirt is still said to be on hand."""
    legs = [leg for leg in plain_legs(ALL) if (leg.document, leg.line, leg.part) != (6, 1, 2)]
    assert Finding(2, "received 1, but 1 left and 1 are on hand", "lot 4.1") in lot_findings(ALL, legs)


def test_component_that_did_not_come_back_is_found() -> None:
    """The job's reversal forgot the shirts: its document does not balance, and their lot misses them."""
    legs = [leg for leg in plain_legs(ALL) if (leg.document, leg.line, leg.part) != (5, 2, 1)]
    assert {finding.where for finding in document_findings(legs)} == {"document 5"}
    assert {finding.where for finding in lot_findings(ALL, legs)} == {"lot 1.1"}

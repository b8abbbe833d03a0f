"""The plain engine: each rule by a case worked by hand, then what holds for any history."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import LAST_DAY, histories, kept_milli

from ledger.costing.facts import ARRIVES_FROM, LEAVES_TO, FactLine, Facts, Leg, ShareFact, UndoFact
from ledger.costing.invariants import document_findings, lot_findings, negative_stock_findings
from ledger.costing.plain import plain_legs
from ledger.errors import NotEnoughStock


def receipt(document: int, pieces: int, amount: int, day: int = 5, line: int = 1) -> FactLine:
    """A receipt line of shirts in January."""
    return FactLine(document, line, "receipt", f"2026-01-{day:02d}", "shirt", "goods", pieces * 1000, amount)


def sale(document: int, pieces: int, day: int = 20, line: int = 1) -> FactLine:
    """A sale line of shirts in January."""
    return FactLine(document, line, "sale", f"2026-01-{day:02d}", "shirt", "goods", pieces * 1000)


def share(document: int, amount: int, receipt_document: int = 1, position: int = 1) -> ShareFact:
    """A charge's share on line 1 of a receipt."""
    return ShareFact(document, 1, position, receipt_document, 1, amount, "with receipt", "2026-01-05")


def entries(legs: list[Leg], document: int) -> list[tuple[int, str, str, int, int]]:
    """The part, account, lot, quantity and amount of each leg of a document."""
    return [
        (
            leg.part,
            leg.account,
            f"{leg.lot_document}.{leg.lot_line}" if leg.lot_document else "",
            leg.quantity_milli,
            leg.amount,
        )
        for leg in legs
        if leg.document == document
    ]


def test_receipt_goes_from_purchases_to_a_lot() -> None:
    """A receipt line is two legs: out of purchases, into the lot that bears its number."""
    legs = plain_legs(Facts((receipt(1, 3, 1000, line=2),)))
    assert legs == [
        Leg(1, 2, 1, "2026-01-05", "purchases", "shirt", None, None, -3000, -1000),
        Leg(1, 2, 2, "2026-01-05", "on hand", "shirt", 1, 2, 3000, 1000),
    ]


def test_opening_comes_from_the_opening_balance() -> None:
    """Stock the shop already has is no purchase."""
    legs = plain_legs(Facts((replace(receipt(1, 3, 1000), event="opening"),)))
    assert [leg.account for leg in legs] == ["opening balance", "on hand"]


@pytest.mark.parametrize(("event", "account"), LEAVES_TO.items())
def test_each_leaving_event_goes_to_its_account(event: str, account: str) -> None:
    """What leaves comes out of its lot and goes into the account of its event, with its lot."""
    legs = plain_legs(Facts((receipt(1, 3, 1000), replace(sale(2, 2), event=event))))
    assert entries(legs, 2) == [(1, "on hand", "1.1", -2000, -667), (2, account, "1.1", 2000, 667)]


def test_missing_and_damaged_pieces_each_have_their_legs() -> None:
    """Ten invoiced, two claimed for 200, one lost as usual, three an expense: four stay, for 466 of 933."""
    line = replace(
        receipt(1, 10, 1000),
        claimed_milli=2000,
        claimed_amount=200,
        normal_milli=1000,
        expensed_milli=3000,
    )
    legs = plain_legs(Facts((line,), (share(2, 133),)))
    # The lot is 7 pieces for 1000 - 200 + 133 = 933; its first three cost 933 x 3/7 = 399.86.
    assert entries(legs, 1) == [
        (1, "purchases", "", -10000, -1000),
        (2, "on hand", "1.1", 7000, 800),
        (3, "returned to supplier", "", 2000, 200),
        (4, "spoilage", "", 1000, 0),
        (5, "on hand", "1.1", -3000, -400),
        (6, "spoilage", "1.1", 3000, 400),
    ]


def test_receipt_of_which_all_is_claimed_makes_no_lot() -> None:
    """Where nothing arrived, purchases and what is claimed from the supplier meet."""
    line = replace(receipt(1, 10, 1000), claimed_milli=10000, claimed_amount=1000)
    assert entries(plain_legs(Facts((line,))), 1) == [
        (1, "purchases", "", -10000, -1000),
        (2, "returned to supplier", "", 10000, 1000),
    ]


def test_lot_of_which_all_is_expensed_is_passed_over() -> None:
    """A lot that arrived wholly damaged has nothing to sell: the next lot is sold."""
    ruined = replace(receipt(1, 2, 500), expensed_milli=2000)
    legs = plain_legs(Facts((ruined, receipt(2, 2, 300), sale(3, 1))))
    assert entries(legs, 3) == [(1, "on hand", "2.1", -1000, -150), (2, "pieces sold", "2.1", 1000, 150)]


def test_supplies_when_bought_go_straight_to_supplies() -> None:
    """Supplies deducted when bought make no lot; their charges go the same way."""
    line = replace(
        receipt(1, 10, 1000), tax_class="supplies when bought", claimed_milli=2000, claimed_amount=200
    )
    legs = plain_legs(Facts((line,), (share(2, 50),)))
    assert entries(legs, 1) + entries(legs, 2) == [
        (1, "purchases", "", -10000, -1000),
        (2, "supplies", "", 8000, 800),
        (3, "returned to supplier", "", 2000, 200),
        (1, "charges", "", 0, -50),
        (2, "supplies", "", 0, 50),
    ]


def test_supplies_when_bought_bear_a_charge_though_all_is_claimed() -> None:
    """The freight of supplies that never arrived was paid all the same: it goes to supplies."""
    line = replace(
        receipt(1, 1, 100), tax_class="supplies when bought", claimed_milli=1000, claimed_amount=100
    )
    legs = plain_legs(Facts((line,), (share(2, 50),)))
    assert entries(legs, 2) == [(1, "charges", "", 0, -50), (2, "supplies", "", 0, 50)]


def test_charge_goes_to_the_lot_with_parts_numbered_by_position() -> None:
    """The third share of a charge line has the parts 5 and 6, though the second one is zero."""
    facts = Facts(
        (receipt(1, 3, 1000), receipt(2, 3, 1000)),
        (share(3, 10), share(3, 0, 2, position=2), share(3, 20, 2, position=3)),
    )
    assert entries(plain_legs(facts), 3) == [
        (1, "charges", "", 0, -10),
        (2, "on hand", "1.1", 0, 10),
        (5, "charges", "", 0, -20),
        (6, "on hand", "2.1", 0, 20),
    ]


def test_charge_belongs_to_its_receipt_from_the_start() -> None:
    """A freight bill numbered after the sale is in the cost of what was sold."""
    legs = plain_legs(Facts((receipt(1, 2, 1000), sale(2, 1)), (share(3, 100),)))
    assert entries(legs, 2)[1] == (2, "pieces sold", "1.1", 1000, 550)


def test_rounded_costs_add_up_to_the_lot() -> None:
    """Three pieces for 1.00 sold one by one cost 33, 34 and 33: running totals 33.3, 66.7, 100."""
    legs = plain_legs(Facts((receipt(1, 3, 100), sale(2, 1), sale(3, 1), sale(4, 1))))
    assert [leg.amount for leg in legs if leg.account == "pieces sold"] == [33, 34, 33]


def test_half_a_cent_is_rounded_away_from_zero() -> None:
    """Two pieces for 0.01: the first costs 0.5 cents, so 1, and the second nothing."""
    legs = plain_legs(Facts((receipt(1, 2, 1), sale(2, 1), sale(3, 1))))
    assert [leg.amount for leg in legs if leg.account == "pieces sold"] == [1, 0]


def test_half_a_cent_below_zero_is_rounded_away_from_zero() -> None:
    """A discount that leaves the lot at minus one cent rounds the same way on the other side."""
    legs = plain_legs(Facts((receipt(1, 2, 1), sale(2, 1), sale(3, 1)), (share(4, -2),)))
    assert [leg.amount for leg in legs if leg.account == "pieces sold"] == [-1, 0]


def test_last_thousandth_of_a_lot_is_still_there() -> None:
    """Three thousandths, two used, then the last one: the lot is empty only now."""
    lines = (
        replace(receipt(1, 1, 100), quantity_milli=3),
        replace(sale(2, 1), quantity_milli=2),
        replace(sale(3, 1), quantity_milli=1),
    )
    assert entries(plain_legs(Facts(lines)), 3)[1] == (2, "pieces sold", "1.1", 1, 33)


def test_goods_held_at_no_cost_still_have_legs() -> None:
    """A customer's own garments leave at amount zero, and both legs are written."""
    held = replace(receipt(1, 3, 0), tax_class="customer's")
    legs = plain_legs(Facts((held, replace(sale(2, 1), tax_class="customer's"))))
    assert entries(legs, 2) == [(1, "on hand", "1.1", -1000, 0), (2, "pieces sold", "1.1", 1000, 0)]


def test_one_line_takes_from_several_lots_oldest_first() -> None:
    """A sale of five takes the two of the older lot and three of the next, four legs in all."""
    legs = plain_legs(Facts((receipt(1, 4, 800, day=7), receipt(2, 2, 300, day=6), sale(3, 5))))
    assert entries(legs, 3) == [
        (1, "on hand", "2.1", -2000, -300),
        (2, "pieces sold", "2.1", 2000, 300),
        (3, "on hand", "1.1", -3000, -600),
        (4, "pieces sold", "1.1", 3000, 600),
    ]


def test_opening_leaves_before_a_receipt_of_the_same_day() -> None:
    """Within a day openings come before receipts, whatever their numbers."""
    opening = replace(receipt(2, 1, 70), event="opening")
    legs = plain_legs(Facts((receipt(1, 1, 50), opening, sale(3, 1))))
    assert entries(legs, 3)[1] == (2, "pieces sold", "2.1", 1000, 70)


def test_lots_of_one_day_leave_by_document_then_line() -> None:
    """Within a class the smaller document goes first, and within it the smaller line."""
    lines = (receipt(10, 1, 30), receipt(2, 1, 20, line=10), receipt(2, 1, 10, line=9), sale(11, 3))
    legs = plain_legs(Facts(lines))
    assert [leg.amount for leg in legs if leg.account == "pieces sold"] == [10, 20, 30]


def test_receipt_of_a_day_is_there_for_a_sale_of_that_day() -> None:
    """A sale entered before the receipt of the same day finds it on hand."""
    legs = plain_legs(Facts((sale(1, 1, day=5), receipt(2, 1, 50, day=5))))
    assert entries(legs, 1)[1] == (2, "pieces sold", "2.1", 1000, 50)


def test_late_receipt_changes_what_earlier_entries_cost() -> None:
    """A receipt entered last but dated first is the one that was sold."""
    legs = plain_legs(Facts((receipt(1, 1, 50), sale(2, 1), receipt(3, 1, 80, day=1))))
    assert entries(legs, 2)[1] == (2, "pieces sold", "3.1", 1000, 80)


def test_undone_document_and_its_undo_have_no_legs() -> None:
    """The pair drops out of the costing: the next lot is sold instead."""
    facts = Facts((receipt(1, 1, 50), receipt(2, 1, 80), sale(3, 1)), undos=(UndoFact(4, 1, "dropped"),))
    assert [(leg.document, leg.amount) for leg in plain_legs(facts)] == [(2, -80), (2, 80), (3, -80), (3, 80)]


def test_undone_charge_leaves_the_receipt_at_its_invoice_price() -> None:
    """The shares of an undone charge vanish from the legs and from the cost of what left."""
    facts = Facts((receipt(1, 2, 100), sale(2, 1)), (share(3, 40),), (UndoFact(4, 3, "dropped"),))
    assert [(leg.document, leg.amount) for leg in plain_legs(facts)] == [
        (1, -100),
        (1, 100),
        (2, -50),
        (2, 50),
    ]


def test_going_short_names_sku_date_on_hand_and_missing() -> None:
    """Seven wanted, four and a half there: the message says so, and what to do."""
    lines = (replace(receipt(1, 4, 100), quantity_milli=4500), sale(2, 7))
    message = r"^shirt on 2026-01-20: .* takes 7, on hand 4\.5, missing 2\.5\. Enter the receipt"
    with pytest.raises(NotEnoughStock, match=message):
        plain_legs(Facts(lines))


def test_stock_that_arrives_later_is_not_there_yet() -> None:
    """What arrives the day after cannot be sold today."""
    with pytest.raises(NotEnoughStock, match="on hand 0, missing 1"):
        plain_legs(Facts((receipt(1, 1, 50, day=21), sale(2, 1, day=20))))


WRONG_FACTS = {
    "the event 'juggle' is not known": Facts((replace(sale(1, 1), event="juggle"),)),
    "a charge by the path 'by mule'": Facts((receipt(1, 1, 1),), (replace(share(2, 1), path="by mule"),)),
    "an undo by the path 'wished away'": Facts((receipt(1, 1, 1),), (), (UndoFact(2, 1, "wished away"),)),
    "no receipt line 7.1": Facts((receipt(1, 1, 1),), (share(2, 1, receipt_document=7),)),
    "no receipt line 3.1": Facts((receipt(1, 1, 1), sale(3, 1)), (share(2, 1, receipt_document=3),)),
    "the quantity 0 is not above zero": Facts((receipt(1, 0, 1),)),
    "the quantity -2 is not above zero": Facts((receipt(1, 5, 1), sale(2, -2))),
    "more is missing or damaged": Facts((replace(receipt(1, 1, 1), normal_milli=600, expensed_milli=600),)),
    "not all of its amount was claimed": Facts((replace(receipt(1, 1, 1), normal_milli=1000),)),
    "but no pieces": Facts((replace(receipt(1, 1, 1), claimed_amount=1),)),
    "that could bear a charge": Facts(
        (replace(receipt(1, 1, 1), claimed_milli=1000, claimed_amount=1),), (share(2, 1),)
    ),
    "there is no opening stock": Facts(
        (replace(receipt(1, 1, 1), event="opening", tax_class="supplies when bought"),)
    ),
}


@pytest.mark.parametrize("message", WRONG_FACTS)
def test_facts_that_cannot_be_are_refused(message: str) -> None:
    """An unknown word, or facts that contradict each other, raise an error that says which."""
    with pytest.raises(ValueError, match=message):
        plain_legs(WRONG_FACTS[message])


@given(histories())
def test_every_document_balances(facts: Facts) -> None:
    """Invariant 1 holds for the legs of any history."""
    assert document_findings(plain_legs(facts)) == []


@given(histories())
def test_no_lot_loses_cost_or_quantity(facts: Facts) -> None:
    """Invariant 2 holds for the legs of any history."""
    assert lot_findings(facts, plain_legs(facts)) == []


@given(histories())
def test_stock_never_goes_below_zero(facts: Facts) -> None:
    """Invariant 5 holds for the legs of any history."""
    assert negative_stock_findings(plain_legs(facts)) == []


@given(histories())
def test_what_came_in_is_what_left_and_what_is_on_hand(facts: Facts) -> None:
    """Read off the facts: all that was bought, less what is claimed, is expensed, gone or on hand."""
    gone = {undo.undoes for undo in facts.undos}
    arrived = [line for line in facts.lines if line.event in ARRIVES_FROM and line.document not in gone]
    came_in = sum(line.amount - line.claimed_amount for line in arrived)
    came_in += sum(each.amount for each in facts.shares if each.document not in gone)
    there_or_gone = {"on hand", "supplies", *LEAVES_TO.values()}
    assert came_in == sum(leg.amount for leg in plain_legs(facts) if leg.account in there_or_gone)


@given(histories(), st.randoms(use_true_random=False))
def test_order_of_the_facts_does_not_matter(facts: Facts, random: Random) -> None:
    """The same facts shuffled give the same legs."""
    shuffled = Facts(
        *(tuple(random.sample(each, len(each))) for each in (facts.lines, facts.shares, facts.undos))
    )
    assert plain_legs(shuffled) == plain_legs(facts)


@given(histories())
def test_periodic_and_perpetual_agree(facts: Facts) -> None:
    """For receipts and issues only, each lot gives the same whether stock leaves day by day or at the end."""
    gone = {undo.undoes for undo in facts.undos}
    plain_lines = tuple(
        replace(line, claimed_milli=0, claimed_amount=0, normal_milli=0, expensed_milli=0)
        for line in facts.lines
        if line.document not in gone
    )
    at_the_end = tuple(
        replace(line, effect_date=LAST_DAY) if line.event in LEAVES_TO else line for line in plain_lines
    )
    assert _left_per_lot(plain_legs(Facts(at_the_end))) == _left_per_lot(plain_legs(Facts(plain_lines)))


def _left_per_lot(legs: list[Leg]) -> dict[tuple[int | None, int | None], tuple[int, int]]:
    """Quantity and amount that is on hand of each lot."""
    left: dict[tuple[int | None, int | None], tuple[int, int]] = defaultdict(lambda: (0, 0))
    for leg in legs:
        if leg.account == "on hand":
            quantity_milli, amount = left[leg.lot_document, leg.lot_line]
            left[leg.lot_document, leg.lot_line] = quantity_milli + leg.quantity_milli, amount + leg.amount
    return dict(left)


@given(histories())
def test_oldest_lots_are_used_up_first(facts: Facts) -> None:
    """At the end, no lot is on hand behind a younger lot that gave something to an event that left."""
    legs = plain_legs(facts)
    gone = {undo.undoes for undo in facts.undos}
    arrivals = sorted(
        (
            line
            for line in facts.lines
            if line.document not in gone and kept_milli(line) > 0 and line.event in ARRIVES_FROM
        ),
        key=lambda line: (line.effect_date, line.event != "opening", line.document, line.line),
    )
    left = _left_per_lot(legs)
    leaving_documents = {line.document for line in facts.lines if line.event in LEAVES_TO}
    gave = {(leg.lot_document, leg.lot_line) for leg in legs if leg.document in leaving_documents}
    something_left: set[str] = set()
    for line in arrivals:
        lot = line.document, line.line
        assert not (lot in gave and line.sku in something_left)
        if left[lot][0] > 0:
            something_left.add(line.sku)

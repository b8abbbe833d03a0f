"""The plain engine on goods under way: shipments and what arrives of them, each rule by a case worked by hand."""

from __future__ import annotations

import pytest
from late_facts import arrival, facts, legs_of, line, on_hand, share, told

from ledger.costing.facts import Leg
from ledger.costing.findings import Finding
from ledger.costing.invariants import (
    lot_findings,
    negative_stock_findings,
    roll_forward,
    roll_forward_findings,
)
from ledger.costing.plain import plain_legs
from ledger.errors import NotEnoughStock, Refused

SHIPPED = line(1, "ship", 10, 1000)
SUPPLIES = "supplies when bought"


def test_shipment_is_bought_and_under_way() -> None:
    """Two legs: out of purchases without a lot, into the lot that bears the line's number."""
    assert told(legs_of(SHIPPED), 1) == [
        (1, "purchases", "", -10_000, -1000),
        (2, "under way", "1.1", 10_000, 1000),
    ]


def test_charge_with_a_shipment_raises_what_is_under_way() -> None:
    """Freight known when it was shipped arrives with the goods: 1,000 + 50 over ten."""
    freight = share(2, 50, path="with receipt", on="03-01")
    legs = legs_of(SHIPPED, freight, arrival(5, 5))
    assert told(legs, 2) == [(1, "charges", "", 0, -50), (2, "under way", "1.1", 0, 50)]
    assert told(legs, 5) == [
        (1, "under way", "1.1", -5000, -525),
        (2, "on hand", "5.1", 5000, 525),
    ]


def test_nothing_can_be_sold_of_what_is_under_way() -> None:
    """Ten are under way, none is on the shelf."""
    with pytest.raises(NotEnoughStock, match="on hand 0"):
        legs_of(SHIPPED, line(5, "sale", 1))


def test_short_is_not_settled_by_a_shipment_but_by_its_arrival() -> None:
    """A sale of what is under way goes short, at no known cost, until the goods arrive at 1.00 each."""
    sold = line(3, "sale", 2, 7, short_allowed=True)
    assert told(legs_of(SHIPPED, sold), 3) == [
        (1, "on hand", "", -2000, -7),
        (2, "pieces sold", "", 2000, 7),
    ]
    assert told(legs_of(SHIPPED, sold, arrival(5, 10)), 3) == [
        (1, "on hand", "5.1", -2000, -200),
        (2, "pieces sold", "5.1", 2000, 200),
    ]


def test_arrivals_in_parts_add_up_to_the_shipment() -> None:
    """Three for 10.00, one by one: 3.33, 3.34 and 3.33, the same as if the lot were used one by one."""
    legs = legs_of(line(1, "ship", 3, 1000), arrival(5, 1), arrival(6, 1), arrival(7, 1))
    assert [told(legs, document)[0][4] for document in (5, 6, 7)] == [-333, -334, -333]
    assert on_hand(legs) == (3000, 1000)
    assert on_hand(legs, account="under way") == (0, 0)


def test_what_is_lost_at_arrival_is_claimed_normal_or_an_expense() -> None:
    """Ten for 10.00 arrive: two claimed for 1.90, one lost as usual, seven kept at 8.10, one of them ruined."""
    lost = {"claimed_milli": 2000, "claimed_amount": 190, "normal_milli": 1000, "expensed_milli": 1000}
    assert told(legs_of(SHIPPED, arrival(5, 10, **lost)), 5) == [
        (1, "under way", "1.1", -10_000, -1000),
        (2, "on hand", "5.1", 7000, 810),
        (3, "returned to supplier", "", 2000, 190),
        (4, "spoilage", "", 1000, 0),
        (5, "on hand", "5.1", -1000, -116),
        (6, "spoilage", "5.1", 1000, 116),
    ]


def test_arrival_of_which_nothing_is_kept_leaves_a_price_difference() -> None:
    """All ten are claimed for 9.50: the half that the supplier does not credit is no stock."""
    lost = {"claimed_milli": 10_000, "claimed_amount": 950}
    assert told(legs_of(SHIPPED, arrival(5, 10, **lost)), 5) == [
        (1, "under way", "1.1", -10_000, -1000),
        (2, "returned to supplier", "", 10_000, 950),
        (3, "supplier price differences", "", 0, 50),
    ]


def test_arrival_that_is_credited_in_full_leaves_nothing() -> None:
    """Nothing is kept and everything credited: two legs."""
    lost = {"claimed_milli": 10_000, "claimed_amount": 1000}
    assert len(told(legs_of(SHIPPED, arrival(5, 10, **lost)), 5)) == 2


def test_arrival_lot_stands_where_it_arrived_and_is_the_latest_cost() -> None:
    """Goods bought after the shipment but before it arrived leave first; what then goes short costs as arrived."""
    bought = line(3, "receipt", 1, 70)
    sold = line(6, "sale", 12, short_allowed=True)
    assert [leg[2:] for leg in told(legs_of(SHIPPED, bought, arrival(5, 10), sold), 6)][::2] == [
        ("3.1", -1000, -70),
        ("5.1", -10_000, -1000),
        ("", -1000, -100),
    ]


def test_charge_on_an_arrival_is_its_own() -> None:
    """Delivery of what arrived first stays with that."""
    delivery = share(8, 20, receipt=5, path="with receipt", on="03-05")
    legs = legs_of(SHIPPED, arrival(5, 4), arrival(6, 6), delivery, line(9, "sale", 5))
    assert told(legs, 8) == [(1, "charges", "", 0, -20), (2, "on hand", "5.1", 0, 20)]
    assert [leg[4] for leg in told(legs, 9)] == [-420, 420, -100, 100]


def test_credit_for_arrived_goods_is_their_part_of_the_invoice() -> None:
    """Three for 10.00 with freight 0.50: of the second, credited for its 3.34 of the invoice, 0.17 is lost."""
    freight = share(2, 50, path="with receipt", on="03-01")
    back = line(8, "send back", 1, ref_document=6, ref_line=1)
    legs = legs_of(line(1, "ship", 3, 1000), freight, arrival(5, 1), arrival(6, 1), back)
    assert told(legs, 8) == [
        (1, "on hand", "6.1", -1000, -350),
        (2, "returned to supplier", "6.1", 1000, 334),
        (3, "supplier price differences", "6.1", 0, 16),
    ]


def test_credit_for_arrived_goods_is_less_what_was_claimed() -> None:
    """Two of four at 1.00 each are claimed for 1.50: the two that are kept were invoiced for 2.50."""
    lost = {"claimed_milli": 2000, "claimed_amount": 150}
    back = line(8, "send back", 1, ref_document=5, ref_line=1)
    legs = legs_of(SHIPPED, arrival(5, 4, **lost), back)
    assert [leg[4] for leg in told(legs, 8)] == [-125, 125]


def test_supplies_when_bought_are_deducted_when_shipped() -> None:
    """No lot; their freight goes where they went, and an arrival only tells what was claimed."""
    shipped = line(1, "ship", 10, 1000, tax_class=SUPPLIES)
    freight = share(2, 50, path="with receipt", on="03-01")
    lost = {"claimed_milli": 2000, "claimed_amount": 190, "normal_milli": 1000}
    legs = legs_of(
        shipped, freight, arrival(5, 6, tax_class=SUPPLIES, **lost), arrival(6, 4, tax_class=SUPPLIES)
    )
    assert told(legs, 1) == [(1, "purchases", "", -10_000, -1000), (2, "supplies", "", 10_000, 1000)]
    assert told(legs, 2) == [(1, "charges", "", 0, -50), (2, "supplies", "", 0, 50)]
    assert told(legs, 5) == [
        (1, "supplies", "", -2000, -190),
        (2, "returned to supplier", "", 2000, 190),
    ]
    assert told(legs, 6) == []


@pytest.mark.parametrize(
    ("lines", "match"),
    [
        ((SHIPPED, arrival(5, 7), arrival(6, 4)), "4 arrives, .* only 3 is under way"),
        ((line(4, "ship", 10, 1000), arrival(5, 4, shipped=4, on="03-02")), "only 0 is under way"),
        ((SHIPPED, arrival(5, 1, claimed_milli=1000, claimed_amount=101)), "cost 100 minor units"),
        ((SHIPPED, arrival(5, 1), share(6, -101, 5, "with receipt", "03-05")), "101 of discounts"),
    ],
    ids=["more than is under way", "before it was shipped", "claimed above cost", "discount above cost"],
)
def test_arrival_that_cannot_be_is_refused(lines: tuple, match: str) -> None:
    """What arrives was under way, and costs no less than nothing."""
    with pytest.raises(Refused, match=match):
        legs_of(*lines)


@pytest.mark.parametrize(
    ("lines", "match"),
    [
        ((SHIPPED, arrival(5, 1, sku="hood")), "no shipment's line 1.1 of hood"),
        ((line(1, "receipt", 1, 100), arrival(5, 1)), "no shipment's line 1.1"),
        ((SHIPPED, arrival(5, 1, amount=100)), "no amount of its own"),
        ((SHIPPED, arrival(5, 1, tax_class=SUPPLIES)), "was shipped as 'goods'"),
        ((line(1, "ship", 1, 100, normal_milli=500),), "told when it arrives"),
        ((line(1, "ship", 0, 100),), "not above zero"),
        ((SHIPPED, arrival(5, 1, claimed_milli=2000)), "more is missing"),
        ((SHIPPED, arrival(5, 1), share(6, 5, 9, "with receipt")), "no receipt line 9.1"),
    ],
)
def test_facts_that_contradict_each_other_are_an_error(lines: tuple, match: str) -> None:
    """Nothing is guessed where a shipment and its arrival do not fit."""
    with pytest.raises(ValueError, match=match):
        legs_of(*lines)


# The invariants on goods under way

PART_ARRIVED = facts(SHIPPED, arrival(5, 4, claimed_milli=1000, claimed_amount=90), line(6, "sale", 1))
YEAR = ("2026-01-01", "2026-12-31")


def broken(document: int, part: int, quantity_milli: int = 0, amount: int = 0) -> list[Leg]:
    """The legs of the shipment above, one of them changed by so much."""
    legs = plain_legs(PART_ARRIVED)
    place = next(at for at, leg in enumerate(legs) if (leg.document, leg.part) == (document, part))
    old = legs[place]
    legs[place] = Leg(
        old.document,
        old.line,
        old.part,
        old.effect_date,
        old.account,
        old.sku,
        old.lot_document,
        old.lot_line,
        old.quantity_milli + quantity_milli,
        old.amount + amount,
    )
    return legs


def test_sound_legs_of_a_shipment_give_no_finding() -> None:
    """No check complains of legs that are right."""
    legs = plain_legs(PART_ARRIVED)
    assert lot_findings(PART_ARRIVED, legs) == []
    assert roll_forward_findings(legs, *YEAR) == []
    assert negative_stock_findings(legs, PART_ARRIVED) == []


def test_cost_lost_between_carrier_and_shelf_is_found() -> None:
    """A cent less came onto the shelf than was taken off what is under way: both lots miss it."""
    assert lot_findings(PART_ARRIVED, broken(5, 2, amount=-1)) == [
        Finding(
            2,
            "cost 1000 minor units with its charges, but 399 minor units left and 600 minor units are under way",
            "lot 1.1",
        ),
        Finding(
            2,
            "cost 310 minor units with its charges, but 103 minor units left and 206 minor units are on hand",
            "lot 5.1",
        ),
    ]


def test_quantity_lost_under_way_is_found() -> None:
    """The facts say that four arrived, the legs three and a half."""
    what = "received 10, but 4 left and 6.5 are under way"
    assert lot_findings(PART_ARRIVED, broken(5, 1, quantity_milli=500)) == [Finding(2, what, "lot 1.1")]


def test_cost_under_way_of_nothing_is_found() -> None:
    """All arrived, yet a cent is said to be under way."""
    whole = facts(SHIPPED, arrival(5, 10))
    legs = plain_legs(whole)
    legs += [Leg(8, 1, 1, "2026-03-08", "under way", "shirt", 1, 1, 0, 1)]
    whats = [finding.what for finding in lot_findings(whole, legs)]
    assert "nothing is under way, but it costs 1 minor unit" in whats


def test_more_arrived_than_was_shipped_is_found() -> None:
    """Eleven of ten: the lot and the day say so."""
    legs = broken(5, 1, quantity_milli=-7000)
    assert Finding(2, "holds -1, less than nothing", "lot 1.1") in lot_findings(PART_ARRIVED, legs)
    what = "-1 under way at the end of the day, less than nothing"
    assert Finding(5, what, "shirt on 2026-03-05") in negative_stock_findings(legs, PART_ARRIVED)


def test_stock_that_rolls_forward_is_on_hand_and_under_way() -> None:
    """Of ten shipped for 10.00 one was claimed for 0.90 and one sold for 1.03: eight are the shop's."""
    (row,) = roll_forward(plain_legs(PART_ARRIVED), *YEAR)
    assert (row.closing_quantity_milli, row.closing_amount) == (8000, 1000 - 90 - 103)


def test_shipment_that_never_reached_stock_is_found() -> None:
    """Purchases without the goods under way."""
    legs = [leg for leg in plain_legs(PART_ARRIVED) if (leg.document, leg.part) != (1, 2)]
    assert [finding.invariant for finding in roll_forward_findings(legs, *YEAR)] == [3, 3]

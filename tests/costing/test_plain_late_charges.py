"""The plain engine on charges that come late: each rule by a case worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from late_facts import arrival, facts, job, late, legs_of, line, on_hand, share, told

from ledger.costing.facts import Leg, UndoFact
from ledger.costing.findings import Finding
from ledger.costing.invariants import (
    Movement,
    cost_of_goods_sold_findings,
    lot_findings,
    roll_forward,
    roll_forward_findings,
)
from ledger.costing.plain import plain_legs
from ledger.errors import OwnAncestor

USED = "late charges on used stock"
YEAR = ("2026-01-01", "2026-12-31")

MONTH = (line(1, "receipt", 100, 30_000), *job(2, 10, 10), line(3, "sale", 50))
"""Of a hundred, ten went into prints on the shelf and fifty were sold."""


def test_freight_goes_where_the_goods_are() -> None:
    """20.00 on a lot of a hundred: 40 on hand, 10 in prints, 50 gone."""
    legs = legs_of(*MONTH, share(4, 2000))
    assert late(legs, 4) == [
        (1, "charges", "", -2000),
        (2, "on hand", "1.1", 800),
        (4, "on hand", "2.1", 200),
        (6, USED, "1.1", 1000),
    ]
    assert {leg.quantity_milli for leg in legs if leg.document == 4} == {0}
    assert [leg.sku for leg in legs if leg.document == 4] == ["shirt", "shirt", "print", "shirt"]


def test_two_of_three_left_bear_two_thirds() -> None:
    """A lot of three for 10.00, one sold, 3.00 late: the two left cost 4.34 and 4.33."""
    sales = [line(document, "sale", 1, on="04-10") for document in (5, 6)]
    legs = legs_of(line(1, "receipt", 3, 1000), line(3, "sale", 1), share(4, 300), *sales)
    assert late(legs, 4) == [(1, "charges", "", -300), (2, "on hand", "1.1", 200), (4, USED, "1.1", 100)]
    assert [told(legs, document)[1][4] for document in (3, 5, 6)] == [333, 434, 433]


def test_share_of_nothing_has_no_legs() -> None:
    """A share of zero is passed over."""
    assert told(legs_of(*MONTH, share(4, 0)), 4) == []


def test_part_that_rounds_to_nothing_keeps_its_number() -> None:
    """A cent over 40, 10 and 50: all on what is gone, which is the third in the list."""
    assert late(legs_of(*MONTH, share(4, 1)), 4) == [(1, "charges", "", -1), (6, USED, "1.1", 1)]


def test_position_of_a_share_numbers_its_legs() -> None:
    """The second share of a bill counts from two million on."""
    second = replace(share(4, 100), position=2)
    parts = [part for part, *_ in told(legs_of(line(1, "receipt", 1, 100), second), 4)]
    assert parts == [2_000_001, 2_000_002]


def test_charge_of_a_day_comes_after_receipts_and_before_jobs_and_sales() -> None:
    """On the day itself all hundred are still there."""
    bought = line(1, "receipt", 1, 100)
    sold, made = line(8, "sale", 1, on="03-01"), job(9, 0.5, 1, on="03-01")
    legs = legs_of(bought, share(10, 30, on="03-01"), line(11, "receipt", 1, 90, on="03-01"), *made, sold)
    assert late(legs, 10) == [(1, "charges", "", -30), (2, "on hand", "1.1", 30)]
    assert [leg[4] for leg in told(legs, 9, 2)] == [-65, 0, 65]


def test_charge_follows_its_goods_through_jobs_of_jobs() -> None:
    """Eight shirts in eight prints of which two are ruined; four prints in two sets, one sold."""
    history = (
        line(1, "receipt", 8, 800),
        *job(2, 8, 10, normal_milli=2000, expensed_milli=2000),
        *job(3, 4, 2, "set", of="print"),
        line(4, "sale", 1, sku="set"),
    )
    # A print kept stands for 8/8 shirt. On the shelf: two prints, and two shirts in the set left.
    legs = legs_of(*history, share(5, 800))
    assert late(legs, 5) == [
        (1, "charges", "", -800),
        (2, "on hand", "2.1", 200),
        (4, "on hand", "3.1", 200),
        (6, USED, "1.1", 400),
    ]


def test_job_of_which_nothing_was_kept_is_used() -> None:
    """All prints were lost as usual: their shirts are gone."""
    legs = legs_of(line(1, "receipt", 2, 200), *job(2, 1, 1, normal_milli=1000), share(3, 10))
    assert late(legs, 3) == [(1, "charges", "", -10), (2, "on hand", "1.1", 5), (4, USED, "1.1", 5)]


def test_own_use_bears_its_part() -> None:
    """One of four taken by the owner, one made into a print that the owner took: two on hand."""
    history = (
        line(1, "receipt", 4, 400),
        line(3, "own use", 1),
        *job(2, 1, 1),
        line(5, "own use", 1, sku="print"),
    )
    legs = legs_of(*history, share(6, 40))
    assert late(legs, 6) == [
        (1, "charges", "", -40),
        (2, "on hand", "1.1", 20),
        (4, "own use", "1.1", 20),
    ]


def test_what_came_back_is_on_hand_again() -> None:
    """Of two sold one came back; the charge makes both layers start anew."""
    back = line(3, "take back", 1, ref_document=2, ref_line=1)
    sales = [line(document, "sale", 1, on="04-10") for document in (5, 6)]
    legs = legs_of(line(1, "receipt", 3, 100), line(2, "sale", 2), back, share(4, 30), *sales)
    # The two cost 0.67, of which 0.33 came back; 0.33 lay on hand. Each layer gets 0.10.
    assert late(legs, 4) == [(1, "charges", "", -30), (2, "on hand", "1.1", 20), (4, USED, "1.1", 10)]
    assert [told(legs, document)[1][4] for document in (5, 6)] == [43, 43]


def test_short_settled_from_a_lot_is_taken_of_it() -> None:
    """A job used two shirts that came later: their freight follows them into its print."""
    component, product = job(1, 2, 1)
    used = replace(component, short_allowed=True, amount=1)
    legs = legs_of(used, product, line(2, "receipt", 4, 400), share(3, 40, receipt=2))
    assert late(legs, 3) == [(1, "charges", "", -40), (2, "on hand", "2.1", 20), (4, "on hand", "1.1", 20)]


def test_charge_on_a_shipment_is_split_between_carrier_and_shelf() -> None:
    """Ten shipped; of four arrived one is claimed, one lost as usual and one of the two kept sold."""
    came = arrival(5, 4, claimed_milli=1000, claimed_amount=100, normal_milli=1000)
    legs = legs_of(line(1, "ship", 10, 1000), came, line(6, "sale", 1), share(7, 1000))
    # Under way 6; the three not claimed went into two kept pieces, of which half is there: 1.5; gone 2.5.
    assert late(legs, 7) == [
        (1, "charges", "", -1000),
        (2, "under way", "1.1", 600),
        (4, "on hand", "5.1", 200),
        (6, USED, "1.1", 200),
    ]


def test_what_arrives_after_the_charge_brings_it_along() -> None:
    """Ten for 10.00 and 1.00 late: five arrive at 5.50."""
    legs = legs_of(line(1, "ship", 10, 1000), share(2, 100, on="03-02"), arrival(5, 5))
    assert told(legs, 5)[0][4] == -550
    assert on_hand(legs, account="under way") == (5000, 550)


def test_charge_on_an_arrival_stays_with_it() -> None:
    """What is still under way of the same shipment bears nothing."""
    legs = legs_of(line(1, "ship", 10, 1000), arrival(5, 4), line(6, "sale", 1), share(7, 40, receipt=5))
    assert late(legs, 7) == [(1, "charges", "", -40), (2, "on hand", "5.1", 30), (4, USED, "5.1", 10)]


def test_charge_on_supplies_when_bought_goes_to_supplies() -> None:
    """They are neither counted nor followed."""
    bought = line(1, "receipt", 1, 100, tax_class="supplies when bought")
    assert late(legs_of(bought, share(2, 9)), 2) == [(1, "charges", "", -9), (2, "supplies", "", 9)]


def test_discount_takes_off_at_most_what_the_goods_cost() -> None:
    """Half sold, the rest written down to 0.20: of 1.00 back 0.50 falls on it, and 0.30 of that on what is gone."""
    down = line(3, "write down", 0, 80)
    legs = legs_of(line(1, "receipt", 2, 200), line(2, "sale", 1), down, share(4, -100))
    assert late(legs, 4) == [
        (1, "charges", "", 100),
        (2, "on hand", "1.1", -20),
        (3, USED, "1.1", -30),
        (4, USED, "1.1", -50),
    ]


def test_discount_on_goods_that_cost_nothing_any_more_leaves_them_alone() -> None:
    """Written down to nothing: the whole of a discount is on used stock."""
    legs = legs_of(line(1, "receipt", 1, 100), line(2, "write down", 0, 100), share(4, -30))
    assert late(legs, 4) == [(1, "charges", "", 30), (3, USED, "1.1", -30)]


def test_discount_is_spread_over_layers_by_their_cost() -> None:
    """A layer of 1.00 that came back lies in front of one of 2.00: a fifth comes off both."""
    # Five for 5.00, two sold, written down to 2.00 for three left; one of the sold comes back at 1.00.
    down = line(2, "write down", 0, 100)
    sold = line(4, "sale", 2, on="03-02")
    back = line(3, "take back", 1, on="03-05", ref_document=4, ref_line=1)
    sales = [line(document, "sale", 1, on="04-10") for document in (7, 8)]
    legs = legs_of(line(1, "receipt", 5, 500), sold, down, back, share(6, -75), *sales)
    # Four of five are there and bear 0.60 of 0.75: the layer of 1.00 bears 0.20, that of 2.00 the rest.
    assert late(legs, 6) == [(1, "charges", "", 75), (2, "on hand", "1.1", -60), (4, USED, "1.1", -15)]
    assert [told(legs, document)[1][4] for document in (7, 8)] == [80, 53]


def test_latest_known_cost_rises_by_the_whole_charge() -> None:
    """Two for 2.00, one sold, 0.50 late: what goes short then costs 1.25."""
    short = line(5, "sale", 2, on="04-10", short_allowed=True)
    legs = legs_of(line(1, "receipt", 2, 200), line(2, "sale", 1), share(4, 50), short)
    assert [leg[4] for leg in told(legs, 5)] == [-125, 125, -125, 125]


def test_latest_known_cost_of_what_was_made_rises_by_its_part() -> None:
    """The only print got 0.25 of the charge: the next one goes short at 1.25."""
    history = (line(1, "receipt", 2, 200), *job(2, 1, 1), share(4, 50))
    short = line(5, "sale", 2, on="04-10", sku="print", short_allowed=True)
    assert [leg[4] for leg in told(legs_of(*history, short), 5)] == [-125, 125, -125, 125]


def test_latest_known_cost_falls_by_no_more_than_was_taken_off() -> None:
    """A print written down to 0.10 gives up only that; its known cost was 1.00 and is then 0.90."""
    history = (line(1, "receipt", 1, 100), *job(2, 1, 1), line(3, "write down", 0, 90, sku="print"))
    short = line(5, "sale", 2, on="04-10", sku="print", short_allowed=True)
    legs = legs_of(*history, share(4, -50), short)
    assert late(legs, 4) == [
        (1, "charges", "", 50),
        (2, "on hand", "2.1", -10),
        (3, USED, "2.1", -40),
    ]
    assert [leg[4] for leg in told(legs, 5)] == [0, 0, -90, 90]


def test_discount_on_a_cost_that_waits_for_a_settlement() -> None:
    """The print's cost is known only once its short shirt is there: 1.00, all of which a discount takes."""
    component, product = job(2, 2, 1)
    used = replace(component, short_allowed=True)
    history = (line(1, "receipt", 1, 50), used, product, line(6, "receipt", 1, 50))
    legs = legs_of(*history, share(4, -110, on="03-04"), line(5, "write down", 0, 1, sku="print"))
    # A shirt settled at 0.50 makes the print cost 1.00; 1.10 is more by 0.10.
    assert late(legs, 4) == [
        (1, "charges", "", 110),
        (2, "on hand", "2.1", -100),
        (3, USED, "2.1", -10),
    ]
    assert told(legs, 5) == []


def test_goods_that_went_in_a_circle_are_refused() -> None:
    """A print is stripped to the shirt that its own job was short of."""
    component, product = job(2, 1, 1, on="03-02")
    used = replace(component, short_allowed=True, amount=9)
    strip = job(3, 1, 1, "shirt", of="print")
    film = replace(component, line=3, sku="film")
    with pytest.raises(OwnAncestor):
        legs_of(line(1, "receipt", 1, 10, sku="film"), used, film, product, *strip, share(4, 5))


def test_whole_charge_is_taken_back_by_a_late_credit() -> None:
    """Freight that came with its receipt, credited when two of four are gone: half of it comes off the rest."""
    freight = share(2, 40, path="with receipt", on="03-01")
    legs = legs_of(
        line(1, "receipt", 4, 400), freight, line(3, "sale", 2), share(4, -40), UndoFact(4, 2, "credit")
    )
    assert late(legs, 4) == [(1, "charges", "", 40), (2, "on hand", "1.1", -20), (4, USED, "1.1", -20)]
    assert on_hand(legs, account="charges") == (0, 0)


def test_bill_that_gives_a_price_comes_from_purchases() -> None:
    """The account of a share is the one it comes from."""
    price = replace(share(2, 40), account="purchases")
    assert late(legs_of(line(1, "receipt", 1, 0), price), 2)[0] == (1, "purchases", "", -40)


@pytest.mark.parametrize(
    ("parts", "match"),
    [
        ((line(1, "receipt", 1, 100), share(2, 5, path="later")), "path 'later' is not known"),
        ((line(1, "receipt", 1, 100), share(2, 5, receipt=7)), "no receipt line 7.1"),
        ((line(1, "opening", 1, 100), share(2, 5)), "no receipt line 1.1"),
        ((line(1, "receipt", 1, 100), share(2, 5, on="02-28")), "which is later"),
        (
            (line(1, "receipt", 1, 100, normal_milli=1000, claimed_amount=0), share(2, 5)),
            "nothing .* was kept",
        ),
        ((line(1, "receipt", 1, 100), UndoFact(2, 1, "forgotten")), "path 'forgotten' is not known"),
    ],
)
def test_facts_that_contradict_each_other_are_an_error(parts: tuple, match: str) -> None:
    """A late share names a receipt or shipment line of that day or before, of which something was kept."""
    with pytest.raises(ValueError, match=match):
        legs_of(*parts)


# The invariants on late charges

FACTS = facts(*MONTH, share(4, 2000))


def without(document: int, part: int) -> list[Leg]:
    """The legs without one of them."""
    return [leg for leg in plain_legs(FACTS) if (leg.document, leg.part) != (document, part)]


def test_sound_legs_give_no_finding() -> None:
    """No check complains of legs that are right."""
    legs = plain_legs(FACTS)
    assert lot_findings(FACTS, legs) == []
    for span in (YEAR, ("2026-04-01", "2026-04-30"), ("2026-01-01", "2026-03-31")):
        assert roll_forward_findings(legs, *span) == []
        assert cost_of_goods_sold_findings(legs, *span) == []


def test_charge_that_did_not_reach_the_goods_is_found() -> None:
    """Without its part on hand the lot misses 8.00, and so does its item."""
    what = (
        "cost 32000 minor units with its charges, but 19000 minor units left, 200 minor units passed on "
        "and 12000 minor units are on hand"
    )
    assert lot_findings(FACTS, without(4, 1_000_002)) == [Finding(2, what, "lot 1.1")]
    (finding,) = roll_forward_findings(without(4, 1_000_002), *YEAR)
    assert finding.where.startswith("shirt ")


def test_charge_that_did_not_reach_what_was_made_is_found() -> None:
    """Without the part of the prints it is the charged lot that misses 2.00."""
    legs = without(4, 1_000_004)
    assert [finding.where for finding in lot_findings(FACTS, legs)] == ["lot 1.1"]
    (finding,) = roll_forward_findings(legs, *YEAR)
    assert finding.where.startswith("shirt ")


def test_cost_that_came_on_and_got_lost_is_found() -> None:
    """The prints were sold at what they cost before the charge came on."""
    sold = facts(FACTS, line(6, "sale", 10, on="04-20", sku="print"))
    legs = [
        replace(leg, amount=3000 if leg.account == "pieces sold" else -3000) if leg.document == 6 else leg
        for leg in plain_legs(sold)
    ]
    whats = [finding.what for finding in lot_findings(sold, legs) if finding.where == "lot 2.1"]
    assert whats == ["nothing is on hand, but it costs 200 minor units"]
    legs = [
        replace(leg, amount=3000) if (leg.document, leg.part) == (6, 2) else leg for leg in plain_legs(sold)
    ]
    whats = [finding.what for finding in lot_findings(sold, legs) if finding.where == "lot 2.1"]
    what = (
        "cost 3000 minor units with its charges and 200 minor units of others' late charges, "
        "but 3000 minor units left and 0 minor units are on hand"
    )
    assert whats == [what]


def test_roll_forward_shows_what_was_passed_on() -> None:
    """April: the prints gained 2.00 that the charge on shirts passed on."""
    rows = {row.name: row for row in roll_forward(plain_legs(FACTS), "2026-04-01", "2026-04-30")}
    assert rows["print"].movements == (Movement("late charges passed on", 0, 200),)
    assert rows["shirt"].movements == (
        Movement("charges", 0, 2000),
        Movement("late charges on used stock", 0, -1000),
        Movement("late charges passed on", 0, -200),
    )

"""The plain engine on jobs, returns, counts, write-downs and shorts: each rule by a case worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ledger.costing.facts import FactLine, Facts, Leg, ShareFact
from ledger.costing.plain import plain_legs
from ledger.errors import NotEnoughStock, OwnAncestor, Refused


def line(document: int, event: str, pieces: float, amount: int = 0, day: int = 0, **more: object) -> FactLine:
    """A line of shirts in March, on the day of its document's number unless another is given."""
    fact = FactLine(
        document, 1, event, f"2026-03-{day or document:02d}", "shirt", "goods", round(pieces * 1000), amount
    )
    return replace(fact, **more)  # type: ignore[arg-type]


def used(document: int, pieces: float, sku: str = "shirt", number: int = 2, **more: object) -> FactLine:
    """A component line of a job."""
    return line(document, "make", pieces, role="component", sku=sku, line=number, **more)


def made(document: int, pieces: float, sku: str = "print", **more: object) -> FactLine:
    """The product line of a job, which is its first line."""
    return line(document, "make", pieces, **{"role": "product", "sku": sku, **more})


def back(document: int, pieces: float, sale: int, **more: object) -> FactLine:
    """A line that takes back from line 1 of a sale."""
    return line(document, "take back", pieces, ref_document=sale, ref_line=1, **more)


def entries(legs: list[Leg], document: int, number: int | None = None) -> list[tuple[str, str, int, int]]:
    """Account, lot, thousandths and amount of each leg of a document, or of one of its lines."""
    found = [leg for leg in legs if leg.document == document and number in {None, leg.line}]
    return [
        (
            leg.account,
            f"{leg.lot_document}.{leg.lot_line}" if leg.lot_document else "",
            leg.quantity_milli,
            leg.amount,
        )
        for leg in found
    ]


def amounts(legs: list[Leg], account: str, document: int) -> list[int]:
    """The amounts of a document's legs in an account."""
    return [leg.amount for leg in legs if leg.account == account and leg.document == document]


# Jobs


def test_job_moves_its_components_through_work_in_process() -> None:
    """A shirt and labour go in; two prints come out, one kept and one ruined beyond the usual."""
    labour = made(2, 0, role="labour", line=3, amount=100)
    lines = (
        line(1, "receipt", 2, 500),
        used(2, 1),
        made(2, 3, normal_milli=1000, expensed_milli=1000),
        labour,
    )
    legs = plain_legs(Facts(lines))
    assert entries(legs, 2, 2) == [
        ("on hand", "1.1", -1000, -250),
        ("used", "1.1", 1000, 0),
        ("work in process", "1.1", 0, 250),
    ]
    assert entries(legs, 2, 3) == [("labour", "", 0, -100), ("work in process", "", 0, 100)]
    assert entries(legs, 2, 1) == [
        ("work in process", "", 0, -350),
        ("made", "", -2000, 0),
        ("on hand", "2.1", 2000, 350),
        ("on hand", "2.1", -1000, -175),
        ("spoilage", "2.1", 1000, 175),
    ]


def test_job_of_which_all_is_lost_as_usual_is_spoilage() -> None:
    """Where nothing is kept there is no lot, and what the job cost is spoilage."""
    lines = (line(1, "receipt", 1, 250), used(2, 1), made(2, 1, normal_milli=1000))
    assert entries(plain_legs(Facts(lines)), 2, 1) == [
        ("work in process", "", 0, -250),
        ("spoilage", "", 0, 250),
    ]


def test_labour_of_nothing_has_no_legs() -> None:
    """A labour line of zero is passed over."""
    lines = (line(1, "receipt", 1, 250), used(2, 1), made(2, 1), made(2, 0, role="labour", line=3))
    assert entries(plain_legs(Facts(lines)), 2, 3) == []


def test_job_on_a_customers_own_shirt_costs_nothing() -> None:
    """What is held at no cost makes something that cost nothing."""
    lines = (line(1, "receipt", 1, 0, tax_class="customer's"), used(2, 1, tax_class="customer's"), made(2, 1))
    assert entries(plain_legs(Facts(lines)), 2, 1)[2] == ("on hand", "2.1", 1000, 0)


def test_job_of_a_job_carries_the_cost_on() -> None:
    """A set of prints of shirts costs what the shirts did; both jobs are of one day, in order of number."""
    lines = (
        line(1, "receipt", 3, 1000),
        used(2, 2, day=5),
        made(2, 2, day=5),
        used(3, 1, "print", day=5),
        made(3, 1, "set", day=5),
    )
    assert entries(plain_legs(Facts(lines)), 3, 1)[0] == ("work in process", "", 0, -334)


def test_job_comes_before_a_sale_of_the_day() -> None:
    """What is made on a day can be sold on it, also by a sale entered before."""
    lines = (
        line(1, "receipt", 1, 250),
        line(2, "sale", 1, day=9, sku="print"),
        used(3, 1, day=9),
        made(3, 1, day=9),
    )
    assert amounts(plain_legs(Facts(lines)), "pieces sold", 2) == [250]


# What customers bring back


def test_lot_of_three_for_one_never_lets_more_than_one_leave() -> None:
    """Sell for 33 and 34, the first comes back for 33, sell two more for 33 each: 1.00 has left."""
    lines = (
        line(1, "receipt", 3, 100),
        line(2, "sale", 1),
        line(3, "sale", 1),
        back(4, 1, 2),
        line(5, "sale", 2),
    )
    legs = plain_legs(Facts(lines))
    assert amounts(legs, "pieces sold", 2) + amounts(legs, "pieces sold", 3) == [33, 34]
    assert entries(legs, 4) == [("on hand", "1.1", 1000, 33), ("pieces sold", "1.1", -1000, -33)]
    # One taking for each lot: the piece that came back, and one that never left.
    assert amounts(legs, "pieces sold", 5) == [66]


def test_what_left_last_comes_back_first() -> None:
    """A sale out of two lots comes back in reverse: all of the younger lot, then some of the older."""
    lines = (line(1, "receipt", 2, 200), line(2, "receipt", 1, 300), line(3, "sale", 3), back(4, 2, 3))
    assert entries(plain_legs(Facts(lines)), 4) == [
        ("on hand", "2.1", 1000, 300),
        ("pieces sold", "2.1", -1000, -300),
        ("on hand", "1.1", 1000, 100),
        ("pieces sold", "1.1", -1000, -100),
    ]


def test_parts_that_come_back_add_up_to_what_was_sold() -> None:
    """Three sold for 1.00 come back one by one at 33, 34 and 33."""
    lines = (line(1, "receipt", 3, 100), line(2, "sale", 3), back(3, 1, 2), back(4, 1, 2), back(5, 1, 2))
    legs = plain_legs(Facts(lines))
    assert [leg.amount for leg in legs if leg.document > 2 and leg.account == "on hand"] == [33, 34, 33]


def test_lot_that_gets_something_back_keeps_its_place() -> None:
    """A used-up lot that gets a piece back is still the oldest."""
    lines = (
        line(1, "receipt", 1, 100),
        line(2, "receipt", 1, 300),
        line(3, "sale", 1),
        back(4, 1, 3),
        line(5, "sale", 1),
    )
    assert entries(plain_legs(Facts(lines)), 5)[0] == ("on hand", "1.1", -1000, -100)


def test_return_of_the_day_of_its_sale_stands_right_after_it() -> None:
    """The next sale of the day, entered before the return, finds the piece that came back."""
    lines = (
        line(1, "receipt", 1, 100),
        line(2, "sale", 1, day=9),
        line(3, "sale", 1, day=9),
        back(4, 1, 2, day=9),
    )
    assert amounts(plain_legs(Facts(lines)), "pieces sold", 3) == [100]


def test_return_of_another_day_stands_before_what_leaves() -> None:
    """A piece that comes back in the course of a day can be sold on that day by an earlier entry."""
    lines = (line(1, "receipt", 1, 100), line(2, "sale", 1), line(3, "sale", 1, day=9), back(4, 1, 2, day=9))
    assert amounts(plain_legs(Facts(lines)), "pieces sold", 3) == [100]


def test_more_than_was_sold_cannot_come_back() -> None:
    """Two sold, one already back: two more are refused, naming what is still out."""
    lines = (line(1, "receipt", 5, 100), line(2, "sale", 2), back(3, 1, 2), back(4, 2, 2))
    with pytest.raises(Refused, match=r"takes back 2, but of sale 2, line 1 only 1 is still out"):
        plain_legs(Facts(lines))


def test_nothing_comes_back_before_it_was_sold() -> None:
    """A return dated before its sale is refused."""
    lines = (line(1, "receipt", 5, 100), line(3, "sale", 2), back(4, 1, 3, day=2))
    with pytest.raises(Refused, match="only 0 is still out"):
        plain_legs(Facts(lines))


# Shorts


def test_short_stands_at_the_latest_known_cost_after_what_was_there() -> None:
    """Two wanted beyond the lot of three for 10.00: 6.67 by its landed cost, freight included."""
    share = ShareFact(9, 1, 1, 1, 1, 100, "with receipt", "2026-03-01")
    lines = (line(1, "receipt", 3, 900), line(2, "sale", 5, short_allowed=True))
    assert entries(plain_legs(Facts(lines, (share,))), 2) == [
        ("on hand", "1.1", -3000, -1000),
        ("pieces sold", "1.1", 3000, 1000),
        ("on hand", "", -2000, -667),
        ("pieces sold", "", 2000, 667),
    ]


def test_short_of_what_never_had_a_cost_stands_at_its_own_amount() -> None:
    """Nothing was ever received: the line says what it cost."""
    legs = plain_legs(Facts((line(1, "use", 2, 500, short_allowed=True),)))
    assert entries(legs, 1) == [("on hand", "", -2000, -500), ("used", "", 2000, 500)]


def test_short_without_any_cost_is_refused() -> None:
    """Nothing was ever received and no amount is given."""
    with pytest.raises(
        NotEnoughStock, match=r"on hand 0, missing 2\. No cost of it is known yet: give an amount"
    ):
        plain_legs(Facts((line(1, "use", 2, short_allowed=True),)))


def test_short_that_is_not_allowed_is_refused() -> None:
    """A component is short and its line is not marked."""
    with pytest.raises(NotEnoughStock, match=r"\(make\) takes 2, on hand 1, missing 1"):
        plain_legs(Facts((line(1, "receipt", 1, 100), used(2, 2), made(2, 2))))


def test_later_receipt_of_the_month_settles_a_short() -> None:
    """The sale is costed anew out of the lot that came, and what is left is for later sales."""
    lines = (
        line(1, "receipt", 1, 100),
        line(2, "sale", 3, short_allowed=True),
        line(3, "receipt", 4, 800),
        line(4, "sale", 2),
    )
    legs = plain_legs(Facts(lines))
    assert amounts(legs, "pieces sold", 2) == [100, 400]
    assert entries(legs, 2)[3] == ("pieces sold", "3.1", 2000, 400)
    assert amounts(legs, "pieces sold", 4) == [400]


def test_shorts_are_settled_in_their_order_and_in_part() -> None:
    """Two lots come one after the other: the first sale is served first, the rest stays short."""
    lines = (
        line(1, "sale", 2, 90, short_allowed=True),
        line(2, "sale", 2, 70, short_allowed=True),
        line(3, "receipt", 1, 11),
        line(4, "receipt", 2, 44),
    )
    legs = plain_legs(Facts(lines))
    assert amounts(legs, "pieces sold", 1) == [11, 22]
    # The rest of the second sale is one of two for 70.
    assert entries(legs, 2)[1::2] == [("pieces sold", "4.1", 1000, 22), ("pieces sold", "", 1000, 35)]


def test_spoiled_pieces_of_a_lot_leave_before_it_settles() -> None:
    """Of three that came one was ruined: the short gets the second and third."""
    lines = (line(1, "sale", 3, 90, short_allowed=True), line(2, "receipt", 3, 100, expensed_milli=1000))
    legs = plain_legs(Facts(lines))
    assert amounts(legs, "spoilage", 2) == [33]
    assert amounts(legs, "pieces sold", 1) == [67, 30]


def test_receipt_of_the_next_month_settles_nothing() -> None:
    """March's short stays at the cost it was given."""
    lines = (line(1, "sale", 1, 90, short_allowed=True), line(2, "receipt", 1, 50, effect_date="2026-04-01"))
    assert entries(plain_legs(Facts(lines)), 1)[0] == ("on hand", "", -1000, -90)


def test_job_is_costed_anew_when_its_short_is_settled() -> None:
    """Ink came after the job and after the print was sold: all three know its real cost."""
    lines = (
        used(1, 1, amount=900, short_allowed=True),
        made(1, 1),
        line(2, "sale", 1, sku="print"),
        line(3, "receipt", 1, 250),
    )
    legs = plain_legs(Facts(lines))
    assert amounts(legs, "work in process", 1) == [-250, 250]
    assert amounts(legs, "pieces sold", 2) == [250]


def test_job_that_would_settle_its_own_short_is_refused() -> None:
    """Prints made of prints that were not there yet."""
    lines = (
        line(1, "receipt", 1, 100),
        used(2, 1),
        used(2, 1, "print", 3, amount=5, short_allowed=True),
        made(2, 3),
    )
    with pytest.raises(OwnAncestor, match=r"job 2 of print: what was made would settle"):
        plain_legs(Facts(lines))


def test_job_that_would_settle_its_own_short_through_another_is_refused() -> None:
    """Shirts stripped from prints of those same shirts."""
    lines = (
        used(1, 1, amount=100, short_allowed=True),
        made(1, 1),
        used(2, 1, "print"),
        made(2, 1, "shirt"),
    )
    with pytest.raises(OwnAncestor, match=r"job 1 of print"):
        plain_legs(Facts(lines))


def test_what_comes_back_out_of_a_short_is_no_longer_short() -> None:
    """One of two short pieces comes back: the receipt settles the other only."""
    lines = (line(1, "sale", 2, 90, short_allowed=True), back(2, 1, 1), line(3, "receipt", 2, 100))
    legs = plain_legs(Facts(lines))
    assert entries(legs, 2) == [("on hand", "", 1000, 45), ("pieces sold", "", -1000, -45)]
    assert entries(legs, 1)[1::2] == [("pieces sold", "3.1", 1000, 50), ("pieces sold", "", 1000, 45)]


def test_what_came_back_out_of_a_short_leaves_no_cent_behind() -> None:
    """Two short for a cent: the one that came back was worth nothing, so nothing stays once it is settled."""
    lines = (line(1, "sale", 2, 1, short_allowed=True), back(2, 1, 1), line(3, "receipt", 2, 100))
    legs = plain_legs(Facts(lines))
    assert sum(leg.amount for leg in legs if leg.account == "on hand" and leg.lot_document is None) == 0


# What is sent back


def test_send_back_takes_its_own_lot_first_then_the_oldest() -> None:
    """Credit is the invoice cost; what freight had added is a price difference."""
    share = ShareFact(9, 1, 1, 2, 1, 20, "with receipt", "2026-03-02")
    lines = (
        line(1, "receipt", 2, 200),
        line(2, "receipt", 2, 400),
        line(3, "send back", 3, ref_document=2, ref_line=1),
    )
    assert entries(plain_legs(Facts(lines, (share,))), 3) == [
        ("on hand", "2.1", -2000, -420),
        ("returned to supplier", "2.1", 2000, 400),
        ("supplier price differences", "2.1", 0, 20),
        ("on hand", "1.1", -1000, -100),
        ("returned to supplier", "1.1", 1000, 100),
    ]


def test_credit_is_spread_over_what_is_sent_back_by_quantity() -> None:
    """A credit of 1.00 for three pieces out of two lots: 67 and 33."""
    lines = (line(1, "receipt", 2, 200), line(2, "receipt", 2, 400), line(3, "send back", 3, credit=100))
    legs = plain_legs(Facts(lines))
    assert amounts(legs, "returned to supplier", 3) == [67, 33]
    assert amounts(legs, "supplier price differences", 3) == [133, 167]


def test_what_was_made_is_sent_back_at_its_cost() -> None:
    """A lot without an invoice gives its cost as credit."""
    lines = (line(1, "receipt", 1, 200), used(2, 1), made(2, 1), line(3, "send back", 1, sku="print"))
    assert entries(plain_legs(Facts(lines)), 3)[1:] == [("returned to supplier", "2.1", 1000, 200)]


def test_send_back_never_goes_short() -> None:
    """What is not there cannot be sent back, whatever the item allows."""
    lines = (line(1, "receipt", 1, 200), line(2, "send back", 2, short_allowed=True))
    with pytest.raises(NotEnoughStock, match="on hand 1, missing 1"):
        plain_legs(Facts(lines))


# Counts and write-downs


def test_count_that_agrees_has_no_legs() -> None:
    """Nothing differs, nothing is written."""
    assert entries(plain_legs(Facts((line(1, "receipt", 2, 200), line(2, "count", 2)))), 2) == []


def test_count_below_the_book_loses_the_oldest() -> None:
    """Three in the book, one counted."""
    lines = (line(1, "receipt", 1, 100), line(2, "receipt", 2, 400), line(3, "count", 1))
    assert amounts(plain_legs(Facts(lines)), "count differences", 3) == [100, 200]


def test_count_above_the_book_is_a_lot_at_the_latest_cost() -> None:
    """Two too many, at the 2.00 of the latest receipt, and sold like any lot."""
    lines = (line(1, "receipt", 1, 100), line(2, "receipt", 2, 400), line(3, "count", 5), line(4, "sale", 5))
    legs = plain_legs(Facts(lines))
    assert entries(legs, 3) == [("count differences", "", -2000, -400), ("on hand", "3.1", 2000, 400)]
    assert entries(legs, 4)[-1] == ("pieces sold", "3.1", 2000, 400)


def test_count_of_what_never_had_a_cost_is_refused() -> None:
    """No receipt, no cost."""
    with pytest.raises(Refused, match="counts 2 more than the book has, but no cost of it is known"):
        plain_legs(Facts((line(1, "count", 2),)))


def test_count_settles_a_short() -> None:
    """One was there and three sold; one counted means that three more had been there."""
    lines = (
        line(1, "receipt", 1, 100),
        line(2, "sale", 3, short_allowed=True),
        line(3, "count", 1),
        line(4, "count", 1),
    )
    legs = plain_legs(Facts(lines))
    assert entries(legs, 3)[1] == ("on hand", "3.1", 3000, 300)
    assert entries(legs, 2)[3] == ("pieces sold", "3.1", 2000, 200)
    assert entries(legs, 4) == []


def test_write_down_is_spread_by_value_over_what_is_left() -> None:
    """A loss of 1.00 over 1.00 and 2.00: 33 and 67; what is sold then costs less."""
    lines = (
        line(1, "receipt", 2, 200),
        line(2, "sale", 1),
        line(3, "receipt", 2, 200),
        line(4, "write down", 0, 100),
        line(5, "sale", 3),
    )
    legs = plain_legs(Facts(lines))
    assert entries(legs, 4) == [
        ("on hand", "1.1", 0, -33),
        ("write-downs", "1.1", 0, 33),
        ("on hand", "3.1", 0, -67),
        ("write-downs", "3.1", 0, 67),
    ]
    assert amounts(legs, "pieces sold", 5) == [67, 133]


def test_write_down_takes_no_more_than_there_is() -> None:
    """A loss of 9.00 on what cost 2.00 is one of 2.00, and comes after the counts of its day."""
    lines = (line(1, "receipt", 3, 300), line(2, "write down", 0, 900, day=9), line(3, "count", 2, day=9))
    assert amounts(plain_legs(Facts(lines)), "write-downs", 2) == [200]


def test_write_down_adds_up_the_layers_of_a_lot() -> None:
    """A lot with a piece that came back has two layers but one pair of legs; both layers start anew."""
    lines = (
        line(1, "receipt", 3, 300),
        line(2, "sale", 1),
        back(3, 1, 2),
        line(4, "write down", 0, 30),
        line(5, "sale", 3),
    )
    legs = plain_legs(Facts(lines))
    assert amounts(legs, "write-downs", 4) == [30]
    assert amounts(legs, "pieces sold", 5) == [270]


# What cannot be

WRONG_FACTS = {
    "cannot have the role 'component'": (line(1, "sale", 1, role="component"),),
    "cannot have the role 'item'": (line(1, "make", 1),),
    "a job has one product line, this one has 0": (used(1, 1),),
    "a job has one product line, this one has 2": (made(1, 1), made(1, 1, line=2)),
    "more is missing or damaged than the 1 ": (made(1, 1, normal_milli=600, expensed_milli=600),),
    "nothing can be claimed, not 0.5": (made(1, 1, claimed_milli=500),),
    "-1 for labour is below zero": (made(1, 1), made(1, 0, role="labour", line=2, amount=-1)),
    "-1 counted is below zero": (line(1, "count", -1),),
    "a loss of 0 is not above zero": (line(1, "write down", 0),),
    "a credit of -5 is below zero": (line(1, "receipt", 1, 9), line(2, "send back", 1, credit=-5)),
    "no sale line 0.0 of shirt": (line(1, "take back", 1),),
    "no sale line 1.1 of shirt": (line(1, "receipt", 1), back(2, 1, 1)),
    "no receipt or opening line 7.1": (line(1, "send back", 1, ref_document=7, ref_line=1),),
    "the same document and line number": (line(1, "receipt", 1), line(1, "receipt", 2)),
}


@pytest.mark.parametrize("message", WRONG_FACTS)
def test_facts_that_cannot_be_are_refused(message: str) -> None:
    """A line that contradicts itself or another one raises an error that says so."""
    with pytest.raises(ValueError, match=message):
        plain_legs(Facts(WRONG_FACTS[message]))

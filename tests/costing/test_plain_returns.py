"""The plain engine on what customers bring back and what is sent back to suppliers: each rule by a case worked by hand."""

from __future__ import annotations

import pytest
from plain_facts import amounts, back, entries, line, made, used

from ledger.costing.facts import Facts, ShareFact
from ledger.costing.plain import plain_legs
from ledger.errors import NotEnoughStock, Refused


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

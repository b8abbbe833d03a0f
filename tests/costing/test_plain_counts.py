"""The plain engine on counts and write-downs: each rule by a case worked by hand."""

from __future__ import annotations

import pytest
from plain_facts import amounts, back, entries, line

from ledger.costing.facts import Facts
from ledger.costing.plain import plain_legs
from ledger.errors import Refused


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

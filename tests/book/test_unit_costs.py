"""What an item cost a piece: each lot landed, late bills in it, and what left at its own cost."""

from __future__ import annotations

from fractions import Fraction

import pytest
from book_builder import Book, charge, line

from ledger.book import looking
from ledger.book.unit_costs import CameIn, WentOut, unit_costs
from ledger.errors import Refused

TEE = "TEE-SAND-M"


@pytest.fixture
def two_lots(book: Book) -> Book:
    """Ten shirts at 3.50 landed, five at 4.00; twelve sold, which takes two of the second lot."""
    book.receive(line(TEE, 10, 3000), on="01-05", charges=(charge(500),))
    book.receive(line(TEE, 5, 2000), on="02-03")
    book.leave("sale", (TEE, 12), on="02-10")
    return book


def test_each_lot_came_in_at_its_landed_cost(two_lots: Book) -> None:
    """With the freight that was spread over it, whatever is left of it."""
    costs = unit_costs(two_lots.connection, TEE, "USD")
    assert [(one.day, one.event, one.unit_cost_minor) for one in costs.came_in] == [
        ("2026-01-05", "receipt", Fraction(350)),
        ("2026-02-03", "receipt", Fraction(400)),
    ]


def test_what_left_has_the_cost_of_its_lots(two_lots: Book) -> None:
    """Ten at 3.50 and two at 4.00, first in, first out."""
    costs = unit_costs(two_lots.connection, TEE, "USD")
    (left,) = costs.went_out
    assert (left.event, left.quantity_milli, left.cost_minor) == ("sale", 12_000, 3500 + 800)
    assert left.unit_cost_minor == Fraction(4300, 12)


def test_costs_are_those_of_lots_and_history(two_lots: Book) -> None:
    """The same figures as the commands `lots` and `history` print."""
    costs = unit_costs(two_lots.connection, TEE, "USD")
    lots = looking.lots(two_lots.connection, TEE, include_empty=True)
    assert [one.landed_cost_minor for one in costs.came_in] == [lot.landed_cost for lot in lots]
    moves = looking.history(two_lots.connection, TEE)
    assert [one.cost_minor for one in costs.went_out] == [
        -row.amount for row in moves if row.quantity_milli < 0
    ]


def test_a_late_bill_is_in_its_lot(book: Book) -> None:
    """The bill of a closed month raises what the lot cost, and nothing left or came with it."""
    receipt = book.receive(line(TEE, 10, 3000), on="01-05")
    book.close("2026-01")
    book.charge(charge(700), receipt, on="02-20")
    costs = unit_costs(book.connection, TEE, "USD")
    assert costs.went_out == ()
    assert [one.unit_cost_minor for one in costs.came_in] == [Fraction(370)]


def test_an_item_that_never_came_has_no_costs(book: Book) -> None:
    """Known to the book, and nothing to draw."""
    costs = unit_costs(book.connection, TEE, "USD")
    assert (costs.came_in, costs.went_out) == ((), ())


def test_an_unknown_item_is_refused(book: Book) -> None:
    """The message says where to look."""
    with pytest.raises(Refused, match="blankbook items"):
        unit_costs(book.connection, "NO-SUCH", "USD")


def test_costs_of_a_piece_are_exact() -> None:
    """A third of a cent is a third, not a decimal."""
    assert CameIn("2026-01-01", "1.1", "receipt", "", 3000, 100).unit_cost_minor == Fraction(100, 3)
    assert WentOut("2026-01-01", 1, "sale", 3000, 100).unit_cost_minor == Fraction(100, 3)

"""What was bought in a span: prices told later, goods under way, arrivals, losses, corrections."""

from __future__ import annotations

import pytest
from book_builder import Book, charge, line
from orders_builder import SAND, Buyer, loss

from ledger.book.bought import PURCHASES, PurchaseRow, purchases
from ledger.book.month_tables import Span

JANUARY, FEBRUARY = Span("2026-01", "2026-01"), Span("2026-02", "2026-02")
TEE = "TEE-SAND-M"


def bought(book: Book, span: Span, sku: str = TEE) -> list[PurchaseRow]:
    """What was bought of one item."""
    return [row for row in purchases(book.connection, span) if row.sku == sku]


def from_purchases(book: Book, month: str) -> int:
    """What the month's totals say was bought, which no list of documents is behind."""
    query = "SELECT -coalesce(sum(amount), 0) FROM month_total WHERE month = ? AND account = 'purchases'"
    return int(book.connection.execute(query, (month,)).fetchone()[0])


def test_purchases_carry_the_charges_of_their_receipt(book: Book) -> None:
    """The receipt's line, with the freight that came with it."""
    book.receive(line(TEE, 10, 3000), on="01-05", charges=(charge(500),))
    (row,) = bought(book, JANUARY)
    assert (row.quantity_milli, row.amount, row.charges, row.sign) == (10000, 3000, 500, 1)


@pytest.fixture
def unpriced(book: Book) -> int:
    """Ten shirts at 1.00, and ten that came without a price, with 2.00 of freight; the number of the latter."""
    book.receive(line(TEE, 10, 1000), on="01-05")
    return book.receive(line(TEE, 10, 0, provisional=True), on="01-08", charges=(charge(200, "quantity"),))


def test_a_price_not_told_stands_as_provisional(book: Book, unpriced: int) -> None:
    """At the latest known cost."""
    row = bought(book, JANUARY)[-1]
    assert (row.document, row.amount, row.charges, row.provisional) == (unpriced, 1000, 200, 1)


def test_a_price_told_afterwards_is_the_invoice(book: Book, unpriced: int) -> None:
    """The told 12.00 is what was invoiced; the charges are the freight alone, and nothing is provisional."""
    book.charge(charge(1200, kind="goods"), unpriced, on="01-20")
    row = bought(book, JANUARY)[-1]
    assert (row.amount, row.charges, row.provisional) == (1200, 200, 0)
    assert sum(row.amount for row in bought(book, JANUARY)) == from_purchases(book, "2026-01") == 2200


def test_a_price_taken_back_in_its_month_is_provisional_again(book: Book, unpriced: int) -> None:
    """The pair dropped out of the costing."""
    book.undo(book.charge(charge(1200, kind="goods"), unpriced, on="01-20"))
    row = bought(book, JANUARY)[-1]
    assert (row.amount, row.provisional) == (1000, 1)


def test_a_price_corrected_after_the_close_counts_on_its_own_day(book: Book, unpriced: int) -> None:
    """Taken back with 2.00 less and told anew with 5.00 more, each without a piece; January stays."""
    told = book.charge(charge(1200, kind="goods"), unpriced, on="01-20")
    book.close("2026-01")
    book.undo(told)
    book.charge(charge(1500, kind="goods"), unpriced, on="02-20")
    later = Span("2026-02", "2026-12")
    rows = bought(book, later)
    assert sorted((row.amount, row.quantity_milli, row.is_correction) for row in rows) == [
        (-200, 0, 1),
        (500, 0, 1),
    ]
    assert bought(book, JANUARY)[-1].amount == 1200
    assert sum(row.amount for row in rows) == sum(from_purchases(book, month) for month in later.months)


def test_what_is_shipped_is_bought_then(book: Book) -> None:
    """With the shipment's charges, and not when it arrives: its own duty is a charge, its claim goes back."""
    buyer = Buyer(book)
    order = buyer.order()
    buyer.ship(order, reference="NS-7", charges=lambda _: buyer.freight(3_000))
    buyer.arrive(order, losses=[loss(SAND, 2)], charges=lambda _: buyer.freight(600))
    (row,) = bought(book, JANUARY, SAND)
    assert (row.event, row.quantity_milli, row.amount, row.charges) == ("ship", 100_000, 22_000, 2_000)
    assert bought(book, FEBRUARY) == []
    assert (from_purchases(book, "2026-01"), from_purchases(book, "2026-02")) == (34_501, 0)


def test_goods_that_are_the_shops_on_arrival_are_bought_then(book: Book) -> None:
    """And not when they are handed to the carrier."""
    buyer = Buyer(book)
    order = buyer.order(title="arrival", terms="DAP")
    buyer.ship(order, reference="NS-7")
    buyer.arrive(order)
    assert purchases(book.connection, JANUARY) == []
    assert [(row.event, row.amount) for row in purchases(book.connection, FEBRUARY)] == [
        ("receipt", 22_000),
        ("receipt", 12_501),
    ]


def test_what_came_beyond_a_shipment_is_bought_on_arrival(book: Book) -> None:
    """Three more than were shipped, at the order's price."""
    buyer = Buyer(book)
    order = buyer.order()
    buyer.ship(order, reference="NS-7")
    buyer.arrive(order, (SAND, 103))
    (row,) = bought(book, FEBRUARY, SAND)
    assert (row.quantity_milli, row.amount) == (3_000, 660)


def test_pieces_lost_as_an_expense_are_told(book: Book) -> None:
    """One of ten was damaged: it is in the lot's cost and left it at once."""
    book.receive(line(TEE, 10, 1000, expensed_milli=1000), on="01-05")
    (row,) = bought(book, JANUARY)
    assert (row.quantity_milli, row.expensed_milli) == (10_000, 1_000)


def test_a_purchase_of_a_closed_month_that_is_undone_stands_with_a_minus(book: Book) -> None:
    """At the provisional price, as its price was taken back apart."""
    book.receive(line(TEE, 10, 1000), on="01-05")
    number = book.receive(line(TEE, 4, 500), on="01-06", reference="2")
    book.close("2026-01")
    book.undo(number)
    (row,) = bought(book, Span("2026-02", "2026-12"))
    assert (row.event, row.sign, row.amount, row.is_correction) == ("undo", -1, 500, 0)


def test_corrections_are_looked_up_by_what_moved(book: Book) -> None:
    """Neither all legs nor all shares are gone through."""
    values = ("2026-01-01", "2026-01-31", 1, 0, "2026-01", "2026-01")
    plan = " ".join(str(row[3]) for row in book.connection.execute(f"EXPLAIN QUERY PLAN {PURCHASES}", values))
    assert "SEARCH g USING" in plan
    assert not any(f"SCAN {name}" in plan for name in ("g ", "s ", "d ", "l "))

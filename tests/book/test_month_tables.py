"""What stands behind a month's figures: spans, the journal, lots as they were, undone documents."""

from __future__ import annotations

import pytest
from book_builder import Book, charge, line
from orders_builder import Buyer

from ledger.book import month_tables as tables
from ledger.book.month_tables import Span

JANUARY, FEBRUARY = Span("2026-01", "2026-01"), Span("2026-02", "2026-02")
TEE = "TEE-SAND-M"


@pytest.fixture
def two_months(book: Book) -> Book:
    """Ten shirts with freight in January, three sold; five more and two spoiled in February."""
    book.receive(line(TEE, 10, 3000), on="01-05", charges=(charge(500),))
    book.leave("sale", (TEE, 3), on="01-10")
    book.receive(line(TEE, 5, 2000), on="02-03")
    book.leave("spoil", (TEE, 2), on="02-10")
    return book


def test_a_span_has_its_first_and_last_day() -> None:
    """February of a leap year has one day more."""
    assert (Span("2028-01", "2028-02").first_day, Span("2028-01", "2028-02").last_day) == (
        "2028-01-01",
        "2028-02-29",
    )


def test_the_journal_has_the_months_legs_and_no_others(two_months: Book) -> None:
    """Every leg of January, in the order of its documents."""
    legs = tables.journal(two_months.connection, JANUARY)
    expected = [leg for leg in two_months.legs() if leg.effect_date < "2026-02"]
    told = [(leg.document, leg.line, leg.part, leg.account, leg.amount) for leg in legs]
    assert told == [(leg.document, leg.line, leg.part, leg.account, leg.amount) for leg in expected]


def test_the_journal_starts_from_what_moved(book: Book) -> None:
    """It looks legs up by item and date, and never goes through all of them."""
    plan = " ".join(
        str(row[3])
        for row in book.connection.execute(
            f"EXPLAIN QUERY PLAN {tables.JOURNAL}", ("2026-01", "2026-01", "2026-01-01", "2026-01-31")
        )
    )
    assert "SEARCH l USING INDEX leg_sku (sku=? AND effect_date>? AND effect_date<?)" in plan
    assert "SCAN l" not in plan


def test_balances_are_looked_up_item_by_item(book: Book) -> None:
    """What ten years of months held is not read to find what one of them did."""
    rows = book.connection.execute(f"EXPLAIN QUERY PLAN {tables.BALANCES_AT}", ("2026-01",))
    plan = [str(row[3]) for row in rows]
    assert "SEARCH b USING PRIMARY KEY (sku=? AND month=?)" in plan
    assert not any(step.startswith("SCAN b") for step in plan)


def test_lots_are_what_they_were_at_the_months_end(two_months: Book) -> None:
    """January's lot had seven left, at 3.50 landed; the later receipt was not there."""
    (lot,) = tables.lots_held(two_months.connection, JANUARY)
    assert (lot.quantity_held, lot.value_held, lot.invoice_cost, lot.charges) == (7000, 2450, 3000, 500)


def test_lots_of_the_last_month_are_those_of_now(two_months: Book) -> None:
    """Nothing happened since, so nothing is taken off."""
    lots = tables.lots_held(two_months.connection, FEBRUARY)
    assert [(lot.quantity_held, lot.value_held) for lot in lots] == [(5000, 1750), (5000, 2000)]


def test_a_lot_used_up_later_was_still_there(two_months: Book) -> None:
    """What is empty now is listed for the month in which it was not."""
    two_months.leave("sale", (TEE, 5), on="03-02")
    lots = tables.lots_held(two_months.connection, FEBRUARY)
    assert [lot.quantity_held for lot in lots] == [5000, 5000]


def test_what_was_held_before_a_month(two_months: Book) -> None:
    """The stock February began with is what January ended with; January began with none."""
    held = tables.held_before(two_months.connection, "2026-02")
    assert (held[TEE].quantity_milli, held[TEE].amount) == (7000, 2450)
    assert tables.held_before(two_months.connection, "2026-01") == {}


def test_an_undone_document_is_in_no_table(two_months: Book) -> None:
    """A pair that dropped out of the costing dropped out of the lists, too."""
    number = two_months.leave("sale", (TEE, 1), on="02-11")
    assert [row.document for row in tables.earnings(two_months.connection, FEBRUARY)] == [number]
    two_months.undo(number)
    assert tables.earnings(two_months.connection, FEBRUARY) == []


def test_a_charges_head_names_its_receipts(two_months: Book) -> None:
    """The freight bill that came with receipt 1."""
    head = tables.charge(two_months.connection, 2)
    assert (head.kind, head.basis, head.receipts, head.path) == ("freight", "value", "1", "with receipt")


def test_rates_are_those_of_foreign_documents(book: Book) -> None:
    """A receipt in yuan is listed with its rate and source, one in the book's currency is not."""
    book.receive(line(TEE, 10, 3000), on="01-05")
    book.receive(
        line(TEE, 10, 20000), on="01-06", currency="CNY", rate="0.14", rate_source="as given", reference="C-1"
    )
    (row,) = tables.rates(book.connection, JANUARY, "USD")
    assert (row.currency, row.total_foreign, row.rate, row.rate_source, row.total) == (
        "CNY",
        20000,
        "0.14",
        "as given",
        2800,
    )


def test_an_order_has_no_rate_yet(book: Book) -> None:
    """It costs nothing, so only the shipment was converted."""
    buyer = Buyer(book)
    buyer.ship(buyer.order(currency="CNY"), rate="0.14", rate_source="as given")
    assert [row.event for row in tables.rates(book.connection, JANUARY, "USD")] == ["ship"]


def test_values_by_month_follow_the_stock(two_months: Book) -> None:
    """Each month's end, in order."""
    by_month = tables.value_by_month(two_months.connection, ("2026-01", "2026-02"))
    assert [(month, held[TEE].amount) for month, held in by_month] == [("2026-01", 2450), ("2026-02", 3750)]

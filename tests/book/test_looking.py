"""Looking: stock of now and of any day, lots, documents, what happened, what expires."""

from __future__ import annotations

import datetime
from itertools import accumulate

import pytest
from book_builder import Book, charge, line
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger.book import looking
from ledger.book.looking import STOCK_AT_MONTH_END, STOCK_ON
from ledger.book.month_tables import Span, lots_held
from ledger.book.purchases import purchases
from ledger.errors import Refused


@pytest.fixture
def busy(book: Book) -> Book:
    """A book with two months of receipts, sales, a charge and an undo."""
    book.receive(line("TEE-SAND-M", 10, 1000), line("FILM-A3", 100, 900), on="01-05", charges=(charge(100),))
    book.leave("sale", ("TEE-SAND-M", 4), on="01-31")
    book.receive(line("TEE-SAND-M", 10, 2000), line("TEE-PLUM-L", 1, 500), on="02-01")
    book.leave("use", ("FILM-A3", "12.5"), ("TEE-SAND-M", 7), on="02-14")
    book.undo(book.leave("sample", ("TEE-PLUM-L", 1), on="02-20"))
    book.leave("own use", ("TEE-PLUM-L", 1), on="03-01")
    return book


def held(rows: list[looking.StockRow]) -> dict[str, tuple[int, int]]:
    """Quantity and value of what is there."""
    return {row.sku: (row.quantity_milli, row.value) for row in rows if row.quantity_milli or row.value}


def from_legs(book: Book, day: str) -> dict[str, tuple[int, int]]:
    """The same, added up from the legs up to and with a day."""
    sums: dict[str, tuple[int, int]] = {}
    for leg in book.legs():
        if leg.account == "on hand" and leg.effect_date <= day:
            quantity, value = sums.get(leg.sku, (0, 0))
            sums[leg.sku] = (quantity + leg.quantity_milli, value + leg.amount)
    return {sku: both for sku, both in sums.items() if both != (0, 0)}


def test_stock_is_what_the_legs_add_up_to(busy: Book) -> None:
    """What is kept beside the legs says the same."""
    assert held(looking.stock(busy.connection)) == from_legs(busy, "9999-12-31")


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(day=st.dates(min_value=datetime.date(2025, 12, 25), max_value=datetime.date(2026, 4, 5)))
def test_stock_of_a_day_is_the_sum_of_the_legs_until_then(busy: Book, day: object) -> None:
    """Month-end balance and the legs since give the same as all legs, for every day."""
    assert held(looking.stock_on(busy.connection, str(day))) == from_legs(busy, str(day))


def test_stock_of_a_day_uses_the_indexes(busy: Book) -> None:
    """Neither the legs nor the balances are read whole: each is searched by SKU."""
    plan = busy.rows("EXPLAIN QUERY PLAN " + STOCK_ON, "2026-03", "2026-03-31", None, None)
    steps = [str(row[3]) for row in plan]
    assert [step for step in steps if step.startswith("SCAN") and not step.startswith("SCAN i")] == []
    assert (
        sum("COVERING INDEX leg_sku (sku=? AND effect_date>? AND effect_date<?)" in step for step in steps)
        == 2
    )
    assert sum("SEARCH b USING PRIMARY KEY (sku=? AND month<?)" in step for step in steps) == 2


def test_stock_of_a_month_end_reads_no_legs(busy: Book) -> None:
    """The balances alone are asked, searched by SKU and month."""
    plan = busy.rows("EXPLAIN QUERY PLAN " + STOCK_AT_MONTH_END, "2026-03", None, None)
    steps = [str(row[3]) for row in plan]
    assert [step for step in steps if step.startswith("SCAN") and not step.startswith("SCAN i")] == []
    assert sum("SEARCH b USING PRIMARY KEY (sku=? AND month=?)" in step for step in steps) == 1


@pytest.mark.parametrize("day", ["2026-01-31", "2026-02-28", "2025-12-31", "2026-04-30"])
def test_a_month_end_is_answered_from_its_balances(busy: Book, day: str) -> None:
    """On a month's last day stock is asked of the balances, not of the legs, and adds up all the same."""
    asked: list[str] = []
    busy.connection.set_trace_callback(asked.append)
    rows = looking.stock_on(busy.connection, day)
    busy.connection.set_trace_callback(None)
    assert (" leg " in " ".join(asked), held(rows)) == (False, from_legs(busy, day))


@pytest.mark.parametrize(
    ("query", "index"),
    [
        ("SELECT 1 FROM document WHERE content_sha256 = ? AND content_sha256 <> ''", "document_content"),
        ("SELECT 1 FROM document WHERE undoes = ?", "document_undone_once"),
        ("SELECT 1 FROM document_line WHERE sku = ?", "document_line_sku"),
        ("SELECT 1 FROM charge_share WHERE receipt_document = ?", "charge_share_receipt"),
        ("SELECT 1 FROM lot WHERE sku = ? ORDER BY available_from, class, document, line", "lot_sku"),
    ],
)
def test_what_posting_asks_is_indexed(book: Book, query: str, index: str) -> None:
    """A question that every posting asks does not read a whole table."""
    steps = " ".join(str(row[3]) for row in book.rows("EXPLAIN QUERY PLAN " + query, "x"))
    assert (index in steps, "SCAN" in steps, "TEMP B-TREE" in steps) == (True, False, False)


def test_stock_of_a_kind_and_of_a_style(busy: Book) -> None:
    """Both narrow what is shown, now and of a day."""
    for rows in (
        looking.stock(busy.connection, kind="film"),
        looking.stock_on(busy.connection, "2026-01-31", kind="film"),
    ):
        assert [row.sku for row in rows] == ["FILM-A3"]
    for rows in (
        looking.stock(busy.connection, style="Alder"),
        looking.stock_on(busy.connection, "2026-01-31", style="Alder"),
    ):
        assert [row.sku for row in rows] == ["TEE-PLUM-L", "TEE-SAND-M"]


def test_lots_come_in_the_order_they_are_used(busy: Book) -> None:
    """The lot that goes next is first; empty ones only where they are asked for."""
    now = [(lot.document, lot.quantity_on_hand) for lot in looking.lots(busy.connection, "TEE-SAND-M")]
    ever = [lot.document for lot in looking.lots(busy.connection, "TEE-SAND-M", include_empty=True)]
    assert (now, ever) == ([(4, 9000)], [1, 4])


def test_a_document_balances(busy: Book) -> None:
    """The double entry of a sale has both sums at zero."""
    legs = looking.legs(busy.connection, 3)
    assert (sum(leg.amount for leg in legs), sum(leg.quantity_milli for leg in legs), len(legs)) == (0, 0, 2)


def test_a_document_that_is_not_there(book: Book) -> None:
    """The number is named, and where to look."""
    with pytest.raises(Refused, match="no document 12 in the book"):
        looking.document(book.connection, 12)


def test_history_runs_with_its_balance(busy: Book) -> None:
    """Every document that touched the item, and what was there afterwards."""
    rows = looking.history(busy.connection, "TEE-SAND-M")
    assert [(row.document, row.event, row.quantity_milli, row.quantity_after) for row in rows] == [
        (1, "receipt", 10_000, 10_000),
        (2, "charge", 0, 10_000),
        (3, "sale", -4000, 6000),
        (4, "receipt", 10_000, 16_000),
        (5, "use", -7000, 9000),
    ]
    assert [row.value_after for row in rows] == list(accumulate(row.amount for row in rows))


def test_history_stands_in_costing_order(book: Book) -> None:
    """A receipt entered after the sale of its day comes before it: nothing was ever below zero."""
    book.receive(line("TEE-SAND-M", 1), on="01-05")
    book.leave("sale", ("TEE-SAND-M", 1), on="01-10")
    book.receive(line("TEE-SAND-M", 4), on="01-10", charges=(charge(50),))
    book.leave("sale", ("TEE-SAND-M", 3), on="01-10")
    rows = looking.history(book.connection, "TEE-SAND-M")
    assert [row.document for row in rows] == [1, 3, 4, 2, 5]
    assert min(row.quantity_after for row in rows) >= 0


def test_history_of_an_unknown_item(book: Book) -> None:
    """The SKU is named."""
    with pytest.raises(Refused, match="no item TEE-XX"):
        looking.history(book.connection, "TEE-XX")


def test_documents_come_by_number_and_show_what_was_undone(busy: Book) -> None:
    """Nothing is erased from the list."""
    rows = looking.documents(busy.connection)
    assert [row.number for row in rows] == list(range(1, 9))
    assert [(row.number, row.undone_by) for row in rows if row.undone_by] == [(6, 7)]


def test_what_expires_soon_comes_soonest_first(book: Book) -> None:
    """Only lots with something left, up to and with the day."""
    item_days = [("INK-CYAN", "2026-02-10"), ("FILM-A3", "2026-02-01"), ("TEE-SAND-M", "2026-02-11")]
    for number, (sku, day) in enumerate(item_days):
        book.receive(line(sku, 2, 100, expires_on=datetime.date.fromisoformat(day)), on=f"01-0{number + 2}")
    book.receive(line("FILM-A3", 2, 100), on="01-01")
    book.leave("use", ("FILM-A3", 2))
    rows = looking.expiring(book.connection, "2026-02-10")
    assert [(row.sku, row.expires_on, row.quantity_on_hand) for row in rows] == [
        ("FILM-A3", "2026-02-01", 2000),
        ("INK-CYAN", "2026-02-10", 2000),
    ]


def test_a_price_told_afterwards_is_the_lots_goods_everywhere(book: Book) -> None:
    """Lots, the month's lots and what was paid before tell it as the invoice's, not as a charge."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    unpriced = book.receive(
        line("TEE-SAND-M", 10, 0, provisional=True), on="01-08", charges=(charge(150),), reference="B"
    )
    book.charge(charge(1200, kind="goods"), unpriced, on="01-20")
    told = looking.lots(book.connection, "TEE-SAND-M")[1]
    held = lots_held(book.connection, Span("2026-01", "2026-01"))[1]
    paid = purchases(book.connection, ["TEE-SAND-M"])[0]
    assert (told.invoice_cost, told.charges) == (1200, 150)
    assert (held.invoice_cost, held.charges) == (1200, 150)
    assert (paid.invoice_minor, paid.charges_minor) == (1200, 150)

"""Stock by month and kind comes from kept balances alone, and is the closing stock of each month's statement."""

from __future__ import annotations

from contextlib import closing

import pytest
from book_builder import Book, charge, line
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pack_shop import hard_shop

from ledger.book.connect import open_reading
from ledger.book.month_report import read_statement
from ledger.book.stock_by_month import CHANGES, KindValues, StockByMonth, stock_by_month

TEE = "TEE-SAND-M"
MONTHS = ("2026-01", "2026-02", "2026-03")


def statements_agree(stock: StockByMonth, book: object) -> None:
    """Every month's sum, kinds and goods under way are those of its statement, to the cent."""
    for place, month in enumerate(stock.months):
        found = read_statement(book, month)  # type: ignore[arg-type]
        assert stock.totals_minor[place] == found.total.closing_stock
        assert stock.under_way_minor[place] == found.total.under_way
        by_kind = {one.kind: one.amounts_minor[place] for one in stock.kinds if one.amounts_minor[place]}
        assert by_kind == {
            one.name: one.lines.closing_stock for one in found.by_kind if one.lines.closing_stock
        }


def test_stock_by_month_is_the_closing_stock_of_hard_months() -> None:
    """Goods under way, late bills, late prices, reversals, a closed and an open month: always the same sum."""
    with closing(open_reading(hard_shop().book)) as connection:
        stock = stock_by_month(connection, "USD", "2026-01", "2026-03")
        assert stock.under_way_minor[0] > 0
        assert stock.under_way_minor[1] > 0
        statements_agree(stock, connection)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    moves=st.lists(
        st.tuples(st.sampled_from(MONTHS), st.integers(1, 28), st.integers(1, 20), st.integers(0, 9000)),
        min_size=1,
        max_size=6,
    )
)
def test_stock_by_month_is_the_closing_stock_of_any_months(
    book: Book, moves: list[tuple[str, int, int, int]]
) -> None:
    """Receipts and what leaves in any months, also months in which nothing moves."""
    for number, (month, day, pieces, cents) in enumerate(moves):
        book.receive(
            line(TEE, pieces, cents), on=f"{month[5:]}-{day:02d}", reference=f"R-{number}-{len(book.legs())}"
        )
    statements_agree(stock_by_month(book.connection, "USD", "2026-01", "2026-03"), book.connection)


def test_a_month_without_a_movement_keeps_what_was_there(book: Book) -> None:
    """Balances stand only in months in which an item moved; the others carry them on."""
    book.receive(line(TEE, 10, 3000), on="01-05", charges=(charge(500),))
    book.leave("sale", (TEE, 4), on="03-02")
    stock = stock_by_month(book.connection, "USD", "2026-01", "2026-03")
    assert stock.kinds == (KindValues("blank", (3500, 3500, 2100)),)


def test_what_comes_later_is_not_in_it(book: Book) -> None:
    """The last month asked for ends it, whatever the book holds beyond."""
    book.receive(line(TEE, 10, 3000), on="01-05")
    book.receive(line(TEE, 10, 4000), on="02-05")
    assert stock_by_month(book.connection, "USD", "2026-01", "2026-01").totals_minor == (3000,)


def test_kinds_worth_nothing_are_left_out(book: Book) -> None:
    """A book without stock has months and no kinds."""
    stock = stock_by_month(book.connection, "USD", "2026-01", "2026-02")
    assert (stock.months, stock.kinds, stock.totals_minor) == (("2026-01", "2026-02"), (), (0, 0))


def test_the_last_months_alone_drop_kinds_that_are_gone() -> None:
    """What was sold out before has no place in the months that are shown."""
    stock = StockByMonth(
        "USD", MONTHS, (KindValues("blank", (1, 2, 3)), KindValues("vinyl", (4, 0, 0))), (0, 5, 0)
    )
    assert stock.latest(2) == StockByMonth(
        "USD", ("2026-02", "2026-03"), (KindValues("blank", (2, 3)),), (5, 0)
    )


def test_no_leg_is_looked_at(book: Book) -> None:
    """A ten-year book has a million legs and a few thousand balances."""
    plan = " ".join(
        str(row[3]) for row in book.connection.execute(f"EXPLAIN QUERY PLAN {CHANGES}", ("2026-03",))
    )
    assert "month_balance" in plan.replace("SCAN b", "SCAN month_balance")
    assert "leg" not in plan


@pytest.mark.parametrize("count", [1, 24])
def test_never_more_months_than_there_are(count: int) -> None:
    """Asking for more gives all."""
    stock = StockByMonth("USD", MONTHS, (KindValues("blank", (1, 2, 3)),), (0, 0, 0))
    assert stock.latest(count).months == MONTHS[-count:]

"""The shop's own demand read from a book: what counts as wanted, the days without stock, what is coming."""

from __future__ import annotations

from pathlib import Path

import pytest
from book_builder import ITEMS, TODAY, Book, copy_in_memory, day, line, make_book
from orders_builder import Buyer

from ledger.book.demand_history import own_history
from ledger.sourcing.own_history import OwnHistory

SAND, PLUM = ITEMS[0], ITEMS[1]


@pytest.fixture
def book(tmp_path: Path) -> Book:
    """A book in memory without any document."""
    path = tmp_path / "shop.blankbook"
    make_book(path)
    return Book(path, copy_in_memory(path))


def history(book: Book, *skus: str, today: str = "03-31") -> OwnHistory:
    """The history of these items."""
    items = [item for item in ITEMS if item.sku in (skus or (SAND.sku, PLUM.sku))]
    return own_history(book.connection, "Alder", items, day(today))


def test_what_left_because_it_was_wanted_counts(book: Book) -> None:
    """Sold, used, given as a sample, own use; not spoiled, not donated."""
    book.receive(line(SAND.sku, 100), on="01-05")
    for event, pieces in (
        ("sale", 5),
        ("use", 4),
        ("sample", 3),
        ("own use", 2),
        ("spoil", 20),
        ("donate", 10),
    ):
        book.leave(event, (SAND.sku, pieces), on="01-10")
    found = history(book, SAND.sku)
    assert [month.month for month in found.months] == ["2026-01"]
    assert found.sizes[0].left_milli == (14_000,)
    assert found.sizes[0].on_hand_milli == 56_000


def test_an_undone_sale_was_no_demand(book: Book) -> None:
    """What an undo takes back is taken back here too."""
    book.receive(line(SAND.sku, 100), on="01-05")
    book.leave("sale", (SAND.sku, 5), on="01-10")
    book.undo(book.leave("sale", (SAND.sku, 7), on="01-11"))
    assert history(book, SAND.sku).total_milli == 5_000


def test_days_without_stock_are_counted_from_the_balances(book: Book) -> None:
    """Before the first receipt and after the last piece left, until more came; the day it ran out is a day of sale."""
    book.receive(line(SAND.sku, 10), on="01-05")
    book.leave("sale", (SAND.sku, 10), on="01-20")
    book.receive(line(SAND.sku, 10), on="02-03")
    book.leave("sale", (SAND.sku, 1), on="02-28")
    found = history(book, SAND.sku)
    # 1 to 4 January and 21 to 31; 1 and 2 February.
    assert found.sizes[0].days_out == (4 + 11, 2)
    assert found.sizes[0].left_milli == (10_000, 1_000)


def test_the_history_ends_with_the_last_day_the_book_tells_of(book: Book) -> None:
    """A book that was not kept since says nothing of the months after."""
    book.receive(line(SAND.sku, 10), on="01-05")
    book.leave("sale", (SAND.sku, 1), on="01-20")
    found = history(book, SAND.sku, today="03-31")
    assert (found.through, found.months[-1].observed_days) == ("2026-01-20", 20)


def test_days_after_the_last_use_are_not_days_without_use(book: Book) -> None:
    """A receipt, an order or a close later says nothing of what left; a count does, and an undone sale does not."""
    book.receive(line(SAND.sku, 100), on="01-05")
    book.leave("sale", (SAND.sku, 1), on="01-20")
    book.receive(line(SAND.sku, 10), on="02-15")
    Buyer(book).order((SAND.sku, 40, 9000), on="02-20")
    book.undo(book.leave("sale", (SAND.sku, 1), on="03-05"))
    assert history(book, SAND.sku).through == "2026-01-20"
    book.leave("spoil", (SAND.sku, 1), on="03-10")
    assert history(book, SAND.sku).through == "2026-03-10"


def test_the_history_begins_when_the_shop_began_to_sell_anything(book: Book) -> None:
    """Goods that lay while others were sold were there to be sold."""
    book.receive(line(SAND.sku, 10), line(PLUM.sku, 10), on="01-05")
    book.leave("sale", (PLUM.sku, 1), on="02-10")
    book.leave("sale", (SAND.sku, 2), on="03-10")
    assert [month.month for month in history(book, SAND.sku).months] == ["2026-02", "2026-03"]


def test_what_is_ordered_and_not_there_is_coming(book: Book) -> None:
    """An open order counts with what has not arrived."""
    book.receive(line(SAND.sku, 10), on="01-05")
    book.leave("sale", (SAND.sku, 1), on="01-20")
    Buyer(book).order((SAND.sku, 40, 9000), on="01-21")
    (size,) = history(book, SAND.sku).sizes
    assert (size.coming_milli, size.stock) == (40_000, 49)


def test_an_item_that_was_never_there_is_left_out(book: Book) -> None:
    """It has no share in demand; the one size left needs no name."""
    book.receive(line(SAND.sku, 10), on="01-05")
    book.leave("sale", (SAND.sku, 1), on="01-20")
    assert [size.name for size in history(book).sizes] == [""]


def test_a_book_in_which_nothing_left_has_no_history(book: Book) -> None:
    """It is empty, not wrong."""
    book.receive(line(SAND.sku, 10), on="01-05")
    found = history(book, SAND.sku, today=TODAY.isoformat())
    assert found.is_empty
    assert found.months == ()


def test_a_history_goes_back_two_years_at_most(book: Book) -> None:
    """What was wanted earlier says little about next year."""
    book.receive(line(SAND.sku, 100), on="01-05")
    book.leave("sale", (SAND.sku, 5), on="01-10")
    book.leave("sale", (SAND.sku, 4), on="2028-01-20")
    months = [month.month for month in history(book, SAND.sku, today="2028-01-31").months]
    assert (months[0], months[-1], len(months)) == ("2026-02", "2028-01", 24)

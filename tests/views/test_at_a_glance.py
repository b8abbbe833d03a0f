"""`blankbook` alone: what is there, and what is worth doing next, in the order in which it presses."""

from __future__ import annotations

import datetime
from dataclasses import replace

from book_builder import Book, day, line

from ledger.book.at_a_glance import Glance, at_a_glance
from ledger.book.stock_state import read_stock_state
from ledger.views.at_a_glance import glance_text
from ledger.views.page import Point, Points
from ledger.views.stock_to_do import to_do


def glance(book: Book, on: str) -> Glance:
    """Return where the book stands on a day."""
    return at_a_glance(book.connection, datetime.date.fromisoformat(on))


def told(book: Book, on: str) -> str:
    """Return what is said on a day."""
    return glance_text(glance(book, on), "shop.blankbook", lambda words: f"blankbook {words}")


def test_a_new_book_is_told_how_to_begin(book: Book) -> None:
    """With a catalogue and nothing in it, goods come first; no month is over yet."""
    text = told(book, "2026-01-15")
    assert "On the shelf: 0 items of 6 with stock, worth 0.00 USD" in text
    assert "- Receive a shipment.\n    blankbook receive INVOICE.xlsx" in text
    assert "- Enter what is there already.\n    blankbook count --opening --sheet opening.xlsx" in text
    assert "No month is closed yet." in text


def test_values_are_those_of_the_stock_list(book: Book) -> None:
    """The value on the shelf is what was paid."""
    book.receive(line("TEE-SAND-M"))
    found = glance(book, "2026-01-15")
    (value,) = book.rows("SELECT sum(amount) FROM balance")[0]
    assert (found.items_with_stock, found.on_hand_value) == (1, value)
    assert value > 0


def test_months_that_are_over_wait_in_order(book: Book) -> None:
    """A month that ends today is not over; the earliest open one is next and the others are counted."""
    book.receive(line("TEE-SAND-M"))
    assert glance(book, "2026-01-31").months_over == ()
    assert glance(book, "2026-03-31").months_over == ("2026-01", "2026-02")
    assert "2026-01 is over and open (1 month more after it)" in told(book, "2026-03-31")


def listed(book: Book, on: str) -> list[str]:
    """Return what the page of the stock asks its reader to do on a day."""
    (points,) = to_do(read_stock_state(book.connection, None, datetime.date.fromisoformat(on)))
    assert isinstance(points, Points)
    return [point.text if isinstance(point, Point) else point for point in points.points]


def test_what_expires_is_named_a_month_before_and_on_a_page_three(book: Book) -> None:
    """A screen is looked at again soon; a page is kept longer. After its day it is written off, not used."""
    book.receive(line("INK-CYAN", expires_on=day("04-20")))
    soon, gone = "- Expires within 30 days: INK-CYAN on 2026-04-20. Use it first.", "Expires within"
    assert gone not in told(book, "2026-03-20")
    assert soon in told(book, "2026-03-21")
    page = "Expires within 90 days, use it first: INK-CYAN."
    assert page not in listed(book, "2026-01-19")
    assert page in listed(book, "2026-01-20")
    assert page in listed(book, "2026-04-20")
    assert "Expired, not to be used: INK-CYAN." in listed(book, "2026-04-21")
    assert "- Expired and still on the shelf: INK-CYAN. Write off what cannot be used." in told(
        book, "2026-04-21"
    )
    assert gone not in told(book, "2026-04-21")


def test_sizes_that_are_out_are_named_on_the_page(book: Book) -> None:
    """Of what has a style; the plan stands last."""
    book.receive(line("TEE-SAND-M"))
    points = listed(book, "2026-01-15")
    assert points == ["Sold out: TEE-PLUM-L.", "What to order now, from whom and by when:"]


def test_a_page_of_a_day_that_is_past_asks_for_nothing(book: Book) -> None:
    """It tells how things stood."""
    book.receive(line("TEE-SAND-M"))
    state = read_stock_state(book.connection, datetime.date(2026, 1, 10), datetime.date(2026, 1, 15))
    assert to_do(state) == []


def test_a_screen_names_three_and_a_page_six(book: Book) -> None:
    """The others are only counted, each SKU once."""
    skus = ("INK-CYAN", "FILM-A3", "TEE-PLUM-L", "TEE-SAND-M")
    for sku in skus:
        book.receive(line(sku, expires_on=day("04-20")), line(sku, expires_on=day("04-20")))
    (named,) = (row for row in told(book, "2026-04-21").splitlines() if row.startswith("- Expired"))
    assert sum(sku in named for sku in skus) == 3
    assert " and 1 more. " in named
    state = read_stock_state(book.connection, None, datetime.date(2026, 4, 21))
    row = state.expiring[0]
    many = replace(state, expiring=tuple(replace(row, sku=f"S{number}") for number in range(7)))
    (points,) = to_do(many)
    assert isinstance(points, Points)
    assert Point("Expired, not to be used: S0, S1, S2, S3, S4, S5 and 1 more (below).") in points.points

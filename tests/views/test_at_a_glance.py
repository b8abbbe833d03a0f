"""`blankbook` alone: what is there, and what is worth doing next, in the order in which it presses."""

from __future__ import annotations

import datetime

from book_builder import Book, line

from ledger.book.at_a_glance import Glance, at_a_glance
from ledger.views.at_a_glance import glance_text


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

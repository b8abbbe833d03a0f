"""Money paid back without saying for which item: whose it is, and in which parts."""

from __future__ import annotations

import datetime
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as some
from sales_files import export

from ledger.book.row_sources import OrderedItem
from ledger.errors import InputErrors
from ledger.intake.propose_sales import propose_sales
from ledger.intake.read_sales import SalesOptions, read_sales
from ledger.intake.sales import SalesDraft, design_of
from ledger.intake.sales_amounts import Happening
from ledger.intake.sales_orders import ItemOfOrder, shared

HEADINGS = "Date,Type,Order,SKU,Title,Qty,Amount"
SALE = "2026-05-09,Sale,S1,FOX,Fox tee,1,22.00"
REFUND = "2026-05-12,Refund,S1,,,,-3.00"
KEY = '["fair", "S1", "FOX 1", "sale"]'
FOX = OrderedItem("S1", "FOX", 2200, "USD", "Fox tee", KEY)
OWL = OrderedItem("S1", "OWL", 1100, "USD", "Owl tee", "")


def read(*rows: str, book: tuple[OrderedItem, ...] = ()) -> SalesDraft:
    """Return what rows hold where the book knows these sales."""
    layout = propose_sales(export(SALE, REFUND, headings=HEADINGS), party="Fair", currency="USD")
    options = SalesOptions(
        "Fair", orders=lambda party, order: book if (party, order) == ("Fair", "S1") else ()
    )
    return read_sales(export(*rows, headings=HEADINGS), layout.to_profile(), options)


def test_an_order_of_the_book_tells_the_item() -> None:
    """A later export has the refund alone; it counts for the item's design."""
    (row,) = read(REFUND, book=(FOX,)).rows
    assert (row.sku, row.amount, design_of(row)) == ("FOX", 3, "Fox tee")


def test_the_same_refund_is_known_again_without_its_sale() -> None:
    """With the sale in the file or in the book, it has one key and one content."""
    assert read(SALE, REFUND).rows[1].source == read(REFUND, book=(FOX,)).rows[0].source


def test_refunds_are_counted_by_day() -> None:
    """A later export that begins between two refunds finds the second again."""
    later = REFUND.replace("05-12", "05-14")
    assert read(SALE, REFUND, later).rows[2].source == read(later, book=(FOX,)).rows[0].source


def test_file_and_book_together_are_the_order() -> None:
    """What stands in both counts once; the parts go by what was sold."""
    rows = read(SALE, REFUND, book=(FOX, OWL)).rows[1:]
    assert [(row.sku, row.amount) for row in rows] == [("FOX", 2), ("OWL", 1)]


def test_an_order_nobody_knows_is_refused() -> None:
    """Neither the file nor the book has a sale of it."""
    with pytest.raises(InputErrors, match="nor the book has a sale of order S1"):
        read(REFUND)


@given(some.lists(some.integers(1, 10**6), min_size=2, max_size=6), some.integers(1, 10**6))
def test_the_parts_add_up(weights: list[int], cents: int) -> None:
    """To the cent, whatever the items sold for."""
    items = [ItemOfOrder(str(place), Fraction(weight, 100)) for place, weight in enumerate(weights)]
    event = Happening("refund", datetime.date(2026, 5, 9), None, Fraction(cents, 100))
    parts = shared(event, items, "USD")
    assert sum((share.event.amount or Fraction(0) for share in parts), Fraction(0)) == Fraction(cents, 100)

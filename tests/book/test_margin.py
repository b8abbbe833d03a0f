"""Margin by design, way and SKU, misprints, shrinkage and slow movers, in whole numbers."""

from __future__ import annotations

from fractions import Fraction

import pytest
from book_builder import Book, line
from documents_builder import leave, make, milli, post_lines, take_back

from ledger.book.bill_store import save_bills
from ledger.book.catalogue_store import save_items
from ledger.book.connect import write_tx
from ledger.book.documents import NewLine
from ledger.book.margin import NO_BILL, NOT_DECORATED, Margin, MarginRow, margin, sales_frame
from ledger.catalogue.boms import Bill, BillLine
from ledger.catalogue.items import Item

BILLS = (
    Bill(
        "FOX",
        "A fox",
        "direct to film",
        "Alder",
        "FOX-{size}",
        (BillLine("FILM-A3", per_piece=Fraction(1)),),
        Fraction(5),
    ),
    Bill(
        "OWL", "An owl", "screen print", "Alder", "OWL-{size}", (BillLine("FILM-A3", per_piece=Fraction(1)),)
    ),
)

FINISHED = tuple(
    Item(f"{style}-{size}", f"{style}, {size}", "finished", "goods", "each", style, "", size)
    for style, size in (("FOX", "M"), ("FOX", "L"), ("OWL", "M"), ("ELK", "M"))
)


@pytest.fixture
def shop(book: Book) -> Book:
    """A book with two bills, and stock of what they make and of one design without a bill."""
    with write_tx(book.connection):
        save_items(book.connection, FINISHED, [])
        save_bills(book.connection, BILLS)
    book.receive(line("TEE-SAND-M", 100, 10000), on="01-02")
    for sku in ("FOX-M", "FOX-L", "OWL-M", "ELK-M"):
        make(book.connection, (sku, 10), ("TEE-SAND-M", 10), on="01-03")
    return book


def sell(shop: Book, sku: str, pieces: int, cents: int, on: str = "01-10", **more: int) -> int:
    """Post a sale; ``more`` are shipping and fees."""
    sold = NewLine(line=1, sku=sku, quantity_milli=milli(pieces), amount=cents, **more)  # type: ignore[arg-type]
    return post_lines(shop.connection, "sale", [sold], on)


def january(shop: Book, by: str = "design") -> Margin:
    """The margin of January."""
    return margin(shop.connection, "2026-01-01", "2026-01-31", by=by, slow_days=20)


def test_sizes_of_a_design_are_one_row(shop: Book) -> None:
    """What was sold, charged, kept as fees, what it cost, what is left; the best design first."""
    sell(shop, "FOX-M", 2, 4000, shipping=500, fees=300)
    sell(shop, "FOX-L", 1, 2000, fees=100)
    sell(shop, "OWL-M", 1, 9000)
    assert january(shop).rows == (
        MarginRow("OWL", "An owl", 1000, 9000, 0, 0, 100),
        MarginRow("FOX", "A fox", 3000, 6000, 500, 400, 300),
    )


def test_what_is_left_and_its_percentage() -> None:
    """60.00 and 5.00 of shipping, less 4.00 and 3.00, is 58.00 of 65.00."""
    row = MarginRow("FOX", "", 3000, 6000, 500, 400, 300)
    assert (row.left, row.percent) == (5800, Fraction(5800, 65))


def test_no_percentage_of_nothing() -> None:
    """A shirt sold for nothing has a cost, and no percentage."""
    assert MarginRow("FOX", "", 1000, 0, 0, 0, 100).percent is None


def test_ways_and_what_has_none(shop: Book) -> None:
    """By the bill's way; a finished item without a bill, and a blank sold as it came, are told apart."""
    for sku, cents in (("FOX-M", 4000), ("OWL-M", 3000), ("ELK-M", 2000), ("TEE-SAND-M", 1000)):
        sell(shop, sku, 1, cents)
    rows = january(shop, "way").rows
    assert [(row.name, row.revenue) for row in rows] == [
        ("direct to film", 4000),
        ("screen print", 3000),
        (NO_BILL, 2000),
        (NOT_DECORATED, 1000),
    ]


def test_by_sku_the_items_name_stands_beside(shop: Book) -> None:
    """Every size by itself."""
    sell(shop, "FOX-M", 1, 2000)
    sell(shop, "FOX-L", 1, 1000)
    assert [(row.name, row.label) for row in january(shop, "sku").rows] == [
        ("FOX-M", "FOX, M"),
        ("FOX-L", "FOX, L"),
    ]


def test_returns_and_refunds_take_back_money_and_cost(shop: Book) -> None:
    """A shirt that comes back is stock again; a refund alone gives money back and no shirt."""
    sale = sell(shop, "FOX-M", 3, 6000)
    back = NewLine(line=1, sku="FOX-M", quantity_milli=1000, amount=2000, lot_document=sale, lot_line=1)
    post_lines(shop.connection, "take back", [back], "01-12")
    paid = NewLine(line=1, sku="FOX-M", quantity_milli=0, amount=500)
    post_lines(shop.connection, "refund", [paid], "01-13")
    (row,) = january(shop).rows
    assert (row.pieces_milli, row.revenue, row.cost) == (2000, 3500, 200)


def test_undone_sales_are_not_there(shop: Book) -> None:
    """The pair drops out, money and cost."""
    shop.undo(sell(shop, "FOX-M", 3, 6000))
    found = january(shop)
    assert (found.rows, found.total.revenue) == ((), 0)


def test_only_the_span_counts(shop: Book) -> None:
    """A sale of the day before is not in it, one of its last day is."""
    sell(shop, "FOX-M", 1, 1000, on="01-09")
    sell(shop, "FOX-M", 1, 2000, on="01-10")
    sell(shop, "FOX-M", 1, 4000, on="01-11")
    found = margin(shop.connection, "2026-01-10", "2026-01-11")
    assert (found.total.revenue, found.total.cost) == (6000, 200)


def test_frames_hold_whole_numbers(shop: Book) -> None:
    """Money that pandas turned into floats would lose cents in a long history."""
    take_back(shop.connection, "FOX-M", 1, sell(shop, "FOX-M", 3, 6000))
    frame = sales_frame(shop.connection, "2026-01-01", "2026-01-31")
    kinds = {str(frame[name].dtype) for name in ("pieces_milli", "revenue", "shipping", "fees", "cost")}
    assert kinds == {"int64"}


def test_an_empty_book_has_no_rows(book: Book) -> None:
    """Nothing sold, made, counted or idle."""
    found = margin(book.connection, "2026-01-01", "2026-01-31")
    assert (found.rows, found.misprints, found.shrinkage, found.slow) == ((), (), (), ())
    assert found.total.left == 0


def test_misprints_beside_what_the_bill_plans(shop: Book) -> None:
    """Twenty fox shirts were made well, then twenty begun and four spoiled: a tenth; the bill plans a twentieth."""
    make(shop.connection, ("FOX-M", 20), ("TEE-SAND-M", 20), on="01-05", normal=3, abnormal=1)
    first = january(shop).misprints[0]
    assert (first.name, first.pieces_milli, first.normal_milli, first.abnormal_milli) == (
        "FOX",
        40000,
        3000,
        1000,
    )
    assert (first.percent, first.planned_percent) == (10, 5)


def test_undone_jobs_spoiled_nothing(shop: Book) -> None:
    """They are as if never made."""
    shop.undo(make(shop.connection, ("FOX-M", 20), ("TEE-SAND-M", 20), on="01-05", abnormal=4))
    assert all(row.percent == 0 for row in january(shop).misprints)


def test_shrinkage_beside_what_left(shop: Book) -> None:
    """Sixty blanks should be there, 58 were: 2.00 missing, while 40.00 left for jobs and 0 otherwise."""
    post_lines(shop.connection, "count", [NewLine(line=1, sku="TEE-SAND-M", quantity_milli=58000)], "01-20")
    (row,) = january(shop).shrinkage
    assert (row.kind, row.differences, row.left, row.percent) == ("blank", 200, 4000, 5)


def test_gains_lower_shrinkage(shop: Book) -> None:
    """Two more than the book has."""
    post_lines(shop.connection, "count", [NewLine(line=1, sku="TEE-SAND-M", quantity_milli=62000)], "01-20")
    (row,) = january(shop).shrinkage
    assert (row.differences, row.percent) == (-200, -5)


def test_slow_movers_by_value(shop: Book) -> None:
    """What nobody bought or used for twenty days, the most valuable first; what moved since is not slow."""
    sell(shop, "FOX-M", 4, 8000, on="01-04")
    sell(shop, "FOX-L", 1, 2000, on="01-30")
    leave(shop.connection, "use", ("TEE-SAND-M", 1), on="01-29")
    rows = january(shop).slow
    assert [(row.sku, row.value, row.last_left, row.days) for row in rows] == [
        ("ELK-M", 1000, "", 28),
        ("OWL-M", 1000, "", 28),
        ("FOX-M", 600, "2026-01-04", 27),
    ]


def test_what_came_in_lately_is_not_slow(shop: Book) -> None:
    """It was not there long enough to be."""
    shop.receive(line("INK-CYAN", 10, 1000), on="01-15")
    assert "INK-CYAN" not in [row.sku for row in january(shop).slow]


def test_a_given_sample_does_not_make_an_item_move(shop: Book) -> None:
    """Only sales and uses do."""
    leave(shop.connection, "sample", ("ELK-M", 1), on="01-30")
    assert ("ELK-M", "") in [(row.sku, row.last_left) for row in january(shop).slow]


def test_a_sale_of_a_closed_month_undone_later_counts_against_the_later_one(shop: Book) -> None:
    """January keeps its sale; the month of the undo gives its money and its cost back."""
    sale = sell(shop, "FOX-M", 3, 6000)
    shop.close("2026-01")
    shop.undo(sale)
    assert (january(shop).total.revenue, january(shop).total.cost) == (6000, 300)
    later = margin(shop.connection, "2026-02-01", "2026-03-31").total
    assert (later.pieces_milli, later.revenue, later.cost) == (-3000, -6000, -300)

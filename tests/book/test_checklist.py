"""The checklist before a close: each point once where it is so, and not where it is not."""

from __future__ import annotations

import pytest
from book_builder import Book, charge, day, disarm, line
from documents_builder import finished, leave, make, milli, post_lines

from ledger.book.checklist import CheckItem, checklist
from ledger.book.documents import NewLine


def points(book: Book, month: str, word: str) -> list[CheckItem]:
    """The points of the checklist that say a word."""
    return [point for point in checklist(book.connection, month) if word in point.what]


def count(book: Book, sku: str, pieces: int, on: str) -> None:
    """Post a count of one item."""
    post_lines(book.connection, "count", [NewLine(line=1, sku=sku, quantity_milli=milli(pieces))], on)


def sell(book: Book, sku: str, pieces: int, cents: int, on: str) -> int:
    """Sell pieces of one item for some cents together."""
    sold = NewLine(line=1, sku=sku, quantity_milli=milli(pieces), amount=cents)
    return post_lines(book.connection, "sale", [sold], on)


def use_short(book: Book, on: str, *, estimated: int = 0) -> int:
    """Use three shirts that never came in."""
    used = NewLine(
        line=1, sku="TEE-SAND-M", quantity_milli=3000, amount=900, short_allowed=1, estimated=estimated
    )
    return post_lines(book.connection, "use", [used], on)


def test_a_month_in_order_has_no_points(book: Book) -> None:
    """One priced receipt and a sale of it."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    sell(book, "TEE-SAND-M", 4, 900, on="01-09")
    assert checklist(book.connection, "2026-01") == []


def test_what_was_used_before_it_was_entered_blocks(book: Book) -> None:
    """With the document, what is missing, and the receipt that would settle it."""
    number = use_short(book, "01-09")
    (point,) = points(book, "2026-01", "never came in")
    assert point.is_blocking
    assert point.where == f"use {number} of 2026-01-09"
    assert point.command.startswith("blankbook receive --sku TEE-SAND-M --quantity 3 --unit each --amount")


def test_a_short_of_a_later_month_does_not_block(book: Book) -> None:
    """January can be closed while February waits for its receipt."""
    use_short(book, "02-09")
    assert checklist(book.connection, "2026-01") == []


def test_an_estimated_use_never_blocks(book: Book) -> None:
    """It is advice to count the item on the month's last day."""
    use_short(book, "01-09", estimated=1)
    (point,) = points(book, "2026-01", "estimated")
    assert not point.is_blocking
    assert point.command == "blankbook count TEE-SAND-M QUANTITY --date 2026-01-31"


def test_a_finished_item_that_is_short_is_made(book: Book) -> None:
    """It comes from a job, not from a supplier."""
    finished(book.connection, "FOX")
    given = NewLine(line=1, sku="FOX", quantity_milli=2000, amount=900, short_allowed=1)
    post_lines(book.connection, "sample", [given], "01-09")
    (point,) = points(book, "2026-01", "never came in")
    assert point.command == "blankbook make FOX 2 --date 2026-01-09"


def test_a_receipt_without_a_price_blocks(book: Book) -> None:
    """Until its goods are charged for, or it is undone."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    number = book.receive(line("TEE-SAND-M", 10, 0, provisional=True), on="01-08")
    (point,) = points(book, "2026-01", "without a price")
    assert point.is_blocking
    assert point.command == f'blankbook charge "goods AMOUNT by value" --on {number}'
    book.charge(charge(1200, kind="goods"), number, on="01-20")
    assert points(book, "2026-01", "without a price") == []


def test_an_undone_receipt_needs_no_price(book: Book) -> None:
    """It is not there any more."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    book.undo(book.receive(line("TEE-SAND-M", 10, 0, provisional=True), on="01-08"))
    assert points(book, "2026-01", "without a price") == []


@pytest.mark.parametrize(("with_freight", "asked"), [((1, 1), True), ((1, 0), False), ((1,), False)])
def test_freight_that_usually_comes_is_missed(
    book: Book, with_freight: tuple[int, ...], *, asked: bool
) -> None:
    """Most earlier receipts of the supplier, two at least, had a freight bill; this one has none."""
    for place, has_freight in enumerate(with_freight, 1):
        charges = (charge(100),) if has_freight else ()
        book.receive(line("TEE-SAND-M", 10, 1000 + place), on=f"01-0{place}", charges=charges)
    number = book.receive(line("TEE-PLUM-L", 10, 1000), on="02-05")
    found = points(book, "2026-02", "freight bill")
    assert [point.where for point in found] == ([f"receipt {number} of 2026-02-05"] if asked else [])
    assert all(not point.is_blocking for point in found)


def test_freight_that_came_is_not_missed(book: Book) -> None:
    """Three receipts, three freight bills."""
    for place in (1, 2, 3):
        book.receive(line("TEE-SAND-M", 10, 1000 + place), on=f"01-0{place}", charges=(charge(100),))
    assert points(book, "2026-01", "freight bill") == []


def test_a_full_count_is_due_in_the_tax_years_last_month(book: Book) -> None:
    """Items with stock that were not counted in it are named; those that were are not."""
    disarm(book.connection)
    book.connection.execute("UPDATE shop SET tax_year_starts = '04'")
    book.receive(line("TEE-SAND-M", 10, 1000), line("TEE-PLUM-L", 10, 1000), on="01-05")
    count(book, "TEE-SAND-M", 10, "03-30")
    (point,) = points(book, "2026-03", "full count")
    assert (point.where, point.is_blocking) == ("TEE-PLUM-L", False)
    assert point.command == "blankbook count --sheet count.xlsx"


def test_counts_older_than_the_shops_rule_are_named(book: Book) -> None:
    """A shop that counts every month did not in March."""
    book.connection.execute("INSERT INTO policy (name, value, recorded_at) VALUES ('counts', 'monthly', '')")
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    count(book, "TEE-SAND-M", 10, "01-30")
    (point,) = points(book, "2026-03", "not counted since")
    assert point.where == "TEE-SAND-M"
    count(book, "TEE-SAND-M", 10, "03-02")
    assert points(book, "2026-03", "not counted since") == []


def test_a_count_that_a_close_made_is_no_count(book: Book) -> None:
    """Correcting an estimated use is not looking at the shelf."""
    disarm(book.connection)
    book.connection.execute("UPDATE shop SET tax_year_starts = '02'")
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    counted = [NewLine(line=1, sku="TEE-SAND-M", quantity_milli=10000)]
    post_lines(book.connection, "count", counted, "01-31", note="use corrected")
    assert len(points(book, "2026-01", "full count")) == 1


def test_what_came_in_for_nothing_is_asked_about(book: Book) -> None:
    """A customer's own goods are not: they never cost anything."""
    number = book.receive(line("TEE-SAND-M", 10, 0), line("GUEST-HOOD", 3, 0), on="01-05")
    (point,) = points(book, "2026-01", "for nothing")
    assert (point.where, point.command) == (
        f"lot {number}.1, receipt of 2026-01-05",
        f"blankbook show {number}",
    )


@pytest.mark.parametrize(("cents", "word"), [(5001, "more"), (5000, None), (200, None), (199, "less")])
def test_a_unit_cost_far_from_the_usual_is_asked_about(book: Book, cents: int, word: str | None) -> None:
    """More than five times the median of the item's lots, or less than a fifth of it."""
    for place in (2, 3):
        book.receive(line("TEE-SAND-M", 10, 1000), on=f"01-0{place}", reference=str(place))
    book.receive(line("TEE-SAND-M", 10, cents), on="02-05")
    found = points(book, "2026-02", "than usual")
    assert [f"much {word}" in point.what for point in found] == ([True] if word else [])


def test_what_has_expired_is_still_there(book: Book) -> None:
    """What expires on the month's last day is good until its end; what is used up is not asked about."""
    for expires, on in (("2026-01-30", "01-02"), ("2026-01-31", "01-03")):
        book.receive(line("INK-CYAN", 10, 1000, expires_on=day(expires)), on=on, reference=on)
    (point,) = points(book, "2026-01", "expired")
    assert point.command == 'blankbook spoil INK-CYAN 10 --note "expired 2026-01-30" --date 2026-01-31'
    book.leave("use", ("INK-CYAN", 10), on="01-20")
    assert points(book, "2026-01", "expired") == []


@pytest.mark.parametrize(
    ("source", "asked"), [("European Central Bank reference rates, 2026-01-02", 1), ("typed", 0)]
)
def test_a_foreign_bill_at_a_reference_rate_is_asked_about(book: Book, source: str, asked: int) -> None:
    """The rate that was paid is better known by the shop's bank."""
    book.receive(line("TEE-SAND-M", 10, 9000), on="01-05", currency="CNY", rate="0.14", rate_source=source)
    assert len(points(book, "2026-01", "reference rate")) == asked


@pytest.mark.parametrize(
    ("shipped", "arrived", "asked"), [("01-02", None, 1), ("02-20", None, 0), ("01-02", "02-28", 0)]
)
def test_goods_long_under_way_are_asked_about(
    book: Book, shipped: str, arrived: str | None, asked: int
) -> None:
    """Shipped more than sixty days before the month's end, and not arrived."""
    goods = NewLine(line=1, sku="TEE-SAND-M", quantity_milli=10000, amount=1000)
    number = post_lines(book.connection, "ship", [goods], shipped)
    if arrived:
        there = NewLine(line=1, sku="TEE-SAND-M", quantity_milli=10000, lot_document=number, lot_line=1)
        post_lines(book.connection, "receipt", [there], arrived, follows=number)
    found = points(book, "2026-03", "under way")
    assert [point.where for point in found] == [f"ship {number} of 2026-{shipped}"] * asked


def test_what_blocks_stands_first(book: Book) -> None:
    """Advice comes after it."""
    book.receive(line("TEE-PLUM-L", 10, 0), on="01-02")
    use_short(book, "01-09")
    assert [point.is_blocking for point in checklist(book.connection, "2026-01")] == [True, False]


def test_jobs_lots_are_held_against_each_other(book: Book) -> None:
    """A job whose shirts cost ten times as much as before."""
    finished(book.connection, "FOX")
    book.receive(line("TEE-SAND-M", 30, 3000), on="01-02")
    for on, paid in (("01-03", 0), ("01-04", 0), ("01-05", 9000)):
        make(book.connection, ("FOX", 10), ("TEE-SAND-M", 10), on=on, labour_cents=paid)
    assert [point.where[-18:] for point in points(book, "2026-01", "much more")] == ["make of 2026-01-05"]


def test_what_was_sold_below_cost_is_advice(book: Book) -> None:
    """It stands in the list, and never stops a close."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-02")
    sell(book, "TEE-SAND-M", 2, 150, on="01-04")
    (point,) = checklist(book.connection, "2026-01")
    assert ("below cost" in point.what, point.is_blocking) == (True, False)


def test_leaving_documents_are_no_lots(book: Book) -> None:
    """A sale at no price is nothing to ask about here."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-02")
    leave(book.connection, "sample", ("TEE-SAND-M", 1), on="01-04")
    assert checklist(book.connection, "2026-01") == []


@pytest.mark.parametrize(("shipped_on", "asked"), [("2026-01-28", 1), ("2026-01-27", 0)])
def test_shipment_without_a_day_on_board_is_asked_about(book: Book, shipped_on: str, asked: int) -> None:
    """Only where the day it was handed over stands for the day on board, which decides about the month."""
    goods = NewLine(line=1, sku="TEE-SAND-M", quantity_milli=milli(10), amount=1000)
    number = post_lines(book.connection, "ship", [goods], "01-28", terms="on board", shipped_on=shipped_on)
    found = points(book, "2026-01", "day on board")
    assert [point.where for point in found] == [f"ship {number} of {shipped_on}"] * asked

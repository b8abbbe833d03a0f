"""Rows of an events sheet matched with the book: items, units, bills and rates become entries."""

from __future__ import annotations

import datetime
from dataclasses import replace
from fractions import Fraction

import pytest
from book_builder import Book
from event_shop import EventShop, event_shop

from ledger.book.entries import AnyEntry, ChargeEntry, Entry, EntryLine, ReceiptEntry
from ledger.errors import InputErrors
from ledger.intake.events import EventRow
from ledger.intake.resolve_events import DOCUMENT_EVENTS, EventOptions, resolve_events


@pytest.fixture
def shop(book: Book) -> EventShop:
    """A book with a few items and a bill."""
    return event_shop(book)


def row(event: str, sku: str = "TEE-SAND-M", quantity: str | None = "1", **fields: object) -> EventRow:
    """A row of the 10th of January."""
    many = None if quantity is None else Fraction(quantity)
    return EventRow("row 2", datetime.date(2026, 1, 10), event, sku, many, **fields)  # type: ignore[arg-type]


def resolved(shop: EventShop, *rows: EventRow, short: bool = False) -> tuple[AnyEntry, ...]:
    """The entries of some rows."""
    return resolve_events(shop.book.connection, rows, EventOptions(short, "events.csv")).entries


def entry(shop: EventShop, one: EventRow, *, short: bool = False) -> Entry:
    """The only entry of a row."""
    (found,) = resolved(shop, one, short=short)
    assert isinstance(found, Entry)
    return found


def line(shop: EventShop, one: EventRow, *, short: bool = False) -> EntryLine:
    """The only line of a row's entry."""
    (found,) = entry(shop, one, short=short).lines
    return found


def problems(shop: EventShop, *rows: EventRow) -> list[str]:
    """What is said of rows that cannot be resolved."""
    with pytest.raises(InputErrors) as errors:
        resolved(shop, *rows)
    return [str(problem) for problem in errors.value.problems]


@pytest.mark.parametrize(("word", "event"), DOCUMENT_EVENTS.items())
def test_each_event_has_its_document(shop: EventShop, word: str, event: str) -> None:
    """The sheet's word with an underscore, the document's with a space."""
    one = replace(row(word), date=datetime.date(2026, 1, 1), amount=Fraction(3))
    assert entry(shop, one).event == event


@pytest.mark.parametrize(
    ("sku", "quantity", "unit", "milli"),
    [
        ("TEE-SAND-M", "3", "", 3000),
        ("TEE-SAND-M", "2", "dozen", 24_000),
        ("INK-CYAN", "1.5", "L", 1_500_000),
        ("INK-CYAN", "0.125", "mL", 125),
        ("INK-CYAN", "1", "fl oz", 29_574),
    ],
)
def test_quantities_come_in_any_unit_of_the_item(
    shop: EventShop, sku: str, quantity: str, unit: str, milli: int
) -> None:
    """In thousandths of the base unit, rounded once."""
    assert line(shop, row("use", sku, quantity, unit=unit)).quantity_milli == milli


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (row("use", "TEE-SAN-M"), "the book has no item TEE-SAN-M. Did you mean 'TEE-SAND-M'?"),
        (row("use", unit="yard"), "yd measures length, and the item is kept in each"),
        (row("use", "INK-CYAN", unit="kg"), "kg"),
        (row("use", "INK-CYAN", "1.0004"), "1.0004 is finer than a thousandth"),
        (row("use", "INK-CYAN", "0.0000001", unit="L"), "comes to nothing in mL"),
        (row("sell", amount=Fraction("1.005")), "1.005 has more decimals than USD has"),
        (row("sell", amount=Fraction(5), currency="VND"), "VND"),
        (row("make", "FOX-SAND-XXL"), "no bill of materials makes FOX-SAND-XXL"),
        (row("make", "TEE-SAND-M"), "no bill of materials makes TEE-SAND-M"),
        (row("make", "FOX-SAND-M", "1.5", kind="good"), "1.5 is not a whole number of pieces"),
        (row("opening", amount=Fraction(5)), "opening stock is what the shop had on 2026-01-01"),
    ],
)
def test_what_cannot_be_is_told_with_its_row(shop: EventShop, one: EventRow, said: str) -> None:
    """One problem, its place before it."""
    (problem,) = problems(shop, one)
    assert (problem.startswith("row 2: "), said in problem) == (True, True)


def test_an_unknown_item_is_told_once_with_its_rows(shop: EventShop) -> None:
    """Three rows of one unknown SKU are one problem that names them all."""
    wrong = [replace(row("sell", "NOTHING"), where=f"row {number}") for number in (2, 3, 7)]
    assert [text.endswith("Also: row 3; row 7.") for text in problems(shop, *wrong)] == [True]


def test_every_problem_of_a_sheet_is_told_at_once(shop: EventShop) -> None:
    """Rows, receipts and jobs in one list."""
    wrong = [
        replace(row("use", "NOTHING"), where="row 2"),
        replace(row("receive", "NOTHING", amount=Fraction(5)), where="row 3"),
        replace(row("make", "NOTHING", kind="good"), where="row 4"),
        replace(row("sell", "NOTHING-ELSE"), where="row 5"),
    ]
    assert sorted(problem.partition(":")[0] for problem in problems(shop, *wrong)) == [
        "row 2",
        "row 3",
        "row 4",
        "row 5",
    ]


def test_foreign_amounts_are_converted_at_the_rate_typed(shop: EventShop) -> None:
    """10 euro at 1.10 are 11.00; both stay with the document."""
    sale = entry(shop, row("sell", amount=Fraction(10), currency="EUR", rate="1.10", fees=Fraction(1)))
    (one,) = sale.lines
    assert (sale.currency, sale.rate, one.amount, one.amount_foreign, one.fees) == (
        "EUR",
        "1.10",
        1100,
        1000,
        110,
    )


def test_leave_to_go_short_is_each_lines(shop: EventShop) -> None:
    """As the command was told."""
    assert (line(shop, row("use")).short_allowed, line(shop, row("use"), short=True).short_allowed) == (
        False,
        True,
    )


def test_the_amount_of_a_send_back_is_the_credit(shop: EventShop) -> None:
    """Left out it is none, which is not a credit of nothing."""
    back = row("send_back", applies_to=("1",))
    credits_ = [
        line(shop, replace(back, amount=amount)).credit for amount in (Fraction(5), Fraction(0), None)
    ]
    assert credits_ == [500, 0, None]


def test_a_discount_is_typed_positive_and_lowers_cost(shop: EventShop) -> None:
    """As every charge is typed positive."""
    found = resolved(
        shop,
        row("charge", "", None, kind="discount", amount=Fraction(5), applies_to=("1",)),
        row("charge", "", None, kind="freight", amount=Fraction(5), applies_to=("1",), basis="quantity"),
    )
    wishes = [one.wish for one in found if isinstance(one, ChargeEntry)]
    assert [(wish.kind, wish.basis, wish.amount) for wish in wishes] == [
        ("discount", "value", -500),
        ("freight", "quantity", 500),
    ]


def test_rows_of_one_date_party_and_reference_are_one_receipt(shop: EventShop) -> None:
    """The party in any capitals; without a reference each row is its own."""
    rows = [
        row("receive", amount=Fraction(3), party="Mill Lane", reference="ML-1"),
        row("receive", "FILM-A3", amount=Fraction(2), party="MILL LANE", reference="ML-1"),
        row("receive", amount=Fraction(3), party="Mill Lane", reference="ML-2"),
        row("receive", amount=Fraction(3), party="Mill Lane"),
        row("receive", "FILM-A3", amount=Fraction(3), party="Mill Lane"),
    ]
    found = resolved(shop, *(replace(one, where=f"row {place}") for place, one in enumerate(rows, start=2)))
    receipts = [
        [line.item.sku for line in one.request.lines] for one in found if isinstance(one, ReceiptEntry)
    ]
    assert receipts == [["TEE-SAND-M", "FILM-A3"], ["TEE-SAND-M"], ["TEE-SAND-M"], ["FILM-A3"]]


def test_a_receipt_of_two_currencies_is_refused(shop: EventShop) -> None:
    """One currency per document."""
    rows = [
        row("receive", amount=Fraction(3), reference="ML-1"),
        row("receive", "FILM-A3", amount=Fraction(2), reference="ML-1", currency="EUR", rate="1.1"),
    ]
    assert problems(shop, *rows) == [
        "row 2: one receipt has one currency and one rate. Split it by reference."
    ]


def test_rows_of_one_date_reference_and_item_are_one_job(shop: EventShop) -> None:
    """Every piece uses the bill, good or not; the labour of its rows is added up."""
    job, other = resolved(
        shop,
        row("make", "FOX-SAND-M", "10", kind="good", reference="job 7", amount=Fraction(4)),
        row("make", "FOX-SAND-M", "1", kind="normal", reference="job 7"),
        row("make", "FOX-SAND-M", "2", kind="abnormal", reference="job 7", amount=Fraction(1)),
        row("make", "FOX-SAND-M", "1", kind="good", reference="job 8"),
    )
    assert isinstance(job, Entry)
    assert isinstance(other, Entry)
    assert [(one.role, one.item.sku, one.quantity_milli, one.amount) for one in job.lines] == [
        ("component", "TEE-SAND-M", 13_000, 0),
        ("component", "FILM-A3", 13_000, 0),
        ("component", "INK-CYAN", 5000, 0),
        ("labour", "FOX-SAND-M", 0, 500),
        ("product", "FOX-SAND-M", 13_000, 0),
    ]
    assert (job.lines[-1].normal_milli, job.lines[-1].expensed_milli) == (1000, 2000)


def test_an_item_nobody_made_yet_comes_from_its_bill(shop: EventShop) -> None:
    """It enters the catalogue with the posting, once."""
    rows = (row("sell", "FOX-SAND-M"), row("make", "FOX-SAND-M", kind="good"), row("sell", "FOX-SAND-M", "2"))
    found = resolve_events(shop.book.connection, rows, EventOptions())
    assert [(item.sku, item.kind, item.size) for item in found.new_items] == [("FOX-SAND-M", "finished", "M")]


def test_the_label_of_what_is_spoiled_is_kept(shop: EventShop) -> None:
    """Normal or abnormal is a label outside a job."""
    assert line(shop, row("spoil", kind="abnormal")).note == "abnormal"

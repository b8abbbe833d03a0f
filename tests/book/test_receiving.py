"""Receiving: a request becomes documents, lots and landed cost, once."""

from __future__ import annotations

import datetime
from dataclasses import replace
from fractions import Fraction

import pytest
from book_builder import ITEMS, NOW, SUPPLIER, TODAY, Book, charge, day, line

from ledger.book import looking
from ledger.book.receiving import ReceiptLine, expiry, post, prepare
from ledger.catalogue.items import Item
from ledger.costing.landed import ChargeWish
from ledger.errors import AlreadyPosted, InputErrors


def lots(book: Book) -> list[tuple[int, int, str, int, int, int]]:
    """Document, line, SKU, quantity, invoice cost and charges of every lot."""
    return [
        (lot.document, lot.line, lot.sku, lot.quantity_on_hand, lot.invoice_cost, lot.charges)
        for lot in looking.lots(book.connection)
    ]


def problems(book: Book, *lines: ReceiptLine, **fields: object) -> list[str]:
    """What is wrong with a receipt, a line of text each."""
    with pytest.raises(InputErrors) as errors:
        book.plan(*lines, **fields)  # type: ignore[arg-type]
    return [str(problem) for problem in errors.value.problems]


def test_a_line_becomes_a_lot_at_landed_cost(book: Book) -> None:
    """Two lines and their freight by value: the lots' numbers are document and line."""
    book.receive(line("TEE-SAND-M", 10, 4000), line("TEE-PLUM-L", 5, 2000), charges=(charge(300),))
    assert lots(book) == [(1, 2, "TEE-PLUM-L", 5000, 2000, 100), (1, 1, "TEE-SAND-M", 10_000, 4000, 200)]


def test_every_charge_is_a_document_of_its_own(book: Book) -> None:
    """The receipt comes first, its charges follow it and say so."""
    book.receive(line("TEE-SAND-M"), charges=(charge(300), charge(200, kind="duty")))
    rows = book.rows("SELECT number, event, follows, total, path FROM document ORDER BY number")
    assert rows == [
        (1, "receipt", None, 1000, ""),
        (2, "charge", 1, 300, "with receipt"),
        (3, "charge", 1, 200, "with receipt"),
    ]


def test_the_book_is_whole_after_every_kind_of_line(book: Book) -> None:
    """All tax classes, all losses, a discount and charges by several bases, and nothing is wrong."""
    book.receive(
        line("TEE-SAND-M", 10, 4000, claimed_milli=1000, normal_milli=1000, expensed_milli=2000, weight_mg=5),
        line("FILM-A3", 100, 2500, weight_mg=7),
        line("TAPE-HEAT", 3, 900, claimed_milli=1000, weight_mg=1),
        line("GUEST-HOOD", 2, 0),
        charges=(charge(301), charge(77, "weight"), charge(33, "quantity"), charge(-50, kind="discount")),
        invoice_discount_foreign=100,
    )
    assert book.prove().findings == ()


def test_supplies_when_bought_make_no_lot(book: Book) -> None:
    """Their cost and their charges go straight to supplies."""
    book.receive(line("TAPE-HEAT", 3, 900), charges=(charge(100),))
    assert (lots(book), book.amounts("supplies")) == ([], {1: 900, 2: 100})


def test_claimed_pieces_are_out_of_the_lot_and_credited(book: Book) -> None:
    """Two of ten claimed: eight on the shelf, two hundred back from the supplier."""
    book.receive(line("TEE-SAND-M", 10, 1000, claimed_milli=2000))
    assert (lots(book)[0][3:5], book.amounts("returned to supplier")) == ((8000, 800), {1: 200})


def test_expensed_pieces_leave_the_lot_with_their_charges(book: Book) -> None:
    """Two of ten thrown away: a fifth of invoice and freight is spoilage."""
    book.receive(line("TEE-SAND-M", 10, 1000, expensed_milli=2000), charges=(charge(500),))
    assert (looking.lots(book.connection)[0].value_on_hand, book.amounts("spoilage")) == (1200, {1: 300})


def test_a_foreign_invoice_keeps_both_amounts(book: Book) -> None:
    """What was billed and what it came to stand in the document, with the rate and its source."""
    book.receive(
        line("TEE-SAND-M", 10, 10_000), currency="EUR", rate="1.25", rate_source="as given", reference="F-1"
    )
    rows = book.rows("SELECT currency, total_foreign, total, rate, rate_source FROM document")
    assert rows == [("EUR", 10_000, 12_500, "1.25", "as given")]


def test_duty_in_percent_of_each_line(book: Book) -> None:
    """A rate by line is one charge whose shares are the lines' own duty."""
    plan = book.plan(
        line("TEE-SAND-M", 10, 10_000, duty_percent=Fraction("16.5")),
        line("TEE-PLUM-L", 10, 3333, duty_percent=Fraction(10)),
        line("FILM-A3", 1, 500),
    )
    assert plan.landing.charges[0].shares == (1650, 333, 0)


def test_duty_as_an_amount_of_each_line(book: Book) -> None:
    """What the customs entry says of a line is taken as it stands."""
    book.receive(line("TEE-SAND-M", duty=120), line("TEE-PLUM-L", duty=80))
    assert [lot[5] for lot in lots(book)] == [80, 120]


def test_duty_on_a_line_that_never_came_is_refused(book: Book) -> None:
    """Nothing of the line is there that could bear it: it would be cost of nothing."""
    told = problems(book, line("TEE-SAND-M", 2, 200, claimed_milli=2000, duty=50), line("TEE-PLUM-L"))
    assert "TEE-SAND-M is given an amount, but nothing of it was kept" in told[0]


def test_a_line_without_a_price_takes_the_latest_cost(book: Book) -> None:
    """Provisional: the latest lot's landed cost per piece, and marked so."""
    book.receive(line("TEE-SAND-M", 10, 1000), charges=(charge(100),))
    book.receive(line("TEE-SAND-M", 3, 0, provisional=True), on="01-09")
    assert book.rows("SELECT amount, provisional FROM document_line WHERE document = 3") == [(330, 1)]


def test_a_line_without_a_price_and_without_a_past_is_refused(book: Book) -> None:
    """There is nothing to go by."""
    assert (
        "TEE-SAND-M has no price, and no earlier cost"
        in problems(book, line("TEE-SAND-M", 3, 0, provisional=True))[0]
    )


def test_all_problems_come_together(book: Book) -> None:
    """The date, a line without a price and a charge without weights are told in one go."""
    told = problems(
        book,
        line("TEE-SAND-M", 3, 0, provisional=True),
        line("TEE-PLUM-L", 2, 200, normal_milli=2000),
        on="2026-04-01",
        charges=(charge(100, "weight"),),
    )
    assert [text.split(":")[0] for text in told] == [
        "the shipment's date",
        "TEE-SAND-M has no price, and no earlier cost to stand in for it. Fill in the price.",
        "charge 'freight by weight'",
        "TEE-PLUM-L",
    ]


@pytest.mark.parametrize(
    ("on", "words"),
    [("2026-04-01", "is in the future"), ("2025-12-31", "is before 2026-01-01, the book's first day")],
)
def test_a_date_that_cannot_be_is_refused(book: Book, on: str, words: str) -> None:
    """Tomorrow, and before the book begins."""
    assert words in problems(book, line("TEE-SAND-M"), on=on)[0]


def test_today_is_not_the_future(book: Book) -> None:
    """Goods of today can be received."""
    assert book.receive(line("TEE-SAND-M"), on=TODAY.isoformat()) == 1


def test_a_date_in_a_closed_month_is_refused(book: Book) -> None:
    """The month is named, and the way to open it."""
    book.receive(line("TEE-SAND-M"))
    book.close("2026-01")
    assert "2026-01, which is closed" in problems(book, line("TEE-PLUM-L"), on="01-20")[0]


def test_a_month_closed_since_the_preview_is_noticed(book: Book) -> None:
    """What another process did between preview and posting is checked again."""
    plan = book.plan(line("TEE-SAND-M"), on="01-20")
    book.close("2026-01")
    with pytest.raises(InputErrors, match="which is closed"):
        post(book.connection, plan, NOW)


def test_losses_that_leave_nobody_to_bear_them_are_refused(book: Book) -> None:
    """Where every piece was lost 'as usual', the cost has nowhere to go."""
    told = problems(book, line("TEE-SAND-M", 2, 200, normal_milli=2000))
    assert "no good piece is left" in told[0]


def test_a_discount_beyond_the_cost_is_refused(book: Book) -> None:
    """A sign typed wrong would make goods that cost less than nothing."""
    told = problems(book, line("TEE-SAND-M", 2, 200), charges=(charge(-300, kind="discount"),))
    assert "its discounts come to more than it cost" in told[0]


def test_bank_fees_stay_out_where_the_policy_says_so(book: Book) -> None:
    """The recorded policy decides what is part of landed cost."""
    book.connection.execute(
        "INSERT INTO policy (name, value, recorded_at) VALUES ('bank fees', 'expense', 'then')"
    )
    told = problems(book, line("TEE-SAND-M"), charges=(charge(100, kind="bank_fee"),))
    assert "treats bank fees as an expense" in told[0]


def test_a_name_too_long_for_the_book_is_told_before(book: Book) -> None:
    """A supplier's name, or that of whoever bills a charge, has its limit named in the preview."""
    told = problems(book, line("TEE-SAND-M"), party="A" * 201, charges=(charge(100, party="B" * 300),))
    assert ["has 201 characters" in told[0], "has 300 characters" in told[1]] == [True, True]


def test_the_same_shipment_twice_is_once(book: Book) -> None:
    """Same supplier, day and content: refused, and the first one is named."""
    book.receive(line("TEE-SAND-M"), line("TEE-PLUM-L"))
    with pytest.raises(AlreadyPosted, match="as receipt 1"):
        book.receive(line("TEE-PLUM-L"), line("TEE-SAND-M"))
    assert book.rows("SELECT count(*) FROM document") == [(1,)]


def test_the_same_shipment_from_two_previews_is_once(book: Book) -> None:
    """Two people at two screens post the same file: the second is refused."""
    first, second = book.plan(line("TEE-SAND-M")), book.plan(line("TEE-SAND-M"))
    post(book.connection, first, NOW)
    with pytest.raises(AlreadyPosted):
        post(book.connection, second, NOW)


def test_the_same_shipment_from_another_supplier_is_another(book: Book) -> None:
    """Two suppliers may send the same things on the same day."""
    book.receive(line("TEE-SAND-M"))
    assert book.receive(line("TEE-SAND-M"), party="Brook Lane Goods") == 2


def test_the_suppliers_name_counts_in_any_case(book: Book) -> None:
    """The same supplier in capitals is the same, in the check and in the list of parties."""
    book.receive(line("TEE-SAND-M"))
    with pytest.raises(AlreadyPosted):
        book.receive(line("TEE-SAND-M"), party=SUPPLIER.upper())
    book.receive(line("TEE-PLUM-L"), party=SUPPLIER.upper())
    assert book.rows("SELECT name FROM party") == [(SUPPLIER,)]


def test_the_same_number_with_other_content_asks(book: Book) -> None:
    """It may be another box, a correction or a slip: all three ways out are told."""
    book.receive(line("TEE-SAND-M", 10), reference="A-1")
    with pytest.raises(AlreadyPosted) as refusal:
        book.receive(line("TEE-SAND-M", 11), reference="A-1")
    assert all(words in str(refusal.value) for words in ("--another-box", "undo 1", "--reference"))


def test_another_box_of_the_same_invoice(book: Book) -> None:
    """Said so, the second part of an invoice is received days later."""
    book.receive(line("TEE-SAND-M", 10), reference="A-1")
    book.receive(line("TEE-SAND-M", 5), reference="A-1", on="01-08", another_box=True)
    assert [lot[3] for lot in lots(book)] == [10_000, 5000]


def test_another_box_is_still_once(book: Book) -> None:
    """The very same box is refused also where another one is announced."""
    book.receive(line("TEE-SAND-M", 10), reference="A-1")
    with pytest.raises(AlreadyPosted, match="as receipt 1"):
        book.receive(line("TEE-SAND-M", 10), reference="A-1", another_box=True)


def test_an_undone_shipment_can_be_received_again(book: Book) -> None:
    """What was undone does not count for 'twice is once'."""
    number = book.receive(line("TEE-SAND-M"), reference="A-1")
    book.undo(number)
    assert book.receive(line("TEE-SAND-M"), reference="A-1") == 3


def test_new_items_come_into_the_catalogue_with_the_receipt(book: Book) -> None:
    """An item the file brings along is added in the same transaction."""
    new = Item("CAP-RUST", "Cap, rust", "blank", "goods", "each")
    book.receive(line("CAP-RUST", item=new), new_items=(new,))
    assert book.rows("SELECT name FROM item WHERE sku = 'CAP-RUST'") == [("Cap, rust",)]


def test_new_items_do_not_come_without_their_receipt(book: Book) -> None:
    """A receipt that is refused adds nothing."""
    new = Item("CAP-RUST", "Cap, rust", "blank", "goods", "each")
    plan = book.plan(line("CAP-RUST", item=new), new_items=(new,))
    book.close("2026-01")
    with pytest.raises(InputErrors):
        post(book.connection, plan, NOW)
    assert book.rows("SELECT sku FROM item WHERE sku = 'CAP-RUST'") == []


def test_the_suppliers_codes_are_learned(book: Book) -> None:
    """What a supplier calls an item is known the next time."""
    book.receive(line("TEE-SAND-M", supplier_code="AY-77"))
    assert book.rows("SELECT party, code, sku FROM supplier_code") == [(SUPPLIER, "AY-77", "TEE-SAND-M")]


def test_an_unnamed_supplier_is_no_party(book: Book) -> None:
    """Goods without a supplier's name are received all the same."""
    book.receive(line("TEE-SAND-M"), party="")
    assert (book.rows("SELECT party FROM document"), book.rows("SELECT * FROM party")) == ([(None,)], [])


@pytest.mark.parametrize(
    ("printed", "shelf_life_days", "expires"),
    [
        (None, None, None),
        ("2026-06-01", None, "2026-06-01"),
        (None, 30, "2026-02-04"),
        ("2026-06-01", 30, "2026-02-04"),
        ("2026-01-20", 30, "2026-01-20"),
    ],
)
def test_the_earlier_of_printed_date_and_shelf_life(
    printed: str | None, shelf_life_days: int | None, expires: str | None
) -> None:
    """A lot expires by whichever comes first."""
    received = line(
        "INK-CYAN",
        item=replace(ITEMS[2], shelf_life_days=shelf_life_days),
        expires_on=datetime.date.fromisoformat(printed) if printed else None,
    )
    told = expiry(received, day("01-05"))
    assert (told.isoformat() if told else None) == expires


def test_the_expiry_stands_with_the_lot(book: Book) -> None:
    """A year of shelf life from the day of receipt."""
    book.receive(line("INK-CYAN", 500, 2000))
    assert book.rows("SELECT expires_on FROM lot") == [("2027-01-05",)]


def test_a_failing_receipt_leaves_the_book_as_it_was(book: Book) -> None:
    """An error in the last step takes back the first."""
    book.receive(line("TEE-SAND-M"))
    before = "\n".join(book.connection.iterdump())
    plan = book.plan(line("TEE-PLUM-L"), on="01-09", party="Brook Lane Goods")
    book.connection.execute(
        "CREATE TEMP TRIGGER no_balance BEFORE INSERT ON main.balance "
        "BEGIN SELECT RAISE(ABORT, 'a test'); END"
    )
    with pytest.raises(Exception, match="a test"):
        post(book.connection, plan, NOW)
    assert "\n".join(book.connection.iterdump()) == before


def test_a_percentage_fee_within_its_limits(book: Book) -> None:
    """The least amount of a fee by percentage is posted and spread like any charge."""
    fee = ChargeWish("entry_fee", "value", percent=Fraction("0.3464"), minimum=3358, maximum=65_150)
    plan = book.plan(line("TEE-SAND-M", 100, 30_000), line("TEE-PLUM-L", 100, 70_000), charges=(fee,))
    assert plan.landing.charges[0].shares == (1007, 2351)


def test_prepare_changes_nothing(book: Book) -> None:
    """A preview is only a look."""
    book.receive(line("TEE-SAND-M"))
    before = "\n".join(book.connection.iterdump())
    plan = book.plan(line("TEE-PLUM-L", supplier_code="X-1"), charges=(charge(100),))
    prepare(book.connection, plan.request, TODAY)
    assert "\n".join(book.connection.iterdump()) == before

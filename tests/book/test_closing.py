"""Closing and reopening months: the order, what blocks, what is kept, what changed from outside."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from book_builder import ITEMS, NOW, Book, charge, day, disarm, leaving, line, make_book, opened
from documents_builder import post_lines, take_back

from ledger.book.closing import (
    MOVED_AFTER,
    Closed,
    list_months,
    look_before,
    post_close,
    prepare_close,
)
from ledger.book.connect import write_tx
from ledger.book.documents import NewLine, insert_documents, next_number
from ledger.book.fingerprints import _PARTS, changed_months
from ledger.book.late_bills import late_shares
from ledger.book.month_report import read_statement
from ledger.book.recosting import recost
from ledger.book.reopening import post_reopen, prepare_reopen
from ledger.cli.closing import read_month
from ledger.errors import BookDamaged, ClosedMonth, InputErrors, Refused, UsageError

LATER = datetime.date(2026, 7, 1)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    """A book with a receipt and a sale in January."""
    make_book(tmp_path / "shop.blankbook")
    one = opened(tmp_path / "shop.blankbook")
    one.receive(line("TEE-SAND-M", 100, 30000), on="01-05", reference="A")
    one.leave("sale", ("TEE-SAND-M", 50), on="01-10")
    yield one
    one.connection.close()


def close(book: Book, month: str, today: datetime.date = LATER) -> Closed:
    """Close a month that nothing blocks."""
    plan = prepare_close(book.connection, month, today)
    return post_close(book.connection, plan, today, NOW)


@pytest.mark.parametrize("text", ["2026-3", "2026-13", "26-03", "March", "2026-03-01", "", "２０２６-03"])
def test_month_is_typed_as_year_and_month(text: str) -> None:
    """Anything but 2026-03 is refused with the word that was typed."""
    with pytest.raises(UsageError, match="is not a month like"):
        read_month(text)


def test_months_close_in_order(book: Book) -> None:
    """February is refused while January is open; January names itself as the next."""
    with pytest.raises(Refused, match="2026-01 is still open"):
        close(book, "2026-02")


def test_month_that_is_not_over_is_refused(book: Book) -> None:
    """A month can be closed on its last day, not before."""
    for month in ("2026-01", "2026-02"):
        close(book, month)
    with pytest.raises(Refused, match="ends on 2026-03-31"):
        close(book, "2026-03", datetime.date(2026, 3, 30))
    assert close(book, "2026-03", datetime.date(2026, 3, 31)).month == "2026-03"


def test_leap_february_ends_on_the_29th(tmp_path: Path) -> None:
    """February of a leap year is not over on its 28th day."""
    make_book(tmp_path / "leap.blankbook")
    book = opened(tmp_path / "leap.blankbook")
    plan = [f"2026-{month:02d}" for month in range(1, 13)] + [f"2027-{month:02d}" for month in range(1, 13)]
    for month in [*plan, "2028-01"]:
        close(book, month, datetime.date(2028, 2, 28))
    with pytest.raises(Refused, match="ends on 2028-02-29"):
        close(book, "2028-02", datetime.date(2028, 2, 28))
    assert close(book, "2028-02", datetime.date(2028, 2, 29)).month == "2028-02"
    book.connection.close()


def test_undo_of_a_close_or_a_reopening_names_the_way(book: Book) -> None:
    """Neither is undone; each says what does it instead, with its month."""
    closed = close(book, "2026-01").document
    with pytest.raises(
        Refused, match=r"is a close; it cannot be undone\. .*: blankbook reopen 2026-01 --why"
    ):
        book.undo(closed)
    opened = post_reopen(book.connection, "2026-01", "a bill twice", LATER, NOW).document
    with pytest.raises(Refused, match=r"is a reopening; it cannot be undone\. .*: blankbook close 2026-01"):
        book.undo(opened)


def test_closed_month_is_not_closed_twice(book: Book) -> None:
    """A second close of the same month says how to look at it and how to open it."""
    close(book, "2026-01")
    with pytest.raises(Refused, match="closed already"):
        close(book, "2026-01")


def test_clock_set_back_is_told(book: Book) -> None:
    """A close with a clock far behind the latest entry is refused."""
    with pytest.raises(Refused, match="date right, then close"):
        close(book, "2026-01", datetime.date(2026, 2, 1))


def test_nothing_goes_into_a_closed_month(book: Book) -> None:
    """The guards refuse documents, lines, shares and legs dated into it, whoever writes them."""
    close(book, "2026-01")
    with pytest.raises(InputErrors, match="2026-01-20 lies in 2026-01, which is closed"):
        book.receive(line("TEE-SAND-M", 1, 100), on="01-20")
    with pytest.raises(sqlite3.IntegrityError, match="closed"):
        book.leave("sale", ("TEE-SAND-M", 1), on="01-20")
    with pytest.raises(sqlite3.IntegrityError, match="closed month"):
        book.connection.execute("UPDATE leg SET amount = amount + 1")


def test_month_with_later_entries_keeps_its_own_end(book: Book) -> None:
    """January closed after February was posted keeps January's layers: the sale of February is not in them."""
    book.leave("sale", ("TEE-SAND-M", 20), on="02-03")
    done = close(book, "2026-01")
    kept = book.rows("SELECT quantity - used FROM closed_layer WHERE close_document = ?", done.document)
    assert kept == [(50000,)]
    book.leave("sale", ("TEE-SAND-M", 5), on="02-01")
    assert book.prove().findings == ()


def test_late_charge_leaves_the_closed_month_alone(book: Book) -> None:
    """20.00 for January's 100 pieces, 50 of them sold: 10.00 on what is left, 10.00 in February's cost."""
    done = close(book, "2026-01")
    before = read_statement(book.connection, "2026-01")
    number = book.charge(charge(2000, party="Slow Lorry"), 1, on="02-20")
    shares = [(one.account, one.amount) for one in late_shares(book.connection, number)]
    assert shares == [("on hand", 1000), ("late charges on used stock", 1000)]
    assert read_statement(book.connection, "2026-01") == before
    assert changed_months(book.connection) == []
    assert read_statement(book.connection, "2026-02").total.of_which.late_charges_on_used == 1000
    assert (done.fingerprint, book.prove().findings) == (done.fingerprint, ())


def test_undo_of_a_closed_charge_is_a_late_credit(tmp_path: Path) -> None:
    """A freight bill of a closed month is credited where the goods are on the day of the undo."""
    make_book(tmp_path / "credit.blankbook")
    book = opened(tmp_path / "credit.blankbook")
    book.receive(line("TEE-SAND-M", 100, 30000), on="01-05", charges=(charge(1000),))
    book.leave("sale", ("TEE-SAND-M", 25), on="01-10")
    close(book, "2026-01")
    (number,) = book.undo(2)
    assert [(one.account, one.amount) for one in late_shares(book.connection, number)] == [
        ("on hand", -750),
        ("late charges on used stock", -250),
    ]
    assert book.prove().findings == ()
    with pytest.raises(Refused, match="is an undo"):
        book.undo(number)
    book.connection.close()


def test_undo_of_a_closed_sale_brings_the_pieces_back_at_their_cost(book: Book) -> None:
    """The sale of January is reversed in March: 50 pieces and 150.00 are back on the shelf."""
    close(book, "2026-01")
    book.undo(2)
    assert book.rows("SELECT quantity_milli, amount FROM balance") == [(100000, 30000)]
    statement = read_statement(book.connection, "2026-03")
    assert (statement.total.of_which.pieces_sold, book.prove().findings) == (-15000, ())


def test_undo_of_a_closed_receipt_needs_it_untouched(book: Book) -> None:
    """What was sold from it stands in the way; an untouched receipt leaves whole."""
    book.receive(line("TEE-PLUM-L", 10, 4000), on="01-20", reference="B")
    close(book, "2026-01")
    with pytest.raises(
        Refused, match=r"Reopen its month to correct it there\. Or undo the later documents first\."
    ):
        book.undo(1)
    book.undo(3)
    assert book.rows("SELECT quantity_milli, amount FROM balance WHERE sku = 'TEE-PLUM-L'") == [(0, 0)]
    assert (read_statement(book.connection, "2026-03").total.purchases, book.prove().findings) == (-4000, ())


def test_undo_of_a_closed_count_wants_the_month_reopened(book: Book) -> None:
    """A count of a closed month cannot be reversed from outside it."""
    with write_tx(book.connection):
        document = leaving(next_number(book.connection), "count", [("TEE-SAND-M", 49)], "2026-01-31")
        insert_documents(book.connection, [document])
        recost(book.connection, [document])
    close(book, "2026-01")
    with pytest.raises(ClosedMonth, match="blankbook reopen 2026-01"):
        book.undo(document.number)


def test_estimated_use_counts_as_nothing_left(tmp_path: Path) -> None:
    """Ink used ahead of its receipt counts as zero at the month's end, until the month is reopened."""
    ink = replace(next(item for item in ITEMS if item.sku == "INK-CYAN"), use_estimated=True)
    make_book(tmp_path / "ink.blankbook", [ink])
    book = opened(tmp_path / "ink.blankbook")
    book.receive(line("INK-CYAN", 100, 1000, ink), on="01-05")
    with write_tx(book.connection):
        document = leaving(next_number(book.connection), "use", [("INK-CYAN", 130)], "2026-01-20")
        marked = replace(document, lines=tuple(replace(one, estimated=1) for one in document.lines))
        insert_documents(book.connection, [marked])
        recost(book.connection, [marked])
    plan = look_before(book.connection, "2026-01")
    assert [(one.sku, one.quantity_milli) for one in plan.corrected] == [("INK-CYAN", 30000)]
    assert plan.blocking == ()
    done = close(book, "2026-01")
    assert book.rows("SELECT quantity_milli, amount FROM balance") == [(0, 0)]
    statement = read_statement(book.connection, "2026-01")
    assert (statement.total.of_which.used, statement.total.of_which.count_differences) == (1300, -300)
    assert book.prove().findings == ()
    reopened = post_reopen(book.connection, "2026-01", "the receipt was found", LATER, NOW)
    assert len(reopened.undone) == len(done.corrected) == 1
    book.receive(line("INK-CYAN", 50, 600, ink), on="01-15")
    assert book.rows("SELECT quantity_milli FROM balance") == [(20000,)]
    assert book.prove().findings == ()
    book.connection.close()


def test_unmarked_short_blocks_the_close(book: Book) -> None:
    """A sale that was let go short names itself and what settles it."""
    with write_tx(book.connection):
        document = leaving(next_number(book.connection), "sale", [("TEE-SAND-M", 60)], "2026-01-20")
        marked = replace(document, lines=tuple(replace(one, short_allowed=1) for one in document.lines))
        insert_documents(book.connection, [marked])
        recost(book.connection, [marked])
    plan = prepare_close(book.connection, "2026-01", LATER)
    assert ["TEE-SAND-M" in point.what + point.where for point in plan.blocking] == [True]
    with pytest.raises(Refused, match="cannot be closed yet"):
        post_close(book.connection, plan, LATER, NOW)


def test_price_told_afterwards_takes_the_place_of_the_provisional_one(book: Book) -> None:
    """A receipt without a price blocks the close until a goods bill gives it; purchases hold the whole price."""
    book.receive(line("TEE-SAND-M", 10, 0, provisional=True), on="01-20", reference="NO-PRICE")
    plan = prepare_close(book.connection, "2026-01", LATER)
    assert [point.is_blocking for point in plan.points if "3" in point.where] == [True]
    book.charge(charge(4200, kind="goods", party="Alder Yard Blanks"), 3, on="01-25")
    assert prepare_close(book.connection, "2026-01", LATER).blocking == ()
    lot = book.rows("SELECT invoice_cost + charges FROM lot WHERE document = 3")
    statement = read_statement(book.connection, "2026-01")
    assert (lot, statement.total.purchases, statement.total.charges_in) == ([(4200,)], 34200, 0)
    assert book.prove().findings == ()


def test_reopening_opens_all_later_months(book: Book) -> None:
    """Reopening January opens February too; they are closed again in order, on a new chain."""
    first = close(book, "2026-01")
    close(book, "2026-02")
    assert prepare_reopen(book.connection, "2026-01") == ("2026-01", "2026-02")
    post_reopen(book.connection, "2026-01", "a bill twice", LATER, NOW)
    book.leave("sale", ("TEE-SAND-M", 1), on="01-12")
    again = close(book, "2026-01")
    assert (again.fingerprint != first.fingerprint, again.previous_fingerprint != "") == (True, True)
    assert [row.month for row in list_months(book.connection, day("03-01")) if row.is_closed] == ["2026-01"]
    assert book.prove().findings == ()
    with pytest.raises(Refused, match="2026-02 is not closed"):
        prepare_reopen(book.connection, "2026-02")


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE document SET note = 'x' WHERE number = 1",
        "UPDATE document_line SET amount = amount + 1 WHERE document = 1",
        "UPDATE leg SET amount = amount + 1 WHERE document = 2",
        "DELETE FROM leg WHERE document = 2",
        "UPDATE month_total SET amount = amount + 1",
        "UPDATE month_balance SET amount = amount + 1",
        "UPDATE closed_layer SET used = used + 1",
        "UPDATE month_event SET previous_fingerprint = 'x'",
        "INSERT INTO leg SELECT document, line, 9, effect_date, account, sku, 1, 1, 0, 0 FROM leg WHERE part = 1",
    ],
)
def test_hand_in_the_file_is_found_by_the_fingerprint(book: Book, change: str) -> None:
    """Every kind of row of a closed month is in its fingerprint; nothing is closed on top of a changed one."""
    close(book, "2026-01")
    disarm(book.connection)
    book.connection.execute(change)
    assert {month for month, _ in changed_months(book.connection)} == {"2026-01"}
    with pytest.raises(BookDamaged, match="2026-01"):
        close(book, "2026-02")
    assert any(one.where == "month 2026-01" for one in book.prove().findings)


def test_refused_close_leaves_the_book_as_it_was(book: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    """A close that fails half way writes nothing."""
    before = book.rows("SELECT * FROM document")
    monkeypatch.setattr("ledger.book.closing.month_fingerprint", _fail)
    with pytest.raises(OSError, match="disk"):
        close(book, "2026-01")
    assert (book.rows("SELECT * FROM document"), book.rows("SELECT * FROM closed_layer")) == (before, [])


def _fail(*_: object) -> str:
    raise OSError("disk")


def test_return_and_late_bill_of_a_closed_sale_agree(tmp_path: Path) -> None:
    """A late bill and pieces coming back of a sale from the closed month: the return costs what they left at."""
    make_book(tmp_path / "back.blankbook")
    book = opened(tmp_path / "back.blankbook")
    book.receive(line("TEE-SAND-M", 10, 3000), on="01-02", reference="A")
    book.receive(line("TEE-SAND-M", 10, 10000), on="01-03", reference="B")
    sale = book.leave("sale", ("TEE-SAND-M", 12), on="01-10")
    close(book, "2026-01")
    book.charge(charge(500, party="Slow Lorry"), 2, on="02-02")
    back = take_back(book.connection, "TEE-SAND-M", 5, sale, on="02-10")
    assert book.amounts("pieces sold")[back] == -2900
    assert book.prove().findings == ()
    book.connection.close()


def test_undo_of_a_closed_sale_keeps_what_it_earned_out_of_the_cost(tmp_path: Path) -> None:
    """A sale with a price, undone after its month was closed: the book proves whole."""
    make_book(tmp_path / "earned.blankbook")
    book = opened(tmp_path / "earned.blankbook")
    book.receive(line("TEE-SAND-M", 10, 3000), on="01-02")
    lines = [NewLine(line=1, sku="TEE-SAND-M", quantity_milli=2000, amount=2000, amount_foreign=2000)]
    sale = post_lines(book.connection, "sale", lines, "01-10")
    close(book, "2026-01")
    (undo,) = book.undo(sale)
    assert book.amounts("pieces sold")[undo] == -600
    assert book.prove().findings == ()
    book.connection.close()


def test_kind_changed_by_hand_is_found_by_the_fingerprint(book: Book) -> None:
    """Kind and tax class decide the lines of a closed month: they are sealed with it."""
    close(book, "2026-01")
    disarm(book.connection)
    book.connection.execute("UPDATE item SET tax_class = 'supplies when used' WHERE sku = 'TEE-SAND-M'")
    assert [month for month, _ in changed_months(book.connection)] == ["2026-01"]


def test_bill_dated_in_the_closed_month_takes_effect_on_the_first_open_day(book: Book) -> None:
    """A bill of January that comes after the close keeps its date and falls into February."""
    close(book, "2026-01")
    number = book.charge(charge(2000, party="Slow Lorry"), 1, on="01-28")
    assert book.rows("SELECT document_date, effect_date FROM document WHERE number = ?", number) == [
        ("2026-01-28", "2026-02-01")
    ]
    assert book.prove().findings == ()


def test_what_moved_after_a_month_is_found_without_reading_every_leg(book: Book) -> None:
    """Each item is looked up by the index that its legs have by date."""
    plan = [str(row[3]) for row in book.rows(f"EXPLAIN QUERY PLAN {MOVED_AFTER}", "2026-01-31")]
    assert any("leg_sku" in step and step.startswith("SEARCH") for step in plan)
    assert not any(step.startswith("SCAN leg") for step in plan)


def test_a_fingerprint_reads_no_more_than_its_month_and_the_items(book: Book) -> None:
    """The balances of all earlier months are looked up item by item, not gone through."""
    values = {"month": "2026-01", "first": "2026-01-01", "last": "2026-01-31", "close": 1}
    query = dict(_PARTS)["items"]
    plan = [str(row[3]) for row in book.connection.execute(f"EXPLAIN QUERY PLAN {query}", values)]
    assert "SEARCH b USING PRIMARY KEY (sku=? AND month<?)" in plan


def test_returns_around_a_close_leave_a_book_that_proves_whole(tmp_path: Path) -> None:
    """What a lot got back and gave away before a close does not number what it gets back after it."""
    make_book(tmp_path / "shop.blankbook")
    book = opened(tmp_path / "shop.blankbook")
    book.receive(line("TEE-SAND-M", 12, 5412), on="01-05", reference="A")
    sale = book.leave("sale", ("TEE-SAND-M", 2), on="01-10")
    take_back(book.connection, "TEE-SAND-M", 1, sale, on="01-11")
    later = book.leave("sale", ("TEE-SAND-M", 1), on="01-12")
    close(book, "2026-01")
    take_back(book.connection, "TEE-SAND-M", 1, later, on="02-10")
    assert book.prove().findings == ()
    positions = "SELECT position FROM layer WHERE lot_document = 1 ORDER BY position"
    assert [row[0] for row in book.connection.execute(positions)] == [0, 1]
    book.connection.close()


def test_positions_of_an_older_replay_prove_whole(book: Book) -> None:
    """Positions say which layer leaves first, and a book that counts them from further below is as sound."""
    sale = book.leave("sale", ("TEE-SAND-M", 5), on="01-11")
    take_back(book.connection, "TEE-SAND-M", 2, sale, on="01-12")
    with write_tx(book.connection):
        book.connection.execute("UPDATE layer SET position = position - 3 WHERE position = 0")
    assert book.prove().findings == ()
    with write_tx(book.connection):
        book.connection.execute("UPDATE layer SET position = position + 9 WHERE position < 0")
    assert book.prove().findings != ()

"""Lists for the preparer: what was given away, late bills, stock that may be worth less than it cost."""

from __future__ import annotations

from book_builder import Book, charge, day, disarm, line
from documents_builder import finished, leave, make, milli, post_lines

from ledger.book.documents import NewLine
from ledger.book.month_report import read_statement
from ledger.book.preparer_lists import (
    BELOW_COST,
    EXPIRED,
    NO_MOVEMENT,
    WriteDownCandidate,
    donation_words,
    given_away,
    late_bills,
    write_down_candidates,
    write_down_words,
)
from ledger.book.roll_forward import read_roll_forward
from ledger.costing.invariants import PASSED_ON


def test_own_use_samples_and_donations_line_by_line(book: Book) -> None:
    """At cost, by account and date; what was sold is not among them."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    for event, pieces in (("own use", 1), ("sample", 2), ("donate", 3), ("sale", 1)):
        leave(book.connection, event, ("TEE-SAND-M", pieces), on="01-09")
    found = given_away(book.connection, "2026-01", "2026-01")
    assert [(row.account, row.quantity_milli, row.amount) for row in found] == [
        ("donations", 3000, 300),
        ("own use", 1000, 100),
        ("samples", 2000, 200),
    ]


def test_who_got_it_and_why_stand_beside(book: Book) -> None:
    """The party and the document's note, where the line has none of its own."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    leave(
        book.connection,
        "sample",
        ("TEE-SAND-M", 1),
        on="01-09",
        party="Copper Kettle",
        note="to see the print",
    )
    (row,) = given_away(book.connection, "2026-01", "2026-01")
    assert (row.party, row.note, row.name) == ("Copper Kettle", "to see the print", "Alder tee, sand, M")


def test_what_was_given_from_opening_stock_is_told_apart(book: Book) -> None:
    """Donated goods of last year follow another rule than those bought this year."""
    leave(book.connection, "opening", ("TEE-SAND-M", 2), on="01-01")
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    leave(book.connection, "donate", ("TEE-SAND-M", 3), on="01-09")
    (row,) = given_away(book.connection, "2026-01", "2026-01")
    assert (row.amount, row.from_last_year) == (300, 200)


def test_opening_stock_entered_within_the_tax_year_is_not_from_before_it(book: Book) -> None:
    """The tax year began in November, the book in January: when its opening stock came in is not known."""
    disarm(book.connection)
    book.connection.execute("UPDATE shop SET tax_year_starts = '11'")
    leave(book.connection, "opening", ("TEE-SAND-M", 2), on="01-01")
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    leave(book.connection, "donate", ("TEE-SAND-M", 3), on="01-09")
    (row,) = given_away(book.connection, "2026-01", "2026-01")
    assert (row.amount, row.from_last_year, row.from_opening) == (300, 0, 200)


def test_an_undone_gift_is_not_listed(book: Book) -> None:
    """The pair dropped out of the costing."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    book.undo(leave(book.connection, "sample", ("TEE-SAND-M", 1), on="01-09"))
    assert given_away(book.connection, "2026-01", "2026-01") == []


def late_freight(book: Book) -> int:
    """Ten shirts: five sold, one taken, two printed, two left; the month closed; then 10.00 of freight."""
    finished(book.connection, "FOX")
    receipt = book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    leave(book.connection, "sale", ("TEE-SAND-M", 5), on="01-09")
    leave(book.connection, "own use", ("TEE-SAND-M", 1), on="01-10")
    make(book.connection, ("FOX", 2), ("TEE-SAND-M", 2), on="01-12")
    book.close("2026-01")
    return book.charge(charge(1000), receipt, on="02-10")


def test_a_late_bill_is_split_by_where_its_goods_are(book: Book) -> None:
    """4.00 on what is held as shirts and prints, 5.00 on what was sold, 1.00 on what the owner took."""
    number = late_freight(book)
    (bill,) = late_bills(book.connection, "2026-02", "2026-02")
    assert (bill.document, bill.amount, bill.receipts) == (number, 1000, (1,))
    assert (bill.on_stock, bill.used_up, bill.own_use) == (400, 500, 100)
    assert not bill.for_last_year


def test_a_late_bill_in_the_months_figures(book: Book) -> None:
    """What followed the goods into printed shirts moves from kind to kind, as if jobs had used it."""
    late_freight(book)
    statement = read_statement(book.connection, "2026-02")
    total = statement.total
    assert (total.charges_in, total.own_use, total.of_which.late_charges_on_used) == (1000, 100, 500)
    assert (statement.kind("blank").used_in_jobs, statement.kind("finished").made_in_jobs) == (200, 200)
    moved = {
        row.sku: row.rolled.movements for row in read_roll_forward(book.connection, "2026-02", "2026-02")
    }
    passed = {
        sku: each.amount
        for sku, movements in moved.items()
        for each in movements
        if each.account == PASSED_ON
    }
    assert passed == {"TEE-SAND-M": -200, "FOX": 200}


def test_what_the_owner_took_is_listed_with_its_late_bill(book: Book) -> None:
    """1.00 of it is own use of February, without a piece."""
    late_freight(book)
    (row,) = given_away(book.connection, "2026-02", "2026-02")
    assert (row.account, row.quantity_milli, row.amount) == ("own use", 0, 100)


def test_a_late_bill_for_goods_of_last_year_says_so(book: Book) -> None:
    """Some of it may belong to last year's sales."""
    book.connection.execute("UPDATE shop SET tax_year_starts = '02'")
    late_freight(book)
    assert late_bills(book.connection, "2026-02", "2026-02")[0].for_last_year


def test_a_bill_that_came_in_time_is_not_late(book: Book) -> None:
    """Its receipt's month was open."""
    book.charge(charge(1000), book.receive(line("TEE-SAND-M", 10, 1000), on="01-05"), on="01-20")
    assert late_bills(book.connection, "2026-01", "2026-01") == []


def sell(book: Book, sku: str, pieces: int, cents: int, on: str, fees: int = 0) -> int:
    """Post a sale at a price."""
    sold = NewLine(line=1, sku=sku, quantity_milli=milli(pieces), amount=cents, fees=fees)
    return post_lines(book.connection, "sale", [sold], on)


def reasons(book: Book, month: str, idle_months: int = 12) -> list[tuple[str, str, str, int]]:
    """The candidates of a month: SKU, reason, since when, loss."""
    found: list[WriteDownCandidate] = write_down_candidates(book.connection, month, idle_months)
    return [(row.sku, row.reason, row.since, row.loss) for row in found]


def test_what_did_not_move_for_months(book: Book) -> None:
    """Two months after January without a movement, not one."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    assert reasons(book, "2026-03", 2) == [("TEE-SAND-M", NO_MOVEMENT, "2026-01", 0)]
    assert reasons(book, "2026-02", 2) == []


def test_what_has_expired(book: Book) -> None:
    """By the month's end, as long as something of it is there."""
    book.receive(line("INK-CYAN", 10, 1000, expires_on=day("2026-01-20")), on="01-05")
    assert reasons(book, "2026-01") == [("INK-CYAN", EXPIRED, "2026-01-20", 0)]


def test_what_sells_below_cost(book: Book) -> None:
    """Ten at 1.00; one sold for 0.90 with 0.10 of fees: the nine left fetch 7.20, and stand at 9.00."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    sell(book, "TEE-SAND-M", 1, 90, "01-09", fees=10)
    (row,) = write_down_candidates(book.connection, "2026-01")
    assert (row.reason, row.since, row.amount, row.net_price, row.loss) == (
        BELOW_COST,
        "2026-01-09",
        900,
        720,
        180,
    )


def test_the_latest_sale_counts(book: Book) -> None:
    """An earlier cheap sale is past; one after the month's end is not known yet."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    sell(book, "TEE-SAND-M", 1, 10, "01-09")
    sell(book, "TEE-SAND-M", 1, 200, "01-10")
    sell(book, "TEE-SAND-M", 1, 10, "02-10")
    assert reasons(book, "2026-01") == []


def test_a_loss_is_no_more_than_the_stock_stands_at(book: Book) -> None:
    """Fees above the price make the goods worth nothing, not less."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    sell(book, "TEE-SAND-M", 1, 10, "01-09", fees=50)
    assert reasons(book, "2026-01") == [("TEE-SAND-M", BELOW_COST, "2026-01-09", 900)]


def test_materials_without_a_price_are_not_held_against_one(book: Book) -> None:
    """Nobody buys ink from the shop."""
    book.receive(line("INK-CYAN", 10, 1000), on="01-05")
    assert reasons(book, "2026-01") == []


def test_tax_words_are_for_the_country() -> None:
    """US regulations are named only for a shop taxed there."""
    assert "1.471-4" in write_down_words("US")
    assert "1.471" not in write_down_words("DE")
    assert donation_words("DE") == ""
    assert "preparer" in donation_words("US")


def test_a_gift_of_a_closed_month_undone_later_comes_back(book: Book) -> None:
    """As a negative line of the month of the undo, with the gift's own party."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    number = leave(book.connection, "sample", ("TEE-SAND-M", 1), on="01-09", party="Copper Kettle")
    book.close("2026-01")
    book.undo(number)
    (row,) = given_away(book.connection, "2026-02", "2026-03")
    assert (row.party, row.quantity_milli, row.amount) == ("Copper Kettle", -1000, -100)

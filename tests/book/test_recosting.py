"""What follows from the facts is kept up to them: at the end of history, and when something comes late."""

from __future__ import annotations

import pytest
from book_builder import NOW, TODAY, Book, charge, day, leaving, line

from ledger.book import looking
from ledger.book.charging import charge_document, prepare_charge
from ledger.book.connect import write_tx
from ledger.book.documents import NewDocument, insert_documents, next_number
from ledger.book.recosting import recost
from ledger.errors import NotEnoughStock


def test_a_late_receipt_re_costs_later_issues(book: Book) -> None:
    """A cheaper lot of an earlier day, entered afterwards, is what the sale took."""
    book.receive(line("TEE-SAND-M", 10, 3000), on="01-08")
    sale = book.leave("sale", ("TEE-SAND-M", 5), on="01-10")
    assert book.amounts("pieces sold") == {sale: 1500}
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-03")
    assert (book.amounts("pieces sold"), book.prove().findings) == ({sale: 500}, ())


def test_a_late_sale_moves_the_cost_of_the_next(book: Book) -> None:
    """A sale of an earlier day takes the old lot, the later sale what is left and the next lot."""
    book.receive(line("TEE-SAND-M", 2, 200), line("TEE-SAND-M", 8, 1600))
    later = book.leave("sale", ("TEE-SAND-M", 2), on="01-10")
    earlier = book.leave("sale", ("TEE-SAND-M", 1), on="01-07")
    assert (book.amounts("pieces sold"), book.prove().findings) == ({later: 300, earlier: 100}, ())


def test_a_receipt_of_the_same_day_comes_before_what_leaves(book: Book) -> None:
    """Entered after the sale, it is on the shelf in the morning."""
    book.receive(line("TEE-SAND-M", 1, 100), on="01-05")
    sale = book.leave("sale", ("TEE-SAND-M", 1), on="01-10")
    book.receive(line("TEE-SAND-M", 1, 900), on="01-10")
    second = book.leave("use", ("TEE-SAND-M", 1), on="01-10")
    assert (book.amounts("pieces sold"), book.amounts("used")) == ({sale: 100}, {second: 900})


def test_what_would_make_a_later_sale_short_is_refused(book: Book) -> None:
    """A late sale of too many is refused, and the document that would go short is named."""
    book.receive(line("TEE-SAND-M", 10), on="01-05")
    later = book.leave("sale", ("TEE-SAND-M", 8), on="01-10")
    with pytest.raises(NotEnoughStock, match=f"document {later} takes 8"):
        book.leave("sale", ("TEE-SAND-M", 5), on="01-07")
    assert (book.rows("SELECT count(*) FROM document"), book.prove().findings) == ([(2,)], ())


def test_every_short_item_is_named(book: Book) -> None:
    """A sheet that takes too much of two items tells both."""
    book.receive(line("TEE-SAND-M", 1), line("FILM-A3", 1))
    with pytest.raises(NotEnoughStock) as shortage:
        book.leave("use", ("TEE-SAND-M", 3), ("FILM-A3", "1.5"))
    assert "TEE-SAND-M: document 2 takes 3 on 2026-01-10, on hand 1, missing 2" in str(shortage.value)
    assert "FILM-A3: document 2 takes 1.5" in str(shortage.value)


def test_a_posting_touches_only_its_own_items(book: Book) -> None:
    """Rows of other items are the very same afterwards, in every table."""
    book.receive(line("TEE-SAND-M", 10, 1000), line("FILM-A3", 10, 500), charges=(charge(30),))

    def of_film() -> list[object]:
        return [
            book.rows(f"SELECT * FROM {table} WHERE sku = 'FILM-A3'")  # noqa: S608
            for table in ("leg", "lot", "balance", "month_balance", "month_total")
        ]

    before = of_film()
    book.leave("sale", ("TEE-SAND-M", 3))
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-02")
    assert of_film() == before


def test_the_end_of_history_rewrites_no_leg(book: Book) -> None:
    """A posting behind everything of its item goes on from the open layers, without a replay."""
    book.receive(line("TEE-SAND-M", 10, 1000))
    statements: list[str] = []
    book.connection.set_trace_callback(statements.append)
    book.leave("sale", ("TEE-SAND-M", 3))
    book.receive(line("TEE-SAND-M", 10, 2000), line("FILM-A3", 5), on="01-11")
    book.connection.set_trace_callback(None)
    deleted = [statement for statement in statements if statement.startswith("DELETE FROM leg")]
    assert (deleted, any(statement.startswith("INSERT INTO leg") for statement in statements)) == ([], True)


def test_a_document_of_two_items_may_be_late_for_one(book: Book) -> None:
    """Each item of a receipt is costed in its own place."""
    book.receive(line("TEE-SAND-M", 10, 3000), on="01-08")
    sale = book.leave("sale", ("TEE-SAND-M", 5), on="01-10")
    book.receive(line("TEE-SAND-M", 10, 1000), line("TEE-PLUM-L", 4, 800), on="01-03", charges=(charge(90),))
    assert (book.amounts("pieces sold"), book.prove().findings) == ({sale: 525}, ())


def test_lots_in_part_used_are_told_from_the_untouched(book: Book) -> None:
    """The oldest lot goes first; quantity, value and unit cost of what is left are right."""
    book.receive(line("TEE-SAND-M", 3, 100), on="01-05")
    book.receive(line("TEE-SAND-M", 3, 200), on="01-06")
    book.leave("sale", ("TEE-SAND-M", 1))
    book.leave("sale", ("TEE-SAND-M", 3))
    rows = [(lot.document, lot.quantity_on_hand, lot.value_on_hand) for lot in looking.lots(book.connection)]
    assert rows == [(2, 2000, 133)]


def test_several_documents_of_one_posting(book: Book) -> None:
    """A sheet of many days is judged as a whole, whatever the order of its rows."""
    with write_tx(book.connection):
        first = next_number(book.connection)
        documents = [
            leaving(first + 1, "sale", [("TEE-SAND-M", 1)], "2026-01-12"),
            leaving(first, "use", [("TEE-SAND-M", 2)], "2026-01-11"),
        ]
        receipt = leaving(first + 2, "receipt", [("TEE-SAND-M", 5)], "2026-01-10")
        insert_documents(book.connection, [receipt, *documents])
        recost(book.connection, [*documents, receipt])
    assert book.rows("SELECT quantity_milli FROM balance") == [(2000,)]
    assert book.prove().findings == ()


def bill_for(book: Book, receipt: int) -> NewDocument:
    """A freight bill of 40 cents for a receipt of the book, not written yet."""
    on = day("01-20")
    plan = prepare_charge(book.connection, charge(40), (receipt,), on, TODAY)
    return charge_document(
        number=next_number(book.connection),
        on=on,
        now=NOW,
        party=None,
        charge=plan.charge,
        targets=plan.targets,
        book_currency="USD",
    )


def test_a_charge_on_an_earlier_receipt_re_costs_its_items(book: Book) -> None:
    """Nobody has to say whose past a bill changes: none of its shares is lost."""
    receipt = book.receive(line("TEE-SAND-M", 2, 200), line("FILM-A3", 4, 200))
    sale = book.leave("sale", ("TEE-SAND-M", 1), on="01-10")
    with write_tx(book.connection):
        bill = bill_for(book, receipt)
        insert_documents(book.connection, [bill])
        recost(book.connection, [bill])
    assert (book.amounts("charges"), book.amounts("pieces sold")) == ({bill.number: -40}, {sale: 110})
    assert book.prove().findings == ()


def test_a_charge_posted_with_a_later_sale_reaches_the_earlier_receipt(book: Book) -> None:
    """An item that is sold in the same posting is replayed as well when its old receipt is charged."""
    receipt = book.receive(line("TEE-SAND-M", 2, 200))
    with write_tx(book.connection):
        bill = bill_for(book, receipt)
        sale = leaving(bill.number + 1, "sale", [("TEE-SAND-M", 1)], "2026-01-21")
        insert_documents(book.connection, [bill, sale])
        recost(book.connection, [bill, sale])
    assert book.amounts("pieces sold") == {sale.number: 120}


def test_replaying_after_a_close_starts_there(book: Book) -> None:
    """With January closed, a late entry of February replays February alone and January stays."""
    book.receive(line("TEE-SAND-M", 3, 100), on="01-05")
    book.leave("sale", ("TEE-SAND-M", 1), on="01-10")
    book.close("2026-01")
    january = book.rows("SELECT * FROM leg ORDER BY document, line, part")
    sale = book.leave("sale", ("TEE-SAND-M", 2), on="02-20")
    book.receive(line("TEE-SAND-M", 3, 600), on="02-01")
    late = book.leave("sale", ("TEE-SAND-M", 1), on="02-10")
    assert (
        book.rows("SELECT * FROM leg WHERE effect_date < '2026-02' ORDER BY document, line, part") == january
    )
    assert (book.amounts("pieces sold")[late], book.amounts("pieces sold")[sale]) == (34, 233)
    assert book.prove().findings == ()

"""Undo: nothing is erased, the pair drops out, and what refers to a document holds it."""

from __future__ import annotations

import pytest
from book_builder import NOW, TODAY, Book, charge, line

from ledger.book import looking
from ledger.book.undoing import post_undo, prepare_undo
from ledger.errors import Refused


def test_an_undone_receipt_is_gone_from_the_shelf(book: Book) -> None:
    """Stock, value and lots are as if it had never come; its document stays, and says by what it was undone."""
    book.receive(line("TEE-SAND-M"))
    book.undo(1)
    assert [row.quantity_milli for row in looking.stock(book.connection) if row.quantity_milli] == []
    assert (looking.lots(book.connection, include_empty=True), book.legs()) == ([], [])
    assert looking.document(book.connection, 1).undone_by == 2
    assert book.prove().findings == ()


def test_an_undo_keeps_its_reason_and_day(book: Book) -> None:
    """Whoever reads the book later finds why; the effect is on the day of what was undone."""
    book.receive(line("TEE-SAND-M"))
    book.undo(1, why="wrong supplier")
    undo = looking.document(book.connection, 2)
    assert (undo.reason, undo.document_date, undo.effect_date, undo.undoes) == (
        "wrong supplier",
        TODAY.isoformat(),
        "2026-01-05",
        1,
    )


def test_a_receipt_with_charges_is_not_undone_alone(book: Book) -> None:
    """The command that undoes them together stands in the message."""
    book.receive(line("TEE-SAND-M"), charges=(charge(100), charge(50, kind="duty")))
    with pytest.raises(Refused, match="blankbook undo 3 2 1 --why"):
        book.undo(1)


def test_a_receipt_is_undone_with_its_charges(book: Book) -> None:
    """All of them together, latest first, in one transaction."""
    book.receive(line("TEE-SAND-M"), charges=(charge(100),))
    numbers = book.undo(1, 2)
    assert book.rows("SELECT number, undoes FROM document WHERE undoes IS NOT NULL ORDER BY 1") == [
        (3, 2),
        (4, 1),
    ]
    assert (numbers, book.legs(), book.prove().findings) == ((3, 4), [], ())


def test_an_undone_charge_holds_its_receipt_no_longer(book: Book) -> None:
    """First the charge, then the receipt, each on its own."""
    book.receive(line("TEE-SAND-M"), charges=(charge(100),))
    book.undo(2)
    book.undo(1)
    assert book.legs() == []


def test_an_undone_charge_gives_its_cost_back(book: Book) -> None:
    """The lot costs what its invoice says, and so does what was sold of it."""
    book.receive(line("TEE-SAND-M", 10, 1000), charges=(charge(500),))
    sale = book.leave("sale", ("TEE-SAND-M", 5))
    book.undo(2)
    assert (looking.lots(book.connection)[0].charges, book.amounts("pieces sold")) == (0, {sale: 500})
    assert book.prove().findings == ()


def test_a_charge_over_two_receipts_holds_both(book: Book) -> None:
    """Either receipt is refused while the bill stands."""
    book.receive(line("TEE-SAND-M"))
    book.receive(line("TEE-PLUM-L"), on="01-06")
    book.charge(charge(100), 1, 2)
    for number in (1, 2):
        with pytest.raises(Refused, match="cannot be undone alone: document 3 refers to it"):
            book.undo(number)


def test_what_was_used_meanwhile_holds_its_receipt(book: Book) -> None:
    """A sale that would go short is named, and nothing is posted."""
    book.receive(line("TEE-SAND-M", 10))
    book.leave("sale", ("TEE-SAND-M", 3))
    with pytest.raises(
        Refused, match=r"receipt 1 cannot be undone: later documents used[\s\S]*sale 2 takes 3"
    ):
        book.undo(1)
    assert (book.rows("SELECT count(*) FROM document"), book.prove().findings) == ([(2,)], ())


def test_an_undone_receipt_lets_a_later_one_serve(book: Book) -> None:
    """Where another lot was there in time, the sale takes it, at its cost."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-05")
    book.receive(line("TEE-SAND-M", 10, 3000), on="01-06")
    sale = book.leave("sale", ("TEE-SAND-M", 5))
    book.undo(1)
    assert (book.amounts("pieces sold"), book.prove().findings) == ({sale: 1500}, ())


def test_an_undone_sale_puts_the_goods_back(book: Book) -> None:
    """The next sale takes them from the same lot again."""
    book.receive(line("TEE-SAND-M", 10, 1000))
    first = book.leave("sale", ("TEE-SAND-M", 4))
    second = book.leave("sale", ("TEE-SAND-M", 6), on="01-11")
    book.undo(first)
    assert (book.amounts("pieces sold"), looking.lots(book.connection)[0].quantity_on_hand) == (
        {second: 600},
        4000,
    )


def test_undoing_twice_is_refused(book: Book) -> None:
    """The undo that did it is named."""
    book.receive(line("TEE-SAND-M"))
    book.undo(1)
    with pytest.raises(Refused, match="receipt 1 was undone already, by document 2"):
        book.undo(1)


def test_naming_a_document_twice_undoes_it_once(book: Book) -> None:
    """A slip of the finger is no second undo."""
    book.receive(line("TEE-SAND-M"))
    assert book.undo(1, 1) == (2,)


def test_an_undo_is_not_undone(book: Book) -> None:
    """The right document is entered anew instead."""
    book.receive(line("TEE-SAND-M"))
    book.undo(1)
    with pytest.raises(Refused, match="document anew"):
        book.undo(2)


def test_what_is_not_there_is_not_undone(book: Book) -> None:
    """The number is named."""
    with pytest.raises(Refused, match="there is no document 7"):
        book.undo(7)


def test_a_closed_receipt_is_reversed_in_the_open_month(book: Book) -> None:
    """An untouched receipt of a closed month leaves again on the day of the undo; its month stays."""
    book.receive(line("TEE-SAND-M"))
    book.close("2026-01")
    book.undo(1)
    assert book.rows("SELECT path, effect_date FROM document WHERE event = 'undo'") == [
        ("reversal", "2026-03-31")
    ]
    assert book.rows("SELECT quantity_milli, amount FROM balance") == [(0, 0)]


def test_a_charge_credited_after_its_close_holds_its_receipt_no_longer(book: Book) -> None:
    """One after the other comes to what undoing both at once does: nothing on hand, nothing paid."""
    number = book.receive(line("TEE-SAND-M", 10, 4000), on="01-05", charges=(charge(500),))
    book.close("2026-01")
    book.undo(number + 1)
    book.undo(number)
    held = [row for row in looking.stock(book.connection) if row.quantity_milli or row.value]
    assert (held, book.prove().findings) == ([], ())
    sums = "SELECT account, sum(amount) FROM leg GROUP BY account HAVING sum(amount) <> 0"
    assert book.rows(sums) == []


def test_one_refusal_undoes_none(book: Book) -> None:
    """Where one of several cannot be undone, none is."""
    book.receive(line("TEE-SAND-M"))
    with pytest.raises(Refused):
        book.undo(1, 9)
    assert book.rows("SELECT count(*) FROM document") == [(1,)]


def test_looking_at_an_undo_changes_nothing(book: Book) -> None:
    """The preview names the documents, latest first, and what they touched."""
    book.receive(line("TEE-SAND-M"), line("FILM-A3"), charges=(charge(100),))
    before = "\n".join(book.connection.iterdump())
    targets = prepare_undo(book.connection, [1, 2])
    assert [(target.number, target.skus) for target in targets] == [
        (2, ("FILM-A3", "TEE-SAND-M")),
        (1, ("FILM-A3", "TEE-SAND-M")),
    ]
    assert "\n".join(book.connection.iterdump()) == before


def test_an_undo_of_a_charge_that_a_discount_rests_on_is_refused(book: Book) -> None:
    """Without the freight the discount would take more off than the goods cost."""
    book.receive(line("TEE-SAND-M", 10, 1000))
    freight = book.charge(charge(500), 1)
    book.charge(charge(-1200, kind="discount"), 1)
    with pytest.raises(Refused, match="more than it cost"):
        post_undo(book.connection, [freight], "a test", TODAY, NOW)
    assert book.prove().findings == ()

"""Charges that come after the goods: spread over lots in the book, once, never below zero."""

from __future__ import annotations

from fractions import Fraction

import pytest
from book_builder import NOW, TODAY, Book, charge, day, line

from ledger.book import looking
from ledger.book.charging import post_charge, prepare_charge
from ledger.costing.landed import ChargeWish
from ledger.errors import AlreadyPosted, InputErrors, Refused


def charges_of_lots(book: Book) -> dict[str, int]:
    """The charges of every lot, by its number."""
    return {
        f"{lot.document}.{lot.line}": lot.charges for lot in looking.lots(book.connection, include_empty=True)
    }


def test_a_later_bill_takes_effect_with_its_receipt(book: Book) -> None:
    """Freight billed on the 20th for goods of the 5th is cost of the 5th."""
    book.receive(line("TEE-SAND-M", 10, 3000), line("TEE-PLUM-L", 10, 1000))
    number = book.charge(charge(400), 1)
    assert book.rows("SELECT document_date, effect_date, path FROM document WHERE number = ?", number) == [
        ("2026-01-20", "2026-01-05", "with receipt")
    ]
    assert charges_of_lots(book) == {"1.1": 300, "1.2": 100}


def test_a_later_bill_re_costs_what_was_sold_meanwhile(book: Book) -> None:
    """Half the lot was sold before its freight came: half the freight goes with it."""
    book.receive(line("TEE-SAND-M", 10, 1000))
    sale = book.leave("sale", ("TEE-SAND-M", 5))
    book.charge(charge(200), 1)
    assert (book.amounts("pieces sold"), book.prove().findings) == ({sale: 600}, ())


def test_a_bill_over_several_receipts(book: Book) -> None:
    """One freight bill for two deliveries, spread over the lines of both."""
    book.receive(line("TEE-SAND-M", 10, 3000), on="01-05")
    book.receive(line("TEE-PLUM-L", 10, 1000), on="02-05")
    number = book.charge(charge(100, "quantity"), 1, 2, on="02-20")
    assert charges_of_lots(book) == {"1.1": 50, "2.1": 50}
    assert book.rows("SELECT effect_date FROM charge_share WHERE document = ? ORDER BY 1", number) == [
        ("2026-01-05",),
        ("2026-02-05",),
    ]
    assert book.prove().findings == ()


def test_a_percentage_on_some_lines_is_of_those_lines(book: Book) -> None:
    """Ten per cent duty on one of two lines is ten per cent of that line."""
    book.receive(line("TEE-SAND-M", 10, 3000), line("TEE-PLUM-L", 10, 1000))
    book.charge(ChargeWish("duty", "value", percent=Fraction(10), only=(1,)), 1)
    assert charges_of_lots(book) == {"1.1": 0, "1.2": 100}


def test_a_percentage_is_recorded_in_the_books_currency(book: Book) -> None:
    """A percentage has no amount in the currency its limits were typed in."""
    book.receive(line("TEE-SAND-M", 10, 3000))
    wish = ChargeWish("duty", "value", percent=Fraction(10), currency="CNY", rate="0.14", minimum=1)
    number = book.charge(wish, 1)
    rows = book.rows("SELECT currency, rate, total_foreign, total FROM document WHERE number = ?", number)
    assert rows == [("USD", "1", 300, 300)]


def test_a_foreign_bill_keeps_both_amounts(book: Book) -> None:
    """What was billed stands beside what it came to."""
    book.receive(line("TEE-SAND-M", 10, 3000))
    wish = charge(1400, currency="CNY", amount_foreign=10_000, rate="0.14", rate_source="as given")
    number = book.charge(wish, 1)
    rows = book.rows("SELECT currency, rate, total_foreign, total FROM document WHERE number = ?", number)
    assert rows == [("CNY", "0.14", 10_000, 1400)]


def test_a_missing_basis_names_the_items(book: Book) -> None:
    """A freight bill by weight needs the weights."""
    book.receive(line("TEE-SAND-M"))
    with pytest.raises(InputErrors, match="no weight is known for TEE-SAND-M"):
        book.charge(charge(100, "weight"), 1)


def test_a_bill_of_the_future_is_refused(book: Book) -> None:
    """The bill's date is checked like a receipt's."""
    book.receive(line("TEE-SAND-M"))
    with pytest.raises(InputErrors, match="in the future"):
        book.charge(charge(100), 1, on="2026-04-01")


def test_a_closed_receipt_is_charged_late(book: Book) -> None:
    """The charge takes effect on its own date, where the goods are then."""
    book.receive(line("TEE-SAND-M"))
    book.close("2026-01")
    number = book.charge(charge(100), 1, on="02-20")
    assert book.rows("SELECT path, effect_date FROM charge_share WHERE document = ?", number) == [
        ("late", "2026-02-20")
    ]


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (99, "there is no document 99"),
        (2, "document 2 is a charge; a charge falls on receipts"),
        (3, "undone by document 4"),
    ],
)
def test_a_charge_falls_on_a_standing_receipt(book: Book, number: int, words: str) -> None:
    """No such document, one of another kind, one that was undone."""
    book.receive(line("TEE-SAND-M"), charges=(charge(100),))
    book.undo(book.receive(line("TEE-PLUM-L")))
    with pytest.raises(Refused, match=words):
        book.charge(charge(100), number)


def test_a_receipt_undone_since_the_preview_is_noticed(book: Book) -> None:
    """Posting looks again."""
    book.receive(line("TEE-SAND-M"))
    plan = prepare_charge(book.connection, charge(100), [1], day("01-20"), TODAY)
    book.undo(1)
    with pytest.raises(Refused, match="was undone"):
        post_charge(book.connection, plan, NOW)


def test_the_same_bill_twice_is_once(book: Book) -> None:
    """Same sender, number, kind, amount, day and receipts: refused, and the first one is named."""
    book.receive(line("TEE-SAND-M"))
    book.charge(charge(100, reference="F-9"), 1)
    with pytest.raises(AlreadyPosted, match="as charge 2"):
        book.charge(charge(100, reference="F-9"), 1)


def test_a_bill_of_another_number_is_another(book: Book) -> None:
    """Two bills of the same amount on the same day have two numbers."""
    book.receive(line("TEE-SAND-M"))
    book.charge(charge(100, reference="F-9"), 1)
    assert book.charge(charge(100, reference="F-10"), 1) == 3


def test_an_undone_bill_can_be_posted_again(book: Book) -> None:
    """What was undone does not count."""
    book.receive(line("TEE-SAND-M"))
    book.undo(book.charge(charge(100), 1))
    assert book.charge(charge(100), 1) == 4


def test_a_discount_lowers_cost(book: Book) -> None:
    """A later credit takes from the lot what its share is."""
    book.receive(line("TEE-SAND-M", 10, 1000))
    book.charge(charge(-300, kind="discount"), 1)
    assert looking.lots(book.connection)[0].landed_cost == 700


def test_a_discount_beyond_the_cost_is_refused(book: Book) -> None:
    """The item and its receipt are named; charges that came before count as cost."""
    book.receive(line("TEE-SAND-M", 10, 1000), charges=(charge(100),))
    with pytest.raises(Refused, match="TEE-SAND-M of receipt 1 would cost less than nothing"):
        book.charge(charge(-1101, kind="discount"), 1)
    book.charge(charge(-1100, kind="discount"), 1)
    assert looking.lots(book.connection)[0].landed_cost == 0


def test_a_discount_that_another_used_up_is_refused(book: Book) -> None:
    """Two credits previewed together come to more than the goods cost: the second is not posted."""
    book.receive(line("TEE-SAND-M", 10, 1000))
    wishes = [charge(-600, kind="discount", reference=number) for number in ("C-1", "C-2")]
    plans = [prepare_charge(book.connection, wish, [1], day("01-20"), TODAY) for wish in wishes]
    post_charge(book.connection, plans[0], NOW)
    with pytest.raises(Refused, match="more than it cost"):
        post_charge(book.connection, plans[1], NOW)
    assert book.prove().findings == ()


def test_a_charge_on_supplies_goes_to_supplies(book: Book) -> None:
    """What was deducted when bought takes its freight along."""
    book.receive(line("TAPE-HEAT", 3, 900))
    number = book.charge(charge(100), 1)
    assert (book.amounts("supplies"), book.prove().findings) == ({1: 900, number: 100}, ())

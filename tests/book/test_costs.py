"""What a piece costs now and what a job did cost, out of a book."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from book_builder import Book, line
from documents_builder import finished, leave, make

from ledger.book import costs
from ledger.book.bill_store import save_bills
from ledger.book.catalogue_store import save_items
from ledger.book.connect import write_tx
from ledger.book.costs import Costing, JobRow
from ledger.catalogue.boms import Bill, BillLine
from ledger.catalogue.items import Item
from ledger.costing.piece_cost import Costed
from ledger.errors import Refused

FOX = Bill(
    code="FOX",
    name="Fox",
    way="direct to film",
    blank="Alder",
    finished="FOX-{colour}-{size}",
    lines=(
        BillLine("INK-CYAN", per_piece=Fraction(2), per_run=Fraction(6)),
        BillLine("FILM-A3", per_piece=Fraction(1)),
    ),
    misprint_percent=Fraction(4),
    labour_per_piece=Decimal("0.355"),
)
OWN = Bill("OWN", "Own garment", "stones", "GUEST-HOOD", "OWN", lines=(BillLine("FILM-A3", Fraction(1)),))


@pytest.fixture
def shop(book: Book) -> Book:
    """Tees, ink and film, two lots of tees, and two bills."""
    book.receive(line("TEE-SAND-M", 4, 1200), line("INK-CYAN", 100, 1300), line("FILM-A3", 50, 1000))
    book.receive(line("TEE-SAND-M", 10, 4000), on="01-06")
    with write_tx(book.connection):
        save_bills(book.connection, [FOX, OWN])
    finished(book.connection, "FOX-SAND-M")
    return book


def known(book: Book) -> Costing:
    """Return the catalogue as costing takes it."""
    return costs.costing(book.connection, "USD")


def fox(book: Book, pieces: int, sku: str = "TEE-SAND-M") -> costs.BillCost:
    """Return what the fox costs on a tee."""
    found = known(book)
    return costs.bill_cost(found, FOX, found.items[sku], pieces)


def test_a_run_takes_the_lots_on_hand_in_order(shop: Book) -> None:
    """Six tees: four at 3.00, two at 4.00; 18 mL at 13 cents, six sheets at 20, six times 0.355."""
    cost = fox(shop, 6).cost
    assert (cost.fifo.total.run, cost.replacement.total.run) == (
        1200 + 800 + 234 + 120 + 213,
        2400 + 234 + 120 + 213,
    )


def test_what_was_sold_is_not_there_any_more(shop: Book) -> None:
    """After three tees left, one at 3.00 is left before those at 4.00."""
    leave(shop.connection, "sale", ("TEE-SAND-M", 3))
    assert fox(shop, 2).cost.rows[0].fifo == Costed(700, 35_000)


@pytest.mark.parametrize("pieces", [1, 5, 7, 13])
def test_a_job_posted_now_is_charged_what_was_told(shop: Book, pieces: int) -> None:
    """Cost first, then make: the same amount to the cent."""
    told = fox(shop, pieces).cost.job_cost
    used = [("TEE-SAND-M", pieces), ("INK-CYAN", 2 * pieces + 6), ("FILM-A3", pieces)]
    labour = (355 * pieces + 5) // 10
    job = make(shop.connection, ("FOX-SAND-M", pieces), *used, labour_cents=labour)
    assert costs.job_cost(known(shop), job).cost == told


def test_what_is_not_on_hand_is_told(shop: Book) -> None:
    """Twenty pieces need six tees more than there are."""
    assert dict(fox(shop, 20).cost.missing_milli) == {"TEE-SAND-M": 6000}


def test_a_blank_that_never_came_in_has_no_cost(shop: Book) -> None:
    """The plum tee is in the catalogue only."""
    assert fox(shop, 1, "TEE-PLUM-L").cost.unknown == ("TEE-PLUM-L",)


def test_a_customers_garment_costs_nothing(shop: Book) -> None:
    """It is held at no cost, in the book or not."""
    found = known(shop)
    cost = costs.bill_cost(found, OWN, found.items["GUEST-HOOD"], 1).cost
    assert (cost.unknown, cost.replacement.total.run) == ((), 20)


def test_what_only_ever_came_in_for_nothing_costs_nothing(book: Book) -> None:
    """A gift has a lot, at no cost."""
    book.receive(line("FILM-A3", 5, 0))
    found = known(book)
    assert costs.latest_costs(book.connection, ["FILM-A3"], found.items) == {"FILM-A3": Fraction(0)}


def test_the_usual_blank_is_one_that_has_a_cost(shop: Book) -> None:
    """Plum comes first, but only sand ever came in."""
    found = known(shop)
    blanks = [found.items["TEE-PLUM-L"], found.items["TEE-SAND-M"]]
    assert costs.usual_blank(found, blanks) == blanks[1]


def test_the_usual_blank_is_of_size_m(shop: Book) -> None:
    """Before a smaller one that has a cost as well."""
    small = Item("TEE-SAND-S", "Alder tee, sand, S", "blank", "goods", "each", "Alder", "Sand", "S", "adult")
    with write_tx(shop.connection):
        save_items(shop.connection, [small], [])
    shop.receive(line("TEE-SAND-S", 5, 1000, small))
    found = known(shop)
    chosen = costs.usual_blank(found, [found.items["TEE-SAND-S"], found.items["TEE-SAND-M"]])
    assert chosen == found.items["TEE-SAND-M"]


def job(book: Book, *used: tuple[str, int], pieces: int = 5, **spoiled: int) -> costs.JobCost:
    """Post a job of foxes and return what it cost."""
    number = make(book.connection, ("FOX-SAND-M", pieces), *used, **spoiled)
    return costs.job_cost(known(book), number)


def test_a_job_is_compared_with_the_bill_as_it_is_now(shop: Book) -> None:
    """Five foxes want 16 mL; 20 were used: 4 mL too many, 52 cents."""
    found = job(shop, ("TEE-SAND-M", 5), ("INK-CYAN", 20), ("FILM-A3", 5))
    assert found.rows[1] == JobRow("INK-CYAN", "mL", 20_000, 16_000, 260, 208)
    assert (found.rows[1].more_milli, found.rows[1].more_cost) == (4000, 52)


def test_what_a_job_left_out_is_told_at_the_latest_cost(shop: Book) -> None:
    """No film was used where the bill wants five sheets."""
    found = job(shop, ("TEE-SAND-M", 5), ("INK-CYAN", 16))
    assert found.rows[2] == JobRow("FILM-A3", "sheet", 0, 5000, 0, 100)


def test_labour_is_compared_too(shop: Book) -> None:
    """Two dollars paid; the bill says 5 times 0.355."""
    found = job(shop, ("TEE-SAND-M", 5), labour_cents=200)
    assert found.rows[-1] == JobRow("", "", 0, 0, 200, 178)


def test_every_piece_counts_and_normal_spoilage_bears_no_cost(shop: Book) -> None:
    """Five pieces, one normally and one abnormally spoiled: three good, four bear the cost."""
    found = job(shop, ("TEE-SAND-M", 5), ("FILM-A3", 5), normal=1, abnormal=1)
    assert (found.good_milli, found.bearing_milli, found.cost) == (3000, 4000, 1600 + 100)


def test_the_job_costs_what_its_lot_cost(shop: Book) -> None:
    """The rows add up to the finished lot's landed cost."""
    found = job(shop, ("TEE-SAND-M", 5), ("INK-CYAN", 17), ("FILM-A3", 5), labour_cents=33)
    lot = shop.rows("SELECT invoice_cost + charges FROM lot WHERE document = ?", found.document.number)
    assert lot == [(found.cost,)]


def test_what_no_bill_makes_is_shown_without_one(shop: Book) -> None:
    """A finished item of its own."""
    finished(shop.connection, "ONE-OFF")
    number = make(shop.connection, ("ONE-OFF", 1), ("TEE-SAND-M", 1))
    found = costs.job_cost(known(shop), number)
    assert (found.bill, found.cost) == (None, 300)


def test_a_document_that_is_no_job_is_refused(shop: Book) -> None:
    """A receipt has no bill."""
    with pytest.raises(Refused, match="receipt 1 is no job"):
        costs.job_cost(known(shop), 1)


def test_an_undone_job_is_refused(shop: Book) -> None:
    """It has no cost any more."""
    number = job(shop, ("TEE-SAND-M", 5)).document.number
    (undo,) = shop.undo(number)
    with pytest.raises(Refused, match=f"undone by document {undo}"):
        costs.job_cost(known(shop), number)


def test_a_job_is_looked_up_by_key(shop: Book) -> None:
    """Its lines and their legs, no table read through."""
    plan = shop.rows("EXPLAIN QUERY PLAN " + costs.JOB_USED, 1, "component")
    assert [str(step[3]) for step in plan if "SCAN" in str(step[3])] == []

"""Costs worth a second look: first receipts, one of two lots, jobs, and sales below cost."""

from __future__ import annotations

import pytest
from book_builder import Book, line
from documents_builder import make, milli, post_lines

from ledger.book.catalogue_store import save_items
from ledger.book.connect import write_tx
from ledger.book.documents import NewLine
from ledger.book.unusual_costs import BELOW_COST, CheckedDays, CostPoint, sold_below_cost, unusual_costs
from ledger.catalogue.items import Item

JANUARY = CheckedDays("2026-01-01", "2026-01-31", "USD")
SIZES = ("S", "M", "L", "XL")


def add(book: Book, *items: Item) -> None:
    """Put items into the catalogue."""
    with write_tx(book.connection):
        save_items(book.connection, items, [])


def tee(size: str) -> Item:
    """One size of a style of shirts."""
    return Item(f"WREN-{size}", f"Wren tee, {size}", "blank", "goods", "each", "Wren", "Grey", size, "adult")


def sheet(name: str) -> Item:
    """A paper that belongs to no style."""
    return Item(name, name, "paper", "supplies when used", "sheet")


@pytest.fixture
def sisters(book: Book) -> Book:
    """Three sizes of a style at 3.60."""
    add(book, *map(tee, SIZES), *map(sheet, ("P-THIN", "P-THICK", "P-FINE", "P-NEW")))
    for size in SIZES[:3]:
        book.receive(line(f"WREN-{size}", 72, 25920, tee(size)), on="01-05", reference=size)
    return book


def asked(book: Book) -> list[CostPoint]:
    """What is asked about January's costs."""
    return list(unusual_costs(book.connection, JANUARY))


def test_a_first_receipt_is_held_against_its_style(sisters: Book) -> None:
    """A case's price typed for one piece: 259.20 where the other sizes cost 3.60."""
    number = sisters.receive(line("WREN-XL", 1, 25920, tee("XL")), on="01-06")
    (point,) = asked(sisters)
    assert point.where == f"lot {number}.1, receipt of 2026-01-06"
    assert point.command == f"blankbook show {number}"
    assert "259.200000 USD each, much more than the other items of style Wren" in point.what
    assert "3.600000 USD" in point.what


def test_the_right_one_of_two_lots_is_not_accused(sisters: Book) -> None:
    """Its style says which of them is wrong."""
    sisters.receive(line("WREN-XL", 72, 25920, tee("XL")), on="01-06", reference="a")
    wrong = sisters.receive(line("WREN-XL", 1, 25920, tee("XL")), on="01-07", reference="b")
    assert [point.where.split(",")[0] for point in asked(sisters)] == [f"lot {wrong}.1"]


def test_the_right_one_of_three_is_not_accused_either(sisters: Book) -> None:
    """Where an item's own lots disagree, two of them may have the same fault."""
    sisters.receive(line("WREN-XL", 72, 25920, tee("XL")), on="01-06", reference="a")
    wrong = [
        sisters.receive(line("WREN-XL", 1, 25920, tee("XL")), on="01-07", reference=name) for name in "bc"
    ]
    found = [point.where.split(",")[0] for point in asked(sisters)]
    assert found == [f"lot {number}.1" for number in wrong]


def test_an_item_of_its_own_price_is_its_own_measure(book: Book) -> None:
    """Three lots that agree, though the style's other items cost a tenth."""
    add(book, *map(tee, SIZES))
    for place, size in enumerate(SIZES[:3]):
        book.receive(line(f"WREN-{size}", 72, 2592, tee(size)), on="01-02", reference=str(place))
    for place in range(3, 6):
        book.receive(line("WREN-XL", 72, 25920, tee("XL")), on=f"01-0{place}", reference=str(place))
    assert asked(book) == []


@pytest.mark.parametrize(("cents", "is_asked"), [(2501, True), (2500, False), (20, False), (19, True)])
def test_an_item_without_a_style_is_held_against_the_nearest_of_its_kind(
    sisters: Book,
    cents: int,
    is_asked: bool,  # noqa: FBT001
) -> None:
    """Papers at 0.10, 0.20 and 0.50 for ten sheets: five times the dearest, or a fifth of the cheapest."""
    for name, cost in (("P-THIN", 100), ("P-THICK", 200), ("P-FINE", 500)):
        sisters.receive(line(name, 10, cost, sheet(name)), on="01-05", reference=name)
    sisters.receive(line("P-NEW", 10, cents, sheet("P-NEW")), on="01-06", reference="new")
    assert [("kind paper" in point.what) for point in asked(sisters)] == ([True] if is_asked else [])


def test_two_lots_without_kin_are_held_against_each_other(book: Book) -> None:
    """Nothing says which of the two is wrong."""
    for cents in (1000, 9000):
        book.receive(line("INK-CYAN", 10, cents), on="01-05", reference=str(cents))
    assert len(asked(book)) == 2


def test_an_only_lot_without_kin_is_not_asked_about(book: Book) -> None:
    """Nothing is known that it could be held against."""
    book.receive(line("INK-CYAN", 10, 9000), on="01-05")
    assert asked(book) == []


def fox(size: str) -> Item:
    """A printed shirt; its style is its design."""
    return Item(f"FOX-{size}", f"Fox, {size}", "finished", "goods", "each", "FOX", "", size, "adult")


def sell(book: Book, sku: str, pieces: int, cents: int, on: str = "01-20") -> int:
    """Sell pieces of one item for some cents together."""
    sold = NewLine(line=1, sku=sku, quantity_milli=milli(pieces), amount=cents)
    return post_lines(book.connection, "sale", [sold], on)


@pytest.fixture
def dear_job(book: Book) -> Book:
    """Two jobs of a design at 1.00 a piece, and a third of another size whose shirt cost 25.00; then sales."""
    add(book, *map(fox, SIZES))
    book.receive(line("TEE-SAND-M", 40, 4000), on="01-02")
    book.receive(line("TEE-PLUM-L", 4, 10000), on="01-02", reference="2")
    make(book.connection, ("FOX-S", 10), ("TEE-SAND-M", 10), on="01-03")
    make(book.connection, ("FOX-M", 10), ("TEE-SAND-M", 10), on="01-04")
    make(book.connection, ("FOX-L", 4), ("TEE-PLUM-L", 4), on="01-05")
    return book


def test_a_job_far_over_its_designs_others_is_asked_about(dear_job: Book) -> None:
    """Also where it is the first of its size; what it used is shown by its own command."""
    (point,) = [point for point in asked(dear_job) if "a piece of" in point.what]
    assert "FOX-L cost 25.000000 USD: much more than usual for FOX, which is about 1.000000 USD" in point.what
    assert point.command == "blankbook cost 5"
    assert "make of 2026-01-05" in point.where


def test_a_job_over_what_it_sells_for_is_asked_about(dear_job: Book) -> None:
    """12.00 for a piece that cost 25.00."""
    sell(dear_job, "FOX-L", 2, 2400)
    (point,) = [point for point in asked(dear_job) if "a piece of" in point.what]
    assert "and more than it sold for on 2026-01-20, 12.000000 USD" in point.what


def test_a_job_as_usual_under_its_price_is_not_asked_about(dear_job: Book) -> None:
    """1.00 for a piece that sells for 12.00."""
    sell(dear_job, "FOX-S", 2, 2400)
    assert not any("FOX-S" in point.what for point in asked(dear_job))


def test_sales_below_cost_are_told_by_design_with_the_worst(dear_job: Book) -> None:
    """Three of four sales of the design; the command leads to the job behind the worst."""
    sell(dear_job, "FOX-S", 1, 99)
    sell(dear_job, "FOX-M", 1, 100)
    worst = sell(dear_job, "FOX-L", 2, 2400)
    sell(dear_job, "FOX-L", 1, 2400)
    (point,) = sold_below_cost(dear_job.connection, JANUARY)
    assert point.what.startswith(
        "FOX: 3 sales were below cost, 27.01 USD in all; the worst: FOX-L brought 24.00"
    )
    assert (point.where, point.command) == (f"sale {worst} of 2026-01-20", "blankbook cost 5")


def test_a_sale_of_what_was_bought_leads_to_where_it_came_from(book: Book) -> None:
    """Nothing was made of it."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-02")
    number = sell(book, "TEE-SAND-M", 2, 199)
    (point,) = sold_below_cost(book.connection, JANUARY)
    assert point.command == f"blankbook trace {number}"
    assert "a sale was below cost, 0.01 USD in all" in point.what


def test_an_undone_sale_below_cost_is_not_told(book: Book) -> None:
    """It is not there any more, and one at cost is none."""
    book.receive(line("TEE-SAND-M", 10, 1000), on="01-02")
    book.undo(sell(book, "TEE-SAND-M", 2, 100))
    sell(book, "TEE-SAND-M", 2, 200)
    assert list(sold_below_cost(book.connection, JANUARY)) == []


def test_sales_below_cost_cost_what_the_month_holds(book: Book) -> None:
    """Documents are looked up by their date and legs by their document; none of the legs are gone through."""
    values = (JANUARY.first_day, JANUARY.last_day)
    plan = " ".join(
        str(row[3]) for row in book.connection.execute(f"EXPLAIN QUERY PLAN {BELOW_COST}", values)
    )
    assert "SEARCH d USING INDEX document_effect" in plan
    assert "SCAN" not in plan

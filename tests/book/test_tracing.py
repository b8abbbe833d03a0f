"""Where a lot went and what stands behind a document, through jobs and jobs of jobs."""

from __future__ import annotations

from fractions import Fraction

import pytest
from book_builder import Book, charge, line
from documents_builder import finished, leave, make, post_lines, take_back

from ledger.book import tracing
from ledger.book.documents import NewLine
from ledger.book.recalling import recall
from ledger.book.tracing import LOT, MADE, MOVES, TOOK, Ahead, Departure
from ledger.errors import Refused

INK = 1, 2
TEES = 1, 1
FOX, FOX_LOT = 2, (2, 3)
PAIR, PAIR_LOT = 3, (3, 3)
BIG_SALE, SMALL_SALE, INK_USE, SAMPLE = 4, 5, 6, 7


@pytest.fixture
def shop(book: Book) -> Book:
    """Tees and ink; a job of ten foxes, one spoiled; a job of two packed pairs out of four of them; sales."""
    book.receive(line("TEE-SAND-M", 20, 6000), line("INK-CYAN", 100, 1000), reference="AY-7")
    connection = book.connection
    finished(connection, "FOX", "PAIR")
    assert make(connection, ("FOX", 10), ("TEE-SAND-M", 10), ("INK-CYAN", 40), abnormal=1) == FOX
    assert make(connection, ("PAIR", 2), ("FOX", 4), ("INK-CYAN", 2), on="01-12") == PAIR
    assert leave(connection, "sale", ("FOX", 3), party="Marsh Choir", reference="W-1") == BIG_SALE
    assert leave(connection, "sale", ("PAIR", 1), on="01-21", party="Ola Reed", reference="W-2") == SMALL_SALE
    assert leave(connection, "use", ("INK-CYAN", 5), on="01-22") == INK_USE
    assert leave(connection, "sample", ("FOX", 1), on="01-23") == SAMPLE
    return book


def departures(traced: Ahead) -> list[tuple[tuple[int, int], int, str, int, Fraction | None]]:
    """What left, in short: from which lot, in which document, what became of it, how many, ink inside."""
    return [
        (each.lot, each.document, each.what, each.gone_milli // 1000, each.inside)
        for each in traced.departures
    ]


def inside_of(traced: Ahead) -> Fraction:
    """All of the traced lot that is anywhere: out of the shop, or on hand."""
    gone = [each.inside for each in traced.departures if each.makes is None]
    there = [each.inside for each in traced.on_hand]
    return sum((part for part in [*gone, *there] if part is not None), Fraction(0))


def test_a_lot_is_followed_to_jobs_finished_lots_and_sales(shop: Book) -> None:
    """40 mL of ink in ten foxes are 4 mL each; a pair has two foxes and 1 mL more."""
    assert departures(tracing.ahead(shop.connection, [INK])) == [
        (INK, FOX, "make", 40, 40_000),
        (INK, PAIR, "make", 2, 2000),
        (INK, INK_USE, "use", 5, 5000),
        (FOX_LOT, FOX, "spoil", 1, 4000),
        (FOX_LOT, PAIR, "make", 4, 16_000),
        (FOX_LOT, BIG_SALE, "sale", 3, 12_000),
        (FOX_LOT, SAMPLE, "sample", 1, 4000),
        (PAIR_LOT, SMALL_SALE, "sale", 1, 9000),
    ]


def test_what_is_on_hand_is_told_as_material_and_in_finished_lots(shop: Book) -> None:
    """53 mL in the bottle, 4 in a fox, 9 in a pair."""
    traced = tracing.ahead(shop.connection, [INK])
    assert [(each.lot.key, each.lot.on_hand_milli, each.inside) for each in traced.on_hand] == [
        (INK, 53_000, 53_000),
        (FOX_LOT, 1000, 4000),
        (PAIR_LOT, 1000, 9000),
    ]


def test_nothing_of_a_lot_is_lost_on_the_way(shop: Book) -> None:
    """What is out and what is on hand is what came in."""
    assert inside_of(tracing.ahead(shop.connection, [INK])) == 100_000


def test_what_comes_back_is_taken_off_its_sale(shop: Book) -> None:
    """Two of three foxes come back: one is out, three are on hand."""
    take_back(shop.connection, "FOX", 2, BIG_SALE)
    traced = tracing.ahead(shop.connection, [FOX_LOT])
    sale = next(each for each in traced.departures if each.document == BIG_SALE)
    held = traced.on_hand[0]
    assert (sale.quantity_milli, sale.back_milli, held.lot.on_hand_milli) == (3000, 2000, 3000)
    assert inside_of(traced) == 10_000


def test_what_came_back_can_be_sold_again(shop: Book) -> None:
    """It leaves a second time out of the same lot, and the sum still is what was made."""
    take_back(shop.connection, "FOX", 2, BIG_SALE)
    leave(shop.connection, "sale", ("FOX", 3), on="01-26", party="Ola Reed")
    assert inside_of(tracing.ahead(shop.connection, [INK])) == 100_000


def test_a_lot_of_which_nothing_left_has_only_what_is_on_hand(book: Book) -> None:
    """A fresh receipt."""
    book.receive(line("TEE-SAND-M", 5))
    traced = tracing.ahead(book.connection, [(1, 1)])
    assert (traced.departures, len(traced.on_hand)) == ((), 1)


def test_a_job_that_kept_nothing_ends_the_way(book: Book) -> None:
    """All pieces normally spoiled: no lot, and what went in is spoiled."""
    book.receive(line("TEE-SAND-M", 5))
    finished(book.connection, "FOX")
    make(book.connection, ("FOX", 2), ("TEE-SAND-M", 2), normal=2)
    (gone,) = tracing.ahead(book.connection, [(1, 1)]).departures
    assert (gone.what, gone.makes) == ("spoil", None)


def test_normal_spoilage_leaves_the_cost_and_the_ink_with_the_good(book: Book) -> None:
    """Ten pieces, two normally spoiled: each of the eight has a fifth more of what was used."""
    book.receive(line("TEE-SAND-M", 10))
    finished(book.connection, "FOX")
    make(book.connection, ("FOX", 10), ("TEE-SAND-M", 10), normal=2)
    traced = tracing.ahead(book.connection, [(1, 1)])
    assert traced.on_hand[0].inside == 10_000


def test_a_short_settled_by_a_later_receipt_belongs_to_its_lot(book: Book) -> None:
    """What was used before it was entered is found from the lot that settled it."""
    book.receive(line("FILM-A3", 1), on="01-05")
    lines = [NewLine(line=1, sku="FILM-A3", quantity_milli=3000, short_allowed=1)]
    use = post_lines(book.connection, "use", lines, "01-08")
    receipt = book.receive(line("FILM-A3", 5), on="01-12")
    (gone,) = tracing.ahead(book.connection, [(receipt, 1)]).departures
    assert (gone.document, gone.quantity_milli) == (use, 2000)


def test_an_undone_sale_is_nowhere(shop: Book) -> None:
    """It has no legs any more."""
    shop.undo(BIG_SALE)
    assert BIG_SALE not in {each.document for each in tracing.ahead(shop.connection, [INK]).departures}


def test_a_sale_is_followed_back_to_the_suppliers_invoice(shop: Book) -> None:
    """A pair: its own lot, two foxes, and out of the receipt 9 mL and two tees."""
    sources = tracing.behind(shop.connection, tracing.lots_taken(shop.connection, SMALL_SALE))
    assert [(each.lot.key, each.quantity, each.into) for each in sources] == [
        (PAIR_LOT, 1000, ()),
        (FOX_LOT, 2000, (PAIR_LOT,)),
        (TEES, 2000, (FOX_LOT,)),
        (INK, 9000, (PAIR_LOT, FOX_LOT)),
    ]
    assert sources[-1].lot.reference == "AY-7"


def test_a_return_is_followed_back_too(shop: Book) -> None:
    """What came back has the same lots behind it."""
    back = take_back(shop.connection, "FOX", 2, BIG_SALE)
    sources = tracing.behind(shop.connection, tracing.lots_taken(shop.connection, back))
    assert [(each.lot.key, each.quantity) for each in sources] == [
        (FOX_LOT, 2000),
        (TEES, 2000),
        (INK, 8000),
    ]


def test_a_receipt_has_nothing_behind_it(shop: Book) -> None:
    """Its goods came from outside, its own lots are not behind it."""
    assert tracing.lots_taken(shop.connection, 1) == {}


def test_a_late_charge_takes_nothing(shop: Book) -> None:
    """It moves money, no pieces."""
    number = shop.charge(charge(100), 1)
    assert tracing.lots_taken(shop.connection, number) == {}


def test_the_recall_list_is_who_holds_something(shop: Book) -> None:
    """Party, reference, day and pieces; what came back is off the list."""
    take_back(shop.connection, "FOX", 2, BIG_SALE)
    found = recall(tracing.ahead(shop.connection, [INK]))
    assert [
        (one.party, one.reference, one.effect_date, one.sku, one.held_milli, one.inside)
        for one in found.holders
    ] == [
        ("Marsh Choir", "W-1", "2026-01-20", "FOX", 1000, 4000),
        ("Ola Reed", "W-2", "2026-01-21", "PAIR", 1000, 9000),
        ("", "", "2026-01-23", "FOX", 1000, 4000),
    ]


def test_who_brought_everything_back_holds_nothing(shop: Book) -> None:
    """All three foxes came back."""
    take_back(shop.connection, "FOX", 3, BIG_SALE)
    found = recall(tracing.ahead(shop.connection, [INK]))
    assert "Marsh Choir" not in {one.party for one in found.holders}


def test_the_recall_tells_what_else_became_of_it(shop: Book) -> None:
    """The ink used outside of jobs, and the fox that was spoiled."""
    found = recall(tracing.ahead(shop.connection, [INK]))
    assert [(each.event, each.sku, each.quantity_milli, each.inside) for each in found.elsewhere] == [
        ("use", "INK-CYAN", 5000, 5000),
        ("spoil", "FOX", 1000, 4000),
    ]


def test_a_recall_adds_up(shop: Book) -> None:
    """Holders, shelf and the rest are the whole lot."""
    found = recall(tracing.ahead(shop.connection, [INK]))
    parts = [each.inside for each in (*found.holders, *found.on_hand, *found.elsewhere)]
    assert sum((part for part in parts if part is not None), Fraction(0)) == 100_000


def test_several_lots_are_recalled_together_without_counting_pieces_twice(shop: Book) -> None:
    """Tees and ink of one receipt are in the same three foxes."""
    found = recall(tracing.ahead(shop.connection, [TEES, INK]))
    pieces = {one.document: one.held_milli for one in found.holders}
    assert pieces == {BIG_SALE: 3000, SMALL_SALE: 1000, SAMPLE: 1000}
    assert {one.inside for one in found.holders} == {None}


def test_an_order_of_two_lots_stands_once(shop: Book) -> None:
    """One sale of both a fox and another fox's lot is one row."""
    make(shop.connection, ("FOX", 5), ("TEE-SAND-M", 5), ("INK-CYAN", 20), on="01-24")
    leave(shop.connection, "sale", ("FOX", 3), on="01-28", party="Ola Reed", reference="W-9")
    found = recall(tracing.ahead(shop.connection, [INK]))
    assert [one.held_milli for one in found.holders if one.reference == "W-9"] == [3000]


def test_an_unknown_lot_names_those_of_its_document(shop: Book) -> None:
    """A wrong line number is answered with what there is."""
    with pytest.raises(Refused, match=r"no lot 1\.9: receipt 1 is there, and it made 1\.1, 1\.2"):
        tracing.ahead(shop.connection, [(1, 9)])


def test_an_unknown_document_is_refused(shop: Book) -> None:
    """There is no document 99."""
    with pytest.raises(Refused, match="no document 99"):
        tracing.ahead(shop.connection, [(99, 1)])


@pytest.mark.parametrize("query", [LOT, MOVES])
def test_a_lot_is_looked_up_by_index(shop: Book, query: str) -> None:
    """No table is read through: what a trace costs is what it visits."""
    plan = shop.rows("EXPLAIN QUERY PLAN " + query, 1, 1)
    assert [str(step[3]) for step in plan if "SCAN" in str(step[3])] == []


def test_a_lots_moves_are_found_by_the_index_on_lots(shop: Book) -> None:
    """The partial index of the legs."""
    plan = shop.rows("EXPLAIN QUERY PLAN " + MOVES, 1, 1)
    assert "leg_lot (lot_document=? AND lot_line=?)" in " ".join(str(step[3]) for step in plan)


@pytest.mark.parametrize("query", [MADE, TOOK])
def test_a_document_is_looked_up_by_key(shop: Book, query: str) -> None:
    """Its lots and what it took."""
    plan = shop.rows("EXPLAIN QUERY PLAN " + query, 1)
    assert [str(step[3]) for step in plan if "SCAN" in str(step[3])] == []


def test_each_lot_is_visited_once(book: Book) -> None:
    """Twelve generations that each use both of the two before: paths double, visits do not."""
    book.receive(line("TEE-SAND-M", 4000, 400_000))
    names = ["TEE-SAND-M", *(f"GEN-{place}" for place in range(1, 13))]
    finished(book.connection, *names[1:])
    make(book.connection, (names[1], 1000), (names[0], 1000), on="01-06")
    for place in range(2, 13):
        used = [(names[place - 2], 2), (names[place - 1], 2)]
        make(book.connection, (names[place], 10), *used, on=f"01-{place + 5:02}")
    asked: list[str] = []
    book.connection.set_trace_callback(asked.append)
    traced = tracing.ahead(book.connection, [(1, 1)])
    book.connection.set_trace_callback(None)
    visits = [statement for statement in asked if "FROM leg AS l JOIN document" in statement]
    assert (len(visits), inside_of(traced)) == (13, 4_000_000)


def test_a_departure_knows_what_stayed_away() -> None:
    """Quantity less what came back."""
    gone = Departure((1, 1), 2, 1, "sale", "2026-01-01", "", "", "A", "each", 3000, 1000, None, None)
    assert gone.gone_milli == 2000

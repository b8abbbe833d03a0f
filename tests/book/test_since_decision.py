"""What the book knows of what came of a decision: only what was bought because of it, only what came after it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from book_builder import Book, copy_in_memory, day, line
from decision_builder import A_DECISION, HOME, PLUM, SAND, kept
from orders_builder import Buyer

from ledger.book.connect import write_tx
from ledger.book.decision_store import KeptDecision, find_decisions, tell_order
from ledger.book.since_decision import SinceDecision, since_decision
from ledger.sourcing.hindsight import saving_so_far

NOW = "2026-02-01T12:00:00Z"


@pytest.fixture
def book(empty_book: Path) -> Iterator[Book]:
    """A book in memory with 40 tees that were there before anything was decided."""
    book = Book(empty_book, copy_in_memory(empty_book))
    book.receive(line(SAND, 30, 9000), line(PLUM, 10, 3000), on="01-03")
    yield book
    book.connection.close()


def looked(book: Book, decision: KeptDecision, on: str = "03-31") -> SinceDecision:
    """What came of a decision, as the book tells it on a day."""
    every = find_decisions(book.connection)
    return since_decision(
        book.connection, next(one for one in every if one.number == decision.number), every, day(on)
    )


def test_nothing_came_yet(book: Book) -> None:
    """No day has passed, nothing was ordered; what was there stays what it is."""
    found = looked(book, kept(book))
    assert (found.through, found.days) == ("2026-01-10", 0)
    assert (found.orders, found.receipts, found.home, found.until) == ((), (), (), None)
    assert found.history.is_empty
    assert [size.on_hand_milli for size in found.history.sizes] == [10_000, 30_000]


def test_an_order_and_its_arrival_came_of_it(book: Book) -> None:
    """The order of the supplier that was decided for, its receipt, its days, what is left and what was wanted."""
    decision, buyer = kept(book), Buyer(book)
    order = buyer.order(on="01-12")
    assert [one.number for one in looked(book, decision).orders] == [order]
    buyer.ship(order, on="01-20")
    buyer.arrive(order, on="02-20", charges=lambda _: buyer.freight(1500))
    book.leave("sale", (SAND, 45), on="03-01")
    book.leave("spoil", (SAND, 2), on="03-02")
    found = looked(book, decision)
    (receipt,) = found.receipts
    assert (receipt.order, receipt.took_days, receipt.quantity_milli) == (order, 39, 150_000)
    assert receipt.landed_minor == 22_000 + 12_501 + 1_500
    sand = next(lot for lot in found.lots if lot.received_milli == 100_000)
    # The thirty that were there before go first: fifteen of the sale and the two spoiled are of this lot.
    assert (sand.wanted_milli, sand.on_hand_milli) == (15_000, 83_000)
    assert saving_so_far(found.lots, 3_000_000).lost_milli == 2_000


def test_the_cost_that_left_is_what_the_legs_say(book: Book) -> None:
    """Landed less what is on hand is the cost of the legs by which its lots left."""
    decision, buyer = kept(book), Buyer(book)
    order = buyer.order(on="01-12")
    buyer.ship(order, on="01-20")
    buyer.arrive(order, on="02-20", charges=lambda _: buyer.freight(1501))
    book.leave("sale", (SAND, 61), (PLUM, 33), on="03-01")
    book.leave("own use", (SAND, 7), on="03-05")
    found = looked(book, decision)
    numbers = {each.document for each in found.receipts}
    left = -sum(
        leg.amount
        for leg in book.legs()
        if leg.lot_document in numbers and leg.account == "on hand" and leg.quantity_milli < 0
    )
    assert left > 0
    assert saving_so_far(found.lots, 3_000_000).gone_minor == left


def test_an_earlier_order_is_none_of_its_doing(book: Book) -> None:
    """What was under way when it was decided was counted as stock then, though it arrives later."""
    buyer = Buyer(book)
    order = buyer.order(on="01-05")
    buyer.ship(order, on="01-08")
    decision = kept(book)
    buyer.arrive(order, on="02-20")
    found = looked(book, decision)
    assert (found.orders, found.receipts) == ((), ())
    assert sum(size.on_hand_milli for size in found.history.sizes) == 190_000


def test_an_order_entered_late_counts_by_its_day(book: Book) -> None:
    """Entered after the decision, but placed before it."""
    decision = kept(book)
    Buyer(book).order(on="01-09")
    assert looked(book, decision).orders == ()


def test_a_told_order_counts_whatever_its_day_and_supplier(book: Book) -> None:
    """Its owner knows best."""
    order = Buyer(book).order(on="01-05")
    decision = kept(book, supplier=None)
    with write_tx(book.connection):
        tell_order(book.connection, decision.number, order, NOW)
    assert [one.number for one in looked(book, decision).orders] == [order]


def test_what_is_told_of_another_decision_counts_there_only(book: Book) -> None:
    """One order is never the doing of two."""
    first = kept(book)
    other = kept(book, items=())
    order = Buyer(book).order(on="01-12")
    assert [one.number for one in looked(book, first).orders] == [order]
    with write_tx(book.connection):
        tell_order(book.connection, other.number, order, NOW)
    assert looked(book, first).orders == ()


def test_a_later_decision_answers_for_what_is_bought_after_it(book: Book) -> None:
    """On the same goods; one on others changes nothing."""
    first, buyer = kept(book), Buyer(book)
    early = buyer.order(on="01-12")
    kept(book, items=(), decided_on="2026-01-15")
    second = kept(book, decided_on="2026-01-20")
    late = buyer.order(on="01-22", reference="second")
    assert [one.number for one in looked(book, first).orders] == [early]
    assert [one.number for one in looked(book, second).orders] == [late]
    assert (looked(book, first).until, looked(book, second).until) == (second.number, None)


def test_what_came_from_home_since_stands_apart(book: Book) -> None:
    """It says what buying at home really cost; of a decision for home it is what came."""
    far = kept(book)
    receipt = book.receive(line(SAND, 12, 3780), on="01-20")
    found = looked(book, far)
    assert ([one.document for one in found.home], found.receipts) == ([receipt], ())
    near = replace(A_DECISION, is_from_afar=False, offer=HOME, supplier=HOME)
    book2 = looked(
        book, kept(book, **{name: getattr(near, name) for name in ("is_from_afar", "offer", "supplier")})
    )
    assert (book2.home, book2.receipts) == ((), ())
    later = book.receive(line(SAND, 5, 1600), on="01-25")
    mine = looked(book, find_decisions(book.connection)[-1])
    assert [one.document for one in mine.receipts] == [later]


def test_an_undone_receipt_never_came(book: Book) -> None:
    """Nor does it count as bought."""
    decision = kept(book)
    book.undo(book.receive(line(SAND, 12, 3780), on="01-20"))
    assert looked(book, decision).home == ()


def test_what_was_wanted_counts_from_the_next_day(book: Book) -> None:
    """Sales of the decision's day and before were known; spoiled pieces nobody wanted."""
    book.leave("sale", (SAND, 3), on="01-10")
    decision = kept(book)
    book.leave("sale", (SAND, 4), on="01-11")
    book.leave("sample", (PLUM, 1), on="02-03")
    book.leave("spoil", (PLUM, 2), on="02-04")
    found = looked(book, decision)
    assert (found.through, found.days) == ("2026-02-04", 25)
    assert [(month.month, month.observed_days) for month in found.history.months] == [
        ("2026-01", 21),
        ("2026-02", 4),
    ]
    assert [(size.name, size.left_milli) for size in found.history.sizes] == [
        ("L", (0, 1000)),
        ("M", (4000, 0)),
    ]


def test_days_without_stock_are_counted_from_the_next_day(book: Book) -> None:
    """From the day after the last piece left to the day before the next came."""
    decision = kept(book)
    book.leave("sale", (PLUM, 10), on="01-20")
    book.receive(line(PLUM, 5, 1500), on="02-03")
    plum = looked(book, decision).history.sizes[0]
    assert (plum.name, plum.days_out) == ("L", (11, 2))

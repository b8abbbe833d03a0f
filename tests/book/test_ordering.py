"""Orders: facts that cost nothing, their states, their days and what cannot be ordered."""

from __future__ import annotations

import pytest
from book_builder import NOW, TODAY, Book, day, line
from orders_builder import PLUM, SAND, Buyer

from ledger.book.order_store import ORDERS, ORDERS_OF, find_order, find_orders
from ledger.book.ordering import OrderRequest, OrderTerms, close_order, prepare_order, tell_days
from ledger.book.orders import (
    ARRIVES,
    BALANCE_DUE,
    BALANCE_PAID,
    CLOSED_BY_HAND,
    COMPLETE,
    DEPOSIT_PAID,
    OPEN,
    PART_RECEIVED,
    SHIPS,
    working_day,
)
from ledger.errors import AlreadyPosted, ClosedMonth, InputErrors, Refused


@pytest.fixture
def buyer(book: Book) -> Buyer:
    """A shop that orders."""
    return Buyer(book)


def test_an_order_moves_nothing(buyer: Buyer) -> None:
    """It is a document with lines and no legs, and the book stays whole."""
    number = buyer.order()
    assert buyer.book.legs() == []
    assert [(one.sku, one.quantity_milli, one.amount_foreign) for one in buyer.found(number).lines] == [
        (SAND, 100_000, 22_000),
        (PLUM, 50_000, 12_501),
    ]
    assert buyer.is_whole()


def test_the_states_follow_what_arrived(buyer: Buyer) -> None:
    """Open until something arrives, then part received, then complete."""
    number = buyer.order()
    states = [buyer.state(number)]
    buyer.ship(number, (SAND, 60))
    states.append(buyer.state(number))
    buyer.arrive(number)
    states.append(buyer.state(number))
    buyer.ship(number, on="02-12")
    buyer.arrive(number, on="02-20")
    states.append(buyer.state(number))
    assert states == [OPEN, OPEN, PART_RECEIVED, COMPLETE]


def test_an_order_closed_by_hand_can_be_opened_by_undoing_that(buyer: Buyer) -> None:
    """Closing is a document of its own."""
    number = buyer.order()
    closed = close_order(buyer.book.connection, number, "sold out", TODAY, NOW)
    assert (buyer.state(number), buyer.found(number).is_waiting) == (CLOSED_BY_HAND, False)
    buyer.book.undo(closed)
    assert (buyer.state(number), buyer.found(number).is_waiting) == (OPEN, True)
    assert buyer.is_whole()


def test_an_order_is_closed_once(buyer: Buyer) -> None:
    """A second closing says which document closed it."""
    number = buyer.order()
    closed = close_order(buyer.book.connection, number, "sold out", TODAY, NOW)
    with pytest.raises(Refused, match=f"by document {closed}"):
        close_order(buyer.book.connection, number, "again", TODAY, NOW)


def test_a_complete_order_is_not_closed(buyer: Buyer) -> None:
    """Nothing of it is still to come."""
    number = buyer.order()
    buyer.ship(number)
    buyer.arrive(number)
    with pytest.raises(Refused, match="is complete"):
        close_order(buyer.book.connection, number, "done", TODAY, NOW)


def test_an_order_from_before_the_book_takes_effect_on_its_first_day(buyer: Buyer) -> None:
    """Its own date stays what it was."""
    found = buyer.found(buyer.order(on="2025-12-10"))
    assert (found.ordered_on, found.effect_date) == ("2025-12-10", "2026-01-01")


def test_an_order_dated_in_a_closed_month_takes_effect_after_it(buyer: Buyer) -> None:
    """The closed month stays as it is."""
    buyer.book.close("2026-01")
    assert buyer.found(buyer.order(on="01-20")).effect_date == "2026-02-01"


def test_the_latest_day_told_is_in_force(buyer: Buyer) -> None:
    """And one that is taken back is no longer known."""
    number = buyer.order(days={ARRIVES: day("03-01")})
    tell_days(buyer.book.connection, number, {ARRIVES: day("03-15"), SHIPS: day("02-01")}, TODAY, NOW)
    assert buyer.found(number).days == {ARRIVES: "2026-03-15", SHIPS: "2026-02-01"}
    tell_days(buyer.book.connection, number, {ARRIVES: None}, TODAY, NOW)
    assert buyer.found(number).days == {SHIPS: "2026-02-01"}


def test_a_day_that_cannot_be_is_refused(buyer: Buyer) -> None:
    """No arrival before the shipping, whichever of the two was told first."""
    number = buyer.order(days={SHIPS: day("02-01")})
    with pytest.raises(InputErrors, match="before the day it ships, 2026-02-01"):
        tell_days(buyer.book.connection, number, {ARRIVES: day("01-25")}, TODAY, NOW)


def test_nothing_is_paid_in_the_future(buyer: Buyer) -> None:
    """Neither when it is told later nor with a new order."""
    number = buyer.order(deposit_foreign=9_000)
    with pytest.raises(InputErrors, match="2026-04-01 is in the future"):
        tell_days(buyer.book.connection, number, {BALANCE_PAID: day("04-01")}, TODAY, NOW)
    with pytest.raises(InputErrors, match="2026-04-01 is in the future"):
        buyer.order(reference="2", deposit_foreign=9_000, days={DEPOSIT_PAID: day("04-01")})


def test_a_payment_that_the_order_does_not_have_has_no_day(buyer: Buyer) -> None:
    """No deposit, or nothing but a deposit."""
    with pytest.raises(InputErrors, match="the order has no deposit"):
        tell_days(buyer.book.connection, buyer.order(), {DEPOSIT_PAID: day("01-10")}, TODAY, NOW)
    everything = buyer.order(reference="2", deposit_foreign=34_501)
    with pytest.raises(InputErrors, match="there is no balance"):
        tell_days(buyer.book.connection, everything, {BALANCE_DUE: day("01-10")}, TODAY, NOW)


def test_a_day_that_changes_nothing_is_refused(buyer: Buyer) -> None:
    """It ships no more once it is shipped, and arrives neither before that nor again."""
    number = buyer.order()
    buyer.ship(number)
    for told, said in (
        ({SHIPS: day("02-01")}, "still to be shipped"),
        ({ARRIVES: day("01-19")}, "before the day it was shipped, 2026-01-20"),
    ):
        with pytest.raises(InputErrors, match=said):
            tell_days(buyer.book.connection, number, told, TODAY, NOW)
    buyer.arrive(number)
    with pytest.raises(InputErrors, match="still to come"):
        tell_days(buyer.book.connection, number, {ARRIVES: day("03-01")}, TODAY, NOW)


def test_an_order_of_a_closed_month_is_undone_in_an_open_one(buyer: Buyer) -> None:
    """It moves nothing, so the closed month stays as it was; the closing of one is undone alike."""
    number = buyer.order()
    buyer.book.close("2026-01")
    (undo,) = buyer.book.undo(number)
    assert buyer.book.rows("SELECT path, effect_date FROM document WHERE number = ?", undo) == [
        ("dropped", "2026-02-01")
    ]
    assert find_orders(buyer.book.connection) == ()
    assert buyer.is_whole()


def test_a_shipment_that_is_information_is_undone_after_its_month_was_closed(buyer: Buyer) -> None:
    """With its order, in one go."""
    number = buyer.order(title="arrival", terms="destination")
    shipped = buyer.ship(number).document.number
    buyer.book.close("2026-01")
    buyer.book.undo(shipped, number)
    assert buyer.is_whole()


def test_goods_bought_on_arrival_leave_again_after_their_month_was_closed(buyer: Buyer) -> None:
    """Their receipt is a purchase like any other; those that were the shop's before want a reopening."""
    number = buyer.order(title="arrival", terms="destination")
    buyer.ship(number)
    receipt = buyer.arrive(number).receipts[0].number
    own = buyer.order((SAND, 10, 2_000), reference="2")
    buyer.ship(own, reference="S-2")
    other = buyer.arrive(own, on="02-12").receipts[0].number
    buyer.book.close("2026-02")
    buyer.book.undo(receipt)
    assert (buyer.held(SAND)[0], buyer.held(PLUM)[0], buyer.state(number)) == (10_000, 0, OPEN)
    with pytest.raises(ClosedMonth, match="blankbook reopen 2026-02"):
        buyer.book.undo(other)
    assert buyer.is_whole()


def test_the_whole_chain_is_named_in_the_order_of_its_undo(buyer: Buyer) -> None:
    """From the order through the shipment and its charge to the arrival and the sale's return."""
    number = buyer.order()
    buyer.ship(number, charges=lambda _: buyer.freight(300))
    receipt = buyer.arrive(number).receipts[0].number
    with pytest.raises(Refused, match=f"3, {receipt} rest on it.*undo {receipt} 3 2 {number} --why"):
        buyer.book.undo(number)
    buyer.book.undo(receipt, 3, 2, number)
    assert buyer.is_whole()


def test_days_before_the_order_are_refused(buyer: Buyer) -> None:
    """Nothing is shipped before it is ordered."""
    with pytest.raises(InputErrors, match="2026-01-02 is before the order, of 2026-01-05"):
        buyer.order(days={SHIPS: day("01-02")})


def test_the_days_expected_follow_working_days_and_the_way(buyer: Buyer) -> None:
    """Ten working days from Monday the 5th are Monday the 19th, and three weeks on the way."""
    found = buyer.found(buyer.order(working_days=10, transit_days=21))
    assert (found.expected_ships, found.expected_on()) == ("2026-01-19", "2026-02-09")


def test_production_begins_when_a_later_deposit_is_paid(buyer: Buyer) -> None:
    """A week later, everything is a week later."""
    found = buyer.found(buyer.order(working_days=10, deposit_foreign=9000, days={DEPOSIT_PAID: day("01-12")}))
    assert found.expected_ships == "2026-01-26"


def test_a_told_day_comes_before_the_calendar(buyer: Buyer) -> None:
    """Who knows better says so."""
    found = buyer.found(buyer.order(working_days=10, transit_days=21, days={ARRIVES: day("03-02")}))
    assert found.expected_on() == "2026-03-02"


def test_no_working_days_take_no_time() -> None:
    """What is on the shelf ships the day it is ordered."""
    assert working_day("2026-01-03", 0, "") == "2026-01-03"


def test_the_same_order_twice_is_refused(buyer: Buyer) -> None:
    """Twice is once."""
    number = buyer.order()
    with pytest.raises(AlreadyPosted, match=f"as order {number}"):
        buyer.order()


def test_another_order_under_the_same_number_is_asked_about(buyer: Buyer) -> None:
    """Unless it is said to be one."""
    buyer.order(reference="SA-1")
    with pytest.raises(AlreadyPosted, match="--another"):
        buyer.order((SAND, 10, 2500), reference="SA-1")
    assert buyer.order((SAND, 10, 2500), reference="SA-1", another=True) == 2


def test_an_order_that_was_undone_may_come_again(buyer: Buyer) -> None:
    """And is no longer among the orders."""
    number = buyer.order()
    buyer.book.undo(number)
    again = buyer.order()
    assert [order.number for order in find_orders(buyer.book.connection)] == [again]
    with pytest.raises(Refused, match="was undone"):
        find_order(buyer.book.connection, number)


def test_an_order_with_a_shipment_is_undone_with_it_only(buyer: Buyer) -> None:
    """The refusal names the shipment, and how both are undone."""
    number = buyer.order()
    shipped = buyer.ship(number).document.number
    with pytest.raises(Refused, match=f"undo {shipped} {number}"):
        buyer.book.undo(number)
    buyer.book.undo(shipped, number)
    assert buyer.is_whole()


def test_what_is_wrong_with_an_order_is_said_together(buyer: Buyer) -> None:
    """Nobody named, nothing ordered, and in the future."""
    request = OrderRequest(
        party="",
        reference="",
        ordered_on=day("12-31"),
        currency="USD",
        lines=(),
        terms=OrderTerms(terms="FCA", title_passes="shipping"),
    )
    with pytest.raises(InputErrors) as errors:
        prepare_order(buyer.book.connection, request, TODAY)
    assert len(errors.value.problems) == 3


def test_goods_without_a_price_are_not_ordered(buyer: Buyer) -> None:
    """They would be under way at no value."""
    request = OrderRequest(
        party="Mill Lane",
        reference="",
        ordered_on=day("01-05"),
        currency="USD",
        lines=(line(SAND, 10, 0, provisional=True),),
        terms=OrderTerms(terms="FCA", title_passes="shipping"),
    )
    with pytest.raises(InputErrors, match="TEE-SAND-M has no price"):
        prepare_order(buyer.book.connection, request, TODAY)


def test_a_deposit_above_the_order_is_refused(buyer: Buyer) -> None:
    """Its amount is checked against what is ordered."""
    with pytest.raises(InputErrors, match="the deposit is more"):
        buyer.order(deposit_foreign=40_000)


def test_a_number_that_is_no_order_is_said_to_be_what_it_is(buyer: Buyer) -> None:
    """A receipt is not an order."""
    buyer.book.receive(line(SAND))
    with pytest.raises(Refused, match="document 1 is a receipt"):
        find_order(buyer.book.connection, 1)
    with pytest.raises(Refused, match="there is no order 9"):
        find_order(buyer.book.connection, 9)


def test_a_foreign_order_has_no_amount_in_the_books_currency(buyer: Buyer) -> None:
    """It is converted when the goods become the shop's, not before."""
    buyer.order(currency="CNY")
    assert buyer.book.rows("SELECT total, total_foreign FROM document") == [(0, 34_501)]


@pytest.mark.parametrize(("query", "asked"), [(ORDERS, None), (ORDERS_OF, "Alder")])
def test_orders_are_found_without_reading_every_document(buyer: Buyer, query: str, asked: str | None) -> None:
    """The way goes from the terms of orders, which are few, to their documents."""
    plan = [str(row[3]) for row in buyer.book.rows(f"EXPLAIN QUERY PLAN {query}", asked)]
    assert any(step.startswith("SEARCH d USING INTEGER PRIMARY KEY") for step in plan)
    assert not any(step.startswith("SCAN d") for step in plan)

"""What is under way, what is expected when, what waits to be paid, how long orders took, and its traces."""

from __future__ import annotations

import pytest
from book_builder import NOW, TODAY, Book, day
from orders_builder import PLUM, SAND, Buyer, loss

from ledger.book import looking, tracing
from ledger.book.order_store import find_orders
from ledger.book.ordering import close_order, tell_days
from ledger.book.orders import ARRIVES, BALANCE_PAID, DEPOSIT_DUE, DEPOSIT_PAID, days_late
from ledger.book.recalling import recall
from ledger.book.under_way import UNDER_WAY, days_taken, expected, outstanding, payments, under_way


@pytest.fixture
def buyer(book: Book) -> Buyer:
    """A shop that orders."""
    return Buyer(book)


def test_what_is_under_way_is_listed_with_its_order(buyer: Buyer) -> None:
    """With the day it is expected and how late it is on the 31st of March."""
    number = buyer.order(transit_days=30)
    shipped = buyer.ship(number).document.number
    row = under_way(buyer.book.connection, "2026-03-31", TODAY)[0]
    assert (row.sku, row.quantity_milli, row.value, row.order, row.shipment) == (
        SAND,
        100_000,
        22_000,
        number,
        shipped,
    )
    assert (row.shipped_on, row.expected_on, row.days_late) == ("2026-01-20", "2026-02-19", 40)


def test_what_is_under_way_on_a_day_is_what_was_then(buyer: Buyer) -> None:
    """Not before it was shipped, not after it arrived, a part in between."""
    number = buyer.order()
    buyer.ship(number)
    buyer.arrive(number, (SAND, 100), (PLUM, 20))
    counts = [
        len(under_way(buyer.book.connection, f"2026-{on}", TODAY)) for on in ("01-19", "01-20", "02-10")
    ]
    assert counts == [0, 2, 1]


def test_what_is_the_shops_on_arrival_is_expected_and_not_under_way(buyer: Buyer) -> None:
    """It is on its way at the supplier's risk."""
    number = buyer.order(title="arrival", terms="DAP", transit_days=30)
    buyer.ship(number)
    assert under_way(buyer.book.connection, "2026-03-31", TODAY) == []
    row = expected(find_orders(buyer.book.connection), TODAY)[0]
    assert (row.quantity_milli, row.expected_on, row.is_the_shops) == (100_000, "2026-02-19", False)


def test_arrivals_are_expected_by_week_the_earliest_first(buyer: Buyer) -> None:
    """A shipment and what is not shipped yet, each in the week of its Monday."""
    number = buyer.order(transit_days=30, working_days=30)
    buyer.ship(number, (SAND, 60))
    rows = expected(find_orders(buyer.book.connection), TODAY)
    assert [(row.week, row.sku, row.quantity_milli, row.shipment) for row in rows] == [
        ("2026-02-16", SAND, 60_000, 2),
        ("2026-03-16", SAND, 40_000, None),
        ("2026-03-16", PLUM, 50_000, None),
    ]


def test_nothing_is_expected_of_an_order_whose_days_nobody_told(buyer: Buyer) -> None:
    """It is listed without a week, and is never late."""
    buyer.order()
    row = expected(find_orders(buyer.book.connection), TODAY)[0]
    assert (row.week, row.days_late) == ("", 0)


def test_a_day_is_late_from_the_next_one_on() -> None:
    """On the day itself nothing is late."""
    assert [days_late(text, TODAY) for text in ("2026-03-31", "2026-03-30", "2026-04-02", "")] == [0, 1, 0, 0]


def test_a_payment_is_outstanding_until_it_is_told(buyer: Buyer) -> None:
    """Deposit and balance, each on its own."""
    number = buyer.order(deposit_foreign=9_000, days={DEPOSIT_DUE: day("01-10")})
    connection = buyer.book.connection
    seen = []
    for told in ({}, {DEPOSIT_PAID: day("01-09")}, {BALANCE_PAID: day("01-18")}):
        if told:
            tell_days(connection, number, told, TODAY, "2026-03-31T12:00:00Z")
        seen.append([(one.what, one.amount_foreign, one.paid) for one in outstanding(buyer.found(number))])
    buyer.ship(number)
    seen.append([(one.what, one.amount_foreign, one.paid) for one in outstanding(buyer.found(number))])
    assert seen == [
        [("deposit", 9_000, ""), ("balance", 25_501, "")],
        [("balance", 25_501, "")],
        [],
        [],
    ]


def test_what_has_arrived_is_still_to_be_paid(buyer: Buyer) -> None:
    """Without anything told all of the order is its balance, until it is told paid."""
    number = buyer.order()
    buyer.ship(number)
    buyer.arrive(number)
    assert [(one.what, one.amount_foreign) for one in outstanding(buyer.found(number))] == [
        ("balance", 34_501)
    ]
    tell_days(buyer.book.connection, number, {BALANCE_PAID: day("02-15")}, TODAY, NOW)
    assert outstanding(buyer.found(number)) == []


def test_a_deposit_of_everything_leaves_no_balance(buyer: Buyer) -> None:
    """There is one payment, and it is overdue from the day after it was due."""
    found = buyer.found(buyer.order(deposit_foreign=34_501, days={DEPOSIT_DUE: day("03-29")}))
    (one,) = payments(found)
    assert (one.what, one.amount_foreign, one.days_overdue(TODAY)) == ("deposit", 34_501, 2)


def test_of_an_order_closed_by_hand_only_what_was_shipped_is_owed(buyer: Buyer) -> None:
    """Sixty of a hundred sand tees, 132.00."""
    number = buyer.order()
    buyer.ship(number, (SAND, 60))
    close_order(buyer.book.connection, number, "sold out", TODAY, NOW)
    assert [one.amount_foreign for one in outstanding(buyer.found(number))] == [13_200]


def test_of_goods_that_never_became_the_shops_nothing_is_owed_or_expected(buyer: Buyer) -> None:
    """Once their order is closed: what was shipped was at the supplier's risk."""
    number = buyer.order(title="arrival", terms="destination")
    buyer.ship(number)
    close_order(buyer.book.connection, number, "lost on the way", TODAY, NOW)
    found = buyer.found(number)
    assert (outstanding(found), expected([found], TODAY), found.is_waiting) == ([], [], False)
    assert (found.closed_on, found.closed_why) == (TODAY.isoformat(), "lost on the way")


def test_what_came_beyond_an_order_belongs_to_it(buyer: Buyer) -> None:
    """With its receipt, at its price; an undone one does not."""
    number = buyer.order()
    buyer.ship(number)
    receipt = buyer.arrive(number, extras=[(SAND, 3, 700)]).receipts[0].number
    (one,) = buyer.found(number).beyond
    assert (one.receipt, one.sku, one.quantity_milli, one.amount_foreign) == (receipt, SAND, 3_000, 700)
    buyer.book.undo(receipt)
    assert buyer.found(number).beyond == ()


def test_a_lot_says_what_of_it_is_still_under_way(buyer: Buyer) -> None:
    """Sixty of a hundred, once forty have arrived; and all of it before."""
    number = buyer.order()
    buyer.ship(number)
    before = tracing.ahead(buyer.book.connection, [(2, 1)])
    buyer.arrive(number, (SAND, 40))
    ahead = tracing.ahead(buyer.book.connection, [(2, 1)])
    assert [one.lot.under_way_milli for one in (*before.under_way, *ahead.under_way)] == [100_000, 60_000]
    assert [(one.inside, one.lot.key) for one in ahead.under_way] == [(60_000, (2, 1))]
    assert [one.quantity_milli for one in ahead.departures] == [40_000]
    assert recall(ahead).under_way == ahead.under_way


def test_lead_times_come_from_the_shops_own_orders(buyer: Buyer) -> None:
    """Fifteen days to the first shipment, twenty to the second; three weeks on the way."""
    number = buyer.order()
    buyer.ship(number, (SAND, 60))
    buyer.ship(number, on="01-25")
    buyer.arrive(number, (SAND, 60))
    took = [(one.stage, one.days) for one in days_taken(buyer.book.connection)]
    assert took == [("order to ship", 15), ("order to ship", 20), ("ship to arrival", 21)]


def test_a_lost_shipment_has_no_time_of_arrival(buyer: Buyer) -> None:
    """It would say that the way took so long."""
    number = buyer.order()
    buyer.ship(number)
    buyer.arrive(number, lost="claimed")
    assert [one.stage for one in days_taken(buyer.book.connection)] == ["order to ship"]


def test_a_lot_is_traced_back_to_its_shipment(buyer: Buyer) -> None:
    """And the shipment's lot forward to where its pieces went."""
    number = buyer.order()
    buyer.ship(number)
    receipt = buyer.arrive(number, losses=[loss(SAND, 2), loss(SAND, 1, "normal")]).receipts[0].number
    buyer.book.leave("use", (SAND, 7), on="02-15")
    behind = tracing.behind(buyer.book.connection, {(receipt, 1): 97_000})
    assert [(one.lot.key, one.lot.event, one.quantity) for one in behind] == [
        ((receipt, 1), "receipt", 97_000),
        ((2, 1), "ship", 97_000),
    ]
    ahead = tracing.ahead(buyer.book.connection, [(2, 1)])
    assert [(one.event, one.quantity_milli, one.inside) for one in ahead.departures] == [
        ("receipt", 97_000, 97_000),
        ("claimed", 2_000, 2_000),
        ("missing", 1_000, 1_000),
        ("use", 7_000, 7_000),
    ]
    assert [(held.lot.key, held.inside) for held in ahead.on_hand] == [((receipt, 1), 90_000)]


def test_a_document_that_received_from_a_shipment_is_traced_to_it(buyer: Buyer) -> None:
    """What stands behind the receipt is what was under way."""
    number = buyer.order()
    buyer.ship(number)
    receipt = buyer.arrive(number).receipts[0].number
    assert tracing.lots_taken(buyer.book.connection, receipt) == {(2, 1): 100_000, (2, 2): 50_000}


def test_a_lot_under_way_is_no_lot_of_the_shelf(buyer: Buyer) -> None:
    """Neither with the empty ones: it is listed with what is under way."""
    buyer.ship(buyer.order())
    assert looking.lots(buyer.book.connection, include_empty=True) == []
    assert looking.under_way_value(buyer.book.connection) == 34_501


def test_the_list_of_documents_says_what_follows_what(buyer: Buyer) -> None:
    """A shipment of its order, an arrival of its shipment."""
    number = buyer.order()
    buyer.ship(number)
    buyer.arrive(number)
    rows = looking.documents(buyer.book.connection)
    assert [(row.event, row.follows_event, row.follows) for row in rows] == [
        ("order", "", None),
        ("ship", "order", 1),
        ("receipt", "ship", 2),
    ]


def test_what_is_under_way_is_found_by_its_lot(buyer: Buyer) -> None:
    """The query goes by the index on the lot of a leg."""
    plan = buyer.book.rows(f"EXPLAIN QUERY PLAN {UNDER_WAY}", 2, "2026-03-31")
    assert any("leg_lot" in str(row) for row in plan)


def test_a_told_arrival_is_expected_of_every_shipment(buyer: Buyer) -> None:
    """The latest told day stands for the calendar's."""
    number = buyer.order(transit_days=30)
    buyer.ship(number)
    tell_days(buyer.book.connection, number, {ARRIVES: day("03-20")}, TODAY, "2026-03-31T12:00:00Z")
    assert {row.expected_on for row in under_way(buyer.book.connection, "2026-03-31", TODAY)} == {
        "2026-03-20"
    }

"""Arrivals: what comes out of what is under way, what is missing, what came beyond, and what is lost."""

from __future__ import annotations

import pytest
from book_builder import NOW, TODAY, Book, charge, copy_in_memory, day, line
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from orders_builder import PLUM, SAND, Buyer, loss

from ledger.book.orders import COMPLETE, PART_RECEIVED
from ledger.book.ship_parts import ShipWish
from ledger.book.shipping import ShipRequest, ship
from ledger.errors import AlreadyPosted, InputErrors, Refused


@pytest.fixture
def buyer(book: Book) -> Buyer:
    """A shop that orders."""
    return Buyer(book)


def shipped(buyer: Buyer, **fields: object) -> int:
    """Return an order all of which is under way since the 20th of January."""
    number = buyer.order(**fields)  # type: ignore[arg-type]
    buyer.ship(number, reference="NS-7")
    return number


def test_an_arrival_brings_what_was_under_way_onto_the_shelf(buyer: Buyer) -> None:
    """At what it cost there, with the shipment's charges."""
    number = buyer.order()
    buyer.ship(number, charges=lambda _: buyer.freight(3_000))
    buyer.arrive(number)
    assert (buyer.held(SAND), buyer.held(PLUM)) == ((100_000, 24_000, 0, 0), (50_000, 13_501, 0, 0))
    assert buyer.state(number) == COMPLETE
    assert buyer.is_whole()


def test_two_missing_pieces_are_claimed_at_the_invoices_price(buyer: Buyer) -> None:
    """4.40 of 220.00 for two of a hundred; the freight stays with the others."""
    number = buyer.order()
    buyer.ship(number, charges=lambda _: buyer.freight(3_000))
    posted = buyer.arrive(number, losses=[loss(SAND, 2)])
    lot = posted.lots[posted.receipts[0].number, 1]
    assert (lot.received_milli, lot.invoice_cost, lot.charges) == (98_000, 21_560, 2_000)
    assert buyer.book.amounts("returned to supplier") == {posted.receipts[0].number: 440}
    assert buyer.is_whole()


def test_missing_pieces_as_usual_are_borne_by_the_good_ones(buyer: Buyer) -> None:
    """Ninety-eight cost what a hundred did."""
    posted = buyer.arrive(shipped(buyer), losses=[loss(SAND, 2, "normal")])
    lot = posted.lots[posted.receipts[0].number, 1]
    assert (lot.received_milli, lot.invoice_cost) == (98_000, 22_000)
    assert buyer.is_whole()


def test_damaged_pieces_as_an_expense_enter_the_lot_and_leave_it(buyer: Buyer) -> None:
    """Three of a hundred, 6.60, in the month of arrival."""
    posted = buyer.arrive(shipped(buyer), losses=[loss(SAND, 3, "expense", missing=False)])
    number = posted.receipts[0].number
    assert buyer.book.amounts("spoilage") == {number: 660}
    assert (posted.lots[number, 1].received_milli, posted.lots[number, 1].on_hand_milli) == (100_000, 97_000)
    assert buyer.is_whole()


def test_several_boxes_come_one_after_the_other(buyer: Buyer) -> None:
    """Each takes its part of what is under way."""
    number = shipped(buyer)
    buyer.arrive(number, (SAND, 33))
    assert (buyer.state(number), buyer.held(SAND)) == (PART_RECEIVED, (33_000, 7_260, 67_000, 14_740))
    buyer.arrive(number, (SAND, 67), (PLUM, 50), on="02-12")
    assert buyer.state(number) == COMPLETE
    assert buyer.is_whole()


def test_the_oldest_shipment_arrives_first(buyer: Buyer) -> None:
    """One receipt for each, in one transaction."""
    number = buyer.order()
    first = buyer.ship(number, (SAND, 60)).document.number
    second = buyer.ship(number, (SAND, 40), on="01-25").document.number
    receipts = buyer.arrive(number, (SAND, 70)).receipts
    assert [(one.follows, one.lines[0].quantity_milli) for one in receipts] == [
        (first, 60_000),
        (second, 10_000),
    ]
    assert buyer.is_whole()


def test_one_shipment_can_be_named(buyer: Buyer) -> None:
    """Where the later one came first."""
    number = buyer.order()
    buyer.ship(number, (SAND, 60))
    second = buyer.ship(number, (SAND, 40), on="01-25").document.number
    receipts = buyer.arrive(number, shipment=second).receipts
    assert [(one.follows, one.lines[0].quantity_milli) for one in receipts] == [(second, 40_000)]


def test_the_place_in_the_queue_is_that_of_the_arrival(buyer: Buyer) -> None:
    """What was bought and received in between is used first."""
    number = shipped(buyer)
    bought = buyer.book.receive(line(SAND, 10, 3_000), on="02-01")
    buyer.arrive(number, on="02-10")
    use = buyer.book.leave("use", (SAND, 12), on="02-15")
    legs = [leg for leg in buyer.book.legs() if leg.document == use and leg.account == "on hand"]
    assert [(leg.lot_document, leg.amount) for leg in legs] == [(bought, -3_000), (bought + 1, -440)]
    assert buyer.is_whole()


def test_what_came_beyond_is_a_purchase_of_its_own(buyer: Buyer) -> None:
    """Three more at the order's price of 2.20, and said so."""
    posted = buyer.arrive(shipped(buyer), (SAND, 103), (PLUM, 50))
    extra = posted.receipts[0].lines[2]
    assert (extra.sku, extra.quantity_milli, extra.amount, extra.lot_document) == (SAND, 3_000, 660, None)
    assert "beyond what was shipped" in posted.remarks[0]
    assert buyer.held(SAND) == (103_000, 22_660, 0, 0)
    assert buyer.is_whole()


def test_something_not_ordered_comes_at_a_price_that_is_told(buyer: Buyer) -> None:
    """Five sheets of film for 4.00; without a price it is refused."""
    number = shipped(buyer)
    with pytest.raises(InputErrors, match="was not ordered, so it has no price"):
        buyer.arrive(number, extras=[("FILM-A3", 5, None)])
    posted = buyer.arrive(number, extras=[("FILM-A3", 5, 400)])
    assert posted.receipts[0].lines[-1].amount == 400
    assert buyer.is_whole()


def test_a_shipment_that_is_lost_is_claimed(buyer: Buyer) -> None:
    """The invoice comes back, its freight is a difference."""
    number = buyer.order()
    buyer.ship(number, charges=lambda _: buyer.freight(3_000))
    receipt = buyer.arrive(number, lost="claimed").receipts[0].number
    assert buyer.book.amounts("returned to supplier") == {receipt: 34_501}
    assert buyer.book.amounts("supplier price differences") == {receipt: 3_000}
    assert (buyer.held(SAND), buyer.state(number)) == ((0, 0, 0, 0), COMPLETE)
    assert buyer.is_whole()


def test_a_shipment_that_is_lost_is_an_expense_where_nobody_pays(buyer: Buyer) -> None:
    """All of it is spoilage of the month."""
    receipt = buyer.arrive(shipped(buyer), lost="expense").receipts[0].number
    assert buyer.book.amounts("spoilage") == {receipt: 34_501}
    assert buyer.is_whole()


def test_a_lost_shipment_has_nobody_to_bear_it(buyer: Buyer) -> None:
    """As usual it cannot be."""
    with pytest.raises(InputErrors, match="no good piece is left"):
        buyer.arrive(shipped(buyer), lost="normal")


def test_a_credit_that_is_told_is_taken(buyer: Buyer) -> None:
    """Three dollars for two missing pieces; the lot bears the rest."""
    posted = buyer.arrive(shipped(buyer), losses=[loss(SAND, 2)], credit_foreign=300)
    assert posted.receipts[0].lines[0].claimed_amount == 300
    assert posted.lots[posted.receipts[0].number, 1].invoice_cost == 21_700


def test_nothing_is_credited_where_nothing_is_claimed(buyer: Buyer) -> None:
    """A credit without a claim is a slip."""
    with pytest.raises(InputErrors, match="nothing is claimed"):
        buyer.arrive(shipped(buyer), credit_foreign=300)


def test_a_credit_in_the_orders_currency_is_converted_at_the_shipments_rate(buyer: Buyer) -> None:
    """Thirty yuan at fourteen cents."""
    number = buyer.order(currency="CNY")
    buyer.ship(number, rate="0.14", rate_source="as given")
    posted = buyer.arrive(number, losses=[loss(SAND, 2)], credit_foreign=3_000)
    assert posted.receipts[0].lines[0].claimed_amount == 420


def test_goods_that_are_the_shops_on_arrival_are_bought_that_day(buyer: Buyer) -> None:
    """At the rate of arrival; the shipment cost nothing."""
    number = buyer.order(title="arrival", terms="DAP", currency="CNY")
    buyer.ship(number)
    receipt = buyer.arrive(number).receipts[0]
    assert (receipt.total, receipt.rate, receipt.currency) == (4_830, "0.14", "CNY")
    assert (buyer.held(SAND), buyer.state(number)) == ((100_000, 3_080, 0, 0), COMPLETE)
    assert buyer.is_whole()


def test_parts_bought_on_arrival_add_up_to_the_order(buyer: Buyer) -> None:
    """17 and 33 of the plum ones, 125.01 in all."""
    number = buyer.order(title="arrival", terms="DAP")
    buyer.ship(number)
    first = buyer.arrive(number, (PLUM, 17)).receipts[0]
    second = buyer.arrive(number, (PLUM, 33), on="02-12").receipts[0]
    assert first.lines[0].amount + second.lines[0].amount == 12_501
    assert buyer.is_whole()


def test_an_order_is_shipped_and_received_at_once(buyer: Buyer) -> None:
    """Two documents, both of their own day."""
    number = buyer.order()
    request = ShipRequest(order=number, shipped_on=day("01-20"), currency="USD")
    posted = buyer.arrive(number, ship=request)
    assert [(one.event, one.effect_date) for one in posted.documents] == [
        ("ship", "2026-01-20"),
        ("receipt", "2026-02-10"),
    ]
    assert (buyer.state(number), buyer.is_whole()) == (COMPLETE, True)


def test_receiving_before_shipping_is_refused_with_the_way_out(buyer: Buyer) -> None:
    """Ship first, or both at once."""
    number = buyer.order()
    with pytest.raises(Refused, match=r"nothing of order 1 is under way.*--shipped-on"):
        buyer.arrive(number)


def test_arriving_before_it_was_under_way_is_refused(buyer: Buyer) -> None:
    """A slip in the date."""
    with pytest.raises(InputErrors, match="before shipment 2 was under way, on 2026-01-20"):
        buyer.arrive(shipped(buyer), on="01-19")


def test_nothing_arrives_twice(buyer: Buyer) -> None:
    """What came beyond it is a purchase of its own."""
    number = shipped(buyer)
    buyer.arrive(number)
    with pytest.raises(Refused, match="has arrived already"):
        buyer.arrive(number, on="02-12")


@pytest.mark.parametrize(
    ("came", "losses", "said"),
    [
        ((), [loss(SAND, 101)], "101 of TEE-SAND-M are missing, but only 100"),
        (((SAND, 5),), [loss(SAND, 6, missing=False)], "6 of TEE-SAND-M are damaged, but only 5"),
        ((("INK-CYAN", 5),), [], "order 1 has no INK-CYAN"),
    ],
)
def test_what_cannot_have_come_is_refused(
    buyer: Buyer, came: tuple[tuple[str, int], ...], losses: list[object], said: str
) -> None:
    """More missing than sent, more damaged than came, something not ordered."""
    with pytest.raises(InputErrors, match=said):
        buyer.arrive(shipped(buyer), *came, losses=losses)


def test_another_invoices_number_is_refused(buyer: Buyer) -> None:
    """Goods bear the number they were shipped with, or one nobody used."""
    first = shipped(buyer)
    second = buyer.order((SAND, 5, 1_000))
    buyer.ship(second, reference="NS-8")
    with pytest.raises(AlreadyPosted, match="NS-7 is in the book already"):
        buyer.arrive(second, reference="NS-7")
    assert buyer.arrive(first).receipts[0].reference == "NS-7"


def test_charges_come_with_an_arrival(buyer: Buyer) -> None:
    """Spread over the good pieces of all its receipts."""
    number = buyer.order()
    buyer.ship(number, (SAND, 60))
    buyer.ship(number, (SAND, 40), on="01-25")
    posted = buyer.arrive(number, losses=[loss(SAND, 10)], charges=lambda _: buyer.freight(900))
    shares = [share.amount for share in posted.charge_documents[0].shares]
    assert (shares, sum(lot.charges for lot in posted.lots.values())) == ([500, 400], 900)
    assert buyer.is_whole()


def test_an_arrival_is_undone_and_the_goods_are_under_way_again(buyer: Buyer) -> None:
    """And the order is open again."""
    number = shipped(buyer)
    receipt = buyer.arrive(number, losses=[loss(SAND, 2)]).receipts[0].number
    buyer.book.undo(receipt)
    assert (buyer.held(SAND), buyer.state(number)) == ((0, 0, 100_000, 22_000), "open")
    assert buyer.is_whole()


def test_an_arrival_is_not_undone_under_what_used_it(buyer: Buyer) -> None:
    """The use is undone first."""
    receipt = buyer.arrive(shipped(buyer)).receipts[0].number
    buyer.book.leave("use", (SAND, 1), on="02-15")
    with pytest.raises(Refused, match="later documents used what came in"):
        buyer.book.undo(receipt)


def test_a_shipment_is_not_undone_under_its_arrival(buyer: Buyer) -> None:
    """The refusal names both."""
    number = shipped(buyer)
    receipt = buyer.arrive(number).receipts[0].number
    with pytest.raises(Refused, match=f"undo {receipt} 2"):
        buyer.book.undo(2)
    buyer.book.undo(receipt, 2)
    assert (buyer.held(SAND), buyer.is_whole()) == ((0, 0, 0, 0), True)


def test_goods_under_way_over_a_close_arrive_afterwards(buyer: Buyer) -> None:
    """January is closed with them under way; its bill comes late and its goods arrive in February."""
    number = shipped(buyer)
    buyer.book.close("2026-01")
    buyer.book.charge(charge(1_500, "quantity"), 2, on="02-03")
    posted = buyer.arrive(number, losses=[loss(SAND, 2)])
    assert posted.lots[posted.receipts[0].number, 1].invoice_cost == 21_560
    assert buyer.held(SAND) == (98_000, 22_560, 0, 0)
    assert buyer.is_whole()


def test_a_supply_that_is_an_expense_when_bought_is_one_when_shipped(buyer: Buyer) -> None:
    """Its missing pieces are credited all the same."""
    number = buyer.order(("TAPE-HEAT", 10, 5_000))
    buyer.ship(number)
    receipt = buyer.arrive(number, losses=[loss("TAPE-HEAT", 1)]).receipts[0].number
    assert buyer.book.amounts("supplies") == {2: 5_000, receipt: -500}
    assert buyer.is_whole()


def test_the_shelf_life_begins_when_the_ink_arrives(buyer: Buyer) -> None:
    """A year from the 10th of February."""
    number = buyer.order(("INK-CYAN", 500, 2_000))
    buyer.ship(number)
    posted = buyer.arrive(number)
    assert posted.lots[posted.receipts[0].number, 1].expires_on == "2027-02-10"


@settings(deadline=None, max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), title=st.sampled_from(["shipping", "arrival"]))
def test_whatever_arrives_the_book_is_whole(book: Book, data: st.DataObject, title: str) -> None:
    """Shipments, boxes and losses in any cut: both engines agree, and the order ends complete."""
    buyer = Buyer(Book(book.path, copy_in_memory(book.path)))
    number = buyer.order((SAND, 12, data.draw(st.integers(0, 9_999))), title=title)
    day_of = 10
    while not (found := buyer.found(number)).is_shipped:
        left = found.to_ship_milli(found.lines[0]) // 1000
        day_of += 1
        buyer.ship(
            number,
            (SAND, data.draw(st.integers(min(3, left), left))),
            on=f"01-{day_of}",
            reference=str(day_of),
        )
    day_of = 0
    while buyer.state(number) != COMPLETE:
        found = buyer.found(number)
        under_way = sum(line.open_milli for ship in found.shipments for line in ship.lines) // 1000
        missing = data.draw(st.integers(0, min(2, under_way)))
        rest = under_way - missing
        came = data.draw(st.integers(min(3, rest), rest))
        treatment = data.draw(st.sampled_from(["claimed", "expense"]))
        day_of += 1
        losses = [loss(SAND, missing, treatment)] if missing else []
        if title == "arrival" and not came:
            # Nothing came of what was never the shop's: that is refused, and the order is closed.
            with pytest.raises(Refused, match="the supplier bears the risk"):
                buyer.arrive(number, (SAND, 0), on=f"02-{day_of:02}", losses=losses)
            break
        buyer.arrive(number, (SAND, came), on=f"02-{day_of:02}", losses=losses)
    assert buyer.held(SAND)[2:] == (0, 0)
    assert buyer.is_whole()
    buyer.book.connection.close()


def test_a_credit_in_the_currency_of_the_shipment_is_converted_at_its_rate(buyer: Buyer) -> None:
    """Ten yuan at fourteen cents, though the order was in dollars."""
    number = buyer.order((SAND, 100, 22_000))
    wish = ShipWish(sku=SAND, quantity_milli=100_000, amount_foreign=150_000)
    request = ShipRequest(
        order=number,
        shipped_on=day("01-20"),
        wishes=(wish,),
        currency="CNY",
        rate="0.14",
        rate_source="as given",
    )
    ship(buyer.book.connection, request, TODAY, NOW, keep=True)
    posted = buyer.arrive(number, losses=[loss(SAND, 2)], credit_foreign=1_000, credit_currency="CNY")
    assert posted.receipts[0].lines[0].claimed_amount == 140
    assert buyer.is_whole()


@pytest.mark.parametrize("title", ["shipping", "arrival"])
def test_a_credit_above_what_the_line_cost_is_refused(buyer: Buyer, title: str) -> None:
    """220.00 is what all of it cost; a cent more is too much, and names the option."""
    number = shipped(buyer, title=title)
    buyer.arrive(number, losses=[loss(SAND, 2)], credit_foreign=22_000, keep=False)
    with pytest.raises(InputErrors, match=r"--credit: 220\.01 USD makes 220\.01 USD"):
        buyer.arrive(number, losses=[loss(SAND, 2)], credit_foreign=22_001)


def test_what_each_line_moved_is_handed_back(buyer: Buyer) -> None:
    """Of a lost shipment with freight: under way at 240.00, credited at 220.00, the rest a difference."""
    number = buyer.order()
    buyer.ship(number, charges=lambda _: buyer.freight(3_000))
    posted = buyer.arrive(number, lost="claimed")
    assert posted.amounts[posted.receipts[0].number, 1] == {
        "under way": -24_000,
        "returned to supplier": 22_000,
        "supplier price differences": 2_000,
    }

"""Shipments: from where goods are the shop's, at which value, and what cannot be shipped."""

from __future__ import annotations

import pytest
from book_builder import NOW, TODAY, Book, charge, day, line
from hypothesis import given
from hypothesis import strategies as st
from orders_builder import PLUM, SAND, Buyer

from ledger.book.ordering import close_order
from ledger.book.orders import Order, OrderLine, Shipment, ShippedLine
from ledger.book.ship_parts import ShipWish, ship_parts
from ledger.book.shipping import ShipRequest, ship
from ledger.errors import AlreadyPosted, InputErrors, Problem, Refused


@pytest.fixture
def buyer(book: Book) -> Buyer:
    """A shop that orders."""
    return Buyer(book)


def test_shipped_goods_are_under_way_at_invoice_value(buyer: Buyer) -> None:
    """Nothing is on hand, all of it is under way."""
    buyer.ship(buyer.order())
    assert (buyer.held(SAND), buyer.held(PLUM)) == ((0, 0, 100_000, 22_000), (0, 0, 50_000, 12_501))
    assert buyer.is_whole()


def test_a_foreign_invoice_is_converted_once_at_the_days_rate(buyer: Buyer) -> None:
    """345.01 yuan at fourteen cents are 48.30, spread over the lines."""
    number = buyer.order(currency="CNY")
    shipped = buyer.ship(number, rate="0.14", rate_source="as given").document
    assert (shipped.total, [line.amount for line in shipped.lines]) == (4_830, [3_080, 1_750])
    assert buyer.is_whole()


def test_parts_of_several_shipments_add_up_to_the_order(buyer: Buyer) -> None:
    """125.01 over 17, 16 and 17 pieces, whatever the rounding."""
    number = buyer.order()
    amounts = []
    for place, pieces in enumerate((17, 16, 17)):
        document = buyer.ship(number, (PLUM, pieces), on=f"01-2{place}").document
        amounts.append(document.lines[0].amount_foreign)
    assert (sum(amounts), amounts) == (12_501, [4_250, 4_000, 4_251])


def test_a_shipment_undone_gives_its_part_back(buyer: Buyer) -> None:
    """What is shipped again adds up to the cent."""
    number = buyer.order()
    first = buyer.ship(number, (PLUM, 17)).document
    second = buyer.ship(number, (PLUM, 16), on="01-21").document
    buyer.book.undo(first.number)
    third = buyer.ship(number, (PLUM, 34), on="01-22").document
    assert second.lines[0].amount_foreign + third.lines[0].amount_foreign == 12_501
    assert buyer.is_whole()


@given(data=st.data(), quantity=st.integers(1, 400), amount=st.integers(0, 10**6))
def test_every_split_adds_up(data: st.DataObject, quantity: int, amount: int) -> None:
    """However an order's line is cut into shipments, their amounts add up to it."""
    line = OrderLine(
        line=1,
        sku=SAND,
        kind="blank",
        tax_class="goods",
        base_unit="each",
        unit="each",
        unit_quantity="",
        quantity_milli=quantity,
        amount_foreign=amount,
        weight_mg=None,
        volume_mm3=None,
        supplier_code="",
    )
    shipments: list[Shipment] = []
    while (left := quantity - sum(one.lines[0].quantity_milli for one in shipments)) > 0:
        milli = data.draw(st.integers(1, left))
        order = _order(line, shipments)
        problems: list[Problem] = []
        (part,) = ship_parts(order, [ShipWish(sku=SAND, quantity_milli=milli)], problems)
        assert problems == []
        shipments.append(_shipment(len(shipments) + 2, milli, part.amount_foreign))
    assert sum(one.lines[0].amount_foreign for one in shipments) == amount


def _order(line: OrderLine, shipments: list[Shipment]) -> Order:
    return Order(
        number=1,
        ordered_on="2026-01-05",
        effect_date="2026-01-05",
        party="Mill Lane",
        reference="",
        currency="USD",
        terms="FCA",
        named_place="",
        title_passes="shipping",
        origin="",
        deposit_foreign=0,
        working_days=None,
        transit_days=None,
        closures="",
        closed_by=None,
        undone_by=None,
        lines=(line,),
        shipments=tuple(shipments),
    )


def _shipment(number: int, milli: int, amount: int) -> Shipment:
    line = ShippedLine(
        document=number,
        line=1,
        order_line=1,
        sku=SAND,
        quantity_milli=milli,
        amount_foreign=amount,
        amount=amount,
        note="",
        weight_mg=None,
        volume_mm3=None,
        arrived_milli=0,
        arrived_foreign=0,
    )
    return Shipment(
        document=number,
        shipped_on="2026-01-10",
        effect_date="2026-01-10",
        reference="",
        title_passes="shipping",
        currency="USD",
        rate="1",
        rate_source="",
        lines=(line,),
    )


def test_the_invoices_price_may_differ_and_is_said_to(buyer: Buyer) -> None:
    """What is left of the order keeps its own price."""
    number = buyer.order()
    wish = ShipWish(sku=SAND, quantity_milli=60_000, amount_foreign=13_800)
    request = ShipRequest(order=number, shipped_on=day("01-20"), wishes=(wish,))
    posted = ship(buyer.book.connection, request, TODAY, NOW, keep=True)
    assert posted.document.lines[0].amount == 13_800
    assert "not the order's, for TEE-SAND-M" in posted.remarks[0]
    assert buyer.ship(number, (SAND, 40), on="01-21").document.lines[0].amount_foreign == 8_800


def test_goods_on_board_are_the_shops_from_that_day(buyer: Buyer) -> None:
    """Handed over on the 20th, loaded on the 3rd of February."""
    number = buyer.order(title="on board", terms="FOB")
    document = buyer.ship(number, on_board=day("02-03")).document
    assert (document.shipped_on, document.effect_date, document.terms) == (
        "2026-01-20",
        "2026-02-03",
        "on board",
    )


def test_without_a_day_on_board_the_handing_over_stands_and_is_said(buyer: Buyer) -> None:
    """The preview says what was taken for granted."""
    posted = buyer.ship(buyer.order(title="on board", terms="FOB"))
    assert posted.document.effect_date == "2026-01-20"
    assert "--on-board" in posted.remarks[0]


def test_goods_that_are_the_shops_on_arrival_cost_nothing_while_shipped(buyer: Buyer) -> None:
    """The shipment is information: no leg, no lot, a whole book."""
    buyer.ship(buyer.order(title="arrival", terms="destination"))
    assert (buyer.book.legs(), buyer.book.rows("SELECT * FROM lot")) == ([], [])
    assert buyer.is_whole()


def test_charges_come_with_the_shipment(buyer: Buyer) -> None:
    """Thirty dollars by quantity over 150 pieces."""
    posted = buyer.ship(buyer.order(), charges=lambda _: buyer.freight(3_000))
    assert [share.amount for share in posted.charge_documents[0].shares] == [2_000, 1_000]
    assert buyer.held(SAND) == (0, 0, 100_000, 24_000)
    assert buyer.is_whole()


def test_a_later_bill_falls_on_what_is_under_way(buyer: Buyer) -> None:
    """A charge names the shipment's number."""
    shipped = buyer.ship(buyer.order()).document.number
    buyer.book.charge(charge(3_000, "quantity"), shipped, on="01-25")
    assert buyer.held(SAND) == (0, 0, 100_000, 24_000)
    assert buyer.is_whole()


def test_a_bill_is_not_for_goods_that_are_not_the_shops(buyer: Buyer) -> None:
    """It waits for the receipt."""
    shipped = buyer.ship(buyer.order(title="arrival", terms="DAP")).document.number
    with pytest.raises(Refused, match="only when they arrive"):
        buyer.book.charge(charge(3_000, "quantity"), shipped, on="01-25")
    with pytest.raises(Refused, match="entered with the arrival"):
        buyer.ship(buyer.order(title="arrival", reference="2"), charges=lambda _: buyer.freight(100))


def test_shipping_more_than_ordered_is_refused(buyer: Buyer) -> None:
    """With what is left to ship."""
    number = buyer.order()
    buyer.ship(number, (SAND, 60))
    with pytest.raises(
        InputErrors, match="41 of TEE-SAND-M are shipped, but of the 100 ordered only 40 are left"
    ):
        buyer.ship(number, (SAND, 41), on="01-21")


def test_what_was_not_ordered_is_not_shipped(buyer: Buyer) -> None:
    """With what the order has."""
    with pytest.raises(InputErrors, match=r"has no FILM-A3\. It is of TEE-SAND-M, TEE-PLUM-L"):
        buyer.ship(buyer.order(), ("FILM-A3", 1))


def test_a_shipped_order_is_not_shipped_again(buyer: Buyer) -> None:
    """What comes beyond it is entered on arrival."""
    number = buyer.order()
    buyer.ship(number)
    with pytest.raises(Refused, match="--extra"):
        buyer.ship(number)


def test_a_closed_order_is_not_shipped(buyer: Buyer) -> None:
    """The way out is undoing the closing."""
    number = buyer.order()
    closed = close_order(buyer.book.connection, number, "sold out", TODAY, NOW)
    with pytest.raises(Refused, match=f"undo {closed}"):
        buyer.ship(number)


@pytest.mark.parametrize(
    ("on", "on_board", "said"),
    [
        ("01-02", None, "before the order"),
        ("04-02", None, "in the future"),
        ("01-20", "01-19", "handed over"),
    ],
)
def test_days_that_cannot_be_are_refused(buyer: Buyer, on: str, on_board: str | None, said: str) -> None:
    """Before the order, in the future, on board before the handing over."""
    number = buyer.order(title="on board", terms="FOB")
    with pytest.raises(InputErrors, match=said):
        buyer.ship(number, on=on, on_board=day(on_board) if on_board else None)


def test_two_orders_for_one_invoice_are_asked_about(buyer: Buyer) -> None:
    """The same number of the same supplier, unless it is another part of the invoice."""
    first, second = buyer.order(), buyer.order((SAND, 10, 2_500))
    shipped = buyer.ship(first, reference="NS-7").document.number
    with pytest.raises(AlreadyPosted, match=f"as ship {shipped} of order {first}"):
        buyer.ship(second, reference="NS-7")
    assert buyer.ship(second, reference="NS-7", another_box=True).document.reference == "NS-7"


def test_the_same_shipment_twice_is_refused(buyer: Buyer) -> None:
    """Twice is once."""
    number = buyer.order()
    buyer.ship(number, (SAND, 10))
    with pytest.raises(AlreadyPosted, match="as ship 2"):
        buyer.ship(number, (SAND, 10))


def test_an_invoice_that_is_under_way_is_not_received_as_a_purchase(buyer: Buyer) -> None:
    """It would be bought twice; the way out names the order."""
    number = buyer.order()
    buyer.ship(number, reference="NS-7")
    with pytest.raises(AlreadyPosted, match=f"receive --order {number}"):
        buyer.book.receive(line(SAND), party="Mill Lane", reference="NS-7")


def test_another_currency_needs_prices_of_its_own(buyer: Buyer) -> None:
    """The order's prices do not hold in it."""
    number = buyer.order()
    with pytest.raises(InputErrors, match="the order is in USD, this invoice in CNY"):
        buyer.ship(number, currency="CNY", rate="0.14")
    wish = ShipWish(sku=SAND, quantity_milli=100_000, amount_foreign=150_000)
    request = ShipRequest(
        order=number,
        shipped_on=day("01-20"),
        wishes=(wish,),
        currency="CNY",
        rate="0.14",
        rate_source="as given",
    )
    assert ship(buyer.book.connection, request, TODAY, NOW, keep=True).document.total == 21_000
    assert buyer.is_whole()


def test_a_look_at_a_shipment_posts_nothing(buyer: Buyer) -> None:
    """The figures are the same, the book is as it was."""
    number = buyer.order()
    looked = buyer.ship(number, keep=False).document
    assert buyer.book.rows("SELECT count(*) FROM document") == [(1,)]
    assert looked == buyer.ship(number).document


def test_what_is_under_way_is_not_on_the_shelf(buyer: Buyer) -> None:
    """Nothing can be used of it before it arrives."""
    buyer.ship(buyer.order())
    with pytest.raises(Refused):
        buyer.book.leave("use", (SAND, 1), on="02-01")


def test_a_day_on_board_that_is_told_later_wants_the_shipment_anew(buyer: Buyer) -> None:
    """The refusal names all that is undone with it, and how it is shipped again."""
    number = buyer.order(title="on board", terms="FOB")
    buyer.ship(number, charges=lambda _: buyer.freight(300))
    said = f"undo 3 2 --why.*ship {number} --date 2026-01-20 --on-board 2026-01-23"
    with pytest.raises(Refused, match=said):
        buyer.ship(number, on_board=day("01-23"))


def test_a_day_on_board_changes_nothing_where_the_risk_passes_before(buyer: Buyer) -> None:
    """And that is said."""
    posted = buyer.ship(buyer.order(), on_board=day("01-23"))
    assert (posted.document.effect_date, "--on-board changes nothing" in posted.remarks[0]) == (
        "2026-01-20",
        True,
    )

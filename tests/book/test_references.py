"""What entries refer to: receipts by number or by party and reference, and the sales that come back."""

from __future__ import annotations

import pytest
from book_builder import Book
from event_shop import EventShop, event_shop

from ledger.book import recosting, references, replay_scope, replay_start
from ledger.book.references import (
    ReturnPart,
    ReturnWish,
    SoldLine,
    document_number,
    receipts_named,
    sold_lines,
    split_return,
)
from ledger.errors import ValueProblem

OPENING = "01-01,receive,TEE-SAND-M,10,30.00,,,Mill Lane,ML-204"


@pytest.fixture
def shop(book: Book) -> EventShop:
    """A book with a few items and a bill."""
    return event_shop(book)


@pytest.mark.parametrize(
    ("text", "number"),
    [("12", 12), ("receipt 12", 12), (" Receipt 7 ", 7), ("ML-204", None), ("1.2", None), ("sale 12", None)],
)
def test_a_document_is_named_by_its_number(text: str, number: int | None) -> None:
    """With or without its noun; anything else is a reference."""
    assert document_number(text, "receipt") == number


@pytest.mark.parametrize("text", ["1", "receipt 1", "Mill Lane/ML-204", "mill lane / ML-204"])
def test_a_receipt_is_found_by_number_and_by_reference(shop: EventShop, text: str) -> None:
    """The party in any capitals."""
    shop.post(OPENING)
    assert receipts_named(shop.book.connection, [text], []) == [1]


def test_slashes_in_names_and_references_are_no_trouble(shop: EventShop) -> None:
    """Every way to split the text is tried."""
    shop.post("01-01,receive,TEE-SAND-M,10,30.00,,,North/South Goods,2026/17")
    assert receipts_named(shop.book.connection, ["North/South Goods/2026/17"], []) == [1]


@pytest.mark.parametrize("text", ["7", "2", "Mill Lane/ML-205", "ML-204"])
def test_what_names_no_receipt_is_told(shop: EventShop, text: str) -> None:
    """Unknown numbers, a sale's number, another reference, a reference without its party."""
    shop.post(OPENING, "01-02,sell,TEE-SAND-M,1")
    with pytest.raises(ValueProblem, match=f"'{text}'"):
        receipts_named(shop.book.connection, [text], [])


def test_an_undone_receipt_is_no_longer_found_by_reference(shop: EventShop) -> None:
    """Its party and reference are free for the right one."""
    shop.post(OPENING)
    shop.book.undo(1)
    with pytest.raises(ValueProblem):
        receipts_named(shop.book.connection, ["Mill Lane/ML-204"], [])


# --- returns ----------------------------------------------------------------------------------


def sold(document: int, left: int, day: str = "2026-01-10", party: str = "", reference: str = "") -> SoldLine:
    """A sale of one line with so much still out."""
    return SoldLine(document, 1, day, party, reference, left)


def wish(quantity: int, party: str = "", reference: str = "", *of: str) -> ReturnWish:
    """A return of the item."""
    return ReturnWish("TEE-SAND-M", quantity, party, reference, of)


LATEST_FIRST = [
    sold(9, 1000, party="Ash", reference="A-9"),
    sold(7, 2000, reference="A-7"),
    sold(5, 3000, party="Birch", reference="A-5"),
]


@pytest.mark.parametrize(
    ("wanted", "parts"),
    [
        (wish(500), [(9, 500)]),
        (wish(2500), [(9, 1000), (7, 1500)]),
        (wish(2500, "birch"), [(7, 2000), (5, 500)]),
        (wish(1000, "", "A-5"), [(5, 1000)]),
        (wish(1000, "", "", "7"), [(7, 1000)]),
        (wish(1000, "", "", "sale 5"), [(5, 1000)]),
        (wish(1500, "", "", "A-9", "A-7"), [(9, 1000), (7, 500)]),
    ],
)
def test_a_return_is_split_over_the_latest_sales_first(
    wanted: ReturnWish, parts: list[tuple[int, int]]
) -> None:
    """Without a reference the most recent; of the party, and of those that name none."""
    assert split_return(wanted, LATEST_FIRST) == [
        ReturnPart(number, 1, quantity) for number, quantity in parts
    ]


@pytest.mark.parametrize(
    "wanted", [wish(6001), wish(1001, "", "A-9"), wish(1, "", "", "8"), wish(4001, "Ash")]
)
def test_more_taken_back_than_is_out_is_refused(wanted: ReturnWish) -> None:
    """In all, of the reference, of the sale, of the party: what is out is told."""
    with pytest.raises(ValueProblem, match="still out"):
        split_return(wanted, LATEST_FIRST)


def test_sales_still_out_are_the_latest_first_and_less_what_came_back(shop: EventShop) -> None:
    """Later sales than the day and those all back are left out, undone ones too."""
    shop.post(
        OPENING,
        "01-05,sell,TEE-SAND-M,3",
        "01-06,sell,TEE-SAND-M,1",
        "01-07,sell,TEE-SAND-M,2",
        "01-08,take_back,TEE-SAND-M,3",
        "01-20,sell,TEE-SAND-M,1",
    )
    found = sold_lines(shop.book.connection, "TEE-SAND-M", "2026-01-10", [])
    assert [(one.document, one.left) for one in found] == [(2, 3000)]
    shop.book.undo(5)
    found = sold_lines(shop.book.connection, "TEE-SAND-M", "2026-01-10", [])
    assert [(one.document, one.left) for one in found] == [(4, 2000), (3, 1000), (2, 3000)]


def test_a_return_over_two_sales_is_one_document_of_two_lines(shop: EventShop) -> None:
    """Each line refers to its sale, and the money is spread over them by quantity."""
    shop.post(OPENING, "01-05,sell,TEE-SAND-M,2,,,,,A-1", "01-06,sell,TEE-SAND-M,1,,,,,A-2")
    shop.post("01-08,take_back,TEE-SAND-M,3,25.00")
    lines = shop.book.rows(
        "SELECT lot_document, quantity_milli, amount FROM document_line WHERE document = 4 ORDER BY line"
    )
    assert (lines, shop.is_whole()) == ([(3, 1000, 833), (2, 2000, 1667)], True)


def test_a_return_may_stand_above_its_sale_in_the_sheet(shop: EventShop) -> None:
    """Sold and brought back on one day, entered in the order the papers lay in."""
    shop.post(OPENING, "01-08,take_back,TEE-SAND-M,1,,,,,A-1", "01-08,sell,TEE-SAND-M,2,,,,,A-1")
    assert (shop.costs("sale"), shop.costs("take back"), shop.is_whole()) == ([600], [-300], True)


def test_a_sale_that_came_back_cannot_be_undone_alone(shop: EventShop) -> None:
    """The return refers to it."""
    shop.post(OPENING, "01-05,sell,TEE-SAND-M,2", "01-06,take_back,TEE-SAND-M,1")
    with pytest.raises(Exception, match="3 refers to it"):
        shop.book.undo(2)


# --- back to the supplier ---------------------------------------------------------------------


@pytest.mark.parametrize("of", [",,,,,2", ",,,,,Mill Lane/ML-205", ",,,,,,2.1"])
def test_goods_go_back_from_the_lot_they_came_in(shop: EventShop, of: str) -> None:
    """By receipt number, by reference and by lot: the younger, dearer lot."""
    shop.post(OPENING, "01-02,receive,TEE-SAND-M,10,50.00,,,Mill Lane,ML-205")
    shop.post(f"01-10,send_back,TEE-SAND-M,2,{of}")
    assert (shop.costs("send back"), shop.is_whole()) == ([1000], True)


def test_what_its_lot_no_longer_holds_goes_from_the_oldest(shop: EventShop) -> None:
    """One left of the lot of the 2nd, so the second piece is one of the 5th."""
    shop.post("01-02,receive,TEE-SAND-M,2,2.00", "01-05,receive,TEE-SAND-M,2,8.00", "01-06,sell,TEE-SAND-M,1")
    shop.post("01-10,send_back,TEE-SAND-M,2,,,,,,1")
    assert (shop.costs("send back"), shop.is_whole()) == ([100 + 400], True)


def test_a_credit_that_differs_from_cost_is_a_price_difference(shop: EventShop) -> None:
    """A lot at 3.00 a piece goes back for 2.50."""
    shop.post(OPENING, "01-10,send_back,TEE-SAND-M,2,5.00,,,,,1")
    assert [(leg.account, leg.amount) for leg in shop.legs_of(2)] == [
        ("on hand", -600),
        ("returned to supplier", 500),
        ("supplier price differences", 100),
    ]


@pytest.mark.parametrize(
    "of",
    [",,,,,3", ",,,,,,3.1", ",,,,,,1.7", ",,,,,Mill Lane/ML-999"],
    ids=["receipt", "lot", "line", "reference"],
)
def test_what_is_not_the_items_receipt_cannot_be_sent_back_to(shop: EventShop, of: str) -> None:
    """Another item's receipt, a lot or line that is not there."""
    shop.post(OPENING, "01-02,sell,TEE-SAND-M,1", "01-03,receive,FILM-A3,10,5.00")
    assert len(shop.refused(f"01-10,send_back,TEE-SAND-M,2,{of}")) == 1


@pytest.mark.parametrize("of", [",,,,,2", ",,,,,,2.1"])
def test_an_undone_receipt_takes_nothing_back(shop: EventShop, of: str) -> None:
    """Its lot is not there any more."""
    shop.post(OPENING, "01-02,receive,TEE-SAND-M,10,50.00")
    shop.book.undo(2)
    assert len(shop.refused(f"01-10,send_back,TEE-SAND-M,2,{of}")) == 1


# --- the queries ------------------------------------------------------------------------------

KEPT_OUT = ("boundary", "month_event", "back")
"""Tables of a row or a few, and results in memory: reading them whole costs nothing."""

QUERIES = {
    f"{module.__name__.rpartition('.')[2]} {name}": query
    for module in (references, recosting, replay_scope, replay_start)
    for name, query in vars(module).items()
    if isinstance(query, str) and query.lstrip().startswith("SELECT")
}


def test_the_queries_are_found() -> None:
    """The plans below are of something."""
    assert {
        "references _SOLD",
        "references _BY_REFERENCE",
        "replay_scope _MADE_FROM",
        "replay_start _OPEN_FACTS",
    } <= (QUERIES.keys())


@pytest.mark.parametrize("query", QUERIES.values(), ids=QUERIES)
def test_queries_of_a_posting_use_an_index(book: Book, query: str) -> None:
    """None reads a whole table of what grows with the book, nor the whole history up to a day."""
    values = 2 if "?1" in query else query.count("?")
    plan = [str(row[3]) for row in book.rows("EXPLAIN QUERY PLAN " + query, *["x"] * values)]
    scans = [step for step in plan if step.startswith("SCAN") and step.split()[1] not in KEPT_OUT]
    whole = [step for step in plan if "document_effect" in step]
    assert (scans, whole) == ([], [])


def test_looking_for_what_is_replaced_uses_an_index(book: Book) -> None:
    """What is asked and removed of an item goes by its index, whatever the size of the book."""
    statements = []
    shop = event_shop(book)
    shop.post(OPENING, "01-05,sell,TEE-SAND-M,3")
    book.connection.set_trace_callback(statements.append)
    shop.post("01-04,sell,TEE-SAND-M,1")
    book.connection.set_trace_callback(None)
    touching = [
        one
        for one in statements
        if one.lstrip().startswith(("DELETE", "SELECT"))
        and any(name in one for name in (" leg", " lot", "_line"))
    ]
    scans = [
        (statement, step[3])
        for statement in touching
        for step in book.rows("EXPLAIN QUERY PLAN " + statement)
        if str(step[3]).startswith("SCAN")
        and str(step[3]).split()[1] in {"leg", "lot", "l", "d", "document_line"}
    ]
    assert (scans, len(touching) > 3) == ([], True)


@pytest.mark.parametrize(
    ("query", "index"),
    [
        ("replay_start _OPEN_LAYERS", "lot_on_hand"),
        ("replay_start _OPEN_LOTS", "lot_on_hand"),
        ("replay_start _CLOSED_LAYERS", "close_document=? AND lot_document=? AND lot_line=?"),
        ("references _BY_REFERENCE", "document_reference"),
    ],
)
def test_queries_read_only_what_they_need(book: Book, query: str, index: str) -> None:
    """Empty lots, other items' layers and receipts without a reference are not even looked at."""
    text = QUERIES[query]
    plan = " ".join(str(row[3]) for row in book.rows("EXPLAIN QUERY PLAN " + text, *["x"] * text.count("?")))
    assert index in plan

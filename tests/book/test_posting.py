"""A sheet becomes documents in one transaction, judged as a whole; and a forgetful maker's late entries."""

from __future__ import annotations

from datetime import date

import pytest
from book_builder import NOW, TODAY, Book
from event_shop import EventShop, event_shop

from ledger.book.catalogue_store import find_items
from ledger.book.entries import Entries, Entry, EntryLine
from ledger.book.posting import post_entries
from ledger.catalogue.items import Item
from ledger.costing.facts import Leg
from ledger.errors import BlankbookError

OPENING = "01-01,opening,TEE-SAND-M,10,30.00"


@pytest.fixture
def shop(book: Book) -> EventShop:
    """A book with a few items and a bill."""
    return event_shop(book)


def costs_by_kind(legs: list[Leg]) -> list[tuple[str, int]]:
    """The accounts and amounts of legs."""
    return [(leg.account, leg.amount) for leg in legs]


def test_rows_are_posted_in_date_order_whatever_their_order(shop: EventShop) -> None:
    """The sale of the 10th stands above the receipt of the 5th, and still comes after it."""
    posted = shop.post("01-10,sell,TEE-SAND-M,4,40.00", "01-05,receive,TEE-SAND-M,10,30.00")
    assert [(one.number, one.event) for one in posted.documents] == [(1, "receipt"), (2, "sale")]
    assert (posted.cost(posted.documents[1]), shop.is_whole()) == (1200, True)


@pytest.mark.parametrize(
    ("event", "account"),
    [
        ("sell", "pieces sold"),
        ("use", "used"),
        ("spoil", "spoilage"),
        ("own_use", "own use"),
        ("sample", "samples"),
        ("donate", "donations"),
    ],
)
def test_each_way_of_leaving_has_its_account(shop: EventShop, event: str, account: str) -> None:
    """Four of ten for 30.00 leave at 12.00."""
    shop.post(OPENING, f"01-10,{event},TEE-SAND-M,4")
    assert costs_by_kind(shop.legs_of(2)) == [("on hand", -1200), (account, 1200)]


def test_a_job_is_one_document_of_its_rows(shop: EventShop) -> None:
    """Good, normal and abnormal rows of one date, reference and item, with the labour paid."""
    shop.post(
        OPENING,
        "01-01,opening,FILM-A3,10,5.00",
        "01-01,opening,INK-CYAN,50,5.00",
        "01-10,make,FOX-SAND-M,4,2.00,,good,,job 7",
        "01-10,make,FOX-SAND-M,1,,,normal,,job 7",
        "01-10,make,FOX-SAND-M,1,,,abnormal,,job 7",
    )
    # Six shirts 18.00, six sheets 3.00, five millilitres 0.50, labour 2.00: 23.50 over five pieces.
    assert shop.costs("make") == [1800 + 300 + 50 - 2350 + 470]
    assert (shop.stock("FOX-SAND-M"), shop.is_whole()) == ((4000, 1880), True)


def test_a_write_down_takes_at_most_what_is_there(shop: EventShop) -> None:
    """A loss of 50.00 on stock at 30.00 is one of 30.00."""
    shop.post(OPENING, "01-10,write_down,TEE-SAND-M,,50.00")
    assert (shop.stock("TEE-SAND-M"), shop.is_whole()) == ((10_000, 0), True)


def test_a_refund_touches_no_stock(shop: EventShop) -> None:
    """Money goes back, no legs follow."""
    shop.post(OPENING, "01-10,sell,TEE-SAND-M,1,12.00", "01-12,refund,TEE-SAND-M,,2.00")
    assert (shop.legs_of(3), shop.stock("TEE-SAND-M")) == ([], (9000, 2700))


def test_a_charge_in_the_sheet_finds_its_receipt_by_party_and_reference(shop: EventShop) -> None:
    """Dated before the goods came, it is spread once they are there."""
    shop.post(
        "01-03,charge,,,6.00,,freight,,,Mill Lane/ML-204",
        "01-05,receive,TEE-SAND-M,10,30.00,,,Mill Lane,ML-204",
        "01-06,sell,TEE-SAND-M,5,50.00",
    )
    assert (shop.costs("sale"), shop.is_whole()) == ([1800], True)


def test_a_later_charge_re_costs_the_sale(shop: EventShop) -> None:
    """Freight for a receipt in the book moves what was sold of it, and says by how much."""
    shop.post("01-05,receive,TEE-SAND-M,10,30.00,,,Mill Lane,ML-204", "01-06,sell,TEE-SAND-M,5,50.00")
    posted = shop.post("01-20,charge,,,6.00,,freight,,,1")
    assert [(one.document, one.before, one.after) for one in posted.changes] == [(2, 1500, 1800)]
    assert shop.is_whole()


def test_a_dry_run_says_what_would_be_and_keeps_nothing(shop: EventShop) -> None:
    """The documents and their costs come back; the book stays as it was."""
    shop.post(OPENING, "01-01,opening,FILM-A3,10,5.00", "01-01,opening,INK-CYAN,50,5.00")
    before = shop.facts()
    posted = shop.post("01-10,sell,FOX-SAND-M,1", "01-10,sell,TEE-SAND-M,1", keep=False)
    assert [one.event for one in posted.documents] == ["make", "sale", "sale"]
    assert (shop.facts(), shop.is_whole()) == (before, True)


def test_one_wrong_row_of_five_thousand_keeps_all_out(shop: EventShop) -> None:
    """Row 4,000 names an unknown item: one list of one problem, nothing posted."""
    rows = [f"01-10,sell,TEE-SAND-M,1,,,,,order {number}" for number in range(5000)]
    rows[3997] = "01-10,sell,TEE-SAN-M,1"
    said = shop.refused(OPENING, *rows[:-1])
    assert len(said) == 1
    assert said[0].startswith("row 4000: the book has no item TEE-SAN-M. Did you mean 'TEE-SAND-M'?")


def test_every_wrong_row_is_told_at_once(shop: EventShop) -> None:
    """Unknown item, a day in the future, opening stock too late, a bill for no receipt: four problems."""
    said = shop.refused("01-10,sell,NOTHING,1", "01-11,make,TEE-SAND-M,1", "01-12,opening,TEE-SAND-M,1,3.00")
    assert [problem.partition(":")[0] for problem in said] == ["row 2", "row 4", "row 3"]


def test_what_the_book_refuses_is_told_at_once(shop: EventShop) -> None:
    """Days outside the book, bills without a receipt and returns of what was never sold, row by row."""
    said = shop.refused(
        "04-10,sell,TEE-SAND-M,1",
        "01-11,charge,,,5.00,,freight,,,77",
        "01-12,take_back,TEE-SAND-M,1",
        "01-13,send_back,TEE-SAND-M,1,,,,,,,12.3",
    )
    assert [problem.partition(":")[0] for problem in said] == ["row 4", "row 5", "row 2", "row 3"]


def test_every_row_that_finds_too_little_is_named(shop: EventShop) -> None:
    """Two items go short in one sheet: both rows, what is there and what is missing."""
    shop.post(OPENING, "01-01,opening,FILM-A3,2,1.00")
    said = shop.refused("01-10,sell,TEE-SAND-M,12", "01-10,sell,TEE-SAND-M,1", "01-11,use,FILM-A3,2.5")
    assert [problem.partition(". ")[0] for problem in said] == [
        "row 2: TEE-SAND-M: this row takes 12 on 2026-01-10, on hand 10, missing 2",
        "row 4: FILM-A3: this row takes 2.5 on 2026-01-11, on hand 2, missing 0.5",
    ]


def test_an_earlier_document_that_would_go_short_is_named(shop: EventShop) -> None:
    """A late sale takes what a later sale in the book needs: that sale is named, nothing is posted."""
    shop.post(OPENING, "01-20,sell,TEE-SAND-M,8")
    said = shop.refused("01-10,sell,TEE-SAND-M,5")
    assert len(said) == 1
    assert "sale 2, entered earlier, takes 8 on 2026-01-20" in said[0]


def test_the_same_sheet_twice_is_refused_row_by_row(shop: EventShop) -> None:
    """Each row says which document it is already."""
    sheet = (
        "01-05,receive,TEE-SAND-M,10,30.00,,,Mill Lane,ML-204",
        "01-05,charge,,,6.00,,freight,Carrier,C-1,Mill Lane/ML-204",
        "01-06,sell,TEE-SAND-M,1,12.00,,,,A-1",
        "01-07,take_back,TEE-SAND-M,1,12.00,,,,A-1",
        "01-08,count,TEE-SAND-M,10",
    )
    shop.post(*sheet)
    said = shop.refused(*sheet)
    assert [problem.partition(":")[0] for problem in said] == ["row 2", "row 4", "row 5", "row 6", "row 3"]


def test_two_identical_rows_are_two_sales(shop: EventShop) -> None:
    """Two shirts at the same price on the same market day, on two rows."""
    posted = shop.post(OPENING, "01-10,sell,TEE-SAND-M,1,12.00", "01-10,sell,TEE-SAND-M,1,12.00")
    assert ([one.event for one in posted.documents], shop.stock("TEE-SAND-M")) == (
        ["opening", "sale", "sale"],
        (8000, 2400),
    )


def test_a_sheet_that_was_undone_may_be_posted_again(shop: EventShop) -> None:
    """An undone document does not count for twice is once."""
    shop.post(OPENING, "01-10,sell,TEE-SAND-M,1,12.00")
    shop.book.undo(2)
    shop.post("01-10,sell,TEE-SAND-M,1,12.00")
    assert (shop.stock("TEE-SAND-M"), shop.is_whole()) == ((9000, 2700), True)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("01-10,make,FOX-SAND-M,2", "01-10,make,FOX-SAND-M,2,,,abnormal"),
        ("01-10,send_back,TEE-SAND-M,1,3.00,,,,,1", "01-10,send_back,TEE-SAND-M,1,2.00,,,,,1"),
        ("01-10,take_back,TEE-SAND-M,1,,,,,,4", "01-10,take_back,TEE-SAND-M,1,,,,,,5"),
    ],
)
def test_rows_that_say_different_things_are_not_the_same(shop: EventShop, first: str, second: str) -> None:
    """Spoiled pieces are not good ones, another credit is another return, so is one of another sale."""
    shop.post(
        "01-01,receive,TEE-SAND-M,10,30.00",
        "01-01,receive,FILM-A3,10,5.00",
        "01-01,receive,INK-CYAN,50,5.00",
        "01-02,sell,TEE-SAND-M,1,,,,,A-1",
        "01-02,sell,TEE-SAND-M,1,,,,,A-2",
        first,
    )
    shop.post(second)
    assert shop.is_whole()


# --- a forgetful maker ------------------------------------------------------------------------


def test_a_late_receipt_says_which_costs_changed_and_by_how_much(shop: EventShop) -> None:
    """A cheaper lot of an earlier day is what the sale took after all."""
    shop.post("01-08,receive,TEE-SAND-M,10,30.00", "01-10,sell,TEE-SAND-M,5")
    posted = shop.post("01-03,receive,TEE-SAND-M,4,4.00")
    assert [(one.document, one.sku, one.before, one.after) for one in posted.changes] == [
        (2, "TEE-SAND-M", 1500, 700)
    ]
    assert shop.is_whole()


def test_a_late_receipt_of_material_re_costs_what_was_made_and_sold(shop: EventShop) -> None:
    """The job, and the sale of what it made, both cost less."""
    shop.post(
        "01-08,receive,TEE-SAND-M,10,30.00",
        "01-08,receive,FILM-A3,10,5.00",
        "01-08,receive,INK-CYAN,50,5.00",
        "01-09,make,FOX-SAND-M,2",
        "01-10,sell,FOX-SAND-M,2",
    )
    posted = shop.post("01-03,receive,TEE-SAND-M,2,2.00")
    assert [(one.document, one.sku, one.before, one.after) for one in posted.changes] == [
        (4, "FOX-SAND-M", -750, -350),
        (4, "TEE-SAND-M", 600, 200),
        (5, "FOX-SAND-M", 750, 350),
    ]
    assert shop.is_whole()


def test_an_early_document_is_undone_with_later_ones_on_top(shop: EventShop) -> None:
    """Without the dear lot of the 3rd, the later sale takes the next one."""
    shop.post(
        "01-03,receive,TEE-SAND-M,5,50.00",
        "01-05,receive,TEE-SAND-M,10,30.00",
        "01-10,sell,TEE-SAND-M,4",
        "01-12,take_back,TEE-SAND-M,1",
        "01-20,count,TEE-SAND-M,12",
    )
    shop.book.undo(1)
    # Of ten four were sold and one came back: seven; twelve counted are five more than the book has.
    assert (shop.costs("sale"), shop.costs("take back"), shop.costs("count")) == ([1200], [-300], [-1500])
    assert (shop.stock("TEE-SAND-M"), shop.is_whole()) == ((12_000, 3600), True)


def test_undoing_what_later_documents_need_is_refused(shop: EventShop) -> None:
    """The receipt of what was sold stays."""
    shop.post("01-03,receive,TEE-SAND-M,5,50.00", "01-10,sell,TEE-SAND-M,4")
    with pytest.raises(Exception, match="receipt 1 cannot be undone: later documents used what came in"):
        shop.book.undo(1)


def test_a_receipt_after_the_sale_settles_what_went_short(shop: EventShop) -> None:
    """Sold with --short at the latest known cost; the receipt of the same month re-costs the sale."""
    shop.post("01-03,receive,TEE-SAND-M,2,6.00")
    shop.post("01-10,sell,TEE-SAND-M,5", short=True)
    assert (shop.costs("sale"), shop.stock("TEE-SAND-M")) == ([1500], (-3000, -900))
    posted = shop.post("01-20,receive,TEE-SAND-M,10,50.00")
    assert [(one.document, one.before, one.after) for one in posted.changes] == [(2, 1500, 2100)]
    assert (shop.stock("TEE-SAND-M"), shop.is_whole()) == ((7000, 3500), True)


def test_a_receipt_of_the_next_month_does_not_settle(shop: EventShop) -> None:
    """What went short in January stays so; February's goods keep their cost."""
    shop.post("01-03,receive,TEE-SAND-M,2,6.00")
    shop.post("01-10,sell,TEE-SAND-M,5", short=True)
    posted = shop.post("02-01,receive,TEE-SAND-M,10,50.00")
    assert (posted.changes, shop.costs("sale"), shop.is_whole()) == ((), [1500], True)


def test_a_short_without_a_known_cost_needs_an_amount(shop: EventShop) -> None:
    """Used before anything of it ever came in: refused, and let through with its cost."""
    said = shop.refused("01-10,use,FILM-A3,2", short=True)
    shop.post("01-10,use,FILM-A3,2,1.30", short=True)
    assert [problem.partition("but the book ")[2][:20] for problem in said] == ["knows no cost of it:"]
    assert (shop.costs("use"), shop.is_whole()) == ([130], True)


def test_a_late_receipt_changes_the_difference_and_not_the_count(shop: EventShop) -> None:
    """Eight counted where the book had ten; with two more received before it, four are missing."""
    shop.post(OPENING, "01-15,count,TEE-SAND-M,8")
    posted = shop.post("01-12,receive,TEE-SAND-M,2,8.00")
    assert [(one.document, one.before, one.after) for one in posted.changes] == [(2, 600, 1200)]
    assert (shop.stock("TEE-SAND-M"), shop.is_whole()) == ((8000, 2600), True)


def test_a_count_that_differs_no_more_is_told(shop: EventShop) -> None:
    """The missing receipt explains the two pieces too many; the count finds no difference any more."""
    shop.post(OPENING, "01-15,count,TEE-SAND-M,12")
    posted = shop.post("01-12,receive,TEE-SAND-M,2,8.00")
    assert [(one.document, one.before, one.after) for one in posted.changes] == [(2, -600, 0)]


def test_a_count_that_begins_to_differ_is_told(shop: EventShop) -> None:
    """It was right until two more were entered."""
    shop.post(OPENING, "01-15,count,TEE-SAND-M,10")
    posted = shop.post("01-12,receive,TEE-SAND-M,2,8.00")
    assert [(one.document, one.before, one.after) for one in posted.changes] == [(2, 0, 600)]


def test_sales_after_a_return_go_on_from_both_layers(shop: EventShop) -> None:
    """What came back lies before the rest of its lot; the next sale takes it first, whole or in part."""
    shop.post("01-05,receive,TEE-SAND-M,3,1.00", "01-06,sell,TEE-SAND-M,2", "01-07,take_back,TEE-SAND-M,1")
    shop.post("01-10,sell,TEE-SAND-M,2")
    # 67 cents for two, 33 of them back for the last of these; then those 33 and the third one's 33.
    assert (shop.costs("sale"), shop.costs("take back")) == ([67, 66], [-33])
    assert (shop.stock("TEE-SAND-M"), shop.is_whole()) == ((0, 0), True)


@pytest.mark.parametrize(
    "row",
    [
        "01-10,use,TEE-SAND-M,1",
        "01-10,receive,TEE-SAND-M,1,3.00",
        "01-10,make,FOX-SAND-M,1",
        "01-10,send_back,TEE-SAND-M,1,,,,,,1",
        "01-10,count,TEE-SAND-M,9",
        "01-10,write_down,TEE-SAND-M,,1.00",
    ],
)
def test_anything_may_follow_a_return(shop: EventShop, row: str) -> None:
    """An item with a returned layer on its shelf goes on like any other."""
    shop.post(
        "01-05,receive,TEE-SAND-M,10,31.00",
        "01-05,receive,FILM-A3,10,5.00",
        "01-05,receive,INK-CYAN,50,5.00",
        "01-06,sell,TEE-SAND-M,3",
        "01-07,take_back,TEE-SAND-M,2",
    )
    shop.post(row)
    assert shop.is_whole()


# --- bad input --------------------------------------------------------------------------------


def test_a_count_of_what_never_came_in_is_refused_with_its_row(shop: EventShop) -> None:
    """Nothing is known of its cost; both rows are told, and a count of none is nothing wrong."""
    said = shop.refused(
        "01-15,count,TEE-SAND-M,8",
        "01-15,count,FILM-A3,0",
        "01-15,count,INK-CYAN,8",
        "01-20,receive,INK-CYAN,9,1",
    )
    assert [problem.partition(" ever")[0] for problem in said] == [
        "row 2: nothing of TEE-SAND-M",
        "row 4: nothing of INK-CYAN",
    ]


def test_a_count_of_what_comes_in_with_the_same_sheet_is_taken(shop: EventShop) -> None:
    """Received in the morning, counted at night."""
    shop.post("01-15,count,TEE-SAND-M,8", "01-15,receive,TEE-SAND-M,10,30.00")
    assert shop.stock("TEE-SAND-M") == (8000, 2400)


def test_more_taken_back_than_sold_is_refused(shop: EventShop) -> None:
    """Two sold, one back already: two more cannot come back."""
    shop.post(OPENING, "01-10,sell,TEE-SAND-M,2", "01-11,take_back,TEE-SAND-M,1")
    said = shop.refused("01-12,take_back,TEE-SAND-M,2")
    assert [problem.partition(". ")[0] for problem in said] == [
        "row 2: 2 of TEE-SAND-M come back, but only 1 are still out"
    ]


def test_opening_stock_is_of_the_first_day(shop: EventShop) -> None:
    """Later it would be a receipt without a supplier."""
    said = shop.refused("01-02,opening,TEE-SAND-M,1,3.00")
    assert said[0].startswith("row 2: opening stock is what the shop had on 2026-01-01")


def test_a_party_not_yet_known_is_added(shop: EventShop) -> None:
    """Written differently the second time, it stays one."""
    shop.post(OPENING, "01-10,sell,TEE-SAND-M,1,,,,Corner Cafe", "01-11,sell,TEE-SAND-M,1,,,,CORNER CAFE")
    assert shop.book.rows("SELECT name FROM party") == [("Corner Cafe",)]


def job(day: str, component: Item, product: Item, *, short: bool = False) -> Entry:
    """A job of one piece of one component, as a bill that was amended since would make it."""
    lines = (
        EntryLine(item=component, role="component", quantity_milli=1000, short_allowed=short),
        EntryLine(item=product, role="product", quantity_milli=1000),
    )
    return Entry(event="make", on=date.fromisoformat(f"2026-{day}"), lines=lines, where=f"job of {day}")


def test_a_lot_that_would_become_its_own_ancestor_is_refused(shop: EventShop) -> None:
    """A shirt is printed before it is there, then stripped to the very shirt it was printed on."""
    shop.post(OPENING, "01-02,sell,TEE-SAND-M,10")
    items = find_items(shop.book.connection)
    shirt, printed = items["TEE-SAND-M"], items["TEE-PLUM-L"]
    entries = Entries((job("01-10", shirt, printed, short=True), job("01-20", printed, shirt)))
    before = shop.facts()
    with pytest.raises(BlankbookError, match="would supply a job that it was itself made from"):
        post_entries(shop.book.connection, entries, today=TODAY, now=NOW, source="two jobs")
    assert (shop.facts(), shop.is_whole()) == (before, True)


def test_jobs_in_a_circle_without_shorts_go_on_from_what_is_there(shop: EventShop) -> None:
    """Printed and stripped again, in one posting behind everything: each lot comes from the one before."""
    shop.post(OPENING, "01-01,opening,TEE-PLUM-L,1,9.00")
    items = find_items(shop.book.connection)
    shirt, printed = items["TEE-SAND-M"], items["TEE-PLUM-L"]
    entries = Entries((job("01-10", shirt, printed), job("01-20", printed, shirt)))
    post_entries(shop.book.connection, entries, today=TODAY, now=NOW, source="two jobs")
    assert (shop.stock("TEE-SAND-M"), shop.stock("TEE-PLUM-L"), shop.is_whole()) == (
        (10_000, 3600),
        (1000, 300),
        True,
    )

"""Selling a finished item that is not in stock makes it that day."""

from __future__ import annotations

import pytest
from book_builder import Book
from event_shop import EventShop, event_shop

from ledger.book.made_to_order import Availability

MATERIAL = (
    "01-01,opening,TEE-SAND-M,20,60.00",
    "01-01,opening,FILM-A3,50,25.00",
    "01-01,opening,INK-CYAN,200,10.00",
)
"""A shirt 3.00, a sheet 0.50, five millilitres a run 0.25."""


@pytest.fixture
def shop(book: Book) -> EventShop:
    """A book with material in it, and a bill."""
    shop = event_shop(book)
    shop.post(*MATERIAL)
    return shop


def made(shop: EventShop) -> list[tuple[str, float]]:
    """The day and pieces of every job."""
    return [
        (str(day), int(str(quantity)) / 1000)
        for day, quantity in shop.book.rows(
            "SELECT d.effect_date, l.quantity_milli FROM document AS d JOIN document_line AS l "
            "ON l.document = d.number AND l.role = 'product' ORDER BY d.number"
        )
    ]


def test_what_is_not_there_is_made_for_the_sale(shop: EventShop) -> None:
    """Two shirts, two sheets, one run: 7.25, and nothing stays on the shelf."""
    posted = shop.post("01-10,sell,FOX-SAND-M,2,44.00,,,,A-1")
    assert [(one.event, one.reference, one.note) for one in posted.documents] == [
        ("make", "A-1", "made to order"),
        ("sale", "A-1", ""),
    ]
    assert (shop.costs("sale"), shop.stock("FOX-SAND-M"), shop.is_whole()) == ([725], (0, 0), True)


def test_only_what_is_missing_is_made(shop: EventShop) -> None:
    """One on the shelf, three sold: a job of two."""
    shop.post("01-05,make,FOX-SAND-M,1")
    shop.post("01-10,sell,FOX-SAND-M,3")
    assert (made(shop), shop.costs("sale"), shop.is_whole()) == (
        [("2026-01-05", 1), ("2026-01-10", 2)],
        [375 + 725],
        True,
    )


def test_what_is_there_is_sold_without_a_job(shop: EventShop) -> None:
    """Made for stock, sold from stock."""
    shop.post("01-05,make,FOX-SAND-M,3")
    posted = shop.post("01-10,sell,FOX-SAND-M,3")
    assert [one.event for one in posted.documents] == ["sale"]


def test_what_is_made_in_the_same_sheet_is_there(shop: EventShop) -> None:
    """The job stands below the sale in the sheet, on the same day."""
    posted = shop.post("01-10,sell,FOX-SAND-M,3", "01-10,make,FOX-SAND-M,3")
    assert [one.event for one in posted.documents] == ["make", "sale"]


def test_two_sales_of_one_sheet_share_what_is_there(shop: EventShop) -> None:
    """Two on the shelf: the first takes them, the second has its two made."""
    shop.post("01-05,make,FOX-SAND-M,2")
    shop.post("01-10,sell,FOX-SAND-M,2,,,,,A-1", "01-11,sell,FOX-SAND-M,2,,,,,A-2")
    assert made(shop) == [("2026-01-05", 2), ("2026-01-11", 2)]


def test_a_sale_entered_late_makes_what_later_sales_took(shop: EventShop) -> None:
    """What was on the shelf on the 10th was sold on the 20th: the sale of the 10th has its own made."""
    shop.post("01-05,make,FOX-SAND-M,2", "01-20,sell,FOX-SAND-M,2,44.00")
    shop.post("01-10,sell,FOX-SAND-M,1,22.00")
    # The older piece leaves first; the new one waits for the later sale, whose cost moves.
    assert (made(shop), shop.stock("FOX-SAND-M"), shop.is_whole()) == (
        [("2026-01-05", 2), ("2026-01-10", 1)],
        (0, 0),
        True,
    )
    assert sorted(shop.costs("sale")) == [363, 362 + 375]


def test_a_sale_entered_late_takes_what_nobody_took(shop: EventShop) -> None:
    """Three made, one sold later: two are free on the 10th."""
    shop.post("01-05,make,FOX-SAND-M,3", "01-20,sell,FOX-SAND-M,1,22.00")
    shop.post("01-10,sell,FOX-SAND-M,2,44.00")
    assert (made(shop), shop.is_whole()) == ([("2026-01-05", 3)], True)


def test_what_comes_later_is_not_there_yet(shop: EventShop) -> None:
    """A job of the 20th does not serve the sale of the 10th."""
    shop.post("01-20,make,FOX-SAND-M,3")
    shop.post("01-10,sell,FOX-SAND-M,2,44.00")
    assert (made(shop), shop.stock("FOX-SAND-M")[0]) == ([("2026-01-20", 3), ("2026-01-10", 2)], 3000)


def test_what_a_customer_brought_back_is_sold_again(shop: EventShop) -> None:
    """No new one is made for it."""
    shop.post("01-10,sell,FOX-SAND-M,1,22.00,,,,A-1", "01-12,take_back,FOX-SAND-M,1,,,,,A-1")
    posted = shop.post("01-15,sell,FOX-SAND-M,1,22.00,,,,A-2")
    assert ([one.event for one in posted.documents], shop.is_whole()) == (["sale"], True)


def test_two_orders_of_one_day_without_numbers_are_both_made(shop: EventShop) -> None:
    """The same job twice; what tells the sales apart is what was paid."""
    shop.post("01-10,sell,FOX-SAND-M,1,22.00")
    shop.post("01-10,sell,FOX-SAND-M,1,20.00")
    assert (made(shop), shop.is_whole()) == ([("2026-01-10", 1), ("2026-01-10", 1)], True)


def test_the_same_order_twice_is_refused_and_makes_nothing(shop: EventShop) -> None:
    """The sale is the same, so its job is not made again."""
    shop.post("01-10,sell,FOX-SAND-M,1,22.00,,,,A-1")
    assert len(shop.refused("01-10,sell,FOX-SAND-M,1,22.00,,,,A-1")) == 1


def test_material_that_is_missing_is_told_with_the_row_of_the_sale(shop: EventShop) -> None:
    """Twenty shirts are there, thirty are ordered."""
    said = shop.refused("01-10,sell,FOX-SAND-M,30")
    assert [problem.partition(",")[0] for problem in said] == [
        "row 2: TEE-SAND-M: this row takes 30 on 2026-01-10"
    ]


def test_material_may_go_short_with_leave(shop: EventShop) -> None:
    """The job's shirts are at the latest known cost until their receipt is entered."""
    shop.post("01-10,sell,FOX-SAND-M,30", short=True)
    before = shop.costs("sale")
    posted = shop.post("01-20,receive,TEE-SAND-M,10,40.00")
    after = shop.costs("sale")
    # Ten shirts at 4.00 and not 3.00.
    assert after[0] - before[0] == 1000
    assert {(one.document, one.sku) for one in posted.changes} == {
        (4, "TEE-SAND-M"),
        (4, "FOX-SAND-M"),
        (5, "FOX-SAND-M"),
    }
    assert shop.is_whole()


def test_an_item_without_a_bill_is_not_made(shop: EventShop) -> None:
    """A plain shirt that is not there is missing."""
    assert len(shop.refused("01-10,sell,TEE-PLUM-L,1")) == 1


def test_a_size_that_the_blank_lacks_is_refused(shop: EventShop) -> None:
    """No bill makes it, and the nearest that one makes is named."""
    said = shop.refused("01-10,sell,FOX-SAND-XXL,1", "01-10,make,FOX-SAND-XL,1")
    assert ["FOX-SAND-" in problem.partition("Did you mean")[2] for problem in said] == [True, True]


@pytest.mark.parametrize(
    ("moves", "day", "free"),
    [
        ([("01-05", 3)], "01-04", 0),
        ([("01-05", 3)], "01-05", 3),
        ([("01-05", 3), ("01-20", -2)], "01-10", 1),
        ([("01-05", 3), ("01-20", -2), ("01-25", 9)], "01-10", 1),
        ([("01-05", 3), ("01-20", -2), ("01-25", 9)], "01-25", 10),
        ([("01-05", 3), ("01-20", -5)], "01-10", 0),
        ([("01-20", 3)], "01-10", 0),
        ([], "01-10", 0),
    ],
)
def test_free_is_the_least_from_a_day_on(
    book: Book, moves: list[tuple[str, int]], day: str, free: int
) -> None:
    """What may leave on a day without taking it from anything later."""
    available = Availability(book.connection)
    for on, quantity in moves:
        available.move("TEE-SAND-M", f"2026-{on}", quantity)
    assert available.free("TEE-SAND-M", f"2026-{day}") == free

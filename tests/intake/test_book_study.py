"""The study a book gives: lead times as offers state or enough own orders took, and what is assumed."""

from __future__ import annotations

import tomllib
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from book_builder import ITEMS, NOW, TODAY, Book, copy_in_memory, line, make_book
from orders_builder import MILL, SAND, Buyer
from study_texts import study_of

from ledger.book.buying import Day, find_goods, find_market
from ledger.book.connect import write_tx
from ledger.book.quote_store import save_offers
from ledger.book.shop import read_shop
from ledger.intake.book_study import ASSUMPTIONS, BookStudy, book_study
from ledger.sourcing.offers import Offer, OfferRow

QUOTED = {"currency": "USD", "lead_days": "60", "lead_spread": "9", "terms": "shipping point"}


@pytest.fixture
def book(tmp_path: Path) -> Book:
    """A shop that sells sand tees and has one offer of them."""
    path = tmp_path / "shop.blankbook"
    make_book(path)
    book = Book(path, copy_in_memory(path))
    book.receive(line(SAND, 100), on="01-02")
    book.leave("sale", (SAND, 5), on="01-03")
    with write_tx(book.connection):
        save_offers(
            book.connection, [Offer(MILL, "tees", QUOTED, (OfferRow(sku=SAND, prices="1 = 3.00"),))], NOW
        )
    return book


def study(book: Book) -> BookStudy:
    """The study of the sand tee."""
    shop = read_shop(book.connection)
    goods = find_goods(book.connection, SAND)
    market = find_market(book.connection, shop, goods, Day(TODAY, TODAY), lambda _: Fraction(1))
    return book_study(book.connection, shop, market, TODAY)


def lead_time(book: Book) -> dict[str, Any]:
    """The lead time that the study has of the one offer."""
    (offer,) = tomllib.loads(study(book).text)["offer"]
    found: dict[str, Any] = offer["lead_time"]
    return found


def ordered(book: Book, on: str, arrived: str) -> None:
    """Order ten tees and receive them."""
    buyer = Buyer(book)
    number = buyer.order((SAND, 10, 3000), on=on)
    buyer.ship(number, on=on)
    buyer.arrive(number, on=arrived)


def test_the_quotes_days_hold_while_nothing_was_ordered(book: Book) -> None:
    """Mean and spread as the offer states."""
    assert lead_time(book) == {"mean_days": 60, "sd_days": 9}


def test_one_own_order_is_too_few_and_is_told(book: Book) -> None:
    """The offer states sixty days; the order took twenty."""
    ordered(book, "01-05", "01-25")
    assert lead_time(book) == {"mean_days": 60, "sd_days": 9}
    assert "# as the offer states (1 order of your own took 20; 3 would count)" in study(book).text


def test_an_offer_that_leaves_its_days_to_own_orders_has_them_from_the_first_on(book: Book) -> None:
    """Twenty days; how much they vary is as the offer states."""
    own = {**QUOTED, "lead_days": "own orders"}
    with write_tx(book.connection):
        save_offers(
            book.connection, [Offer(MILL, "tees", own, (OfferRow(sku=SAND, prices="1 = 3.00"),))], NOW
        )
    ordered(book, "01-05", "01-25")
    assert lead_time(book) == {"mean_days": 20, "sd_days": 9}
    assert "# from 1 order of your own, spread as the offer states" in study(book).text


def test_three_own_orders_are_the_lead_time(book: Book) -> None:
    """What they took, one by one."""
    for on, arrived in (("01-05", "01-25"), ("01-10", "02-09"), ("02-01", "02-26")):
        ordered(book, on, arrived)
    assert lead_time(book) == {"samples": [20, 30, 25]}
    assert study(book).lead_words == {f"{MILL}, tees": "from 3 orders of your own"}


def test_closures_are_in_what_own_orders_took(book: Book) -> None:
    """They stand in the study beside days that are stated, and not beside those of own orders."""
    closed = {**QUOTED, "closures": "2027-01-25 to 2027-02-22"}
    with write_tx(book.connection):
        save_offers(
            book.connection, [Offer(MILL, "tees", closed, (OfferRow(sku=SAND, prices="1 = 3.00"),))], NOW
        )
    assert "closures = " in study(book).text
    for on, arrived in (("01-05", "01-25"), ("01-10", "02-09"), ("02-01", "02-26")):
        ordered(book, on, arrived)
    assert "closures = " not in study(book).text


def test_what_nobody_said_is_marked_as_assumed(book: Book) -> None:
    """Each assumption stands in the study with its value and what it means."""
    text = study(book).text
    for each in ASSUMPTIONS:
        assert f"{each.key} = {each.value}   # assumed: {each.meaning}" in text


def test_what_is_coming_is_counted_as_there(book: Book) -> None:
    """And it is said."""
    Buyer(book).order((SAND, 40, 9000), on="01-05")
    found = study(book)
    assert tomllib.loads(found.text)["demand"]["on_hand"] == 95 + 40
    assert any(text.startswith("40 on their way") for text in found.remarks)


def test_goods_not_counted_in_pieces_say_their_unit(book: Book) -> None:
    """Ink is asked for by the millilitre."""
    ink = next(item for item in ITEMS if item.base_unit == "mL")
    shop = read_shop(book.connection)
    goods = find_goods(book.connection, ink.sku)
    market = find_market(book.connection, shop, goods, Day(TODAY, TODAY), lambda _: Fraction(1))
    assert tomllib.loads(book_study(book.connection, shop, market, TODAY).text)["unit"] == "mL"


def test_an_offer_without_a_lead_time_is_not_called_quoted(book: Book) -> None:
    """The study has a line to fill in, and says what it takes meanwhile."""
    silent = {key: value for key, value in QUOTED.items() if not key.startswith("lead")}
    with write_tx(book.connection):
        save_offers(
            book.connection, [Offer(MILL, "tees", silent, (OfferRow(sku=SAND, prices="1 = 3.00"),))], NOW
        )
    text = study(book).text
    assert "as the offer states" not in text
    assert "lead_time" not in tomllib.loads(text)["offer"][0]
    assert any("says no lead time" in each for each in study_of(text, "it", TODAY).remarks)


def test_days_outside_the_records_stand_apart(book: Book) -> None:
    """The records end on 3 January: 28 of 31 days say nothing, and none of the others was without stock."""
    demand = tomllib.loads(study(book).text)["demand"]
    assert demand["days_outside"] == [27.5]
    # There was no sand tee on the first of January.
    assert demand["days_out_of_stock"] == [1]

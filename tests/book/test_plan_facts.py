"""What a plan reads from a book: use, stock by lot, what comes, last purchases, lead times."""

from __future__ import annotations

import datetime
from fractions import Fraction

import pytest
from book_builder import ITEMS, TODAY, Book, day, line
from orders_builder import Buyer

from ledger.book.plan_facts import Asking, PlanFacts, plan_facts
from ledger.book.shop import read_shop
from ledger.errors import RateUnknown
from ledger.sourcing.what_to_order import Batch, Stocked

SAND, PLUM, INK, TAPE, HOOD = (ITEMS[place].sku for place in (0, 1, 2, 4, 5))


def rate_of(currency: str) -> Fraction:
    """Dollars for dollars; nobody knows any other rate."""
    if currency != "USD":
        raise RateUnknown(f"{currency} is not known.")
    return Fraction(1)


def facts(book: Book, today: datetime.date = TODAY) -> PlanFacts:
    """The facts of a plan for a day."""
    return plan_facts(book.connection, read_shop(book.connection), Asking(today, 7.0, rate_of))


def stock_of(found: PlanFacts, sku: str) -> Stocked:
    """One item, used or not."""
    every = [*(wish.item for wish in found.wishes), *found.unused]
    return next(item for item in every if item.sku == sku)


def test_use_is_counted_by_the_days_on_which_some_left(book: Book) -> None:
    """Two sales of one day are one time of use; spoiled pieces are none."""
    book.receive(line(SAND, 100), on="01-01")
    book.leave("sale", (SAND, 2), on="01-10")
    book.leave("use", (SAND, 4), on="01-10")
    book.leave("sale", (SAND, 2), on="01-20")
    book.leave("spoil", (SAND, 5), on="01-31")
    found = stock_of(facts(book), SAND).use
    assert (found.times, found.left_milli, found.days) == (2, 8000, 31)
    assert found.sd_milli == pytest.approx(2828.427, abs=0.001)


def test_days_without_stock_are_no_days_without_demand(book: Book) -> None:
    """Sold out on the tenth, so the days after it do not count."""
    book.receive(line(SAND, 10), line(PLUM, 90), on="01-01")
    book.leave("sale", (SAND, 10), on="01-10")
    book.leave("sale", (PLUM, 1), on="01-31")
    assert stock_of(facts(book), SAND).use.days == 10


def test_an_order_placed_today_says_nothing_of_the_days_before(book: Book) -> None:
    """The history ends with what was entered last, not with the order."""
    book.receive(line(SAND, 100), on="01-01")
    book.leave("sale", (SAND, 2), on="01-10")
    Buyer(book).order((SAND, 5, 1000), on="03-30")
    found = facts(book)
    assert (found.first_month, found.through) == ("2026-01", "2026-01-10")
    assert stock_of(found, SAND).use.days == 10


def test_lots_come_with_their_dates(book: Book) -> None:
    """What is left of each lot, and the last day it can be used: as told, else by the shelf life of a year."""
    book.receive(line(INK, 500, expires_on=day("04-10")), on="01-01")
    book.receive(line(INK, 300), on="01-02")
    book.leave("use", (INK, 100), on="01-10")
    batches = stock_of(facts(book), INK).batches
    assert set(batches) == {Batch(400_000, day("04-10")), Batch(300_000, datetime.date(2027, 1, 2))}


def test_what_is_ordered_comes_on_the_day_that_was_told(book: Book) -> None:
    """With the order's number; a day that has passed is any time now."""
    book.receive(line(SAND, 10), on="01-01")
    book.leave("sale", (SAND, 2), on="01-10")
    buyer = Buyer(book)
    told = buyer.order((SAND, 50, 1000), on="03-01", days={"arrives": day("04-15")})
    late = buyer.order((SAND, 20, 1000), on="02-01", days={"arrives": day("03-15")})
    unknown = buyer.order((SAND, 7, 1000), on="03-02")
    coming = {each.order: (each.quantity_milli, each.on) for each in stock_of(facts(book), SAND).coming}
    assert coming == {
        told: (50_000, day("04-15")),
        late: (20_000, TODAY),
        unknown: (7_000, None),
    }


def test_what_has_arrived_comes_no_more_and_teaches_the_lead_time(book: Book) -> None:
    """An order of the fifth that arrived on the tenth of the next month took 36 days."""
    buyer = Buyer(book)
    number = buyer.order((SAND, 100, 22000))
    buyer.ship(number)
    buyer.arrive(number)
    book.leave("sale", (SAND, 2), on="03-10")
    found = facts(book)
    assert stock_of(found, SAND).coming == ()
    (way,) = found.wishes[0].ways
    assert (way.lead.samples, way.lead_words) == ((36.0,), "1 own order")


def test_without_an_offer_it_is_bought_as_last_time(book: Book) -> None:
    """The latest supplier, its price, the day it was paid."""
    book.receive(line(SAND, 10, 1000), on="01-01", party="Old Mill")
    book.receive(line(SAND, 20, 3000), on="01-05", party="New Mill")
    book.leave("sale", (SAND, 2), on="01-10")
    (way,) = facts(book).wishes[0].ways
    assert (way.supplier, way.paid_on, way.unit_price_minor()) == ("New Mill", "2026-01-05", 150.0)
    assert way.lead_words == "assumed"


def test_a_last_purchase_in_a_currency_of_unknown_rate_is_left_out_with_the_reason(book: Book) -> None:
    """No rate, no figure: said, not guessed."""
    book.receive(
        line(SAND, 10, 1000), on="01-01", party="Far Mill", currency="CNY", rate="0.14", rate_source="x"
    )
    book.leave("sale", (SAND, 2), on="01-10")
    found = facts(book)
    assert found.wishes[0].ways == ()
    assert "CNY is not known." in found.offers_out["Far Mill"]


def test_what_is_not_ordered_by_use_is_told_apart(book: Book) -> None:
    """A customer's goods are left out, supplies when bought are not counted, the rest was never used."""
    book.receive(line(SAND, 10), on="01-01")
    found = facts(book)
    assert (found.wishes, found.not_counted, found.first_month) == ((), (TAPE,), "")
    assert HOOD not in {item.sku for item in found.unused}


def test_what_is_overdue_says_when_it_was_due(book: Book) -> None:
    """It counts as coming today, and the day that has passed is kept."""
    book.receive(line(SAND, 10), on="01-01")
    book.leave("sale", (SAND, 2), on="01-10")
    Buyer(book).order((SAND, 20, 1000), on="02-01", days={"arrives": day("03-15")})
    (coming,) = stock_of(facts(book), SAND).coming
    assert (coming.on, coming.was_due) == (TODAY, day("03-15"))


def test_an_item_knows_when_it_was_used_last_and_when_it_was_used_up(book: Book) -> None:
    """Used on the tenth, the last spoiled on the twentieth; one of which there is some was not used up."""
    book.receive(line(SAND, 10), line(PLUM, 10), on="01-01")
    book.leave("sale", (SAND, 4), on="01-10")
    book.leave("sale", (PLUM, 4), on="01-11")
    book.leave("spoil", (SAND, 6), on="01-20")
    found = facts(book)
    assert (stock_of(found, SAND).last_used_on, stock_of(found, SAND).emptied_on) == (
        day("01-10"),
        day("01-20"),
    )
    assert (stock_of(found, PLUM).last_used_on, stock_of(found, PLUM).emptied_on) == (day("01-11"), None)


def test_an_empty_book_has_facts(book: Book) -> None:
    """Nothing anywhere, and no figure that is none."""
    found = facts(book)
    assert (found.wishes, found.through) == ((), "")
    assert all(item.use.per_day == 0 for item in found.unused)

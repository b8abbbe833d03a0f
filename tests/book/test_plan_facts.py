"""What a plan reads from a book: use, stock by lot, what comes, last purchases, lead times."""

from __future__ import annotations

import datetime
from fractions import Fraction

import pytest
from book_builder import ITEMS, NOW, TODAY, Book, day, line
from decision_builder import kept
from orders_builder import MILL, Buyer

from ledger.book.connect import write_tx
from ledger.book.decision_store import tell_order
from ledger.book.plan_facts import (
    LAST_BOUGHT,
    LAST_LEFT,
    LAST_TERMS,
    USED_BY_DAY,
    Asking,
    PlanFacts,
    plan_facts,
)
from ledger.book.quote_store import save_offers
from ledger.book.shop import read_shop
from ledger.errors import RateUnknown
from ledger.sourcing.offers import Offer, OfferRow
from ledger.sourcing.ways_to_buy import Way
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
    assert (way.lead.samples, way.lead_words) == ((36.0,), "from 1 order of your own")


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


def offered(book: Book, sku: str = SAND, supplier: str = MILL, **head: str) -> None:
    """Have a supplier offer an item at 2.00, from within the country unless told otherwise."""
    with write_tx(book.connection):
        row = OfferRow(sku=sku, prices="1 = 2")
        save_offers(book.connection, [Offer(supplier, head.pop("offer", sku), head, (row,))], NOW)


def came(book: Book, *, days: tuple[int, ...]) -> None:
    """Have one order after the other arrive, each so many days after it was placed."""
    buyer = Buyer(book)
    for taken in days:
        number = buyer.order((SAND, 10, 2000), on="01-01", reference=f"SA-{taken}")
        buyer.ship(number, on="01-02")
        there = day("01-01") + datetime.timedelta(days=taken)
        buyer.arrive(number, on=f"{there:%m-%d}")


def way_of(found: PlanFacts, sku: str = SAND) -> Way:
    """The only way to buy an item."""
    (way,) = next(wish for wish in found.wishes if wish.item.sku == sku).ways
    return way


@pytest.mark.parametrize(
    ("days", "told", "mean", "words"),
    [
        (
            (10, 20),
            "30",
            30.0,
            "as the offer states (2 orders of your own took 15 on average; 3 would count)",
        ),
        ((10, 20, 24), "30", 18.0, "from 3 orders of your own"),
        ((10, 20), "", 15.0, "from 2 orders of your own"),
    ],
)
def test_three_own_orders_go_before_a_quoted_lead_time(
    book: Book, days: tuple[int, ...], told: str, mean: float, words: str
) -> None:
    """Fewer only where none is quoted."""
    came(book, days=days)
    book.leave("sale", (SAND, 2), on="02-10")
    offered(book, **({"lead_days": told} if told else {}))
    way = way_of(facts(book))
    assert (way.lead.mean_days, way.lead_words) == (mean, words)


def test_an_order_without_a_day_is_expected_after_the_suppliers_own_mean(book: Book) -> None:
    """Two orders took 40 and 45 days, so another is there on the 43rd day after it was placed."""
    came(book, days=(40, 45))
    book.leave("sale", (SAND, 2), on="02-20")
    Buyer(book).order((SAND, 50, 1000), on="03-01")
    (coming,) = stock_of(facts(book), SAND).coming
    assert coming.on == day("03-01") + datetime.timedelta(days=43)


def test_a_last_purchase_goes_by_what_its_supplier_offers_of_other_goods(book: Book) -> None:
    """Freight, terms and lead time hold for these too; the price is that which was paid."""
    book.receive(line(SAND, 10, 1500), on="01-01", party=MILL)
    book.leave("sale", (SAND, 2), on="01-10")
    offered(book, PLUM, terms="shipping point", freight_per_order="14", lead_days="9")
    way = way_of(facts(book))
    assert (way.quote.terms, way.quote.freight.per_order_minor, way.lead.mean_days) == (
        "shipping point",
        1400,
        9,
    )
    assert way.unit_price_minor() == 150


def test_a_last_purchase_without_any_offer_has_the_terms_of_the_last_order(book: Book) -> None:
    """Of the same supplier."""
    buyer = Buyer(book)
    buyer.order((SAND, 5, 1000), on="01-02", terms="EXW")
    buyer.order((SAND, 5, 1000), on="01-03", terms="DAP")
    buyer.order((SAND, 5, 1000), on="01-04", terms="FCA", party="Other Mill")
    book.receive(line(SAND, 10, 1500), on="01-05", party=MILL)
    book.leave("sale", (SAND, 2), on="01-10")
    assert way_of(facts(book)).quote.terms == "DAP"


def test_what_was_paid_says_nothing_where_its_supplier_offers_it_today(book: Book) -> None:
    """Another supplier's offer stands beside it."""
    book.receive(line(SAND, 10, 1500), on="01-01", party=MILL)
    book.leave("sale", (SAND, 2), on="01-10")
    offered(book, supplier="Other Mill")
    assert [way.paid_on for way in facts(book).wishes[0].ways] == ["", "2026-01-01"]
    offered(book)
    assert [way.paid_on for way in facts(book).wishes[0].ways] == ["", ""]


def test_packs_of_mixed_sizes_are_left_out_with_the_reason(book: Book) -> None:
    """A single item cannot be ordered so; the supplier it was bought from before still sells it singly."""
    book.receive(line(SAND, 10), on="01-01", party="Old Mill")
    book.leave("sale", (SAND, 2), on="01-10")
    offered(book, prepack="M = 1; L = 2")
    found = facts(book)
    assert "packs of mixed sizes" in found.offers_out[f"{MILL}, {SAND}"]
    assert [(way.supplier, way.paid_on) for way in found.wishes[0].ways] == [("Old Mill", "2026-01-01")]


def test_what_its_supplier_now_sells_in_mixed_packs_only_is_not_planned_as_it_was_bought(book: Book) -> None:
    """The price once paid for single pieces is offered no more: the reason names the packs and what to do."""
    book.receive(line(SAND, 10), on="01-01", party=MILL)
    book.leave("sale", (SAND, 2), on="01-10")
    offered(book, prepack="M = 1; L = 2")
    (wish,) = facts(book).wishes
    assert wish.ways == ()
    assert facts(book).in_packs == {SAND: wish.problem}
    assert wish.problem == (
        f"{MILL} sells it in packs of mixed sizes (M 1, L 2), and a plan orders sizes one by one: decide with "
        "'compare Alder --colour Sand'"
    )


def test_what_is_offered_from_afar_or_was_decided_on_is_named_for_a_comparison(book: Book) -> None:
    """By its style, or itself where it has none; a decision counts until an order is told of it."""
    offered(book, INK, supplier="Far Mill", origin="CN")
    assert facts(book).to_compare == {INK: INK}
    decision = kept(book)
    assert facts(book).to_compare == {INK: INK, SAND: "Alder", PLUM: "Alder"}
    order = Buyer(book).order(on="02-01")
    with write_tx(book.connection):
        tell_order(book.connection, decision.number, order, NOW)
    assert facts(book).to_compare == {INK: INK}


@pytest.mark.parametrize("query", [USED_BY_DAY, LAST_LEFT, LAST_BOUGHT, LAST_TERMS])
def test_what_is_asked_of_each_item_reads_no_document_of_others(book: Book, query: str) -> None:
    """Neither all legs nor all documents are looked through for one item or supplier."""
    plan = [str(row[3]) for row in book.rows(f"EXPLAIN QUERY PLAN {query}", *["x"] * query.count("?"))]
    assert not any(step.startswith(("SCAN d", "SCAN leg", "SCAN lot")) for step in plan)

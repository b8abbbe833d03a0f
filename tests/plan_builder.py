"""Items, offers and wishes of a plan, in few words."""

from __future__ import annotations

import datetime
from fractions import Fraction

from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.quote import Entry, Freight, OrderLine, OrderRules, PriceBreak, PriceGroup, Quote
from ledger.sourcing.reorder_points import Use
from ledger.sourcing.supplier_orders import OrdersPlan, PlannedLine, PlannedOrder, plan_orders
from ledger.sourcing.ways_to_buy import PlanTerms, Way, Wish
from ledger.sourcing.what_to_order import Batch, Coming, Stocked

TODAY = datetime.date(2026, 4, 2)
TERMS = PlanTerms(TODAY, "USD")


def after(days: int) -> datetime.date:
    """The day so many days after today."""
    return TODAY + datetime.timedelta(days=days)


def use(times: int = 90, size: int = 1, days: int = 90, sd: float = 0.0) -> Use:
    """So many times of use of so many pieces each, over some days."""
    return Use(days, times, times * size * 1000, sd * 1000)


def stocked(sku: str = "TEE", there: int = 30, **fields: object) -> Stocked:
    """An item with one lot that keeps, used once a day unless told otherwise."""
    given: dict[str, object] = {"use": use(), "batches": (Batch(there * 1000),) if there else ()}
    return Stocked(sku, sku, "blank", "each", **{**given, **fields})  # type: ignore[arg-type]


def coming(quantity: int, days: int | None, order: int = 7) -> Coming:
    """So many pieces of an order, expected in so many days."""
    return Coming(order, quantity * 1000, None if days is None else after(days))


def lead(days: float = 5, sd: float = 0.0, **fields: object) -> LeadTimes:
    """A lead time from today on."""
    return LeadTimes(days, sd, start=TODAY, **fields)  # type: ignore[arg-type]


def offer(
    supplier: str = "Mill Lane",
    price: str = "300",
    *,
    breaks: tuple[tuple[int, str], ...] = (),
    rules: OrderRules | None = None,
    freight: Freight | None = None,
    **fields: object,
) -> Quote:
    """An offer within the country at a price in cents, for whatever it is asked."""
    steps = tuple(PriceBreak(start, Fraction(cents)) for start, cents in ((1, price), *breaks))
    return Quote(
        supplier,
        supplier=supplier,
        prices=(PriceGroup(steps),),
        rules=rules or OrderRules(),
        freight=freight or Freight(),
        terms="shipping point",
        **fields,  # type: ignore[arg-type]
    )


def way(quote: Quote, sku: str = "TEE", lead_time: LeadTimes | None = None, colour: str = "") -> Way:
    """A way to buy an item under an offer."""
    return Way(quote, Entry(TODAY, today=TODAY), OrderLine(0, sku=sku, colour=colour), lead_time or lead())


def wish(item: Stocked, *quotes: Quote, lead_time: LeadTimes | None = None) -> Wish:
    """An item and the offers of it."""
    return Wish(item, tuple(way(each, item.sku, lead_time) for each in quotes))


def planned(*wishes: Wish, terms: PlanTerms = TERMS) -> OrdersPlan:
    """The plan for some items."""
    return plan_orders(wishes, terms)


def only(plan: OrdersPlan) -> PlannedOrder:
    """The single order of a plan."""
    (order,) = plan.orders
    return order


def line_of(order: PlannedOrder, sku: str) -> PlannedLine:
    """The line of an item."""
    return next(line for line in order.lines if line.chosen.item.sku == sku)

"""Studies and offers for the tests of the buying decision; everything in them is invented."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.sourcing.demand import Demand, stated_demand, with_sizes
from ledger.sourcing.duties import DutyLayer
from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.quote import DOMESTIC, Entry, Freight, OrderRules, PriceBreak, PriceGroup, Quote
from ledger.sourcing.study import Limits, MoneyTerms, Study, StudyOffer

TODAY = datetime.date(2026, 11, 24)
AT_ONCE = LeadTimes(0.0, start=TODAY)
ANY_QUANTITY = OrderRules()
FREE = (DutyLayer(Fraction(0), checked_on=TODAY),)


@dataclass(frozen=True)
class OfferShape:
    """An offer in a few numbers; money in minor units."""

    name: str
    breaks: tuple[tuple[int, float], ...]
    origin: str = DOMESTIC
    per_order: float = 0.0
    cost_per_order: float = 0.0
    lead: LeadTimes = AT_ONCE
    rules: OrderRules = ANY_QUANTITY


def offer(shape: OfferShape) -> StudyOffer:
    """The offer of a shape."""
    quote = Quote(
        name=shape.name,
        origin=shape.origin,
        prices=(PriceGroup(tuple(PriceBreak(start, Fraction(str(price))) for start, price in shape.breaks)),),
        rules=shape.rules,
        terms="FOB",
        freight=Freight(per_order_minor=Fraction(str(shape.per_order))),
        duty=FREE,
    )
    return StudyOffer(quote, Entry(on=TODAY, today=TODAY), shape.lead, shape.cost_per_order)


NEAR = OfferShape("near", ((1, 375.0),))
FAR = OfferShape("far", ((1, 220.0),), origin="VN", cost_per_order=40_000.0)


def study(
    demand: Demand | None = None,
    shapes: tuple[OfferShape, ...] = (NEAR, FAR),
    *,
    months: int = 12,
    money: MoneyTerms | None = None,
    limits: Limits | None = None,
) -> Study:
    """A study of these offers."""
    return Study(
        currency="USD",
        horizon_months=months,
        today=TODAY,
        demand=demand if demand is not None else with_sizes(stated_demand(60.0), {}),
        money=money if money is not None else MoneyTerms(capital_per_year=0.25),
        limits=limits if limits is not None else Limits(),
        offers=tuple(offer(shape) for shape in shapes),
    )


def scaled(shape: OfferShape, factor: float) -> OfferShape:
    """The same offer with all its money multiplied."""
    return replace(
        shape,
        breaks=tuple((start, price * factor) for start, price in shape.breaks),
        per_order=shape.per_order * factor,
        cost_per_order=shape.cost_per_order * factor,
    )

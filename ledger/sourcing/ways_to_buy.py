"""From whom each item can be had, and who is cheapest landed for what is wanted of goods offered together."""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from ledger.errors import ValueProblem
from ledger.exact.currencies import exponent
from ledger.sourcing.comparison import RANKED, contender, ranked
from ledger.sourcing.landed_estimate import GOODS, LandedEstimate, landed_estimate
from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.order_rules import Buyable
from ledger.sourcing.price_breaks import group_for
from ledger.sourcing.quote import Entry, OrderLine, OrderQuantities, Quote
from ledger.sourcing.what_to_order import Outlook, Stocked, outlook

DAYS_PER_YEAR = 365
LONGEST_COVER_DAYS = 365
"""No order brings more than a year's use, but for a single pack or a minimum; our own rule."""

ASSUMED = "assumed"
"""Where a lead time was taken from that nobody told."""


@dataclass(frozen=True)
class Way:
    """One way to buy an item: an offer, or as it was last bought.

    Attributes:
        quote: the offer with the content of its unit for this item; of a last purchase one made of its price.
        entry: the circumstances it is brought in under.
        line: one quoted unit of the item as a line of an order, with weight and class.
        lead: days from order to shelf, starting on the day of the plan.
        lead_words: where the lead time was taken from.
        unit: the pack or unit it is ordered in, as a command would name it; empty for the item's own unit.
        paid_on: the day it was last paid for, ISO 8601; empty where it is an offer.
        landed_minor: what a base unit costs landed, in the book's minor units; 0 where it is not worked out.
    """

    quote: Quote
    entry: Entry
    line: OrderLine
    lead: LeadTimes
    lead_words: str = ""
    unit: str = ""
    paid_on: str = ""
    landed_minor: float = 0.0

    @property
    def supplier(self) -> str:
        """Who sells it."""
        return self.quote.supplier or self.quote.name

    @cached_property
    def factor(self) -> float:
        """Base units in one quoted unit."""
        return float(self.quote.unit_factor)

    @property
    def key(self) -> tuple[object, ...]:
        """What goes into one order: offers of one supplier within a country whose freight is reckoned alike."""
        own = (self.supplier.casefold(), self.quote.currency, self.quote.terms, self.quote.origin)
        is_here = self.quote.is_domestic or self.quote.origin == self.entry.destination
        return (*own, self.quote.freight) if is_here else (*own, self.quote.name)

    def goods_factor(self) -> Fraction:
        """Return the book's minor units for one of the quote's."""
        places = exponent(self.entry.currency) - exponent(self.quote.currency)
        return self.entry.rate * Fraction(10) ** places

    def unit_price_minor(self) -> float:
        """Return what a base unit costs at the highest price of the offer, in the book's minor units."""
        return self._first_price

    @cached_property
    def _first_price(self) -> float:
        price = group_for(self.quote, self.line).breaks[0].price_minor
        return float(price * self.goods_factor() / self.quote.unit_factor)

    def value_minor(self) -> float:
        """Return what a base unit on the shelf is worth, above 0, in the book's minor units."""
        return max(self.landed_minor or self.unit_price_minor(), 1e-6)


@dataclass(frozen=True)
class PlanTerms:
    """What a plan assumes; money in the book's minor units.

    ``ahead_days`` is how soon an order must be due to be planned now.
    """

    today: datetime.date
    currency: str
    service_level: float = 0.95
    capital_per_year: float = 0.12
    order_cost_minor: int = 500
    line_cost_minor: int = 50
    ahead_days: int = 14


@dataclass(frozen=True)
class Wish:
    """An item that is used, and the ways to buy it; the first is the best.

    ``problem`` says why a way that there was could not be costed.
    """

    item: Stocked
    ways: tuple[Way, ...]
    problem: str = ""

    @property
    def per_year(self) -> float:
        """Base units used in a year."""
        return self.item.use.per_day * DAYS_PER_YEAR


@dataclass(frozen=True)
class Chosen:
    """An item, the way it is to be bought, and when; ``note`` says why not a cheaper way."""

    wish: Wish
    way: Way
    seen: Outlook
    note: str = ""

    @property
    def item(self) -> Stocked:
        """The item."""
        return self.wish.item


def ranked_wishes(wishes: Sequence[Wish], terms: PlanTerms) -> list[Wish]:
    """Return the wishes with their ways in order: the cheapest landed for what is wanted first.

    Items offered by the same suppliers in the same units are costed as one order of what each would be
    ordered at a time. An offer that forces much more than is wanted and costs more in all stands behind
    a last purchase, as one does that leaves a cost unquoted.
    """
    groups: dict[frozenset[tuple[str, Fraction]], list[Wish]] = {}
    for wish in wishes:
        key = frozenset((way.quote.name, way.quote.unit_factor) for way in wish.ways)
        groups.setdefault(key, []).append(wish)
    found: dict[str, Wish] = {}
    for group in groups.values():
        for wish in _ranked_group(group, terms):
            found[wish.item.sku] = wish
    return [found[wish.item.sku] for wish in wishes]


def _ranked_group(group: Sequence[Wish], terms: PlanTerms) -> list[Wish]:
    wanted = {wish.item.sku: _usual(wish, terms, len(group)) for wish in group}
    total = Fraction(sum(wanted.values())).limit_denominator(1000)
    contenders, costs, problem = [], dict[str, float](), ""
    for way in group[0].ways:
        lines = [_line(wish.ways[_place(wish, way)], wanted[wish.item.sku]) for wish in group]
        lines = _at_least(way.quote, lines)
        try:
            estimate = landed_estimate(way.quote, OrderQuantities(tuple(lines)), way.entry)
        except ValueProblem as error:
            problem = str(error)
            continue
        costs[way.quote.name] = _above_the_price(estimate)
        if not way.paid_on:
            buying = Buyable(estimate.quantity, estimate.quantity)
            contenders.append(contender(way.quote, estimate, buying))
    order = ranked(contenders, total or Fraction(1))
    first = [each.name for each in order if each.standing == RANKED]
    paid = [way.quote.name for way in group[0].ways if way.paid_on]
    rest = [each.name for each in order if each.standing != RANKED]
    names = [*first, *paid, *rest]
    return [replace(wish, ways=_sorted_ways(wish, names, costs), problem=problem) for wish in group]


def _sorted_ways(wish: Wish, names: Sequence[str], costs: Mapping[str, float]) -> tuple[Way, ...]:
    by_name = {way.quote.name: way for way in wish.ways}
    return tuple(
        replace(by_name[name], landed_minor=_landed(by_name[name], costs))
        for name in names
        if name in by_name and name in costs
    )


def _landed(way: Way, costs: Mapping[str, float]) -> float:
    """Return an item's landed cost: its own price, and what the offer's order costs beyond its goods."""
    return way.landed_minor or way.unit_price_minor() * costs[way.quote.name]


def _above_the_price(estimate: LandedEstimate) -> float:
    """Return what an order costs landed, as a multiple of what its goods do."""
    return estimate.total_minor / max(1, estimate.amount_minor(GOODS))


def _place(wish: Wish, way: Way) -> int:
    return next(place for place, each in enumerate(wish.ways) if each.quote.name == way.quote.name)


def _usual(wish: Wish, terms: PlanTerms, together: int) -> float:
    """Return how much of an item is ordered at a time where the cost of an order is shared, in base units."""
    value = min(way.value_minor() for way in wish.ways)
    fixed = terms.line_cost_minor + terms.order_cost_minor / together
    economic = math.sqrt(2 * wish.per_year * fixed / (terms.capital_per_year * value))
    return max(1e-3, min(economic, wish.item.use.per_day * LONGEST_COVER_DAYS))


def _line(way: Way, base: float) -> OrderLine:
    return replace(way.line, quantity=max(1, math.ceil(base / way.factor - 1e-9)))


def _at_least(quote: Quote, lines: Sequence[OrderLine]) -> list[OrderLine]:
    """Return the lines raised evenly until the offer takes them."""
    rules = quote.rules
    colours = len({line.colour for line in lines})
    least = max(1, rules.minimum, rules.minimum_per_colour * colours)
    total = sum(line.quantity for line in lines)
    step = max(1, rules.multiple)
    factor = Fraction(max(least, total), total)
    return [replace(line, quantity=math.ceil(line.quantity * factor / step) * step) for line in lines]


def choose(wish: Wish, terms: PlanTerms, without: frozenset[object] = frozenset()) -> Chosen | None:
    """Return the way to buy an item: the cheapest that is there in time, else the quickest.

    ``without`` are keys of orders that cannot be placed. None where no way is left.
    """
    ways = [way for way in wish.ways if way.key not in without]
    if not ways:
        return None
    first = ways[0]
    at_first = _outlook(wish, first, terms)
    if not at_first.is_late or len(ways) == 1:
        return Chosen(wish, first, at_first)
    seen = [(first, at_first), *((way, _outlook(wish, way, terms)) for way in ways[1:])]
    in_time = [pair for pair in seen if not pair[1].is_late]
    way, found = in_time[0] if in_time else min(seen, key=lambda pair: pair[1].lead_days)
    if way is first:
        return Chosen(wish, first, at_first)
    note = (
        f"{first.supplier} is cheaper landed, but takes about {at_first.lead_days:.0f} days: too long for "
        "what is there"
    )
    return Chosen(wish, way, found, note)


def _outlook(wish: Wish, way: Way, terms: PlanTerms) -> Outlook:
    return outlook(wish.item, way.lead, terms.service_level, terms.today)

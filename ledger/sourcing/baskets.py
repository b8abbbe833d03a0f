"""What an order of several lines at one supplier costs, and what it is worth to add to it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from heapq import heapify, heappop, heappush

from ledger.exact.money import grouped_money
from ledger.exact.rounding import round_fraction
from ledger.sourcing.freight import freight_cost
from ledger.sourcing.incoterms import buyer_pays
from ledger.sourcing.landed_estimate import FREIGHT, landed_estimate
from ledger.sourcing.price_breaks import group_for, line_costs, scope_of
from ledger.sourcing.quote import OrderLine, OrderQuantities, Quote
from ledger.sourcing.ways_to_buy import DAYS_PER_YEAR, LONGEST_COVER_DAYS, Chosen, PlanTerms

MOST_ADDED = 0.5
"""A lower price or free freight may add this part of an order's worth: more is a decision of its own."""

LEAST_GAIN = 0.02
"""And has to gain this part of what is added, after its time on the shelf: less is within the guesses."""

FEW_TIMES = 2
"""An item used less often goes into an order when it is due only: nobody knows that it will be used again."""


@dataclass(frozen=True)
class Candidate:
    """An item that may be in an order: the level on the day of the order and the point at which it is due."""

    chosen: Chosen
    level: float

    @property
    def sku(self) -> str:
        """The SKU."""
        return self.chosen.item.sku

    @property
    def quote(self) -> Quote:
        """The offer it is bought under."""
        return self.chosen.way.quote

    @property
    def step(self) -> int:
        """Quoted units by which its line goes up."""
        return max(1, self.quote.rules.multiple)

    def most_units(self) -> int:
        """Return the most quoted units that are used within a year and before they expire."""
        item, per_day = self.chosen.item, self.chosen.seen.per_day
        days = min(LONGEST_COVER_DAYS, item.shelf_life_days or LONGEST_COVER_DAYS)
        room = per_day * days - max(0.0, self.level)
        return max(0, math.floor(room / self.chosen.way.factor + 1e-9)) // self.step * self.step

    def days_until_due(self, units: int) -> float:
        """Return the days until it would have to be ordered again, with so many quoted units more."""
        above = self.level + units * self.chosen.way.factor - self.chosen.seen.reorder_at
        return max(0.0, above / self.chosen.seen.per_day)

    def shelf_minor(self, units: int, more: int, capital_per_year: float) -> float:
        """Return what ``more`` units cost on the shelf until they would have been ordered anyway."""
        days = self.days_until_due(units) + more * self.chosen.way.factor / 2 / self.chosen.seen.per_day
        value = more * self.chosen.way.factor * self.chosen.way.value_minor()
        return capital_per_year * value * days / DAYS_PER_YEAR

    def first_price_minor(self) -> float:
        """Return the price of one quoted unit at the offer's first, in the book's minor units."""
        return self.chosen.way.unit_price_minor() * self.chosen.way.factor

    def line(self, units: int) -> OrderLine:
        """Return the order line of so many units."""
        return replace(self.chosen.way.line, quantity=units)


@dataclass(frozen=True)
class Added:
    """What was added to an order, in quoted units by SKU, what for, and what that saves and costs.

    ``saving_minor``, ``shelf_minor`` and ``bill_minor``, which the bill is higher, are in the book's minor
    units; a minimum saves nothing.
    """

    more: Mapping[str, int]
    what_for: str
    saving_minor: float | None
    shelf_minor: float
    bill_minor: float


@dataclass(frozen=True)
class Beyond:
    """What would pay by the figures and asks for much more: what for, of which goods, how many quoted units."""

    what_for: str
    goods: str
    units: int


@dataclass(frozen=True)
class LineCost:
    """What a line comes to in minor units of its offer's currency, exactly."""

    sku: str
    amount_minor: Fraction


@dataclass(frozen=True)
class BasketCost:
    """What an order costs; the lines in the offers' currency, the rest in the book's minor units."""

    lines: tuple[LineCost, ...]
    goods_minor: int
    freight_minor: int
    landed_minor: int


class Basket:
    """An order being put together: candidates of one supplier, and how many units of each are in it."""

    def __init__(self, candidates: Sequence[Candidate], units: Mapping[str, int], terms: PlanTerms) -> None:
        self.candidates = {each.sku: each for each in candidates}
        self.units = {sku: count for sku, count in units.items() if count > 0}
        self.terms = terms
        self.added: list[Added] = []
        self.beyond: list[Beyond] = []

    def of_quotes(self) -> dict[str, list[Candidate]]:
        """Return the candidates in the order by the offer they are under."""
        found: dict[str, list[Candidate]] = {}
        for sku in self.units:
            found.setdefault(self.candidates[sku].quote.name, []).append(self.candidates[sku])
        return found

    def under(self, quote: Quote) -> list[Candidate]:
        """Return all candidates under an offer, in the order or not."""
        return [each for each in self.candidates.values() if each.quote.name == quote.name]

    def with_more(self, more: Mapping[str, int]) -> Basket:
        """Return the order with so many quoted units more, by SKU."""
        units = {sku: self.units.get(sku, 0) + count for sku, count in more.items()}
        return Basket(list(self.candidates.values()), {**self.units, **units}, self.terms)

    def lines(self, members: Iterable[Candidate]) -> tuple[OrderLine, ...]:
        """Return the order lines of some candidates that are in the order."""
        return tuple(each.line(self.units[each.sku]) for each in members if self.units.get(each.sku))

    def cost(self) -> BasketCost:
        """Return what the order costs; freight that several offers reckon alike counts once.

        Raises ValueProblem as ``landed_estimate`` does.
        """
        lines, goods, freight, landed = [], 0, 0, 0
        groups = self.of_quotes()
        for members in groups.values():
            quote, entry = members[0].quote, members[0].chosen.way.entry
            order = OrderQuantities(self.lines(members))
            estimate = landed_estimate(quote, order, entry)
            goods += estimate.amount_minor("goods")
            freight += estimate.amount_minor(FREIGHT)
            landed += estimate.total_minor
            lines += [
                LineCost(each.sku, amount)
                for each, amount in zip(members, line_costs(quote, order), strict=True)
            ]
        if len(groups) > 1:
            once = self.joint_freight()
            landed, freight = landed - freight + once, once
        return BasketCost(tuple(lines), goods, freight, landed)

    def goods_foreign(self) -> Fraction:
        """Return what all goods come to in the offers' currency, exactly."""
        return sum(
            (
                amount
                for members in self.of_quotes().values()
                for amount in line_costs(members[0].quote, OrderQuantities(self.lines(members)))
            ),
            Fraction(0),
        )

    def joint_freight(self) -> int:
        """Return the freight of the whole order, in the book's minor units."""
        members = [self.candidates[sku] for sku in self.units]
        way = members[0].chosen.way
        if not buyer_pays(way.quote.terms, is_foreign=False).freight:
            return 0
        order = OrderQuantities(self.lines(members))
        return round_fraction(freight_cost(way.quote, order, self.goods_foreign()) * way.goods_factor())

    def value_minor(self) -> float:
        """Return what the goods in the order come to at first prices, in the book's minor units."""
        return sum(self.candidates[sku].first_price_minor() * units for sku, units in self.units.items())


@dataclass(frozen=True)
class Addition:
    """What would be added to reach something: units by SKU, and what they cost on the shelf and to buy."""

    more: Mapping[str, int]
    shelf_minor: float
    value_minor: float

    @property
    def units(self) -> int:
        """All units together."""
        return sum(self.more.values())


def addition(
    basket: Basket, members: Sequence[Candidate], is_enough: Callable[[int, float], bool]
) -> Addition | None:
    """Return the steps to add until it is enough, those first that lie shortest on the shelf.

    ``is_enough`` is given the quoted units and the value added, at first prices in the book's minor units.
    None where nothing more is used within a year or before it expires. Our own rule: what is added would
    have been ordered anyway, only later, so it costs the time between on the shelf.
    """
    units = {each.sku: basket.units.get(each.sku, 0) for each in members}
    most = {each.sku: each.most_units() for each in members}
    waiting = [
        (each.days_until_due(units[each.sku]), each.sku)
        for each in members
        if units[each.sku] or each.chosen.item.use.times >= FEW_TIMES
    ]
    heapify(waiting)
    more: dict[str, int] = {}
    shelf = value = 0.0
    added = 0
    while not is_enough(added, value):
        if not waiting:
            return None
        _, sku = heappop(waiting)
        each = basket.candidates[sku]
        if units[sku] + each.step > most[sku]:
            continue
        shelf += each.shelf_minor(units[sku], each.step, basket.terms.capital_per_year)
        shelf += 0 if units[sku] else basket.terms.line_cost_minor
        value += each.step * each.first_price_minor()
        added += each.step
        units[sku] += each.step
        more[sku] = more.get(sku, 0) + each.step
        heappush(waiting, (each.days_until_due(units[sku]), sku))
    return Addition(more, shelf, value)


def take(basket: Basket, found: Addition, what_for: str, saving_minor: float | None = None) -> None:
    """Put an addition into the order, and keep what it is for and what the bill is higher by."""
    bill, filled = found.value_minor, basket.with_more(found.more)
    if saving_minor is not None:
        before, after = basket.cost(), filled.cost()
        bill = after.goods_minor + after.freight_minor - before.goods_minor - before.freight_minor
    basket.units = filled.units
    basket.added.append(Added(found.more, what_for, saving_minor, found.shelf_minor, bill))


def reach_minima(basket: Basket) -> list[str]:
    """Add what the offers' minima ask for; return in words those that cannot be reached."""
    unreached = []
    for members in list(basket.of_quotes().values()):
        quote = members[0].quote
        every = basket.under(quote)
        colours = sorted({each.chosen.way.line.colour for each in members})
        wanted = [
            (
                f"{quote.rules.minimum_per_colour} {colour}".strip(),
                quote.rules.minimum_per_colour,
                _of(every, colour),
            )
            for colour in colours
            if quote.rules.minimum_per_colour
        ]
        if quote.rules.minimum > 1:
            in_order = [each for each in every if each.chosen.way.line.colour in colours]
            wanted.append((str(quote.rules.minimum), quote.rules.minimum, in_order))
        for words, least, among in wanted:
            missing = least - _total(basket.units, [each.sku for each in among])
            found = addition(basket, among, lambda added, _, n=missing: added >= n)  # type: ignore[misc]
            if found is None:
                unreached.append(f"the minimum of {words} of {quote.name} is more than a year's use")
            elif found.units:
                take(basket, found, f"the minimum of {words}")
    return unreached


def _of(members: Sequence[Candidate], colour: str) -> list[Candidate]:
    return [each for each in members if each.chosen.way.line.colour == colour]


def _total(units: Mapping[str, int], skus: Sequence[str]) -> int:
    return sum(units.get(sku, 0) for sku in skus)


def reach_breaks(basket: Basket) -> None:
    """Add up to the next price break of each offer where it gains clearly more than the shelf time costs."""
    for members in list(basket.of_quotes().values()):
        quote = members[0].quote
        for scope in dict.fromkeys(scope_of(quote, each.chosen.way.line) for each in members):
            inside = [each for each in basket.under(quote) if scope_of(quote, each.chosen.way.line) == scope]
            _try_break(basket, quote, inside)


def _try_break(basket: Basket, quote: Quote, inside: Sequence[Candidate]) -> None:
    skus = [each.sku for each in inside]
    now = _total(basket.units, skus)
    starts = {
        each.from_quantity
        for one in inside
        if basket.units.get(one.sku)
        for each in group_for(quote, one.chosen.way.line).breaks
        if each.from_quantity > now
    }
    if not starts:
        return
    start = min(starts)
    found = addition(basket, inside, lambda added, _: added >= start - now)
    if found is None or not found.units:
        return
    factor = inside[0].chosen.way.goods_factor()
    before = float(_goods(basket, quote, inside, {}) * factor)
    after = float(_goods(basket, quote, inside, found.more) * factor)
    # What is added would be bought later at the present price, so that price is no cost of adding it.
    at_present = before * (_total(basket.units, skus) + found.units) / now if now else before
    saving = at_present - after
    line = inside[0].chosen.way.line
    what = f"{line.style or line.sku} price from {start}"
    _take_if_it_pays(basket, found, saving, f"the {what}")


def _goods(basket: Basket, quote: Quote, inside: Sequence[Candidate], more: Mapping[str, int]) -> Fraction:
    lines = tuple(
        each.line(count)
        for each in inside
        if (count := basket.units.get(each.sku, 0) + more.get(each.sku, 0))
    )
    return sum(line_costs(quote, OrderQuantities(lines)), Fraction(0))


def reach_free_freight(basket: Basket) -> None:
    """Add up to the amount from which freight is free where that gains clearly more than the shelf time costs."""
    members = [basket.candidates[sku] for sku in basket.units]
    way = members[0].chosen.way
    limit = way.quote.freight.free_above_minor
    if limit is None:
        return
    freight = basket.cost().freight_minor
    goods = basket.goods_foreign()
    if not freight or goods >= limit:
        return
    missing = float((limit - goods) * way.goods_factor())
    every = list(basket.candidates.values())
    for _ in range(3):
        wanted = missing
        found = addition(basket, every, lambda _, value, w=wanted: value >= w - 1e-9)  # type: ignore[misc]
        if found is None:
            return
        still = limit - basket.with_more(found.more).goods_foreign()
        if still <= 0:
            name = f"freight free from {grouped_money(round(limit), way.quote.currency)}"
            _take_if_it_pays(basket, found, float(freight), name)
            return
        # A price break that was reached made the goods cheaper.
        missing += float(still * way.goods_factor())


def _take_if_it_pays(basket: Basket, found: Addition, saving_minor: float, what_for: str) -> None:
    """Add where it gains LEAST_GAIN of what it adds after shelf time, and adds at most MOST_ADDED. Our own rule."""
    if not found.units or saving_minor <= found.shelf_minor + LEAST_GAIN * found.value_minor:
        return
    if found.value_minor > MOST_ADDED * basket.value_minor():
        line = basket.candidates[next(iter(found.more))].chosen.way.line
        basket.beyond.append(Beyond(what_for, line.style or line.sku, found.units))
        return
    take(basket, found, what_for, saving_minor)

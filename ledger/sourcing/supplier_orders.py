"""Items grouped into orders, one per supplier: what is due, what goes along, how many of each."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from ledger.errors import ValueProblem
from ledger.exact.quantity import MILLI
from ledger.sourcing.baskets import (
    FEW_TIMES,
    Basket,
    BasketCost,
    Candidate,
    reach_breaks,
    reach_free_freight,
    reach_minima,
)
from ledger.sourcing.joint_orders import JointItem, TailoredOrders, best_together, separate_cost
from ledger.sourcing.plan_reasons import (
    added_words,
    arrival_words,
    beyond_words,
    cautions,
    note_words,
    reason,
)
from ledger.sourcing.reorder_points import lead_calendar
from ledger.sourcing.ways_to_buy import Chosen, PlanTerms, Way, Wish, choose, ranked_wishes
from ledger.sourcing.what_to_order import level_on

FORCED = 1.5
"""An offer whose minima make an order this many times what is wanted gives way to another; our own rule."""


@dataclass(frozen=True)
class PlannedLine:
    """One line of an order: so many quoted units, what they come to in the offer's currency, and why."""

    chosen: Chosen
    units: int
    amount_minor: Fraction
    why: tuple[str, ...]

    @property
    def quantity(self) -> float:
        """Base units."""
        return self.units * self.chosen.way.factor


@dataclass(frozen=True)
class PlannedOrder:
    """What to order from one supplier.

    Attributes:
        way: the way its first line is bought, for supplier, currency and terms.
        order_by: the last day to place it on.
        expected_on: about when it is there if it is placed then.
        lines: the most urgent first.
        cost: what it comes to.
        joint: how often to order from this supplier, and each item in every how-many-th order.
        joint_saves_minor: what ordering together saves in a year against each item alone, in the book's.
        notes: what to know before placing it.
        next_on: about when the next order from this supplier is due.
        next_for: the item that calls for it before the joint computation would; empty where none does.
        there: in words, why it is there about that day.
    """

    way: Way
    order_by: datetime.date
    expected_on: datetime.date
    lines: tuple[PlannedLine, ...]
    cost: BasketCost
    joint: TailoredOrders
    joint_saves_minor: float
    notes: tuple[str, ...] = ()
    next_on: datetime.date = datetime.date.max
    next_for: str = ""
    there: str = ""

    @property
    def is_late(self) -> bool:
        """Whether some line should have been ordered before."""
        return any(line.chosen.seen.is_late for line in self.lines)


@dataclass(frozen=True)
class OrdersPlan:
    """All orders to place now, the most urgent first; items that need nothing, and such as cannot be had."""

    orders: tuple[PlannedOrder, ...]
    later: tuple[Chosen, ...] = ()
    stuck: tuple[Stuck, ...] = field(default=())


@dataclass(frozen=True)
class Stuck:
    """An item that is used and cannot be planned, and why."""

    wish: Wish
    why: str


def plan_orders(wishes: Sequence[Wish], terms: PlanTerms) -> OrdersPlan:
    """Return what to order now, from whom, how much and by when.

    Of each supplier: how often to order, and which item in every how-many-th order, is what the joint
    computation says for all its items. An order is planned when one of them is due within
    ``terms.ahead_days``; what falls due before the supplier's next order goes along; each is filled up to
    its reorder point and the joint quantity; then minima, price breaks and free freight are looked at.

    Source: ``joint_orders.best_together``; our own rules for what goes along and what is added.
    """
    stuck: list[Stuck] = []
    without: dict[str, frozenset[object]] = {}
    waiting = ranked_wishes([wish for wish in wishes if wish.ways], terms)
    names = {wish.item.sku for wish in waiting if wish.ways}
    stuck += [
        Stuck(wish, wish.problem or "no supplier is known: it was never received and nobody offers it")
        for wish in (*waiting, *(wish for wish in wishes if not wish.ways))
        if wish.item.sku not in names
    ]
    waiting = [wish for wish in waiting if wish.ways]
    orders: list[PlannedOrder] = []
    later: list[Chosen] = []
    refused: dict[str, str] = {}
    while waiting:
        groups: dict[object, list[Chosen]] = {}
        for wish in waiting:
            chosen = choose(wish, terms, without.get(wish.item.sku, frozenset()))
            if chosen is None:
                stuck.append(Stuck(wish, refused.get(wish.item.sku, "no way to buy it is left")))
            else:
                groups.setdefault(chosen.way.key, []).append(chosen)
        waiting = []
        for key, group in groups.items():
            made = _order_of(group, terms)
            if isinstance(made, _Refused):
                for chosen in group:
                    sku = chosen.item.sku
                    without[sku] = without.get(sku, frozenset()) | {key}
                    refused[sku] = made.why
                    waiting.append(chosen.wish)
            elif made is None:
                later += group
            else:
                orders.append(made)
                in_it = {line.chosen.item.sku for line in made.lines}
                later += [chosen for chosen in group if chosen.item.sku not in in_it]
    return OrdersPlan(
        tuple(sorted(orders, key=lambda order: (order.order_by, not order.is_late, order.way.supplier))),
        tuple(sorted(later, key=lambda each: (each.seen.order_by or datetime.date.max, each.item.sku))),
        tuple(stuck),
    )


@dataclass(frozen=True)
class _Refused:
    """An order that cannot be placed sensibly, and why."""

    why: str


def _order_of(group: Sequence[Chosen], terms: PlanTerms) -> PlannedOrder | _Refused | None:
    """Return the order of a supplier's items; None where none of them is due."""
    until = terms.today + datetime.timedelta(days=terms.ahead_days)
    due = [each for each in group if each.seen.order_by is not None and each.seen.order_by <= until]
    if not due:
        return None
    order_by = min(each.seen.order_by for each in due if each.seen.order_by is not None)
    joint, saves = _joint(group, terms)
    candidates = [Candidate(each, level_on(each.seen, order_by, terms.today)) for each in group]
    pairs = list(zip(candidates, joint.quantities, strict=True))
    wanted = {
        each.sku: _units(each, quantity, due=True, next_on=order_by)
        for each, quantity in pairs
        if each.chosen in due
    }
    following = _next_order([each for each in candidates if each.sku in wanted], wanted, joint, order_by)
    why = {each.sku: [reason(each.chosen, terms, None)] for each in candidates if each.sku in wanted}
    for each, quantity in pairs:
        units = 0 if each.sku in wanted else _units(each, quantity, due=False, next_on=following.on)
        if units:
            wanted[each.sku] = units
            why[each.sku] = [reason(each.chosen, terms, following.on)]
    basket = Basket(candidates, wanted, terms)
    try:
        head = _Head(order_by, joint, saves, following)
        return _filled(basket, why, head, others=any(len(each.wish.ways) > 1 for each in due))
    except ValueProblem as problem:
        return _Refused(str(problem))


@dataclass(frozen=True)
class _Following:
    """About when the next order is due, and the item that calls for it before the joint computation would."""

    on: datetime.date
    sku: str = ""


@dataclass(frozen=True)
class _Head:
    """What is known of an order before it is filled."""

    order_by: datetime.date
    joint: TailoredOrders
    saves_minor: float
    following: _Following


def _next_order(
    due: Sequence[Candidate], units: dict[str, int], joint: TailoredOrders, order_by: datetime.date
) -> _Following:
    """Return when the next order is due: as the joint computation says, or when what is due now is due again.

    That is as soon as what was ordered is down to its reorder point, or has expired. What is only bought
    until an order under way is there does not call for another. Our own rule.
    """
    days, sku = joint.days_between, ""
    for each in due:
        if each.chosen.seen.waits_for:
            continue
        lasts = min(each.days_until_due(units[each.sku]), float(each.chosen.item.shelf_life_days or math.inf))
        if lasts < days:
            days, sku = lasts, each.sku
    return _Following(order_by + datetime.timedelta(days=max(1, math.floor(days))), sku)


def _joint(group: Sequence[Chosen], terms: PlanTerms) -> tuple[TailoredOrders, float]:
    """Return how often to order a supplier's items, and what that saves in a year against each alone."""
    way = group[0].way
    items = [
        JointItem(each.wish.per_year, each.way.value_minor(), float(terms.line_cost_minor)) for each in group
    ]
    freight = way.quote.freight
    fixed = float(max(freight.per_order_minor, freight.minimum_minor) * way.goods_factor())
    own = way.quote.cost_per_order_minor
    handling = float(terms.order_cost_minor if own is None else own)
    common = handling + fixed
    joint = best_together(items, common, terms.capital_per_year)
    if freight.free_above_minor is not None:
        goods = sum(each.demand_per_year * each.unit_cost for each in items) / joint.orders_per_year
        if goods >= float(freight.free_above_minor * way.goods_factor()):
            common = handling
            joint = best_together(items, common, terms.capital_per_year)
    return joint, separate_cost(items, common, terms.capital_per_year) - joint.annual_cost


def _units(each: Candidate, quantity: float, *, due: bool, next_on: datetime.date) -> int:
    """Return how many quoted units of an item go into an order: up to its reorder point and joint quantity."""
    seen, item, factor = each.chosen.seen, each.chosen.item, each.chosen.way.factor
    goes_along = seen.order_by is not None and seen.order_by <= next_on and item.use.times >= FEW_TIMES
    if not (due or goes_along):
        return 0
    wanted = quantity + seen.reorder_at - each.level
    if seen.waits_for and item.coming:
        first = min(coming.on for coming in seen.waits_for if coming.on is not None)
        gap = max(0, (first - (seen.order_by or first)).days)
        wanted = min(
            wanted,
            seen.per_day * gap + max(0.0, seen.reorder_at - seen.per_day * seen.lead_days) - each.level,
        )
    if item.use.times < FEW_TIMES:
        # One use says nearly nothing of a rate: there is to be enough for one more like it.
        wanted = min(wanted, seen.reorder_at - each.level + item.use.left_milli / MILLI)
    step = each.step
    units = wanted / factor / step
    count = math.ceil(units - 1e-6) if due else math.floor(units + 0.5)
    most = each.most_units()
    least = step if due else 0
    return max(least, min(count * step, most)) if wanted > 0 or due else 0


def _filled(
    basket: Basket,
    why: dict[str, list[str]],
    head: _Head,
    *,
    others: bool,
) -> PlannedOrder | _Refused:
    """Return the order with what minima, breaks and free freight add to it."""
    before = dict(basket.units)
    notes = []
    unreached = reach_minima(basket)
    is_forced = sum(basket.units.values()) >= FORCED * sum(before.values())
    if unreached or (is_forced and others):
        return _Refused(unreached[0] if unreached else "its minimum is much more than is wanted")
    reach_breaks(basket)
    reach_free_freight(basket)
    for added in basket.added:
        for sku, units in added.more.items():
            why.setdefault(sku, []).append(f"{units} added for {added.what_for}")
        notes.append(added_words(added, basket.terms.currency))
    notes += [beyond_words(each) for each in basket.beyond]
    cost = basket.cost()
    lines = tuple(
        PlannedLine(
            basket.candidates[each.sku].chosen,
            basket.units[each.sku],
            each.amount_minor,
            (*why[each.sku], *cautions(basket.candidates[each.sku].chosen, basket.units[each.sku])),
        )
        for each in cost.lines
    )
    ordered = tuple(
        sorted(lines, key=lambda line: (line.chosen.seen.order_by or datetime.date.max, line.chosen.item.sku))
    )
    way = ordered[0].chosen.way
    after = (head.order_by - basket.terms.today).days
    slowest = max((line.chosen.way for line in ordered), key=lambda each: _lead_days(each, after))
    expected_on = head.order_by + datetime.timedelta(days=math.ceil(_lead_days(slowest, after) - 1e-9))
    more = note_words([(line.chosen, line.units) for line in ordered])
    return PlannedOrder(
        way=way,
        order_by=head.order_by,
        expected_on=expected_on,
        lines=ordered,
        cost=cost,
        joint=head.joint,
        joint_saves_minor=head.saves_minor,
        notes=tuple(dict.fromkeys([*notes, *more])),
        next_on=head.following.on,
        next_for=head.following.sku,
        there=arrival_words(slowest, head.order_by, expected_on),
    )


def _lead_days(way: Way, after: int) -> float:
    """Return the mean days an order takes that is placed so many days after the day of the plan."""
    return lead_calendar(way.lead).on(after).mean_days

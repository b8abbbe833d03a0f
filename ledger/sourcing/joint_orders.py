"""Several items ordered from one supplier: each alone, all every time, or each in every so-many-th order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ledger.errors import ValueProblem
from ledger.sourcing.economic_quantity import Ordering, economic_quantity


@dataclass(frozen=True)
class JointItem:
    """One item of a joint order: yearly demand, unit cost, and what it adds to the cost of an order."""

    demand_per_year: float
    unit_cost: float
    cost_per_order: float


@dataclass(frozen=True)
class JointOrders:
    """How often to order together, what a year costs without the goods, and how many of each item."""

    orders_per_year: float
    annual_cost: float
    quantities: tuple[float, ...]
    separate_annual_cost: float


def joint_orders(
    items: Sequence[JointItem], common_cost: float, carrying_per_year: float, *, orders_per_year: float = 0.0
) -> JointOrders:
    """Return what ordering several items together costs, as often as is best or as often as told.

    >>> items = [JointItem(20_000, 5, 100), JointItem(2_500, 4, 100), JointItem(900, 5, 100)]
    >>> together = joint_orders(items, 400, 0.2, orders_per_year=4)
    >>> round(together.separate_annual_cost), round(together.annual_cost)
    (6835, 5662)

    Raises ValueProblem where there is no item, a demand or cost is not above 0, or ordering is free.
    Source: Chopra & Meindl, Supply Chain Management, chapter 10, complete aggregation.
    """
    _check(items, common_cost, carrying_per_year)
    holding = sum(_holding(each, carrying_per_year) for each in items)
    fixed = common_cost + sum(each.cost_per_order for each in items)
    often = orders_per_year or math.sqrt(holding / (2 * fixed))
    return JointOrders(
        orders_per_year=often,
        annual_cost=fixed * often + holding / (2 * often),
        quantities=tuple(each.demand_per_year / often for each in items),
        separate_annual_cost=separate_cost(items, common_cost, carrying_per_year),
    )


def separate_cost(items: Sequence[JointItem], common_cost: float, carrying_per_year: float) -> float:
    """Return what a year costs without the goods where each item is ordered alone, at its own best quantity.

    Source: Chopra & Meindl, chapter 10, no aggregation: each order bears the common cost.
    """
    return sum(
        economic_quantity(
            Ordering(each.demand_per_year, common_cost + each.cost_per_order, carrying_per_year),
            each.unit_cost,
        ).annual_cost
        for each in items
    )


@dataclass(frozen=True)
class TailoredOrders:
    """Joint orders in which an item comes in every ``multiples``-th order; without the goods, for a year."""

    orders_per_year: float
    multiples: tuple[int, ...]
    annual_cost: float
    quantities: tuple[float, ...]

    @property
    def days_between(self) -> float:
        """The days from one order to the next."""
        return 365 / self.orders_per_year


def tailored_orders(
    items: Sequence[JointItem], common_cost: float, carrying_per_year: float
) -> TailoredOrders:
    """Return how often to order, and which item in every how-many-th order.

    The four steps: the item that would be ordered most often, were the common cost its own, is in every
    order; each other one would be ordered by its own added cost alone so many times; it is in every m-th
    order, the ratio rounded up; the frequency is worked out again for these multiples.

    Args:
        items: at least one; demands per year and unit costs above 0.
        common_cost: what an order costs whatever is in it, in the money of the unit costs.
        carrying_per_year: the fraction of its cost that a unit on the shelf costs in a year; above 0.

    >>> items = [JointItem(12_000, 500, 1000), JointItem(1_200, 500, 1000), JointItem(120, 500, 1000)]
    >>> found = tailored_orders(items, 4000, 0.2)
    >>> found.multiples, round(found.orders_per_year, 2)
    ((1, 2, 5), 11.47)

    Raises ValueProblem as ``joint_orders``.
    Source: Chopra & Meindl, Supply Chain Management, chapter 10, tailored aggregation, steps 1 to 4.
    """
    _check(items, common_cost, carrying_per_year)
    holding = [_holding(each, carrying_per_year) for each in items]
    alone = [
        math.sqrt(held / (2 * (common_cost + each.cost_per_order)))
        for each, held in zip(items, holding, strict=True)
    ]
    most = max(alone)
    first = alone.index(most)
    multiples = tuple(
        1 if place == first else _multiple(most, held, each.cost_per_order)
        for place, (each, held) in enumerate(zip(items, holding, strict=True))
    )
    return of_multiples(items, common_cost, carrying_per_year, multiples)


def of_multiples(
    items: Sequence[JointItem], common_cost: float, carrying_per_year: float, multiples: Sequence[int]
) -> TailoredOrders:
    """Return joint orders, as often as is best, in which each item comes in every so-many-th one.

    Source: Chopra & Meindl, chapter 10, equation of step 4: the frequency at which its derivative is 0.
    """
    holding = sum(
        multiple * _holding(each, carrying_per_year) for each, multiple in zip(items, multiples, strict=True)
    )
    fixed = common_cost + sum(
        each.cost_per_order / multiple for each, multiple in zip(items, multiples, strict=True)
    )
    often = math.sqrt(holding / (2 * fixed))
    return TailoredOrders(
        orders_per_year=often,
        multiples=tuple(multiples),
        annual_cost=fixed * often + holding / (2 * often),
        quantities=tuple(
            each.demand_per_year * multiple / often for each, multiple in zip(items, multiples, strict=True)
        ),
    )


def best_together(items: Sequence[JointItem], common_cost: float, carrying_per_year: float) -> TailoredOrders:
    """Return the cheaper of tailored orders and of everything in every order.

    The four steps are a rule that is nearly always right: where it is not, no multiple at all may be
    cheaper. Source: as ``tailored_orders``; the comparison is our own rule.
    """
    tailored = tailored_orders(items, common_cost, carrying_per_year)
    plain = of_multiples(items, common_cost, carrying_per_year, [1] * len(items))
    return min(tailored, plain, key=lambda found: found.annual_cost)


def _holding(item: JointItem, carrying_per_year: float) -> float:
    """Return what a year of an item costs on the shelf where one order brings it all, times two."""
    return carrying_per_year * item.unit_cost * item.demand_per_year


def _check(items: Sequence[JointItem], common_cost: float, carrying_per_year: float) -> None:
    if not items:
        raise ValueProblem("joint orders need at least one item.")
    if min(min(each.demand_per_year, each.unit_cost) for each in items) <= 0:
        raise ValueProblem("joint orders need a demand and a unit cost above 0 of every item.")
    if carrying_per_year <= 0:
        raise ValueProblem(
            "holding costs nothing, so no order is too large: the carrying rate must be above 0."
        )
    if common_cost < 0 or min(each.cost_per_order for each in items) < 0:
        raise ValueProblem("costs of ordering must not be negative.")
    if min(common_cost + each.cost_per_order for each in items) <= 0:
        raise ValueProblem("ordering costs nothing, so no order is too small: it must be above 0.")


def _multiple(most: float, held: float, own_cost: float) -> int:
    """Return in every how-many-th order an item is; one that adds nothing to an order is in each."""
    if own_cost <= 0:
        return 1
    # A ratio of 3 that came out as 3.0000000001 is 3.
    return max(1, math.ceil(most / math.sqrt(held / (2 * own_cost)) - 1e-9))

"""The economic order quantity: under price breaks, minimum, multiple and maximum."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from ledger.errors import ValueProblem
from ledger.sourcing.price_breaks import goods_cost
from ledger.sourcing.quote import INCREMENTAL, PriceBreak

LandedCost = Callable[[int], float]
"""What an order of so many units costs landed, in minor units."""


@dataclass(frozen=True)
class Ordering:
    """What ordering and holding cost, for the year; money in one unit throughout.

    ``carrying_per_year`` is a fraction of the unit's cost; ``holding_per_unit_year`` an amount that does
    not depend on the price; they add up.
    """

    demand_per_year: float
    cost_per_order: float
    carrying_per_year: float = 0.0
    holding_per_unit_year: float = 0.0

    def __post_init__(self) -> None:
        if not self.demand_per_year > 0:
            raise ValueProblem("an economic quantity needs a demand above 0.")
        if min(self.cost_per_order, self.carrying_per_year, self.holding_per_unit_year) < 0:
            raise ValueProblem("costs of ordering and holding must not be negative.")

    def annual_cost(self, quantity: float, goods: float) -> float:
        """Return goods, orders and holding of a year, where ``quantity`` costs ``goods`` each time."""
        orders = self.demand_per_year / quantity
        holding = (self.carrying_per_year * goods + self.holding_per_unit_year * quantity) / 2
        return orders * (goods + self.cost_per_order) + holding


@dataclass(frozen=True)
class Allowed:
    """The quantities that may be ordered: multiples from a minimum to a maximum (0: none)."""

    minimum: int = 1
    multiple: int = 1
    maximum: int = 0

    def up(self, quantity: float) -> int | None:
        """Return the smallest allowed quantity that is not less, None where it would be too large."""
        least = max(math.ceil(quantity - 1e-9), self.minimum, 1)
        rounded = -(-least // self.multiple) * self.multiple
        return None if self.maximum and rounded > self.maximum else rounded

    def down(self, quantity: float) -> int | None:
        """Return the largest allowed quantity that is not more, None where there is none."""
        most = min(math.floor(quantity + 1e-9), self.maximum or math.floor(quantity + 1e-9))
        rounded = most // self.multiple * self.multiple
        return rounded if rounded >= max(self.minimum, 1) else None

    def within(self, most: int | None) -> Allowed:
        """Return the same with a further limit from above; None is no limit."""
        if most is None:
            return self
        return Allowed(self.minimum, self.multiple, min(self.maximum or most, most) or -1)


@dataclass(frozen=True)
class BestOrder:
    """An order quantity and what it costs a year."""

    quantity: float
    annual_cost: float

    @property
    def is_whole(self) -> bool:
        """Whether the quantity is a whole number."""
        return float(self.quantity).is_integer()


def economic_quantity(ordering: Ordering, unit_cost: float = 0.0) -> BestOrder:
    """Return the quantity at which ordering and holding cost least, and their cost without the goods.

    >>> round(economic_quantity(Ordering(1300, 8, holding_per_unit_year=0.225)).quantity, 4)
    304.0468

    Raises ValueProblem where holding is free: one order for ever would be best.
    Source: Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd edition, equation 3.4.
    """
    holding = ordering.carrying_per_year * unit_cost + ordering.holding_per_unit_year
    if holding <= 0:
        raise ValueProblem("holding costs nothing, so no order is too large: enter capital_per_year.")
    quantity = math.sqrt(2 * ordering.demand_per_year * ordering.cost_per_order / holding)
    cost = math.sqrt(2 * ordering.demand_per_year * ordering.cost_per_order * holding)
    return BestOrder(quantity, cost)


def best_under_breaks(ordering: Ordering, breaks: Sequence[PriceBreak], discount: str) -> BestOrder:
    """Return the best quantity under a price schedule, any fraction allowed, and its whole annual cost.

    >>> from fractions import Fraction
    >>> tiers = [PriceBreak(1, Fraction(100)), PriceBreak(300, Fraction(90)), PriceBreak(600, Fraction(80))]
    >>> best = best_under_breaks(Ordering(2400, 150, 0.25), tiers, "incremental")
    >>> round(best.quantity, 2), round(best.annual_cost, 2)
    (1481.89, 222762.81)

    Source: Snyder & Shen, section 3.4: all-units by the tiers' own quantities and the break points,
    incremental by raising each tier's order cost by what its earlier units cost more.
    """
    candidates: list[float] = []
    for place, each in enumerate(breaks):
        start = 0 if place == 0 else each.from_quantity
        end = breaks[place + 1].from_quantity if place + 1 < len(breaks) else math.inf
        candidates += [float(start)] if place else []
        more = _more_before(breaks, place) if discount == INCREMENTAL else 0.0
        holding = ordering.carrying_per_year * float(each.price_minor) + ordering.holding_per_unit_year
        if holding > 0:
            own = math.sqrt(2 * ordering.demand_per_year * (ordering.cost_per_order + more) / holding)
            candidates += [own] if start <= own < end and own > 0 else []
    orders = [
        BestOrder(each, ordering.annual_cost(each, _goods(breaks, each, discount))) for each in candidates
    ]
    if not orders:
        raise ValueProblem("no quantity is best: neither ordering nor holding costs anything.")
    return min(orders, key=lambda order: order.annual_cost)


def _more_before(breaks: Sequence[PriceBreak], place: int) -> float:
    """Return what the units before a tier cost more than they would at its own price."""
    start = breaks[place].from_quantity if place else 0
    return float(goods_cost(breaks, start, INCREMENTAL) - start * breaks[place].price_minor) if start else 0.0


def _goods(breaks: Sequence[PriceBreak], quantity: float, discount: str) -> float:
    """Return what a quantity that need not be whole costs."""
    whole = math.floor(quantity)
    cost = float(goods_cost(breaks, whole, discount))
    if quantity == whole:
        return cost
    if discount == INCREMENTAL:
        return cost + (quantity - whole) * float(_tier(breaks, quantity).price_minor)
    return quantity * float(_tier(breaks, quantity).price_minor)


def _tier(breaks: Sequence[PriceBreak], quantity: float) -> PriceBreak:
    reached = [each for each in breaks if each.from_quantity <= quantity]
    return reached[-1] if reached else breaks[0]


def best_allowed(
    ordering: Ordering, landed: LandedCost, allowed: Allowed, hints: Iterable[float] = ()
) -> BestOrder | None:
    """Return the best quantity that may be ordered, by any cost curve; None where none may.

    ``hints`` are quantities where the curve bends or jumps: price breaks, the entry threshold.
    """
    lowest = allowed.up(1)
    if lowest is None:
        return None
    bends = tuple(hints)
    highest = allowed.down(_furthest(ordering, landed, lowest, bends)) or lowest

    def cost(quantity: int) -> float:
        return ordering.annual_cost(quantity, landed(quantity))

    found = least_cost(cost, allowed, (lowest, highest), bends)
    return BestOrder(found, cost(found))


def _furthest(ordering: Ordering, landed: LandedCost, lowest: int, bends: tuple[float, ...]) -> float:
    """Return a quantity beyond which holding alone costs more than a year of the smallest order."""
    enough = ordering.annual_cost(lowest, landed(lowest))
    furthest = max(2.0 * lowest, ordering.demand_per_year, *(2.0 * each for each in (*bends, 0)))
    while furthest < _MOST_UNITS:
        far = math.ceil(furthest)
        holding = ordering.carrying_per_year * landed(far) + ordering.holding_per_unit_year * far
        if holding / 2 > enough:
            break
        furthest *= 2
    return furthest


_MOST_UNITS = 1e7


def least_cost(
    cost: Callable[[int], float], allowed: Allowed, ends: tuple[int, int], hints: Iterable[float] = ()
) -> int:
    """Return the allowed quantity between two ends that costs least; of equal ones the smallest.

    Every hint, where the curve may bend or jump, is tried from both sides; between two hints, where it
    has one valley, a grid that grows finer finds the floor.
    """
    lowest, highest = ends
    tried: dict[int, float] = {}

    def known(quantity: int) -> float:
        if quantity not in tried:
            tried[quantity] = cost(quantity)
        return tried[quantity]

    edges = {lowest, highest}
    for hint in hints:
        sides = (allowed.down(hint - 1), allowed.down(hint), allowed.up(hint))
        edges |= {each for each in sides if each is not None and lowest <= each <= highest}
    marks = sorted(edges)
    floors = [_floor(known, allowed, left, right) for left, right in itertools.pairwise(marks)]
    return min([*marks, *floors], key=lambda quantity: (known(quantity), quantity))


def _floor(cost: Callable[[int], float], allowed: Allowed, left: int, right: int) -> int:
    """Return the quantity that costs least between two, where the curve has one valley."""
    while True:
        points = _grid(allowed, left, right, GRID)
        best = min(points, key=lambda quantity: (cost(quantity), quantity))
        place = points.index(best)
        closer = points[max(place - 1, 0)], points[min(place + 1, len(points) - 1)]
        # Where the best is an end of the grid, a quantity between it and the next may not be tried yet.
        if closer == (left, right) or max(best - closer[0], closer[1] - best) <= allowed.multiple:
            return best
        left, right = closer


GRID = 16
"""Into how many parts a stretch of quantities is divided at a time."""


def _grid(allowed: Allowed, lowest: int, highest: int, count: int) -> list[int]:
    """Return allowed quantities between two, evenly spread by their ratio, both ends included."""
    if highest <= lowest:
        return [lowest]
    ratio = (highest / lowest) ** (1 / count)
    grid = {allowed.down(lowest * ratio**step) for step in range(count + 1)}
    return sorted({each for each in grid if each and lowest <= each <= highest} | {lowest, highest})

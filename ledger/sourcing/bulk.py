"""One order from afar: what its pieces are worth, how many of it there should be, and of which sizes."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ledger.sourcing.colours import ColourMinimum
from ledger.sourcing.demand import WEEKS_PER_MONTH, WEEKS_PER_YEAR
from ledger.sourcing.economic_quantity import Allowed, least_cost
from ledger.sourcing.futures import Futures
from ledger.sourcing.offer_plan import CostCurve, pipeline_cost
from ledger.sourcing.simulate import UnitCurves, unit_curves
from ledger.sourcing.size_quantities import (
    Assortment,
    PieceValues,
    by_ratio,
    by_service,
    by_value,
    enough_for,
    gross,
)
from ledger.sourcing.study import Study

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.int64]


@dataclass(frozen=True)
class Bulk:
    """An offer from afar as a source of one order now.

    Attributes:
        curve: what orders cost landed.
        arrival: the week of arrival in each future.
        curves: what becomes of the n-th piece of each size.
        domestic_minor: what a piece costs at home instead, its own freight and handling included; or,
            where nobody at home can fill the gap, None.
        need: pieces that cover demand after arrival at the owner's service level, size by size, for as
            long as covering it can pay at all.
        colours: which colours it is an order of, where the offer has a minimum for each of several.
    """

    study: Study
    curve: CostCurve
    arrival: Numbers
    curves: UnitCurves
    domestic_minor: float | None
    need: int = 0
    colours: ColourMinimum | None = None

    @property
    def left_at_home(self) -> tuple[str, ...]:
        """The colours that are bought at home entirely."""
        return () if self.colours is None else self.colours.left

    @property
    def demand_share(self) -> float:
        """The share of demand that the order is for: all of it but the colours left at home."""
        left = self.left_at_home
        if not left:
            return 1.0
        return sum(size.share for size in self.study.demand.sizes if size.colour not in left)

    def used_minor(self, quantity: int) -> float:
        """Return what a piece that is used saves: the price at home, or cost and margin of a lost sale."""
        if self.domestic_minor is not None:
            return self.domestic_minor
        return self.curve.unit(quantity) + self.study.money.lost_margin_minor

    def values(self, quantity: int) -> PieceValues:
        """Return what a piece is worth at the landed cost of an order of that quantity."""
        money, unit = self.study.money, self.curve.unit(quantity)
        week = money.capital_per_year * unit / WEEKS_PER_YEAR
        week += money.storage_per_unit_month_minor / WEEKS_PER_MONTH
        return PieceValues(
            self.used_minor(quantity), left_minor(money.salvage_fraction, unit, self.domestic_minor), week
        )

    def fixed_minor(self, quantity: int) -> float:
        """Return what an order costs whatever becomes of its pieces."""
        early = pipeline_cost(self.study, self.curve, quantity)
        return self.curve.total(quantity) + self.curve.offer.cost_per_order_minor + early

    def expected_saving(self, assortment: Assortment, quantity: int) -> float:
        """Return the expected saving of one order in minor units; 0 for none."""
        if quantity == 0:
            return 0.0
        values, used = self.values(quantity), assortment.expected_used(quantity)
        return saving_of(
            values, used, self.curve.good(quantity) - used, assortment.expected_weeks(quantity)
        ) - self.fixed_minor(quantity)


def left_minor(salvage_fraction: float, unit_minor: float, domestic_minor: float | None) -> float:
    """Return what a leftover fetches: the fraction of its landed cost, or of the price at home where that is lower.

    A small order carries a large part of what is fixed in each piece; nobody pays for that when a new piece
    costs less at home.

    Source: our own rule.
    """
    worth = unit_minor if domestic_minor is None else min(unit_minor, domestic_minor)
    return salvage_fraction * worth


def saving_of(values: PieceValues, used: float, left: float, weeks: float) -> float:
    """Return what pieces used and left bring, less their time on the shelf, before what the order costs."""
    return values.used_minor * used + values.left_minor * left - values.week_minor * weeks


def needed_pieces(bulk: Bulk, futures: Futures) -> int:
    """Return how many good pieces cover demand after arrival at the owner's service level, size by size.

    Beyond the cover at which one more piece loses even where demand is certain (the screen's best
    quantity) nobody would cover demand in one order; then it is demand of so many weeks.
    """
    service = bulk.study.money.service_level
    arrival = float(bulk.arrival.sum()) / len(bulk.arrival)
    cover = _longest_cover_weeks(bulk)
    if cover is None or arrival + cover >= futures.weeks:
        return enough_for(bulk.curves, service)
    shorter = Futures(futures.demand, max(1, math.ceil(arrival + cover)), futures.count, futures.seed)
    return enough_for(of_colours(bulk, unit_curves(shorter, [bulk.arrival])[0]), service)


def of_colours(bulk: Bulk, curves: UnitCurves) -> UnitCurves:
    """Return the curves with no use for pieces of colours that are left at home."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    left = bulk.left_at_home
    if not left:
        return curves
    taken = np.array([size.colour not in left for size in bulk.study.demand.sizes])
    return replace(curves, used=curves.used * taken[:, np.newaxis])


def _longest_cover_weeks(bulk: Bulk) -> float | None:
    """Return the cover that the screen finds best, in weeks; None where it has no end or nothing pays."""
    if bulk.domestic_minor is None:
        return None
    quantity = bulk.curve.allowed().up(max(1.0, float(bulk.curves.used.sum()))) or 1
    values, demand = bulk.values(quantity), bulk.study.demand
    if values.week_minor <= 0:
        return None
    # One more piece is used after Q / lambda weeks: there its gain is eaten up by its time on the shelf.
    early = pipeline_cost(bulk.study, bulk.curve, quantity) / bulk.curve.good(quantity)
    gain = values.used_minor - bulk.curve.linear_at(quantity).unit_minor - early
    return None if gain <= 0 or demand.per_week <= 0 else gain / values.week_minor


def covers_need(bulk: Bulk, quantity: int) -> bool:
    """Return whether so many pieces cover the need at the owner's service level."""
    if bulk.left_at_home:
        return False
    return quantity * (1 - float(bulk.curve.offer.quote.defects.rate)) >= bulk.need - 1


def bulk_quantity(bulk: Bulk) -> int | None:
    """Return how many pieces cover the need, as far as the owner's limits on cover and space allow.

    The offer's own quantity stands where it has one. None where its rules allow none.
    """
    offer, allowed = bulk.curve.offer, bulk.curve.allowed()
    if offer.quote.quantity:
        return offer.quote.quantity
    if bulk.domestic_minor is None:
        return base_quantity(bulk, None)
    wanted = bulk.need / (1 - float(offer.quote.defects.rate))
    within = allowed.within(most_within_limits(bulk, cash=False))
    return (
        within.up(wanted) or within.down(wanted) or within.up(1) or allowed.up(wanted) or allowed.down(wanted)
    )


def most_within_limits(bulk: Bulk, *, cash: bool = True) -> int | None:
    """Return the largest quantity within the owner's limits on cover, space and cash; None for no limit."""
    limits, study = bulk.study.limits, bulk.study
    found: list[float] = []
    if limits.weeks_of_cover is not None:
        found.append(limits.weeks_of_cover * study.demand.per_week * bulk.demand_share)
    if limits.space_units:
        found.append(limits.space_units)
    most = int(min(found) + 1e-9) if found else None
    if not cash or limits.cash_minor is None:
        return most
    return _affordable(bulk, limits.cash_minor, most)


def _affordable(bulk: Bulk, cash_minor: float, most: int | None) -> int:
    """Return the largest quantity up to ``most`` whose payments stay within the cash; bisection and a step back."""
    allowed = bulk.curve.allowed().within(most)
    steps = allowed.down(most if most is not None else max(1, _reach(bulk))) or 0
    low, high = 0, steps // allowed.multiple + 1
    while high - low > 1:
        middle = (low + high) // 2
        fits = _cash_needed(bulk, middle * allowed.multiple) <= cash_minor
        low, high = (middle, high) if fits else (low, middle)
    return low * allowed.multiple


def _cash_needed(bulk: Bulk, quantity: int) -> float:
    return bulk.curve.total(quantity) + bulk.curve.offer.cost_per_order_minor if quantity else 0.0


def _reach(bulk: Bulk) -> int:
    """Return a quantity beyond which no future uses a piece."""
    used = int((bulk.curves.used > 0).sum())
    rules = bulk.curve.allowed()
    return (
        max(int(used / (1 - float(bulk.curve.offer.quote.defects.rate))) + 1, rules.minimum) + rules.multiple
    )


def base_quantity(bulk: Bulk, most: int | None) -> int | None:
    """Return the quantity with the greatest expected saving, 0 where none saves; None where none is allowed.

    ``most`` is the largest within the owner's limits.
    """
    found = _best_quantity(bulk, bulk.curve.allowed().within(most))
    if found is None:
        return None
    return found if bulk.expected_saving(assortment_for(bulk, found), found) > 0 else 0


def unfixed_quantity(bulk: Bulk) -> int | None:
    """Return the allowed quantity that saves most or loses least, were none fixed and the owner's limits apart."""
    return _best_allowed(bulk, bulk.curve.allowed())


def least_bad_quantity(bulk: Bulk) -> int | None:
    """Return the allowed quantity that saves most or loses least, the owner's limits apart."""
    return _best_quantity(bulk, bulk.curve.allowed())


def _best_quantity(bulk: Bulk, allowed: Allowed) -> int | None:
    fixed = bulk.curve.offer.quote.quantity
    if not fixed or allowed.up(1) is None:
        return _best_allowed(bulk, allowed)
    return fixed if allowed.maximum == 0 or fixed <= allowed.maximum else None


def _best_allowed(bulk: Bulk, allowed: Allowed) -> int | None:
    least = allowed.up(1)
    if least is None:
        return None
    highest = max(allowed.down(_reach(bulk)) or least, least)
    found = allowed.up(min(max(1.0, float(bulk.curves.used.sum())), highest)) or highest
    bends = bulk.curve.bends(highest)
    for _ in range(2):
        # Which piece comes next depends a little on the cost, which depends on the quantity: twice settles it.
        assortment = assortment_for(bulk, found)
        found = least_cost(_negated(bulk, assortment), allowed, (least, highest), bends)
    return found


def _negated(bulk: Bulk, assortment: Assortment) -> Callable[[int], float]:
    return lambda quantity: -bulk.expected_saving(assortment, quantity)


def assortment_for(bulk: Bulk, quantity: int, *, by_chance: bool = False) -> Assortment:
    """Return how orders are split over sizes: in the offer's prepacks, by value, or by chance of use."""
    quote, study = bulk.curve.offer.quote, bulk.study
    defects = float(quote.defects.rate)
    sizes = study.demand.sizes
    ratio = {share.size: share.pieces for share in quote.rules.size_ratio}
    highest = max(quantity, _reach(bulk), quote.quantity)
    if ratio:
        packs = highest // sum(ratio.values()) + 1
        curves = gross(bulk.curves, defects, packs * sum(ratio.values()))
        if len(sizes) == 1 and not sizes[0].name:
            return by_ratio(curves, [sum(ratio.values())])
        return by_ratio(curves, [ratio.get(size.name, 0) for size in sizes])
    columns = max(
        bulk.curves.used.shape[1], int(highest * max(size.share for size in sizes)) + len(sizes) + 1
    )
    if bulk.colours is not None:
        # Fewer sizes share the order, and a colour's minimum may lie in one size.
        columns = max(columns, math.ceil(columns / max(bulk.demand_share, 1e-3)), bulk.colours.minimum + 1)
    curves = gross(bulk.curves, defects, columns)
    shares = [size.share for size in sizes]
    if by_chance:
        return by_service(curves, shares, bulk.colours)
    return by_value(curves, shares, bulk.values(quantity), bulk.colours)


def used_by_size(bulk: Bulk, quantities: Sequence[int]) -> tuple[float, ...]:
    """Return how many pieces of each size of an order are used on average."""
    curves = gross(bulk.curves, float(bulk.curve.offer.quote.defects.rate), max(*quantities, 1))
    return tuple(float(row[:count].sum()) for row, count in zip(curves.used, quantities, strict=True))

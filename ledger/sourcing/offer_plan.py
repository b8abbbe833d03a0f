"""One offer by itself: its cost curve, its best order quantity, its reorder point, its year."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

from ledger.sourcing.cycles import Reordering, reordering
from ledger.sourcing.demand import DAYS_PER_WEEK, WEEKS_PER_YEAR, Demand
from ledger.sourcing.economic_quantity import Allowed, Ordering, best_allowed
from ledger.sourcing.futures import Futures
from ledger.sourcing.landed_estimate import GOODS, LandedEstimate, landed_estimate
from ledger.sourcing.order_rules import least_quantity, step_of
from ledger.sourcing.price_breaks import break_quantities
from ledger.sourcing.study import MoneyTerms, Study, StudyOffer

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Numbers = NDArray[np.int64]

MONTHS_PER_YEAR = 12
DAYS_PER_YEAR = 365.0


_NEAR = 0.9


@dataclass(frozen=True)
class LinearCost:
    """A landed cost as a fixed part for the order and a part for each good piece, in minor units."""

    fixed_minor: float
    unit_minor: float


@dataclass(frozen=True)
class CostCurve:
    """What orders of any quantity under an offer cost landed; each quantity is worked out once."""

    offer: StudyOffer
    _known: dict[int, LandedEstimate] = field(default_factory=dict, compare=False, repr=False)

    @cached_property
    def lead_days(self) -> float:
        """The mean days from order to shelf."""
        return self.offer.lead.mean_total()

    def at(self, quantity: int) -> LandedEstimate:
        """Return the estimate for an order of a quantity of at least 1."""
        if quantity not in self._known:
            self._known[quantity] = landed_estimate(
                self.offer.quote, self.offer.order(quantity), self.offer.entry
            )
        return self._known[quantity]

    def total(self, quantity: int) -> float:
        """Return the landed cost in minor units; 0 for none."""
        return float(self.at(quantity).total_minor) if quantity else 0.0

    def good(self, quantity: int) -> float:
        """Return how many pieces are expected to be good."""
        return float(self.at(quantity).good_units) if quantity else 0.0

    def unit(self, quantity: int) -> float:
        """Return the landed cost of a good piece in minor units."""
        return self.total(quantity) / self.good(quantity)

    def goods(self, quantity: int) -> float:
        """Return the goods' part of the landed cost in minor units."""
        return float(self.at(quantity).amount_minor(GOODS))

    def linear_at(self, quantity: int) -> LinearCost:
        """Return the landed cost around a quantity as fixed and per good piece, within its price tier.

        Where that gives no sensible line (a fee's minimum, a tier of one quantity) everything is per piece.
        """
        other = self.neighbour(quantity)
        if other:
            slope = (self.total(quantity) - self.total(other)) / (quantity - other)
            fixed = self.total(quantity) - slope * quantity
            if slope > 0 and fixed >= 0:
                return LinearCost(fixed, slope * quantity / self.good(quantity))
        return LinearCost(0.0, self.unit(quantity))

    def neighbour(self, quantity: int) -> int:
        """Return another quantity of the same price tier: a tenth less, or more at the tier's start; 0 for none."""
        starts = break_quantities(self.offer.quote)
        below = max([*(each for each in starts if each <= quantity), int(quantity * _NEAR), 1])
        if below < quantity:
            return below
        above = min([*(each - 1 for each in starts if each > quantity), math.ceil(quantity / _NEAR)])
        return above if above > quantity else 0

    def allowed(self) -> Allowed:
        """Return which quantities may be ordered."""
        rules = self.offer.quote.rules
        return Allowed(least_quantity(rules, self.offer.colours), step_of(rules), rules.maximum)

    def bends(self, most: int) -> tuple[int, ...]:
        """Return quantities where the curve bends or jumps: price breaks, formal entry, free freight."""
        found = [each for each in break_quantities(self.offer.quote) if each <= most]
        fees = self.offer.quote.entry_fees
        if fees is not None and fees.formal_above_minor is not None:
            found += self._first(lambda quantity: bool(self.at(quantity).is_formal), most)
        if self.offer.quote.freight.free_above_minor is not None:
            found += self._first(lambda quantity: self.at(quantity).amount_minor("freight") == 0, most)
        return tuple(sorted(set(found)))

    @staticmethod
    def _first(holds: Callable[[int], bool], most: int) -> list[int]:
        """Return the first quantity of which something holds, none where it never does; bisection."""
        low, high = 0, max(most, 1)
        if not holds(high):
            return []
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if holds(middle) else (middle, high)
        return [high]


@dataclass(frozen=True)
class AnnualCosts:
    """What a year under one offer costs, part by part, in minor units."""

    goods: float = 0.0
    freight_duty_fees: float = 0.0
    ordering: float = 0.0
    holding: float = 0.0
    pipeline: float = 0.0
    leftovers: float = 0.0
    shortage: float = 0.0

    @property
    def total(self) -> float:
        """The sum of all parts."""
        return (
            self.goods + self.freight_duty_fees + self.ordering + self.holding
            + self.pipeline + self.leftovers + self.shortage
        )  # fmt: skip


@dataclass(frozen=True)
class OfferPlan:
    """An offer with everything worked out for ordering under it again and again.

    ``order_quantity`` is None where the offer's own rules leave none; then the rest is None too.
    ``cost_per_unit_minor`` is the year's total for each piece asked for, shortages apart.
    """

    curve: CostCurve
    lead_time_days: float
    order_quantity: int | None = None
    orders_per_year: float = 0.0
    reordering: Reordering | None = None
    annual: AnnualCosts | None = None
    cost_per_unit_minor: float | None = None

    @property
    def offer(self) -> StudyOffer:
        """The offer itself."""
        return self.curve.offer


def ordering_of(offer: StudyOffer, money: MoneyTerms, demand: Demand) -> Ordering:
    """Return what ordering and holding cost under an offer; bad pieces have to be bought too."""
    good = 1 - float(offer.quote.defects.rate)
    return Ordering(
        demand.per_year / good,
        offer.cost_per_order_minor,
        money.capital_per_year,
        money.storage_per_unit_month_minor * MONTHS_PER_YEAR * good,
    )


def plan_offer(study: Study, offer: StudyOffer, futures: Futures) -> OfferPlan:
    """Return the best repeated order under an offer, when to place it, and what a year costs.

    A quantity the offer fixes is taken as it is. Shortages are priced later, when it is known what
    fills the gap.
    """
    curve, demand = CostCurve(offer), study.demand
    ordering = ordering_of(offer, study.money, demand)
    quantity = offer.quote.quantity or _best(study, curve, ordering)
    if quantity is None:
        return OfferPlan(curve, curve.lead_days)
    again = reordering(futures, offer.lead, curve.good(quantity), study.money.service_level)
    orders = ordering.demand_per_year / quantity
    annual = _annual(study, curve, again, orders, quantity)
    return OfferPlan(curve, curve.lead_days, quantity, orders, again, annual, annual.total / demand.per_year)


def _best(study: Study, curve: CostCurve, ordering: Ordering) -> int | None:
    """Return the best allowed quantity, at most the horizon's demand unless the offer's rules want more."""
    allowed = curve.allowed()
    least = allowed.up(1)
    if least is None:
        return None
    need = ordering.demand_per_year * study.weeks / WEEKS_PER_YEAR
    most = max(allowed.down(need) or least, least)
    found = best_allowed(ordering, curve.total, allowed.within(most), curve.bends(most))
    return None if found is None else int(found.quantity)


def _annual(study: Study, curve: CostCurve, again: Reordering, orders: float, quantity: int) -> AnnualCosts:
    money, offer, demand = study.money, curve.offer, study.demand
    total, goods, good, unit = (
        curve.total(quantity), curve.goods(quantity), curve.good(quantity), curve.unit(quantity)
    )  # fmt: skip
    on_shelf = good / 2 + max(0.0, again.safety_stock)
    per_unit_year = money.capital_per_year * unit + money.storage_per_unit_month_minor * MONTHS_PER_YEAR
    hazard = sum(size.share * size.obsolescence_per_year for size in demand.sizes)
    return AnnualCosts(
        goods=orders * goods,
        freight_duty_fees=orders * (total - goods),
        ordering=orders * offer.cost_per_order_minor,
        holding=per_unit_year * on_shelf,
        pipeline=orders * pipeline_cost(study, curve, quantity),
        leftovers=hazard * on_shelf * unit * (1 - money.salvage_fraction),
    )


def pipeline_cost(study: Study, curve: CostCurve, quantity: int, lead_days: float | None = None) -> float:
    """Return what it costs in minor units that an order is paid before it arrives.

    ``lead_days`` from order to shelf are the offer's mean where nothing is said.
    """
    early = sum(
        payment.amount_minor * max(0.0, payment.days_before_arrival)
        for payment in payments(curve, quantity, lead_days)
    )
    return study.money.capital_per_year * early / DAYS_PER_YEAR


@dataclass(frozen=True)
class Payment:
    """One payment for an order: its amount in minor units, and when, from the order and from arrival."""

    what: str
    amount_minor: float
    days_after_order: float
    days_before_arrival: float


def payments(curve: CostCurve, quantity: int, lead_days: float | None = None) -> tuple[Payment, ...]:
    """Return what is paid for an order and when; ``lead_days`` are the offer's mean where nothing is said.

    With a deposit its fraction of the goods is due that many days before shipping (at the earliest with
    the order), the rest of the goods at shipping. Where no working days say when goods ship, they ship
    those days after the order. Without a deposit goods are paid with the order. Freight, duty and fees
    are paid on arrival. At home everything is paid on arrival unless a deposit is named.

    Source: deposit and balance before shipment: common practice, no source; the timing is our own rule.
    """
    offer, usual = curve.offer, curve.lead_days
    lead_days = usual if lead_days is None else lead_days
    goods = curve.goods(quantity)
    charges = curve.total(quantity) - goods
    deposit = offer.quote.deposit
    last = Payment("freight, duty and fees", charges, lead_days, 0.0)
    if not deposit.fraction:
        paid_on = lead_days if offer.is_domestic else 0.0
        return (Payment("goods", goods, paid_on, lead_days - paid_on), last)
    way = (
        float(sum(offer.lead.samples) / len(offer.lead.samples))
        if offer.lead.samples
        else offer.lead.mean_days
    )
    before = float(deposit.days_before_shipping)
    # Where goods take longer than usual the way does: they ship on the same day.
    ships = min(max(0.0, usual - way) if offer.lead.working_days else before, lead_days)
    first = max(0.0, ships - before)
    share = float(deposit.fraction)
    return (
        Payment("deposit", share * goods, first, lead_days - first),
        Payment("balance", (1 - share) * goods, ships, lead_days - ships),
        last,
    )


def with_shortage(plan: OfferPlan, gap_minor: float) -> OfferPlan:
    """Return a plan whose year includes shortages, each costing the gap to what fills it."""
    if plan.annual is None or plan.reordering is None:
        return plan
    shortage = plan.orders_per_year * plan.reordering.short_per_cycle * max(0.0, gap_minor)
    return replace(plan, annual=replace(plan.annual, shortage=shortage))


def weeks_until(days: float) -> int:
    """Return the week (0 is the first) at whose start goods that take so many days are there: the nearest."""
    return math.floor(days / DAYS_PER_WEEK + 0.5)


def arrival_weeks_of(days: Floats) -> Numbers:
    """Return the week at whose start goods are there that take so many days, in each future: the nearest.

    Rounded up, every arrival would be half a week late on average.
    """
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    found: Numbers = np.floor(days / DAYS_PER_WEEK + 0.5).astype(np.int64)
    return found

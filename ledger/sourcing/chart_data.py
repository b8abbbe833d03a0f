"""What the pictures of a decision show, as plain numbers: the same futures and figures as its tables.

Money is in minor units of the study's currency. Where one order is looked at it is the decision's
``subject``: the order it recommends, or else the one from afar that loses least.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ledger.sourcing.alternatives import DOMESTIC, Alternative
from ledger.sourcing.bulk import Bulk
from ledger.sourcing.decide import Decision
from ledger.sourcing.demand import WEEKS_PER_MONTH
from ledger.sourcing.futures import Futures
from ledger.sourcing.landed_curve import Reach, curve
from ledger.sourcing.lever import Lever
from ledger.sourcing.offer_plan import OfferPlan, arrival_weeks_of
from ledger.sourcing.price_breaks import break_quantities
from ledger.sourcing.sensitivity import Swing
from ledger.sourcing.simulate import UnitCurves, asked_by_size

LEAST_LOST = "the order that loses least"
"""Names an order from afar that is none of the alternatives: nothing pays, and this one comes nearest."""

BARS = 24
"""About so many bars show how the saving spreads."""

VOLUMES = 8
"""So many volumes are looked at beside those that mean something."""

_BEYOND = 2
_ROUND = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True)
class CostPoint:
    """What a good piece costs landed in an order of so many, and what changes there, in words."""

    quantity: int
    unit_minor: float
    what: str = ""


@dataclass(frozen=True)
class CostLine:
    """Landed cost by quantity of one offer: both sides of each break and cliff, and the orders of the tables."""

    offer: str
    points: tuple[CostPoint, ...]
    ordered: tuple[int, ...]


@dataclass(frozen=True)
class VolumeLine:
    """What one alternative costs in all over the horizon at each volume, its order unchanged."""

    name: str
    quantity: int
    totals_minor: tuple[float, ...]


@dataclass(frozen=True)
class VolumeChart:
    """Total cost against monthly volume, taken as known: everything at home first, then each order.

    ``break_even`` is the decision's own volume at which the saving of the order ``of`` is nothing.
    """

    per_month: tuple[float, ...]
    lines: tuple[VolumeLine, ...]
    counted_per_month: float
    break_even: float | None
    of: str


@dataclass(frozen=True)
class SavingSpread:
    """How often an alternative saves how much: ``counts`` of futures above one edge and up to the next."""

    name: str
    quantity: int
    counts: tuple[int, ...]
    mean_minor: float
    worst_tenth_minor: float
    probability_cheaper: float


@dataclass(frozen=True)
class SavingChart:
    """The spread of each alternative's saving over the same edges; ``limit_minor`` is the owner's for the worst tenth."""

    edges_minor: tuple[float, ...]
    spreads: tuple[SavingSpread, ...]
    limit_minor: float | None
    futures: int


@dataclass(frozen=True)
class TornadoChart:
    """How the expected saving of an order moves with each assumption alone, the widest swing first."""

    quantity: int
    expected_minor: float
    swings: tuple[Swing, ...]


def subject(decision: Decision) -> Alternative | None:
    """Return the order from afar that pictures of one order show; None where there is none."""
    chosen = decision.verdict.chosen
    return chosen if chosen.quantity else decision.focus


def name_of(decision: Decision, held: Alternative) -> str:
    """Return what an order is called: as in the table of alternatives, where it stands there."""
    same = [each for each in decision.alternatives if each.quantities == held.quantities]
    return same[0].name if same else LEAST_LOST


def orders(decision: Decision) -> tuple[Alternative, ...]:
    """Return every order from afar that differs from the others: those of the table, then the subject."""
    found: dict[tuple[int, ...], Alternative] = {}
    shown = subject(decision)
    for held in (*decision.alternatives, *([shown] if shown else [])):
        if held.quantity:
            found.setdefault(held.quantities, held)
    return tuple(found.values())


def drawn_again(decision: Decision) -> Futures:
    """Return the futures the decision was made on: the same seed and count give the same draws."""
    return Futures(decision.study.demand, decision.study.weeks, decision.futures, decision.seed)


def source_of(decision: Decision, plan: OfferPlan, futures: Futures) -> Bulk:
    """Return the offer from afar as the decision weighed it, without the curves its quantities came from."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    nothing = np.zeros((futures.sizes, 1))
    home = decision.home.cost_per_unit_minor if decision.home is not None else None
    return Bulk(
        decision.study,
        plan.curve,
        arrival_weeks_of(plan.offer.lead.days(futures.lead_chances())),
        UnitCurves(nothing, nothing, np.zeros(futures.sizes)),
        home,
    )


def cost_lines(decision: Decision) -> tuple[CostLine, ...]:
    """Return landed cost by quantity of every offer that allows an order, up to twice what any table orders.

    Raises ValueProblem where an offer cannot be costed.
    """
    ordered = [each.quantity for each in orders(decision)]
    usual = [plan.order_quantity for plan in decision.plans if plan.order_quantity is not None]
    most = _BEYOND * max([*ordered, *usual], default=1)
    found = []
    for plan in decision.plans:
        if plan.order_quantity is None:
            continue
        own = {plan.order_quantity}
        if decision.bulk_plan is not None and plan.offer.name == decision.bulk_plan.offer.name:
            own.update(ordered)
        found.append(CostLine(plan.offer.name, _cost_points(plan, own, most), tuple(sorted(own))))
    return tuple(found)


def _cost_points(plan: OfferPlan, own: set[int], most: int) -> tuple[CostPoint, ...]:
    quote, entry = plan.offer.quote, plan.offer.entry
    last = max([most, *(each for each in break_quantities(quote) if each <= _BEYOND * most)])
    points = {
        point.quantity: CostPoint(point.quantity, float(point.unit_cost_minor), point.what)
        for point in curve(quote, entry, Reach(last, colours=plan.offer.colours), plan.offer.order)
    }
    ends = (min(points, default=1), max(points, default=1))
    for quantity in (*own, *_between(plan, *ends)):
        points.setdefault(quantity, CostPoint(quantity, plan.curve.unit(quantity)))
    return tuple(points[quantity] for quantity in sorted(points))


def _between(plan: OfferPlan, least: int, most: int) -> set[int]:
    """Return orders in even proportions from one to another, so that the line bends as the cost does."""
    allowed = plan.curve.allowed()
    steps = (least * (most / least) ** (step / BARS) for step in range(1, BARS))
    return {each for each in map(allowed.up, steps) if each is not None and least <= each <= most}


def volume_chart(decision: Decision, futures: Futures) -> VolumeChart | None:
    """Return total cost by monthly volume; None where nothing is weighed, or nothing can be had at home.

    The volumes are taken as known, as the decision's own break-even takes them, on the same few futures.
    """
    plan, points, held = decision.bulk_plan, decision.break_even, subject(decision)
    home = decision.home.cost_per_unit_minor if decision.home is not None else None
    if plan is None or home is None or held is None or points is None:
        return None
    bulk, weighed = source_of(decision, plan, futures), orders(decision)
    levers = [Lever(bulk, each, futures) for each in weighed]
    counted, flips = decision.study.demand.per_month, points.units_per_month
    volumes = _volumes(counted, flips)
    at_home, totals = [], [list[float]() for _ in levers]
    for volume in volumes:
        per_week = volume / WEEKS_PER_MONTH
        known = levers[0].at_known(per_week)
        total = 0.0 if known is None else home * sum(asked_by_size(known))
        at_home.append(total)
        for lever, column in zip(levers, totals, strict=True):
            column.append(total - lever.saving_in(known))
    lines = [VolumeLine(DOMESTIC, 0, tuple(at_home))]
    lines += [
        VolumeLine(name_of(decision, each), each.quantity, tuple(column))
        for each, column in zip(weighed, totals, strict=True)
    ]
    return VolumeChart(volumes, tuple(lines), counted, flips, name_of(decision, held))


def _volumes(counted: float, flips: float | None) -> tuple[float, ...]:
    """Return the volumes that are looked at: even steps, what was counted with, and the break-even."""
    most = max(_BEYOND * counted, 1.3 * (flips or 0.0))
    even = {most * step / VOLUMES for step in range(VOLUMES + 1)}
    return tuple(sorted(even | {counted} | ({flips} if flips else set())))


def saving_chart(decision: Decision) -> SavingChart | None:
    """Return how the saving of each order of the table spreads; None where only one future is possible."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    weighed = [held for held in orders(decision) if held.savings is not None and len(held.savings) > 1]
    if not weighed:
        return None
    values = [np.sort(held.savings) for held in weighed if held.savings is not None]
    edges = _edges(min(float(each[0]) for each in values), max(float(each[-1]) for each in values))
    spreads = []
    for held, sorted_savings in zip(weighed, values, strict=True):
        # Above an edge and up to the next, so that what lies above 0 is just what is cheaper.
        upto = np.searchsorted(sorted_savings, edges, side="right")
        spreads.append(
            SavingSpread(
                name_of(decision, held),
                held.quantity,
                tuple(int(each) for each in np.diff(upto)),
                held.expected_saving,
                held.worst_tenth,
                held.probability_cheaper or 0.0,
            )
        )
    return SavingChart(edges, tuple(spreads), decision.study.limits.worst_tenth_minor, decision.futures)


def _edges(low: float, high: float) -> tuple[float, ...]:
    """Return edges in round steps, 0 among them or in line with them, the first below every saving."""
    wanted = max(high - low, 1.0) / BARS
    scale = 10.0 ** math.floor(math.log10(wanted))
    step = next(each * scale for each in _ROUND if each * scale >= wanted)
    first, last = math.ceil(low / step) - 1, math.ceil(high / step)
    return tuple(place * step for place in range(first, max(last, first + 1) + 1))


def tornado_chart(decision: Decision) -> TornadoChart | None:
    """Return the tornado of the order that flips are asked of; None where there is none."""
    held = decision.focus
    if held is None or not decision.sensitivity:
        return None
    return TornadoChart(held.quantity, held.expected_saving, decision.sensitivity)

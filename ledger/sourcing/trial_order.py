"""Waiting for some weeks of sales, or a small order first: what either costs and what it tells."""

from __future__ import annotations

from dataclasses import dataclass

from ledger.errors import ValueProblem
from ledger.sourcing.alternatives import Alternative
from ledger.sourcing.bulk import Bulk, assortment_for
from ledger.sourcing.demand import GammaRate
from ledger.sourcing.lever import Lever
from ledger.sourcing.offer_plan import weeks_until
from ledger.sourcing.sensitivity import LEAD_TIME, Swing, most_defects
from ledger.sourcing.waiting import OneOrder, Waiting, value_of_waiting

LOOKING_WEEKS = (4, 8, 12, 26)
"""After how many weeks of sales the decision could be taken instead."""


@dataclass(frozen=True)
class TrialOrder:
    """The smallest order an offer takes, held against the larger one it would come before.

    Money in minor units.

    Attributes:
        offer_name: whose.
        quantity: the pieces of the smallest order.
        larger_quantity: the order it would come before; not above ``quantity`` where there is none smaller.
        saving_minor: what the smallest order itself is expected to save against home; below 0 it costs so much.
        weeks: until it is on the shelf, on average.
        sales_worth_minor: what the sales of those weeks are worth for the larger order; None where the rate
            is taken as known.
        defect_rate: the fraction expected to be bad.
        most_defects: the fraction above which the larger order saves nothing; None where there is none.
        lead_days: the days expected.
        most_days: the days above which the larger order saves nothing; None where there are none.
        left_at_home: the colours that the smallest order does not hold.
    """

    offer_name: str
    quantity: int
    larger_quantity: int
    saving_minor: float
    weeks: int
    sales_worth_minor: float | None
    defect_rate: float
    most_defects: float | None
    lead_days: float
    most_days: float | None
    left_at_home: tuple[str, ...] = ()

    @property
    def is_smaller(self) -> bool:
        """Whether there is a smaller order to try at all."""
        return self.quantity < self.larger_quantity


def waiting_values(bulk: Bulk, focus: Alternative) -> tuple[Waiting, ...]:
    """Return what some weeks of sales are worth before deciding; nothing where the rate is taken as known."""
    return _worth_of(bulk, focus, [each for each in LOOKING_WEEKS if each < bulk.study.weeks])


def trial_order(lever: Lever, swings: tuple[Swing, ...], smallest: Bulk | None = None) -> TrialOrder | None:
    """Return the smallest order as a trial of that of the lever; None where nothing is to be tried.

    ``smallest`` is the same offer in the colours of its smallest order, where those are fewer.
    What knowing days and quality is worth is not said: no belief about either is in a study, only what it
    would take for the larger order to save nothing.

    Source: the value of the sales seen is that of waiting as long (see ``waiting``); the rest is our own rule.
    """
    bulk, focus = lever.bulk, lever.held
    tried = smallest or bulk
    least = tried.curve.allowed().up(1)
    if bulk.domestic_minor is None or not focus.quantity or least is None:
        return None
    flips = {swing.assumption: swing.flips_at for swing in swings}
    offer, weeks = bulk.curve.offer, max(1, weeks_until(bulk.curve.lead_days))
    worth = _worth_of(bulk, focus, [weeks]) if weeks < bulk.study.weeks else ()
    return TrialOrder(
        offer_name=offer.name,
        quantity=least,
        larger_quantity=focus.quantity,
        saving_minor=tried.expected_saving(assortment_for(tried, least), least),
        weeks=weeks,
        sales_worth_minor=worth[0].value if worth else None,
        defect_rate=float(offer.quote.defects.rate),
        most_defects=most_defects(lever),
        lead_days=bulk.curve.lead_days,
        most_days=flips.get(LEAD_TIME),
        left_at_home=tried.left_at_home,
    )


def _worth_of(bulk: Bulk, focus: Alternative, weeks: list[int]) -> tuple[Waiting, ...]:
    demand, study = bulk.study.demand, bulk.study
    if demand.is_rate_known or focus.quantity == 0 or bulk.domestic_minor is None:
        return ()
    quantity, good = focus.quantity, bulk.curve.good(focus.quantity)
    values = bulk.values(quantity)
    line = bulk.curve.linear_at(quantity)
    keeping = values.week_minor * focus.expected_held_weeks / good
    early = bulk.fixed_minor(quantity) - bulk.curve.total(quantity) - bulk.curve.offer.cost_per_order_minor
    left = study.weeks - float(bulk.arrival.sum()) / len(bulk.arrival)
    if left < 1:
        return ()
    try:
        order = OneOrder(
            domestic_cost=bulk.domestic_minor,
            overseas_cost=line.unit_minor + keeping + early / good,
            salvage=values.left_minor,
            fixed_cost=bulk.curve.offer.cost_per_order_minor + line.fixed_minor,
            weeks=left,
        )
        rate = demand.rate
        if bulk.left_at_home:
            rate = GammaRate(rate.shape, rate.rate / bulk.demand_share)
        return value_of_waiting(order, rate, weeks)
    except ValueProblem:
        # Too many pieces to sum over every count: then a few weeks tell next to nothing new either.
        return ()

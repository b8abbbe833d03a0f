"""Why one order now does not save what a year of orders under the same offer costs less than home."""

from __future__ import annotations

from dataclasses import dataclass

from ledger.sourcing.alternatives import Alternative
from ledger.sourcing.bulk import left_minor
from ledger.sourcing.demand import WEEKS_PER_YEAR
from ledger.sourcing.offer_plan import OfferPlan
from ledger.sourcing.study import Study


@dataclass(frozen=True)
class YearBridge:
    """From the year in all to what one order saves; minor units, adding up exactly.

    Attributes:
        yearly: what the horizon costs less with orders again and again than at home; below 0 it costs more.
        left_over: lost on the pieces that one order leaves over.
        not_served: forgone on the pieces of the horizon's demand that the order does not serve: asked for
            before it arrives, beyond it, or served from stock.
        rest: everything else, either way: another quantity's cost, the shelf, the payments.
        saving: what the order saves.
        pieces_left: the pieces left over.
        pieces_not_served: the pieces not served.
    """

    yearly: float
    left_over: float
    not_served: float
    rest: float
    saving: float
    pieces_left: float
    pieces_not_served: float


def year_bridge(study: Study, home: OfferPlan, far: OfferPlan, held: Alternative) -> YearBridge | None:
    """Return the bridge for one order under an offer from afar; None where either has no year.

    Source: our own rule.
    """
    if home.annual is None or far.annual is None or not held.quantity or held.landed_unit_minor is None:
        return None
    years = study.weeks / WEEKS_PER_YEAR
    yearly = (home.annual.total - far.annual.total) * years
    fetched = left_minor(study.money.salvage_fraction, held.landed_unit_minor, home.cost_per_unit_minor)
    left_over = held.expected_left * (held.landed_unit_minor - fetched)
    not_served = max(0.0, study.demand.per_year * years - held.expected_used)
    forgone = not_served * (home.annual.total - far.annual.total) / study.demand.per_year
    return YearBridge(
        yearly=yearly,
        left_over=left_over,
        not_served=forgone,
        rest=held.expected_saving - (yearly - left_over - forgone),
        saving=held.expected_saving,
        pieces_left=held.expected_left,
        pieces_not_served=not_served,
    )

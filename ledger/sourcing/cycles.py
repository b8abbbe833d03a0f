"""Repeat orders under an offer: demand while each is on its way, and the reorder point that serves it.

Lead times are drawn for each order and pushed through the closures of its own date; an order never
arrives before an earlier one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ledger.sourcing.demand import DAYS_PER_WEEK, Demand
from ledger.sourcing.futures import Futures
from ledger.sourcing.lead_time import LeadTimes, arrivals_in_order
from ledger.sourcing.reorder import LeadDemand, demand_over_lead_time, reorder_point, z_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Numbers = NDArray[np.int64]

MOST_ORDERS = 6
"""How many orders after one another are followed in each future."""

MOST_FUTURES = 2000


@dataclass(frozen=True)
class Reordering:
    """When to reorder under an offer; pieces, sums over the sizes.

    Attributes:
        reorder_at: the stock at which to order, by the simulated quantile of every size.
        mean_on_the_way: mean demand while an order is under way.
        short_per_cycle: pieces short of stock in one order cycle, on average.
        formula_reorder_at: what the formula on a normal tail says, for comparison.
        service: the simulated chance that no size runs short, by size weighted with its share.
        formula_service: the same chance at the formula's reorder point.
    """

    reorder_at: float
    mean_on_the_way: float
    short_per_cycle: float
    formula_reorder_at: float
    service: float
    formula_service: float

    @property
    def safety_stock(self) -> float:
        """The reorder point less mean demand on the way."""
        return self.reorder_at - self.mean_on_the_way

    @property
    def formula_safety_stock(self) -> float:
        """The formula's reorder point less mean demand on the way."""
        return self.formula_reorder_at - self.mean_on_the_way


def reordering(futures: Futures, lead: LeadTimes, order_quantity: float, service_level: float) -> Reordering:
    """Return the reorder point under an offer, from simulated cycles and from the formula.

    Source: simulated quantiles because the normal tail fails where lead times vary (Chopra, Reinhardt &
    Dada, Decision Sciences 35(1), 2004); the formula as in ``reorder.demand_over_lead_time``.
    """
    demand = futures.demand
    if demand.is_certain and lead.is_certain:
        mean = demand.per_week * lead.mean_total() / DAYS_PER_WEEK
        return Reordering(mean, mean, 0.0, mean, 1.0, 1.0)
    days = _lead_days(futures, lead, order_quantity)
    return _from_draws(futures, days, service_level)


def _lead_days(futures: Futures, lead: LeadTimes, order_quantity: float) -> Floats:
    """Return by future and order the days each takes, waiting for earlier ones included."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    count = min(futures.count, MOST_FUTURES)
    expected = futures.demand.per_week * futures.weeks / order_quantity
    orders = max(1, min(MOST_ORDERS, math.ceil(expected)))
    every = futures.demand.per_week
    gap_days = order_quantity / every * DAYS_PER_WEEK
    placed = np.repeat(np.arange(orders)[np.newaxis, :] * gap_days, count, axis=0)
    stream = futures.cycle_stream()
    chances = np.clip(stream.random((count, orders)), 1e-12, 1 - 1e-12)
    days = lead.days(chances.ravel(), placed.ravel()).reshape(count, orders)
    found: Floats = arrivals_in_order(placed, days) - placed
    return found


def _from_draws(futures: Futures, days: Floats, service_level: float) -> Reordering:
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    demand = futures.demand
    weeks = days / DAYS_PER_WEEK
    asked = _demand_over(futures, weeks)
    at = np.array([_quantile(asked[:, place], service_level) for place in range(asked.shape[1])])
    formula = formula_by_size(demand, weeks)
    z = z_of(service_level)
    by_formula = np.array([reorder_point(each, z) for each in formula])
    shares = np.array([size.share for size in demand.sizes])
    return Reordering(
        reorder_at=float(at.sum()),
        mean_on_the_way=float(asked.sum()) / len(asked),
        short_per_cycle=float(np.maximum(asked - at, 0).sum()) / len(asked),
        formula_reorder_at=float(by_formula.sum()),
        service=float(((asked <= at) * shares).sum()) / len(asked),
        formula_service=float(((asked <= by_formula) * shares).sum()) / len(asked),
    )


def _quantile(values: Floats, chance: float) -> float:
    """Return the smallest of the values that is not exceeded with the chance."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    ordered = np.sort(values)
    return float(ordered[max(0, math.ceil(chance * len(ordered) - 1e-9) - 1)])


def _demand_over(futures: Futures, weeks: Floats) -> Floats:
    """Return demand over times of so many weeks, a row for each time and a column for each size."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    demand, flat = futures.demand, weeks.ravel()
    rates = np.repeat(futures.rates[: len(weeks)], weeks.shape[1])
    shares = np.array([size.share for size in demand.sizes])
    # The same generator went through the lead times: a child of the stream keeps both apart.
    stream = futures.cycle_stream().spawn(1)[0]
    means = rates * flat
    if demand.weekly_sd is not None:
        if demand.weekly_sd == 0:
            exact: Floats = means[:, np.newaxis] * shares
            return exact
        shape = (demand.per_week / demand.weekly_sd) ** 2 * np.maximum(flat, 1e-9)
        total = stream.standard_gamma(shape) * demand.weekly_sd**2 / demand.per_week
        whole: Floats = total[:, np.newaxis] * shares
        return whole
    if demand.weekly_variation > 0:
        shape = np.maximum(flat, 1e-9) / demand.weekly_variation
        means = means * stream.standard_gamma(shape) / shape
    found: Floats = stream.poisson(means[:, np.newaxis] * shares).astype(float)
    return found


def formula_by_size(demand: Demand, weeks: Floats) -> tuple[LeadDemand, ...]:
    """Return mean and standard deviation of each size's demand over the lead time, by the formula."""
    mean_lead = float(weeks.sum()) / weeks.size
    lead_sd = math.sqrt(float(((weeks - mean_lead) ** 2).sum()) / weeks.size)
    total, week_sd = demand.per_week, demand.week_sd
    found = []
    for size in demand.sizes:
        mean = total * size.share
        # Part of the weeks' variation is common to all sizes; the rest is counting pieces.
        common = week_sd**2 - total if demand.weekly_sd is None else week_sd**2
        counting = mean if demand.weekly_sd is None else 0.0
        sd = math.sqrt(max(0.0, common) * size.share**2 + counting)
        over = demand_over_lead_time(mean, sd, mean_lead, lead_sd)
        doubt = 0.0 if demand.is_rate_known else mean * mean_lead / math.sqrt(demand.rate.shape)
        found.append(LeadDemand(over.mean, math.hypot(over.sd, doubt)))
    return tuple(found)

"""The three alternatives: all at home, all in one bulk from afar, and the certain part from afar with top-ups.

All are held against the same futures; the saving is always against buying everything at home.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ledger.sourcing.bulk import Bulk, assortment_for
from ledger.sourcing.futures import Futures
from ledger.sourcing.offer_plan import payments, weeks_until
from ledger.sourcing.simulate import CashPlan, Order, Outcomes, outcomes

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Numbers = NDArray[np.int64]

DOMESTIC, BULK, BASE = "domestic", "bulk", "base and top-up"
WORST_PART = 10
"""The worst tenth: one future of ten."""


@dataclass(frozen=True)
class Alternative:
    """One alternative, held against the same futures as the others; money in minor units.

    ``quantities`` are by size; ``savings`` by future. ``payback_weeks`` is the median, None where the
    cash does not come back in half of the futures within the horizon. ``left_at_home`` names colours that
    are bought at home entirely; ``topped_up`` is how many of each size are expected to be bought at home
    within the horizon.
    """

    name: str
    offer_name: str
    quantities: tuple[int, ...]
    quantity: int
    expected_saving: float
    standard_error: float
    probability_cheaper: float | None
    worst_tenth: float
    expected_used: float
    expected_left: float
    expected_held_weeks: float
    weeks_of_cover: float
    cash_peak: float
    payback_weeks: int | None
    cost_per_unit_sold: float | None
    savings: Floats | None = None
    landed_unit_minor: float | None = None
    left_at_home: tuple[str, ...] = ()
    topped_up: tuple[float, ...] = ()


def evaluate(bulk: Bulk, futures: Futures, name: str, quantity: int) -> Alternative:
    """Return an alternative with so many pieces from afar, held against every future."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    if quantity == 0:
        return nothing_from_afar(name, bulk.curve.offer.name, futures.sizes)
    covers = name == BULK and bulk.domestic_minor is not None and not bulk.curve.offer.quote.quantity
    split = assortment_for(bulk, quantity, by_chance=covers).quantities(quantity)
    order = Order(split, float(bulk.curve.offer.quote.defects.rate), bulk.arrival)
    values = bulk.values(quantity)
    found = outcomes(futures, order, cash_plan(bulk, quantity, values.used_minor))
    savings = (
        values.used_minor * found.used + values.left_minor * found.left - values.week_minor * found.held_weeks
    ) - bulk.fixed_minor(quantity)
    return _summary(bulk, name, split, found, np.asarray(savings, dtype=float))


def cash_plan(bulk: Bulk, quantity: int, saved_minor: float) -> CashPlan:
    """Return the payments of an order by week; what is due on arrival waits for it in each future."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    paid, weeks = [bulk.curve.offer.cost_per_order_minor], [np.zeros_like(bulk.arrival)]
    for payment in payments(bulk.curve, quantity):
        paid.append(payment.amount_minor)
        if payment.days_before_arrival <= 0:
            weeks.append(bulk.arrival)
        else:
            weeks.append(np.full_like(bulk.arrival, weeks_until(payment.days_after_order)))
    return CashPlan(tuple(paid), tuple(weeks), saved_minor)


def _summary(bulk: Bulk, name: str, split: Numbers, found: Outcomes, savings: Floats) -> Alternative:
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    count = len(savings)
    mean = float(savings.sum()) / count
    variance = float(((savings - mean) ** 2).sum()) / max(1, count - 1)
    worst = np.sort(savings)[: max(1, count // WORST_PART)]
    quantity = int(split.sum())
    used, left = float(found.used.sum()) / count, float(found.left.sum()) / count
    back = np.sort(np.where(found.payback_week < 0, np.iinfo(np.int64).max, found.payback_week))
    median = int(back[(count - 1) // 2])
    values, cost = bulk.values(quantity), bulk.curve.total(quantity) + bulk.curve.offer.cost_per_order_minor
    per_week = bulk.study.demand.per_week * bulk.demand_share
    return Alternative(
        name=name,
        offer_name=bulk.curve.offer.name,
        quantities=tuple(int(each) for each in split),
        quantity=quantity,
        expected_saving=mean,
        standard_error=(variance / count) ** 0.5,
        probability_cheaper=float((savings > 0).sum()) / count,
        worst_tenth=float(worst.sum()) / len(worst),
        expected_used=used,
        expected_left=left,
        expected_held_weeks=float(found.held_weeks.sum()) / count,
        weeks_of_cover=bulk.curve.good(quantity) / per_week,
        cash_peak=float(found.cash_peak_minor.max(initial=0.0)),
        payback_weeks=None if median == np.iinfo(np.int64).max else median,
        cost_per_unit_sold=(cost - values.left_minor * left) / used if used else None,
        savings=savings,
        landed_unit_minor=bulk.curve.unit(quantity),
        left_at_home=bulk.left_at_home,
    )


def nothing_from_afar(name: str, offer_name: str, sizes: int) -> Alternative:
    """Return the alternative of buying everything at home: no saving, no risk, nothing tied up."""
    return Alternative(
        name, offer_name, (0,) * sizes, 0, 0.0, 0.0, None, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, None, None
    )  # fmt: skip


def paired_error(first: Alternative, second: Alternative) -> float:
    """Return the standard error of the difference of two alternatives' savings on the same futures."""
    if first.savings is None and second.savings is None:
        return 0.0
    if first.savings is None or second.savings is None:
        return max(first.standard_error, second.standard_error)
    difference = first.savings - second.savings
    count = len(difference)
    mean = float(difference.sum()) / count
    return float((float(((difference - mean) ** 2).sum()) / max(1, count - 1) / count) ** 0.5)

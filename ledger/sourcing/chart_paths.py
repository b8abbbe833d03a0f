"""How cash and stock of one order go from week to week: a band over the futures, counted some at a time.

A week's values are counted in a table, so that memory depends on the order and the weeks and not on how
many futures there are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ledger.sourcing.alternatives import Alternative, cash_plan
from ledger.sourcing.bulk import Bulk
from ledger.sourcing.chart_data import name_of, source_of, subject
from ledger.sourcing.decide import Decision
from ledger.sourcing.futures import Chunk, Futures
from ledger.sourcing.simulate import used_after_arrival

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Numbers = NDArray[np.int64]

LOW, MIDDLE, HIGH = 0.1, 0.5, 0.9
"""The band: one future in ten lies below it, one in ten above; and the middle future."""

MOST_COLUMNS = 4000
"""Up to so many pieces each count stands by itself; of larger orders neighbouring counts stand together."""


@dataclass(frozen=True)
class Band:
    """For each week from 0 (now) on: what one, five and nine of ten futures lie at or below."""

    low: tuple[float, ...]
    middle: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True)
class CashChart:
    """What the order has saved so far less what was paid for it, in minor units, at the start of each week.

    A bill of a week is paid before that week's pieces save anything. ``deepest_minor`` is the lowest point
    of any future, ``limit_minor`` the owner's for cash tied up, ``payback_weeks`` that of the table.
    """

    name: str
    offer: str
    quantity: int
    band: Band
    deepest_minor: float
    limit_minor: float | None
    payback_weeks: int | None


@dataclass(frozen=True)
class ArrivalSpread:
    """The week in which the order is there: of one, five and nine of ten futures at the latest."""

    low: int
    middle: int
    high: int


@dataclass(frozen=True)
class StockChart:
    """Pieces of one size on the shelf, now and at the end of each week.

    ``ordered`` is how many of it come; what the shelf lacks is bought at home as it is asked for.
    ``expected_left`` is how many of those that come are left at the end, on average.
    """

    name: str
    offer: str
    size: str
    on_hand: int
    ordered: int
    band: Band
    arrival: ArrivalSpread
    expected_left: float


def cash_chart(decision: Decision, futures: Futures) -> CashChart | None:
    """Return the cash of the decision's subject over time; None where there is no order to show."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    held, plan = subject(decision), decision.bulk_plan
    if held is None or plan is None:
        return None
    bulk = source_of(decision, plan, futures)
    saved = bulk.used_minor(held.quantity)
    table, step = _used_by_week(bulk, held, futures)
    paid, on_arrival = _paid(bulk, held, futures.weeks)
    places = np.arange(table.shape[2]) * step
    # The axes: week, whether the order is there, pieces used.
    values = saved * places[np.newaxis, np.newaxis, :] - paid[:, np.newaxis, np.newaxis]
    values = values - np.array([0.0, on_arrival])[np.newaxis, :, np.newaxis]
    flat = (futures.weeks + 1, -1)
    deepest = float(np.min(values, where=table > 0, initial=0.0))
    return CashChart(
        name_of(decision, held),
        held.offer_name,
        held.quantity,
        _band(values.reshape(flat), table.reshape(flat)),
        deepest,
        decision.study.limits.cash_minor,
        held.payback_weeks,
    )


def _paid(bulk: Bulk, held: Alternative, weeks: int) -> tuple[Floats, float]:
    """Return what is paid by the start of each week whatever happens, and what more on arrival."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    plan = cash_plan(bulk, held.quantity, 0.0)
    week = np.minimum(np.arange(weeks + 1), weeks - 1)
    fixed, on_arrival = np.zeros(weeks + 1), 0.0
    for amount, when in zip(plan.paid_minor, plan.paid_weeks, strict=True):
        if when is bulk.arrival:
            on_arrival += amount
        else:
            fixed += amount * (week >= when[0])
    return fixed, on_arrival


def _used_by_week(bulk: Bulk, held: Alternative, futures: Futures) -> tuple[Numbers, int]:
    """Return futures counted by week, whether the order is there, and pieces used before it; and their step."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    step = max(1, math.ceil((held.quantity + 1) / MOST_COLUMNS))
    table = _Table(futures.weeks + 1, 2, held.quantity // step + 1)
    for chunk in futures.chunks():
        arrival = bulk.arrival[chunk.part]
        asked, _ = _used(bulk, held, futures, chunk)
        used = np.zeros((chunk.count, futures.weeks + 1), dtype=np.int64)
        used[:, 1:] = asked.sum(axis=2)
        table.add(_is_there(arrival, futures.weeks, shift=0), used // step)
    return table.counts, step


def _used(bulk: Bulk, held: Alternative, futures: Futures, chunk: Chunk) -> tuple[Numbers, Numbers]:
    """Return the pieces of the order used by the end of each week, by size; and those that are good."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    good = futures.good_pieces(
        chunk, np.array(held.quantities, dtype=np.int64), float(bulk.curve.offer.quote.defects.rate)
    )
    asked = used_after_arrival(futures, chunk, bulk.arrival[chunk.part])
    return np.minimum(asked, good[:, np.newaxis, :], out=asked), good


def _is_there(arrival: Numbers, weeks: int, shift: int) -> Numbers:
    """Return for each future and week whether the order has come by its start (or, shifted, before it)."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    week = np.minimum(np.arange(weeks + 1) - shift, weeks - 1)
    found: Numbers = (arrival[:, np.newaxis] <= week[np.newaxis, :]).astype(np.int64)
    return found


class _Table:
    """Counts of futures by week, state and pieces."""

    def __init__(self, weeks: int, states: int, columns: int) -> None:
        import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

        self.counts: Numbers = np.zeros((weeks, states, columns), dtype=np.int64)

    def add(self, states: Numbers, pieces: Numbers) -> None:
        """Count some futures: the state and the pieces of each week."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

        weeks, kinds, columns = self.counts.shape
        place = (np.arange(weeks)[np.newaxis, :] * kinds + states) * columns + pieces
        found = np.bincount(place.ravel(), minlength=self.counts.size)
        self.counts += found.reshape(self.counts.shape)


def _band(values: Floats, counts: Numbers) -> Band:
    """Return the band of each row's values, each counted so many times."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    order = np.argsort(values, axis=1, kind="stable")
    sorted_values = np.take_along_axis(values, order, axis=1)
    upto = np.cumsum(np.take_along_axis(counts, order, axis=1), axis=1)
    rows = np.arange(len(values))

    def at(chance: float) -> tuple[float, ...]:
        wanted = np.ceil(chance * upto[:, -1:] - 1e-9)
        return tuple(float(each) for each in sorted_values[rows, (upto >= wanted).argmax(axis=1)])

    return Band(at(LOW), at(MIDDLE), at(HIGH))


def main_size(held: Alternative) -> int:
    """Return the place of the size of which an order has most pieces; the first of equals."""
    return max(range(len(held.quantities)), key=lambda place: (held.quantities[place], -place))


def stock_chart(decision: Decision, futures: Futures, size: int | None = None) -> StockChart | None:
    """Return the stock of one size over time under the decision's subject; None without an order.

    ``size`` is its place among the study's sizes; None for that of which most are ordered.
    """
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    held, plan = subject(decision), decision.bulk_plan
    if held is None or plan is None:
        return None
    bulk = source_of(decision, plan, futures)
    place = main_size(held) if size is None else size
    own = decision.study.demand.sizes[place]
    step = max(1, math.ceil((own.on_hand + held.quantities[place] + 1) / MOST_COLUMNS))
    table = _Table(futures.weeks + 1, 1, (own.on_hand + held.quantities[place]) // step + 1)
    left = 0
    for chunk in futures.chunks():
        asked, good = _used(bulk, held, futures, chunk)
        level = np.full((chunk.count, futures.weeks + 1), own.on_hand, dtype=np.int64)
        level[:, 1:] = np.maximum(own.on_hand - chunk.cumulative[:, :, place], 0)
        there = _is_there(bulk.arrival[chunk.part], futures.weeks, shift=1)
        level[:, 1:] += there[:, 1:] * (good[:, place, np.newaxis] - asked[:, :, place])
        table.add(np.zeros_like(level), level // step)
        left += int((good[:, place] - asked[:, -1, place]).sum())
    values = np.broadcast_to(np.arange(table.counts.shape[2]) * float(step), table.counts[:, 0].shape)
    return StockChart(
        name=name_of(decision, held),
        offer=held.offer_name,
        size=own.name,
        on_hand=own.on_hand,
        ordered=held.quantities[place],
        band=_band(values, table.counts[:, 0]),
        arrival=_arrival(bulk.arrival),
        expected_left=left / futures.count,
    )


def _arrival(weeks: Numbers) -> ArrivalSpread:
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    found, count = np.sort(weeks), len(weeks)
    low, middle, high = (
        int(found[max(0, math.ceil(chance * count - 1e-9) - 1)]) for chance in (LOW, MIDDLE, HIGH)
    )
    return ArrivalSpread(low, middle, high)

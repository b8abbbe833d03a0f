"""What simulated futures say about pieces that arrive: how many are used, how long each lies, what is left.

Costs stand elsewhere: these are counts and times, exact whole numbers until they are divided once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ledger.sourcing.futures import Chunk, Futures

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Numbers = NDArray[np.int64]


@dataclass(frozen=True)
class UnitCurves:
    """For the n-th piece of each size that arrives: how likely it is used, how many weeks it lies.

    Both arrays have a row for each size and a column for n = 1, 2, …; ``used`` never rises with n and
    ``held_weeks`` never falls. ``full_weeks`` is how long a piece lies that is never used.
    """

    used: Floats
    held_weeks: Floats
    full_weeks: Floats

    def padded(self, columns: int) -> UnitCurves:
        """Return the curves with further pieces that no future uses."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

        more = columns - self.used.shape[1]
        if more <= 0:
            return self
        held = np.repeat(self.full_weeks[:, np.newaxis], more, axis=1)
        return UnitCurves(
            np.pad(self.used, ((0, 0), (0, more))),
            np.concatenate((self.held_weeks, held), axis=1),
            self.full_weeks,
        )


class _Counter:
    """Counts of (size, pieces used so far) over futures, and over futures and weeks."""

    def __init__(self, sizes: int) -> None:
        import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

        self.at_the_end: Numbers = np.zeros((sizes, 1), dtype=np.int64)
        self.by_week: Numbers = np.zeros((sizes, 1), dtype=np.int64)
        self.weeks: Numbers = np.zeros(sizes, dtype=np.int64)

    def add(self, used: Numbers, arrival: Numbers, out_of_use: Numbers | None) -> None:
        """Count a chunk; ``used`` is changed: its cells become places in the table."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

        _, weeks, sizes = used.shape
        width = int(used[:, -1].max(initial=0)) + 1
        place = np.arange(sizes, dtype=np.int64) * width
        used += place
        last = used[:, -1].ravel()
        ends = np.bincount(last, minlength=sizes * width)
        every = np.bincount(used.ravel(), minlength=sizes * width)
        if out_of_use is None:
            self.weeks += int(np.maximum(weeks - arrival, 0).sum())
        else:
            # A size that is out of use no longer lies on the shelf: those weeks do not count.
            gone = (weeks - out_of_use).ravel()
            every = every - np.bincount(last, weights=gone, minlength=sizes * width).astype(np.int64)
            self.weeks += np.maximum(out_of_use - arrival[:, np.newaxis], 0).sum(axis=0)
        self.at_the_end = _added(self.at_the_end, ends.reshape(sizes, width))
        self.by_week = _added(self.by_week, every.reshape(sizes, width))

    def curves(self, futures: int) -> UnitCurves:
        """Return the counts as chances and weeks."""
        at_least_at_end = _at_least(self.at_the_end)
        at_least_by_week = _at_least(self.by_week)
        # A piece lies through the weeks in which fewer are used; in its own week for half of it.
        held = self.weeks[:, None] - at_least_by_week + at_least_at_end / 2
        return UnitCurves(at_least_at_end / futures, held / futures, self.weeks / futures)


def _added(first: Numbers, second: Numbers) -> Numbers:
    """Return the sum of two tables of as many rows, the narrower one widened."""
    if first.shape[1] < second.shape[1]:
        first, second = second.copy(), first
    first[:, : second.shape[1]] += second
    return first


def _at_least(counts: Numbers) -> Numbers:
    """Return how many are at least 1, 2, … from how many are 0, 1, 2, …; one column for 1 at least."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    found: Numbers = np.cumsum(counts[:, ::-1], axis=1)[:, ::-1][:, 1:]
    return found if found.shape[1] else np.zeros((counts.shape[0], 1), dtype=np.int64)


def used_after_arrival(futures: Futures, chunk: Chunk, arrival: Numbers) -> Numbers:
    """Return cumulative demand that falls to pieces arriving at the start of the week ``arrival``.

    What is asked for before is bought at home; what is on hand is used first.
    """
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    rows = np.arange(chunk.count)
    before = chunk.cumulative[rows, np.clip(arrival - 1, 0, futures.weeks - 1)]
    before = np.where((arrival > 0)[:, np.newaxis], before, 0)
    on_hand = np.array([size.on_hand for size in futures.demand.sizes], dtype=np.int64)
    if on_hand.any():
        before = np.maximum(before, on_hand)
    used: Numbers = chunk.cumulative - before[:, np.newaxis, :]
    np.maximum(used, 0, out=used)
    return used


def unit_curves(futures: Futures, arrivals: Sequence[Numbers]) -> list[UnitCurves]:
    """Return the curves of every offer, for all quantities at once, in one pass over the futures.

    ``arrivals`` holds for each offer the week of arrival in each future.
    """
    counters = [_Counter(futures.sizes) for _ in arrivals]
    for chunk in futures.chunks():
        for counter, arrival in zip(counters, arrivals, strict=True):
            own = arrival[chunk.part]
            counter.add(used_after_arrival(futures, chunk, own), own, chunk.out_of_use)
    return [counter.curves(futures.count) for counter in counters]


def asked_by_size(futures: Futures) -> tuple[float, ...]:
    """Return how many of each size are asked for beyond the stock on hand within the horizon, on average."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    on_hand = np.array([size.on_hand for size in futures.demand.sizes], dtype=np.int64)
    total = np.zeros(futures.sizes)
    for chunk in futures.chunks():
        total += np.maximum(chunk.cumulative[:, -1] - on_hand, 0).sum(axis=0)
    return tuple(float(each) / futures.count for each in total)


@dataclass(frozen=True)
class Order:
    """What is ordered of each size, the fraction that is bad, and the week of arrival by future."""

    quantities: Numbers
    defect_rate: float
    arrival: Numbers


@dataclass(frozen=True)
class CashPlan:
    """What is paid in which week (one amount for all futures), and what a piece used saves; money in minor units."""

    paid_minor: tuple[float, ...]
    paid_weeks: tuple[Numbers, ...]
    saved_per_piece_minor: float


@dataclass(frozen=True)
class Outcomes:
    """By future: pieces used and left, weeks that pieces lay, the deepest cash hole, the week it is closed.

    ``payback_week`` is -1 where the cash never comes back within the horizon; week 1 is the first.
    """

    used: Numbers
    left: Numbers
    held_weeks: Floats
    cash_peak_minor: Floats
    payback_week: Numbers


def outcomes(futures: Futures, order: Order, cash: CashPlan) -> Outcomes:
    """Return what becomes of one order in every future."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    parts = [_outcome(futures, chunk, order, cash) for chunk in futures.chunks()]
    return Outcomes(
        *(
            np.concatenate([getattr(part, name) for part in parts])
            for name in ("used", "left", "held_weeks", "cash_peak_minor", "payback_week")
        )
    )


def _outcome(futures: Futures, chunk: Chunk, order: Order, cash: CashPlan) -> Outcomes:
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    arrival = order.arrival[chunk.part]
    good = futures.good_pieces(chunk, order.quantities, order.defect_rate)
    asked = used_after_arrival(futures, chunk, arrival)
    np.minimum(asked, good[:, np.newaxis, :], out=asked)
    by_size = good - asked[:, -1]
    used = asked.sum(axis=2)
    weeks_there = np.maximum(futures.weeks - arrival, 0)
    # Before arrival nothing is used, so the sum over all weeks is that over the weeks of lying.
    held = good.sum(axis=1) * weeks_there - used.sum(axis=1) + used[:, -1] / 2
    if chunk.out_of_use is not None:
        gone = np.minimum(futures.weeks - chunk.out_of_use, weeks_there[:, np.newaxis])
        held = held - (by_size * gone).sum(axis=1)
    peak, payback = _cash(futures, chunk, used, cash)
    return Outcomes(used[:, -1], by_size.sum(axis=1), held, peak, payback)


def _cash(futures: Futures, chunk: Chunk, used: Numbers, cash: CashPlan) -> tuple[Floats, Numbers]:
    """Return the deepest point of each future's cash path against buying at home, and when it is made good."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    if not cash.paid_minor:
        return np.zeros(chunk.count), np.ones(chunk.count, dtype=np.int64)
    week = np.arange(futures.weeks)[np.newaxis, :]
    path = used * cash.saved_per_piece_minor
    # A bill of a week is paid before that week's pieces save anything.
    before = np.concatenate((np.zeros((chunk.count, 1)), path[:, :-1]), axis=1)
    paid = np.zeros_like(path)
    for amount, when in zip(cash.paid_minor, cash.paid_weeks, strict=True):
        paid += amount * (week >= when[chunk.part][:, np.newaxis])
    peak = np.maximum((paid - before).max(axis=1), 0.0)
    total = sum(cash.paid_minor)
    back = (path >= total) & (paid >= total - 1e-6)
    first = np.where(back.any(axis=1), back.argmax(axis=1) + 1, -1)
    return peak, first

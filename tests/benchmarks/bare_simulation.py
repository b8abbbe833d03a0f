"""The yardstick of the buying simulation: the bare numpy arithmetic, without costs, checks or bookkeeping.

What any simulation of these alternatives has to do at least: draw a rate and the sizes' shares, draw
demand week by week, add it up; for each offer take off what came before its arrival and count how
many pieces of each size are used by each week; for two order quantities, what each future uses.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

FUTURES_AT_ONCE = 128


@dataclass(frozen=True)
class BareShape:
    """Futures, weeks, sizes and colours, and the week in which each offer arrives."""

    futures: int = 10_000
    weeks: int = 104
    sizes: int = 24
    arrivals: tuple[int, ...] = (5, 7, 8, 10)
    weekly: float = 13.85


def bare(shape: BareShape, seed: int = 1) -> list[np.ndarray]:
    """Return the counts, so that nothing can be left out."""
    stream = np.random.default_rng(seed)
    quantities = np.full(shape.sizes, 25)
    counts = [np.zeros((shape.sizes, 2_000), dtype=np.int64) for _ in shape.arrivals]
    found: list[np.ndarray] = []
    for first in range(0, shape.futures, FUTURES_AT_ONCE):
        count = min(FUTURES_AT_ONCE, shape.futures - first)
        rates = stream.gamma(60, shape.weekly / 60, (count, 1))
        shares = stream.dirichlet(np.full(shape.sizes, 60 / shape.sizes), count)
        means = np.broadcast_to((rates * shares)[:, None, :], (count, shape.weeks, shape.sizes))
        demand = stream.poisson(means)
        cumulative = np.cumsum(demand, axis=1, out=demand)
        for place, arrival in enumerate(shape.arrivals):
            used = np.maximum(cumulative - cumulative[:, arrival - 1][:, None, :], 0)
            width = int(used[:, -1].max()) + 1
            used += np.arange(shape.sizes) * width
            counted = np.bincount(used.ravel(), minlength=shape.sizes * width).reshape(shape.sizes, width)
            counts[place][:, :width] += counted
        for _ in range(2):
            used = np.maximum(cumulative - cumulative[:, shape.arrivals[0] - 1][:, None, :], 0)
            by_week = np.minimum(used, quantities).sum(axis=2)
            found.append(by_week[:, -1])
    return [*counts, np.concatenate(found)]

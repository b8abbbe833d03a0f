"""Quantiles and stratified draws, without a statistics library: gamma, negative binomial, lognormal.

Every function gives the same digits for the same seed: sums run in one fixed order and no matrix
library is asked.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

GRID_POINTS = 8001
_TAIL = 45.0
"""How many natural logarithms below its peak the density is followed."""


def gamma_quantiles(shape: float, chances: Floats) -> Floats:
    """Return the quantiles of a gamma distribution with scale 1 at chances between 0 and 1.

    The density of the logarithm is smooth for every shape; it is summed by trapezoids.

    >>> import numpy as np
    >>> [round(float(each), 3) for each in gamma_quantiles(1.0, np.array([0.5, 0.9]))]
    [0.693, 2.303]
    """
    import numpy as np  # noqa: PLC0415  (slow, and only needed where something is uncertain)

    peak = math.log(shape)
    # Below the peak the density of y = ln x falls no faster than e^(shape y), above like e^(-e^y).
    low = peak - max(_TAIL / shape, 12 / math.sqrt(shape))
    high = math.log(shape + 12 * math.sqrt(shape) + _TAIL)
    logs = np.linspace(low, high, GRID_POINTS)
    density = np.exp(shape * (logs - peak) - (np.exp(logs) - shape))
    pieces = (density[1:] + density[:-1]) / 2
    cumulative = np.concatenate(([0.0], np.cumsum(pieces)))
    cumulative /= cumulative[-1]
    found: Floats = np.exp(np.interp(chances, cumulative, logs))
    return found


def lognormal_quantiles(mean: float, sd: float, chances: Floats) -> Floats:
    """Return quantiles of a lognormal distribution of that mean and standard deviation.

    Source: moments of the lognormal distribution; for lead times because delay is one-sided.
    """
    import numpy as np  # noqa: PLC0415  (slow, and only needed where something is uncertain)

    if sd == 0 or mean == 0:
        return np.full(len(chances), float(mean))
    spread = math.log1p((sd / mean) ** 2)
    middle = math.log(mean) - spread / 2
    inverse = NormalDist().inv_cdf
    return np.array([math.exp(middle + math.sqrt(spread) * inverse(float(each))) for each in chances])


def sample_quantiles(samples: Sequence[float], chances: Floats) -> Floats:
    """Return quantiles of what was observed, interpolated between the observations."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed where something is uncertain)

    ordered = np.sort(np.asarray(samples, dtype=float))
    if len(ordered) == 1:
        return np.full(len(chances), float(ordered[0]))
    # Each observation stands for an equal part of the chances, in the middle of it.
    places = (np.arange(len(ordered)) + 0.5) / len(ordered)
    found: Floats = np.interp(chances, places, ordered)
    return found


def stratified(count: int, stream: np.random.Generator) -> Floats:
    """Return one chance from each of ``count`` equal parts of the unit interval, in random order."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed where something is uncertain)

    parts: Floats = (stream.permutation(count) + stream.random(count)) / count
    return np.clip(parts, 1e-12, 1 - 1e-12)


def negative_binomial(shape: float, rate: float, exposure: float, most: int, first: int = 0) -> Floats:
    """Return P(X = first), …, P(X = most) of Poisson counts over an exposure whose rate is gamma.

    ``rate`` is the gamma distribution's rate: its mean is shape / rate per unit of exposure. ``first`` is
    from 0 to ``most``.

    Source: the Gamma-Poisson mixture, any textbook of Bayesian statistics.
    """
    import numpy as np  # noqa: PLC0415  (slow, and only needed where something is uncertain)

    success = exposure / (rate + exposure)
    counts = np.arange(first + 1, most + 1)
    steps = np.log((counts + shape - 1) / counts) + math.log(success) if exposure > 0 else None
    start = shape * math.log(rate / (rate + exposure))
    if steps is None:
        return np.concatenate(([0.0 if first else 1.0], np.zeros(most - first)))
    if first:
        ways = math.lgamma(first + shape) - math.lgamma(shape) - math.lgamma(first + 1)
        start += ways + first * math.log(success)
    found: Floats = np.exp(np.concatenate(([start], start + np.cumsum(steps))))
    return found


def binomial(count: int, chance: float) -> Floats:
    """Return P(X = 0), …, P(X = count) of that many trials that each succeed with a chance from 0 to 1.

    >>> binomial(2, 0.5).tolist()
    [0.25, 0.5, 0.25]

    Source: the binomial distribution, any textbook.
    """
    import numpy as np  # noqa: PLC0415  (slow, and only needed where something is uncertain)

    if chance <= 0 or chance >= 1:
        sure: Floats = np.zeros(count + 1)
        sure[count if chance >= 1 else 0] = 1.0
        return sure
    successes = np.arange(1, count + 1)
    steps = np.log((count - successes + 1) / successes) + math.log(chance) - math.log1p(-chance)
    found: Floats = np.exp(count * math.log1p(-chance) + np.concatenate(([0.0], np.cumsum(steps))))
    return found

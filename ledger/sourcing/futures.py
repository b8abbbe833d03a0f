"""Simulated futures: cumulative demand by week and size, drawn in chunks, the same for every alternative.

One seed, one stream for each uncertainty and chunk. Rates and lead times are stratified over all
futures. A future's demand is whole pieces; what is not kept in memory is drawn again when it is needed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ledger.errors import ValueProblem
from ledger.sourcing.chance import gamma_quantiles, stratified
from ledger.sourcing.demand import WEEKS_PER_YEAR, Demand

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Numbers = NDArray[np.int64]

CELLS_PER_CHUNK = 320_000
"""Futures times weeks times sizes drawn at once: a few megabytes, which fit the processor's cache."""

KEPT_BYTES = 96 * 2**20
"""Draws are kept for a second look up to this; larger ones are drawn again from the same streams."""

MOST_PIECES = 2_000_000
"""More demand within the horizon than this is not simulated piece by piece."""

_RATES, _SHARES, _WEEKS, _HAZARDS, _LEADS, _DEFECTS, _CYCLES = range(7)


@dataclass(frozen=True)
class Chunk:
    """Some futures: cumulative demand at the end of each week, and the week each size goes out of use.

    ``cumulative`` has futures, weeks and sizes as its axes. ``out_of_use`` (futures, sizes) is None where
    nothing ever does; a week beyond the last stands for never.
    """

    first: int
    cumulative: Numbers
    out_of_use: Numbers | None

    @property
    def count(self) -> int:
        """How many futures it holds."""
        return int(self.cumulative.shape[0])

    @property
    def part(self) -> slice:
        """Where its futures stand among all."""
        return slice(self.first, self.first + self.count)


class Futures:
    """Futures of one belief about demand over some weeks."""

    def __init__(self, demand: Demand, weeks: int, count: int, seed: int) -> None:
        self.demand = demand
        self.weeks = weeks
        self.seed = seed
        self.count = count
        self.sizes = len(demand.sizes)
        if demand.per_week * weeks > MOST_PIECES:
            raise ValueProblem(
                f"a demand of {demand.per_week * weeks:,.0f} pieces within the horizon is beyond what is "
                "simulated piece by piece: state demand and prices by the dozen or the case."
            )
        self.rates = self._rates()
        self._kept: list[Chunk] | None = [] if self._kept_bytes() <= KEPT_BYTES else None

    def stream(self, purpose: int, chunk: int = 0) -> np.random.Generator:
        """Return the stream of one uncertainty and chunk, always at its beginning."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed where something is drawn)

        return np.random.Generator(
            np.random.PCG64(np.random.SeedSequence(self.seed, spawn_key=(purpose, chunk)))
        )

    def lead_chances(self) -> Floats:
        """Return a stratified chance for each future's lead time; the same for every offer."""
        return stratified(self.count, self.stream(_LEADS))

    def cycle_stream(self) -> np.random.Generator:
        """Return the stream that repeat orders are drawn from."""
        return self.stream(_CYCLES)

    def good_pieces(self, chunk: Chunk, quantities: Numbers, defect_rate: float) -> Numbers:
        """Return how many pieces of each size are good, by future (or one row for all where none is bad)."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed where something is drawn)

        if defect_rate == 0:
            return quantities[np.newaxis, :]
        if self.is_single:
            good: Numbers = np.rint(quantities * (1 - defect_rate)).astype(np.int64)
            return good[np.newaxis, :]
        stream = self.stream(_DEFECTS, chunk.first)
        return stream.binomial(quantities, 1 - defect_rate, (chunk.count, self.sizes))

    @property
    def is_single(self) -> bool:
        """Whether there is but one future, because nothing is uncertain."""
        return self.count == 1

    def chunks(self) -> Iterator[Chunk]:
        """Yield all futures, some at a time, in the same order and with the same figures every time."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed where something is drawn)

        if self._kept:
            for each in self._kept:
                yield Chunk(each.first, each.cumulative.astype(np.int64), each.out_of_use)
            return
        kept: list[Chunk] = []
        for first in range(0, self.count, self._step()):
            chunk = self._draw(first, min(self._step(), self.count - first))
            if self._kept is not None:
                largest = int(chunk.cumulative[:, -1].max(initial=0))
                small = np.uint16 if largest < 2**16 else np.int32
                kept.append(Chunk(first, chunk.cumulative.astype(small), chunk.out_of_use))
            yield chunk
        if self._kept is not None:
            self._kept = kept

    def _step(self) -> int:
        return max(16, CELLS_PER_CHUNK // (self.weeks * self.sizes))

    def _kept_bytes(self) -> int:
        return 2 * self.count * self.weeks * self.sizes

    def _rates(self) -> Floats:
        """Return each future's mean demand of a week, all sizes together."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed where something is drawn)

        if self.demand.is_rate_known:
            return np.full(self.count, self.demand.per_week)
        belief = self.demand.rate
        return gamma_quantiles(belief.shape, stratified(self.count, self.stream(_RATES))) / belief.rate

    def _shares(self, first: int, count: int) -> Floats:
        """Return the size shares of each future."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed where something is drawn)

        shares = np.array([size.share for size in self.demand.sizes])
        strength = self.demand.share_strength
        if math.isinf(strength):
            return np.broadcast_to(shares, (count, self.sizes))
        stream = self.stream(_SHARES, first)
        parts = stream.standard_gamma(np.maximum(shares * strength, 1e-9), (count, self.sizes))
        total = parts.sum(axis=1, keepdims=True)
        # A gamma of a tiny shape can be 0; then the stated shares stand.
        found: Floats = np.where(total > 0, parts / np.where(total > 0, total, 1.0), shares)
        return found

    def _draw(self, first: int, count: int) -> Chunk:
        import numpy as np  # noqa: PLC0415  (slow, and only needed where something is drawn)

        means = self.rates[first : first + count, np.newaxis] * self._shares(first, count)
        out_of_use = self._hazards(first, count)
        if self.demand.weekly_sd is not None:
            return Chunk(first, self._smooth(first, means, out_of_use), out_of_use)
        weekly = np.broadcast_to(means[:, np.newaxis, :], (count, self.weeks, self.sizes))
        stream = self.stream(_WEEKS, first)
        if self.demand.weekly_variation > 0:
            shape = 1 / self.demand.weekly_variation
            weekly = weekly * (stream.standard_gamma(shape, (count, self.weeks, 1)) / shape)
        pieces = stream.poisson(weekly)
        if out_of_use is not None:
            week = np.arange(self.weeks)[np.newaxis, :, np.newaxis]
            pieces *= week < out_of_use[:, np.newaxis, :]
        return Chunk(first, np.cumsum(pieces, axis=1, out=pieces), out_of_use)

    def _smooth(self, first: int, means: Floats, out_of_use: Numbers | None) -> Numbers:
        """Return cumulative demand that varies less than pieces bought one by one would; or not at all."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed where something is drawn)

        count, sd = len(means), self.demand.weekly_sd or 0.0
        total = self.demand.per_week
        if sd and total:
            shape = (total / sd) ** 2
            weeks = self.stream(_WEEKS, first).standard_gamma(shape, (count, self.weeks)) / shape
            passed = np.cumsum(weeks, axis=1)
        else:
            passed = np.broadcast_to(np.arange(1.0, self.weeks + 1), (count, self.weeks))
        if out_of_use is None:
            use = passed[:, :, np.newaxis]
        else:
            last = np.minimum(
                np.arange(self.weeks)[np.newaxis, :, np.newaxis], out_of_use[:, np.newaxis, :] - 1
            )
            padded = np.concatenate((np.zeros((count, 1)), passed), axis=1)
            use = np.take_along_axis(padded[:, :, np.newaxis], last + 1, axis=1)
        # A piece is bought when it is due; a hair absorbs that weekly thirds do not add up to one.
        found: Numbers = np.floor(means[:, np.newaxis, :] * use + 1e-9).astype(np.int64)
        return found

    def _hazards(self, first: int, count: int) -> Numbers | None:
        """Return the week in which each size goes out of use, None where nothing ever does."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed where something is drawn)

        yearly = np.array([size.obsolescence_per_year for size in self.demand.sizes])
        if not yearly.any():
            return None
        stream = self.stream(_HAZARDS, first)
        years = stream.standard_exponential((count, self.sizes)) / np.where(yearly > 0, yearly, np.inf)
        years = np.where(yearly > 0, years, np.inf)
        found: Numbers = np.minimum(np.ceil(years * WEEKS_PER_YEAR), self.weeks).astype(np.int64)
        return found

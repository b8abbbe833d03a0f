"""How many of each size: by the value of the next piece, under minimum, multiple, prepack and limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ledger.sourcing.colours import ColourMinimum
from ledger.sourcing.simulate import UnitCurves

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Numbers = NDArray[np.int64]


@dataclass(frozen=True)
class PieceValues:
    """What a good piece is worth and costs to keep; money in minor units.

    ``used_minor`` is what a piece used saves, ``left_minor`` what a leftover fetches, ``week_minor``
    what a week on the shelf costs.
    """

    used_minor: float
    left_minor: float
    week_minor: float


class Assortment:
    """Orders of every size of order: for n steps, how many pieces of each size, and what becomes of them.

    A step is one piece (or one prepack). ``expected_used[n]``, ``expected_weeks[n]`` are sums over the
    pieces of n steps; bad pieces count as neither. Beyond the steps that are described no piece is ever used:
    each further step lies for ``weeks_beyond``.
    """

    def __init__(
        self,
        step_pieces: int,
        used: Floats,
        weeks: Floats,
        by_step: Numbers,
        sizes: int,
        *,
        weeks_beyond: float,
    ) -> None:
        self.step_pieces = step_pieces
        self._weeks_beyond = weeks_beyond
        self._used = used
        self._weeks = weeks
        self._by_step = by_step
        self._sizes = sizes

    @property
    def most(self) -> int:
        """The largest order that is described."""
        return (len(self._used) - 1) * self.step_pieces

    def expected_used(self, quantity: int) -> float:
        """Return how many pieces of an order are used on average."""
        return float(self._used[min(quantity // self.step_pieces, len(self._used) - 1)])

    def expected_weeks(self, quantity: int) -> float:
        """Return how many weeks the pieces of an order lie, all together, on average."""
        steps, described = quantity // self.step_pieces, len(self._weeks) - 1
        return float(self._weeks[min(steps, described)]) + max(0, steps - described) * self._weeks_beyond

    def quantities(self, quantity: int) -> Numbers:
        """Return how many pieces of each size an order of that many pieces holds."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

        steps = quantity // self.step_pieces
        if self.step_pieces > 1 or self._by_step.ndim > 1:
            found: Numbers = self._by_step[0] * steps
            return found
        return np.bincount(self._by_step[:steps], minlength=self._sizes).astype(np.int64)


def gross(curves: UnitCurves, defect_rate: float, least_columns: int) -> UnitCurves:
    """Return the curves of pieces bought, of which the bad ones are neither used nor kept."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    if defect_rate == 0:
        return curves.padded(least_columns)
    columns = max(int(np.ceil(curves.used.shape[1] / (1 - defect_rate))), least_columns)
    good = np.ceil((1 - defect_rate) * np.arange(1, columns + 1)).astype(np.int64) - 1
    wide = curves.padded(int(good[-1]) + 1)
    rate = 1 - defect_rate
    return UnitCurves(rate * wide.used[:, good], rate * wide.held_weeks[:, good], rate * wide.full_weeks)


def by_value(
    curves: UnitCurves, shares: Sequence[float], values: PieceValues, colours: ColourMinimum | None = None
) -> Assortment:
    """Return assortments that always add the piece that is worth most; ties go evenly by share.

    The value of a size's next piece never rises, so that the best pieces are also the first ones. With a
    minimum for each of some ``colours`` those minima come first; orders below them mean nothing.

    Source: marginal allocation (Fox 1966) for separable concave gains; our own use of it.
    """
    spread = values.used_minor - values.left_minor
    worth = spread * curves.used - values.week_minor * curves.held_weeks
    return _in_order(curves, shares, worth, colours)


def by_service(
    curves: UnitCurves, shares: Sequence[float], colours: ColourMinimum | None = None
) -> Assortment:
    """Return assortments that always add the piece most likely to be used, minima of colours first."""
    return _in_order(curves, shares, curves.used, colours)


def _in_order(
    curves: UnitCurves, shares: Sequence[float], worth: Floats, colours: ColourMinimum | None
) -> Assortment:
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    sizes, columns = curves.used.shape
    weights = np.maximum(np.array(shares, dtype=float), 1e-9)
    evenly = np.arange(1, columns + 1)[np.newaxis, :] / weights[:, np.newaxis]
    order = np.lexsort((evenly.ravel(), -worth.ravel()))
    if colours is not None:
        order = order[colours.places(order // columns)]
    start = np.zeros(1)
    return Assortment(
        1,
        np.concatenate((start, np.cumsum(curves.used.ravel()[order]))),
        np.concatenate((start, np.cumsum(curves.held_weeks.ravel()[order]))),
        order // columns,
        sizes,
        weeks_beyond=float(curves.full_weeks.min()),
    )


def by_ratio(curves: UnitCurves, pieces: Sequence[int]) -> Assortment:
    """Return assortments of whole prepacks; ``pieces`` says how many of each size one holds.

    Leftovers are counted size by size: the total alone would hide them.
    """
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    columns, of_pack = curves.used.shape[1], np.array(pieces, dtype=np.int64)
    # So many packs that the last piece of every size is among them; no future uses one beyond it.
    packs = max(-(-columns // each) for each in pieces if each)
    ends = of_pack[:, np.newaxis] * np.arange(packs + 1)
    within = np.minimum(ends, columns)
    used, weeks = (
        np.take_along_axis(_sums(each), within, axis=1) for each in (curves.used, curves.held_weeks)
    )
    weeks += (ends - within) * curves.full_weeks[:, np.newaxis]
    return Assortment(
        sum(pieces),
        used.sum(axis=0),
        weeks.sum(axis=0),
        of_pack[np.newaxis, :],
        len(pieces),
        weeks_beyond=float((of_pack * curves.full_weeks).sum()),
    )


def _sums(values: Floats) -> Floats:
    """Return the sums of the first 0, 1, 2, … columns."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    return np.concatenate((np.zeros((values.shape[0], 1)), np.cumsum(values, axis=1)), axis=1)


def enough_for(curves: UnitCurves, service_level: float) -> int:
    """Return how many pieces, size by size, suffice with that chance."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    # The n-th piece is asked for with a chance above 1 - service: up to it the size is not covered yet.
    return int(np.count_nonzero(curves.used > 1 - service_level + 1e-12))


def split_for_cover(quantity: int, shares: Sequence[float], on_hand: Sequence[int]) -> tuple[int, ...]:
    """Return a quantity split so that what is there and what comes last equally long; none below 0.

    >>> split_for_cover(10, [0.5, 0.5], [6, 2])
    (3, 7)

    Source: filling up to one level of stock for its share; our own rule.
    """
    if not any(on_hand):
        return split_by_share(quantity, shares)
    open_places = [place for place, share in enumerate(shares) if share > 0]
    while True:
        # A size that already holds more than its level gets none; the others share what is left.
        total = quantity + sum(on_hand[place] for place in open_places)
        weight = sum(shares[place] for place in open_places)
        wanted = {place: total * shares[place] / weight - on_hand[place] for place in open_places}
        kept = [place for place in open_places if wanted[place] > 0]
        if len(kept) == len(open_places) or not kept:
            break
        open_places = kept
    parts = split_by_share(quantity, [wanted[place] / quantity for place in open_places])
    by_place = dict(zip(open_places, parts, strict=True))
    return tuple(by_place.get(place, 0) for place in range(len(shares)))


def split_by_share(quantity: int, shares: Sequence[float]) -> tuple[int, ...]:
    """Return a quantity split by shares into whole pieces that add up to it: largest remainders.

    >>> split_by_share(10, [0.15, 0.25, 0.6])
    (2, 2, 6)
    """
    exact = [quantity * share for share in shares]
    whole = [int(each + 1e-9) for each in exact]
    by_rest = sorted(range(len(shares)), key=lambda place: (whole[place] - exact[place], place))
    for place in by_rest[: quantity - sum(whole)]:
        whole[place] += 1
    return tuple(whole)

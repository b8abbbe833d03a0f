"""Which colours to order from an offer that takes no less than so many of each."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from ledger.sourcing.bulk import Bulk, needed_pieces, of_colours
from ledger.sourcing.colours import ColourMinimum
from ledger.sourcing.futures import Futures
from ledger.sourcing.offer_plan import CostCurve

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def colour_choices(bulk: Bulk, futures: Futures) -> tuple[Bulk, ...]:
    """Return the ways to order from an offer: all colours, then each time one colour fewer.

    Without a minimum for each of several colours there is but one. The colour whose minimum is worth
    least goes first; ways that the offer's other rules leave no order for are not among them, unless
    there is no other. Where nobody at home sells the rest, nothing is left to home.

    Source: our own rule.
    """
    sizes, least = bulk.study.demand.sizes, bulk.curve.offer.quote.rules.minimum_per_colour
    of_size = tuple(size.colour for size in sizes)
    every = tuple(dict.fromkeys(of_size))
    if least <= 1 or len(every) < 2 or bulk.curve.offer.quote.rules.size_ratio:  # noqa: PLR2004
        return (bulk,)
    whole = replace(bulk, colours=ColourMinimum(of_size, every, least))
    ranked = sorted(every, key=lambda colour: -_worth(whole, colour))
    counts = range(len(every) - 1, 0, -1) if bulk.domestic_minor is not None else range(0)
    fewer = [_taking(whole, futures, tuple(ranked[:count])) for count in counts]
    found = tuple(each for each in (whole, *fewer) if _is_possible(each))
    return found or (whole,)


def _taking(whole: Bulk, futures: Futures, taken: tuple[str, ...]) -> Bulk:
    """Return the order of some of the colours, with its own cost curve."""
    if whole.colours is None:
        return whole
    offer, sizes = whole.curve.offer, whole.study.demand.sizes
    weights = offer.size_weights
    if any(weights):
        # A share that rounds to nothing still has a price.
        weights = tuple(
            max(1, weight) if size.colour in taken else 0 for size, weight in zip(sizes, weights, strict=True)
        )
    fewer = replace(
        whole,
        curve=CostCurve(replace(offer, colours=len(taken), size_weights=weights)),
        colours=replace(whole.colours, taken=taken),
    )
    fewer = replace(fewer, curves=of_colours(fewer, fewer.curves))
    return replace(fewer, need=needed_pieces(fewer, futures))


def _is_possible(bulk: Bulk) -> bool:
    least, fixed = bulk.curve.allowed().up(1), bulk.curve.offer.quote.quantity
    return least is not None and (not fixed or fixed >= least)


def _worth(bulk: Bulk, colour: str) -> float:
    """Return what the minimum of a colour is worth, its best pieces first, before what the order costs."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    rules = bulk.curve.offer.quote.rules
    values = bulk.values(bulk.curve.allowed().up(1) or rules.minimum_per_colour)
    places = [place for place, size in enumerate(bulk.study.demand.sizes) if size.colour == colour]
    curves = bulk.curves
    worth: Floats = (
        values.used_minor - values.left_minor
    ) * curves.used - values.week_minor * curves.held_weeks
    best = -np.sort(-worth[places].ravel())[: rules.minimum_per_colour]
    return float(best.sum())


def smallest(choices: tuple[Bulk, ...]) -> Bulk:
    """Return the way that takes the smallest order; of equal ones that with most colours."""
    return min(choices, key=lambda each: each.curve.allowed().up(1) or 0)

"""Landed unit cost against quantity: breaks, minima, thresholds, with both sides of every cliff."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from itertools import pairwise

from ledger.sourcing.landed_estimate import FREIGHT, LandedEstimate, landed_estimate
from ledger.sourcing.order_rules import least_quantity, step_of
from ledger.sourcing.price_breaks import break_quantities
from ledger.sourcing.quote import Entry, OrderQuantities, Quote

MakeOrder = Callable[[int], OrderQuantities]
"""Returns the order of so many quoted units."""

_GRID = (1, 2, 3, 5, 7)
_LAST = "last"
"""How the words of a point begin that stands just below a cliff."""


@dataclass(frozen=True)
class CurvePoint:
    """What an order of ``quantity`` quoted units costs landed, and what changes at it, in words."""

    quantity: int
    estimate: LandedEstimate
    what: str = ""

    @property
    def unit_cost_minor(self) -> Fraction:
        """The landed cost of one good base unit."""
        return self.estimate.unit_cost_minor


@dataclass(frozen=True)
class BetterBuy:
    """From ``wanted_from`` to just below ``quantity`` it costs no more to buy ``quantity`` at once."""

    wanted_from: int
    quantity: int
    total_minor: int
    saving_minor: int


def curve(
    quote: Quote, entry: Entry, most: int, make_order: MakeOrder = OrderQuantities.of, colours: int = 1
) -> tuple[CurvePoint, ...]:
    """Return landed costs from the smallest order to ``most`` quoted units, the cliffs with both sides.

    Beside a round grid there is a point at each price break and the order just below it, and at both
    sides of each quantity where the entry becomes formal or the freight free.

    Raises ValueProblem as ``landed_estimate`` does.
    """
    step = step_of(quote.rules)
    least = least_quantity(quote.rules, colours)
    top = min(most, quote.rules.maximum) if quote.rules.maximum else most
    words = _break_words(quote, step, least, top)
    # The last point is the largest order that still fits.
    last = top // step * step
    wanted = {least, last, *words, *(_up(number, step) for number in _round_numbers(least, top))}
    known: dict[int, LandedEstimate] = {}
    estimate_of = partial(_at, quote, entry, make_order, known=known)
    for number in sorted(wanted):
        if least <= number <= top:
            estimate_of(number)
    for below, above in list(pairwise(sorted(known))):
        for what, test in _switches(known[below], known[above]):
            places = range(below + step, above + 1, step)
            # False sorts before True: the first quantity at which the test holds.
            place = bisect_left(places, 1, key=lambda n, test=test: int(test(estimate_of(n))))  # type: ignore[misc]
            first = places[min(place, len(places) - 1)]
            words[first] = "; ".join(filter(None, (words.get(first), what)))
            words.setdefault(first - step, f"{_LAST} before: {what}")
            estimate_of(first - step)
    shown = {number for number in known if number in words or number in wanted}
    return tuple(CurvePoint(number, known[number], words.get(number, "")) for number in sorted(shown))


def _break_words(quote: Quote, step: int, least: int, top: int) -> dict[int, str]:
    """Return the orders at each price break and just below it, in words."""
    words: dict[int, str] = {}
    for start in break_quantities(quote):
        first = _up(start, step)
        if least < first <= top:
            words[first] = f"price break at {start}"
            words.setdefault(first - step, f"{_LAST} below the break")
    return words


def better_buys(
    quote: Quote, entry: Entry, most: int, make_order: MakeOrder = OrderQuantities.of, colours: int = 1
) -> tuple[BetterBuy, ...]:
    """Return where more costs no more up to ``most`` quoted units: '64 or more: buy 72'.

    Only a price break and free freight lower a total; below each of them the first quantity that
    costs as much is searched.

    Raises ValueProblem as ``landed_estimate`` does.
    """
    step = step_of(quote.rules)
    points = curve(quote, entry, most, make_order, colours)
    known = {point.quantity: point.estimate for point in points}
    floor = points[0].quantity if points else 0
    found = []
    for point in points[1:]:
        if not point.what or point.what.startswith(_LAST):
            continue
        total = point.estimate.total_minor
        places = range(floor, point.quantity, step)
        place = bisect_left(places, total, key=lambda n: _at(quote, entry, make_order, n, known).total_minor)
        if place < len(places):
            dearest = _at(quote, entry, make_order, places[-1], known).total_minor
            found.append(BetterBuy(places[place], point.quantity, total, dearest - total))
        floor = point.quantity
    return tuple(found)


def _at(
    quote: Quote, entry: Entry, make_order: MakeOrder, number: int, known: dict[int, LandedEstimate]
) -> LandedEstimate:
    if number not in known:
        known[number] = landed_estimate(quote, make_order(number), entry)
    return known[number]


def _switches(
    below: LandedEstimate, above: LandedEstimate
) -> Iterator[tuple[str, Callable[[LandedEstimate], bool]]]:
    """Return what switches between two estimates, with a test that is true from the switch on."""
    if below.is_formal is False and above.is_formal:
        yield "formal entry from here", lambda estimate: bool(estimate.is_formal)
    if below.amount_minor(FREIGHT) and not above.amount_minor(FREIGHT):
        yield "freight is free from here", lambda estimate: not estimate.amount_minor(FREIGHT)


def _round_numbers(least: int, most: int) -> Iterator[int]:
    scale = 1
    while scale <= most:
        yield from (each * scale for each in _GRID if least <= each * scale <= most)
        scale *= 10
    yield most


def _up(number: int, step: int) -> int:
    return -(-number // step) * step

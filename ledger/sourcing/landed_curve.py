"""Landed unit cost against quantity: breaks, minima, thresholds, with both sides of every cliff."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, partial
from itertools import pairwise

from ledger.sourcing.landed_estimate import FREIGHT, LandedEstimate, landed_estimate
from ledger.sourcing.order_rules import least_quantity, step_of
from ledger.sourcing.price_breaks import group_for, scope_of
from ledger.sourcing.quote import Entry, OrderLine, OrderQuantities, Quote

MakeOrder = Callable[[int], OrderQuantities]
"""Returns the order of so many quoted units."""

_GRID = (1, 2, 3, 5, 7)
ASKED = "as asked"
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


@dataclass(frozen=True)
class Reach:
    """The orders to look at, in quoted units: up to ``most``, with ``asked`` among them (0: none in particular)."""

    most: int
    asked: int = 0
    colours: int = 1


def curve(
    quote: Quote, entry: Entry, reach: Reach | int, make_order: MakeOrder = OrderQuantities.of
) -> tuple[CurvePoint, ...]:
    """Return landed costs from the smallest order to the largest in reach, the cliffs with both sides.

    Beside a round grid there is a point at each quantity at which a price bends and the order just below
    it, and at both sides of each quantity where the entry becomes formal or the freight free.

    Raises ValueProblem as ``landed_estimate`` does.
    """
    reach = reach if isinstance(reach, Reach) else Reach(reach)
    step = step_of(quote.rules)
    least = least_quantity(quote.rules, reach.colours)
    top = min(reach.most, quote.rules.maximum) if quote.rules.maximum else reach.most
    # The last point is the largest order that still fits.
    last = top // step * step
    words = bends(quote, range(least, last + 1, step), make_order)
    wanted = {least, last, *words, *(_up(number, step) for number in _round_numbers(least, top))}
    if reach.asked and reach.asked % step == 0:
        wanted.add(reach.asked)
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
    return tuple(
        CurvePoint(number, known[number], _said(words.get(number, ""), is_asked=number == reach.asked))
        for number in sorted(shown)
    )


def _said(words: str, *, is_asked: bool) -> str:
    return "; ".join(filter(None, (words, ASKED if is_asked else "")))


def bends(quote: Quote, places: range, make_order: MakeOrder = OrderQuantities.of) -> dict[int, str]:
    """Return the orders out of ``places`` at which a price really bends, and just below each, in words.

    A break counts the quantity of its scope. Where that is a size or a colour, the order at which one
    reaches it is named with what reaches it; breaks of what is not ordered bend nothing.
    """
    if not places:
        return {}
    order_of = cache(make_order)
    scopes: dict[tuple[str, ...], list[OrderLine]] = {}
    for line in order_of(places[-1]).lines:
        scopes.setdefault(scope_of(quote, line), []).append(line)

    def reached(number: int, scope: tuple[str, ...]) -> int:
        lines = order_of(number).lines
        return sum(line.quantity for line in lines if scope_of(quote, line) == scope)

    reaching: dict[int, dict[int, list[str]]] = {}
    for scope, lines in scopes.items():
        starts = {each.from_quantity for line in lines for each in group_for(quote, line).breaks[1:]}
        for start in sorted(starts):
            place = bisect_left(places, start, key=partial(reached, scope=scope))
            if 0 < place < len(places):
                who = [line.size or line.colour or line.sku for line in lines] if len(scopes) > 1 else []
                reaching.setdefault(places[place], {}).setdefault(start, []).extend(who)
    words: dict[int, str] = {}
    for number, starts_of in sorted(reaching.items()):
        said = (_break_words(start, who) for start, who in starts_of.items())
        words[number] = "; ".join(said)
        words.setdefault(number - places.step, f"{_LAST} below the break")
    return words


def _break_words(start: int, who: Sequence[str]) -> str:
    named = f" ({', '.join(dict.fromkeys(who))})" if who else ""
    return f"price break at {start}{named}"


def better_buys(
    quote: Quote, entry: Entry, reach: Reach | int, make_order: MakeOrder = OrderQuantities.of
) -> tuple[BetterBuy, ...]:
    """Return where more costs less in reach: '64 or more: buy 72'.

    Only a price break and free freight lower a total. Below each of them the first quantity that costs as
    much is searched, over smaller cliffs in between; what another, larger order does still cheaper and
    what saves nothing is left out.

    Raises ValueProblem as ``landed_estimate`` does.
    """
    step = step_of(quote.rules)
    points = curve(quote, entry, reach, make_order)
    known = {point.quantity: point.estimate for point in points}

    def total(number: int) -> int:
        return _at(quote, entry, make_order, number, known).total_minor

    cliffs = [point.quantity for point in points[:1]]
    found: list[BetterBuy] = []
    for point in points[1:]:
        if not point.what or point.what == ASKED or point.what.startswith(_LAST):
            continue
        least, dearest = point.quantity, 0
        # Between two cliffs totals rise; before a cliff that costs as much, look further down.
        for start, end in zip(reversed(cliffs), [point.quantity, *reversed(cliffs)], strict=False):
            places = range(start, end, step)
            place = bisect_left(places, point.estimate.total_minor, key=total)
            if place == len(places):
                break
            least, dearest = places[place], max(dearest, total(places[-1]))
            if place:
                break
        cliffs.append(point.quantity)
        if dearest > point.estimate.total_minor:
            found = [each for each in found if each.quantity < least]
            saving = dearest - point.estimate.total_minor
            found.append(BetterBuy(least, point.quantity, point.estimate.total_minor, saving))
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

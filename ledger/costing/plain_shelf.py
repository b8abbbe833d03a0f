"""The shelf of the plain engine: the lots of one SKU, and what went short of it.

Every lot is a list of layers, the first to leave at the front. A lot that is used up keeps its
place: what a customer brings back goes to the front of the lot it came from. Every lot remembers
who took of it, so that a late charge can be followed to where its goods are.
"""

from __future__ import annotations

import heapq
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field

from ledger.costing.facts import FactLine
from ledger.costing.plain_figures import Figure, Figures, rounded, spread


@dataclass(slots=True)
class Layer:
    """Goods of one lot that share one cost, and how much of them was used."""

    quantity_milli: int
    amount: Figure[int]
    used_milli: int = 0

    def left_milli(self) -> int:
        """Return what is left of the layer, in thousandths."""
        return self.quantity_milli - self.used_milli

    def take(self, milli: int, figures: Figures) -> Figure[int]:
        """Return the cost of the next ``milli`` thousandths, and mark them used.

        Cost is the difference of two rounded running totals: however the layer is cut, the
        parts add up to its amount.
        """
        whole_milli, before_milli, after_milli = self.quantity_milli, self.used_milli, self.used_milli + milli
        self.used_milli = after_milli
        return figures.work_out(
            lambda amount: (
                rounded(amount * after_milli, whole_milli) - rounded(amount * before_milli, whole_milli)
            ),
            (self.amount,),
        )

    def value(self, figures: Figures) -> Figure[int]:
        """Return the cost of what is left of the layer."""
        used_milli, whole_milli = self.used_milli, self.quantity_milli
        return figures.work_out(
            lambda amount: amount - rounded(amount * used_milli, whole_milli), (self.amount,)
        )


@dataclass(eq=False, slots=True)
class Lot:
    """The goods of one receipt, opening, job, count or shipment line.

    ``landed`` is what the ``received_milli`` cost with charges, ``invoice_amount`` what the
    supplier asked for them (None where there was no supplier). ``takings`` is all that was ever
    taken of it. ``reversed`` is set once the document that brought it was reversed.
    """

    document: int
    line: int
    sku: str
    received_milli: int
    landed: Figure[int]
    invoice_amount: int | None = None
    layers: deque[Layer] = field(default_factory=deque)
    takings: list[Taking] = field(default_factory=list)
    place: int = -1
    waits_in_line: bool = False
    reversed: bool = False

    def left_milli(self) -> int:
        """Return what is left of the lot, in thousandths."""
        return sum(layer.left_milli() for layer in self.layers)

    def value(self, figures: Figures) -> Figure[int]:
        """Return the cost of what is left of the lot."""
        return figures.work_out(lambda *values: sum(values), [layer.value(figures) for layer in self.layers])

    def take(self, wanted_milli: int, by: FactLine, figures: Figures) -> Taking | None:
        """Return what the lot gives of the quantity, from its first layer on; None where that is nothing."""
        costs: list[Figure[int]] = []
        taken_milli = 0
        while taken_milli < wanted_milli and self.layers:
            layer = self.layers[0]
            milli = min(layer.left_milli(), wanted_milli - taken_milli)
            costs.append(layer.take(milli, figures))
            taken_milli += milli
            if layer.left_milli() == 0:
                self.layers.popleft()
        if not costs:
            return None
        taking = Taking(self, taken_milli, figures.work_out(lambda *amounts: sum(amounts), costs), by)
        self.takings.append(taking)
        return taking

    def start_anew(self, change: Figure[int], figures: Figures) -> None:
        """Start every layer anew with what it has left, its cost changed by its part of the change.

        What is added is spread over the layers by what they have left, what is taken off by their cost.
        """
        values = [layer.value(figures) for layer in self.layers]
        lefts_milli = [layer.left_milli() for layer in self.layers]

        def parts(change: int, *values: int) -> list[int]:
            return spread(change, lefts_milli if change > 0 else [max(0, value) for value in values])

        changes = figures.work_out(parts, (change, *values))
        self.layers = deque(
            Layer(left_milli, _changed(value, changes, place, figures))
            for place, (left_milli, value) in enumerate(zip(lefts_milli, values, strict=True))
        )


def _changed(value: Figure[int], changes: Figure[list[int]], place: int, figures: Figures) -> Figure[int]:
    """Return a layer's cost with the change that falls on it."""
    return figures.work_out(lambda cost, parts: cost + parts[place], (value, changes))


@dataclass(eq=False, slots=True)
class Taking:
    """What the line ``by`` took out of one lot, and how much of it came back since.

    ``lot`` is None for what was never settled of a short.
    """

    lot: Lot | None
    quantity_milli: int
    amount: Figure[int]
    by: FactLine
    back_milli: int = 0

    def out_milli(self) -> int:
        """Return what of it did not come back, in thousandths."""
        return self.quantity_milli - self.back_milli


@dataclass(eq=False, slots=True)
class Short:
    """What one line took beyond what was there, at the cost it was given.

    ``open_milli`` is neither settled nor brought back. What was brought back stays with the line
    at the worth it came back at: ``back_milli`` and ``back_worths``.
    """

    quantity_milli: int
    cost: Figure[int]
    open_milli: int
    back_milli: int = 0
    back_worths: list[Figure[int]] = field(default_factory=list)

    def bring_back(self, milli: int, figures: Figures) -> Figure[int]:
        """Return what ``milli`` thousandths of the open part are worth, and take them off it."""
        whole_milli, before_milli, after_milli = self.quantity_milli, self.open_milli, self.open_milli - milli
        worth = figures.work_out(
            lambda cost: rounded(cost * before_milli, whole_milli) - rounded(cost * after_milli, whole_milli),
            (self.cost,),
        )
        self.open_milli -= milli
        self.back_milli += milli
        self.back_worths.append(worth)
        return worth

    def rest(self, figures: Figures) -> Figure[int]:
        """Return the cost of what no lot settled: the open part, and the worth of what came back."""
        open_milli, whole_milli = self.open_milli, self.quantity_milli
        return figures.work_out(
            lambda cost, *worths: rounded(cost * open_milli, whole_milli) + sum(worths),
            (self.cost, *self.back_worths),
        )


@dataclass(eq=False, slots=True)
class Issue:
    """What one line took: out of lots at first, then out of those that settled what it was short of."""

    line: FactLine
    takings: list[Taking]
    short: Short | None = None


class Shelf:
    """The lots of one SKU in the order they are used up, and the lines that went short of it."""

    def __init__(self, figures: Figures) -> None:
        self.left_milli = 0
        self.short_milli = 0
        """What is short and neither settled nor brought back, of any month."""
        self._figures = figures
        self._lots: list[Lot] = []
        self._lot_by_number: dict[tuple[int, int], Lot] = {}
        self._places_in_line: list[int] = []
        """A heap of the places of all lots that have something left; lots used up may be in it."""
        self._short_issues: list[Issue] = []
        self._month_of_shorts = ""
        self._lots_with_a_cost: list[Lot] = []

    def arrive(self, lot: Lot, *, sets_the_cost: bool = True) -> None:
        """Put a new lot behind all others; its cost becomes the latest known one unless it was counted."""
        layer = Layer(lot.received_milli, lot.landed)
        lot.place = len(self._lots)
        self._lots.append(lot)
        self._lot_by_number[lot.document, lot.line] = lot
        lot.layers.append(layer)
        self.left_milli += lot.received_milli
        self._line_up(lot)
        if sets_the_cost:
            self._lots_with_a_cost.append(lot)

    def take(self, wanted_milli: int, by: FactLine) -> list[Taking]:
        """Return what the oldest lots give the line of the quantity, one taking for each lot."""
        takings: list[Taking] = []
        while wanted_milli > 0 and (lot := self._first_lot()):
            takings += self.take_from(lot, wanted_milli, by)
            wanted_milli -= takings[-1].quantity_milli
        return takings

    def take_from(self, lot: Lot, wanted_milli: int, by: FactLine) -> list[Taking]:
        """Return what one lot gives the line of the quantity, as one taking or none."""
        taking = lot.take(wanted_milli, by, self._figures)
        if taking is None:
            return []
        self.left_milli -= taking.quantity_milli
        return [taking]

    def clear_away(self, lot: Lot) -> None:
        """Take a lot whose document was reversed off the shelf; the latest known cost is the one before it."""
        self.left_milli -= lot.left_milli()
        lot.layers.clear()
        lot.reversed = True

    def lot(self, document: int | None, line: int | None) -> Lot | None:
        """Return the lot of that number; None where there is none (yet)."""
        if document is None or line is None:
            return None
        return self._lot_by_number.get((document, line))

    def put_back(self, lot: Lot, milli: int, worth: Figure[int]) -> None:
        """Put what came back at the front of its lot."""
        lot.layers.appendleft(Layer(milli, worth))
        self.left_milli += milli
        self._line_up(lot)

    def latest_cost(self, milli: int) -> Figure[int] | None:
        """Return what the quantity costs at the latest known cost; None where none is known."""
        while self._lots_with_a_cost and self._lots_with_a_cost[-1].reversed:
            self._lots_with_a_cost.pop()
        if not self._lots_with_a_cost:
            return None
        lot = self._lots_with_a_cost[-1]
        received_milli = lot.received_milli
        return self._figures.work_out(lambda landed: rounded(landed * milli, received_milli), (lot.landed,))

    def go_short(self, issue: Issue, milli: int, cost: Figure[int]) -> None:
        """Note that a line lacks a quantity, which lots of the same month may still settle."""
        issue.short = Short(milli, cost, open_milli=milli)
        self.short_milli += milli
        month = issue.line.effect_date[:7]
        if month != self._month_of_shorts:
            self._short_issues, self._month_of_shorts = [], month
        self._short_issues.append(issue)

    def settle_shorts(self, lot: Lot, month: str) -> None:
        """Give a new lot's goods to the lines of its month that went short, the first in order first."""
        if month != self._month_of_shorts:
            return
        still_short: list[Issue] = []
        for issue in self._short_issues:
            short = issue.short
            assert short is not None
            takings = self.take_from(lot, short.open_milli, issue.line)
            issue.takings += takings
            settled_milli = sum(taking.quantity_milli for taking in takings)
            short.open_milli -= settled_milli
            self.short_milli -= settled_milli
            if short.open_milli > 0:
                still_short.append(issue)
        self._short_issues = still_short

    def write_down(self, loss: int) -> list[tuple[Lot, Figure[int]]]:
        """Return what each lot with something left loses of its cost, the oldest first.

        The loss is at most the cost of what is left, and is spread over the layers by theirs.
        Every layer starts anew with what it has left, whether it lost something or not.
        """
        lots = list(self._lots_with_something_left())
        values = [layer.value(self._figures) for lot in lots for layer in lot.layers]
        shares = self._figures.work_out(lambda *costs: _shares_of_a_loss(loss, costs), values)
        lost: list[tuple[Lot, Figure[int]]] = []
        first = 0
        for lot in lots:
            after = first + len(lot.layers)
            lot.layers = deque(
                Layer(layer.left_milli(), self._less_its_share(values[place], shares, place))
                for place, layer in enumerate(lot.layers, start=first)
            )
            lost.append((lot, self._sum_of_shares(shares, first, after)))
            first = after
        return lost

    def _less_its_share(self, value: Figure[int], shares: Figure[list[int]], place: int) -> Figure[int]:
        return self._figures.work_out(lambda cost, losses: cost - losses[place], (value, shares))

    def _sum_of_shares(self, shares: Figure[list[int]], first: int, after: int) -> Figure[int]:
        return self._figures.work_out(lambda losses: sum(losses[first:after]), (shares,))

    def _line_up(self, lot: Lot) -> None:
        if not lot.waits_in_line:
            heapq.heappush(self._places_in_line, lot.place)
            lot.waits_in_line = True

    def _first_lot(self) -> Lot | None:
        while self._places_in_line:
            lot = self._lots[self._places_in_line[0]]
            if lot.layers:
                return lot
            heapq.heappop(self._places_in_line)
            lot.waits_in_line = False
        return None

    def _lots_with_something_left(self) -> Iterator[Lot]:
        for place in sorted(self._places_in_line):
            if self._lots[place].layers:
                yield self._lots[place]


def _shares_of_a_loss(loss: int, values: tuple[int, ...]) -> list[int]:
    """Return each layer's share of a loss; a layer that a discount brought below zero bears none."""
    return spread(max(0, min(loss, sum(values))), [max(0, value) for value in values])

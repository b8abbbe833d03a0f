"""The shelf of the plain engine: the lots of one SKU, and what went short of it.

Every lot is a list of layers, the first to leave at the front. A lot that is used up keeps its
place: what a customer brings back goes to the front of the lot it came from.
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
        before_milli, after_milli, whole_milli = (
            self.used_milli,
            self.used_milli + milli,
            self.quantity_milli,
        )
        self.used_milli = after_milli
        return figures.work_out(
            lambda amount: rounded(amount * after_milli, whole_milli)
            - rounded(amount * before_milli, whole_milli),
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
    """The goods of one receipt, opening, job or count line.

    ``landed`` is what the ``received_milli`` cost with charges, ``invoice_amount`` what the
    supplier asked for them (None where there was no supplier).
    """

    document: int
    line: int
    received_milli: int
    landed: Figure[int]
    invoice_amount: int | None = None
    layers: deque[Layer] = field(default_factory=deque)
    place: int = -1
    waits_in_line: bool = False


@dataclass(eq=False, slots=True)
class Taking:
    """What one line took out of one layer, and how much of it came back since."""

    lot: Lot
    quantity_milli: int
    amount: Figure[int]
    back_milli: int = 0


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
        before_milli, after_milli, whole_milli = (
            self.open_milli,
            self.open_milli - milli,
            self.quantity_milli,
        )
        worth = figures.work_out(
            lambda cost: rounded(cost * before_milli, whole_milli) - rounded(cost * after_milli, whole_milli),
            (self.cost,),
        )
        self.open_milli -= milli
        self.back_milli += milli
        self.back_worths.append(worth)
        return worth

    def remains(self) -> Taking | None:
        """Return what the line still has without a lot, as a quantity and the figures it costs."""
        raise NotImplementedError


@dataclass(eq=False, slots=True)
class Issue:
    """What one line took: out of layers at first, out of lots that settled its short, and the rest."""

    line: FactLine
    takings: list[Taking]
    short: Short | None = None

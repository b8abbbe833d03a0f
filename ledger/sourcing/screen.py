"""The instant screen: can one large order from afar pay at all, from how many pieces to how many.

No chance enters here. It is what the simulation must give when nothing is uncertain.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ledger.errors import ValueProblem


@dataclass(frozen=True)
class ScreenInput:
    """What the screen is reckoned from; money in one unit throughout (minor units, or currency units).

    Attributes:
        domestic_cost: of one unit at home, its own freight and order handling included.
        overseas_cost: landed cost of one unit from afar, without what is fixed for a shipment.
        fixed_cost: of one shipment, whatever its quantity.
        demand_per_year: units, above 0.
        carrying_per_year: the fraction of the landed cost that a year on the shelf costs, from 0.
        paid_years: years between paying and having the goods.
        carried_fixed: of the fixed cost the part that belongs to the landed cost of the pieces and lies on the
            shelf with them.
    """

    domestic_cost: float
    overseas_cost: float
    fixed_cost: float
    demand_per_year: float
    carrying_per_year: float
    paid_years: float = 0.0
    carried_fixed: float = 0.0

    def __post_init__(self) -> None:
        for name in ("overseas_cost", "demand_per_year"):
            if not getattr(self, name) > 0:
                raise ValueProblem(f"the screen needs a positive {name.replace('_', ' ')}.")

    @property
    def gain_per_unit(self) -> float:
        """B: what one unit from afar saves before it lies on the shelf."""
        return self.domestic_cost - self.overseas_cost * self.paying_factor - self.carried_share

    @property
    def paying_factor(self) -> float:
        """1 + i t: what paying early makes of a cost."""
        return 1 + self.carrying_per_year * self.paid_years

    @property
    def carried_share(self) -> float:
        """What a piece's part of the fixed cost costs on the shelf: the fewer pieces, the larger and the shorter."""
        return self.carrying_per_year * self.carried_fixed / (2 * self.demand_per_year)

    @property
    def shelf_cost(self) -> float:
        """A: the shelf costs A times the square of the quantity."""
        return self.carrying_per_year * self.overseas_cost / (2 * self.demand_per_year)


@dataclass(frozen=True)
class Window:
    """The quantities between which a shipment pays; ``quantity_to`` is None where there is no end."""

    quantity_from: float
    quantity_to: float | None


@dataclass(frozen=True)
class SwitchPoints:
    """Where the answer flips if one figure alone changes; None where no value of it would."""

    overseas_cost: float | None
    demand_per_year: float | None
    domestic_cost: float


@dataclass(frozen=True)
class Screen:
    """The screen's answer.

    ``window`` is None where no quantity pays at this volume; ``best_quantity`` is None where the saving
    grows without end (nothing is charged for the shelf) or never begins. ``naive_quantity`` is the
    break-even that forgets the shelf, for comparison.
    """

    naive_quantity: float | None
    window: Window | None
    best_quantity: float | None
    best_saving: float | None
    switch_points: SwitchPoints

    @property
    def can_pay(self) -> bool:
        """Whether any quantity pays."""
        return self.window is not None


def saving(given: ScreenInput, quantity: float) -> float:
    """Return what one shipment of that many units saves: B Q - F - A Q²; 0 for none.

    Source: our own derivation from the quadratic holding cost of one lot used up at a steady rate.
    """
    if quantity <= 0:
        return 0.0
    return given.gain_per_unit * quantity - given.fixed_cost - given.shelf_cost * quantity**2


def screen(given: ScreenInput) -> Screen:
    """Return the window of paying quantities, the best one and the switch points.

    >>> found = screen(ScreenInput(3.75, 2.20, 400, 900, 0.25, 0.25))
    >>> round(found.window.quantity_from), round(found.window.quantity_to), round(found.best_quantity)
    (303, 4320, 2311)

    Source: roots and vertex of B Q - F - A Q²; our own derivation.
    """
    margin = given.domestic_cost - given.overseas_cost
    naive = given.fixed_cost / margin if margin > 0 else None
    gain, shelf = given.gain_per_unit, given.shelf_cost
    points = switch_points(given)
    if gain <= 0:
        return Screen(naive, None, None, None, points)
    if shelf <= _NO_SHELF * gain:
        return Screen(naive, Window(given.fixed_cost / gain, None), None, None, points)
    under_the_root = gain**2 - 4 * shelf * given.fixed_cost
    best = gain / (2 * shelf)
    if under_the_root < 0:
        return Screen(naive, None, None, None, points)
    root = math.sqrt(under_the_root)
    # F / (A Q) for the smaller root: the difference of two nearly equal numbers would lose digits.
    larger = (gain + root) / (2 * shelf)
    window = Window(given.fixed_cost / (shelf * larger), larger)
    return Screen(naive, window, best, saving(given, best), points)


_NO_SHELF = 1e-12
"""A shelf cost so far below the gain of a piece is none: the window would end beyond any quantity."""


def switch_points(given: ScreenInput) -> SwitchPoints:
    """Return the landed cost, the volume and the domestic price at which the best shipment breaks even.

    At each of them B² = 4 A F, everything else unchanged.
    """
    factor, carried = given.paying_factor, given.carried_share
    per_cost = given.carrying_per_year * given.fixed_cost / (2 * given.demand_per_year)
    # c (1 + i t) + 2 √(k c) = c_d - the carried part, a quadratic in √c.
    most = given.domestic_cost - carried
    root = (-math.sqrt(per_cost) + math.sqrt(per_cost + factor * max(0.0, most))) / factor
    needed = 2 * math.sqrt(given.shelf_cost * given.fixed_cost)
    # With x = 1 / √D: f x² + g x = m, where the carried part is f x² and 2 √(A F) is g x.
    margin = given.domestic_cost - given.overseas_cost * factor
    fixed_part = given.carrying_per_year * given.carried_fixed / 2
    shelf_part = math.sqrt(2 * given.carrying_per_year * given.overseas_cost * given.fixed_cost)
    volume = None
    if margin > 0:
        volume = ((shelf_part + math.sqrt(shelf_part**2 + 4 * fixed_part * margin)) / (2 * margin)) ** 2
    return SwitchPoints(
        overseas_cost=root**2 if most > 0 else None,
        demand_per_year=volume,
        domestic_cost=given.overseas_cost * factor + carried + needed,
    )

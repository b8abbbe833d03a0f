"""A shelf of lots for the sample figures: layers of units, taken from the front, worked out plainly."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from sample_costs import whole


@dataclass
class Layer:
    """Units of one lot at one price: the first ``used`` of them have left."""

    quantity: int
    amount: int
    used: int = 0

    @property
    def left(self) -> int:
        """What is still there."""
        return self.quantity - self.used

    @property
    def value(self) -> int:
        """What that stands at."""
        return self.amount - whole(Fraction(self.amount * self.used, self.quantity))

    def take(self, quantity: int) -> int:
        """Take from the layer and return the cost."""
        before = self.value
        self.used += quantity
        return before - self.value


@dataclass
class Lot:
    """What came in by one line of one document."""

    place: tuple[int, int]
    sku: str
    order: tuple[object, ...]
    received: int
    landed: int
    invoice: int
    layers: list[Layer] = field(default_factory=list)

    @property
    def left(self) -> int:
        """What is on hand of the lot."""
        return sum(layer.left for layer in self.layers)

    @property
    def value(self) -> int:
        """What that stands at."""
        return sum(layer.value for layer in self.layers)

    def take(self, quantity: int) -> int:
        """Take from the front of the lot and return the cost."""
        cost = 0
        for layer in self.layers:
            part = min(quantity, layer.left)
            cost += layer.take(part)
            quantity -= part
        assert quantity == 0
        return cost


@dataclass(frozen=True)
class Taking:
    """What one document took from one lot."""

    lot: Lot
    quantity: int
    cost: int

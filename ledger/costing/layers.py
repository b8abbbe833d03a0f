"""Lots as lists of layers: what is left of a receipt, and what the next unit out of it costs."""

from __future__ import annotations

from dataclasses import dataclass

from ledger.exact.rounding import divide_round


@dataclass(frozen=True, slots=True)
class OpenLayer:
    """One layer of one lot: ``used`` of ``quantity`` (thousandths) have left ``amount`` (minor units)."""

    sku: str
    lot_document: int
    lot_line: int
    position: int
    quantity: int
    amount: int
    used: int = 0

    @property
    def left(self) -> int:
        """What is still there, in thousandths."""
        return self.quantity - self.used

    @property
    def value(self) -> int:
        """What is still there, in minor units: the amount less all that left before.

        >>> OpenLayer("TEE", 1, 1, 1, quantity=3000, amount=100, used=1000).value
        67
        """
        return self.amount - divide_round(self.amount * self.used, self.quantity)

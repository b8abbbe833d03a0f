"""What the sample files must give, worked out plainly and apart from the program itself.

Nothing is imported from the package: decimals and fractions, one step after the other, in the
order of the design's rules. Money is in whole cents here, quantities in whole thousandths.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from sample_shop import SampleCharge


@dataclass
class CostLine:
    """One line on its way from the invoice to its lot; quantities in base units."""

    sku: str
    quantity_milli: int
    net_foreign: int
    kind: str
    claimed: int = 0
    normal: int = 0
    expensed: int = 0
    weight_mg: int = 0
    sent_weight_mg: int = 0
    is_stocked: bool = True
    amount: int = 0
    claimed_amount: int = 0
    shares: list[int] = field(default_factory=list)

    @property
    def kept_milli(self) -> int:
        """What enters the lot."""
        return self.quantity_milli - 1000 * (self.claimed + self.normal)

    @property
    def good_milli(self) -> int:
        """What is on the shelf afterwards."""
        return self.kept_milli - 1000 * self.expensed

    @property
    def invoice_cost(self) -> int:
        """The invoice's part without what is claimed back."""
        return self.amount - self.claimed_amount

    @property
    def landed(self) -> int:
        """The invoice's part with every charge."""
        return self.invoice_cost + sum(self.shares)

    @property
    def expensed_cost(self) -> int:
        """What the pieces treated as an expense take out of the lot."""
        return whole(Fraction(self.landed * 1000 * self.expensed, self.kept_milli))

    @property
    def value_on_hand(self) -> int:
        """What is left of the landed cost on the shelf; nothing for supplies when bought."""
        return self.landed - self.expensed_cost if self.is_stocked else 0


def whole(value: Fraction) -> int:
    """Return the value rounded half away from zero."""
    sign = -1 if value < 0 else 1
    return sign * int(abs(value) + Fraction(1, 2))


def cents(amount: Decimal) -> int:
    """Return an amount of money in whole hundredths, rounded half away from zero."""
    return int((amount * 100).quantize(Decimal(1), rounding=ROUND_HALF_UP))


def money(hundredths: int) -> str:
    """Return hundredths as text with two decimals."""
    return f"{Decimal(hundredths) / 100:.2f}"


def plain(milli: int) -> str:
    """Return thousandths as text without trailing zeros."""
    text = f"{Decimal(milli) / 1000:.3f}"
    return text.rstrip("0").rstrip(".")


def shared_out(amount: int, weights: Sequence[int]) -> list[int]:
    """Return the amount in parts: each rounded down, then one cent each to the largest remainders."""
    total = sum(weights)
    exact = [Fraction(amount * weight, total) for weight in weights]
    parts = [int(value) for value in exact]
    while sum(parts) < amount:
        rests = [value - part for value, part in zip(exact, parts, strict=True)]
        parts[rests.index(max(rests))] += 1
    return parts


def take_discount(lines: Sequence[CostLine], discount: int) -> None:
    """Lower every line's net by its part of an invoice discount, by value."""
    nets = [line.net_foreign for line in lines]
    for line, part in zip(lines, shared_out(discount, nets), strict=True):
        line.net_foreign -= part


def convert(lines: Sequence[CostLine], rate: str = "1") -> None:
    """Set every line's amount: the total converted once, then shared out; then what is claimed."""
    total = whole(sum(line.net_foreign for line in lines) * Fraction(rate))
    nets = [line.net_foreign for line in lines]
    for line, part in zip(lines, shared_out(total, nets), strict=True):
        line.amount = part
        line.claimed_amount = whole(Fraction(part * 1000 * line.claimed, line.quantity_milli))


def add_charge(lines: Sequence[CostLine], charge: SampleCharge) -> int:
    """Share a charge out over the lines and return what it comes to, in cents."""
    bears = [not charge.only or line.sku in charge.only for line in lines]
    values = [line.invoice_cost if yes else 0 for line, yes in zip(lines, bears, strict=True)]
    if charge.amount is not None:
        amount = cents(charge.amount)
    else:
        amount = whole(sum(values) * Fraction(charge.percent or 0) / 100)
        if charge.minimum is not None:
            amount = max(amount, cents(charge.minimum))
        if charge.maximum is not None:
            amount = min(amount, cents(charge.maximum))
    weights = {
        "value": values,
        "quantity": [line.good_milli if yes else 0 for line, yes in zip(lines, bears, strict=True)],
        "weight": [
            (line.sent_weight_mg if charge.of_all_sent else line.weight_mg) if yes else 0
            for line, yes in zip(lines, bears, strict=True)
        ],
    }[charge.basis]
    for line, part in zip(lines, shared_out(amount, weights), strict=True):
        line.shares.append(part)
    return amount

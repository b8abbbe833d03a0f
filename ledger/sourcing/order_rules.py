"""How much an offer lets one buy: minima, multiples, prepacks, a maximum."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ledger.errors import ValueProblem
from ledger.sourcing.quote import OrderRules, Quote


@dataclass(frozen=True)
class Buyable:
    """What has to be ordered to get what is wanted, in quoted units, and why it is more."""

    wanted: int
    quantity: int
    reasons: tuple[str, ...] = ()

    @property
    def extra(self) -> int:
        """How many more than wanted have to be ordered."""
        return self.quantity - self.wanted


def step_of(rules: OrderRules) -> int:
    """Return the quantity that every order is a multiple of: the multiple and whole prepacks together.

    >>> step_of(OrderRules(multiple=12))
    12
    """
    pack = sum(share.pieces for share in rules.size_ratio)
    return math.lcm(max(1, rules.multiple), max(1, pack))


def mixed_words(rules: OrderRules) -> str:
    """Return in words which packs of several sizes an offer is sold in; an empty text where it is not.

    >>> from ledger.sourcing.quote import SizeShare
    >>> mixed_words(OrderRules(size_ratio=(SizeShare("M", 1), SizeShare("L", 2))))
    'packs of mixed sizes (M 1, L 2)'
    """
    if len(rules.size_ratio) < 2:  # noqa: PLR2004 - of one size a pack is a multiple
        return ""
    return f"packs of mixed sizes ({', '.join(f'{share.size} {share.pieces}' for share in rules.size_ratio)})"


def least_quantity(rules: OrderRules, colours: int = 1) -> int:
    """Return the smallest order of that many colours: both minima at once, in whole multiples."""
    step = step_of(rules)
    least = max(1, rules.minimum, rules.minimum_per_colour * colours)
    return math.ceil(least / step) * step


def buyable(quote: Quote, wanted: int, colours: int = 1) -> Buyable:
    """Return the smallest order of at least ``wanted`` quoted units that the offer allows.

    ``colours`` is in how many colours the order comes, for the minimum of each.

    >>> buyable(Quote("mill", rules=OrderRules(minimum=100, minimum_per_colour=60, multiple=12)), 90, 2)
    Buyable(wanted=90, quantity=120, reasons=('at least 60 of each colour', 'by 12'))

    Raises ValueProblem where that is more than the offer's maximum.
    """
    rules = quote.rules
    step = step_of(rules)
    least = max(rules.minimum, rules.minimum_per_colour * colours)
    quantity = math.ceil(max(wanted, least, 1) / step) * step
    if rules.maximum and quantity > rules.maximum:
        raise ValueProblem(
            f"{quote.name} sells at most {rules.maximum} at once, and {quantity} would have to be ordered."
        )
    reasons = []
    if wanted < rules.minimum and rules.minimum >= rules.minimum_per_colour * colours:
        reasons.append(f"at least {rules.minimum}")
    elif wanted < rules.minimum_per_colour * colours:
        reasons.append(f"at least {rules.minimum_per_colour} of each colour")
    if step > 1:
        reasons.append(f"by {step}")
    return Buyable(wanted, quantity, tuple(reasons) if quantity > wanted else ())

"""Offers and past purchases side by side, per base unit landed, and why one is cheaper."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from ledger.sourcing.landed_estimate import GOODS, PARTS, LandedEstimate
from ledger.sourcing.order_rules import Buyable
from ledger.sourcing.quote import Quote

QUOTE = "quote"
PAID = "paid"

PRICE = "price"
DEFECTS = "defects"
STEPS = (PRICE, *PARTS[1:], DEFECTS)
"""The steps from a unit price to a landed unit cost, in order."""


@dataclass(frozen=True)
class Contender:
    """One way to buy, or one past purchase.

    Attributes:
        name: the offer, or the supplier and receipt.
        what: QUOTE or PAID.
        quantity: base units bought, exactly.
        unit_cost_minor: landed cost of one good base unit in the book's minor units.
        price_minor: of that, what the goods themselves cost.
        date: the day it was quoted or received, ISO 8601; empty where it is not known.
        quote, estimate, buying: how an offer was reckoned; None for a past purchase.
        remarks: what to know before relying on the figure.
        document: the receipt of a past purchase.
    """

    name: str
    what: str
    quantity: Fraction
    unit_cost_minor: Fraction
    price_minor: Fraction
    date: str = ""
    quote: Quote | None = None
    estimate: LandedEstimate | None = None
    buying: Buyable | None = None
    remarks: tuple[str, ...] = ()
    document: int | None = None


@dataclass(frozen=True)
class Step:
    """One step of the way from the price to the landed cost, per good base unit, in minor units."""

    name: str
    amount_minor: Fraction


def contender(quote: Quote, estimate: LandedEstimate, buying: Buyable) -> Contender:
    """Return an offer as it stands in a comparison."""
    return Contender(
        name=quote.name,
        what=QUOTE,
        quantity=estimate.quantity * quote.unit_factor,
        unit_cost_minor=estimate.unit_cost_minor,
        price_minor=estimate.amount_minor(GOODS) / (estimate.quantity * quote.unit_factor),
        date="" if quote.quoted_on is None else quote.quoted_on.isoformat(),
        quote=quote,
        estimate=estimate,
        buying=buying,
        remarks=estimate.warnings,
    )


def ranked(contenders: Iterable[Contender]) -> tuple[Contender, ...]:
    """Return the contenders from the cheapest landed base unit to the dearest, ties by name."""
    return tuple(sorted(contenders, key=lambda each: (each.unit_cost_minor, each.what, each.name)))


def waterfall(quote: Quote, estimate: LandedEstimate) -> tuple[Step, ...]:
    """Return the steps from the unit price to the landed cost of a good unit; they add up exactly.

    Every part is divided by the units ordered; the last step is what bad pieces put on the good ones.
    """
    ordered = estimate.quantity * quote.unit_factor
    steps = [
        Step(PRICE if part.name == GOODS else part.name, Fraction(part.amount_minor) / ordered)
        for part in estimate.parts
    ]
    lost = estimate.unit_cost_minor - Fraction(estimate.total_minor) / ordered
    return (*steps, Step(DEFECTS, lost)) if lost else tuple(steps)


@dataclass(frozen=True)
class Difference:
    """By how much one step of the cheaper way differs from the dearer one's; negative: it is lower."""

    name: str
    amount_minor: Fraction


def why_cheaper(cheaper: Contender, dearer: Contender) -> tuple[Difference, ...]:
    """Return how the steps of two offers differ; they add up to the difference in landed cost.

    Of a past purchase only the price and everything else together are known.
    """
    left, right = _steps(cheaper), _steps(dearer)
    if cheaper.estimate is None or dearer.estimate is None:
        left, right = _in_two(left), _in_two(right)
    names = [name for name in (*STEPS, OTHER) if name in left or name in right]
    return tuple(
        Difference(name, left.get(name, Fraction(0)) - right.get(name, Fraction(0)))
        for name in names
        if left.get(name, Fraction(0)) != right.get(name, Fraction(0))
    )


OTHER = "everything else"


def _steps(each: Contender) -> dict[str, Fraction]:
    if each.quote is None or each.estimate is None:
        return {PRICE: each.price_minor, OTHER: each.unit_cost_minor - each.price_minor}
    return {step.name: step.amount_minor for step in waterfall(each.quote, each.estimate)}


def _in_two(steps: dict[str, Fraction]) -> dict[str, Fraction]:
    price = steps.get(PRICE, Fraction(0))
    return {PRICE: price, OTHER: sum(steps.values(), Fraction(0)) - price}

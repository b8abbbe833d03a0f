"""Offers and past purchases side by side, per base unit landed, and why one is cheaper."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.exact.rounding import round_fraction
from ledger.sourcing.landed_estimate import GOODS, PARTS, LandedEstimate
from ledger.sourcing.order_rules import Buyable
from ledger.sourcing.quote import Quote

QUOTE = "quote"
PAID = "paid"

RANKED = "ranked"
MUCH_MORE = "much more"
NOT_ALL_QUOTED = "not all quoted"
STANDINGS = (RANKED, MUCH_MORE, NOT_ALL_QUOTED)
"""How an offer stands: with about what is wanted, forcing much more, or with costs nobody quoted."""

MUCH_MORE_FROM = Fraction(3, 2)
"""From how many times the wanted quantity on an offer forces much more than is wanted."""

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
        standing: one of STANDINGS; of a past purchase it means nothing.
        missing: the sizes that are wanted and that it does not bring, so that it is not quite like for like.
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
    standing: str = RANKED
    missing: tuple[str, ...] = ()

    @property
    def total_minor(self) -> int:
        """What the whole purchase comes to, in the book's minor units."""
        if self.estimate is not None:
            return self.estimate.total_minor
        return round_fraction(self.unit_cost_minor * self.quantity)

    @property
    def good_quantity(self) -> Fraction:
        """Base units of it that are expected to be good."""
        return self.estimate.good_units if self.estimate is not None else self.quantity

    def cost_of(self, wanted: Fraction) -> Fraction:
        """Return what ``wanted`` good base units cost this way, exactly, in the book's minor units.

        The whole purchase where it brings as many good ones or more; its cost raised in proportion where
        bad pieces leave fewer, so that a cheap price with many seconds is no bargain.

        Source: our own rule.
        """
        total = Fraction(self.total_minor)
        good = self.good_quantity
        return total * wanted / good if good < wanted else total


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


def ranked(contenders: Iterable[Contender], wanted: Fraction) -> tuple[Contender, ...]:
    """Return the contenders by what getting ``wanted`` good base units costs, each with its standing.

    First those that sell about as many, the least in all first; then those that force MUCH_MORE_FROM
    times as many or more and cost more in all than the best of the first; then those that leave a cost
    unquoted; past purchases last, by their landed unit cost. Ties go by unit cost and name.

    Source: our own rule.
    """
    every = tuple(contenders)
    complete = [each for each in every if each.quote is not None and not each.quote.unquoted]
    near = [each for each in complete if each.quantity < MUCH_MORE_FROM * wanted]
    least = min((each.cost_of(wanted) for each in near), default=None)

    def standing(each: Contender) -> str:
        if each.quote is not None and each.quote.unquoted:
            return NOT_ALL_QUOTED
        # Where more costs no more than what is wanted alone, having to take it is no burden.
        forces = each.quantity >= MUCH_MORE_FROM * wanted
        is_burden = forces and (least is None or each.cost_of(wanted) > least)
        return MUCH_MORE if is_burden else RANKED

    offers = [replace(each, standing=standing(each)) for each in every if each.what == QUOTE]
    offers.sort(
        key=lambda each: (
            STANDINGS.index(each.standing),
            each.cost_of(wanted),
            each.unit_cost_minor,
            each.name,
        )
    )
    paid = sorted(
        (each for each in every if each.what != QUOTE), key=lambda each: (each.unit_cost_minor, each.name)
    )
    return (*offers, *paid)


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


def step_names(ways: Iterable[Iterable[Step]]) -> tuple[str, ...]:
    """Return the names of the steps that any of several ways has, always in the order of STEPS."""
    there = {step.name for way in ways for step in way}
    return tuple(name for name in STEPS if name in there)


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

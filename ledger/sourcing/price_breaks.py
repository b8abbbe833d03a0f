"""What the goods of an order cost before anything is added: price breaks and what they are counted by."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from ledger.errors import ValueProblem
from ledger.sourcing.quote import (
    INCREMENTAL,
    PER_COLOUR,
    PER_ORDER,
    PER_SKU,
    OrderLine,
    OrderQuantities,
    PriceBreak,
    PriceGroup,
    Quote,
)


def price_at(breaks: Sequence[PriceBreak], quantity: int) -> Fraction:
    """Return the price in minor units of the highest break that a quantity reaches.

    A quantity below the first break has the first break's price.

    >>> breaks = (PriceBreak(1, Fraction(410)), PriceBreak(72, Fraction(360)))
    >>> price_at(breaks, 71), price_at(breaks, 72)
    (Fraction(410, 1), Fraction(360, 1))
    """
    price = breaks[0].price_minor
    for each in breaks[1:]:
        if quantity < each.from_quantity:
            break
        price = each.price_minor
    return price


def goods_cost(breaks: Sequence[PriceBreak], quantity: int, discount: str) -> Fraction:
    """Return what a quantity costs in minor units, exactly.

    All-units: every unit at the price of the break reached. Incremental: each unit at the price of
    the step it falls into, so that the first ones keep the dearer price; a step 'from 500' prices
    what goes beyond 500: the 500th still has the dearer price.

    >>> breaks = (PriceBreak(1, Fraction(30)), PriceBreak(500, Fraction(29)))
    >>> goods_cost(breaks, 600, "all_units"), goods_cost(breaks, 600, "incremental")
    (Fraction(17400, 1), Fraction(17900, 1))

    Source: Nahmias, Production and Operations Analysis, all-units and incremental schedules.
    """
    if discount != INCREMENTAL:
        return price_at(breaks, quantity) * quantity
    starts = [0, *(each.from_quantity for each in breaks[1:])]
    ends = [*starts[1:], quantity]
    return sum(
        (
            each.price_minor * max(0, min(quantity, end) - start)
            for each, start, end in zip(breaks, starts, ends, strict=True)
        ),
        Fraction(0),
    )


def covers(group: PriceGroup, line: OrderLine) -> bool:
    """Return whether a price group holds for an order line.

    A line that names neither a SKU nor a style is of whatever the offer is for.
    """
    is_open = not (line.sku or line.style)

    def fits(wanted: tuple[str, ...], said: str) -> bool:
        if not wanted or (is_open and not said):
            return True
        return said.casefold() in map(str.casefold, wanted)

    return (
        fits((group.sku,) if group.sku else (), line.sku)
        and fits((group.style,) if group.style else (), line.style)
        and fits(group.colours, line.colour)
        and fits(group.sizes, line.size)
    )


def group_for(quote: Quote, line: OrderLine) -> PriceGroup:
    """Return the first price group of an offer that covers a line.

    Raises ValueProblem where none does, or the offer has no price at all.
    """
    for group in quote.prices:
        if group.breaks and covers(group, line):
            return group
    what = line.sku or " ".join(filter(None, (line.style, line.colour, line.size))) or "these goods"
    raise ValueProblem(f"the offer {quote.name} has no price for {what}: add a row for it.")


def line_costs(quote: Quote, order: OrderQuantities) -> tuple[Fraction, ...]:
    """Return what each line of an order costs, in minor units of the quote's currency, exactly.

    A break is looked up by the quantity of its scope: the line's SKU, its colour (of its style), its
    style, or the whole order. An incremental schedule gives every line of a scope the average price.
    """
    totals = Counter[object]()
    for line in order.lines:
        totals[scope_of(quote, line)] += line.quantity
    costs = []
    for line in order.lines:
        breaks = group_for(quote, line).breaks
        reached = totals[scope_of(quote, line)]
        whole = goods_cost(breaks, reached, quote.discount)
        costs.append(whole * line.quantity / reached if reached else Fraction(0))
    return tuple(costs)


def scope_of(quote: Quote, line: OrderLine) -> tuple[str, ...]:
    """Return what a line is counted together with."""
    if quote.break_scope == PER_ORDER:
        return ()
    if quote.break_scope == PER_SKU:
        return (line.sku, line.style, line.colour, line.size)
    if quote.break_scope == PER_COLOUR:
        return (line.style, line.colour)
    return (line.style,)


def break_quantities(quote: Quote) -> tuple[int, ...]:
    """Return every quantity that a break of the offer names, in order, whatever it is counted by."""
    return tuple(
        sorted({each.from_quantity for group in quote.prices for each in group.breaks if each.from_quantity})
    )


def break_faults(breaks: Sequence[PriceBreak]) -> list[str]:
    """Return what is wrong with a list of breaks, in words; an empty list where nothing is."""
    if not breaks:
        return ["there is no price: write at least one, like 1 = 4.10."]
    faults = [
        f"the break 'from {each.from_quantity}' must be at least 1."
        for each in breaks
        if each.from_quantity < 1
    ]
    faults += [
        f"the price from {each.from_quantity} must not be negative."
        for each in breaks
        if each.price_minor < 0
    ]
    for before, after in pairwise(breaks):
        if after.from_quantity == before.from_quantity:
            faults.append(f"two prices begin at {after.from_quantity}: keep one.")
        elif after.from_quantity < before.from_quantity:
            faults.append(
                f"the break from {after.from_quantity} stands behind the one from {before.from_quantity}: "
                "write them in rising order."
            )
    return faults


def break_warnings(breaks: Sequence[PriceBreak]) -> list[str]:
    """Return what looks mistaken though it may be meant: prices that rise with the quantity."""
    return [
        f"the price rises from {after.from_quantity} on: is that meant?"
        for before, after in pairwise(breaks)
        if after.price_minor > before.price_minor
    ]

"""Which offer an order was placed under, where nobody said: the one whose rules, terms and price fit it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction

from ledger.sourcing.price_breaks import line_costs
from ledger.sourcing.quote import OrderQuantities, OrderRules, Quote

_NO_PRICE = Fraction(10**9)


@dataclass(frozen=True, slots=True)
class Placed:
    """An order as it was placed: its quantities in an offer's quoted units, and what it says of price and terms.

    ``amount_minor`` is in minor units of ``currency``; ``terms`` is a code of ``catalogue.terms``, empty
    where nothing was said; ``ordered_on`` is ISO 8601.
    """

    order: OrderQuantities
    amount_minor: int
    currency: str
    terms: str
    ordered_on: str


@dataclass(frozen=True, slots=True, order=True)
class Fit:
    """How far an offer is from an order: the smaller, the better.

    ``misfits`` is how many of currency, terms, price and validity differ; ``gap`` by what part of the
    offer's price the order's differs.
    """

    misfits: int
    gap: Fraction


def takes_order(rules: OrderRules, order: OrderQuantities) -> bool:
    """Return whether an offer lets one order exactly this: its minima, multiple, maximum and prepacks.

    >>> from ledger.sourcing.quote import OrderLine
    >>> takes_order(OrderRules(minimum=100, multiple=12), OrderQuantities((OrderLine(108),)))
    True

    Source: our own rule.
    """
    total = order.total_units
    by_colour = Counter[tuple[str, str]]()
    by_size: dict[tuple[str, str], Counter[str]] = {}
    for line in order.lines:
        colour = (line.style, line.colour)
        by_colour[colour] += line.quantity
        by_size.setdefault(colour, Counter())[line.size.casefold()] += line.quantity
    return (
        total >= rules.minimum
        and not (rules.maximum and total > rules.maximum)
        and total % max(1, rules.multiple) == 0
        and all(quantity >= rules.minimum_per_colour for quantity in by_colour.values())
        and all(_in_whole_packs(rules, sizes) for sizes in by_size.values())
    )


def _in_whole_packs(rules: OrderRules, sizes: Counter[str]) -> bool:
    """Return whether the sizes of one colour come as so many prepacks, and nothing besides."""
    if not rules.size_ratio:
        return True
    pack = Counter[str]()
    for share in rules.size_ratio:
        pack[share.size.casefold()] += share.pieces
    packs, rest = divmod(sum(sizes.values()), sum(pack.values()))
    return not rest and sizes == Counter({size: packs * pieces for size, pieces in pack.items() if pieces})


def fit_of(quote: Quote, placed: Placed) -> Fit | None:
    """Return how far an offer is from an order that it covers; None where it could not take the order.

    A price fits where each line is within a minor unit of the offer's at the quantity ordered.

    Raises ValueProblem where the offer has no price for a line.
    Source: our own rule.
    """
    if not takes_order(quote.rules, placed.order):
        return None
    gap = _NO_PRICE
    has_price = False
    if quote.currency == placed.currency:
        offered = sum(line_costs(quote, placed.order), Fraction(0))
        away = abs(offered - placed.amount_minor)
        has_price = away <= len(placed.order.lines)
        gap = away / offered if offered else away
    is_ended = quote.valid_until is not None and quote.valid_until.isoformat() < placed.ordered_on
    return Fit(
        (quote.currency != placed.currency)
        + bool(quote.terms and placed.terms and quote.terms != placed.terms)
        + (not has_price)
        + is_ended,
        gap,
    )

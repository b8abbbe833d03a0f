"""What buying whole packs would change: sixty-six shirts, or the case of seventy-two."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from ledger.book.buying import Market
from ledger.errors import ValueProblem
from ledger.sourcing.landed_estimate import landed_estimate
from ledger.sourcing.order_rules import buyable
from ledger.sourcing.quote import Quote


@dataclass(frozen=True)
class WholePacks:
    """An order rounded up to whole packs: base units, the whole order and one unit landed, in minor units."""

    pack: str
    packs: int
    quantity: Fraction
    total_minor: int
    unit_cost_minor: Fraction


def whole_packs(market: Market, quote: Quote, wanted: Fraction) -> tuple[WholePacks, ...]:
    """Return what an offer costs for ``wanted`` base units rounded up to each of the item's packs.

    Packs of which a whole number is wanted anyhow, and those that the offer's unit does not divide, change
    nothing and are left out; so are orders the offer does not allow.
    """
    goods = market.goods
    found = []
    for pack in goods.packs.get(goods.first.sku, ()):
        packs = math.ceil(wanted / pack.factor)
        units = packs * pack.factor / quote.unit_factor
        if units.denominator != 1 or packs * pack.factor == wanted:
            continue
        try:
            quantity = buyable(quote, int(units)).quantity
            if quantity != units:
                continue
            estimate = landed_estimate(quote, market.order(quote, quantity), market.entries[quote.name])
        except ValueProblem:
            continue
        found.append(
            WholePacks(pack.name, packs, packs * pack.factor, estimate.total_minor, estimate.unit_cost_minor)
        )
    return tuple(found)

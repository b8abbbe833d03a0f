"""What buying whole packs would change: sixty-six shirts, or the case of seventy-two."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.book.buying import Goods, Market
from ledger.catalogue.packs import Pack
from ledger.errors import ValueProblem
from ledger.sourcing.landed_estimate import landed_estimate
from ledger.sourcing.order_rules import buyable
from ledger.sourcing.quote import OrderQuantities, Quote


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

    A pack holds one item: of a style whole ones of each size are bought, where every size comes in the same
    pack. Packs of which a whole number is wanted anyhow, and those that the offer's unit does not divide,
    change nothing and are left out; so are orders the offer does not allow, and fixed mixes of sizes.
    """
    if quote.rules.size_ratio:
        return ()
    entry = market.entries[quote.name]
    found = []
    for pack in _common_packs(market.goods):
        units = pack.factor / quote.unit_factor
        try:
            order = _rounded(market, quote, wanted, units)
            if order is None or buyable(quote, order.total_units).quantity != order.total_units:
                continue
            estimate = landed_estimate(quote, order, entry)
        except ValueProblem:
            continue
        packs = order.total_units // int(units)
        quantity = packs * pack.factor
        found.append(WholePacks(pack.name, packs, quantity, estimate.total_minor, estimate.unit_cost_minor))
    return tuple(found)


def _common_packs(goods: Goods) -> list[Pack]:
    """Return the packs that every item of the goods comes in, with the same content."""
    first, *others = (
        {(pack.name, pack.factor): pack for pack in goods.packs.get(sku, ())} for sku in goods.skus
    )
    return [pack for key, pack in first.items() if all(key in other for other in others)]


def _rounded(market: Market, quote: Quote, wanted: Fraction, units: Fraction) -> OrderQuantities | None:
    """Return the order with each item rounded up to whole packs; None where that changes nothing."""
    if units.denominator != 1:
        return None
    plain = market.order(quote, max(1, math.ceil(wanted / quote.unit_factor)))
    size = int(units)
    lines = tuple(replace(line, quantity=math.ceil(line.quantity / size) * size) for line in plain.lines)
    return None if lines == plain.lines else replace(plain, lines=lines)

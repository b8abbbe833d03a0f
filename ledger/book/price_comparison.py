"""Offers and past receipts side by side: what getting so many of some goods costs landed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.book.buying import Goods, LeftOut, Market, order_line
from ledger.book.purchases import Purchase
from ledger.catalogue._words import fold
from ledger.errors import ValueProblem
from ledger.exact.quantity import MILLI
from ledger.sourcing.comparison import MUCH_MORE, NOT_ALL_QUOTED, PAID, RANKED, Contender, contender, ranked
from ledger.sourcing.expected_days import mean_days
from ledger.sourcing.landed_estimate import GOODS, LandedEstimate, landed_estimate
from ledger.sourcing.order_rules import buyable
from ledger.sourcing.price_breaks import covers
from ledger.sourcing.quote import Entry, Quote

MOST_PURCHASES = 10
"""How many past receipts a comparison shows: the latest of each supplier first."""


TAKEN_AS_FREE = "no freight and no terms stated: taken as delivered free."
"""The remark beside a domestic offer that says nothing of the way."""


@dataclass(frozen=True)
class Comparison:
    """Offers and past receipts, in the order of ``sourcing.comparison.ranked``."""

    market: Market
    wanted: Fraction
    contenders: tuple[Contender, ...]
    left_out: tuple[LeftOut, ...]

    @property
    def near(self) -> tuple[Contender, ...]:
        """The offers that sell about what is wanted, the least in all first."""
        return self._of(RANKED)

    @property
    def forcing(self) -> tuple[Contender, ...]:
        """The offers that force much more than is wanted, and more in all."""
        return self._of(MUCH_MORE)

    @property
    def unquoted(self) -> tuple[Contender, ...]:
        """The offers that leave a cost of the buyer's unquoted: nobody knows what they come to."""
        return self._of(NOT_ALL_QUOTED)

    @property
    def offers(self) -> tuple[Contender, ...]:
        """The offers whose every cost is quoted, the best first."""
        return (*self.near, *self.forcing)

    @property
    def paid(self) -> tuple[Contender, ...]:
        """The past receipts, the least landed unit cost first."""
        return tuple(each for each in self.contenders if each.what == PAID)

    def _of(self, standing: str) -> tuple[Contender, ...]:
        return tuple(each for each in self.contenders if each.quote is not None and each.standing == standing)


def compare(market: Market, wanted: Fraction) -> Comparison:
    """Return what getting ``wanted`` base units costs under each offer, and what was paid before.

    Each offer is costed at what has to be ordered to get so many; what cannot be costed is left out with
    the reason.
    """
    found: list[Contender] = []
    left_out = list(market.left_out)
    for quote in market.quotes:
        try:
            found.append(_offered(market, quote, wanted))
        except ValueProblem as problem:
            left_out.append(LeftOut(quote.name, str(problem)))
    found += [_paid(each) for each in _latest(market.past)]
    return Comparison(market, wanted, ranked(found, wanted), tuple(left_out))


def _offered(market: Market, quote: Quote, wanted: Fraction) -> Contender:
    """Return an offer costed at what has to be ordered.

    Raises ValueProblem where it cannot be costed, or is no offer of these goods alone.
    """
    units = max(1, math.ceil(wanted / quote.unit_factor))
    _check_pack(quote, market.goods, units)
    buying = buyable(quote, units)
    entry = market.entries[quote.name]
    estimate = landed_estimate(quote, market.order(quote, buying.quantity), entry)
    if not estimate.amount_minor(GOODS):
        raise ValueProblem("its price is 0, and an offer for nothing would always win: amend it.")
    offered = contender(quote, estimate, buying)
    free = (TAKEN_AS_FREE,) if quote.is_taken_as_free else ()
    own = (*free, *_uncovered(quote, market.goods), *_untimed(quote, estimate, entry))
    return replace(offered, remarks=(*offered.remarks, *own), missing=_missing(quote, market.goods))


def _check_pack(quote: Quote, goods: Goods, units: int) -> None:
    """Raise ValueProblem where a mix of sizes is offered and a single size is asked for."""
    shares = quote.rules.size_ratio
    if not shares or len(goods.items) > 1:
        return
    item = goods.first
    of_size = sum(share.pieces for share in shares if fold(share.size) == fold(item.size))
    in_pack = sum(share.pieces for share in shares)
    if of_size == in_pack:
        return
    mix = ", ".join(f"{share.size} {share.pieces}" for share in shares)
    if not of_size:
        raise ValueProblem(f"it is sold in packs of {in_pack} ({mix}) without any {item.size or item.sku}.")
    pieces = buyable(quote, math.ceil(Fraction(units, of_size)) * in_pack).quantity
    packs = pieces // in_pack
    raise ValueProblem(
        f"it is sold in packs of {in_pack} ({mix}), not by the size: {units} of {item.sku} take {packs} "
        f"{'pack' if packs == 1 else 'packs'}, {pieces} pieces of the style, {packs * of_size} of them {item.size}. "
        f"Compare the style: --prices {item.style}."
    )


def _unpriced(quote: Quote, goods: Goods) -> list[str]:
    """Return the sizes that an offer has no price for."""
    return [
        item.size or item.sku
        for item in goods.items
        if not any(covers(group, order_line(quote, item, 0)) for group in quote.prices)
    ]


def _missing(quote: Quote, goods: Goods) -> tuple[str, ...]:
    """Return the sizes wanted that an offer does not bring: without a price, or not in its packs."""
    packed = {fold(share.size) for share in quote.rules.size_ratio}
    unpriced = _unpriced(quote, goods)
    asked = [
        item.size or item.sku
        for item, share in zip(goods.items, goods.shares, strict=True)
        if share or not any(goods.shares)
    ]
    return tuple(
        size
        for size in asked
        if size in unpriced or (packed and len(goods.items) > 1 and fold(size) not in packed)
    )


def _uncovered(quote: Quote, goods: Goods) -> list[str]:
    """Return in words which of a style's sizes an offer has no price for, and which of a pack nobody knows."""
    missing = _unpriced(quote, goods)
    said = [f"no price for {', '.join(missing)}: its order is of the other sizes."] if missing else []
    sizes = {fold(item.size) for item in goods.items}
    unknown = [share.size for share in quote.rules.size_ratio if fold(share.size) not in sizes]
    if unknown:
        said.append(f"its packs also hold {', '.join(unknown)}, which the book does not have of these goods.")
    return said


def _untimed(quote: Quote, estimate: LandedEstimate, entry: Entry) -> list[str]:
    """Return in words that duty is today's because nobody says when the goods come."""
    is_today = estimate.customs_value_minor and entry.on == entry.today
    if is_today and not mean_days(quote.lead_time):
        return ["no lead time is stated: duty and entry fees are those of an entry today."]
    return []


def _latest(past: Sequence[Purchase]) -> list[Purchase]:
    """Return the latest purchase of each supplier, then others, MOST_PURCHASES at most."""
    firsts: dict[str, Purchase] = {}
    for each in past:
        firsts.setdefault(fold(each.party), each)
    rest = [each for each in past if each not in firsts.values()]
    return [*firsts.values(), *rest][:MOST_PURCHASES]


def _paid(purchase: Purchase) -> Contender:
    name = ", ".join(filter(None, (purchase.party, purchase.reference)))
    return Contender(
        name=name or "unnamed supplier",
        what=PAID,
        quantity=Fraction(purchase.quantity_milli, MILLI),
        unit_cost_minor=purchase.unit_cost_minor,
        price_minor=Fraction(purchase.invoice_minor * MILLI, purchase.quantity_milli),
        date=purchase.received_on,
        document=purchase.document,
    )


def usual_quantity(market: Market) -> Fraction:
    """Return how many base units to compare for where nobody says: as many as came last time.

    Where nothing ever came, the largest of the offers' smallest orders, so that all of them can be met.
    """
    if market.past:
        return Fraction(market.past[0].quantity_milli, MILLI)
    least = [buyable(quote, 1).quantity * quote.unit_factor for quote in market.quotes]
    return max(least, default=Fraction(1))

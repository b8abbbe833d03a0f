"""The buying question put to the book: which goods, how many, who offers them, what was paid."""

from __future__ import annotations

import datetime
import re
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.book.bill_store import find_bills, find_made
from ledger.book.catalogue_store import find_items, find_ladders, find_packs
from ledger.book.purchases import (
    OrderTook,
    Purchase,
    days_under,
    has_bought_from,
    orders_took,
    purchases,
    used_milli,
)
from ledger.book.quote_store import find_duties, find_quotes
from ledger.book.shop import Shop
from ledger.catalogue._words import fold, quoted, suggestion
from ledger.catalogue.boms import Bill
from ledger.catalogue.items import Item
from ledger.catalogue.packs import Pack
from ledger.catalogue.sizes import LADDERS, Ladder, size_sort_key
from ledger.costing.spreading import spread
from ledger.errors import RateUnknown, Refused, ValueProblem
from ledger.exact.currencies import exponent
from ledger.exact.numbers import show_fraction
from ledger.sourcing.duties import DutyLayer
from ledger.sourcing.entry_fees import EntryFees, converted, fees_on
from ledger.sourcing.expected_days import counted
from ledger.sourcing.landed_changes import entry_day
from ledger.sourcing.offered_unit import offered_pack
from ledger.sourcing.price_breaks import covers
from ledger.sourcing.quote import OCEAN, Entry, OrderLine, OrderQuantities, Quote

US = "US"
USD = "USD"
_PARTS = re.compile(r"[-._/+]")

RateOf = Callable[[str], Fraction]
"""Returns the book's currency for one unit of a currency; raises RateUnknown."""


@dataclass(frozen=True)
class Goods:
    """What is to be bought: one item, or a style's sizes in one colour with the share of each."""

    label: str
    items: tuple[Item, ...]
    shares: tuple[int, ...]
    packs: Mapping[str, Sequence[Pack]]
    shares_from: str = ""

    @property
    def first(self) -> Item:
        """The item whose unit and packs speak for all."""
        return self.items[0]

    @property
    def skus(self) -> tuple[str, ...]:
        """The SKUs."""
        return tuple(item.sku for item in self.items)

    def pack(self, unit: str) -> Pack:
        """Return what an offer's unit holds; ValueProblem where it is no pack, unit or content."""
        return offered_pack(unit, self.first, self.packs.get(self.first.sku, ()))


def find_goods(
    connection: sqlite3.Connection, name: str, colour: str = "", *, every_colour: bool = False
) -> Goods:
    """Return the goods that a SKU or a style names.

    A style comes in its sizes of one colour, the first unless one is named, or with ``every_colour`` in
    all of them unless one is; the share of each item is what ever left the shelf of it, or even while
    nothing has.

    Raises Refused where the book has neither, with the nearest names.
    """
    items = find_items(connection)
    by_sku = [item for item in items.values() if fold(item.sku) == fold(name)]
    of_style = [item for item in items.values() if item.style and fold(item.style) == fold(name)]
    if by_sku:
        _check_colour(by_sku[0], colour)
        found, label = by_sku, by_sku[0].sku
    elif of_style:
        of_colour = _every_colour if every_colour and not colour else _one_colour
        found, label = of_colour(of_style, colour, find_ladders(connection))
    else:
        styles = {item.style for item in items.values() if item.style}
        bill = _bill_named(connection, name)
        if bill is not None:
            raise Refused(made_words(name, bill))
        raise Refused(
            f"the book has no item and no style {quoted(name)}.{suggestion(name, [*items, *sorted(styles)])} "
            "See what there is with: blankbook items"
        )
    used = [used_milli(connection, item.sku) for item in found]
    has_use = len(found) > 1 and any(used)
    shares_from = "" if len(found) == 1 else ("what was used of each size" if has_use else "even")
    return Goods(
        label=label,
        items=tuple(found),
        shares=tuple(used if has_use else [1] * len(found)),
        packs=find_packs(connection, [item.sku for item in found]),
        shares_from=shares_from,
    )


def _check_colour(item: Item, colour: str) -> None:
    """Raise Refused where a colour is asked for that a single item is not in."""
    is_it = fold(colour) in {fold(item.colour), *map(fold, _PARTS.split(item.sku)[1:])}
    if colour and not is_it:
        has = f"it is {item.colour}" if item.colour else "it has no colour"
        raise Refused(
            f"{item.sku} is one item and {has}: leave --colour {colour} out, or name the style to choose a colour."
        )


def _one_colour(items: Sequence[Item], colour: str, own: Sequence[Ladder]) -> tuple[list[Item], str]:
    colours = list(dict.fromkeys(item.colour for item in items))
    wanted = [each for each in colours if fold(each) == fold(colour)] if colour else colours[:1]
    wanted = wanted or _by_code(items, colour)
    if not wanted:
        raise Refused(
            f"{items[0].style} has no colour {quoted(colour)}; it has {', '.join(filter(None, colours))}."
        )
    ladders = (*LADDERS, *own)
    chosen = [item for item in items if item.colour == wanted[0]]
    chosen.sort(key=lambda item: (size_sort_key(item.size, None, ladders), item.sku))
    return chosen, " ".join(filter(None, (items[0].style, wanted[0])))


def _by_code(items: Sequence[Item], code: str) -> list[str]:
    """Return the colour whose SKUs, and no other colour's, all have a part like RUFF-SND-M has SND."""
    having = {
        colour: all(
            fold(code) in map(fold, _PARTS.split(item.sku)) for item in items if item.colour == colour
        )
        for colour in dict.fromkeys(item.colour for item in items)
    }
    found = [colour for colour, has_code in having.items() if colour and has_code]
    return found if len(found) == 1 and len(having) > 1 else []


def _every_colour(items: Sequence[Item], colour: str, own: Sequence[Ladder]) -> tuple[list[Item], str]:
    """Return all items of a style, colour by colour."""
    del colour
    found: list[Item] = []
    for each in dict.fromkeys(item.colour for item in items):
        found += _one_colour(items, each, own)[0] if each else [item for item in items if not item.colour]
    return found, items[0].style


def made_words(name: str, bill: Bill) -> str:
    """Return in words that something is made by the shop, and what is bought for it."""
    if not bill.blank:
        return (
            f"{name} is made by the shop on customers' own garments: nobody sells it, and it takes no blank."
        )
    return (
        f"{name} is made by the shop (bill {bill.code}), not bought: compare its blank, {bill.blank}, "
        "or another of the things in the bill."
    )


def _bill_named(connection: sqlite3.Connection, name: str) -> Bill | None:
    """Return the bill of that code, or that makes something of that SKU or style."""
    bills = find_bills(connection)
    named = [bill for bill in bills.values() if fold(bill.code) == fold(name)]
    made = find_made(connection).values() if bills and not named else ()
    named += [each.bill for each in made if fold(name) in {fold(each.item.sku), fold(each.item.style)}]
    return named[0] if named else None


def made_by(connection: sqlite3.Connection, goods: Goods) -> Bill | None:
    """Return the bill that makes the goods, None where they are bought."""
    made = find_made(connection)
    return next((made[sku].bill for sku in goods.skus if sku in made), None)


def size_names(items: Sequence[Item]) -> dict[str, str]:
    """Return by SKU what tells items of some goods apart: the size, the colour too where there are several."""
    has_colours = len({fold(item.colour) for item in items}) > 1
    names = {
        item.sku: " ".join(filter(None, (item.colour if has_colours else "", item.size))) or item.sku
        for item in items
    }
    return names if len(set(names.values())) == len(names) else {sku: sku for sku in names}


def order_of(quote: Quote, goods: Goods, quantity: int) -> OrderQuantities:
    """Return an order of so many quoted units, spread over the sizes the offer has prices for.

    A prepack fixes the sizes; otherwise they come by the goods' shares.
    """
    covered = [
        (item, share)
        for item, share in zip(goods.items, goods.shares, strict=True)
        if any(covers(group, order_line(quote, item, 0)) for group in quote.prices)
    ]
    if not covered:
        raise ValueProblem(f"{quote.name} has no price for {goods.label}.")
    pieces = {fold(share.size): share.pieces for share in quote.rules.size_ratio}
    weights = [share for _, share in covered]
    if pieces and len(goods.items) > 1:
        weights = [pieces.get(fold(item.size), 0) for item, _ in covered]
    if not any(weights):
        weights = [1] * len(covered)
    counts = spread(quantity, weights)
    return OrderQuantities(
        tuple(
            order_line(quote, item, count) for (item, _), count in zip(covered, counts, strict=True) if count
        )
    )


def order_line(quote: Quote, item: Item, quantity: int) -> OrderLine:
    """Return so many quoted units of an item, with the weight, volume and class that the book has of it."""
    factor = quote.unit_factor
    return OrderLine(
        quantity=quantity,
        sku=item.sku,
        style=item.style,
        colour=item.colour,
        size=item.size,
        weight_grams=None if item.weight_mg is None else Fraction(item.weight_mg, 1000) * factor,
        volume_cm3=None if item.volume_mm3 is None else Fraction(item.volume_mm3, 1000) * factor,
        customs_class=quote.customs_class or item.customs_class,
    )


@dataclass(frozen=True)
class LeftOut:
    """An offer that is not compared, and why."""

    name: str
    reason: str


@dataclass(frozen=True)
class Market:
    """Who offers some goods at a date, ready to be costed at any quantity; who is left out and why."""

    goods: Goods
    currency: str
    quotes: tuple[Quote, ...]
    entries: Mapping[str, Entry]
    first_orders: frozenset[str]
    past: tuple[Purchase, ...]
    left_out: tuple[LeftOut, ...] = ()

    def order(self, quote: Quote, quantity: int) -> OrderQuantities:
        """Return the order of so many quoted units of an offer, with a paid sample where it is the first."""
        return replace(order_of(quote, self.goods, quantity), with_sample=quote.name in self.first_orders)


@dataclass(frozen=True)
class Day:
    """The days a comparison is made for: today, which offers must stand on, and the day of entry.

    Without a day of entry each offer's goods enter its own lead time after today.
    """

    today: datetime.date
    entry: datetime.date | None = None

    def entry_of(self, quote: Quote) -> datetime.date:
        """Return the day the goods of an offer enter; ValueProblem where its lead time is absurd."""
        return self.entry or entry_day(self.today, quote)


def find_market(
    connection: sqlite3.Connection, shop: Shop, goods: Goods, day: Day, rate_of: RateOf
) -> Market:
    """Return the offers of some goods that stand today, and what was paid for them before."""
    layers = tuple(row.layer() for row in find_duties(connection))
    quotes: list[Quote] = []
    entries: dict[str, Entry] = {}
    left_out: list[LeftOut] = []
    for quote in find_quotes(connection):
        if not any(
            covers(group, order_line(quote, item, 0)) for group in quote.prices for item in goods.items
        ):
            continue
        try:
            check_standing(quote, day.today)
            ready = timed(quote, orders_took(connection, quote.supplier))
            entries[quote.name] = entry_under(ready, shop, day, layers, rate_of)
            quotes.append(_ready(ready, shop, goods, entries[quote.name]))
        except (ValueProblem, RateUnknown) as problem:
            left_out.append(LeftOut(quote.name, str(problem)))
    bill = None if quotes or left_out else made_by(connection, goods)
    if bill is not None:
        left_out.append(LeftOut(goods.label, made_words("it", bill)))
    return Market(
        goods=goods,
        currency=shop.currency,
        quotes=tuple(quotes),
        entries=entries,
        first_orders=frozenset(
            quote.name for quote in quotes if not has_bought_from(connection, quote.supplier)
        ),
        past=tuple(purchases(connection, goods.skus)),
        left_out=tuple(left_out),
    )


def timed(quote: Quote, took: Sequence[OrderTook]) -> Quote:
    """Return an offer with the lead time that counts: as it states, or what its supplier's orders ``took``."""
    return replace(quote, lead_time=counted(quote.lead_time, days_under(took, quote.name)))


def _ready(quote: Quote, shop: Shop, goods: Goods, entry: Entry) -> Quote:
    """Return an offer with the content of its unit and the day's entry fees."""
    fees = entry_fees_of(quote, shop, entry.on, entry.dollar_rate)
    return replace(quote, unit_factor=goods.pack(quote.unit).factor, entry_fees=fees)


def check_standing(quote: Quote, today: datetime.date) -> None:
    """Raise ValueProblem where an offer has ended, or has not begun."""
    if quote.valid_until is not None and today > quote.valid_until:
        raise ValueProblem(f"the offer ended on {quote.valid_until.isoformat()}: ask for a new one.")
    if quote.quoted_on is not None and today < quote.quoted_on:
        raise ValueProblem(f"it is quoted on {quote.quoted_on.isoformat()}, after today: correct quoted_on.")
    if quote.valid_from is not None and today < quote.valid_from:
        raise ValueProblem(f"the offer begins on {quote.valid_from.isoformat()}.")


def entry_under(quote: Quote, shop: Shop, day: Day, layers: tuple[DutyLayer, ...], rate_of: RateOf) -> Entry:
    """Return the circumstances an offer's goods are brought in under.

    Raises RateUnknown where nobody knows a rate, ValueProblem where the lead time is absurd.
    """
    own = quote.freight.currency
    has_fees = _has_us_fees(quote, shop) and shop.currency != USD
    return Entry(
        on=day.entry_of(quote),
        currency=shop.currency,
        rate=rate_of(quote.currency),
        freight_rate=rate_of(own) if own and own != shop.currency else None,
        dollar_rate=rate_of(USD) if has_fees else None,
        destination=shop.country,
        duty_layers=layers,
        today=day.today,
    )


def _has_us_fees(quote: Quote, shop: Shop) -> bool:
    return not quote.is_domestic and quote.origin != shop.country and shop.country == US


def entry_fees_of(
    quote: Quote, shop: Shop, entry: datetime.date, dollar_rate: Fraction | None = None
) -> EntryFees | None:
    """Return the US entry fees of foreign goods by the day of entry, in the book's minor units.

    The harbor fee is for ocean cargo only. ``dollar_rate`` is the book's currency for one US dollar, which
    the table's amounts and thresholds are in.

    Raises ValueProblem where a book in another currency is given no rate.
    """
    if not _has_us_fees(quote, shop):
        return None
    fees = fees_on(entry)
    fees = fees if quote.freight.mode == OCEAN else replace(fees, harbor_rate=Fraction(0))
    if shop.currency == USD:
        return fees
    if dollar_rate is None:
        raise ValueProblem(
            f"the entry fees of the United States are in {USD}, and no rate to {shop.currency} is known: type it with "
            f"--rate {USD}=…"
        )
    scale = Fraction(10) ** (exponent(shop.currency) - exponent(USD))
    words = f"converted at {show_fraction(dollar_rate, 10)} {shop.currency} for one {USD}"
    return converted(fees, dollar_rate * scale, words)

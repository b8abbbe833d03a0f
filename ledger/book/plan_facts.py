"""What a plan of orders reads from the book: use, stock by lot, open orders, offers, last purchases, lead times."""

from __future__ import annotations

import datetime
import json
import math
import sqlite3
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from ledger.book.bill_store import find_made
from ledger.book.buying import Day, RateOf, check_standing, entry_fees_of, entry_under, order_line, timed
from ledger.book.catalogue_store import find_items, find_packs
from ledger.book.decision_store import find_decisions
from ledger.book.demand_history import WANTED, histories
from ledger.book.order_store import find_orders
from ledger.book.orders import Order
from ledger.book.purchases import OrderTook, orders_took
from ledger.book.quote_store import find_duties, find_quotes
from ledger.book.shop import Shop
from ledger.book.under_way import expected
from ledger.catalogue._words import fold
from ledger.catalogue.items import CUSTOMERS, SUPPLIES_WHEN_BOUGHT, Item
from ledger.catalogue.packs import Pack, find_pack, unit_factor
from ledger.catalogue.units import find_unit
from ledger.errors import RateUnknown, ValueProblem
from ledger.exact.quantity import MILLI
from ledger.exact.words import typed_word
from ledger.sourcing.expected_days import counted, lead_times, source_words
from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.offered_unit import offered_pack
from ledger.sourcing.order_rules import mixed_words
from ledger.sourcing.own_history import OwnHistory, SizeHistory
from ledger.sourcing.price_breaks import covers
from ledger.sourcing.quote import Entry, Freight, LeadTime, OrderLine, PriceBreak, PriceGroup, Quote
from ledger.sourcing.reorder_points import Use
from ledger.sourcing.ways_to_buy import ASSUMED, Way, Wish
from ledger.sourcing.what_to_order import Batch, Coming, Stocked

LOTS = """
SELECT sku, quantity_on_hand, expires_on FROM lot WHERE quantity_on_hand > 0 AND available_from IS NOT NULL
"""
SHORTS = "SELECT sku, quantity_milli FROM balance WHERE quantity_milli < 0"

USED_BY_DAY = """
SELECT effect_date, sum(quantity_milli) FROM leg WHERE sku = ? AND effect_date >= ? AND effect_date <= ?
    AND account IN (SELECT value FROM json_each(?)) GROUP BY effect_date
    ORDER BY effect_date
"""

LAST_LEFT = "SELECT max(effect_date) FROM leg WHERE sku = ? AND account = 'on hand' AND quantity_milli < 0"

LAST_BOUGHT = """
SELECT d.document_date, d.party, d.currency, l.unit, l.quantity_milli, l.amount_foreign,
    lot.quantity_received, lot.invoice_cost + lot.charges
FROM lot JOIN document AS d ON d.number = lot.document
JOIN document_line AS l ON l.document = lot.document AND l.line = lot.line
WHERE lot.sku = ? AND d.event = 'receipt' AND d.party IS NOT NULL AND l.quantity_milli > 0
    AND d.document_date <= ? AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
ORDER BY d.document_date DESC, d.number DESC LIMIT 1
"""
"""The latest receipt line of a SKU that has a supplier."""

LAST_TERMS = """
SELECT t.terms FROM order_terms AS t CROSS JOIN document AS d ON d.number = t.document
WHERE d.party = ? ORDER BY t.document DESC LIMIT 1
"""
"""The terms of a supplier's latest order; from the terms, which are few, to their documents."""


@dataclass(frozen=True)
class PlanFacts:
    """All a plan is made of.

    Attributes:
        wishes: items that were used, with the ways to buy each.
        unused: items of which none was ever used; nothing says when to order them.
        made: items the shop makes itself: their parts are ordered, not they.
        not_counted: supplies that are an expense when bought: nobody knows what is there.
        first_month, through: the history's first month and the last day it tells of; empty without one.
        offers_out: offers that do not stand or cannot be reckoned with, and why.
        to_compare: by SKU the style, or the item itself, that has offers from afar or a kept decision.
        days_observed: days of the history.
        in_packs: by SKU who sells it only in packs of mixed sizes, and what to do; such packs are not planned.
    """

    wishes: tuple[Wish, ...]
    unused: tuple[Stocked, ...]
    made: tuple[str, ...]
    not_counted: tuple[str, ...]
    first_month: str
    through: str
    offers_out: Mapping[str, str]
    to_compare: Mapping[str, str] = field(default_factory=dict)
    days_observed: int = 0
    in_packs: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Asking:
    """What a plan is asked for: the day, the lead time where none is known, the rates, and which items."""

    today: datetime.date
    assumed_lead_days: float
    rate_of: RateOf
    is_wanted: Callable[[Item], bool] = lambda _: True


def plan_facts(connection: sqlite3.Connection, shop: Shop, asking: Asking) -> PlanFacts:
    """Return what a plan for a day is made of, as the book stands.

    What leaves the shelf because somebody wanted it is use: sold, used in jobs, samples, own use. Days on
    which there was none to use say nothing.
    """
    made = find_made(connection)
    items = [item for item in find_items(connection).values() if asking.is_wanted(item)]
    own = [item for item in items if item.sku in made or item.kind == "finished"]
    uncounted = [item for item in items if item.tax_class == SUPPLIES_WHEN_BOUGHT]
    left = {item.sku for item in (*own, *uncounted)}
    bought = [item for item in items if item.sku not in left and item.tax_class != CUSTOMERS]
    history = histories(connection, bought, asking.today)
    stocked = _stocked(connection, bought, history, asking.today)
    quotes = find_quotes(connection)
    ways = _Ways(connection, shop, asking, bought, quotes)
    used = [pair for pair in zip(bought, stocked, strict=True) if pair[1].use.per_day]
    wishes = tuple(ways.wish(item, stock) for item, stock in used)
    return PlanFacts(
        wishes=wishes,
        unused=tuple(stock for stock in stocked if not stock.use.per_day),
        made=tuple(item.sku for item in own),
        not_counted=tuple(item.sku for item in uncounted),
        first_month=history.months[0].month if history.months else "",
        through=history.through if history.months else "",
        offers_out=ways.left_out,
        to_compare=_to_compare(connection, bought, quotes),
        days_observed=sum(month.observed_days for month in history.months),
        in_packs=ways.in_packs,
    )


def _to_compare(
    connection: sqlite3.Connection, items: Sequence[Item], quotes: Sequence[Quote]
) -> dict[str, str]:
    """Return by SKU what to name to `compare`: of items that somebody offers from afar, or that were decided on."""
    decided = {
        item.sku
        for kept in find_decisions(connection)
        if kept.is_from_afar and not kept.orders
        for item in kept.items
    }
    groups = [group for quote in quotes if not quote.is_domestic for group in quote.prices]
    found = {}
    for item in items:
        line = OrderLine(0, item.sku, item.style, item.colour, item.size)
        if item.sku in decided or any(covers(group, line) for group in groups):
            found[item.sku] = item.style or item.sku
    return found


def _stocked(
    connection: sqlite3.Connection, items: Sequence[Item], history: OwnHistory, today: datetime.date
) -> list[Stocked]:
    batches: dict[str, list[Batch]] = {}
    for sku, quantity, expires in connection.execute(LOTS):
        day = None if expires is None else datetime.date.fromisoformat(expires)
        batches.setdefault(sku, []).append(Batch(quantity, day))
    shorts = {sku: -milli for sku, milli in connection.execute(SHORTS)}
    coming = _coming_by_sku(connection, find_orders(connection), today)
    observed = sum(month.observed_days for month in history.months)
    found = []
    for item, size in zip(items, history.sizes, strict=True):
        taken = _taken(connection, item, history) if size.total_milli > 0 else {}
        use = _use(taken, size, observed)
        stock = Stocked(
            sku=item.sku,
            name=item.name,
            kind=item.kind,
            unit=item.base_unit,
            use=use,
            # Lots and shorts never stand beside each other but for a day; what is short comes off.
            batches=tuple(batches.get(item.sku, ())),
            short_milli=shorts.get(item.sku, 0),
            coming=tuple(coming.get(item.sku, ())),
            shelf_life_days=item.shelf_life_days,
            last_used_on=datetime.date.fromisoformat(max(taken)) if taken else None,
        )
        left = connection.execute(LAST_LEFT, (item.sku,)).fetchone()[0] if stock.on_hand_milli <= 0 else None
        found.append(replace(stock, emptied_on=datetime.date.fromisoformat(left) if left else None))
    return found


def _taken(connection: sqlite3.Connection, item: Item, history: OwnHistory) -> dict[str, int]:
    """Return by day what was used of an item within the history, in thousandths."""
    first = f"{history.months[0].month}-01"
    rows = connection.execute(USED_BY_DAY, (item.sku, first, history.through, json.dumps(WANTED)))
    return {day: milli for day, milli in rows if milli > 0}


def _use(by_day: Mapping[str, int], size: SizeHistory, observed: int) -> Use:
    taken = list(by_day.values())
    if not taken:
        return Use()
    mean = sum(taken) / len(taken)
    sd = math.sqrt(sum((milli - mean) ** 2 for milli in taken) / (len(taken) - 1)) if len(taken) > 1 else 0.0
    days = max(1, observed - sum(size.days_out))
    return Use(days, len(taken), size.total_milli, sd)


def _coming_by_sku(
    connection: sqlite3.Connection, orders: Sequence[Order], today: datetime.date
) -> dict[str, list[Coming]]:
    """Return by SKU what is ordered and has not arrived, with the day each part is expected.

    Where an order says no day, it is the supplier's own mean lead time after the order, where there is one.
    A day that has passed is expected any time now, which is today.
    """
    ordered = {order.number: order for order in orders}
    usual: dict[str, list[OrderTook]] = {}
    found: dict[str, list[Coming]] = {}
    for part in expected(orders, today):
        day = datetime.date.fromisoformat(part.expected_on) if part.expected_on else None
        if day is None and part.party:
            if part.party not in usual:
                usual[part.party] = orders_took(connection, part.party)
            day = _day_after(ordered[part.order].ordered_on, usual[part.party])
        is_late = day is not None and day < today
        coming = Coming(part.order, part.quantity_milli, today if is_late else day, day if is_late else None)
        found.setdefault(part.sku, []).append(coming)
    return found


def _day_after(start: str, took: Sequence[OrderTook]) -> datetime.date | None:
    """Return the day that is the mean of what orders took after a day; None without any."""
    if not took:
        return None
    days = math.ceil(sum(each.days for each in took) / len(took))
    return datetime.date.fromisoformat(start) + datetime.timedelta(days=days)


_STYLE = "style "

ONE_BY_ONE = "and a plan orders sizes one by one"


class _Ways:
    """The ways to buy items, read once for all of them."""

    def __init__(
        self,
        connection: sqlite3.Connection,
        shop: Shop,
        asking: Asking,
        items: Sequence[Item],
        quotes: Sequence[Quote],
    ) -> None:
        self.connection, self.shop, self.asking = connection, shop, asking
        self.packs = find_packs(connection, [item.sku for item in items])
        self.left_out: dict[str, str] = {}
        self._took: dict[str, list[OrderTook]] = {}
        self._mixed: list[Quote] = []
        self.in_packs: dict[str, str] = {}
        self._terms: dict[str, str] = {}
        self._made: dict[tuple[LeadTime, tuple[str, ...]], tuple[LeadTimes, str]] = {}
        self._quotes = list(self._standing(quotes))
        self._by_goods: dict[str, set[int]] = {}
        for place, (quote, _) in enumerate(self._quotes):
            for group in quote.prices:
                style = f"{_STYLE}{fold(group.style)}" if group.style else ""
                self._by_goods.setdefault(fold(group.sku) or style, set()).add(place)
        self._of_supplier: dict[tuple[str, str], Quote] = {}
        for quote, _ in self._quotes:
            if quote.is_domestic:
                self._of_supplier.setdefault((fold(quote.supplier), quote.currency), quote)

    def wish(self, item: Item, stock: Stocked) -> Wish:
        """Return an item with the ways to buy it: the offers that stand, and as it was last bought."""
        line = OrderLine(0, item.sku, item.style, item.colour, item.size)
        mixed = [quote for quote in self._mixed if any(covers(group, line) for group in quote.prices)]
        ways = self._of(item, {fold(quote.supplier) for quote in mixed})
        if not mixed:
            return Wish(stock, ways)
        goods = " --colour ".join(map(typed_word, filter(None, (item.style or item.sku, item.colour))))
        sold = f"{mixed[0].supplier} sells it in {mixed_words(mixed[0].rules)}"
        self.in_packs[item.sku] = f"{sold}, {ONE_BY_ONE}: decide with 'compare {goods}'"
        return Wish(stock, ways, "" if ways else self.in_packs[item.sku])

    def _of(self, item: Item, packers: Collection[str]) -> tuple[Way, ...]:
        """Return the ways to buy an item by itself; ``packers`` sell it in packs of several sizes."""
        found = []
        line = OrderLine(0, item.sku, item.style, item.colour, item.size)
        named = (fold(item.sku), f"{_STYLE}{fold(item.style)}", "")
        for place in sorted({place for name in named for place in self._by_goods.get(name, ())}):
            quote, entry = self._quotes[place]
            if any(covers(group, line) for group in quote.prices):
                way = self._offered(quote, entry, item)
                if way is not None:
                    found.append(way)
        paid = self._paid(item)
        offering = {*packers, *(fold(way.supplier) for way in found)}
        # Where its supplier offers it today, what was once paid says nothing.
        if paid is not None and fold(paid.supplier) not in offering:
            found.append(paid)
        return tuple(found)

    def _standing(self, quotes: Sequence[Quote]) -> Iterable[tuple[Quote, Entry]]:
        layers = tuple(row.layer() for row in find_duties(self.connection))
        day = Day(self.asking.today)
        for quote in quotes:
            try:
                check_standing(quote, self.asking.today)
                ready = timed(quote, self._orders_took(quote.supplier))
                if packs := mixed_words(quote.rules):
                    self._mixed.append(quote)
                    self.left_out[quote.name] = f"it is sold in {packs}, {ONE_BY_ONE}."
                    continue
                entry = entry_under(ready, self.shop, day, layers, self.asking.rate_of)
                fees = entry_fees_of(quote, self.shop, entry.on, entry.dollar_rate)
                yield replace(ready, entry_fees=fees), entry
            except (ValueProblem, RateUnknown) as problem:
                self.left_out[quote.name] = str(problem)

    def _offered(self, quote: Quote, entry: Entry, item: Item) -> Way | None:
        try:
            pack = offered_pack(quote.unit, item, self.packs.get(item.sku, ()))
        except ValueProblem as problem:
            self.left_out[quote.name] = str(problem)
            return None
        ready = replace(quote, unit_factor=pack.factor)
        lead, words = self._lead(quote.lead_time, quote.closures)
        unit = quote.unit if self._is_known(quote.unit, item) else ""
        return Way(ready, entry, order_line(ready, item, 0), lead, words, unit)

    def _is_known(self, unit: str, item: Item) -> bool:
        """Return whether a command knows the unit by its name: a pack of the item, or a unit."""
        return find_pack(unit, self.packs.get(item.sku, ())) is not None or find_unit(unit) is not None

    def _paid(self, item: Item) -> Way | None:
        row = self.connection.execute(LAST_BOUGHT, (item.sku, self.asking.today.isoformat())).fetchone()
        if row is None:
            return None
        day, party, currency, unit, quantity, amount, received, landed = row
        try:
            rate = self.asking.rate_of(currency)
        except RateUnknown as problem:
            self.left_out[party] = str(problem)
            return None
        factor, unit = self._last_unit(item, unit)
        price = Fraction(amount * MILLI, quantity) * factor
        # An offer within the country of its other goods: freight, terms and lead time hold for these too.
        own = self._of_supplier.get((fold(party), currency))
        quote = Quote(
            name=f"{item.sku} of {party}, as paid on {day}",
            supplier=party,
            currency=currency,
            freight=own.freight if own else Freight(),
            prices=(PriceGroup((PriceBreak(1, price),), sku=item.sku),),
            unit=unit,
            unit_factor=factor,
            terms=own.terms if own else self._last_terms(party),
            lead_time=counted(
                own.lead_time if own else LeadTime(), [each.days for each in self._orders_took(party)]
            ),
            closures=own.closures if own else (),
        )
        lead, words = self._lead(quote.lead_time, quote.closures)
        return Way(
            quote,
            Entry(self.asking.today, self.shop.currency, rate, destination=self.shop.country),
            order_line(quote, item, 0),
            lead,
            words,
            unit,
            paid_on=day,
            landed_minor=landed * MILLI / received if received > 0 else 0.0,
        )

    def _last_unit(self, item: Item, unit: str) -> tuple[Fraction, str]:
        packs: Sequence[Pack] = self.packs.get(item.sku, ())
        try:
            factor = unit_factor(unit, item.base_unit, packs, item.density_g_per_ml)
        except ValueProblem:
            return Fraction(1), ""
        return factor, unit

    def _last_terms(self, party: str) -> str:
        if party not in self._terms:
            row = self.connection.execute(LAST_TERMS, (party,)).fetchone()
            self._terms[party] = row[0] if row else ""
        return self._terms[party]

    def _orders_took(self, party: str) -> list[OrderTook]:
        if party not in self._took:
            self._took[party] = orders_took(self.connection, party) if party else []
        return self._took[party]

    def _lead(self, said: LeadTime, closures: tuple[str, ...]) -> tuple[LeadTimes, str]:
        """Return the lead time that counts, else the assumed one, and who says so."""
        key = (said, closures)
        if key not in self._made:
            words = source_words(said)
            known = said if words else LeadTime(self.asking.assumed_lead_days)
            self._made[key] = lead_times(known, closures, self.asking.today), words or ASSUMED
        return self._made[key]

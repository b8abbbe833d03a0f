"""The buying study that a book gives: its quotes in force, its own demand and lead times, stated assumptions."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.book.buying import Goods, Market, entry_fees_of, order_line, size_names
from ledger.book.demand_history import own_history
from ledger.book.shop import Shop
from ledger.catalogue.items import Item
from ledger.errors import RateUnknown, ValueProblem
from ledger.intake.study_history import history_table
from ledger.intake.write_profile import toml_value
from ledger.intake.write_study import WrittenOffer, comment, inline, listed, offer_lines
from ledger.sourcing.duties import DutyLayer, dated_layers, layers_for
from ledger.sourcing.expected_days import lead_times, source_words
from ledger.sourcing.incoterms import buyer_pays
from ledger.sourcing.landed_changes import entry_day
from ledger.sourcing.own_history import OwnHistory, history_remarks, size_shares
from ledger.sourcing.price_breaks import covers
from ledger.sourcing.quote import PER_COLOUR, PER_ORDER, PER_SKU, LeadTime, PriceBreak, PriceGroup, Quote

EACH = "each"


@dataclass(frozen=True)
class Assumption:
    """A figure nobody stated: its table and key in a study, its value, and what it means."""

    table: str
    key: str
    value: str
    meaning: str

    @property
    def place(self) -> str:
        """Where it stands in a study."""
        return f"[{self.table}] {self.key}" if self.table else self.key


ASSUMPTIONS = (
    Assumption("", "horizon_months", "12", "how many months ahead the decision looks"),
    Assumption("money", "capital_per_year", "0.12", "what a year on the shelf costs, of the landed cost"),
    Assumption("money", "storage_per_unit_month", '"0"', "rent for a piece's place"),
    Assumption("money", "cost_per_order", '"0"', "placing and handling an order: your time has a price, too"),
    Assumption(
        "money", "salvage_fraction", "0.0", "what a leftover fetches, of the lower of landed and home cost"
    ),
    Assumption("money", "obsolescence_per_year", "0.0", "how often a year a size goes out of use"),
    Assumption("money", "service_level", "0.95", "how sure stock should last until an order arrives"),
    Assumption("limits", "probability", "0.8", "a bulk must be cheaper in at least so many futures"),
)
"""What is taken where nobody says: cautious round figures of our own, each to be changed in the study."""

UNUSED_LIMITS = (
    ('# worst_tenth = "-300"', "the worst tenth of futures must save more than this on average"),
    ('# cash = "2500"', "the most cash to tie up"),
    ("# weeks_of_cover = 52", "the most weeks of demand to buy at once"),
    ("# space_units = 400", "what fits on the shelf"),
)


@dataclass(frozen=True)
class BookStudy:
    """A study as the book gives it.

    Attributes:
        text: the study as commented TOML: what is decided is read from it.
        label: what it is about.
        history: the shop's own demand.
        lead_words: who says how long an offer takes, by its name; those that made it into the study.
        left_out: which offers were left out, and why.
        remarks: what to be careful about.
    """

    text: str
    label: str
    history: OwnHistory
    lead_words: Mapping[str, str]
    left_out: tuple[str, ...]
    remarks: tuple[str, ...]


def book_study(connection: sqlite3.Connection, shop: Shop, market: Market, today: datetime.date) -> BookStudy:
    """Return the study of some goods that the book gives.

    An offer that cannot be studied is left out with the reason.
    """
    goods = market.goods
    history = own_history(connection, goods.label, goods.items, today)
    left_out = [f"{each.name} is left out: {each.reason}" for each in market.left_out]
    remarks = [] if history.is_empty else list(history_remarks(history))
    maker = _OfferMaker(connection, shop, market, history, today)
    offers = []
    for quote in market.quotes:
        try:
            offers.append(maker.offer(quote))
        except (ValueProblem, RateUnknown) as problem:
            left_out.append(f"{quote.name} is left out: {problem}")
    words = {offer.quote.name: offer.lead_words for offer in offers}
    lines = [
        *_head(goods, history, shop, today),
        *_demand(history, goods, _colour_lines(maker, offers)),
        *_money(),
        *(line for offer in offers for line in offer_lines(offer, shop.currency)),
    ]
    return BookStudy("\n".join(lines) + "\n", goods.label, history, words, tuple(left_out), tuple(remarks))


def _head(goods: Goods, history: OwnHistory, shop: Shop, today: datetime.date) -> list[str]:
    lines = [
        comment(
            f"A buying study of {goods.label}, as the book gave it on {today.isoformat()}; its records go up to "
            f"{history.through}.\nChange a figure and run: blankbook compare THIS-FILE.toml\n"
            "Why the answer moved: blankbook compare THIS-FILE.toml --against EARLIER-FILE.toml"
        ),
        f"currency = {toml_value(shop.currency)}",
        *_assumed(""),
    ]
    if goods.first.base_unit != EACH:
        lines.append(f"unit = {toml_value(goods.first.base_unit)}   # what quantities are counted in")
    lines += _goods_lines(goods)
    if shop.country:
        lines.append(f"destination = {toml_value(shop.country)}")
    return [*lines, f"# need_by = {today.isoformat()}   # when the goods must be there", ""]


def _goods_lines(goods: Goods) -> list[str]:
    """Return which goods of the book a study is about: the SKU, or a style and its colour where it is one."""
    if len(goods.items) == 1:
        return [f"sku = {toml_value(goods.first.sku)}"]
    lines = [f"sku = {toml_value(goods.first.style)}   # the style"]
    colours = {item.colour for item in goods.items}
    if len(colours) == 1 and goods.first.colour:
        lines.append(f"colour = {toml_value(goods.first.colour)}")
    return lines


def _assumed(table: str) -> list[str]:
    return [
        f"{each.key} = {each.value}   # assumed: {each.meaning}"
        for each in ASSUMPTIONS
        if each.table == table
    ]


def _colour_lines(maker: _OfferMaker, offers: Sequence[WrittenOffer]) -> list[str]:
    """Return which sizes are of which colour, where an offer has a minimum for each colour."""
    if not any(offer.quote.rules.minimum_per_colour for offer in offers):
        return []
    names, of_colour = size_names(maker.market.goods.items), dict[str, list[str]]()
    for item in maker.items():
        of_colour.setdefault(item.colour, []).append(names[item.sku])
    said = inline({colour: listed(map(toml_value, sizes)) for colour, sizes in of_colour.items()})
    return [f"colours = {said}   # for what an offer takes at least of each colour"]


def _demand(history: OwnHistory, goods: Goods, colours: Sequence[str]) -> list[str]:
    given = history_table(history)
    even = "shares of what left, by the time each was there"
    if history.is_empty and len(goods.items) > 1:
        names = list(size_names(goods.items).values())
        given["sizes"] = dict.fromkeys([size.name for size in history.sizes if size.name] or names, 1)
        even = "even, for none left yet"
    lines = ["[demand]"]
    if "history" in given:
        months = f"{history.months[0].month} to {history.months[-1].month}"
        lines += [
            comment(
                f"What left the shelf a month, {months}: used in jobs, sold, given as samples, own use."
                " In its place: per_month = 60, or low, likely and high."
            ),
            f"history = {listed(map(str, given['history']))}",
        ]
    else:
        lines.append(
            comment(
                "Nothing of it left the shelf yet. Say how many a month you expect (low and high: one chance in "
                "ten each):\nlow = 10\nlikely = 25\nhigh = 50"
            )
        )
    if "days_out_of_stock" in given:
        lines.append(
            f"days_out_of_stock = {listed(map(str, given['days_out_of_stock']))}"
            "   # of 30.4 a month: none there; 0 if you buy to order"
        )
    if "days_outside" in given:
        lines.append(
            f"days_outside = {listed(map(str, given['days_outside']))}   # of 30.4 a month: before or after the records"
        )
    if "sizes" in given:
        lines += [f"sizes = {inline(given['sizes'])}   # {even}", *colours]
    on_hand = given["on_hand"]
    said = inline(on_hand) if isinstance(on_hand, dict) else str(on_hand)
    return [*lines, f"on_hand = {said}   # on the shelf, and on its way", ""]


def _money() -> list[str]:
    limits = [f"{line}   # {meaning}" for line, meaning in UNUSED_LIMITS]
    return ["[money]", *_assumed("money"), "", "[limits]", *_assumed("limits"), *limits]


@dataclass(frozen=True)
class _OfferMaker:
    """Makes the offers of a study from the quotes of a market."""

    connection: sqlite3.Connection
    shop: Shop
    market: Market
    history: OwnHistory
    today: datetime.date

    def offer(self, quote: Quote) -> WrittenOffer:
        """Return one quote as a study's offer; ValueProblem where it cannot be one."""
        goods, entry = self.market.goods, self.market.entries[quote.name]
        items = self.items()
        entered = entry_day(self.today, quote)
        duty = self._duty(quote, items[0], entered, entry.duty_layers)
        written = replace(
            by_the_piece(replace(quote, prices=_groups(quote, items, goods)), _colours(quote, items)),
            lead_time=_written_lead(quote.lead_time, self.today),
            # Closures are in what own orders took.
            closures=() if quote.lead_time.samples else quote.closures,
            duty=(),
            entry_fees=entry_fees_of(quote, self.shop, entered, entry.dollar_rate),
            sample_minor=quote.sample_minor if quote.name in self.market.first_orders else Fraction(0),
        )
        is_same = quote.currency == self.shop.currency
        return WrittenOffer(
            quote=written,
            duty=duty,
            rate=None if is_same else entry.rate,
            freight_rate=entry.freight_rate,
            weight_grams=self._mean(quote, items, "weight_mg"),
            volume_cm3=self._mean(quote, items, "volume_mm3"),
            lead_words=source_words(quote.lead_time),
        )

    def items(self) -> list[Item]:
        """Return the items that the history has sizes of; all of them where it is empty."""
        goods = self.market.goods
        names = {size.name for size in self.history.sizes}
        called = size_names(goods.items)
        found = [item for item in goods.items if called[item.sku] in names]
        return found or list(goods.items)

    def _duty(
        self, quote: Quote, item: Item, on: datetime.date, layers: Sequence[DutyLayer]
    ) -> tuple[DutyLayer, ...]:
        """Return the duty layers of the goods with the days on which each holds, for these goods alone.

        Raises ValueProblem where none is known for the day of entry.
        """
        is_foreign = not quote.is_domestic and quote.origin != self.shop.country
        if not is_foreign or not buyer_pays(quote.terms, is_foreign=True).duty:
            return ()
        known, customs_class = quote.duty or tuple(layers), quote.customs_class or item.customs_class
        layers_for(known, customs_class, quote.origin, on)
        return dated_layers(known, customs_class, quote.origin)

    def _mean(self, quote: Quote, items: Sequence[Item], field: str) -> Fraction | None:
        """Return the mean of a measure by the sizes' shares, in thousands of its unit; freight goes by it."""
        freight = quote.freight
        values = [getattr(item, field) for item in items]
        if not (freight.per_kg_minor or freight.per_revenue_ton_minor):
            return None
        if None in values:
            needs = field == "weight_mg" or freight.per_revenue_ton_minor or freight.volumetric_cm3_per_kg
            if needs:
                what, without = ("weight", "") if field == "weight_mg" else ("volume", "")
                names = ", ".join(
                    item.sku for item, value in zip(items, values, strict=True) if value is None
                )
                raise ValueProblem(f"its freight goes by {what}, and the book has none of {names}{without}.")
            return None
        shares = size_shares(self.history) if len(self.history.sizes) == len(items) else ()
        weights = shares or tuple(Fraction(1, len(items)) for _ in items)
        return sum((share * value for share, value in zip(weights, values, strict=True)), Fraction(0)) / 1000


def _written_lead(lead: LeadTime, today: datetime.date) -> LeadTime:
    """Return a lead time that counts as a study has it: mean and spread, or what own orders took."""
    found = lead_times(lead, (), today)
    if found.samples:
        return LeadTime(samples=lead.samples)
    return LeadTime(round(found.mean_days, 1), found.sd_days)


def _groups(quote: Quote, items: Sequence[Item], goods: Goods) -> tuple[PriceGroup, ...]:
    """Return the prices of the goods' sizes, sizes of one price together."""
    by_breaks: dict[tuple[PriceBreak, ...], list[str]] = {}
    missing, names = [], size_names(goods.items)
    for item in items:
        line = order_line(quote, item, 0)
        found = next((group for group in quote.prices if group.breaks and covers(group, line)), None)
        if found is None:
            missing.append(names[item.sku])
        else:
            by_breaks.setdefault(found.breaks, []).append(names[item.sku])
    if missing:
        raise ValueProblem(f"it has no price for {', '.join(missing)} of {goods.label}.")
    if len(by_breaks) == 1:
        return (PriceGroup(next(iter(by_breaks))),)
    return tuple(PriceGroup(breaks, sizes=tuple(sizes)) for breaks, sizes in by_breaks.items())


def _colours(quote: Quote, items: Sequence[Item]) -> int:
    """Return how many colours an order comes in.

    Raises ValueProblem where the offer can only be told for one colour at a time.
    """
    colours = len({item.colour for item in items})
    if colours > 1 and (quote.break_scope == PER_COLOUR or quote.rules.size_ratio):
        what = "its price breaks count" if quote.break_scope == PER_COLOUR else "its prepacks are of"
        raise ValueProblem(f"{what} one colour: ask for one at a time with --colour.")
    return colours


def by_the_piece(quote: Quote, colours: int = 1) -> Quote:
    """Return an offer whose quantities are base units, where it quotes packs of a whole number of them.

    Of one colour an order holds at least the minimum of each; of more ``colours`` that minimum stays.

    Raises ValueProblem where a pack is no whole number of base units.
    """
    factor = quote.unit_factor
    scope = PER_SKU if quote.break_scope == PER_SKU else PER_ORDER
    each = quote.rules.minimum_per_colour if colours > 1 else 0
    least = quote.rules.minimum if each else max(quote.rules.minimum, quote.rules.minimum_per_colour)
    if factor == 1:
        rules = replace(quote.rules, minimum=least, minimum_per_colour=each)
        return replace(quote, break_scope=scope, rules=rules)
    if factor.denominator != 1:
        raise ValueProblem(f"its unit, {quote.unit}, is no whole number of the item's own units.")
    whole = int(factor)
    freight, local = quote.freight, quote.local
    return replace(
        quote,
        break_scope=scope,
        unit="",
        unit_factor=Fraction(1),
        prices=tuple(_smaller(group, whole) for group in quote.prices),
        rules=replace(
            quote.rules,
            minimum=least * whole,
            minimum_per_colour=each * whole,
            multiple=quote.rules.multiple * whole,
            maximum=quote.rules.maximum * whole,
        ),
        freight=replace(freight, per_unit_minor=freight.per_unit_minor / whole),
        local=replace(local, assist_per_unit_minor=local.assist_per_unit_minor / whole),
    )


def _smaller(group: PriceGroup, whole: int) -> PriceGroup:
    breaks = tuple(
        PriceBreak(each.from_quantity * whole if each.from_quantity > 1 else 1, each.price_minor / whole)
        for each in group.breaks
    )
    return replace(group, breaks=breaks)

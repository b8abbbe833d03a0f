"""Offers as sheets and the book keep them: text by column; and the quote that an offer means."""

from __future__ import annotations

import datetime
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from ledger.errors import ValueProblem
from ledger.exact.currencies import exponent
from ledger.exact.money import read_money
from ledger.sourcing.incoterms import buyer_pays, is_of_foreign_trade
from ledger.sourcing.price_breaks import break_warnings
from ledger.sourcing.quote import (
    ALL_UNITS,
    DOMESTIC,
    PER_ORDER,
    Defects,
    Deposit,
    Freight,
    Insurance,
    LeadTime,
    LocalCosts,
    OrderRules,
    PriceBreak,
    PriceGroup,
    Quote,
)
from ledger.sourcing.quote_columns import COLUMNS, OFFER_COLUMNS
from ledger.sourcing.quote_readers import OWN_ORDERS, read_breaks, read_prepack

ROW_COLUMNS = ("sku", "style", "colours", "sizes", "prices")
_WHOLE = 100


@dataclass(frozen=True)
class OfferRow:
    """One row's prices and what they are for, as text."""

    sku: str = ""
    style: str = ""
    colours: str = ""
    sizes: str = ""
    prices: str = ""


@dataclass(frozen=True)
class Offer:
    """One offer as it is kept: its key, what is filled in of OFFER_COLUMNS, its rows."""

    supplier: str
    offer: str
    head: Mapping[str, str] = field(default_factory=dict)
    rows: tuple[OfferRow, ...] = ()

    @property
    def name(self) -> str:
        """What comparisons call it."""
        return f"{self.supplier}, {self.offer}"

    def text(self, column: str) -> str:
        """Return what is kept in one of OFFER_COLUMNS, an empty text where it is not filled in."""
        return self.head.get(column, "")


@dataclass(frozen=True)
class CellFault:
    """One thing wrong in a row: its column and what."""

    column: str
    what: str


@dataclass(frozen=True)
class ReadRow:
    """What one row of the sheet states, with everything wrong in it."""

    supplier: str
    offer: str
    head: Mapping[str, str]
    row: OfferRow
    faults: tuple[CellFault, ...] = ()


def read_row(cells: Mapping[str, str]) -> ReadRow:
    """Return what one row of the sheet states; ``cells`` maps columns to trimmed text."""
    kept: dict[str, str] = {}
    faults: list[CellFault] = []
    for name, column in COLUMNS.items():
        text = cells.get(name, "").strip()
        if not text:
            continue
        try:
            kept[name] = column.read(text)
        except ValueProblem as problem:
            faults.append(CellFault(name, str(problem)))
    wrong = {fault.column for fault in faults}
    if "supplier" not in kept and "supplier" not in wrong:
        faults.append(CellFault("supplier", "the supplier is empty: say who offers."))
    if bool(cells.get("sku", "").strip()) == bool(cells.get("style", "").strip()):
        faults.append(CellFault("sku", "name either an SKU or a style in each row, not both."))
    if "prices" not in kept and "prices" not in wrong:
        faults.append(CellFault("prices", "there is no price: write at least one, like 1 = 4.10."))
    return ReadRow(
        supplier=kept.get("supplier", ""),
        offer=kept.get("offer") or kept.get("style") or kept.get("sku", ""),
        head={name: kept[name] for name in OFFER_COLUMNS if name in kept},
        row=OfferRow(**{name: kept.get(name, "") for name in ROW_COLUMNS}),
        faults=tuple(faults),
    )


@dataclass(frozen=True)
class RowFault:
    """One thing wrong with the rows of an offer together: the row counted from 0, the column, what."""

    row: int
    column: str
    what: str


@dataclass(frozen=True)
class BuiltOffer:
    """The offer that rows make, and what is wrong with them taken together."""

    offer: Offer
    faults: tuple[RowFault, ...] = ()


def offer_from_rows(rows: Sequence[ReadRow]) -> BuiltOffer:
    """Return the offer of rows with one supplier and offer; its own columns may stand in any of them."""
    head: dict[str, str] = {}
    faults: list[RowFault] = []
    for place, row in enumerate(rows):
        for name, text in row.head.items():
            if head.setdefault(name, text) != text:
                faults.append(
                    RowFault(
                        place,
                        name,
                        f"the offer has {head[name]} as its {name} in a row above: write it once.",
                    )
                )
    for place, row in enumerate(rows):
        if any(_same_goods(row.row, other.row) for other in rows[:place]):
            faults.append(RowFault(place, "prices", "these goods have prices in a row above: keep one row."))
    offer = Offer(rows[0].supplier, rows[0].offer, head, tuple(row.row for row in rows))
    faults += [RowFault(0, name, what) for name, what in _head_faults(head)]
    return BuiltOffer(offer, tuple(faults))


def _same_goods(left: OfferRow, right: OfferRow) -> bool:
    names = ("sku", "style", "colours", "sizes")
    return all(getattr(left, name).casefold() == getattr(right, name).casefold() for name in names)


def _head_faults(head: Mapping[str, str]) -> Iterable[tuple[str, str]]:
    """Return what contradicts itself in an offer's own columns."""
    start, end = head.get("valid_from", ""), head.get("valid_until", "")
    if start and end and end < start:
        yield "valid_until", f"the offer ends on {end}, before it begins on {start}."
    said = head.get("quoted_on", "")
    if said and end and end < said:
        yield "valid_until", f"the offer ends on {end}, before it was quoted on {said}."
    most, least = int(head.get("maximum") or 0), int(head.get("minimum") or 0)
    if most and most < least:
        yield "maximum", f"at most {most} and at least {least} cannot both be ordered."
    if "volumetric" in head and "freight_per_kg" not in head:
        yield "volumetric", "there is no freight_per_kg for it to change."


def offer_warnings(offer: Offer) -> list[str]:
    """Return what looks mistaken in an offer though it may be meant."""
    return [
        f"{offer.name}: {warning}"
        for row in offer.rows
        for warning in break_warnings(read_breaks(row.prices))
    ] + _freight_warnings(offer)


def _freight_warnings(offer: Offer) -> list[str]:
    """Return a warning where freight stands beside terms under which the seller pays it: it counts for nothing."""
    terms = offer.text("terms")
    typed = [name for name in FREIGHT_CELLS if offer.text(name).strip("0. ")]
    if not terms or not typed or buyer_pays(terms, is_foreign=is_of_foreign_trade(terms)).freight:
        return []
    them = "it" if len(typed) == 1 else "them"
    return [
        (
            f"{offer.name}: under {terms} the seller pays the freight, so {' and '.join(typed)} "
            f"count{'s' if len(typed) == 1 else ''} for nothing: clear {them}, or correct terms."
        )
    ]


FREIGHT_CELLS = (
    *("freight_per_order", "freight_per_unit", "freight_per_kg", "freight_per_m3"),
    "freight_minimum",
)
"""Any of these says what freight costs; a 0 says that it costs nothing."""


@dataclass(frozen=True)
class Home:
    """What an offer leaves open is taken from: the book's currency, the supplier's country and currency."""

    currency: str
    country: str = ""
    supplier_country: str = ""
    supplier_currency: str = ""

    @property
    def origin(self) -> str:
        """Where a supplier's goods come from unless the offer says: abroad only where they are."""
        is_abroad = self.supplier_country and self.supplier_country != self.country
        return self.supplier_country if is_abroad else DOMESTIC


def currency_of(offer: Offer, home: Home) -> str:
    """Return the currency of an offer's prices."""
    return offer.text("currency") or home.supplier_currency or home.currency


def origin_fault(offer: Offer, home: Home, unread: Collection[str] = ()) -> str | None:
    """Return what is wrong where terms of foreign trade stand beside no origin; None where nothing is.

    Nor is it where the origin is among the columns ``unread``: filled in with what could not be read.

    Taken as domestic, the goods would cross no border and pay no duty: unknown is not free.
    """
    terms = offer.text("terms")
    if (
        "origin" in unread
        or offer.text("origin")
        or home.origin != DOMESTIC
        or not is_of_foreign_trade(terms)
    ):
        return None
    return (
        f"{terms} are terms of foreign trade and no origin is given: write the country the goods come from "
        "(like CN) into origin, or 'domestic' where they cross no border; within one country the terms are "
        "'shipping point' or 'destination'."
    )


def unquoted_parts(offer: Offer, home: Home) -> tuple[str, ...]:
    """Return the parts of the way that the terms leave to the buyer and no cell speaks of; 0 is none.

    Without terms nobody says that freight within one country is the buyer's.
    """
    origin = offer.text("origin") or home.origin
    if origin_fault(offer, home):
        return ("origin",)
    is_foreign = origin not in {DOMESTIC, home.country}
    pays = buyer_pays(offer.text("terms"), is_foreign=is_foreign)
    missing = []
    is_open = pays.freight and not any(offer.text(name) for name in FREIGHT_CELLS)
    if is_open and (is_foreign or offer.text("terms")):
        missing.append("freight")
    if not is_foreign:
        return tuple(missing)
    # Without terms nobody says that the way to the port is the buyer's.
    if offer.text("terms") and pays.inland and not offer.text("inland"):
        missing.append("inland and export")
    if pays.clearance and not offer.text("brokerage"):
        missing.append("brokerage")
    return tuple(missing)


def is_taken_as_free(offer: Offer, home: Home) -> bool:
    """Return whether a domestic offer counts as delivered free only because it says nothing of the way."""
    origin = offer.text("origin") or home.origin
    says_nothing = not offer.text("terms") and not any(offer.text(name) for name in FREIGHT_CELLS)
    return says_nothing and origin in {DOMESTIC, home.country}


def unstated_parts(offer: Offer, home: Home) -> tuple[str, ...]:
    """Return what foreign goods may still cost at home under their terms and no cell speaks of."""
    origin = offer.text("origin") or home.origin
    if not offer.text("terms") or origin in {DOMESTIC, home.country}:
        return ()
    pays = buyer_pays(offer.text("terms"), is_foreign=True)
    each = {"terminal": pays.terminal, "delivery": pays.delivery}
    return tuple(name for name, is_due in each.items() if is_due and not offer.text(name))


def quote_of(offer: Offer, home: Home) -> Quote:
    """Return the quote that an offer means, with what it leaves open taken from home.

    Raises ValueProblem where an amount paid at home is finer than its currency.
    """
    currency = currency_of(offer, home)
    scale = Fraction(10) ** exponent(currency)
    return Quote(
        name=offer.name,
        supplier=offer.supplier,
        origin=offer.text("origin") or home.origin,
        currency=currency,
        prices=tuple(_group(row, scale) for row in offer.rows),
        discount=offer.text("discount") or ALL_UNITS,
        break_scope=offer.text("breaks_by") or PER_ORDER,
        rules=OrderRules(
            minimum=int(offer.text("minimum") or 1),
            minimum_per_colour=int(offer.text("minimum_per_colour") or 0),
            multiple=int(offer.text("multiple") or 1),
            maximum=int(offer.text("maximum") or 0),
            size_ratio=read_prepack(offer.text("prepack")),
        ),
        terms=offer.text("terms"),
        unit=offer.text("unit"),
        freight=_freight(offer, currency),
        insurance=Insurance(
            rate=_percent(offer, "insurance"),
            uplift=_percent(offer, "insured_value") or Fraction(1),
            minimum_minor=_number(offer, "insurance_minimum") * scale,
        ),
        duty_base=offer.text("duty_base") or "FOB",
        included_freight_minor=_number(offer, "included_freight") * scale,
        local=_local(offer, home.currency),
        defects=Defects(_percent(offer, "defects"), _percent(offer, "claim_returns")),
        sample_minor=_number(offer, "sample") * scale,
        lead_time=_lead_time(offer),
        deposit=Deposit(_percent(offer, "deposit"), int(offer.text("deposit_days") or 0)),
        closures=_listed(offer.text("closures")),
        customs_class=offer.text("customs_class"),
        valid_from=_day(offer, "valid_from"),
        valid_until=_day(offer, "valid_until"),
        quoted_on=_day(offer, "quoted_on"),
        cost_per_order_minor=_home_minor(offer, "order_cost", home.currency)
        if offer.text("order_cost")
        else None,
        note=offer.text("note"),
        unquoted=unquoted_parts(offer, home),
        unstated=unstated_parts(offer, home),
        is_taken_as_free=is_taken_as_free(offer, home),
    )


def _group(row: OfferRow, scale: Fraction) -> PriceGroup:
    breaks = tuple(
        PriceBreak(each.from_quantity, each.price_minor * scale) for each in read_breaks(row.prices)
    )
    return PriceGroup(breaks, row.sku, row.style, _listed(row.colours), _listed(row.sizes))


def _freight(offer: Offer, currency: str) -> Freight:
    billed_in = offer.text("freight_currency") or currency
    scale = Fraction(10) ** exponent(billed_in)
    step = _number(offer, "weight_step") * 1000
    free_above = offer.text("free_above")
    return Freight(
        per_order_minor=_number(offer, "freight_per_order") * scale,
        per_unit_minor=_number(offer, "freight_per_unit") * scale,
        per_kg_minor=_number(offer, "freight_per_kg") * scale,
        volumetric_cm3_per_kg=int(offer.text("volumetric")) if offer.text("volumetric") else None,
        weight_step_grams=int(step) or None,
        per_revenue_ton_minor=_number(offer, "freight_per_m3") * scale,
        minimum_revenue_tons=_number(offer, "least_m3") if offer.text("least_m3") else Fraction(1),
        minimum_minor=_number(offer, "freight_minimum") * scale,
        # What is free is judged by the goods, in the prices' currency.
        free_above_minor=Fraction(free_above) * 10 ** exponent(currency) if free_above else None,
        inland_minor=_number(offer, "inland") * scale,
        mode=offer.text("mode"),
        currency=offer.text("freight_currency"),
    )


def _local(offer: Offer, currency: str) -> LocalCosts:
    return LocalCosts(
        brokerage_minor=_home_minor(offer, "brokerage", currency),
        bond_minor=_home_minor(offer, "bond", currency),
        terminal_minor=_home_minor(offer, "terminal", currency),
        delivery_minor=_home_minor(offer, "delivery", currency),
        bank_fee_minor=_home_minor(offer, "bank_fee", currency),
        assist_minor=_home_minor(offer, "assists", currency),
        assist_per_unit_minor=_number(offer, "assists_per_unit") * 10 ** exponent(currency),
    )


def _home_minor(offer: Offer, column: str, currency: str) -> int:
    text = offer.text(column)
    if not text:
        return 0
    try:
        return read_money(text, currency)
    except ValueProblem as problem:
        raise ValueProblem(f"{offer.name}, {column}: {problem}") from problem


def _lead_time(offer: Offer) -> LeadTime:
    days = offer.text("lead_days")
    is_own = days == OWN_ORDERS
    return LeadTime(
        mean_days=0.0 if is_own or not days else float(days),
        sd_days=float(offer.text("lead_spread") or 0),
        from_own_orders=is_own,
    )


def _number(offer: Offer, column: str) -> Fraction:
    return Fraction(offer.text(column) or 0)


def _percent(offer: Offer, column: str) -> Fraction:
    return _number(offer, column) / _WHOLE


def _day(offer: Offer, column: str) -> datetime.date | None:
    text = offer.text(column)
    return datetime.date.fromisoformat(text) if text else None


def _listed(text: str) -> tuple[str, ...]:
    return tuple(filter(None, map(str.strip, text.split(";"))))

"""The quote that an offer means: what it leaves open is taken from home, what it leaves unsaid is named."""

from __future__ import annotations

import datetime
from collections.abc import Collection
from dataclasses import dataclass
from fractions import Fraction

from ledger.errors import ValueProblem
from ledger.exact.currencies import exponent
from ledger.exact.money import read_money
from ledger.sourcing.incoterms import buyer_pays, is_of_foreign_trade
from ledger.sourcing.offers import FREIGHT_CELLS, Offer, OfferRow
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
from ledger.sourcing.quote_readers import OWN_ORDERS, read_breaks, read_prepack

_WHOLE = 100


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


def origin_of(offer: Offer, home: Home) -> str:
    """Return where an offer's goods come from: a country, or DOMESTIC."""
    return offer.text("origin") or home.origin


def is_from_abroad(offer: Offer, home: Home) -> bool:
    """Return whether an offer's goods cross a border."""
    return origin_of(offer, home) not in {DOMESTIC, home.country}


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
    if origin_fault(offer, home):
        return ("origin",)
    is_foreign = is_from_abroad(offer, home)
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
    says_nothing = not offer.text("terms") and not any(offer.text(name) for name in FREIGHT_CELLS)
    return says_nothing and not is_from_abroad(offer, home)


def unstated_parts(offer: Offer, home: Home) -> tuple[str, ...]:
    """Return what foreign goods may still cost at home under their terms and no cell speaks of."""
    if not offer.text("terms") or not is_from_abroad(offer, home):
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
        origin=origin_of(offer, home),
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

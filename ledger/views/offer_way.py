"""What an offer's way to the shelf costs, in words: carriage, insurance, and what is paid at home for each order."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from ledger.exact.currencies import exponent
from ledger.exact.numbers import show_fraction
from ledger.sourcing.duties import percent
from ledger.sourcing.incoterms import BuyerPays, buyer_pays
from ledger.sourcing.quote import Entry, Freight, Quote
from ledger.views.page import Fact

_PLACES = 6
_FREIGHT = "freight"


def way_facts(quote: Quote, entry: Entry) -> list[Fact]:
    """Return who pays the carriage and what it costs, insurance, and every amount paid at home for an order."""
    pays = buyer_pays(quote.terms, is_foreign=not quote.is_domestic)
    found = [Fact("main carriage (freight)", _carriage(quote, pays))]
    if pays.inland and (quote.freight.inland_minor or quote.freight.inland_per_unit_minor):
        found.append(Fact("to the port and export", _inland(quote)))
    if pays.insurance and (insured := _insurance(quote)):
        found.append(Fact("insurance", insured))
    if quote.sample_minor:
        found.append(Fact("a sample", exact_amount(quote.sample_minor, quote.currency)))
    found += _at_home(quote, pays, entry.currency)
    return found


def exact_amount(minor: Fraction | int, currency: str) -> str:
    """Return an amount with its currency: the currency's own decimals, more only where the amount has them.

    >>> exact_amount(1120, "CNY"), exact_amount(Fraction(1635, 10), "USD")
    ('11.20 CNY', '1.635 USD')
    """
    return f"{exact_number(minor, currency)} {currency}"


def exact_number(minor: Fraction | int, currency: str) -> str:
    """Return an amount without its currency, else as ``exact_amount``."""
    places = exponent(currency)
    text = show_fraction(Fraction(minor) / 10**places, _PLACES)
    whole, _, decimals = text.partition(".")
    return f"{whole}.{decimals.ljust(places, '0')}" if places else text


def _carriage(quote: Quote, pays: BuyerPays) -> str:
    said = _freight(quote.freight, quote.freight.currency or quote.currency)
    if not pays.freight:
        ignored = f"; the {said} typed is not counted" if said else ""
        return f"the seller pays it under {quote.terms}, so it is 0 beyond the price{ignored}"
    who = "you pay it" if quote.terms else "no terms say who pays it; counted as yours"
    if said:
        return f"{who}: {said}"
    if _FREIGHT in quote.unquoted:
        return f"{who}, and the offer gives no amount: nothing of it is counted"
    return f"{who}: 0, for the offer lists none"


def _freight(freight: Freight, currency: str) -> str:
    parts = []
    if freight.per_order_minor:
        parts.append(f"{exact_amount(freight.per_order_minor, currency)} an order")
    if freight.per_unit_minor:
        parts.append(f"{exact_amount(freight.per_unit_minor, currency)} a piece")
    if freight.per_kg_minor:
        by = (
            f"weight or room, {freight.volumetric_cm3_per_kg:,} cm3 as one kg"
            if freight.volumetric_cm3_per_kg
            else "weight, as the items have it"
        )
        step = f", in steps of {freight.weight_step_grams:,} g" if freight.weight_step_grams else ""
        parts.append(f"{exact_amount(freight.per_kg_minor, currency)} a kg (by {by}{step})")
    if freight.per_revenue_ton_minor:
        parts.append(f"{exact_amount(freight.per_revenue_ton_minor, currency)} a tonne or cubic metre")
    said = " and ".join(parts)
    if freight.minimum_minor:
        said = f"{said}, at least {exact_amount(freight.minimum_minor, currency)}".removeprefix(", ")
    if said and freight.free_above_minor is not None:
        said += f"; free where the goods come to {exact_amount(freight.free_above_minor, currency)} or more"
    return f"{said} ({freight.mode})" if said and freight.mode else said


def _inland(quote: Quote) -> str:
    freight = quote.freight
    currency = freight.currency or quote.currency
    each = ((freight.inland_minor, "an order"), (freight.inland_per_unit_minor, "a piece"))
    return " and ".join(f"{exact_amount(amount, currency)} {per}" for amount, per in each if amount)


def _insurance(quote: Quote) -> str:
    insurance = quote.insurance
    if insurance.per_order_minor:
        return f"{exact_amount(insurance.per_order_minor, quote.currency)} an order"
    if not insurance.rate:
        return ""
    least = (
        f", at least {exact_amount(insurance.minimum_minor, quote.currency)}"
        if insurance.minimum_minor
        else ""
    )
    return f"{percent(insurance.rate)} of {percent(insurance.uplift)} of goods and freight{least}"


def _at_home(quote: Quote, pays: BuyerPays, currency: str) -> Iterator[Fact]:
    """Yield what is paid at home for each order, in the book's currency, and what nobody quoted."""
    local = quote.local
    each = (
        ("brokerage", local.brokerage_minor, pays.clearance),
        ("a part of the entry bond", local.bond_minor, pays.clearance),
        ("terminal", local.terminal_minor, pays.terminal),
        ("delivery to the door", local.delivery_minor, pays.delivery),
        ("bank fee", local.bank_fee_minor, True),
    )
    said = [f"{name} {exact_amount(amount, currency)}" for name, amount, is_due in each if amount and is_due]
    if said:
        yield Fact("paid at home for each order", ", ".join(said))
    free = [
        f"{name} {exact_amount(amount, currency)}" for name, amount, is_due in each if amount and not is_due
    ]
    if free:
        yield Fact("typed and not counted", f"{', '.join(free)}: the seller's under {quote.terms}")
    missing = [part for part in (*quote.unquoted, *quote.unstated) if part != _FREIGHT]
    if missing:
        yield Fact("not quoted", f"{', '.join(missing)}: nothing is counted of it")

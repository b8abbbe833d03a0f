"""A buying study written as TOML with a word beside each figure, to be changed and run again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ledger.exact.currencies import exponent
from ledger.exact.numbers import show_fraction
from ledger.intake.write_profile import key_text, toml_value
from ledger.sourcing.duties import DutyLayer
from ledger.sourcing.entry_fees import EntryFees
from ledger.sourcing.quote import ALL_UNITS, NOTHING, PER_ORDER, Freight, PriceBreak, Quote

_PLACES = 8


@dataclass(frozen=True)
class WrittenOffer:
    """One offer as a study writes it.

    Attributes:
        quote: with prices for the study's sizes, by the piece; its lead time as it is to be written.
        duty: the layers that hold on the expected day of entry.
        rate: the study's currency for one unit of the offer's, None where they are the same.
        freight_rate: the same for the freight's own currency.
        weight_grams: of a piece on average, None where it is not known.
        volume_cm3: the same of its volume.
        lead_words: where the lead time is from.
    """

    quote: Quote
    duty: tuple[DutyLayer, ...] = ()
    rate: Fraction | None = None
    freight_rate: Fraction | None = None
    weight_grams: Fraction | None = None
    volume_cm3: Fraction | None = None
    lead_words: str = ""


def number_of(value: Fraction | int) -> str:
    """Return a number as TOML has it."""
    return show_fraction(Fraction(value), _PLACES)


def money_of(minor: Fraction | int, currency: str) -> str:
    """Return an amount of minor units in quotes, however fine."""
    return toml_value(number_of(Fraction(minor) / 10 ** exponent(currency)))


def inline(content: Mapping[str, Any]) -> str:
    """Return a table of texts that are TOML already on one line."""
    return "{" + ", ".join(f"{key_text(key)} = {value}" for key, value in content.items()) + "}"


def listed(values: Iterable[str]) -> str:
    """Return a list of texts that are TOML already."""
    return f"[{', '.join(values)}]"


def comment(text: str) -> str:
    """Return words as a comment of one or more lines."""
    return "\n".join(f"# {line}" for line in text.splitlines())


def offer_lines(offer: WrittenOffer, home_currency: str) -> list[str]:
    """Return the lines of one [[offer]]."""
    quote, currency = offer.quote, offer.quote.currency
    lines = ["", "[[offer]]", f"name = {toml_value(quote.name)}", f"origin = {toml_value(quote.origin)}"]
    lines.append(f"currency = {toml_value(currency)}")
    if offer.rate is not None:
        lines.append(
            f"exchange_rate = {toml_value(number_of(offer.rate))}   # {home_currency} for one {currency}"
        )
    lines += _price_lines(quote, currency)
    rules = quote.rules
    for key, value, usual in (
        ("minimum", rules.minimum, 1), ("minimum_per_colour", rules.minimum_per_colour, 0),
        ("multiple", rules.multiple, 1), ("maximum", rules.maximum, 0),
    ):  # fmt: skip
        if value != usual:
            lines.append(f"{key} = {value}")
    if rules.size_ratio:
        lines.append(f"size_ratio = {inline({each.size: each.pieces for each in rules.size_ratio})}")
    if quote.terms:
        lines.append(f"terms = {toml_value(quote.terms)}")
    lines += _freight_lines(offer, currency)
    lines += _border_lines(offer, home_currency)
    lines += _cost_lines(quote, home_currency)
    lines += _time_lines(offer)
    return lines


def _breaks(breaks: Sequence[PriceBreak], currency: str) -> str:
    return listed(
        inline({"from": each.from_quantity, "price": money_of(each.price_minor, currency)}) for each in breaks
    )


def _price_lines(quote: Quote, currency: str) -> list[str]:
    if len(quote.prices) == 1 and not quote.prices[0].sizes:
        lines = [f"breaks = {_breaks(quote.prices[0].breaks, currency)}"]
    else:
        rows = [
            f"    {inline({'sizes': listed(map(toml_value, group.sizes)), 'breaks': _breaks(group.breaks, currency)})},"
            for group in quote.prices
        ]
        lines = ["prices = [", *rows, "]"]
    if quote.discount != ALL_UNITS:
        lines.append(f"discount = {toml_value(quote.discount)}")
    if quote.break_scope != PER_ORDER:
        lines.append(f"breaks_by = {toml_value(quote.break_scope)}")
    return lines


def _freight_lines(offer: WrittenOffer, currency: str) -> list[str]:
    freight = offer.quote.freight
    found = _freight_table(freight, freight.currency or currency, currency)
    if freight.currency:
        found["currency"] = toml_value(freight.currency)
        if offer.freight_rate is not None:
            found["exchange_rate"] = toml_value(number_of(offer.freight_rate))
    lines = [f"freight = {inline(found)}"] if found else []
    if offer.weight_grams is not None:
        lines.append(f"weight_g = {number_of(offer.weight_grams)}")
    if offer.volume_cm3 is not None:
        lines.append(f"volume_cm3 = {number_of(offer.volume_cm3)}")
    cover = offer.quote.insurance
    if cover.rate or cover.minimum_minor:
        parts = {"rate": number_of(cover.rate), "uplift": number_of(cover.uplift)}
        lines.append(f"insurance = {inline({**parts, 'minimum': money_of(cover.minimum_minor, currency)})}")
    if offer.quote.included_freight_minor:
        lines.append(f"included_freight = {money_of(offer.quote.included_freight_minor, currency)}")
    return lines


def _freight_table(freight: Freight, currency: str, goods_currency: str) -> dict[str, str]:
    amounts = {
        "per_order": freight.per_order_minor, "per_unit": freight.per_unit_minor, "per_kg": freight.per_kg_minor,
        "per_revenue_ton": freight.per_revenue_ton_minor, "minimum": freight.minimum_minor,
        "inland": freight.inland_minor,
    }  # fmt: skip
    found = {key: money_of(amount, currency) for key, amount in amounts.items() if amount}
    if freight.free_above_minor is not None:
        found["free_above"] = money_of(freight.free_above_minor, goods_currency)
    if freight.volumetric_cm3_per_kg:
        found["volumetric_cm3_per_kg"] = str(freight.volumetric_cm3_per_kg)
    if freight.weight_step_grams:
        found["weight_step_g"] = str(freight.weight_step_grams)
    if freight.per_revenue_ton_minor and freight.minimum_revenue_tons != 1:
        found["minimum_revenue_tons"] = number_of(freight.minimum_revenue_tons)
    if freight.mode:
        found["mode"] = toml_value(freight.mode)
    return found


def _border_lines(offer: WrittenOffer, currency: str) -> list[str]:
    lines = []
    if offer.duty:
        lines += ["duty = [", *(f"    {_layer(layer)}," for layer in offer.duty), "]"]
        if any(layer.is_example for layer in offer.duty):
            lines.append(
                "# Examples are no facts to rely on: ask a licensed broker and put your own rates in their place."
            )
    if offer.quote.duty_base != "FOB":
        lines.append(f"duty_base = {toml_value(offer.quote.duty_base)}")
    if offer.quote.entry_fees is not None:
        lines.append(f"entry_fees = {_fees(offer.quote.entry_fees, currency)}")
    return lines


def _layer(layer: DutyLayer) -> str:
    found = {
        "rate": toml_value(number_of(layer.rate)),
        "from": layer.start.isoformat() if layer.start else "",
        "until": layer.until.isoformat() if layer.until else "",
        "program": toml_value(layer.program) if layer.program else "",
        "note": toml_value(layer.source) if layer.source else "",
        "checked": layer.checked_on.isoformat() if layer.checked_on else "",
        "example": "true" if layer.is_example else "",
    }
    return inline({key: value for key, value in found.items() if value})


def _fees(fees: EntryFees, currency: str) -> str:
    amounts = {
        "minimum": fees.minimum_minor, "maximum": fees.maximum_minor, "informal": fees.informal_minor,
        "formal_above": fees.formal_above_minor,
    }  # fmt: skip
    found = {"rate": toml_value(number_of(fees.rate))}
    found |= {key: money_of(amount, currency) for key, amount in amounts.items() if amount is not None}
    if fees.harbor_rate:
        found["harbor_rate"] = toml_value(number_of(fees.harbor_rate))
    return inline(found)


def _cost_lines(quote: Quote, currency: str) -> list[str]:
    local = quote.local
    amounts: dict[str, Fraction | int] = {
        "brokerage": local.brokerage_minor, "bond": local.bond_minor, "terminal": local.terminal_minor,
        "delivery": local.delivery_minor, "bank_fee": local.bank_fee_minor, "assist": local.assist_minor,
        "assist_per_unit": local.assist_per_unit_minor,
    }  # fmt: skip
    lines = [f"{key} = {money_of(amount, currency)}" for key, amount in amounts.items() if amount]
    if quote.sample_minor != NOTHING:
        lines.append(
            f"sample = {money_of(quote.sample_minor, quote.currency)}   # a first order: a paid sample goes before it"
        )
    if quote.cost_per_order_minor is not None:
        lines.append(f"cost_per_order = {money_of(quote.cost_per_order_minor, currency)}")
    if quote.defects.rate:
        lines.append(f"defect_rate = {number_of(quote.defects.rate)}")
    if quote.defects.claim_returns:
        lines.append(f"claim_returns = {number_of(quote.defects.claim_returns)}")
    return lines


def _time_lines(offer: WrittenOffer) -> list[str]:
    lead, deposit = offer.quote.lead_time, offer.quote.deposit
    if lead.samples:
        lines = [f"lead_time = {inline({'samples': listed(map(str, lead.samples))})}   # {offer.lead_words}"]
    elif lead.mean_days:
        said = inline({"mean_days": f"{lead.mean_days:g}", "sd_days": f"{lead.sd_days:g}"})
        lines = [f"lead_time = {said}   # {offer.lead_words}"]
    else:
        lines = ["# lead_time = {mean_days = 30, sd_days = 5}   # nobody said one: taken to deliver at once"]
    if deposit.fraction:
        terms = {
            "fraction": number_of(deposit.fraction),
            "days_before_shipping": deposit.days_before_shipping,
        }
        lines.append(f"deposit = {inline(terms)}")
    if offer.quote.closures:
        lines.append(f"closures = {listed(map(toml_value, offer.quote.closures))}")
    return lines

"""Carriage: chargeable weight, weight or measure, minima and the amount from which it is free."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

from ledger.errors import ValueProblem
from ledger.exact.numbers import show_fraction
from ledger.sourcing.quote import NOTHING, Freight, OrderLine, OrderQuantities, Quote

GRAMS_PER_KG = 1000
GRAMS_PER_TONNE = 1_000_000
CM3_PER_M3 = 1_000_000


def chargeable_grams(
    actual_grams: Fraction, volume_cm3: Fraction, cm3_per_kg: int | Fraction, step_grams: int | None = None
) -> Fraction:
    """Return the greater of actual and volumetric weight in grams, rounded up to whole steps.

    >>> chargeable_grams(Fraction(11600), Fraction(60 * 40 * 40), 5000, 500)
    Fraction(19500, 1)

    Source: common practice of carriers, no source.
    """
    grams = max(actual_grams, volume_cm3 / cm3_per_kg * GRAMS_PER_KG)
    return grams if not step_grams else Fraction(math.ceil(grams / step_grams) * step_grams)


def revenue_tons(actual_grams: Fraction, volume_cm3: Fraction, least: Fraction = Fraction(1)) -> Fraction:
    """Return what ocean freight is charged by: the greater of tonnes and cubic metres, with a minimum.

    >>> revenue_tons(Fraction(2_500_000), Fraction(1_200_000))
    Fraction(5, 2)

    Source: common practice of carriers, no source.
    """
    return max(actual_grams / GRAMS_PER_TONNE, volume_cm3 / CM3_PER_M3, least)


def freight_cost(quote: Quote, order: OrderQuantities, goods_minor: Fraction) -> Fraction:
    """Return what carriage of an order costs, in minor units of the freight's currency, exactly.

    ``goods_minor`` is what the goods come to, in the quote's currency, for freight free above an amount.

    Raises ValueProblem naming the lines whose weight or volume is missing where a rate needs it.
    """
    freight = quote.freight
    if freight.free_above_minor is not None and goods_minor >= freight.free_above_minor:
        return Fraction(0)
    cost = freight.per_order_minor + freight.per_unit_minor * order.total_units
    if freight.per_kg_minor:
        cost += freight.per_kg_minor * _charged_grams(quote.name, freight, order) / GRAMS_PER_KG
    if freight.per_revenue_ton_minor:
        grams, volume = _grams(quote.name, order), _volume(quote.name, order)
        cost += freight.per_revenue_ton_minor * revenue_tons(grams, volume, freight.minimum_revenue_tons)
    return max(cost, freight.minimum_minor)


def inland_cost(quote: Quote, order: OrderQuantities) -> Fraction:
    """Return what the way to the port and export clearance cost, in the freight's minor units, exactly."""
    return quote.freight.inland_minor + quote.freight.inland_per_unit_minor * order.total_units


def freight_words(quote: Quote, order: OrderQuantities, goods_minor: Fraction = NOTHING) -> str:
    """Return how the carriage of an order was reckoned, in words; a least charge is named as such."""
    freight = quote.freight
    without = replace(freight, minimum_minor=NOTHING)
    is_least = freight.minimum_minor > freight_cost(replace(quote, freight=without), order, goods_minor)
    words = []
    if freight.per_order_minor:
        words.append("per order")
    if freight.per_unit_minor:
        words.append(f"for {order.total_units} pieces")
    if freight.per_kg_minor:
        kilograms = show_fraction(_charged_grams(quote.name, freight, order) / GRAMS_PER_KG, 3)
        words.append(f"{kilograms} kg{' chargeable' if freight.volumetric_cm3_per_kg else ''}")
    if freight.per_revenue_ton_minor:
        tons = revenue_tons(
            _grams(quote.name, order), _volume(quote.name, order), freight.minimum_revenue_tons
        )
        is_one = tons == freight.minimum_revenue_tons
        words.append(f"{show_fraction(tons, 3)} by weight or measure{', the least' if is_one else ''}")
    said = " and ".join(words)
    if not is_least:
        return said
    return f"the least charge; {said}" if said else "the least charge"


def _charged_grams(name: str, freight: Freight, order: OrderQuantities) -> Fraction:
    grams = _grams(name, order)
    if freight.volumetric_cm3_per_kg:
        return chargeable_grams(
            grams, _volume(name, order), freight.volumetric_cm3_per_kg, freight.weight_step_grams
        )
    step = freight.weight_step_grams
    return grams if not step else Fraction(math.ceil(grams / step) * step)


def _grams(name: str, order: OrderQuantities) -> Fraction:
    missing = [_named(line) for line in order.lines if line.weight_grams is None]
    if missing:
        raise ValueProblem(
            f"the freight of {name} goes by weight, and no weight is known for {', '.join(missing)}: "
            "enter the item's weight ('items load'), or quote the freight per order or per piece."
        )
    return sum((line.quantity * (line.weight_grams or NOTHING) for line in order.lines), Fraction(0))


def _volume(name: str, order: OrderQuantities) -> Fraction:
    missing = [_named(line) for line in order.lines if line.volume_cm3 is None]
    if missing:
        raise ValueProblem(
            f"the freight of {name} goes by volume too, and none is known for {', '.join(missing)}: "
            "enter the item's volume ('items load'), or quote the freight by actual weight."
        )
    return sum((line.quantity * (line.volume_cm3 or NOTHING) for line in order.lines), Fraction(0))


def _named(line: OrderLine) -> str:
    return line.sku or " ".join(filter(None, (line.style, line.colour, line.size))) or "the goods"

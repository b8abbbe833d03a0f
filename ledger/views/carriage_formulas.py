"""What the way of an offer costs, as formulas of a workbook: to the port, the main carriage, insurance."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from ledger.sourcing.incoterms import BuyerPays
from ledger.sourcing.landed_estimate import FREIGHT, INLAND, INSURANCE
from ledger.views.offer_cells import PERCENT_FORMAT, PLAIN_FORMAT, RATE_FORMAT, Cells, rate_unit, rate_words


def add_way(cells: Cells, formulas: dict[str, str], pays: BuyerPays, rate: str) -> None:
    """Add the way's inputs and formulas: to the port, the main carriage, insurance."""
    quote, entry, freight = cells.offer.quote, cells.offer.entry, cells.offer.quote.freight
    billed_in = freight.currency or quote.currency
    own_rate = rate if billed_in == quote.currency else ""
    if billed_in not in (quote.currency, entry.currency):
        own_rate = "*" + cells.put("freight_rate", rate_words(billed_in), entry.freight_rate or 0, rate_unit(entry.currency, billed_in), RATE_FORMAT)  # fmt: skip
        cells.of_rate(billed_in)
    if pays.inland and (freight.inland_minor or freight.inland_per_unit_minor):
        cost = cells.money("inland", "way to the port and export clearance", freight.inland_minor, billed_in)
        if freight.inland_per_unit_minor:
            each = cells.money("inland_each", "the same for each piece", freight.inland_per_unit_minor, billed_in)  # fmt: skip
            cost = f"({cost}+{each}*{{quantity}})"
        formulas[INLAND] = cells.rounded(cost + own_rate)
    cost = _freight(cells, billed_in) if pays.freight else ""
    if cost:
        formulas[FREIGHT] = cells.rounded(f"{cost}{own_rate}")
    cover = quote.insurance
    if not pays.insurance or not (cover.rate or cover.minimum_minor or cover.per_order_minor):
        return
    insured = cells.put("insurance_rate", "insurance, of goods and freight", cover.rate, "of their value", PERCENT_FORMAT)  # fmt: skip
    uplift = cells.put("insured_value", "insured value, times goods and freight", cover.uplift, "times", PLAIN_FORMAT)  # fmt: skip
    least = cells.money("insurance_minimum", "insurance, at least", cover.minimum_minor, quote.currency)
    formula = (
        f"MAX({insured}*{uplift}*({{quantity}}*{{price}}{rate}+{reference(formulas, FREIGHT)}),{least}{rate})"
    )
    if cover.per_order_minor:
        formula += f"+{cells.money('insurance_per_order', 'insurance, for each order', cover.per_order_minor, quote.currency)}{rate}"
    formulas[INSURANCE] = cells.rounded(formula)


def reference(formulas: Mapping[str, str], part: str) -> str:
    """Return how a formula speaks of a part of the same row; 0 where the offer has none."""
    return f"{{{part}}}" if formulas.get(part) else "0"


def _freight(cells: Cells, currency: str) -> str:
    """Return what the main carriage costs in its own currency; '' where nothing is charged."""
    freight = cells.offer.quote.freight
    terms = []
    if freight.per_order_minor:
        terms.append(cells.money("freight", "freight for an order", freight.per_order_minor, currency))
    if freight.per_unit_minor:
        each = cells.money("freight_each", "freight for a piece", freight.per_unit_minor, currency)
        terms.append(f"{each}*{{quantity}}")
    if freight.per_kg_minor:
        terms.append(_by_weight(cells, currency))
    if freight.per_revenue_ton_minor:
        terms.append(_by_measure(cells, currency))
    cost = "+".join(terms)
    if freight.minimum_minor:
        least = cells.money("freight_minimum", "freight, at least", freight.minimum_minor, currency)
        cost = f"MAX({cost or '0'},{least})"
    if not cost or freight.free_above_minor is None:
        return f"({cost})" if cost else ""
    goods_in = cells.offer.quote.currency
    free = cells.money("freight_free", "freight is free where the goods come to", freight.free_above_minor, goods_in)  # fmt: skip
    return f"IF(ROUND({{quantity}}*{{price}},6)>={free},0,{cost})"


def _by_weight(cells: Cells, currency: str) -> str:
    freight = cells.offer.quote.freight
    each = cells.money("freight_kg", "freight for a kilogram", freight.per_kg_minor, currency)
    grams = f"{_weight(cells)}*{{quantity}}"
    if freight.volumetric_cm3_per_kg:
        per_kg = cells.put("cm3_per_kg", "volume that counts as a kilogram", freight.volumetric_cm3_per_kg, "cm3", PLAIN_FORMAT)  # fmt: skip
        grams = f"MAX({grams},{_volume(cells)}*{{quantity}}/{per_kg}*1000)"
    if freight.weight_step_grams:
        step = cells.put("weight_step", "weight is charged in steps of", freight.weight_step_grams, "g", PLAIN_FORMAT)  # fmt: skip
        grams = f"ROUNDUP(ROUND({grams}/{step},9),0)*{step}"
    return f"{each}*{grams}/1000"


def _by_measure(cells: Cells, currency: str) -> str:
    freight = cells.offer.quote.freight
    ton = cells.money("freight_m3", "freight for a cubic metre or a tonne", freight.per_revenue_ton_minor, currency)  # fmt: skip
    least = cells.put("least_m3", "of them at least", freight.minimum_revenue_tons, "m3 or t", PLAIN_FORMAT)
    return f"{ton}*MAX({_weight(cells)}*{{quantity}}/1000000,{_volume(cells)}*{{quantity}}/1000000,{least})"


def _weight(cells: Cells) -> str:
    return _once(cells, "weight", "weight of a piece", cells.offer.weight_grams, "g")


def _volume(cells: Cells) -> str:
    return _once(cells, "volume", "volume of a piece", cells.offer.volume_cm3, "cm3")


def _once(cells: Cells, key: str, what: str, value: Fraction | None, unit: str) -> str:
    name = f"{cells.prefix}_{key}"
    if any(each.name == name for each in cells.inputs):
        return name
    return cells.put(key, what, value or Fraction(0), unit, PLAIN_FORMAT)

"""What an order under an offer would cost landed, part by part, in the book's currency.

An estimate, not customs or tax advice: class, value, origin and rate are the importer's
responsibility; a licensed broker knows the rates of the day.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction

from ledger.costing.spreading import spread
from ledger.errors import ValueProblem
from ledger.exact.currencies import exponent
from ledger.exact.money import grouped_money
from ledger.exact.rounding import round_fraction
from ledger.sourcing.duties import DutyLayer, layers_for, percent
from ledger.sourcing.entry_fees import EntryFees
from ledger.sourcing.freight import freight_cost, freight_words, inland_cost
from ledger.sourcing.incoterms import BuyerPays, buyer_pays
from ledger.sourcing.landed_changes import change_warnings, duty_changes
from ledger.sourcing.landed_words import (
    gap_words,
    goods_words,
    insurance_words,
    lone_program_words,
    quote_warnings,
    rate_warnings,
    unstated_warnings,
)
from ledger.sourcing.price_breaks import line_costs
from ledger.sourcing.quote import OCEAN, Entry, OrderLine, OrderQuantities, Quote

GOODS = "goods"
INLAND = "inland and export"
FREIGHT = "freight"
INSURANCE = "insurance"
DUTY = "duty"
PROCESSING_FEE = "processing fee"
HARBOR_FEE = "harbor fee"
BROKERAGE = "brokerage"
BOND = "bond"
TERMINAL = "terminal"
DELIVERY = "delivery"
BANK_FEE = "bank fee"
SAMPLE = "sample"
CLAIM = "claim for defects"
PARTS = (
    GOODS,
    INLAND,
    FREIGHT,
    INSURANCE,
    DUTY,
    PROCESSING_FEE,
    HARBOR_FEE,
    BROKERAGE,
    BOND,
    TERMINAL,
    DELIVERY,
    BANK_FEE,
    SAMPLE,
    CLAIM,
)
"""The parts a landed cost can have, in the order they are shown."""

CIF = "CIF"


@dataclass(frozen=True)
class Part:
    """One part of a landed cost in the book's minor units, and in words how it came about."""

    name: str
    amount_minor: int
    how: str = ""


@dataclass(frozen=True)
class DutyLine:
    """What one layer takes of the goods of one class and origin; money in the book's minor units."""

    customs_class: str
    origin: str
    program: str
    rate: Fraction
    value_minor: int
    amount_minor: int


@dataclass(frozen=True)
class LandedEstimate:
    """An order costed: the parts add up to the total, to the minor unit.

    Attributes:
        currency: the book's, which all amounts are in.
        quantity: quoted units ordered.
        good_units: base units expected to be good, exactly.
        parts: those that are not zero, the goods and what duty holds always, in the order of PARTS.
        duties: the duty by class, origin and layer; its amounts add up to the part ``duty``.
        customs_value_minor: what duty and fees are reckoned on; 0 within one country.
        is_formal: whether the entry is formal; None within one country.
        warnings: what to look at before trusting the figure.
    """

    currency: str
    quantity: int
    good_units: Fraction
    parts: tuple[Part, ...]
    duties: tuple[DutyLine, ...] = ()
    customs_value_minor: int = 0
    is_formal: bool | None = None
    warnings: tuple[str, ...] = ()

    @property
    def total_minor(self) -> int:
        """The landed cost of the whole order."""
        return sum(part.amount_minor for part in self.parts)

    @property
    def unit_cost_minor(self) -> Fraction:
        """The landed cost of one good base unit, exactly."""
        return self.total_minor / self.good_units

    def amount_minor(self, name: str) -> int:
        """Return the amount of one of PARTS; 0 where the order has none of it."""
        return sum(part.amount_minor for part in self.parts if part.name == name)


@dataclass(frozen=True)
class _Import:
    """What crossing the border costs."""

    duties: tuple[DutyLine, ...] = ()
    customs_value_minor: int = 0
    is_formal: bool | None = None
    processing_minor: int = 0
    harbor_minor: int = 0
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Carriage:
    """What the way costs the buyer, in the book's minor units."""

    inland_minor: int
    freight_minor: int
    insurance_minor: int


def landed_estimate(quote: Quote, order: OrderQuantities, entry: Entry) -> LandedEstimate:
    """Return what an order would cost landed in the book's currency.

    Every part is converted and rounded once, half away from zero. By the terms only what the buyer
    still pays is counted; a foreign offer is dutiable at any value.

    Raises ValueProblem where the order is empty, no price covers a line, a weight the freight needs is
    missing, or no duty layer holds for foreign goods.
    Source: 19 USC 1401a (customs value), 19 CFR 24.23 and 24.24 (fees), Incoterms 2020.
    """
    if order.total_units <= 0 or any(line.quantity < 0 for line in order.lines):
        raise ValueProblem(f"{quote.name}: an order must be of at least one piece.")
    if not 0 <= quote.defects.rate < 1:
        raise ValueProblem(
            f"{quote.name}: a defect rate of {percent(quote.defects.rate)} leaves no good piece."
        )
    is_foreign = not quote.is_domestic and quote.origin != entry.destination
    pays = buyer_pays(quote.terms, is_foreign=is_foreign)
    costs = line_costs(quote, order)
    goods = sum(costs, Fraction(0))
    carriage = _carriage(quote, order, entry, goods, pays)
    border = _border(quote, order, entry, costs, carriage) if is_foreign else _Import()
    parts = _parts(quote, order, entry, pays, border)
    goods_minor = round_fraction(goods * _factor(quote, entry))
    claim = round_fraction(goods_minor * quote.defects.rate * quote.defects.claim_returns)
    every = [
        Part(GOODS, goods_minor, goods_words(quote, order, goods)),
        Part(INLAND, carriage.inland_minor),
        Part(
            FREIGHT,
            carriage.freight_minor,
            freight_words(quote, order, goods) if carriage.freight_minor else "",
        ),
        Part(
            INSURANCE,
            carriage.insurance_minor,
            insurance_words(quote, _factor(quote, entry), carriage.insurance_minor),
        ),
        *parts,
        Part(
            CLAIM, -claim, f"{percent(quote.defects.rate)} bad, {percent(quote.defects.claim_returns)} back"
        ),
    ]
    return LandedEstimate(
        currency=entry.currency,
        quantity=order.total_units,
        good_units=order.total_units * quote.unit_factor * (1 - quote.defects.rate),
        parts=tuple(
            part
            for part in every
            # A free class pays a duty of nothing, and that is said.
            if part.amount_minor or part.name == GOODS or (part.name == DUTY and border.duties)
        ),
        duties=border.duties,
        customs_value_minor=border.customs_value_minor,
        is_formal=border.is_formal,
        warnings=(*quote_warnings(quote, entry), *border.warnings, *unstated_warnings(quote)),
    )


def _factor(quote: Quote, entry: Entry) -> Fraction:
    """Return book minor units for one minor unit of the quote's currency."""
    return entry.rate * Fraction(10) ** (exponent(entry.currency) - exponent(quote.currency))


def _freight_factor(quote: Quote, entry: Entry) -> Fraction:
    """Return book minor units for one minor unit of the freight's currency."""
    own = quote.freight.currency
    if not own or own == quote.currency:
        return _factor(quote, entry)
    if own == entry.currency:
        return Fraction(1)
    if entry.freight_rate is None:
        raise ValueProblem(f"{quote.name}: no rate is given for freight in {own}.")
    return entry.freight_rate * Fraction(10) ** (exponent(entry.currency) - exponent(own))


def _carriage(
    quote: Quote, order: OrderQuantities, entry: Entry, goods: Fraction, pays: BuyerPays
) -> _Carriage:
    """Return what the buyer pays for the way and its insurance."""
    factor = _freight_factor(quote, entry) if pays.inland or pays.freight else Fraction(0)
    inland = round_fraction(inland_cost(quote, order) * factor) if pays.inland else 0
    freight = round_fraction(freight_cost(quote, order, goods) * factor) if pays.freight else 0
    insurance = _insurance(quote, entry, goods, freight) if pays.insurance else 0
    return _Carriage(inland, freight, insurance)


def _insurance(quote: Quote, entry: Entry, goods: Fraction, freight_minor: int) -> int:
    """Return what insuring goods and freight costs in the book's minor units."""
    cover = quote.insurance
    factor = _factor(quote, entry)
    by_value = cover.rate * cover.uplift * (goods * factor + freight_minor)
    return round_fraction(max(by_value, cover.minimum_minor * factor) + cover.per_order_minor * factor)


def _border(
    quote: Quote, order: OrderQuantities, entry: Entry, costs: tuple[Fraction, ...], carriage: _Carriage
) -> _Import:
    """Return customs value, duty and fees of foreign goods."""
    values = _customs_values(quote, order, entry, costs, carriage)
    value_minor = sum(values)
    fees = quote.entry_fees or EntryFees()
    pays = buyer_pays(quote.terms, is_foreign=True)
    is_ocean = quote.freight.mode in {"", OCEAN}
    duties: tuple[DutyLine, ...] = ()
    warnings: tuple[str, ...] = ()
    if pays.duty:
        duties, warnings = _duties(quote, order, entry, values)
    return _Import(
        duties=duties,
        customs_value_minor=value_minor,
        is_formal=fees.is_formal(value_minor) if fees.formal_above_minor is not None else None,
        processing_minor=fees.processing_fee(value_minor) if pays.duty else 0,
        harbor_minor=fees.harbor_fee(value_minor) if pays.duty and is_ocean else 0,
        warnings=warnings,
    )


def _customs_values(
    quote: Quote, order: OrderQuantities, entry: Entry, costs: tuple[Fraction, ...], carriage: _Carriage
) -> list[int]:
    """Return the customs value of each line in the book's minor units, assists included."""
    rate = entry.customs_rate if entry.customs_rate is not None else entry.rate
    factor = rate * Fraction(10) ** (exponent(entry.currency) - exponent(quote.currency))
    # The way to the port of export belongs to the value of goods bought at the works.
    value = sum(costs, Fraction(0)) * factor + carriage.inland_minor
    if quote.duty_base == CIF:
        value += carriage.freight_minor + carriage.insurance_minor
    else:
        value -= quote.included_freight_minor * factor
    value += quote.local.assist_minor + quote.local.assist_per_unit_minor * order.total_units
    # Weights of whole thousandths of a minor unit are fine enough to tell the lines apart.
    weights = [round_fraction(cost * factor * 1000) for cost in costs]
    if not any(weights):
        weights = [line.quantity for line in order.lines]
    return spread(max(0, round_fraction(value)), weights)


def _duties(
    quote: Quote, order: OrderQuantities, entry: Entry, values: list[int]
) -> tuple[tuple[DutyLine, ...], tuple[str, ...]]:
    """Return the duty of each class, origin and layer, and warnings about rates."""
    layers = quote.duty or entry.duty_layers
    grouped = Counter[tuple[str, str]]()
    for line, value in zip(order.lines, values, strict=True):
        grouped[line.customs_class or quote.customs_class, _origin(quote, line)] += value
    lines: list[DutyLine] = []
    used: list[DutyLayer] = []
    changes: list[str] = []
    gaps: list[str] = []
    for (customs_class, origin), value in grouped.items():
        try:
            found = layers_for(layers, customs_class, origin, entry.on)
        except ValueProblem as problem:
            raise ValueProblem(f"{quote.name}: {problem}") from problem
        used += [layer for layer in found if layer not in used]
        gaps += gap_words(layers, customs_class, origin, entry)
        gaps += lone_program_words(layers, customs_class, origin, entry)
        changes += duty_changes(layers, customs_class, origin, entry)
        lines += _layer_lines(found, customs_class, origin, value)
    return tuple(lines), (*gaps, *change_warnings(changes, entry), *rate_warnings(used, entry))


def _origin(quote: Quote, line: OrderLine) -> str:
    return line.origin or quote.origin


def _layer_lines(
    layers: tuple[DutyLayer, ...], customs_class: str, origin: str, value_minor: int
) -> list[DutyLine]:
    """Return the layers' shares of one duty: the sum of the rates on one value, rounded once."""
    total = round_fraction(sum((layer.rate for layer in layers), Fraction(0)) * value_minor)
    scale = 10**9
    weights = [round_fraction(layer.rate * scale) for layer in layers]
    amounts = spread(total, weights) if any(weights) else [0] * len(layers)
    return [
        DutyLine(customs_class, origin, layer.program or "duty", layer.rate, value_minor, amount)
        for layer, amount in zip(layers, amounts, strict=True)
    ]


def _parts(
    quote: Quote, order: OrderQuantities, entry: Entry, pays: BuyerPays, border: _Import
) -> list[Part]:
    """Return everything that follows goods, freight and insurance, before a claim."""
    local = quote.local
    is_bonded = pays.clearance and border.is_formal is not False
    sample = round_fraction(quote.sample_minor * _factor(quote, entry)) if order.with_sample else 0
    value = f"of {grouped_money(border.customs_value_minor, entry.currency)}"
    rates = " + ".join(dict.fromkeys(f"{line.program} {percent(line.rate)}" for line in border.duties))
    return [
        Part(DUTY, sum(line.amount_minor for line in border.duties), f"{rates} {value}"),
        Part(PROCESSING_FEE, border.processing_minor, _fee_words(quote, border) or value),
        Part(HARBOR_FEE, border.harbor_minor, value),
        Part(BROKERAGE, local.brokerage_minor if pays.clearance else 0),
        Part(BOND, local.bond_minor if is_bonded else 0),
        Part(TERMINAL, local.terminal_minor if pays.terminal else 0),
        Part(DELIVERY, local.delivery_minor if pays.delivery else 0),
        Part(BANK_FEE, local.bank_fee_minor),
        Part(SAMPLE, sample, "once, before the first order"),
    ]


def _fee_words(quote: Quote, border: _Import) -> str:
    """Return in words that a processing fee is a limit of the table; nothing where it is the rate."""
    fees, fee = quote.entry_fees, border.processing_minor
    if fees is None or not fee:
        return ""
    if border.is_formal is False and fees.informal_minor is not None:
        return "the fee of an informal entry"
    by_rate = round_fraction(fees.rate * border.customs_value_minor)
    if fee == by_rate:
        return ""
    return "the least" if fee > by_rate else "the most"

"""An offer as cells of a workbook: each figure of it an input with a name, and the landed cost as formulas.

The formulas do what ``ledger.sourcing.landed_estimate`` does, part by part and rounded as there. Only the
average price of goods that are priced by size is taken from the program: it depends on how an order is split.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction

from ledger.exact.currencies import exponent
from ledger.sourcing.duties import DutyLayer, layers_for
from ledger.sourcing.incoterms import BuyerPays, buyer_pays
from ledger.sourcing.landed_estimate import (
    BANK_FEE,
    BOND,
    BROKERAGE,
    CIF,
    CLAIM,
    DELIVERY,
    DUTY,
    FREIGHT,
    GOODS,
    HARBOR_FEE,
    INLAND,
    INSURANCE,
    PROCESSING_FEE,
    SAMPLE,
    TERMINAL,
    LandedEstimate,
)
from ledger.sourcing.price_breaks import line_costs
from ledger.sourcing.quote import INCREMENTAL, OCEAN, PER_SKU, PriceBreak
from ledger.sourcing.study import StudyOffer

PERCENT_FORMAT, RATE_FORMAT, PLAIN_FORMAT = "0.00##%", "0.000000", "#,##0.###"
UNIT_PRICE_FORMAT = "#,##0.00##"


@dataclass(frozen=True, slots=True)
class Input:
    """One figure that goes in: what it is, its unit, where it comes from and as of when.

    ``name`` is the cell's name in formulas; ``start`` the quantity that a price begins at.
    """

    what: str
    value: Decimal | str
    unit: str
    source: str
    as_of: str = ""
    name: str = ""
    shown: str = PLAIN_FORMAT
    start: int | None = None


@dataclass(frozen=True, slots=True)
class OfferModel:
    """An offer's inputs, and for each part of the landed cost the formula of a row's cell.

    In a formula {quantity} and the keys of other parts in braces stand for cells of the same row. A part
    that this offer cannot have has no formula. ``is_price_by_program`` is true where the price is no formula.
    """

    inputs: tuple[Input, ...]
    formulas: Mapping[str, str]
    is_price_by_program: bool = False


@dataclass(frozen=True, slots=True)
class OfferSources:
    """Where an offer's figures come from and as of when; and each exchange rate, by its currency."""

    source: str
    as_of: str
    rates: Mapping[str, str]


NO_DATE = "no date"
"""What stands where nobody says as of when a figure is."""

PRICE, BORDER, FEES, CLEARING = "price", "customs", "fees", "clearing"
ALL, GOOD, UNIT = "all", "good", "unit"
LOCAL_PARTS = (BROKERAGE, BOND, TERMINAL, DELIVERY, BANK_FEE, SAMPLE)
"""The parts of a landed cost that stand in one column: what is paid at home, and a sample."""


def exact(value: Fraction | float) -> Decimal:
    """Return a number as a cell holds it: a fraction to 28 digits, a floating one to its last."""
    if isinstance(value, Fraction):
        return Decimal(value.numerator) / Decimal(value.denominator)
    return Decimal(repr(float(value)))


def row_values(offer: StudyOffer, quantity: int, estimate: LandedEstimate) -> dict[str, Decimal]:
    """Return what each cell of a quantity's row shows, as the program works it out; money in currency units."""
    places = exponent(estimate.currency)

    def money(*parts: str) -> Decimal:
        return Decimal(sum(estimate.amount_minor(part) for part in parts)).scaleb(-places)

    goods = sum(line_costs(offer.quote, offer.order(quantity)), Fraction(0))
    return {
        PRICE: exact(goods / quantity / 10 ** exponent(offer.quote.currency)),
        GOODS: money(GOODS),
        INLAND: money(INLAND),
        FREIGHT: money(FREIGHT),
        INSURANCE: money(INSURANCE),
        BORDER: Decimal(estimate.customs_value_minor).scaleb(-places),
        DUTY: money(DUTY),
        FEES: money(PROCESSING_FEE, HARBOR_FEE),
        CLEARING: money(*LOCAL_PARTS),
        CLAIM: money(CLAIM),
        ALL: Decimal(estimate.total_minor).scaleb(-places),
        GOOD: exact(estimate.good_units),
        UNIT: exact(estimate.unit_cost_minor / 10**places),
    }


def offer_model(offer: StudyOffer, prefix: str, sources: OfferSources) -> OfferModel:
    """Return an offer's inputs and formulas.

    Args:
        offer: the offer.
        prefix: how the names of its cells begin.
        sources: where its figures come from, in words.
    """
    quote, entry = offer.quote, offer.entry
    cells = _Cells(offer, prefix, sources)
    is_foreign = not quote.is_domestic and quote.origin != entry.destination
    pays = buyer_pays(quote.terms, is_foreign=is_foreign)
    formulas = {PRICE: _price(cells), GOODS: ""}
    rate = ""
    if quote.currency != entry.currency:
        rate = "*" + cells.put("exchange_rate", _one(quote.currency), entry.rate, _per(entry.currency, quote.currency), RATE_FORMAT)  # fmt: skip
        cells.of_rate(quote.currency)
    formulas[GOODS] = cells.rounded("{quantity}*{price}" + rate)
    _way(cells, formulas, pays, rate)
    if is_foreign:
        _border(cells, formulas, pays, rate)
    _rest(cells, formulas, pays, rate, is_foreign=is_foreign)
    is_price_by_program = not formulas[PRICE]
    return OfferModel(
        tuple(cells.inputs), {key: text for key, text in formulas.items() if text}, is_price_by_program
    )


@dataclass(slots=True)
class _Cells:
    """Gathers an offer's inputs, and gives the names that formulas call them by."""

    offer: StudyOffer
    prefix: str
    sources: OfferSources
    inputs: list[Input] = field(default_factory=list)

    @property
    def home(self) -> str:
        """The currency of the landed cost."""
        return self.offer.entry.currency

    def put(self, key: str, what: str, value: Fraction | float, unit: str, shown: str) -> str:
        """Add an input and return its cell's name."""
        name = f"{self.prefix}_{key}"
        self.inputs.append(
            Input(what, exact(value), unit, self.sources.source, self.sources.as_of, name, shown)
        )
        return name

    def money(self, key: str, what: str, minor: Fraction | float, currency: str = "") -> str:
        """Add an amount and return its cell's name."""
        own = currency or self.home
        return self.put(key, what, Fraction(minor) / 10 ** exponent(own), own, UNIT_PRICE_FORMAT)

    def of_rate(self, currency: str) -> None:
        """Say of the input added last that it is a currency's rate."""
        self.resource(self.sources.rates.get(currency, self.sources.source), self.inputs[-1].as_of)

    def resource(self, source: str, as_of: str) -> None:
        """Say of the input added last that it comes from elsewhere."""
        self.inputs[-1] = replace(self.inputs[-1], source=source, as_of=as_of)

    def rounded(self, formula: str) -> str:
        """Return a formula rounded to the currency's minor unit, a half away from zero."""
        return f"ROUND({formula},{exponent(self.home)})"


def _one(currency: str) -> str:
    return f"exchange rate of one {currency}"


def _per(home: str, foreign: str) -> str:
    return f"{home} for one {foreign}"


def _price(cells: _Cells) -> str:
    """Return the formula of the price of one; '' where it depends on the split over sizes."""
    offer, quote = cells.offer, cells.offer.quote
    is_split = quote.break_scope == PER_SKU and any(offer.size_weights)
    for group in quote.prices:
        _put_breaks(cells, group.breaks, ", ".join(group.sizes))
    if len(quote.prices) != 1 or quote.prices[0].sizes or is_split:
        cells.inputs = [replace(each, name="") for each in cells.inputs]
        return ""
    starts, prices = f"{cells.prefix}_from", f"{cells.prefix}_price"
    if quote.discount != INCREMENTAL:
        return f"LOOKUP(MAX({{quantity}},INDEX({starts},1)),{starts},{prices})"
    steps = [f"{{quantity}}*INDEX({prices},1)"]
    steps += [
        f"MAX(0,{{quantity}}-INDEX({starts},{at}))*(INDEX({prices},{at})-INDEX({prices},{at - 1}))"
        for at in range(2, len(quote.prices[0].breaks) + 1)
    ]
    return f"({'+'.join(steps)})/{{quantity}}"


def _put_breaks(cells: _Cells, breaks: Iterable[PriceBreak], sizes: str) -> None:
    currency = cells.offer.quote.currency
    for each in breaks:
        words = f"price of one{f' ({sizes})' if sizes else ''}, from this many on"
        cells.money("price", words, each.price_minor, currency)
        cells.inputs[-1] = replace(cells.inputs[-1], start=each.from_quantity)


def _way(cells: _Cells, formulas: dict[str, str], pays: BuyerPays, rate: str) -> None:
    """Add the way's inputs and formulas: to the port, the main carriage, insurance."""
    quote, entry, freight = cells.offer.quote, cells.offer.entry, cells.offer.quote.freight
    billed_in = freight.currency or quote.currency
    own_rate = rate if billed_in == quote.currency else ""
    if billed_in not in (quote.currency, entry.currency):
        own_rate = "*" + cells.put("freight_rate", _one(billed_in), entry.freight_rate or 0, _per(entry.currency, billed_in), RATE_FORMAT)  # fmt: skip
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
        f"MAX({insured}*{uplift}*({{quantity}}*{{price}}{rate}+{_ref(formulas, FREIGHT)}),{least}{rate})"
    )
    if cover.per_order_minor:
        formula += f"+{cells.money('insurance_per_order', 'insurance, for each order', cover.per_order_minor, quote.currency)}{rate}"
    formulas[INSURANCE] = cells.rounded(formula)


def _ref(formulas: Mapping[str, str], part: str) -> str:
    """Return how a formula speaks of a part of the same row; 0 where the offer has none."""
    return f"{{{part}}}" if formulas.get(part) else "0"


def _freight(cells: _Cells, currency: str) -> str:
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


def _by_weight(cells: _Cells, currency: str) -> str:
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


def _by_measure(cells: _Cells, currency: str) -> str:
    freight = cells.offer.quote.freight
    ton = cells.money("freight_m3", "freight for a cubic metre or a tonne", freight.per_revenue_ton_minor, currency)  # fmt: skip
    least = cells.put("least_m3", "of them at least", freight.minimum_revenue_tons, "m3 or t", PLAIN_FORMAT)
    return f"{ton}*MAX({_weight(cells)}*{{quantity}}/1000000,{_volume(cells)}*{{quantity}}/1000000,{least})"


def _weight(cells: _Cells) -> str:
    return _once(cells, "weight", "weight of a piece", cells.offer.weight_grams, "g")


def _volume(cells: _Cells) -> str:
    return _once(cells, "volume", "volume of a piece", cells.offer.volume_cm3, "cm3")


def _once(cells: _Cells, key: str, what: str, value: Fraction | None, unit: str) -> str:
    name = f"{cells.prefix}_{key}"
    if any(each.name == name for each in cells.inputs):
        return name
    return cells.put(key, what, value or Fraction(0), unit, PLAIN_FORMAT)


def _border(cells: _Cells, formulas: dict[str, str], pays: BuyerPays, rate: str) -> None:
    """Add what the border asks: the customs value, duty on it, entry fees."""
    quote, entry = cells.offer.quote, cells.offer.entry
    at_customs = rate
    if entry.customs_rate is not None and entry.customs_rate != entry.rate:
        at_customs = "*" + cells.put("customs_rate", f"customs' rate of one {quote.currency}", entry.customs_rate, _per(entry.currency, quote.currency), RATE_FORMAT)  # fmt: skip
    value = f"{{quantity}}*{{price}}{at_customs}"
    if formulas.get(INLAND):
        value += f"+{{{INLAND}}}"
    if quote.duty_base == CIF:
        value += "".join(f"+{{{part}}}" for part in (FREIGHT, INSURANCE) if formulas.get(part))
    elif quote.included_freight_minor:
        value += f"-{cells.money('included_freight', 'freight in the price, stated apart', quote.included_freight_minor, quote.currency)}{at_customs}"
    local = quote.local
    if local.assist_minor:
        value += f"+{cells.money('assists', 'given to the factory, for customs only', local.assist_minor)}"
    if local.assist_per_unit_minor:
        value += f"+{cells.money('assists_each', 'the same for each piece', local.assist_per_unit_minor)}*{{quantity}}"
    formulas[BORDER] = f"MAX(0,{cells.rounded(value)})"
    if pays.duty:
        names = [_layer(cells, at, layer) for at, layer in enumerate(_layers(cells.offer), 1)]
        formulas[DUTY] = cells.rounded(f"({'+'.join(names)})*{{{BORDER}}}")
        formulas[FEES] = _fees(cells)


def _layers(offer: StudyOffer) -> tuple[DutyLayer, ...]:
    quote, entry = offer.quote, offer.entry
    return layers_for(quote.duty or entry.duty_layers, quote.customs_class, quote.origin, entry.on)


def _layer(cells: _Cells, at: int, layer: DutyLayer) -> str:
    until = f", until {layer.until.isoformat()}" if layer.until else ""
    name = cells.put(f"duty_{at}", f"duty: {layer.program or 'rate'}{until}", layer.rate, "of the customs value", PERCENT_FORMAT)  # fmt: skip
    said = layer.source or cells.sources.source
    checked = layer.checked_on.isoformat() if layer.checked_on else NO_DATE
    cells.resource(f"an example, no fact: {said}" if layer.is_example else said, checked)
    return name


def _fees(cells: _Cells) -> str:
    """Return the formula of processing and harbor fee; '' where there are none."""
    quote = cells.offer.quote
    fees = quote.entry_fees
    if fees is None:
        return ""
    value = f"{{{BORDER}}}"
    terms = []
    if fees.rate or fees.minimum_minor or fees.informal_minor:
        rate = cells.put("fee_rate", "processing fee", fees.rate, "of the customs value", PERCENT_FORMAT)
        fee = cells.rounded(f"{rate}*{value}")
        if fees.minimum_minor is not None:
            fee = f"MAX({fee},{cells.money('fee_minimum', 'processing fee, at least', fees.minimum_minor)})"
        if fees.maximum_minor is not None:
            fee = f"MIN({fee},{cells.money('fee_maximum', 'processing fee, at most', fees.maximum_minor)})"
        if fees.informal_minor is not None and fees.formal_above_minor is not None:
            informal = cells.money("fee_informal", "fee of an informal entry", fees.informal_minor)
            fee = f"IF({value}>{_formal(cells)},{fee},{informal})"
        terms.append(fee)
    if fees.harbor_rate and quote.freight.mode in {"", OCEAN}:
        harbor = cells.put("harbor_rate", "harbor fee", fees.harbor_rate, "of the customs value", PERCENT_FORMAT)  # fmt: skip
        terms.append(cells.rounded(f"{harbor}*{value}"))
    return "+".join(terms)


def _formal(cells: _Cells) -> str:
    fees, name = cells.offer.quote.entry_fees, f"{cells.prefix}_formal_above"
    if any(each.name == name for each in cells.inputs):
        return name
    limit = fees.formal_above_minor if fees else None
    return cells.money("formal_above", "an entry is formal above", limit or 0)


def _rest(cells: _Cells, formulas: dict[str, str], pays: BuyerPays, rate: str, *, is_foreign: bool) -> None:
    """Add what is paid at home, a sample, the claim, and the sums."""
    quote = cells.offer.quote
    local, fees, bad = quote.local, quote.entry_fees, quote.defects
    paid = {
        "brokerage": ("customs broker", local.brokerage_minor if pays.clearance else 0),
        "terminal": ("terminal", local.terminal_minor if pays.terminal else 0),
        "delivery": ("delivery", local.delivery_minor if pays.delivery else 0),
        "bank_fee": ("bank fee", local.bank_fee_minor),
    }
    terms = [cells.money(key, what, minor) for key, (what, minor) in paid.items() if minor]
    if pays.clearance and local.bond_minor:
        bond = cells.money("bond", "entry bond, this order's share", local.bond_minor)
        is_split = is_foreign and fees is not None and fees.formal_above_minor is not None
        terms.append(f"IF({{{BORDER}}}>{_formal(cells)},{bond},0)" if is_split else bond)
    if quote.sample_minor:
        sample = cells.money("sample", "paid sample before the first order", quote.sample_minor, quote.currency)  # fmt: skip
        terms.append(cells.rounded(f"{sample}{rate}"))
    formulas[CLEARING] = "+".join(terms)
    good = "{quantity}"
    if bad.rate:
        rate_bad = cells.put("bad", "bad pieces", bad.rate, "of all", PERCENT_FORMAT)
        good = f"{{quantity}}*(1-{rate_bad})"
        if bad.claim_returns:
            back = cells.put("claim", "a claim brings back, of their price", bad.claim_returns, "of it", PERCENT_FORMAT)  # fmt: skip
            formulas[CLAIM] = f"-{cells.rounded(f'{{{GOODS}}}*{rate_bad}*{back}')}"
    parts = (GOODS, INLAND, FREIGHT, INSURANCE, DUTY, FEES, CLEARING, CLAIM)
    formulas[ALL] = "+".join(f"{{{part}}}" for part in parts if formulas.get(part))
    formulas[GOOD] = good
    formulas[UNIT] = f"{{{ALL}}}/{{{GOOD}}}"

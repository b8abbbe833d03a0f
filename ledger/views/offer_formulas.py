"""An offer as cells of a workbook: each figure of it an input with a name, and the landed cost as formulas.

The formulas do what ``ledger.sourcing.landed_estimate`` does, part by part and rounded as there. Only the
average price of goods that are priced by size is taken from the program: it depends on how an order is split.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
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
from ledger.views.carriage_formulas import add_way
from ledger.views.offer_cells import (
    NO_DATE,
    PERCENT_FORMAT,
    RATE_FORMAT,
    Cells,
    Input,
    OfferSources,
    exact,
    rate_unit,
    rate_words,
)


@dataclass(frozen=True, slots=True)
class OfferModel:
    """An offer's inputs, and for each part of the landed cost the formula of a row's cell.

    In a formula {quantity} and the keys of other parts in braces stand for cells of the same row. A part
    that this offer cannot have has no formula. ``is_price_by_program`` is true where the price is no formula.
    """

    inputs: tuple[Input, ...]
    formulas: Mapping[str, str]
    is_price_by_program: bool = False


PRICE, BORDER, FEES, CLEARING = "price", "customs", "fees", "clearing"
ALL, GOOD, UNIT = "all", "good", "unit"
LOCAL_PARTS = (BROKERAGE, BOND, TERMINAL, DELIVERY, BANK_FEE, SAMPLE)
"""The parts of a landed cost that stand in one column: what is paid at home, and a sample."""


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
    cells = Cells(offer, prefix, sources)
    is_foreign = not quote.is_domestic and quote.origin != entry.destination
    pays = buyer_pays(quote.terms, is_foreign=is_foreign)
    formulas = {PRICE: _price(cells), GOODS: ""}
    rate = ""
    if quote.currency != entry.currency:
        rate = "*" + cells.put("exchange_rate", rate_words(quote.currency), entry.rate, rate_unit(entry.currency, quote.currency), RATE_FORMAT)  # fmt: skip
        cells.of_rate(quote.currency)
    formulas[GOODS] = cells.rounded("{quantity}*{price}" + rate)
    add_way(cells, formulas, pays, rate)
    if is_foreign:
        _border(cells, formulas, pays, rate)
    _rest(cells, formulas, pays, rate, is_foreign=is_foreign)
    is_price_by_program = not formulas[PRICE]
    return OfferModel(
        tuple(cells.inputs), {key: text for key, text in formulas.items() if text}, is_price_by_program
    )


def _price(cells: Cells) -> str:
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


def _put_breaks(cells: Cells, breaks: Iterable[PriceBreak], sizes: str) -> None:
    currency = cells.offer.quote.currency
    for each in breaks:
        words = f"price of one{f' ({sizes})' if sizes else ''}, from this many on"
        cells.money("price", words, each.price_minor, currency)
        cells.inputs[-1] = replace(cells.inputs[-1], start=each.from_quantity)


def _border(cells: Cells, formulas: dict[str, str], pays: BuyerPays, rate: str) -> None:
    """Add what the border asks: the customs value, duty on it, entry fees."""
    quote, entry = cells.offer.quote, cells.offer.entry
    at_customs = rate
    if entry.customs_rate is not None and entry.customs_rate != entry.rate:
        at_customs = "*" + cells.put("customs_rate", f"customs' rate of one {quote.currency}", entry.customs_rate, rate_unit(entry.currency, quote.currency), RATE_FORMAT)  # fmt: skip
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


def _layer(cells: Cells, at: int, layer: DutyLayer) -> str:
    until = f", until {layer.until.isoformat()}" if layer.until else ""
    name = cells.put(f"duty_{at}", f"duty: {layer.program or 'rate'}{until}", layer.rate, "of the customs value", PERCENT_FORMAT)  # fmt: skip
    said = layer.source or cells.sources.source
    checked = layer.checked_on.isoformat() if layer.checked_on else NO_DATE
    cells.resource(f"an example, no fact: {said}" if layer.is_example else said, checked)
    return name


def _fees(cells: Cells) -> str:
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


def _formal(cells: Cells) -> str:
    fees, name = cells.offer.quote.entry_fees, f"{cells.prefix}_formal_above"
    if any(each.name == name for each in cells.inputs):
        return name
    limit = fees.formal_above_minor if fees else None
    return cells.money("formal_above", "an entry is formal above", limit or 0)


def _rest(cells: Cells, formulas: dict[str, str], pays: BuyerPays, rate: str, *, is_foreign: bool) -> None:
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

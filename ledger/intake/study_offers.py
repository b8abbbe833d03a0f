"""The offers of a study file, each as a quote with the circumstances of an order under it."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ledger.catalogue.parties import read_country
from ledger.catalogue.terms import read_terms
from ledger.errors import RateUnknown, ValueProblem
from ledger.exact.rounding import round_fraction
from ledger.intake import study_numbers as read
from ledger.intake.reference_rates import reference_rate
from ledger.intake.toml_tables import Table
from ledger.sourcing.closures import read_closures
from ledger.sourcing.duties import DutyLayer
from ledger.sourcing.entry_fees import EntryFees
from ledger.sourcing.incoterms import buyer_pays
from ledger.sourcing.lead_time import LONGEST_DAYS, LeadTimes
from ledger.sourcing.price_breaks import break_faults
from ledger.sourcing.quote import (
    ALL_UNITS,
    DISCOUNTS,
    DOMESTIC,
    MODES,
    PER_ORDER,
    SCOPES,
    Defects,
    Deposit,
    Entry,
    Freight,
    Insurance,
    LeadTime,
    LocalCosts,
    OrderRules,
    PriceBreak,
    PriceGroup,
    Quote,
    SizeShare,
)
from ledger.sourcing.study import StudyOffer

OFFER_KEYS = (
    "name", "origin", "currency", "exchange_rate", "breaks", "discount", "minimum", "multiple", "maximum",
    "quantity", "size_ratio", "terms", "freight", "duty", "duty_base", "entry_fees", "brokerage", "bond",
    "terminal", "delivery", "bank_fee", "cost_per_order", "defect_rate", "claim_returns", "lead_time",
    "deposit", "closures", "weight_g", "volume_cm3", "prices", "breaks_by", "insurance", "included_freight",
    "assist", "assist_per_unit", "sample", "minimum_per_colour",
)  # fmt: skip
FREIGHT_KEYS = (
    "per_order", "per_unit", "per_kg", "free_above", "minimum", "volumetric_cm3_per_kg", "weight_step_g",
    "per_revenue_ton", "minimum_revenue_tons", "mode", "inland", "currency", "exchange_rate",
)  # fmt: skip
DUTY_KEYS = ("rate", "from", "until", "program", "note", "checked", "example")
FEE_KEYS = ("rate", "minimum", "maximum", "informal", "formal_above", "harbor_rate")
LEAD_KEYS = ("mean_days", "sd_days", "samples", "working_days")
DEPOSIT_KEYS = ("fraction", "days_before_shipping")
BREAK_KEYS = ("from", "price")
PRICE_KEYS = ("sizes", "breaks")
INSURANCE_KEYS = ("rate", "uplift", "minimum")


@dataclass(frozen=True)
class Circumstances:
    """What all offers of a study share."""

    currency: str
    destination: str
    today: datetime.date
    cost_per_order_minor: float


def read_offer(table: Table, shared: Circumstances) -> StudyOffer:
    """Return one offer; every problem in it is noted in its table."""
    table.known(OFFER_KEYS)
    currency = table.currency("currency") or shared.currency
    origin = _origin(table)
    lead = _lead(table, shared.today)
    quote = _quote(table, origin, currency, shared)
    entry = Entry(
        on=shared.today + datetime.timedelta(days=round(_mean_days(table, lead))),
        currency=shared.currency,
        rate=_rate(table, currency, shared),
        freight_rate=_freight_rate(table, currency, shared),
        destination=shared.destination,
        today=shared.today,
    )
    own_cost = quote.cost_per_order_minor
    return StudyOffer(
        quote=quote,
        entry=entry,
        lead=lead,
        cost_per_order_minor=shared.cost_per_order_minor if own_cost is None else float(own_cost),
        weight_grams=_measure(table, "weight_g"),
        volume_cm3=_measure(table, "volume_cm3"),
        lead_words="as the study states" if table.has("lead_time") else "",
    )


def _measure(table: Table, key: str) -> Fraction | None:
    return read.number(table, key, Fraction(0), least=Fraction(0)) if table.has(key) else None


def _quote(table: Table, origin: str, currency: str, shared: Circumstances) -> Quote:
    ratio = read.named_numbers(table, "size_ratio")
    own_cost = read.money(table, "cost_per_order", shared.currency) if table.has("cost_per_order") else None
    terms = _terms(table)
    return Quote(
        name=table.text("name") or "offer",
        origin=origin,
        currency=currency,
        prices=_prices(table, currency),
        discount=table.choice("discount", DISCOUNTS, ALL_UNITS),
        break_scope=table.choice("breaks_by", SCOPES, PER_ORDER),
        rules=OrderRules(
            minimum=max(1, read.whole(table, "minimum", 1)),
            multiple=max(1, read.whole(table, "multiple", 1)),
            maximum=read.whole(table, "maximum", 0),
            minimum_per_colour=read.whole(table, "minimum_per_colour", 0),
            size_ratio=tuple(SizeShare(size, int(pieces)) for size, pieces in ratio.items() if pieces >= 1),
        ),
        terms=terms,
        freight=_freight(table, currency),
        insurance=_insurance(table, currency),
        included_freight_minor=read.money(table, "included_freight", currency),
        sample_minor=read.money(table, "sample", currency),
        duty=_duty(table, origin, terms, shared),
        duty_base=table.choice("duty_base", ("FOB", "CIF"), "FOB"),
        entry_fees=_fees(table, shared.currency) if table.has("entry_fees") else None,
        local=_local(table, shared.currency),
        defects=Defects(
            read.fraction_of_one(table, "defect_rate"), read.fraction_of_one(table, "claim_returns")
        ),
        lead_time=LeadTime(),
        deposit=_deposit(table),
        closures=_closures(table),
        cost_per_order_minor=None if own_cost is None else round_fraction(own_cost),
        quantity=read.whole(table, "quantity", 0),
    )


def _closures(table: Table) -> tuple[str, ...]:
    """Return the closures as they are written; a table in their place is noted, once."""
    if isinstance(table.raw("closures", []), dict):
        table.note(
            "closures",
            "it is a table, and a list of texts belongs here.",
            'Write it like closures = ["VN", "2027-01-25..2027-02-22"].',
        )
        return ()
    return table.texts("closures")


def _origin(table: Table) -> str:
    text = table.text("origin", DOMESTIC)
    if text.casefold() == DOMESTIC:
        return DOMESTIC
    try:
        return read_country(text)
    except ValueProblem as problem:
        table.note("origin", str(problem), 'Write "domestic" for goods that cross no border.')
        return DOMESTIC


def _terms(table: Table) -> str:
    text = table.text("terms")
    if not text:
        return ""
    try:
        return read_terms(text).code
    except ValueProblem as problem:
        table.note("terms", str(problem))
        return ""


def _prices(table: Table, currency: str) -> tuple[PriceGroup, ...]:
    """Return the prices: one list of breaks for all sizes, or lists for some sizes each."""
    content = read.rows(table, "prices")
    if not content:
        return (PriceGroup(_breaks(table, currency)),)
    if table.has("breaks"):
        table.note("prices", "breaks says the prices already.", "Keep one of breaks and prices.")
    groups = []
    for place, row in enumerate(content, 1):
        inner = table.inner(f"prices {place}", row)
        inner.known(PRICE_KEYS)
        groups.append(PriceGroup(_breaks(inner, currency), sizes=inner.texts("sizes")))
    return tuple(groups)


def _insurance(table: Table, currency: str) -> Insurance:
    insurance = table.table("insurance")
    insurance.known(INSURANCE_KEYS)
    return Insurance(
        rate=read.fraction_of_one(insurance, "rate"),
        uplift=read.number(insurance, "uplift", Fraction(1), least=Fraction(0)),
        minimum_minor=read.money(insurance, "minimum", currency),
    )


def _breaks(table: Table, currency: str) -> tuple[PriceBreak, ...]:
    content = read.rows(table, "breaks")
    found = []
    for place, row in enumerate(content, 1):
        inner = table.inner(f"breaks {place}", row)
        inner.known(BREAK_KEYS)
        if not inner.has("price"):
            inner.note("price", "this break has no price.", 'Write it like {from = 72, price = "3.60"}.')
            continue
        start = read.whole(inner, "from", 1, least=0)
        found.append(PriceBreak(max(1, start), read.money(inner, "price", currency)))
    if content and not found:
        return ()
    for fault in break_faults(found):
        table.note("breaks", fault)
    return tuple(found)


def _freight(table: Table, goods_currency: str) -> Freight:
    freight = table.table("freight")
    freight.known(FREIGHT_KEYS)
    own = freight.currency("currency")
    currency = own or goods_currency
    volumetric = read.whole(freight, "volumetric_cm3_per_kg", 0)
    step = read.whole(freight, "weight_step_g", 0)
    return Freight(
        per_order_minor=read.money(freight, "per_order", currency),
        per_unit_minor=read.money(freight, "per_unit", currency),
        per_kg_minor=read.money(freight, "per_kg", currency),
        volumetric_cm3_per_kg=volumetric or None,
        weight_step_grams=step or None,
        per_revenue_ton_minor=read.money(freight, "per_revenue_ton", currency),
        minimum_minor=read.money(freight, "minimum", currency),
        # What is free is judged by the goods, in the prices' currency.
        free_above_minor=read.optional_money(freight, "free_above", goods_currency),
        minimum_revenue_tons=read.number(freight, "minimum_revenue_tons", Fraction(1), least=Fraction(0)),
        inland_minor=read.money(freight, "inland", currency),
        mode=freight.choice("mode", ("", *MODES), ""),
        currency=own,
    )


def _duty(table: Table, origin: str, terms: str, shared: Circumstances) -> tuple[DutyLayer, ...]:
    is_foreign = origin not in {DOMESTIC, shared.destination}
    content = read.rows(table, "duty")
    if is_foreign and not content and buyer_pays(terms, is_foreign=True).duty:
        table.note(
            "duty",
            f"no duty is given for goods from {origin}: unknown is not free.",
            'Ask a licensed broker and write it like [{rate = "0.165", from = 2020-01-01, note = "where it was '
            'read, and when"}]; a free class is a row with rate 0.',
        )
    return tuple(_layer(table.inner(f"duty {place}", row)) for place, row in enumerate(content, 1))


def _layer(row: Table) -> DutyLayer:
    row.known(DUTY_KEYS)
    if not row.has("rate"):
        row.note("rate", "this duty has no rate.", 'Write it as a fraction: 16.5% is "0.165".')
    return DutyLayer(
        rate=read.fraction_of_one(row, "rate"),
        start=read.day(row, "from"),
        until=read.day(row, "until"),
        program=row.text("program"),
        source=row.text("note"),
        checked_on=read.day(row, "checked"),
        is_example=row.flag("example"),
    )


def _fees(table: Table, currency: str) -> EntryFees:
    fees = table.table("entry_fees")
    fees.known(FEE_KEYS)
    amounts: Mapping[str, Fraction | None] = {
        key: read.optional_money(fees, key, currency)
        for key in ("minimum", "maximum", "informal", "formal_above")
    }
    whole: dict[str, Any] = {
        f"{key}_minor": None if amount is None else round_fraction(amount) for key, amount in amounts.items()
    }
    return EntryFees(
        rate=read.fraction_of_one(fees, "rate"),
        harbor_rate=read.fraction_of_one(fees, "harbor_rate"),
        **whole,
    )


def _local(table: Table, currency: str) -> LocalCosts:
    def minor(key: str) -> int:
        return round_fraction(read.money(table, key, currency))

    return LocalCosts(
        brokerage_minor=minor("brokerage"),
        bond_minor=minor("bond"),
        terminal_minor=minor("terminal"),
        delivery_minor=minor("delivery"),
        bank_fee_minor=minor("bank_fee"),
        assist_minor=minor("assist"),
        assist_per_unit_minor=read.money(table, "assist_per_unit", currency),
    )


def _deposit(table: Table) -> Deposit:
    deposit = table.table("deposit")
    deposit.known(DEPOSIT_KEYS)
    return Deposit(
        read.fraction_of_one(deposit, "fraction"),
        read.whole(deposit, "days_before_shipping", 0, most=LONGEST_DAYS),
    )


def _lead(table: Table, today: datetime.date) -> LeadTimes:
    lead = table.table("lead_time")
    lead.known(LEAD_KEYS)
    most = Fraction(LONGEST_DAYS)
    nothing = Fraction(0)
    samples = tuple(float(each) for each in read.numbers(lead, "samples"))
    if lead.raw("samples", None) == []:
        lead.note(
            "samples", "the list is empty.", "Write the days past orders took, or give mean_days and sd_days."
        )
    mean = read.number(lead, "mean_days", nothing, least=nothing, most=most)
    sd = read.number(lead, "sd_days", nothing, least=nothing, most=most)
    if not samples and not lead.has("mean_days") and sd:
        lead.note("sd_days", "a spread needs a mean.", "Give mean_days too.")
        sd = nothing
    if samples and max(samples) > LONGEST_DAYS:
        lead.note(
            "samples",
            f"{max(samples):g} days is taken for a typing mistake.",
            "Give days from order to goods.",
        )
        samples = ()
    try:
        closures = read_closures(
            table.texts("closures") if not isinstance(table.raw("closures", []), dict) else ()
        )
        return LeadTimes(
            float(mean),
            float(sd),
            samples,
            read.whole(lead, "working_days", 0, most=LONGEST_DAYS),
            closures,
            today,
        )
    except ValueProblem as problem:
        table.note("closures", str(problem))
        return LeadTimes(float(mean), float(sd), samples, start=today)


def _mean_days(table: Table, lead: LeadTimes) -> float:
    """Return the mean lead time; closures that leave no working day are noted."""
    try:
        return lead.mean_total()
    except ValueProblem as problem:
        table.note("closures", str(problem))
        return lead.mean_days


def _freight_rate(table: Table, currency: str, shared: Circumstances) -> Fraction | None:
    """Return the study's currency for one unit of the freight's, None where it has none of its own."""
    freight = table.table("freight")
    own = freight.text("currency").upper()
    return None if own in {"", currency, shared.currency} else _rate(freight, own, shared)


def _rate(table: Table, currency: str, shared: Circumstances) -> Fraction:
    """Return the study's currency for one unit of the offer's."""
    if table.has("exchange_rate"):
        rate = read.number(table, "exchange_rate", Fraction(1), least=Fraction(0))
        if rate > 0:
            return rate
        table.note("exchange_rate", "a rate must be larger than zero.")
        return Fraction(1)
    if currency == shared.currency:
        return Fraction(1)
    try:
        return reference_rate(currency, shared.currency, shared.today).rate
    except RateUnknown:
        table.note(
            "currency",
            f"there is no reference rate of {currency} to {shared.currency} on {shared.today}.",
            f'Add exchange_rate = "…": {shared.currency} for one {currency}.',
        )
        return Fraction(1)

"""What goes into a buying decision, figure by figure: value, unit, where it comes from, as of when."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from ledger.exact.currencies import exponent
from ledger.intake.study_sources import StudySources
from ledger.sourcing.decide import Decision
from ledger.sourcing.offer_plan import OfferPlan, payments
from ledger.sourcing.order_rules import step_of
from ledger.sourcing.study import StudyOffer
from ledger.views.decision import days_told
from ledger.views.decision_figures import unit_text, who_said
from ledger.views.offer_cells import (
    COUNT_FORMAT,
    NO_DATE,
    PERCENT_FORMAT,
    UNIT_PRICE_FORMAT,
    Input,
    OfferSources,
    exact,
)
from ledger.views.offer_formulas import OfferModel, offer_model
from ledger.views.workbook_cells import UNIT_FORMAT, WHOLE_FORMAT, zero_format

FREE = "none"
"""What stands for a limit the owner does not set."""

DEMAND, DEMAND_SHARE, CARRYING, AT_HOME = (
    "demand_per_month", "demand_share", "carrying_per_year", "price_at_home",
)  # fmt: skip
"""The names of the cells that the screen's formulas are over."""

DAYS_FORMAT = "#,##0.#"
_ALL = 1e-12


@dataclass(frozen=True, slots=True)
class Section:
    """Inputs that stand together, below a heading and a line that says what follows them."""

    heading: str
    note: str
    inputs: tuple[Input, ...]


@dataclass(frozen=True, slots=True)
class PricedOffer:
    """An offer of the decision with its inputs and formulas; ``prefix`` begins the names of its cells."""

    plan: OfferPlan
    prefix: str
    model: OfferModel

    @property
    def offer(self) -> StudyOffer:
        """The offer itself."""
        return self.plan.offer

    @property
    def order_cost(self) -> str:
        """The name of the cell with what placing an order costs."""
        return f"{self.prefix}_order_cost"


def priced_offers(decision: Decision, sources: StudySources) -> tuple[PricedOffer, ...]:
    """Return every offer of a decision with its inputs and formulas."""
    found = []
    for at, plan in enumerate(decision.plans, 1):
        said = OfferSources(*_quoted(decision, sources, plan.offer.name), _rates(sources))
        found.append(PricedOffer(plan, f"offer_{at}", offer_model(plan.offer, f"offer_{at}", said)))
    return tuple(found)


def _quoted(decision: Decision, sources: StudySources, name: str) -> tuple[str, str]:
    """Return where an offer's figures come from and as of when: the book's quote, or the study."""
    own = sources.quotes.get(name)
    if own is None:
        return sources.made_from, _day(decision)
    day = own.quoted_on or own.valid_from
    return f"quoted by {own.supplier or name}", day.isoformat() if day else NO_DATE


def _rates(sources: StudySources) -> dict[str, str]:
    return {rate.currency: rate.source for rate in sources.rates}


def input_sections(
    decision: Decision, sources: StudySources, offers: tuple[PricedOffer, ...]
) -> tuple[Section, ...]:
    """Return all inputs of a decision, those that formulas follow first."""
    said = "The sheet 'Screen' follows these cells."
    found = [Section("Demand, home and money", said, tuple(_screened(decision, sources)))]
    for priced in offers:
        note = "The sheets 'Landed by quantity' and 'Screen' follow these cells."
        if priced.model.is_price_by_program:
            note += " Its prices go by size: the average price in 'Landed by quantity' is the program's, no formula."
        inputs = (*priced.model.inputs, *_ordering(decision, sources, priced))
        found.append(Section(f"Offer: {priced.offer.name}", note, inputs))
    said = "No formula follows these cells: change them in the study and compare again."
    found.append(Section("Used by the simulation only", said, tuple(_simulated(decision, sources))))
    return tuple(found)


def _day(decision: Decision) -> str:
    return decision.study.today.isoformat()


def _each(decision: Decision) -> str:
    """Return the unit of a price in words: USD a piece."""
    return f"{decision.study.currency} {decision.study.of_one}"


def _screened(decision: Decision, sources: StudySources) -> Iterator[Input]:
    study, day = decision.study, _day(decision)
    demand = study.demand
    said = demand.source or sources.made_from
    yield Input("demand counted with", exact(demand.per_month), f"{study.unit_words} a month", said, day, DEMAND, COUNT_FORMAT)  # fmt: skip
    share = demand_share(decision)
    if share != 1:
        why = "colours below the offer's minimum are bought at home"
        yield Input("part of the demand the order is for", exact(share), "of it", why, day, DEMAND_SHARE, PERCENT_FORMAT)  # fmt: skip
    if decision.screen is not None:
        price = exact(decision.screen[0].domestic_cost / 10 ** exponent(study.currency))
        source = _home_source(decision)
        yield Input("price at home, ordering and holding included", price, _each(decision), source, day, AT_HOME, UNIT_FORMAT)  # fmt: skip
    rate = exact(study.money.capital_per_year)
    yield Input("carrying rate: what a year on the shelf costs", rate, "of the landed cost", who_said(sources, "[money] capital_per_year"), day, CARRYING, PERCENT_FORMAT)  # fmt: skip


def demand_share(decision: Decision) -> float:
    """Return the part of demand that the screened order is for: all of it but colours left at home."""
    year = decision.study.demand.per_year
    if decision.screen is None or not year:
        return 1.0
    share = decision.screen[0].demand_per_year / year
    return 1.0 if abs(share - 1) < _ALL else share


def _home_source(decision: Decision) -> str:
    home = decision.home
    if home is None or home.order_quantity is None:
        return "worked out by the program"
    landed = unit_text(decision, home.curve.unit(home.order_quantity))
    return (
        f"worked out by the program: {home.offer.name}, {home.order_quantity:,} at a time, landed {landed}, and a "
        "year's ordering and holding"
    )


def _ordering(decision: Decision, sources: StudySources, priced: PricedOffer) -> Iterator[Input]:
    """Return what placing an order costs, and what is paid how long before arrival."""
    study, plan, day = decision.study, priced.plan, _day(decision)
    own = plan.offer.quote.cost_per_order_minor is not None
    source, day_quoted = _quoted(decision, sources, plan.offer.name)
    cost = exact(Fraction(plan.offer.cost_per_order_minor) / 10 ** exponent(study.currency))
    said = source if own else who_said(sources, "[money] cost_per_order")
    yield Input("placing and handling an order", cost, study.currency, said, day, priced.order_cost, UNIT_PRICE_FORMAT)  # fmt: skip
    if plan.order_quantity is None or plan.offer.is_domestic:
        return
    if plan.offer.quote.deposit.fraction:
        fraction = exact(plan.offer.quote.deposit.fraction)
        yield Input("deposit", fraction, "of the goods", source, day_quoted, f"{priced.prefix}_deposit", PERCENT_FORMAT)  # fmt: skip
    for at, each in enumerate(payments(plan.curve, plan.order_quantity)[:-1], 1):
        are = "are" if each.what == "goods" else "is"
        days = exact(each.days_before_arrival)
        yield Input(
            f"the {each.what} {are} paid before arrival by", days, "days, on average", source, day_quoted,
            f"{priced.prefix}_early_{at}", DAYS_FORMAT,
        )  # fmt: skip


def _simulated(decision: Decision, sources: StudySources) -> Iterator[Input]:
    yield from _money_terms(decision, sources)
    yield from _limits(decision, sources)
    for plan in decision.plans:
        yield from _rules(decision, sources, plan)


def _money_terms(decision: Decision, sources: StudySources) -> Iterator[Input]:
    study, day = decision.study, _day(decision)
    money, scale = study.money, 10 ** exponent(study.currency)

    def told(what: str, value: float, unit: str, shown: str, place: str) -> Input:
        return Input(what, exact(value), unit, who_said(sources, place), day, "", shown)

    yield told("how far the study looks", study.horizon_months, "months", WHOLE_FORMAT, "horizon_months")
    stock = Decimal(sum(size.on_hand for size in study.demand.sizes))
    known = sources.made_from if stock or study.is_stock_known else "not stated: taken as nothing"
    yield Input("on hand now, with what is coming", stock, study.unit_words, known, day, "", WHOLE_FORMAT)
    storage = money.storage_per_unit_month_minor / scale
    yield told("its place on the shelf", storage, f"{_each(decision)}, a month", UNIT_PRICE_FORMAT, "[money] storage_per_unit_month")  # fmt: skip
    yield told("a leftover fetches", money.salvage_fraction, "of the lower of landed and home cost", PERCENT_FORMAT, "[money] salvage_fraction")  # fmt: skip
    if decision.home is None:
        margin = money.lost_margin_minor / scale
        yield told("margin lost with a sale nobody can fill", margin, _each(decision), UNIT_PRICE_FORMAT, "[money] lost_margin")  # fmt: skip
    yield told("how sure stock should last until an order comes", money.service_level, "of orders", PERCENT_FORMAT, "[money] service_level")  # fmt: skip


def _limits(decision: Decision, sources: StudySources) -> Iterator[Input]:
    study, day = decision.study, _day(decision)
    limits, scale = study.limits, 10 ** exponent(study.currency)

    def limit(what: str, value: float | None, unit: str, shown: str, key: str) -> Input:
        told = FREE if value is None else exact(value)
        said = who_said(sources, f"[limits] {key}")
        return Input(
            f"limit: {what}", told, unit, said if value is not None else "not stated", day, "", shown
        )

    worst, cash = (
        None if minor is None else minor / scale for minor in (limits.worst_tenth_minor, limits.cash_minor)
    )
    yield limit("cheaper in at least", limits.probability, "of futures", PERCENT_FORMAT, "probability")
    yield limit(
        "the worst tenth of futures saves more than",
        worst,
        study.currency,
        zero_format(study.currency),
        "worst_tenth",
    )
    yield limit("cash tied up, at most", cash, study.currency, zero_format(study.currency), "cash")
    yield limit(
        "cover bought at once, at most",
        limits.weeks_of_cover,
        "weeks of demand",
        DAYS_FORMAT,
        "weeks_of_cover",
    )
    yield limit("the shelf holds", limits.space_units or None, study.unit_words, WHOLE_FORMAT, "space_units")


def _rules(decision: Decision, sources: StudySources, plan: OfferPlan) -> Iterator[Input]:
    offer, unit = plan.offer, decision.study.unit_words
    rules, (source, day) = offer.quote.rules, _quoted(decision, sources, plan.offer.name)
    least = max(rules.minimum, rules.minimum_per_colour * offer.colours)
    told: list[tuple[str, float, str, str]] = [("takes at least", least, unit, WHOLE_FORMAT)]
    if step_of(rules) > 1:
        told.append(("sells by", step_of(rules), unit, WHOLE_FORMAT))
    if rules.maximum:
        told.append(("sells at most", rules.maximum, unit, WHOLE_FORMAT))
    told.append(("from order to shelf, on average", round(plan.lead_time_days, 6), "days", DAYS_FORMAT))
    for what, value, unit_, shown in told:
        said = f"{source}; {days_told(plan).source}" if unit_ == "days" and offer.lead_words else source
        yield Input(f"{offer.name}: {what}", exact(value), unit_, said, day, "", shown)
    if offer.quote.valid_until is not None:
        until = offer.quote.valid_until.isoformat()
        yield Input(f"{offer.name}: stands until", until, "", source, day)

"""What a decision rests on: every assumption with where it comes from and its date."""

from __future__ import annotations

from ledger.intake.study_sources import StudySources
from ledger.sourcing.decide import Decision
from ledger.sourcing.offer_plan import OfferPlan
from ledger.views.decision import days_told, demand_text, drawn_text
from ledger.views.decision_figures import amount_text, fixed, percent, who_said
from ledger.views.offer_facts import duty_table, given_text, offer_facts
from ledger.views.own_study import history_table
from ledger.views.page import Block, Fact, Facts, Text, from_table

_NO_LIMIT = "no limit"


def rests_on(decision: Decision, sources: StudySources) -> list[Block]:
    """Return every assumption of a decision: demand, stock, offers, duties, rates, money, limits, chance."""
    blocks: list[Block] = [Facts([_demand(decision, sources), *_stock(decision, sources)])]
    if sources.history is not None:
        table = history_table(sources.history)
        blocks.append(from_table(f"What left the shelf by the book, up to {sources.history.through}", table))
    for plan in decision.plans:
        blocks += [
            Text(f"The offer {plan.offer.name}:"),
            Facts(_offer(decision, plan, sources)),
            *_duties(plan),
        ]
    if sources.rates:
        blocks.append(
            Facts(
                [
                    Fact(
                        f"one {rate.currency}",
                        f"{rate.rate_text} {decision.study.currency}",
                        f"{rate.source}.",
                    )
                    for rate in sources.rates
                ]
            )
        )
    return [*blocks, Facts([*_money(decision, sources), *_limits(decision, sources), *_chance(decision)])]


def _demand(decision: Decision, sources: StudySources) -> Fact:
    demand = decision.study.demand
    words = demand_text(decision).removeprefix("Demand: ") or f"{fixed(demand.per_month, 1)} a month"
    return Fact("demand", words, f"from {sources.made_from}.")


def _stock(decision: Decision, sources: StudySources) -> list[Fact]:
    there = sum(size.on_hand for size in decision.study.demand.sizes)
    if not there and not decision.study.is_stock_known:
        return [Fact("there now", "not stated; taken as nothing")]
    return [
        Fact(
            "there now, with what is coming",
            f"{there:,} {decision.study.unit_words}",
            f"from {sources.made_from}, {decision.study.today.isoformat()}.",
        )
    ]


def _offer(decision: Decision, plan: OfferPlan, sources: StudySources) -> list[Fact]:
    quote, own = plan.offer.quote, sources.quotes.get(plan.offer.name)
    given = f"as {sources.made_from} states them; it gives no date." if own is None else given_text(own)
    facts = [
        *offer_facts(quote, given, plan.offer.entry),
        Fact("days from order to shelf", _lead(plan), f"{days_told(plan).source}."),
    ]
    if plan.offer.cost_per_order_minor:
        facts.append(Fact("placing an order costs", amount_text(decision, plan.offer.cost_per_order_minor)))
    if not quote.is_domestic:
        said = quote.entry_fees.source if quote.entry_fees is not None and quote.entry_fees.source else ""
        source = f"Entry fees: {said}." if said else "The day on which goods ordered today enter."
        facts.append(Fact("duty and fees of the day", plan.offer.entry.on.isoformat(), source))
    return facts


def _lead(plan: OfferPlan) -> str:
    lead = plan.offer.lead
    if lead.samples:
        said = f"{', '.join(f'{days:g}' for days in lead.samples)}: what past orders took"
    elif lead.sd_days:
        said = f"{lead.mean_days:g} on average, spread {lead.sd_days:g} (standard deviation)"
    else:
        said = f"{lead.mean_days:g}, taken as certain"
    if lead.working_days:
        said += f"; and {lead.working_days} working days before that"
    if not lead.closures.are_none:
        own = ", ".join(f"{each.first.isoformat()} to {each.last.isoformat()}" for each in lead.closures.own)
        country = f"public holidays of {lead.closures.country}" if lead.closures.country else ""
        said += f"; closed: {' and '.join(filter(None, (country, own)))}"
    return f"{said}; {fixed(plan.lead_time_days, 0)} in all from {lead.start.isoformat()} on"


def _duties(plan: OfferPlan) -> list[Block]:
    """Return the duty of an offer by layer; nothing where it crosses no border."""
    offer = plan.offer
    if offer.is_domestic:
        return []
    found = duty_table(offer.name, offer.entry, offer.quote.duty or offer.entry.duty_layers)
    return [] if found is None else [found]


def _money(decision: Decision, sources: StudySources) -> list[Fact]:
    study, money = decision.study, decision.study.money
    facts = [
        ("looks ahead", f"{study.horizon_months} months", "horizon_months"),
        ("a year on the shelf costs", f"{percent(money.capital_per_year)} of the landed cost", "[money] capital_per_year"),
        ("room for one, a month", amount_text(decision, money.storage_per_unit_month_minor), "[money] storage_per_unit_month"),
        ("a leftover fetches", f"{percent(money.salvage_fraction)} of the lower of landed and home cost", "[money] salvage_fraction"),
        ("stock should last until an order is there", f"in {percent(money.service_level)} of cases", "[money] service_level"),
    ]  # fmt: skip
    if money.lost_margin_minor:
        facts.append(
            (
                "a sale nobody can fill loses",
                amount_text(decision, money.lost_margin_minor),
                "[money] lost_margin",
            )
        )
    gone = [size for size in study.demand.sizes if size.obsolescence_per_year]
    if gone:
        words = ", ".join(f"{size.name or 'all'} {size.obsolescence_per_year:g}" for size in gone)
        facts.append(("goes out of use, times a year", words, "[money] obsolescence_per_year"))
    return [Fact(name, value, f"{who_said(sources, place)}.") for name, value, place in facts]


def _limits(decision: Decision, sources: StudySources) -> list[Fact]:
    limits, said = decision.study.limits, f"{who_said(sources, '[limits] probability')}."
    worst, cash, cover, space = (
        limits.worst_tenth_minor, limits.cash_minor, limits.weeks_of_cover, limits.space_units,
    )  # fmt: skip
    return [
        Fact("your limit: cheaper in at least", f"{percent(limits.probability)} of futures", said),
        Fact("your limit: worst tenth above", _NO_LIMIT if worst is None else amount_text(decision, worst)),
        Fact("your limit: cash tied up", _NO_LIMIT if cash is None else amount_text(decision, cash)),
        Fact("your limit: weeks of cover", _NO_LIMIT if cover is None else f"{cover:g}"),
        Fact(
            "your limit: room on the shelf", f"{space:,} {decision.study.unit_words}" if space else _NO_LIMIT
        ),
    ]


def _chance(decision: Decision) -> list[Fact]:
    words = drawn_text(decision)
    if not words:
        return []
    return [
        Fact(
            "chance",
            words,
            "The seed is the number the drawing starts from: the same seed draws the same futures.",
        )
    ]

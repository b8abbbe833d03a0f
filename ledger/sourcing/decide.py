"""A study decided: offers planned, alternatives held against the same futures, the verdict, what would flip it."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ledger.errors import StudyErrors
from ledger.sourcing.alternatives import (
    BASE,
    BULK,
    DOMESTIC,
    Alternative,
    evaluate,
    nothing_from_afar,
)
from ledger.sourcing.bulk import (
    Bulk,
    assortment_for,
    base_quantity,
    bulk_quantity,
    covers_need,
    least_bad_quantity,
    most_within_limits,
    needed_pieces,
    used_by_size,
)
from ledger.sourcing.colour_choice import colour_choices, smallest
from ledger.sourcing.demand import WEEKS_PER_YEAR
from ledger.sourcing.futures import Futures
from ledger.sourcing.lever import Lever
from ledger.sourcing.offer_plan import OfferPlan, arrival_weeks_of, payments, plan_offer, with_shortage
from ledger.sourcing.order_dates import NO_DATE, OrderDate, order_date
from ledger.sourcing.price_breaks import break_warnings
from ledger.sourcing.screen import Screen, ScreenInput, screen
from ledger.sourcing.sensitivity import BreakEven, Swing, break_even, tornado
from ledger.sourcing.simulate import asked_by_size, unit_curves
from ledger.sourcing.study import Study, study_faults
from ledger.sourcing.trial_order import TrialOrder, trial_order, waiting_values
from ledger.sourcing.verdict import DOMESTIC as DOMESTIC_WORD
from ledger.sourcing.verdict import NEED_DATA, Field, Verdict, judge
from ledger.sourcing.waiting import Waiting

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.int64]

DAYS_PER_YEAR = 365.0


@dataclass(frozen=True)
class Decision:
    """Everything a buying decision says.

    ``bulk_plan`` is the offer from afar that the alternatives use, None where there is none; then
    alternatives, switch points, tornado and waiting are empty or None too. ``focus`` is the order from afar
    that saves most or loses least: what flips is asked of it.
    """

    study: Study
    futures: int
    seed: int
    plans: tuple[OfferPlan, ...]
    home: OfferPlan | None
    bulk_plan: OfferPlan | None
    alternatives: tuple[Alternative, ...]
    verdict: Verdict
    screen: tuple[ScreenInput, Screen] | None = None
    break_even: BreakEven | None = None
    order_date: OrderDate = NO_DATE
    waiting: tuple[Waiting, ...] = ()
    trial: TrialOrder | None = None
    focus: Alternative | None = None
    sensitivity: tuple[Swing, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def order_by(self) -> datetime.date | None:
        """The latest day to order on, None where there is none to give."""
        return self.order_date.on


def decide(study: Study, futures_count: int, seed: int, *, looks_ahead: bool = True) -> Decision:
    """Return the decision on a study.

    ``futures_count`` futures are drawn from ``seed``; where nothing is uncertain there is but one. Without
    ``looks_ahead`` the value of waiting and of a test order, which take most of the time and change no verdict,
    are left out.

    Raises StudyErrors naming everything in the study that contradicts itself, and ValueProblem where an
    offer cannot be costed (a duty that is not known, a weight that is missing).
    """
    faults = study_faults(study)
    if faults:
        raise StudyErrors(study.name, faults)
    if study.demand.per_week == 0:
        return _no_demand(study, seed)
    futures = Futures(study.demand, study.weeks, _needed(study, futures_count), seed)
    plans = tuple(plan_offer(study, offer, futures) for offer in study.offers)
    homes = [plan for plan in plans if plan.offer.is_domestic and plan.annual is not None]
    home = min(homes, key=lambda plan: plan.cost_per_unit_minor or 0.0, default=None)
    plans = _priced(study, plans, home)
    afar = [plan for plan in plans if not plan.offer.is_domestic]
    warnings = _warnings(study, plans, home)
    if not afar:
        return _only_home(study, futures, plans, home, warnings)
    if home is None and study.money.lost_margin_minor <= 0:
        reason = (
            "There is no domestic offer to hold the others against. Add one, or enter lost_margin: what a sale "
            "that nobody can fill would lose."
        )
        return Decision(
            study, futures.count, seed, plans, None, None, (), Verdict(NEED_DATA, _none(study), (reason,)), warnings=warnings
        )  # fmt: skip
    return _weighed(study, futures, plans, home, warnings, looks_ahead=looks_ahead)


def _needed(study: Study, wanted: int) -> int:
    """Return how many futures are needed: one where nothing differs between them."""
    demand = study.demand
    is_sure = (
        demand.is_certain
        and all(offer.lead.is_certain for offer in study.offers)
        and not any(size.obsolescence_per_year for size in demand.sizes)
    )
    return 1 if is_sure else max(2, wanted)


def _none(study: Study) -> Alternative:
    return nothing_from_afar(DOMESTIC, "", len(study.demand.sizes))


def _no_demand(study: Study, seed: int) -> Decision:
    verdict = Verdict(DOMESTIC_WORD, _none(study), ("No demand is expected, so nothing is bought anywhere.",))
    return Decision(study, 0, seed, (), None, None, (), verdict)


def _only_home(
    study: Study,
    futures: Futures,
    plans: tuple[OfferPlan, ...],
    home: OfferPlan | None,
    warnings: tuple[str, ...],
) -> Decision:
    if home is None:
        verdict = Verdict(
            NEED_DATA, _none(study), ("No offer allows any order: mend its minimum or maximum.",)
        )
        return Decision(study, futures.count, futures.seed, plans, None, None, (), verdict, warnings=warnings)
    held = nothing_from_afar(DOMESTIC, home.offer.name, futures.sizes)
    reasons = [f"There is no offer from abroad; of those at home {home.offer.name} costs least a year."]
    verdict, when = Verdict(DOMESTIC_WORD, held, tuple(reasons)), order_date(study, home)
    return Decision(
        study, futures.count, futures.seed, plans, home, None, (held,), verdict,
        order_date=when, warnings=(*warnings, *when.notes),
    )  # fmt: skip


def _priced(study: Study, plans: Sequence[OfferPlan], home: OfferPlan | None) -> tuple[OfferPlan, ...]:
    """Return the plans with shortages at what fills the gap: the premium at home, or the lost margin."""
    if home is None:
        return tuple(with_shortage(plan, study.money.lost_margin_minor) for plan in plans)
    filled = home.curve.unit(home.order_quantity or 1)
    return tuple(
        plan
        if plan.offer.is_domestic or plan.order_quantity is None
        else with_shortage(plan, filled - plan.curve.unit(plan.order_quantity))
        for plan in plans
    )


def _weighed(
    study: Study,
    futures: Futures,
    plans: tuple[OfferPlan, ...],
    home: OfferPlan | None,
    warnings: tuple[str, ...],
    *,
    looks_ahead: bool,
) -> Decision:
    """Return the decision between home and the best of the offers from afar."""
    sources = _bulks(study, futures, plans, home)
    best = max(sources, key=lambda source: (source.value, source.bulk.curve.offer.name))
    whole = best.choices[0]
    domestic = nothing_from_afar(DOMESTIC, home.offer.name if home else "", futures.sizes)
    in_bulk = evaluate(whole, futures, BULK, bulk_quantity(whole) or 0)
    asked = asked_by_size(futures)
    base = _with_top_up(best, futures, asked) if home is not None else None
    plan = next(each for each in plans if each.offer.name == whole.curve.offer.name)
    unused = _why_unused(study, plan, whole, sum(asked))
    focus, lever, swings = (in_bulk, None, ()) if unused else _levers(best, futures, in_bulk, base)
    home_year = home.annual.total if home is not None and home.annual is not None else 0.0
    field = Field(
        domestic,
        in_bulk,
        base,
        least_bad=focus,
        bulk_covers=covers_need(whole, in_bulk.quantity),
        home_cost_minor=home_year * study.weeks / WEEKS_PER_YEAR,
    )
    verdict = _told(judge(study, field, swings), best, unused)
    chosen = verdict.chosen
    if lever is not None and chosen.quantity and chosen.quantities != focus.quantities:
        # What flips is asked of the order that is recommended.
        focus = chosen
        lever = Lever(whole if chosen is in_bulk else best.bulk, chosen, futures)
        swings = tornado(lever)
    when = order_date(study, home if verdict.chosen.quantity == 0 else plan)
    return Decision(
        study=study,
        futures=futures.count,
        seed=futures.seed,
        plans=plans,
        home=home,
        bulk_plan=plan,
        alternatives=tuple(each for each in (domestic, in_bulk, base) if each is not None),
        verdict=verdict,
        screen=None if lever is None else _screened(lever.bulk, focus.quantity),
        break_even=break_even(lever, swings) if lever is not None else None,
        order_date=when,
        waiting=() if lever is None or not looks_ahead else waiting_values(lever.bulk, focus),
        trial=None
        if lever is None or not looks_ahead
        else trial_order(lever, swings, smallest(best.choices)),
        focus=focus if focus.quantity else None,
        sensitivity=swings,
        warnings=(*warnings, *when.notes),
    )


@dataclass(frozen=True)
class _Source:
    """An offer from afar with its best quantity within the limits (None: none fits) and what that saves.

    ``choices`` are the ways to order from it, that in most colours first; ``bulk`` is the best of them.
    """

    bulk: Bulk
    quantity: int | None
    value: float
    choices: tuple[Bulk, ...]


def _bulks(
    study: Study, futures: Futures, plans: tuple[OfferPlan, ...], home: OfferPlan | None
) -> list[_Source]:
    """Return every offer from afar with its curves, all drawn against the same futures in one pass."""
    afar = [plan for plan in plans if not plan.offer.is_domestic]
    chances = futures.lead_chances()
    arrivals: list[Numbers] = [arrival_weeks_of(plan.offer.lead.days(chances)) for plan in afar]
    cost_at_home = home.cost_per_unit_minor if home is not None else None
    found = []
    for plan, arrival, curves in zip(afar, arrivals, unit_curves(futures, arrivals), strict=True):
        bulk = Bulk(study, plan.curve, arrival, curves, cost_at_home)
        bulk = replace(bulk, need=needed_pieces(bulk, futures))
        choices = colour_choices(bulk, futures)
        tried = [_source(each, choices) for each in choices]
        # Of ways that save equally, or none of which saves, that in most colours stands.
        found.append(max(tried, key=lambda source: (source.quantity is not None, source.value)))
    return found


def _told(verdict: Verdict, source: _Source, unused: str) -> Verdict:
    """Return the verdict with the real reason where nothing could be used, or nothing fits the limits."""
    if unused and not verdict.chosen.quantity:
        return replace(verdict, word=DOMESTIC_WORD, reasons=(unused,))
    if source.quantity is None:
        return replace(verdict, reasons=(*verdict.reasons, _nothing_fits(source.bulk)))
    return verdict


def _source(bulk: Bulk, choices: tuple[Bulk, ...]) -> _Source:
    quantity = base_quantity(bulk, most_within_limits(bulk))
    value = 0.0
    if quantity:
        assortment = assortment_for(bulk, quantity)
        value = bulk.expected_saving(assortment, quantity)
    return _Source(bulk, quantity, value, choices)


def _with_top_up(source: _Source, futures: Futures, asked: Sequence[float]) -> Alternative:
    """Return base and top-up, with how many of each size are expected to be bought at home."""
    bulk = source.bulk
    base = evaluate(bulk, futures, BASE, source.quantity or 0)
    used = used_by_size(bulk, base.quantities)
    return replace(base, topped_up=tuple(max(0.0, of - by) for of, by in zip(asked, used, strict=True)))


def _why_unused(study: Study, plan: OfferPlan, bulk: Bulk, asked: float) -> str:
    """Return why no piece from afar could be used within the horizon; '' where some could.

    ``asked`` is how many are expected to be asked for beyond the stock on hand.
    """
    if bulk.arrival.min() >= study.weeks:
        return (
            f"Goods from {plan.offer.name} take about {plan.lead_time_days:.0f} days, and the study looks only "
            f"{study.horizon_months} months ahead: none of them could be used in that time. Raise horizon_months "
            "to weigh them."
        )
    if any(size.on_hand for size in study.demand.sizes) and asked < 1:
        return f"The stock on hand is expected to cover the {study.horizon_months} months looked at."
    return ""


def _levers(
    source: _Source, futures: Futures, in_bulk: Alternative, base: Alternative | None
) -> tuple[Alternative, Lever | None, tuple[Swing, ...]]:
    """Return the order whose flipping is looked at, its lever and its tornado.

    Where nothing pays it is the order that loses least: what would have to change for it to pay?
    """
    bulk, focus = source.choices[0], in_bulk
    if base is not None and base.quantity:
        bulk, focus = source.bulk, base
    elif base is not None:
        bulk, least_bad = _least_bad(source.choices)
        focus = evaluate(bulk, futures, BASE, least_bad) if least_bad else in_bulk
    if not focus.quantity:
        return focus, None, ()
    lever = Lever(bulk, focus, futures)
    return focus, lever, tornado(lever)


def _least_bad(choices: tuple[Bulk, ...]) -> tuple[Bulk, int | None]:
    """Return the way to order, and how many, that saves most or loses least."""
    if len(choices) == 1:
        return choices[0], least_bad_quantity(choices[0])
    tried = [(each, least_bad_quantity(each)) for each in choices]
    return max(
        tried,
        key=lambda way: (
            way[0].expected_saving(assortment_for(way[0], way[1]), way[1]) if way[1] else float("-inf")
        ),
    )


def _nothing_fits(bulk: Bulk) -> str:
    allowed = bulk.curve.allowed()
    least = allowed.up(1)
    if least is None:
        return f"The rules of {bulk.curve.offer.name} allow no order at all."
    return (
        f"The smallest order {bulk.curve.offer.name} takes is {least}, which is more than your limits on cash, "
        "cover or space allow."
    )


def _screened(bulk: Bulk, quantity: int) -> tuple[ScreenInput, Screen] | None:
    """Return the instant screen at the landed cost of an order of that quantity."""
    if bulk.domestic_minor is None or quantity == 0:
        return None
    paid = payments(bulk.curve, quantity)
    total, line = bulk.curve.total(quantity), bulk.curve.linear_at(quantity)
    early = sum(each.amount_minor * each.days_before_arrival for each in paid) / DAYS_PER_YEAR
    paid_years, rate = early / total if total else 0.0, bulk.study.money.capital_per_year
    given = ScreenInput(
        domestic_cost=bulk.domestic_minor,
        overseas_cost=line.unit_minor,
        # What is fixed in the landed cost is paid early and lies on the shelf like the rest of it.
        fixed_cost=bulk.curve.offer.cost_per_order_minor + line.fixed_minor * (1 + rate * paid_years),
        demand_per_year=bulk.study.demand.per_year * bulk.demand_share,
        carrying_per_year=rate,
        paid_years=paid_years,
        carried_fixed=line.fixed_minor,
    )
    return given, screen(given)


def _warnings(study: Study, plans: Sequence[OfferPlan], home: OfferPlan | None) -> tuple[str, ...]:
    """Return what to look at before trusting the figures."""
    found: list[str] = [*study.remarks]
    if home is not None and study.money.lost_margin_minor > 0:
        found.append(
            f"lost_margin is not used: {home.offer.name} can fill every gap, so running out costs its dearer "
            "price, not the sale."
        )
    for plan in plans:
        for group in plan.offer.quote.prices:
            found += [f"{plan.offer.name}: {text}" for text in break_warnings(group.breaks)]
        if plan.order_quantity is None:
            found.append(f"{plan.offer.name}: its minimum, multiple and maximum allow no order.")
            continue
        found += [f"{plan.offer.name}: {text}" for text in plan.curve.at(plan.order_quantity).warnings]
        cover = plan.curve.good(plan.order_quantity) / study.demand.per_week
        if cover > WEEKS_PER_YEAR * 2:
            found.append(
                f"{plan.offer.name}: an order of {plan.order_quantity} is {cover / WEEKS_PER_YEAR:.1f} years of demand."
            )
    return tuple(dict.fromkeys(found))

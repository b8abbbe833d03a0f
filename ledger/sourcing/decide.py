"""A study decided: offers planned, alternatives held against the same futures, the verdict, what would flip it."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ledger.errors import StudyErrors
from ledger.sourcing import alternatives as alternative_room
from ledger.sourcing.alternatives import (
    BASE,
    BULK,
    DOMESTIC,
    Alternative,
    Bulk,
    base_quantity,
    bulk_quantity,
    evaluate,
    most_within_limits,
    nothing_from_afar,
)
from ledger.sourcing.demand import DAYS_PER_WEEK, WEEKS_PER_YEAR
from ledger.sourcing.futures import Futures
from ledger.sourcing.lead_time import order_by
from ledger.sourcing.offer_plan import OfferPlan, payments, plan_offer, with_shortage
from ledger.sourcing.price_breaks import break_warnings
from ledger.sourcing.screen import Screen, ScreenInput, screen
from ledger.sourcing.sensitivity import BreakEven, Lever, Swing, break_even, tornado
from ledger.sourcing.simulate import unit_curves
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
    order_by: datetime.date | None = None
    waiting: tuple[Waiting, ...] = ()
    trial: TrialOrder | None = None
    focus: Alternative | None = None
    sensitivity: tuple[Swing, ...] = ()
    warnings: tuple[str, ...] = ()


def decide(study: Study, futures_count: int, seed: int) -> Decision:
    """Return the decision on a study.

    ``futures_count`` futures are drawn from ``seed``; where nothing is uncertain there is but one.

    Raises StudyErrors naming everything in the study that contradicts itself, and ValueProblem where an
    offer cannot be costed (a duty that is not known, a weight that is missing).
    """
    faults = study_faults(study)
    if faults:
        raise StudyErrors("the study", faults)
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
    return _weighed(study, futures, plans, home, warnings)


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
    verdict = Verdict(DOMESTIC_WORD, held, tuple(reasons))
    return Decision(
        study, futures.count, futures.seed, plans, home, None, (held,), verdict,
        order_by=_order_by(study, home), warnings=(*warnings, *_late(study, home)),
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
) -> Decision:
    """Return the decision between home and the best of the offers from afar."""
    sources = _bulks(study, futures, plans, home)
    best = max(sources, key=lambda source: (source.value, source.bulk.curve.offer.name))
    bulk = best.bulk
    domestic = nothing_from_afar(DOMESTIC, home.offer.name if home else "", futures.sizes)
    in_bulk = evaluate(bulk, futures, BULK, bulk_quantity(bulk) or 0)
    base = evaluate(bulk, futures, BASE, best.quantity or 0) if home is not None else None
    focus, lever, swings = _levers(bulk, futures, in_bulk, base)
    plan = next(each for each in plans if each.offer.name == bulk.curve.offer.name)
    home_year = home.annual.total if home is not None and home.annual is not None else 0.0
    field = Field(
        domestic,
        in_bulk,
        base,
        least_bad=focus,
        bulk_covers=alternative_room.covers_need(bulk, in_bulk.quantity),
        home_cost_minor=home_year * study.weeks / WEEKS_PER_YEAR,
    )
    verdict = judge(study, field, swings)
    if best.quantity is None:
        verdict = replace(verdict, reasons=(*verdict.reasons, _nothing_fits(study, bulk)))
    uses_home = verdict.chosen.quantity == 0
    return Decision(
        study=study,
        futures=futures.count,
        seed=futures.seed,
        plans=plans,
        home=home,
        bulk_plan=plan,
        alternatives=tuple(each for each in (domestic, in_bulk, base) if each is not None),
        verdict=verdict,
        screen=_screened(bulk, focus.quantity),
        break_even=break_even(lever, swings) if lever is not None else None,
        order_by=_order_by(study, home if uses_home else plan),
        waiting=waiting_values(bulk, focus),
        trial=trial_order(bulk, focus, swings),
        focus=focus if focus.quantity else None,
        sensitivity=swings,
        warnings=(*warnings, *_late(study, home if uses_home else plan)),
    )


@dataclass(frozen=True)
class _Source:
    """An offer from afar with its best quantity within the limits (None: none fits) and what that saves."""

    bulk: Bulk
    quantity: int | None
    value: float


def _bulks(
    study: Study, futures: Futures, plans: tuple[OfferPlan, ...], home: OfferPlan | None
) -> list[_Source]:
    """Return every offer from afar with its curves, all drawn against the same futures in one pass."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    afar = [plan for plan in plans if not plan.offer.is_domestic]
    chances = futures.lead_chances()
    arrivals: list[Numbers] = [
        np.ceil(plan.offer.lead.days(chances) / DAYS_PER_WEEK - 1e-9).astype(np.int64) for plan in afar
    ]
    cost_at_home = home.cost_per_unit_minor if home is not None else None
    found = []
    for plan, arrival, curves in zip(afar, arrivals, unit_curves(futures, arrivals), strict=True):
        bulk = Bulk(study, plan.curve, arrival, curves, cost_at_home)
        bulk = replace(bulk, need=alternative_room.needed_pieces(bulk, futures))
        quantity = base_quantity(bulk, most_within_limits(bulk))
        value = 0.0
        if quantity:
            assortment = alternative_room.assortment_for(bulk, quantity)
            value = bulk.expected_saving(assortment, quantity)
        found.append(_Source(bulk, quantity, value))
    return found


def _levers(
    bulk: Bulk, futures: Futures, in_bulk: Alternative, base: Alternative | None
) -> tuple[Alternative, Lever | None, tuple[Swing, ...]]:
    """Return the order whose flipping is looked at, its lever and its tornado.

    Where nothing pays it is the order that loses least: what would have to change for it to pay?
    """
    focus = base if base is not None and base.quantity else in_bulk
    if base is not None and not base.quantity:
        least_bad = alternative_room.least_bad_quantity(bulk)
        focus = evaluate(bulk, futures, BASE, least_bad) if least_bad else in_bulk
    if not focus.quantity:
        return focus, None, ()
    lever = Lever(bulk, focus, futures)
    return focus, lever, tornado(lever)


def _nothing_fits(study: Study, bulk: Bulk) -> str:
    allowed = bulk.curve.allowed()
    least = allowed.up(1)
    if least is None:
        return f"The rules of {bulk.curve.offer.name} allow no order at all."
    del study
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
    given = ScreenInput(
        domestic_cost=bulk.domestic_minor,
        overseas_cost=line.unit_minor,
        fixed_cost=bulk.curve.offer.cost_per_order_minor + line.fixed_minor,
        demand_per_year=bulk.study.demand.per_year,
        carrying_per_year=bulk.study.money.capital_per_year,
        paid_years=early / total if total else 0.0,
    )
    return given, screen(given)


def _order_by(study: Study, plan: OfferPlan | None) -> datetime.date | None:
    """Return the latest date to order on, None where nothing says when goods are needed.

    Where the stock will not last until goods ordered today arrive, that is today.
    """
    need = study.need_by or runs_out_on(study)
    if need is None or plan is None:
        return None
    found = order_by(plan.offer.lead, need, study.money.service_level)
    return study.today if found is None and study.need_by is None else found


CHIEF_SHARE = 0.1
"""A size of less demand than this does not call for an order when it runs out; our own rule."""


def runs_out_on(study: Study) -> datetime.date | None:
    """Return the day on which the first of the chief sizes is expected to run out; None where stock is not known."""
    sizes = study.demand.sizes
    if not study.is_stock_known and not any(size.on_hand for size in sizes):
        return None
    least = min(CHIEF_SHARE, max(size.share for size in sizes))
    weeks = min(size.on_hand / (size.share * study.demand.per_week) for size in sizes if size.share >= least)
    days = min(int(weeks * DAYS_PER_WEEK), (datetime.date.max - study.today).days)
    return study.today + datetime.timedelta(days=days)


def _late(study: Study, plan: OfferPlan | None) -> tuple[str, ...]:
    """Return in words that the stock will not last until goods ordered today arrive."""
    need = runs_out_on(study)
    if study.need_by is not None or need is None or plan is None:
        return ()
    if order_by(plan.offer.lead, need, study.money.service_level) is not None:
        return ()
    words = (
        f"the stock lasts until about {need.isoformat()}, and goods from {plan.offer.name} ordered today take "
        f"{plan.curve.lead_days:.0f} days on average: buy what is needed until then elsewhere."
    )
    return (words,)


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

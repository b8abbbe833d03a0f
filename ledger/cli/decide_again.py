"""A kept decision made again with today's facts, for `blankbook review`."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

import typer

from ledger.book.decision_store import KeptDecision
from ledger.book.since_decision import SinceDecision
from ledger.cli.compare_from_book import history_from_book, study_from_book
from ledger.cli.compare_options import DecisionWish
from ledger.cli.moved_steps import steps_between
from ledger.errors import BlankbookError, Refused, ValueProblem
from ledger.exact.numbers import show_fraction
from ledger.exact.quantity import MILLI
from ledger.intake.study_file import content_of, study_from
from ledger.intake.whole_study import Came, with_what_came
from ledger.sourcing.decide import Decision, decide
from ledger.sourcing.hindsight import (
    LEAST_DAYS,
    SavingSoFar,
    demand_since,
    saving_so_far,
    unit_ten_thousandths,
)
from ledger.sourcing.offer_plan import CostCurve
from ledger.sourcing.own_history import MONTH_DAYS, days_without_stock
from ledger.views.moved_answers import MovedAnswer
from ledger.views.review import Again, Review

_FACTOR_PLACES = 6


def looked_back(
    context: typer.Context,
    kept: KeptDecision,
    since: SinceDecision,
    rates: tuple[str, ...],
    *,
    is_whole: bool,
) -> Review:
    """Return a kept decision with what came and the answer it gets today.

    Where the answer moved, the figures that differ are taken one by one; with ``is_whole`` also where it stands.
    """
    before = content_of(kept.study, _study_name(kept))
    belief = study_from(before, _study_name(kept), _day(kept)).demand
    home, home_from = _home_unit(kept, since)
    again, after = _again(context, kept, since, before, rates)
    one = Review(
        kept=kept,
        since=since,
        demand=demand_since(belief, since.history, since.days),
        saving=_saving(kept, since, home),
        home_unit_ten_thousandths=home,
        home_from=home_from,
        again=again,
    )
    if again.decision is None or after is None or (one.is_same and not is_whole):
        return one
    moved = _moved(context, kept, before, after, again.decision)
    return replace(one, again=replace(again, moved=moved)) if moved.count else one


def _home_unit(kept: KeptDecision, since: SinceDecision) -> tuple[int | None, str]:
    """Return what one at home costs: as really paid there since, else as the decision counted with."""
    landed = sum(each.landed_minor for each in since.home)
    pieces = sum(each.quantity_milli for each in since.home)
    paid = unit_ten_thousandths(landed, pieces)
    if paid is not None:
        return paid, f"as paid there since for {pieces // MILLI:,}"
    return kept.home_unit_ten_thousandths, "as the decision counted"


def _saving(kept: KeptDecision, since: SinceDecision, home: int | None) -> SavingSoFar | None:
    if not kept.is_from_afar or home is None or not since.lots:
        return None
    return saving_so_far(since.lots, home)


def _again(
    context: typer.Context,
    kept: KeptDecision,
    since: SinceDecision,
    before: Mapping[str, Any],
    rates: tuple[str, ...],
) -> tuple[Again, Mapping[str, Any] | None]:
    """Return the decision made again, and the study's tables it was made from; None where it cannot be.

    Day and stock are those of the decision: what was bought since is on today's shelf, and would answer the
    question by itself.
    """
    try:
        if kept.from_book:
            content, words = _of_today(context, kept, before, rates)
        else:
            content, words = _with_facts(kept, since, before)
        return Again(_decided(context, kept, content), put_in=words), content
    except (BlankbookError, ValueProblem) as problem:
        return Again(problem=str(problem)), None


def _decided(context: typer.Context, kept: KeptDecision, content: Mapping[str, Any]) -> Decision:
    history_of = _history_of(context) if kept.from_history else None
    study = study_from(content, _study_name(kept), _day(kept), history_of)
    return decide(study, kept.futures, kept.seed, looks_ahead=False)


def _study_name(kept: KeptDecision) -> str:
    return f"the study of decision {kept.number}"


def _day(kept: KeptDecision) -> datetime.date:
    return datetime.date.fromisoformat(kept.decided_on)


def _of_today(
    context: typer.Context, kept: KeptDecision, before: Mapping[str, Any], rates: tuple[str, ...]
) -> tuple[Mapping[str, Any], tuple[str, ...]]:
    """Return the study that the book gives today, with the stock of the decision's day, and in words so."""
    asked = study_from_book(context, DecisionWish(kept.subject, kept.colour, rates))
    if asked is None:
        raise Refused("nothing of it left the shelf yet.")
    then, demand = before.get("demand", {}).get("on_hand"), dict(asked.content["demand"])
    words = "offers and demand as the book has them today, stock and day as they were"
    if isinstance(then, dict) and isinstance(demand.get("sizes"), dict):
        demand["on_hand"] = {size: then.get(size, 0) for size in demand["sizes"]}
    elif isinstance(then, int) and not isinstance(demand.get("sizes"), dict):
        demand["on_hand"] = then
    else:
        words = "offers, demand and stock as the book has them today, for its sizes are others than they were"
    return {**asked.content, "demand": demand}, (words,)


def _history_of(context: typer.Context) -> Any:
    return lambda name, colour: history_from_book(context, name, colour)


def _with_facts(
    kept: KeptDecision, since: SinceDecision, before: Mapping[str, Any]
) -> tuple[Mapping[str, Any], tuple[str, ...]]:
    """Return a kept study's tables with today's facts in them, and in words which."""
    words: list[str] = []
    content = dict(before)
    history = None
    if kept.from_history:
        # What the study left to the book's history is looked up there again, of all its days.
        given = [key for key in kept.from_history.split(",") if key != "on_hand"]
        content["demand"] = {key: value for key, value in content["demand"].items() if key not in given}
        words.append(
            f"{', '.join(_KEYS.get(key, key) for key in given)} of its demand as the book has them today, stock and day as "
            "they were"
        )
    elif kept.items and since.days and (why_not := _why_demand_stays(since, before)):
        words.append(f"its demand as it was, for {why_not}")
    elif kept.items and since.days:
        history = since.history
        with_own = "its own history and " if "history" in content.get("demand", {}) else ""
        words.append(f"its demand by {with_own}what was wanted in the {since.days} days since")
    factor = _price_factor(kept, since, before)
    if factor is not None:
        words.append(
            f"prices of {kept.offer} times {show_fraction(factor, 4)}, which gives the landed cost that came"
        )
    took = since.took_days
    if took:
        words.append(
            f"{kept.offer} in {show_fraction(Fraction(sum(took), len(took)), 1)} days, as orders took"
        )
    if not words:
        words.append("nothing came yet that could stand in its study")
    return with_what_came(content, Came(history, kept.offer, factor, took)), tuple(words)


_KEYS = {"days_out_of_stock": "days out of stock", "days_outside": "days it does not tell of"}


def _why_demand_stays(since: SinceDecision, before: Mapping[str, Any]) -> str:
    """Return why what was wanted since does not stand in a study in the place of what was expected; '' where it does."""
    if since.days < LEAST_DAYS:
        return f"the book tells of {since.days} days since, and {LEAST_DAYS} are needed to say anything"
    if not since.history.is_empty:
        return ""
    nothing = f"nothing was wanted of it by the book in the {since.days} days since"
    if since.history.sizes and sum(MONTH_DAYS - out for out in days_without_stock(since.history)) <= 0:
        return f"{nothing}, and none was there to be wanted"
    if any(Fraction(str(each)) > 0 for each in before.get("demand", {}).get("history", ())):
        return ""
    return f"{nothing}, and out of nothing alone no demand can be reckoned: where it sells no more, change the study"


def _price_factor(kept: KeptDecision, since: SinceDecision, before: Mapping[str, Any]) -> Fraction | None:
    """Return what an offer's prices must be taken times for what came to cost landed what it did.

    The landed cost is a straight line in the prices as long as no fee changes its course, so two of its points
    give the factor. None where nothing came, or no factor above zero does it.
    """
    pieces = sum(each.quantity_milli for each in since.receipts)
    paid = unit_ten_thousandths(sum(each.landed_minor for each in since.receipts), pieces)
    orders = len({each.order or -each.document for each in since.receipts})
    if paid is None or not kept.offer:
        return None
    quantity = max(1, round(Fraction(pieces, MILLI * orders)))
    units = []
    for factor in (Fraction(1), Fraction(2)):
        content = with_what_came(before, Came(offer=kept.offer, price_factor=factor))
        offers = study_from(content, _study_name(kept), _day(kept)).offers
        offer = next((each for each in offers if each.name == kept.offer), None)
        if offer is None:
            return None
        units.append(Fraction(CostCurve(offer).unit(quantity)))
    if units[0] == units[1]:
        return None
    factor = 1 + (Fraction(paid, 10_000) - units[0]) / (units[1] - units[0])
    return round(factor, _FACTOR_PLACES) if factor > 0 else None


def _moved(
    context: typer.Context,
    kept: KeptDecision,
    before: Mapping[str, Any],
    after: Mapping[str, Any],
    decision: Decision,
) -> MovedAnswer:
    """Return why the answer differs from the one that was kept."""

    def decided(content: Mapping[str, Any]) -> Decision:
        return _decided(context, kept, content)

    steps, count = steps_between(before, after, decided)
    return MovedAnswer(f"decision {kept.number}", "now", decided(before), decision, steps, count)

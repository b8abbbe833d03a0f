"""What a plan answers first: whether what was asked for has to be ordered, what cannot be planned, what is late."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable

from ledger.sourcing.supplier_orders import Stuck
from ledger.sourcing.what_to_order import Stocked
from ledger.views import figures
from ledger.views.plan_report import PlanReport

SHORT_HISTORY_DAYS = 62
"""A history of fewer days is said to be short; our own rule."""


def answers(report: PlanReport) -> list[str]:
    """Return what cannot be planned, with what to do, and where nothing has to be ordered that it is so."""
    said = list(_stuck(report))
    said += [text for sku in report.asked for text in _asked(report, sku)]
    if not report.orders and not report.asked:
        what = f"No {report.kind}" if report.kind else "Nothing"
        other = " else" if said and not report.kind else ""
        said.append(f"{what}{other} has to be ordered within {report.terms.ahead_days} days.")
    return said


def _stuck(report: PlanReport) -> Iterable[str]:
    for each in report.plan.stuck:
        item = each.wish.item
        if report.shows(item):
            yield f"{item.sku} cannot be planned: {_state(item)}; {_what_to_do(why_stuck(report, each))}."


def why_stuck(report: PlanReport, stuck: Stuck) -> str:
    """Return why an item cannot be planned, with who sells it in packs of mixed sizes only."""
    packs = report.facts.in_packs.get(stuck.wish.item.sku, "")
    return stuck.why if packs in stuck.why else f"{stuck.why.rstrip('.')}; {packs}"


def _state(item: Stocked) -> str:
    """Return what is there of an item and when some was used last."""
    if item.on_hand_milli <= 0 and item.emptied_on is not None and not item.short_milli:
        return f"used up on {item.emptied_on}"
    used = f", last used on {item.last_used_on}" if item.last_used_on else ", never used"
    return f"{figures.quantity(item.on_hand_milli)} {item.unit} on hand{used}"


def _what_to_do(why: str) -> str:
    if why.startswith("no supplier is known"):
        return "no supplier known: add a quote or receive it once with a party"
    return why.rstrip(".")


def _asked(report: PlanReport, sku: str) -> Iterable[str]:
    """Yield the answer for an item that was named and is in no order."""
    planned = {line.chosen.item.sku for order in report.orders for line in report.lines(order)}
    if sku in planned or any(each.wish.item.sku == sku for each in report.plan.stuck):
        return
    for each in report.plan.later:
        if each.item.sku == sku:
            day = each.seen.order_by
            when = f"; order by {day}" if day else ""
            yield f"{sku} does not have to be ordered within {report.terms.ahead_days} days: {_state(each.item)}{when}."
            return
    for item in report.facts.unused:
        if item.sku == sku:
            yield f"{sku}: {_state(item)}; nothing says when to order it."
            return
    if sku in report.facts.made:
        yield f"{sku} is made by the shop: what goes into it is planned."
    elif sku in report.facts.not_counted:
        yield f"{sku} is an expense when bought: nobody counts what is there, so it is not planned."
    else:
        yield f"{sku} belongs to a customer: it is not planned."


def overdue(report: PlanReport, close_words: Callable[[int], str]) -> list[str]:
    """Return goods under way that should have been there: they are counted on, and who is to be asked."""
    chosen = [line.chosen for order in report.plan.orders for line in order.lines]
    by_order: dict[int, list[str]] = {}
    days = {}
    for item in [each.item for each in (*chosen, *report.plan.later)] + [
        each.wish.item for each in report.plan.stuck
    ]:
        for coming in item.coming:
            if coming.was_due is not None and report.shows(item):
                amount = f"{figures.quantity(coming.quantity_milli)} {item.unit} of {item.sku}"
                by_order.setdefault(coming.order, []).append(amount)
                days[coming.order] = coming.was_due
    today = report.terms.today
    return [
        f"Order {number} was due {days[number]}, {(today - days[number]).days} days ago. The plan counts on it as "
        f"coming now: {', '.join(amounts)}. Ask the supplier; if it will not come: {close_words(number)}"
        for number, amounts in sorted(by_order.items())
    ]


def history_words(report: PlanReport) -> list[str]:
    """Return how far the book's use reaches, and what a short history cannot say."""
    facts, said = report.facts, []
    if not facts.through:
        return []
    since = (report.terms.today - datetime.date.fromisoformat(facts.through)).days
    if since:
        verb, noun = ("is", "day") if since == 1 else ("are", "days")
        said.append(
            f"The last use in the book is of {facts.through}; {since} {noun} since then {verb} not in it. "
            "'Lasts to' counts from the stock as it stands in the book."
        )
    if facts.days_observed < SHORT_HISTORY_DAYS:
        said.append(
            f"The chance rests on {facts.days_observed} days of history: a season or a busier month is not in it."
        )
    return said

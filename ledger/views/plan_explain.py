"""How the stock at which to order was found, in words: a formula with its inputs, and what the draws say."""

from __future__ import annotations

import math
from collections.abc import Iterable

from ledger.exact.quantity import MILLI
from ledger.exact.words import how_many
from ledger.sourcing.plan_reasons import closed_between, closed_words, lead_words
from ledger.sourcing.reorder_points import Formula, formula_of, lead_calendar
from ledger.sourcing.ways_to_buy import Chosen
from ledger.views.plan_report import PlanReport
from ledger.views.prose import wrapped

INPUT_DIGITS = 7
VALUE_DIGITS = 5
"""So many digits count of what goes into a formula, and of what comes out: the second follows from the first."""

LEGEND = (
    "Formula: use a day x lead time + z x the root of (lead time x a day's spread^2 + use a day^2 x the lead time's "
    "spread^2 + use in the lead time^2 / times used, the doubt about the rate). The draws decide: a normal tail "
    "fails where lead times vary."
)


def explained_text(report: PlanReport) -> str:
    """Return for each item that is shown how its 'order at' was found."""
    lines = [wrapped(explain(report, chosen), "  ") for chosen in explained_items(report)]
    return "\n".join(["How each 'order at' was found:", *lines, wrapped(LEGEND, "  ")]) if lines else ""


def explained_items(report: PlanReport) -> list[Chosen]:
    """Return what is planned and shown; and what needs nothing now where it was asked for."""
    found = [line.chosen for order in report.orders for line in report.lines(order)]
    if report.shows_all or report.asked:
        found += [each for each in report.plan.later if report.shows(each.item)]
    return found


def explain(report: PlanReport, chosen: Chosen) -> str:
    """Return in words how the stock at which to order an item was found."""
    seen, item, use = chosen.seen, chosen.item, chosen.item.use
    day = seen.order_by or report.terms.today
    after = (day - report.terms.today).days
    formula = formula_of(use, lead_calendar(chosen.way.lead).on(after), report.terms.service_level)
    each = digits(use.left_milli / MILLI / use.times)
    spread = digits(use.sd_milli / MILLI)
    times = "once" if use.times == 1 else f"{use.times:,} times"
    found = (
        f"{item.sku}: order at {digits(seen.reorder_at, VALUE_DIGITS)} {item.unit} (for an order of {day}): use in "
        f"the lead time {digits(formula.mean, VALUE_DIGITS)} and chance part "
        f"{digits(seen.reorder_at - formula.mean, VALUE_DIGITS)}, simulated for {report.terms.service_level:.1%}"
    )
    day_spread = f"sqrt({use.times} / {use.days} x ({each}^2 + {spread}^2))"
    parts = [
        found,
        f"used {times} in {use.days:,} days, {each} each, give or take {spread}",
        f"formula: {formula_words(formula)}, with a day's spread of {day_spread}",
        f"lead time: {lead_words(chosen.way)}; {_closed(chosen, report, after, formula)}",
    ]
    return "; ".join(parts) + "."


def formula_words(formula: Formula) -> str:
    """Return the formula with its inputs and what it comes to."""
    use, days, late = digits(formula.per_day), digits(formula.lead_days), digits(formula.lead_sd_days)
    return (
        f"{use} x {days} + {digits(formula.z)} x sqrt({days} x {digits(formula.day_sd)}^2 + {use}^2 x {late}^2 + "
        f"({use} x {days})^2 / {formula.times}) = {digits(formula.reorder_at, VALUE_DIGITS)}"
    )


def _closed(chosen: Chosen, report: PlanReport, after: int, formula: Formula) -> str:
    lead = chosen.way.lead
    if lead.closures.are_none:
        return "no closed days counted"
    first = chosen.seen.order_by or report.terms.today
    from_plan = after + math.ceil(formula.lead_days - 1e-9)
    found = closed_between(
        lead, first, report.terms.today.fromordinal(report.terms.today.toordinal() + from_plan)
    )
    count = sum((one.last - one.first).days + 1 for one in found)
    if not count:
        return "no closed days counted"
    return f"{how_many(count, 'closed day')} counted: {closed_words(found)}"


def explained_data(report: PlanReport) -> list[dict[str, str | int]]:
    """Return the same as scripts take it."""
    return [dict(_data(report, chosen)) for chosen in explained_items(report)]


def _data(report: PlanReport, chosen: Chosen) -> Iterable[tuple[str, str | int]]:
    after = ((chosen.seen.order_by or report.terms.today) - report.terms.today).days
    moments = lead_calendar(chosen.way.lead).on(after)
    formula = formula_of(chosen.item.use, moments, report.terms.service_level)
    yield "sku", chosen.item.sku
    for name in ("per_day", "lead_days", "lead_sd_days", "day_sd", "z"):
        yield name, f"{getattr(formula, name):.9g}"
    yield "times", formula.times
    yield "formula", f"{formula.reorder_at:.7g}"
    yield "simulated", f"{chosen.seen.reorder_at:.7g}"
    yield "words", explain(report, chosen)


def digits(value: float, count: int = INPUT_DIGITS) -> str:
    """Return a number with so many digits that count, without an exponent and trailing zeros."""
    if value == 0:
        return "0"
    places = max(0, count - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:,.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text

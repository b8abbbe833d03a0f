"""Who is cheapest for what is wanted: the ranking in tables, and in words why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from ledger.exact.numbers import show_fraction
from ledger.exact.rounding import round_fraction
from ledger.sourcing.comparison import NOT_ALL_QUOTED, Contender, why_cheaper
from ledger.views import figures
from ledger.views.lead_words import days_text
from ledger.views.price_report import PriceReport, days_told, per, unit_text
from ledger.views.tables import Table, paragraphs

LARGER = {
    "sheet": ("hundred", Fraction(100)),
    "mL": ("L", Fraction(1000)),
    "g": ("kg", Fraction(1000)),
    "cm": ("m", Fraction(100)),
    "cm2": ("m2", Fraction(10_000)),
}
"""The larger measure in which what is cheap by its base unit is told too."""

MOST_REASONS = 3
"""How many differences the reason names, the largest first; the table of steps has all of them."""

Last = Literal["", "why so many", "not quoted"]


@dataclass(frozen=True)
class Headed:
    """A table with what is said above it; '' for nothing."""

    heading: str
    table: Table


def ranking_text(report: PriceReport) -> str:
    """Return the tables of the ranking as the screen shows them."""
    return paragraphs("\n".join(filter(None, (each.heading, each.table.text()))) for each in rankings(report))


def rankings(report: PriceReport) -> list[Headed]:
    """Return the tables: who sells about what is wanted, who forces more, who leaves costs open, what was paid."""
    found = report.comparison
    forced = f"Only for much more than the {report.wanted} wanted:"
    unquoted = (
        "Not ranked, for what they come to is not known (ask; a cost that there is none of is written as 0):"
    )
    every = (
        ("", _offers(found.near, report, "", is_numbered=True)),
        (forced, _offers(found.forcing, report, "why so many")),
        (unquoted, _offers(found.unquoted, report, "not quoted")),
        ("Paid before:", _paid(found.paid, report)),
    )
    return [Headed(heading, table) for heading, table in every if table is not None]


def _offers(
    offers: Sequence[Contender], report: PriceReport, last: Last, *, is_numbered: bool = False
) -> Table | None:
    """Return a table of offers; ``last`` is the heading of what is said of each at the end."""
    if not offers:
        return None
    unit = per(report.unit)
    larger = LARGER.get(report.unit)
    landed = [f">landed {unit}", *([f">landed per {larger[0]}"] if larger else [])]
    enters = ["enters"] if any(_enters(each, report) for each in offers) else []
    wanted = report.comparison.wanted
    is_short = any(each.good_quantity < wanted for each in offers)
    good = [f">for {show_fraction(wanted, 3)} good"] if is_short else []
    headings = [
        "who",
        ">buys",
        f">price {unit}",
        *landed,
        ">in all",
        *good,
        ">days",
        *enters,
        "quoted",
        "terms",
    ]
    without = ["does not bring"] if any(each.missing for each in offers) else []
    table = Table([*([""] if is_numbered else []), *headings, *without, *([last] if last else [])])
    for place, each in enumerate(offers, start=1):
        table.add(
            *([str(place)] if is_numbered else []),
            each.name,
            *_figures(each, report),
            figures.money(each.total_minor, report.currency),
            *([figures.money(round_fraction(each.cost_of(wanted)), report.currency)] if is_short else []),
            _days(each, report),
            *([_enters(each, report)] if enters else []),
            each.date,
            each.quote.terms if each.quote else "",
            *([", ".join(each.missing)] if without else []),
            *([standing_words(each)] if last else []),
        )
    return table


def _figures(each: Contender, report: PriceReport) -> list[str]:
    larger = LARGER.get(report.unit)
    return [
        show_fraction(each.quantity, 3),
        unit_text(each.price_minor, report),
        unit_text(each.unit_cost_minor, report),
        *([unit_text(each.unit_cost_minor * larger[1], report)] if larger else []),
    ]


def _paid(paid: Sequence[Contender], report: PriceReport) -> Table | None:
    if not paid:
        return None
    unit = per(report.unit)
    larger = LARGER.get(report.unit)
    landed = [f">landed {unit}", *([f">landed per {larger[0]}"] if larger else [])]
    table = Table(["to whom", ">bought", f">price {unit}", *landed, ">in all", "received", "receipt"])
    for each in paid:
        total = figures.money(each.total_minor, report.currency)
        table.add(each.name, *_figures(each, report), total, each.date, str(each.document))
    return table


def standing_words(each: Contender) -> str:
    """Return what keeps an offer out of the ranking: what it leaves unquoted, or why it takes so many."""
    if each.quote is not None and each.standing == NOT_ALL_QUOTED:
        return ", ".join(each.quote.unquoted)
    if each.buying is None:
        return ""
    return ", ".join(each.buying.reasons) or "one is so many"


def _days(each: Contender, report: PriceReport) -> str:
    """Return the days from order to shelf; who says so stands below the tables."""
    told = days_told(each, report)
    return told.days if told else ""


def days_words(report: PriceReport) -> str:
    """Return how long each offer takes and who says so."""
    told = (days_told(each, report) for each in (*report.comparison.offers, *report.comparison.unquoted))
    return days_text(filter(None, told))


def _enters(each: Contender, report: PriceReport) -> str:
    """Return the day of entry of what crosses a border."""
    if each.estimate is None or not each.estimate.customs_value_minor:
        return ""
    return report.comparison.market.entries[each.name].on.isoformat()


def why_text(report: PriceReport) -> str:
    """Return in words which offer is cheapest for what is wanted and why, and how that stands to what was paid."""
    said = f"{_best(report)}{_more_than_wanted(report)}{_less_each(report)}{_open(report)}"
    paid = report.comparison.paid
    if not paid:
        return said
    least = paid[0]
    words = (
        f"The least that was paid: {unit_text(least.unit_cost_minor, report)} landed, to {least.name} on "
        f"{least.date}."
    )
    if not report.comparison.offers:
        return f"{said} {words}"
    change = report.comparison.offers[0].unit_cost_minor - least.unit_cost_minor
    percent = show_fraction(abs(change) / least.unit_cost_minor * 100, 1) if least.unit_cost_minor else ""
    than = (
        f" Today's cheapest is {percent}% {'more' if change > 0 else 'less'}." if change and percent else ""
    )
    return f"{said}\n{words}{than}"


def _best(report: PriceReport) -> str:
    """Return which offer costs least for what is wanted, and by how much less than the next."""
    near, forcing = report.comparison.near, report.comparison.forcing
    if not near:
        if not forcing:
            return (
                "No offer says all that it costs."
                if report.comparison.unquoted
                else "Nobody offers it today."
            )
        least = forcing[0]
        return (
            f"Nobody sells about {report.wanted}. The least in all is {least.name}, which takes "
            f"{show_fraction(least.quantity, 3)} ({standing_words(least)}): {_costs(least, report)}."
        )
    best = near[0]
    if len(near) == 1:
        is_only = not forcing and not report.comparison.unquoted
        what = "the only offer today" if is_only else f"the only one that sells about {report.wanted} today"
        return f"{best.name} is {what}: {_costs(best, report)}."
    other = near[1]
    said = f"{best.name} is cheapest for {report.wanted} today: {_costs(best, report)}"
    wanted = report.comparison.wanted
    gap = round_fraction(other.cost_of(wanted) - best.cost_of(wanted))
    by_unit = best.unit_cost_minor - other.unit_cost_minor
    if gap == 0 and by_unit == 0:
        return f"{said}; {other.name} costs the same."
    is_short = min(best.good_quantity, other.good_quantity) < wanted
    by = f"less for {report.wanted} good ones" if is_short else "less in all"
    said += f", {figures.money(gap, report.currency)} {by} than {other.name}"
    if by_unit >= 0:
        return f"{said}, which buys {show_fraction(other.quantity, 3)} at {unit_text(other.unit_cost_minor, report)}."
    return f"{said}. That is {_signed(by_unit, report)} {per(report.unit)}{_because(best, other, report)}."


def _costs(each: Contender, report: PriceReport) -> str:
    in_all = f"{figures.money(each.total_minor, report.currency)} in all"
    if each.good_quantity < report.comparison.wanted:
        in_all += f" for about {show_fraction(each.good_quantity, 1)} good"
    without = f", without {', '.join(each.missing)}" if each.missing else ""
    return f"{in_all}, {unit_text(each.unit_cost_minor, report)} {per(report.unit)} landed{without}"


def _more_than_wanted(report: PriceReport) -> str:
    """Return which offers cost less by the unit than one ranked before them, for they buy more than is wanted."""
    near = report.comparison.near
    below = [
        each
        for place, each in enumerate(near)
        if any(each.unit_cost_minor < before.unit_cost_minor for before in near[:place])
        # Of the second the sentence about the best says it.
        and not (place == 1 and each.unit_cost_minor <= near[0].unit_cost_minor)
    ]
    if not below:
        return ""
    shown = "; ".join(f"{each.name} buys {show_fraction(each.quantity, 3)}" for each in below)
    return (
        f" The order goes by what {report.wanted} cost, not by the landed cost {per(report.unit)}: {shown}."
    )


def _less_each(report: PriceReport) -> str:
    """Return which offer costs less by the unit, but only from more than is wanted on."""
    if not report.comparison.near:
        return ""
    best = report.comparison.near[0]
    less = [each for each in report.comparison.forcing if each.unit_cost_minor < best.unit_cost_minor]
    if not less:
        return ""
    each = min(less, key=lambda one: one.unit_cost_minor)
    return (
        f" {each.name} costs less {per(report.unit)}, but only from {show_fraction(each.quantity, 3)} on: "
        f"{unit_text(each.unit_cost_minor, report)} {per(report.unit)}, "
        f"{figures.money(each.total_minor, report.currency)} in all."
    )


def _open(report: PriceReport) -> str:
    """Return which offers might be cheaper if they said all that they cost."""
    offers = report.comparison.offers
    said = ""
    for each in report.comparison.unquoted:
        if not offers or each.unit_cost_minor < offers[0].unit_cost_minor:
            said += (
                f" {each.name} comes to {unit_text(each.unit_cost_minor, report)} {per(report.unit)} and more: not "
                f"quoted {'is' if len(_unquoted(each)) == 1 else 'are'} {standing_words(each)}."
            )
    return said


def _unquoted(each: Contender) -> tuple[str, ...]:
    return each.quote.unquoted if each.quote else ()


def _because(best: Contender, other: Contender, report: PriceReport) -> str:
    """Return the largest differences in words, with 'mostly' where there are more.

    Those that make the best one cheaper come first, at least one of them; what goes the other way follows
    after 'though'.
    """
    every = sorted(why_cheaper(best, other), key=lambda each: -abs(each.amount_minor))
    shown = every[:MOST_REASONS]
    lower = [each for each in shown if each.amount_minor < 0]
    if not lower:
        lower = [each for each in every if each.amount_minor < 0][:1]
        shown = shown[: MOST_REASONS - 1]
    higher = [each for each in shown if each.amount_minor > 0]
    said = ", though ".join(
        "; ".join(f"{each.name} {_signed(each.amount_minor, report)}" for each in some)
        for some in (lower, higher)
        if some
    )
    return f", {'mostly ' if len(every) > MOST_REASONS else ''}{said}"


def _signed(amount: Fraction, report: PriceReport) -> str:
    text = unit_text(abs(amount), report)
    return f"{text} less" if amount < 0 else f"{text} more"

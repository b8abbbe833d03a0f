"""What to order now, as people read it: a table per supplier, the most urgent first, each piece with its reason."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from ledger.catalogue.items import KINDS
from ledger.exact.money import grouped_money
from ledger.exact.words import how_many
from ledger.sourcing.quote import Freight
from ledger.sourcing.reorder_points import HORIZON_DAYS
from ledger.sourcing.supplier_orders import OrdersPlan, PlannedLine, PlannedOrder
from ledger.sourcing.ways_to_buy import ASSUMED, LONGEST_COVER_DAYS, Chosen
from ledger.views import figures
from ledger.views.bars import beside
from ledger.views.plan_answers import answers, history_words, overdue
from ledger.views.plan_report import PlanReport
from ledger.views.plan_table import at_stock, lasting, order_table, rate, with_reasons
from ledger.views.prose import wrapped
from ledger.views.stock import CHEMICALS
from ledger.views.tables import Table, paragraphs

CAUTION = (
    "A plan reckons from what the book knows: look at each line before you order. Landed costs of goods from "
    "abroad are estimates, not customs or tax advice."
)


@dataclass(frozen=True)
class PlanCommands:
    """How commands are typed: placing an order, comparing some goods, closing an order."""

    place: Callable[[PlannedOrder], str]
    compare: Callable[[str], str]
    close: Callable[[int], str]


def plan_text(report: PlanReport, commands: PlanCommands) -> str:
    """Return the plan as text, what was asked for first."""
    orders = report.orders
    parts = [f"What {report.shop} has to order, on {report.terms.today.isoformat()}"]
    parts.append("\n".join(wrapped(text, "  ") for text in answers(report)))
    parts += [_order_text(report, order, commands) for order in orders]
    parts.append("\n".join(wrapped(text, "  ") for text in overdue(report, commands.close)))
    parts += [_later_text(report), _unknown_text(report)]
    parts.append("\n".join(wrapped(text, "  ") for text in history_words(report)))
    parts.append(_assumed_text(report))
    if orders:
        parts.append("\n".join(wrapped(each) for each in cautions(report)))
    if report.bars and orders:
        parts.append("Bars beside a table: how long what is there lasts.")
    return paragraphs(parts)


def cautions(report: PlanReport) -> list[str]:
    """Return the cautions that the orders printed call for, each once."""
    kinds = {line.chosen.item.kind for order in report.orders for line in report.lines(order)}
    chemical = any(kind in KINDS and KINDS[kind].has_safety_sheet for kind in kinds)
    return [CAUTION, *([CHEMICALS] if chemical else [])]


def _order_text(report: PlanReport, order: PlannedOrder, commands: PlanCommands) -> str:
    by = order.order_by.isoformat()
    when = f"order by {by}, today" if order.order_by == report.terms.today else f"order by {by}"
    head = f"{order.way.supplier}: {when}; there about {order.expected_on.isoformat()}"
    shown = report.lines(order)
    notes = [*order.notes, order.there, _often_words(report, order), *_compare_words(report, shown, commands)]
    said = [*_further(shown), _cost_words(report, order), *notes]
    if len(shown) < len(order.lines):
        said.append(f"{len(order.lines) - len(shown)} further lines of this order are not shown")
    words = "\n".join(wrapped(f"{_capital(text)}.", "  ") for text in said if text)
    drawn = beside(
        order_table(order, shown), _cover_days(report, [line.chosen for line in shown]), report.bars
    )
    return paragraphs([head, with_reasons(drawn, shown), words, commands.place(order)])


def _compare_words(report: PlanReport, shown: Sequence[PlannedLine], commands: PlanCommands) -> Iterable[str]:
    """Yield where goods of the plan could come from afar: that is another decision, and how it is made."""
    named = dict.fromkeys(report.facts.to_compare.get(line.chosen.item.sku, "") for line in shown)
    for goods in filter(None, named):
        yield (
            f"{goods} can also come from afar: {commands.compare(goods)}; this plan covers only what is needed "
            "until the next order"
        )


def _further(lines: Sequence[PlannedLine]) -> Iterable[str]:
    """Yield what else is to be known of the lines, those of one kind together."""
    by_words: dict[str, list[str]] = {}
    for line in lines:
        for words in line.why[1:]:
            by_words.setdefault(words, []).append(line.chosen.item.sku)
        if line.chosen.way.paid_on:
            words = f"no offer stands: at the price paid on {line.chosen.way.paid_on}"
            by_words.setdefault(words, []).append(line.chosen.item.sku)
    for words, skus in by_words.items():
        yield f"{', '.join(skus)}: {words}"


def _cost_words(report: PlanReport, order: PlannedOrder) -> str:
    currency = report.terms.currency
    goods = figures.money(order.cost.goods_minor, currency)
    freight = order.cost.freight_minor
    landed = figures.money(order.cost.landed_minor, currency)
    way = f"freight {figures.money(freight, currency)}" if freight else "no freight"
    if all(line.chosen.way.paid_on and line.chosen.way.quote.freight == Freight() for line in order.lines):
        way = "freight not known"
    return f"goods {goods}, {way}: about {landed} {currency} landed"


def _often_words(report: PlanReport, order: PlannedOrder) -> str:
    days = round(order.joint.days_between)
    count = len(order.joint.multiples)
    sooner = f"; this order lasts until about {order.next_on} ({order.next_for})" if order.next_for else ""
    if count == 1:
        return f"by itself it would be ordered about every {days:,} days{sooner}"
    saved = grouped_money(round(order.joint_saves_minor), report.terms.currency)
    slower = sum(1 for multiple in order.joint.multiples if multiple > 1)
    often = f", {slower} of them less often" if slower else ""
    return (
        f"its {count} items are best ordered together about every {days:,} days{often}: {saved} a year less "
        f"than each alone{sooner}"
    )


def _later_text(report: PlanReport) -> str:
    later = [each for each in report.plan.later if report.shows(each.item)]
    said = []
    if later:
        due = [each for each in later if each.seen.order_by is not None]
        soon = f"; the next is due {due[0].seen.order_by} ({due[0].item.sku})" if due else ""
        listed = "" if report.shows_all else "; --all lists them"
        noun = "item needs" if len(later) == 1 else "items need"
        said.append(f"{len(later)} {noun} nothing now{soon}{listed}.")
    if later and report.shows_all:
        said.append(_later_table(report, later))
    return "\n\n".join(said) if report.shows_all else "\n".join(said)


def _cover_days(report: PlanReport, chosen: Sequence[Chosen]) -> list[int]:
    """Return for how many days the stock of each lasts, a year at most."""
    lasts = [each.seen.lasts_until or report.terms.today for each in chosen]
    return [min(LONGEST_COVER_DAYS, (day - report.terms.today).days) for day in lasts]


def _later_table(report: PlanReport, later: Sequence[Chosen]) -> str:
    comes = any(each.item.coming_milli for each in later)
    heads = ["SKU", ">on hand", ">under way", "unit", ">a day", "lasts to", ">order at", "order by", "from"]
    table = Table([head for head in heads if comes or head != ">under way"])
    never = any(each.seen.order_by is None for each in later)
    for each in later:
        item, seen, supplier = each.item, each.seen, each.way.supplier
        on_the_way = [figures.quantity(item.coming_milli) if item.coming_milli else ""] if comes else []
        table.add(
            item.sku,
            figures.quantity(item.on_hand_milli),
            *on_the_way,
            item.unit,
            rate(seen.per_day),
            lasting(seen, report.terms.today),
            at_stock(seen.reorder_at),
            "" if seen.order_by is None else seen.order_by.isoformat(),
            # A full name would not fit beside what is under way; the others stand above.
            supplier
            if not comes or len(supplier) <= SHORT_NAME
            else f"{supplier[: SHORT_NAME - 1].rstrip()}…",
        )
    text = beside(table, _cover_days(report, later), report.bars).text()
    blank = f"Where 'order by' is blank, nothing has to be ordered within {HORIZON_DAYS} days."
    return f"{text}\n\n{blank}" if never else text


def _unknown_text(report: PlanReport) -> str:
    """Return what is not known, in words."""
    # What was asked for by name is answered above.
    unused = [item for item in report.facts.unused if report.shows(item) and not report.asked]
    said = []
    if unused:
        names = (
            f": {', '.join(item.sku for item in unused)}" if report.shows_all or len(unused) <= FEW else ""
        )
        said.append(
            f"no history: {how_many(len(unused), 'item')} never used, so nothing says when to order{names}"
        )
    short = [item.sku for item in unused if item.short_milli]
    if short:
        said.append(f"less than nothing on hand: {', '.join(short)}: enter the receipt, or count")
    if report.facts.made and not report.asked:
        said.append(
            f"{how_many(len(report.facts.made), 'item')} the shop makes: what goes into them is planned"
        )
    if report.facts.not_counted and not report.asked:
        names = ", ".join(report.facts.not_counted)
        said.append(f"an expense when bought, so nobody counts what is there: {names}")
    said += [f"left out: {name}: {why}" for name, why in report.facts.offers_out.items()]
    return "\n".join(wrapped(_ended(_capital(text)), "  ") for text in said)


LONGEST_NAME, SOURCE_WIDTH = 36, 44
"""Longer names of what is assumed are written out below the table; where it comes from is wrapped."""

SHORT_NAME = 12
"""Of a supplier's name so many letters stand beside goods under way."""

FEW = 8
"""So many names are written out."""


def _assumed_text(report: PlanReport) -> str:
    table = Table(["assumed", "value", "from"])
    below = []
    for number, each in enumerate(report.assumptions, 1):
        is_long = len(each.name) > LONGEST_NAME
        short = f"{each.name[: LONGEST_NAME - 6].rsplit(' ', 1)[0].rstrip(',')} … ({number})"
        first, *rest = textwrap.wrap(each.source, SOURCE_WIDTH, break_on_hyphens=False) or [""]
        table.add(short if is_long else each.name, each.value, first)
        for more in rest:
            table.add("", "", more)
        below += [wrapped(f"({number}) {each.name}", "  ")] if is_long else []
    return "\n".join([table.text(), *below])


def assumed_leads(plan: OrdersPlan) -> list[str]:
    """Return the suppliers of whom no lead time is known."""
    ways = [line.chosen.way for order in plan.orders for line in order.lines]
    ways += [each.way for each in plan.later]
    return sorted({way.supplier for way in ways if way.lead_words == ASSUMED})


def _capital(text: str) -> str:
    """Return a sentence with a capital letter, but a SKU at its beginning as it is."""
    first = text.split(" ", 1)[0].rstrip(":,")
    return text if first != first.lower() or not text else text[0].upper() + text[1:]


def _ended(text: str) -> str:
    return text if text.endswith(".") else f"{text}."

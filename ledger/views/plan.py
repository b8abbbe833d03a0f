"""What to order now, as people read it: a table per supplier, the most urgent first, each piece with its reason."""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ledger.book.plan_facts import PlanFacts
from ledger.exact.money import show_money
from ledger.exact.quantity import MILLI
from ledger.exact.rounding import round_fraction
from ledger.sourcing.quote import Freight
from ledger.sourcing.supplier_orders import OrdersPlan, PlannedLine, PlannedOrder
from ledger.sourcing.ways_to_buy import ASSUMED, LONGEST_COVER_DAYS, Chosen, PlanTerms
from ledger.sourcing.what_to_order import Stocked
from ledger.views import figures
from ledger.views.bars import Bars, beside
from ledger.views.prose import wrapped
from ledger.views.tables import Table, paragraphs

CAUTION = (
    "A plan reckons from what the book knows: look at each line before you order. Landed costs of goods from "
    "abroad are estimates, not customs or tax advice."
)


@dataclass(frozen=True)
class Assumption:
    """Something a plan takes for granted: its name, its value, and where that comes from."""

    name: str
    value: str
    source: str


@dataclass(frozen=True)
class PlanReport:
    """A plan with all that is said of it. ``shows`` picks the items that are printed, ``bars`` draws days of cover."""

    facts: PlanFacts
    plan: OrdersPlan
    terms: PlanTerms
    assumptions: tuple[Assumption, ...]
    shop: str
    shows: Callable[[Stocked], bool] = lambda _: True
    shows_all: bool = False
    bars: Bars | None = None

    def lines(self, order: PlannedOrder) -> list[PlannedLine]:
        """Return the lines of an order that are printed."""
        return [line for line in order.lines if self.shows(line.chosen.item)]

    @property
    def orders(self) -> list[PlannedOrder]:
        """The orders of which something is printed."""
        return [order for order in self.plan.orders if self.lines(order)]


def plan_text(report: PlanReport, order_words: Callable[[str], str]) -> str:
    """Return the plan as text; ``order_words`` says how a supplier's order is placed."""
    orders = report.orders
    parts = [f"What {report.shop} has to order, on {report.terms.today.isoformat()}"]
    if not orders:
        parts.append(f"Nothing has to be ordered within {report.terms.ahead_days} days.")
    parts += [_order_text(report, order, order_words(order.way.supplier)) for order in orders]
    parts += [_later_text(report), _unknown_text(report), _assumed_text(report)]
    if orders:
        parts.append(wrapped(CAUTION))
    if report.bars and orders:
        parts.append("Bars beside a table: how long what is there lasts.")
    return paragraphs(parts)


def _order_text(report: PlanReport, order: PlannedOrder, command: str) -> str:
    currency = order.way.quote.currency
    by = order.order_by.isoformat()
    when = f"order by {by}, today" if order.order_by == report.terms.today else f"order by {by}"
    head = f"{order.way.supplier}: {when}; there about {order.expected_on.isoformat()}"
    table = Table(
        [
            "SKU",
            ">on hand",
            ">under way",
            ">a day",
            "lasts to",
            ">order at",
            ">order",
            "unit",
            f">{currency}",
            "why",
        ]
    )
    shown = report.lines(order)
    for line in shown:
        seen, item = line.chosen.seen, line.chosen.item
        table.add(
            item.sku,
            figures.quantity(item.on_hand_milli),
            figures.quantity(item.coming_milli) if item.coming_milli else "",
            rate(seen.per_day),
            lasting(seen.lasts_until),
            at_stock(seen.reorder_at),
            f"{line.units:,}",
            line.chosen.way.quote.unit or item.unit,
            figures.money(round_fraction(line.amount_minor), currency),
            line.why[0],
        )
    if len(shown) == len(order.lines):
        total = sum((line.amount_minor for line in order.lines), Fraction(0))
        words = figures.money(round_fraction(total), currency)
        table.total("", "", "", "", "", "", "", "", words, "")
    said = [*_further(shown), _cost_words(report, order), *order.notes, _often_words(report, order)]
    if len(shown) < len(order.lines):
        said.append(f"{len(order.lines) - len(shown)} further lines of this order are not shown")
    words = "\n".join(wrapped(f"{_capital(text)}.", "  ") for text in said if text)
    drawn = beside(table, _cover_days(report, [line.chosen for line in shown]), report.bars)
    return paragraphs([head, drawn.text(), words, f"Place it: {command}"])


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
    if count == 1:
        return f"by itself it would be ordered about every {days:,} days"
    saved = show_money(round(order.joint_saves_minor), report.terms.currency)
    slower = sum(1 for multiple in order.joint.multiples if multiple > 1)
    often = f", {slower} of them less often" if slower else ""
    return (
        f"its {count} items are best ordered together about every {days:,} days{often}: {saved} a year less "
        "than each alone"
    )


def _later_text(report: PlanReport) -> str:
    later = [each for each in report.plan.later if report.shows(each.item)]
    stuck = [each for each in report.plan.stuck if report.shows(each.wish.item)]
    said = []
    if later:
        due = [each for each in later if each.seen.order_by is not None]
        soon = f"; the next is due {due[0].seen.order_by} ({due[0].item.sku})" if due else ""
        listed = "" if report.shows_all else "; --all lists them"
        noun = "item needs" if len(later) == 1 else "items need"
        said.append(f"{len(later)} {noun} nothing now{soon}{listed}.")
    if later and report.shows_all:
        said.append(_later_table(report, later))
    said += [wrapped(f"{each.wish.item.sku} cannot be planned: {each.why}.", "  ") for each in stuck]
    return "\n\n".join(said) if report.shows_all else "\n".join(said)


def _cover_days(report: PlanReport, chosen: Sequence[Chosen]) -> list[int]:
    """Return for how many days the stock of each lasts, a year at most."""
    lasts = [each.seen.lasts_until or report.terms.today for each in chosen]
    return [min(LONGEST_COVER_DAYS, (day - report.terms.today).days) for day in lasts]


def _later_table(report: PlanReport, later: Sequence[Chosen]) -> str:
    table = Table(
        ["SKU", ">on hand", ">under way", "unit", ">a day", "lasts to", ">order at", "order by", "from"]
    )
    for each in later:
        item, seen = each.item, each.seen
        table.add(
            item.sku,
            figures.quantity(item.on_hand_milli),
            figures.quantity(item.coming_milli) if item.coming_milli else "",
            item.unit,
            rate(seen.per_day),
            lasting(seen.lasts_until),
            at_stock(seen.reorder_at),
            "" if seen.order_by is None else seen.order_by.isoformat(),
            each.way.supplier,
        )
    return beside(table, _cover_days(report, later), report.bars).text()


def _unknown_text(report: PlanReport) -> str:
    """Return what is not known, in words."""
    unused = [item for item in report.facts.unused if report.shows(item)]
    said = []
    if unused:
        names = (
            f": {', '.join(item.sku for item in unused)}" if report.shows_all or len(unused) <= FEW else ""
        )
        said.append(f"no history: {_items(len(unused))} never used, so nothing says when to order{names}")
    short = [item.sku for item in unused if item.short_milli]
    if short:
        said.append(f"less than nothing on hand: {', '.join(short)}: enter the receipt, or count")
    if report.facts.made:
        said.append(f"{_items(len(report.facts.made))} the shop makes: what goes into them is planned")
    if report.facts.not_counted:
        names = ", ".join(report.facts.not_counted)
        said.append(f"an expense when bought, so nobody counts what is there: {names}")
    said += [f"left out: {name}: {why}" for name, why in report.facts.offers_out.items()]
    return "\n".join(wrapped(_ended(_capital(text)), "  ") for text in said)


FEW = 8
"""So many names are written out."""


def _assumed_text(report: PlanReport) -> str:
    table = Table(["assumed", "value", "from"])
    for each in report.assumptions:
        table.add(each.name, each.value, each.source)
    return table.text()


def assumed_leads(plan: OrdersPlan) -> list[str]:
    """Return the suppliers of whom no lead time is known."""
    ways = [line.chosen.way for order in plan.orders for line in order.lines]
    ways += [each.way for each in plan.later]
    return sorted({way.supplier for way in ways if way.lead_words == ASSUMED})


def _items(count: int) -> str:
    return "1 item" if count == 1 else f"{count} items"


def _capital(text: str) -> str:
    """Return a sentence with a capital letter, but a SKU at its beginning as it is."""
    first = text.split(" ", 1)[0].rstrip(":,")
    return text if first != first.lower() or not text else text[0].upper() + text[1:]


def _ended(text: str) -> str:
    return text if text.endswith(".") else f"{text}."


def rate(per_day: float) -> str:
    """Return the use of a day with three figures that count."""
    if per_day <= 0:
        return "0"
    places = max(0, 2 - math.floor(math.log10(per_day)))
    text = f"{per_day:,.{min(places, 6)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def at_stock(quantity: float) -> str:
    """Return a reorder point: whole from ten on, with a decimal below."""
    return f"{quantity:,.0f}" if quantity >= 10 else f"{quantity:,.1f}".removesuffix(".0")  # noqa: PLR2004


def lasting(day: datetime.date | None) -> str:
    """Return the day on which stock is used up."""
    return "" if day is None else day.isoformat()


def base_quantity(quantity: float) -> str:
    """Return base units as scripts take them: thousandths at most, without trailing zeros."""
    text = f"{round(quantity * MILLI) / MILLI:.3f}"
    return text.rstrip("0").rstrip(".")

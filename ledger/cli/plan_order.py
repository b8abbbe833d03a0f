"""Placing what is planned with a supplier: the plan's lines become an order, in one step."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterable
from dataclasses import dataclass

import typer

from ledger.catalogue._words import fold, suggestion
from ledger.cli.common import say
from ledger.cli.layout_choice import ProposedOptions
from ledger.cli.order_new import NewOrder, place_order
from ledger.errors import Refused, UsageError
from ledger.exact.money import show_money
from ledger.exact.numbers import show_fraction
from ledger.exact.rounding import round_fraction
from ledger.sourcing.reorder_points import lead_calendar
from ledger.sourcing.supplier_orders import PlannedLine, PlannedOrder
from ledger.views.plan_report import PlanReport


@dataclass(frozen=True)
class Placing:
    """Which order to place, and how the question is answered; as typed."""

    supplier: str
    terms: str
    reference: str
    yes: bool
    dry_run: bool
    json: bool


def place_planned(context: typer.Context, report: PlanReport, placing: Placing) -> None:
    """Show the planned order as it would be posted, ask, and post it.

    Raises Refused where nothing is planned with that supplier, UsageError where no terms are known.
    """
    found = _planned(report, placing.supplier)
    order = found[0]
    terms = placing.terms or order.way.quote.terms
    if not terms:
        raise UsageError(
            f"no offer and no earlier order of {order.way.supplier} says who bears the risk on the way. Add "
            '--terms "shipping point" (the shop\'s once handed over) or --terms destination (on arrival).'
        )
    if len(found) > 1:
        others = ", ".join(f"{one.way.quote.name}, order by {one.order_by.isoformat()}" for one in found[1:])
        say(
            f"{order.way.supplier} has more than one order planned; after this one, run it again for: {others}."
        )
    for note in order.notes:
        say(f"Note: {note}.")
    place_order(context, _new_order(report, order, placing, terms))


def _planned(report: PlanReport, supplier: str) -> list[PlannedOrder]:
    orders = report.plan.orders
    names = sorted({order.way.supplier for order in orders})
    every = {*names, *(each.way.supplier for each in report.plan.later)}
    name = _meant(supplier, every)
    found = [order for order in orders if fold(order.way.supplier) == fold(name)]
    if found:
        return found
    if not names:
        raise Refused(f"nothing has to be ordered within {report.terms.ahead_days} days, from anybody.")
    is_known = fold(name) in {fold(each) for each in every}
    several = _beginning_so(supplier, every)
    why = "nothing is due there" if is_known else "no order is planned with that name"
    if len(several) > 1 and not is_known:
        why = f"that may be {' or '.join(several)}"
    raise Refused(f"{name}: {why}.{suggestion(supplier, names)} Planned are: {', '.join(names)}.")


def _meant(supplier: str, names: Iterable[str]) -> str:
    """Return the supplier that is meant: named in full, else the only one whose name begins so."""
    if fold(supplier) in {fold(name) for name in names}:
        return supplier
    found = _beginning_so(supplier, names)
    return found[0] if len(found) == 1 else supplier


def _beginning_so(supplier: str, names: Iterable[str]) -> list[str]:
    typed = fold(supplier)
    return sorted(name for name in names if typed and fold(name).startswith(typed))


def _new_order(report: PlanReport, order: PlannedOrder, placing: Placing, terms: str) -> NewOrder:
    quote = order.way.quote
    lead = max(lead_calendar(line.chosen.way.lead).on(0).mean_days for line in order.lines)
    return NewOrder(
        file=None,
        lines=tuple(line_words(line) for line in order.lines),
        reference=placing.reference,
        date="",
        terms=terms,
        title="",
        origin="" if quote.is_domestic else quote.origin,
        deposit=f"{show_fraction(quote.deposit.fraction * 100)}%" if quote.deposit.fraction else "",
        days={"arrives": report.terms.today + _days(lead)},
        working_days=None,
        transit_days=None,
        closures=quote.closures,
        note="as planned",
        another=False,
        add_items=False,
        profile=None,
        errors="",
        offer="" if order.way.paid_on else quote.name,
        layout=ProposedOptions(
            party=order.way.supplier,
            corrections=(),
            date_order="",
            decimal_comma=None,
            currency=quote.currency,
            accept=False,
            yes=placing.yes,
            dry_run=placing.dry_run,
            json=placing.json,
        ),
    )


def _days(lead: float) -> datetime.timedelta:
    return datetime.timedelta(days=math.ceil(lead - 1e-9))


def line_words(line: PlannedLine) -> str:
    """Return a planned line as it would be typed for an order: 'PAP-A4 3 pack for 41.70'."""
    way, item = line.chosen.way, line.chosen.item
    amount = show_money(round_fraction(line.amount_minor), way.quote.currency)
    if way.unit:
        return f"{item.sku} {line.units} {way.unit} for {amount}"
    base = show_fraction(line.units * way.quote.unit_factor, 3)
    return f"{item.sku} {base} {item.unit} for {amount}"

"""What to order now, as scripts take it."""

from __future__ import annotations

from typing import Any

from ledger.exact.money import show_money
from ledger.exact.quantity import show_quantity
from ledger.exact.rounding import round_fraction
from ledger.sourcing.supplier_orders import PlannedLine, PlannedOrder
from ledger.sourcing.what_to_order import Outlook, Stocked
from ledger.views.lead_words import DaysTold, days_data
from ledger.views.plan_answers import why_stuck
from ledger.views.plan_report import PlanReport
from ledger.views.plan_table import base_quantity


def plan_as_data(report: PlanReport) -> dict[str, Any]:
    """Return the plan as one JSON document: decimals as strings, dates by ISO 8601."""
    shown = report.shows
    return {
        "on": report.terms.today.isoformat(),
        "currency": report.terms.currency,
        "orders": [_order(report, order) for order in report.orders],
        "nothing_now": [
            {**_item(each.item, each.seen), "supplier": each.way.supplier}
            for each in report.plan.later
            if shown(each.item)
        ],
        "cannot_be_planned": [
            {
                "sku": each.wish.item.sku,
                "why": why_stuck(report, each),
                "on_hand": show_quantity(each.wish.item.on_hand_milli),
                "last_used_on": each.wish.item.last_used_on and each.wish.item.last_used_on.isoformat(),
            }
            for each in report.plan.stuck
            if shown(each.wish.item)
        ],
        "no_history": [item.sku for item in report.facts.unused if shown(item)],
        "made": list(report.facts.made),
        "not_counted": list(report.facts.not_counted),
        "left_out": [{"name": name, "reason": why} for name, why in report.facts.offers_out.items()],
        "assumptions": [
            {"name": each.name, "value": each.value, "source": each.source} for each in report.assumptions
        ],
    }


def _order(report: PlanReport, order: PlannedOrder) -> dict[str, Any]:
    currency = report.terms.currency
    return {
        "supplier": order.way.supplier,
        "order_by": order.order_by.isoformat(),
        "is_late": order.is_late,
        "expected_on": order.expected_on.isoformat(),
        "currency": order.way.quote.currency,
        "terms": order.way.quote.terms,
        "goods": show_money(order.cost.goods_minor, currency),
        "freight": show_money(order.cost.freight_minor, currency),
        "landed": show_money(order.cost.landed_minor, currency),
        "days_between_orders": round(order.joint.days_between),
        "together_saves_a_year": show_money(round(order.joint_saves_minor), currency),
        "lines": [_line(line) for line in report.lines(order)],
        "lines_not_shown": len(order.lines) - len(report.lines(order)),
        "next_order_about": order.next_on.isoformat(),
        "notes": [*order.notes, order.there],
    }


def _line(line: PlannedLine) -> dict[str, Any]:
    way = line.chosen.way
    told = DaysTold(way.quote.name, "", way.lead_words, not way.lead.closures.are_none)
    return {
        **_item(line.chosen.item, line.chosen.seen),
        "offer": None if way.paid_on else way.quote.name,
        "paid_on": way.paid_on or None,
        "lead_time_days": days_data(line.chosen.seen.lead_days),
        "lead_time_from": told.source,
        "quantity": base_quantity(line.quantity),
        "packs": line.units,
        "pack": way.quote.unit or line.chosen.item.unit,
        "amount": show_money(round_fraction(line.amount_minor), way.quote.currency),
        "why": list(line.why),
    }


def _item(item: Stocked, seen: Outlook) -> dict[str, Any]:
    return {
        "sku": item.sku,
        "kind": item.kind,
        "unit": item.unit,
        "on_hand": show_quantity(item.on_hand_milli),
        "under_way": [
            {
                "order": each.order,
                "quantity": show_quantity(each.quantity_milli),
                "expected_on": None if each.on is None else each.on.isoformat(),
                "was_due": None if each.was_due is None else each.was_due.isoformat(),
            }
            for each in item.coming
        ],
        "expires_unused": [
            {
                "quantity": base_quantity(each.quantity),
                "expires_on": each.expires_on.isoformat(),
                "order": each.order or None,
            }
            for each in seen.lost
        ],
        "per_day": f"{seen.per_day:.4f}",
        "times_used": item.use.times,
        "days_observed": item.use.days,
        "ends_by_expiry": seen.ends_by_expiry,
        "lasts_until": None if seen.lasts_until is None else seen.lasts_until.isoformat(),
        "reorder_point": base_quantity(seen.reorder_at),
        "reorder_point_by_formula": base_quantity(seen.formula_reorder_at),
        "item_order_by": None if seen.order_by is None else seen.order_by.isoformat(),
    }

"""A buying decision as scripts take it: the JSON contract."""

from __future__ import annotations

from typing import Any

from ledger.sourcing.alternatives import Alternative
from ledger.sourcing.decide import Decision
from ledger.sourcing.offer_plan import OfferPlan
from ledger.sourcing.sensitivity import DOMESTIC_PRICE, LANDED, Swing
from ledger.views.decision import days_told, sentence
from ledger.views.decision_figures import annual_minor, each_sold, money_data, plain, unit_data
from ledger.views.decision_sizes import home_by_size, order_by_size, top_up_by_size
from ledger.views.trial_order import trial_as_data

ALL_SIZES = "all"
"""Names the one size of a study that tells no sizes apart."""

_PLACES = 4


def decision_as_data(decision: Decision) -> dict[str, Any]:
    """Return a decision as the JSON contract has it; what does not apply is null."""
    points, late = decision.break_even, decision.order_date.too_late
    return {
        "currency": decision.study.currency,
        "horizon_months": decision.study.horizon_months,
        "offers": [_offer_data(decision, plan) for plan in decision.plans],
        "unit": decision.study.unit or None,
        "demand": _demand_data(decision),
        "home_order": _by_size(decision, home_by_size(decision)),
        "top_up": _by_size(decision, top_up_by_size(decision)),
        "alternatives": [_alternative_data(decision, held) for held in decision.alternatives],
        "verdict": decision.verdict.word,
        "sentence": sentence(decision),
        "reasons": list(decision.verdict.reasons),
        "break_even": {
            "units_per_month": plain(points.units_per_month if points else None, 3),
            "landed_unit_cost": unit_data(decision, points.landed_unit_minor if points else None),
            "domestic_unit_price": unit_data(decision, points.domestic_unit_minor if points else None),
            "quantity_from": plain(points.quantity_from if points else None, 0),
            "quantity_to": plain(points.quantity_to if points else None, 0),
        },
        "screen": _screen_data(decision),
        "order_by": decision.order_by.isoformat() if decision.order_by else None,
        "too_late": None
        if late is None
        else {"about": late.about.isoformat(), "surely": late.surely.isoformat()},
        "value_of_waiting": [
            {"weeks": each.weeks, "value": money_data(decision, each.value)} for each in decision.waiting
        ],
        "test_order": trial_as_data(decision),
        "sensitivity": [_swing_data(decision, swing) for swing in decision.sensitivity],
        "warnings": list(decision.warnings),
        "futures": decision.futures,
        "seed": decision.seed,
    }


def _offer_data(decision: Decision, plan: OfferPlan) -> dict[str, Any]:
    offer, quantity = plan.offer, plan.order_quantity
    annual, again = plan.annual, plan.reordering
    origin = "domestic" if offer.is_domestic else offer.quote.origin
    head = {
        "name": offer.name,
        "origin": origin,
        "lead_time_days": plain(plan.lead_time_days, 1),
        "lead_time_from": days_told(plan).source if offer.lead_words else None,
    }
    if quantity is None or annual is None or again is None:
        empty = (
            "order_quantity", "quantity_by_size", "landed_unit_cost", "cost_per_unit_sold", "reorder_point",
            "safety_stock", "reorder_point_by_formula", "safety_stock_by_formula", "orders_per_year", "annual",
        )  # fmt: skip
        return {**head, **dict.fromkeys(empty)}
    return {
        **head,
        "order_quantity": str(quantity),
        "quantity_by_size": _sizes_of_offer(decision, plan),
        "landed_unit_cost": unit_data(decision, plan.curve.unit(quantity)),
        "cost_per_unit_sold": unit_data(decision, plan.cost_per_unit_minor),
        "reorder_point": plain(again.reorder_at, 2),
        "safety_stock": plain(again.safety_stock, 2),
        "reorder_point_by_formula": plain(again.formula_reorder_at, 2),
        "safety_stock_by_formula": plain(again.formula_safety_stock, 2),
        "orders_per_year": plain(plan.orders_per_year, 4),
        "annual": {part: money_data(decision, minor) for part, minor in annual_minor(annual).items()},
    }


def _sizes_of_offer(decision: Decision, plan: OfferPlan) -> dict[str, str] | None:
    """Return an order by size; None where sizes are not told apart."""
    if len(decision.study.demand.sizes) == 1 and not plan.offer.quote.rules.size_ratio:
        return None
    return {name: str(pieces) for name, pieces in order_by_size(decision, plan).items()}


def _by_size(decision: Decision, pieces: tuple[int, ...] | None) -> dict[str, str] | None:
    if pieces is None:
        return None
    sizes = decision.study.demand.sizes
    return {size.name or ALL_SIZES: str(count) for size, count in zip(sizes, pieces, strict=True)}


def _demand_data(decision: Decision) -> dict[str, Any]:
    demand = decision.study.demand
    return {
        "per_month": plain(demand.per_month, 2),
        "left_per_month": plain(demand.left_per_month, 2),
        "source": demand.source,
    }


def _alternative_data(decision: Decision, held: Alternative) -> dict[str, Any]:
    is_home = held.quantity == 0
    return {
        "name": held.name,
        "offer": held.offer_name or None,
        "quantity": str(held.quantity),
        "quantities": _by_size(decision, held.quantities),
        "left_at_home": list(held.left_at_home),
        "landed_unit_cost": unit_data(decision, held.landed_unit_minor),
        "expected_saving": money_data(decision, held.expected_saving),
        "standard_error": money_data(decision, held.standard_error),
        "probability_cheaper": None if is_home else plain(held.probability_cheaper, _PLACES),
        "worst_tenth": money_data(decision, held.worst_tenth),
        "leftover_units": plain(held.expected_left, 2),
        "weeks_of_cover": plain(held.weeks_of_cover, 2),
        "cash_peak": money_data(decision, held.cash_peak),
        "payback_weeks": held.payback_weeks,
        "cost_per_unit_sold": unit_data(decision, each_sold(decision, held)),
    }


def _screen_data(decision: Decision) -> dict[str, Any] | None:
    if decision.screen is None:
        return None
    _, found = decision.screen
    window = found.window
    return {
        "can_pay": found.can_pay,
        "quantity_from": plain(window.quantity_from if window else None, 2),
        "quantity_to": plain(window.quantity_to if window else None, 2),
        "best_quantity": plain(found.best_quantity, 2),
        "best_saving": None if found.best_saving is None else money_data(decision, found.best_saving),
        "naive_quantity": plain(found.naive_quantity, 2),
    }


def _swing_data(decision: Decision, swing: Swing) -> dict[str, Any]:
    is_money = swing.assumption in {LANDED, DOMESTIC_PRICE}

    def shown(value: float | None) -> str | None:
        return unit_data(decision, value) if is_money else plain(value, _PLACES)

    return {
        "assumption": swing.assumption,
        "low": shown(swing.low),
        "high": shown(swing.high),
        "saving_low": money_data(decision, swing.saving_low),
        "saving_high": money_data(decision, swing.saving_high),
        "flips_at": shown(swing.flips_at),
    }

"""Kept decisions looked back at, as scripts take them: the JSON contract."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from ledger.book.decision_store import KeptDecision
from ledger.book.since_decision import ReceiptSince, stock_milli
from ledger.exact.money import show_money
from ledger.exact.numbers import show_fraction
from ledger.exact.quantity import MILLI, show_quantity
from ledger.sourcing.hindsight import SavingSoFar, expected_of, mean_days
from ledger.views.decision import sentence
from ledger.views.kept_decision import unit_cost_data
from ledger.views.moved_answers import moved_as_data
from ledger.views.review import Review
from ledger.views.review_open import open_points


def review_as_data(one: Review) -> dict[str, Any]:
    """Return one review as the JSON contract has it; what does not apply or is not known is null."""
    kept = one.kept
    return {
        "decision": kept.number,
        "kept_at": kept.kept_at,
        "decided_on": kept.decided_on,
        "subject": kept.subject,
        "colour": kept.colour or None,
        "skus": list(kept.skus),
        "currency": kept.currency,
        "verdict": kept.verdict,
        "sentence": kept.sentence,
        "why": kept.why or None,
        "seed": kept.seed,
        "futures": kept.futures,
        "expected": _expected(kept),
        "came": _came(one) if kept.items else None,
        "open": list(open_points(kept, one.since, one.saving)),
        "again": _again(one),
    }


def _expected(kept: KeptDecision) -> dict[str, Any]:
    return {
        "alternative": kept.alternative,
        "offer": kept.offer or None,
        "supplier": kept.supplier,
        "quantity": str(kept.quantity),
        "quantities": {each.size: str(each.quantity) for each in kept.sizes} or None,
        "saving": _money(kept.expected_saving, kept.currency),
        "standard_error": _money(kept.standard_error, kept.currency),
        "cash_peak": _money(kept.cash_peak, kept.currency),
        "landed_unit_cost": unit_cost_data(kept.landed_unit_ten_thousandths, kept.currency),
        "cost_per_unit_sold": unit_cost_data(kept.sold_unit_ten_thousandths, kept.currency),
        "home_unit_cost": unit_cost_data(kept.home_unit_ten_thousandths, kept.currency),
        "lead_time_days": _milli(kept.lead_time_days_milli),
        "demand_per_month": _milli(kept.demand_per_month_milli),
        "weeks_of_cover": _milli(kept.weeks_of_cover_milli),
        "order_by": kept.order_by or None,
    }


def _came(one: Review) -> dict[str, Any]:
    since, demand = one.since, one.demand
    mean = mean_days(since.took_days)
    return {
        "through": since.through,
        "days": since.days,
        "left": show_quantity(demand.left_milli),
        "months_with_stock": show_fraction(demand.months, 3),
        "demand_per_month": None if demand.per_month is None else show_fraction(demand.per_month, 2),
        "demand": demand.word,
        "orders": [
            {
                "order": order.number,
                "date": order.ordered_on,
                "party": order.party,
                "quantity": show_quantity(order.quantity_milli),
                "state": order.state,
                "expected_on": order.expected_on or None,
            }
            for order in since.orders
        ],
        "receipts": [_receipt(each, one.kept.currency) for each in since.receipts],
        "bought_at_home": [_receipt(each, one.kept.currency) for each in since.home],
        "received": show_quantity(one.received_milli),
        "landed_unit_cost": unit_cost_data(one.landed_unit_ten_thousandths, one.kept.currency),
        "lead_time_days": None if mean is None else show_fraction(mean, 1),
        "on_hand": show_quantity(stock_milli(since.history)),
        "coming": show_quantity(sum(size.coming_milli for size in since.history.sizes)),
        "saving": None if one.saving is None else _saving(one, one.saving),
    }


def _receipt(receipt: ReceiptSince, currency: str) -> dict[str, Any]:
    return {
        "receipt": receipt.document,
        "date": receipt.received_on,
        "order": receipt.order,
        "quantity": show_quantity(receipt.quantity_milli),
        "landed": show_money(receipt.landed_minor, currency),
        "days": receipt.took_days,
    }


def _saving(one: Review, saving: SavingSoFar) -> dict[str, Any]:
    currency = one.kept.currency
    return {
        "wanted": show_quantity(saving.wanted_milli),
        "lost": show_quantity(saving.lost_milli),
        "on_hand": show_quantity(saving.on_hand_milli),
        "home_unit_cost": unit_cost_data(one.home_unit_ten_thousandths, currency),
        "home_unit_cost_from": one.home_from,
        "at_home": show_money(saving.home_minor, currency),
        "landed_of_what_left": show_money(saving.gone_minor, currency),
        "saved": show_money(saving.saved_minor, currency),
        "value_on_hand": show_money(saving.on_hand_minor, currency),
        "if_all_used": show_money(saving.if_all_used_minor, currency),
        "if_none_used": show_money(saving.if_none_used_minor, currency),
    }


def _again(one: Review) -> dict[str, Any]:
    again = one.again.decision
    if again is None:
        return {"is_same": None, "problem": one.again.problem}
    now = expected_of(again)
    currency = one.kept.currency
    return {
        "is_same": one.is_same,
        "problem": None,
        "verdict": again.verdict.word,
        "sentence": sentence(again),
        "offer": now.offer or None,
        "quantity": str(now.quantity),
        "expected_saving": _money(now.expected_saving, currency),
        "demand_per_month": _milli(now.demand_per_month_milli),
        "put_in": list(one.again.put_in),
        "moved": None if one.again.moved is None else moved_as_data(one.again.moved),
    }


def _money(minor: int | None, currency: str) -> str | None:
    return None if minor is None else show_money(minor, currency)


def _milli(milli: int | None) -> str | None:
    return None if milli is None else show_fraction(Fraction(milli, MILLI), 3)

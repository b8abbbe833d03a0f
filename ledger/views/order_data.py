"""Orders as scripts take them: the list, one order with what followed, an order about to be placed."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from ledger.book.orders import TOLD_DAYS, BeyondLine, Order, OrderLine, Shipment, days_late
from ledger.book.under_way import Payment, payments
from ledger.exact.money import show_money
from ledger.exact.quantity import show_quantity

if TYPE_CHECKING:
    from ledger.book.ordering import OrderPlan


def plan_as_data(plan: OrderPlan, number: int | None, expected: Mapping[str, str]) -> dict[str, Any]:
    """Return an order as scripts take it; ``number`` is None for a dry run."""
    request, currency = plan.request, plan.request.currency
    return {
        "document": number,
        "party": request.party,
        "reference": request.reference,
        "date": request.ordered_on.isoformat(),
        "currency": currency,
        "terms": request.terms.terms,
        "title_passes": request.terms.title_passes,
        "total": show_money(plan.total_foreign, currency),
        "deposit": show_money(request.terms.deposit_foreign, currency),
        "expected_ships": expected.get("ships") or None,
        "expected_on": expected.get("arrives") or None,
        "lines": [
            {
                "sku": line.item.sku,
                "quantity": show_quantity(line.invoice.quantity_milli),
                "unit": line.item.base_unit,
                "amount": show_money(amount, currency),
            }
            for line, amount in zip(request.lines, plan.amounts_foreign, strict=True)
        ],
        "new_items": [item.sku for item in request.new_items],
        "remarks": list(request.remarks),
    }


def orders_as_data(orders: Sequence[Order], today: datetime.date) -> list[dict[str, Any]]:
    """Return orders as scripts take them."""
    return [_order_head(order, today) for order in orders]


def _order_head(order: Order, today: datetime.date) -> dict[str, Any]:
    day = order.next_expected
    return {
        "order": order.number,
        "date": order.ordered_on,
        "party": order.party,
        "reference": order.reference,
        "state": order.state,
        "terms": order.terms,
        "title_passes": order.title_passes,
        "currency": order.currency,
        "total": show_money(order.total_foreign, order.currency),
        "expected_on": day or None,
        "days_late": days_late(day, today),
    }


def order_as_data(order: Order, today: datetime.date, offer: str | None = None) -> dict[str, Any]:
    """Return one order with everything that followed as scripts take it.

    ``offer`` is the supplier's offer that it was placed under, None where none was told.
    """
    return {
        **_order_head(order, today),
        "offer": offer,
        "named_place": order.named_place,
        "origin": order.origin,
        "working_days": order.working_days,
        "transit_days": order.transit_days,
        "closures": order.closures,
        "closed_by": order.closed_by,
        "closed_on": order.closed_on or None,
        "closed_why": order.closed_why,
        "dates": {what: order.days.get(what) for what in TOLD_DAYS},
        "payments": _payments(payments(order)),
        "lines": [_line(order, line) for line in order.lines],
        "beyond": [_beyond(line) for line in order.beyond],
        "shipments": [_shipment(order, ship) for ship in order.shipments],
    }


def _line(order: Order, line: OrderLine) -> dict[str, Any]:
    return {
        "line": line.line,
        "sku": line.sku,
        "unit": line.base_unit,
        "quantity": show_quantity(line.quantity_milli),
        "amount": show_money(line.amount_foreign, order.currency),
        "shipped": show_quantity(order.shipped_milli(line.line)),
        "arrived": show_quantity(order.arrived_milli(line.line)),
        "to_ship": show_quantity(order.to_ship_milli(line)),
    }


def _beyond(line: BeyondLine) -> dict[str, Any]:
    return {
        "receipt": line.receipt,
        "sku": line.sku,
        "unit": line.base_unit,
        "quantity": show_quantity(line.quantity_milli),
        "amount": show_money(line.amount_foreign, line.currency),
        "currency": line.currency,
    }


def _shipment(order: Order, ship: Shipment) -> dict[str, Any]:
    return {
        "shipment": ship.document,
        "shipped_on": ship.shipped_on,
        "takes_effect": ship.effect_date if ship.is_the_shops else None,
        "reference": ship.reference,
        "expected_on": (order.expected_on(ship) or None) if ship in order.coming else None,
        "lines": [
            {
                "line": line.line,
                "sku": line.sku,
                "quantity": show_quantity(line.quantity_milli),
                "amount": show_money(line.amount_foreign, ship.currency),
                "currency": ship.currency,
                "arrived": show_quantity(line.arrived_milli),
            }
            for line in ship.lines
        ],
    }


def _payments(rows: Sequence[Payment]) -> list[dict[str, Any]]:
    """Return deposits and balances as scripts take them."""
    return [
        {
            "order": row.order,
            "party": row.party,
            "payment": row.what,
            "amount": show_money(row.amount_foreign, row.currency),
            "currency": row.currency,
            "due": row.due or None,
            "paid": row.paid or None,
        }
        for row in rows
    ]

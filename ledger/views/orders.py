"""Orders as people see them: the list, one order with what followed, an order about to be placed."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from ledger.book.orders import ARRIVAL, ON_BOARD, TOLD_DAYS, Order, Shipment, days_late
from ledger.book.under_way import Payment, payments
from ledger.catalogue.terms import TERMS
from ledger.exact.words import how_many
from ledger.views import figures
from ledger.views.tables import Table, paragraphs

if TYPE_CHECKING:
    from ledger.book.ordering import OrderPlan, OrderTerms

PASSES = {ON_BOARD: "once on board", ARRIVAL: "when they arrive"}
"""When goods are the shop's, by where title passes; else once they are handed over."""


def when_the_shops(title_passes: str) -> str:
    """Return in words when goods are the shop's."""
    return PASSES.get(title_passes, "once handed over")


def terms_text(terms: str, place: str) -> str:
    """Return delivery terms as they are written: 'FOB Port Rellan', 'free on board at the destination, Tacoma'."""
    rule = TERMS.get(terms)
    if rule is not None and rule.is_domestic:
        return ", ".join(filter(None, (rule.name, place)))
    return " ".join(filter(None, (terms, place)))


def orders_text(orders: Sequence[Order], today: datetime.date) -> str:
    """Return orders as a list, the oldest first."""
    if not orders:
        return "No order is open."
    table = Table(
        [
            "order",
            "date",
            "party",
            "reference",
            "state",
            "terms",
            ">total",
            "currency",
            "expected",
            ">days late",
        ]
    )
    for order in orders:
        day = order.next_expected
        late = days_late(day, today)
        table.add(
            str(order.number),
            order.ordered_on,
            order.party,
            order.reference,
            order.state,
            terms_text(order.terms, order.named_place),
            figures.money(order.total_foreign, order.currency),
            order.currency,
            day,
            str(late) if late else "",
        )
    return table.text()


def order_text(order: Order, today: datetime.date, offer: str | None = None) -> str:
    """Return one order: its head, its lines with what became of them, its shipments and payments.

    ``offer`` is the supplier's offer that it was placed under, None where none was told.
    """
    return paragraphs(
        [
            _head(order, today, offer),
            _lines(order),
            _beyond(order),
            _shipments(order, today),
            payments_text(payments(order), today),
        ]
    )


def closing_text(order: Order) -> str:
    """Return what closing an order by hand means: what will not come, and what still can."""
    left = [
        f"{figures.quantity(order.to_ship_milli(line))} {line.base_unit} of {line.sku}"
        for line in order.lines
        if order.to_ship_milli(line)
    ]
    said = [f"Order {order.number}, {order.party}, is {order.state}."]
    said.append(f"Will not come: {', '.join(left)}." if left else "All of it is shipped.")
    coming = [ship for ship in order.coming if ship.is_the_shops]
    if coming:
        said.append("What is under way can still be received.")
    elif order.coming:
        numbers = ", ".join(str(ship.document) for ship in order.coming)
        said.append(f"What is under way at the supplier's risk, shipment {numbers}, is no longer expected.")
    return " ".join(said)


def waiting_text(orders: Sequence[Order]) -> str:
    """Return a hint that goods may be the arrival of a supplier's orders; '' where none waits."""
    if not orders:
        return ""
    names = ", ".join(f"{order.number} ({'under way' if order.coming else order.state})" for order in orders)
    noun, verb = ("Order", "waits") if len(orders) == 1 else ("Orders", "wait")
    return (
        f"{noun} {names} of {orders[0].party} still {verb}. If this is the arrival, do not post it: "
        f"blankbook receive --order {orders[0].number}"
    )


def _head(order: Order, today: datetime.date, offer: str | None) -> str:
    day = order.next_expected
    late = days_late(day, today)
    facts = [
        ("party", order.party),
        ("reference", order.reference),
        ("date", order.ordered_on),
        ("state", order.state),
        ("offer", offer or ("" if offer is None else "the supplier's, without a name")),
        ("terms", terms_text(order.terms, order.named_place)),
        ("the shop's", when_the_shops(order.title_passes)),
        ("made", _made(order.working_days, order.closures)),
        ("way", f"{order.transit_days} days" if order.transit_days is not None else ""),
        ("ships", "" if order.is_shipped else order.expected_ships),
        ("expected", f"{day}, {late} days late" if late else day),
        ("closed", _closed(order)),
        ("note", order.note),
    ]
    width = max(len(name) for name, value in facts if value)
    lines = [f"order {order.number}", *(f"  {name:<{width}}  {value}" for name, value in facts if value)]
    return "\n".join(lines)


def _closed(order: Order) -> str:
    if order.closed_by is None:
        return ""
    return f"{order.closed_on}, by document {order.closed_by}: {order.closed_why}"


def _beyond(order: Order) -> str:
    """Return what came with the order's arrivals beyond what was shipped, '' for nothing."""
    if not order.beyond:
        return ""
    table = Table(["receipt", "SKU", ">quantity", "unit", ">amount", "currency"])
    for line in order.beyond:
        table.add(
            str(line.receipt),
            line.sku,
            figures.quantity(line.quantity_milli),
            line.base_unit,
            figures.money(line.amount_foreign, line.currency),
            line.currency,
        )
    return paragraphs(["Came beyond what was shipped, bought when it came:", table.text()])


def _made(working_days: int | None, closures: str) -> str:
    if working_days is None:
        return ""
    closed = f", closed: {closures}" if closures else ""
    return f"in {working_days} working days{closed}"


def _in_packs(unit: str, unit_quantity: str, milli: int, base_unit: str) -> str:
    """Return a quantity in the packs it was ordered in: '6 roll (82,219.19 cm2)'; in its own unit without any."""
    own = f"{figures.quantity(milli)} {base_unit}"
    return f"{unit_quantity} {unit} ({own})" if _is_packed(unit, unit_quantity, base_unit) else own


def _is_packed(unit: str, unit_quantity: str, base_unit: str) -> bool:
    """Return whether a quantity was ordered in packs, and not in the item's own unit."""
    return bool(unit_quantity) and unit not in ("", base_unit)


def _lines(order: Order) -> str:
    is_packed = any(_is_packed(line.unit, line.unit_quantity, line.base_unit) for line in order.lines)
    table = Table(
        [
            ">line",
            "SKU",
            "ordered" if is_packed else ">ordered",
            "unit",
            ">each",
            f">{order.currency}",
            ">shipped",
            ">arrived or missing",
            ">to ship",
        ]
    )
    for line in order.lines:
        table.add(
            str(line.line),
            line.sku,
            _in_packs(line.unit, line.unit_quantity, line.quantity_milli, line.base_unit)
            if is_packed
            else figures.quantity(line.quantity_milli),
            line.base_unit,
            figures.per_unit(line.amount_foreign, line.quantity_milli, order.currency),
            figures.money(line.amount_foreign, order.currency),
            figures.quantity(order.shipped_milli(line.line)),
            figures.quantity(order.arrived_milli(line.line)),
            figures.quantity(order.to_ship_milli(line)),
        )
    table.total("", "total", "", "", "", figures.money(order.total_foreign, order.currency), "", "", "")
    return table.text()


def _shipments(order: Order, today: datetime.date) -> str:
    if not order.shipments:
        return "Nothing of it is shipped yet."
    table = Table(
        ["shipment", "handed over", "the shop's from", "reference", "expected", ">days late", "arrived"]
    )
    for ship in order.shipments:
        day = order.expected_on(ship) if ship in order.coming else ""
        late = days_late(day, today)
        table.add(
            str(ship.document),
            ship.shipped_on,
            ship.effect_date if ship.is_the_shops else "its arrival",
            ship.reference,
            day,
            str(late) if late else "",
            _arrived(ship),
        )
    return table.text()


def _arrived(ship: Shipment) -> str:
    if ship.is_arrived:
        return "all"
    return "part" if any(line.arrived_milli for line in ship.lines) else "nothing"


INFORMATION = "Payments are information: this is a stock book, not a bank book."


def payments_text(rows: Sequence[Payment], today: datetime.date) -> str:
    """Return deposits and balances, '' where there are none; what is overdue is marked in words."""
    return paragraphs([payments_table(rows, today).text(), INFORMATION]) if rows else ""


def payments_table(rows: Sequence[Payment], today: datetime.date) -> Table:
    """Return deposits and balances as a table; what is overdue is marked in words."""
    table = Table(["order", "party", "payment", ">amount", "currency", "due", "paid"])
    for row in rows:
        table.add(
            str(row.order),
            row.party,
            row.what,
            figures.money(row.amount_foreign, row.currency),
            row.currency,
            row.due,
            row.paid or _not_paid(row.days_overdue(today)),
        )
    return table


def _not_paid(days_overdue: int) -> str:
    if not days_overdue:
        return "not told"
    return f"not told, {how_many(days_overdue, 'day')} overdue"


def order_preview(plan: OrderPlan, expected: Mapping[str, str]) -> str:
    """Return what an order would be; ``expected`` are the days it is expected to ship and arrive."""
    request = plan.request
    head = ", ".join(filter(None, (request.party, request.reference, request.ordered_on.isoformat())))
    is_packed = any(_is_packed(line.unit, line.unit_quantity, line.item.base_unit) for line in request.lines)
    heads = [
        ">line",
        "SKU",
        "quantity" if is_packed else ">quantity",
        "unit",
        ">each",
        f">{request.currency}",
    ]
    table = Table(heads)
    for place, (line, amount) in enumerate(zip(request.lines, plan.amounts_foreign, strict=True), 1):
        table.add(
            str(place),
            line.item.sku,
            _in_packs(line.unit, line.unit_quantity, line.invoice.quantity_milli, line.item.base_unit)
            if is_packed
            else figures.quantity(line.invoice.quantity_milli),
            line.item.base_unit,
            figures.per_unit(amount, line.invoice.quantity_milli, request.currency),
            figures.money(amount, request.currency),
        )
    table.total("", "total", "", "", "", figures.money(plan.total_foreign, request.currency))
    remarks = list(request.remarks)
    if request.new_items:
        remarks.append("New items, added with the order: " + ", ".join(one.sku for one in request.new_items))
    return paragraphs(
        [
            f"Order: {head}\n{_offer_words(request.offer)}{_terms_words(request.terms)}",
            table.text(),
            "\n".join(_plan_dates(plan, expected)),
            "\n".join(remarks),
            "An order costs nothing yet: it moves no stock.",
        ]
    )


def _offer_words(offer: str | None) -> str:
    return f"Under the offer {offer}\n" if offer else ""


def _terms_words(terms: OrderTerms) -> str:
    return f"{terms_text(terms.terms, terms.named_place)}: the goods are the shop's {when_the_shops(terms.title_passes)}."


def _plan_dates(plan: OrderPlan, expected: Mapping[str, str]) -> list[str]:
    request = plan.request
    lines = [f"{what}: {request.days[what].isoformat()}" for what in TOLD_DAYS if what in request.days]
    if request.terms.deposit_foreign:
        amount = figures.money(request.terms.deposit_foreign, request.currency)
        lines.append(f"deposit: {amount} {request.currency}")
    lines += [
        f"{what}, by the calendar: {day}"
        for what, day in expected.items()
        if day and what not in request.days
    ]
    return lines

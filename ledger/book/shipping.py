"""Shipping: part of an order is handed to the carrier, and is the shop's from where its terms say."""

from __future__ import annotations

import contextlib
import datetime
import hashlib
import json
import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from ledger.book.charging import target_of
from ledger.book.connect import write_tx
from ledger.book.documents import NewDocument, NewLine, insert_documents, next_number
from ledger.book.order_charges import Wishes, charge_lines, no_wishes
from ledger.book.order_store import find_order, order_of_shipment
from ledger.book.ordering import first_open
from ledger.book.orders import ARRIVAL, INVOICE_PRICE, ON_BOARD, Order
from ledger.book.recosting import CostChange, recost
from ledger.book.ship_parts import ShipPart, ShipWish, ship_parts
from ledger.book.shop import Shop, read_shop
from ledger.book.standing import check_date, content_document, reference_documents
from ledger.book.undoing import resting_on
from ledger.costing.landed import ChargeSpread, Conversion, InvoiceLine, land
from ledger.errors import AlreadyPosted, InputErrors, Problem, Refused
from ledger.exact.quantity import show_quantity
from ledger.exact.rounding import divide_round


@dataclass(frozen=True, slots=True, kw_only=True)
class ShipRequest:
    """A shipment as it is to be posted; without ``wishes`` all of the order that is not shipped yet.

    ``rate`` is in the book's currency per unit of ``currency``, which is the order's where empty.
    """

    order: int
    shipped_on: datetime.date
    on_board: datetime.date | None = None
    wishes: tuple[ShipWish, ...] = ()
    reference: str = ""
    currency: str = ""
    rate: str = "1"
    rate_source: str = ""
    charges: Wishes = no_wishes
    tax_paid: str = ""
    another_box: bool = False
    source_name: str = ""


@dataclass(frozen=True, slots=True)
class PostedShipment:
    """A shipment as it was posted, or would be: its documents, and what there is to say of it."""

    order: Order
    document: NewDocument
    charge_documents: tuple[NewDocument, ...]
    charges: tuple[ChargeSpread, ...]
    changes: tuple[CostChange, ...] = ()
    remarks: tuple[str, ...] = ()
    base_units: dict[str, str] = field(default_factory=dict)

    @property
    def documents(self) -> tuple[NewDocument, ...]:
        """All its documents, the shipment's first."""
        return (self.document, *self.charge_documents)

    @property
    def is_the_shops(self) -> bool:
        """Whether its goods are the shop's while they are under way."""
        return self.document.terms != ARRIVAL


class RolledBack(Exception):
    """Leaves a transaction that was only to be looked at."""


@contextlib.contextmanager
def posting(connection: sqlite3.Connection, *, keep: bool) -> Iterator[None]:
    """Run the block in one transaction, and with ``keep`` False take back what it wrote."""
    with contextlib.suppress(RolledBack), write_tx(connection):
        yield
        if not keep:
            raise RolledBack


def ship(
    connection: sqlite3.Connection, request: ShipRequest, today: datetime.date, now: str, *, keep: bool
) -> PostedShipment:
    """Post a shipment and its charges in one transaction; with ``keep`` False only say what it would be.

    Raises InputErrors with everything wrong together, Refused where the order is closed or all of it is
    shipped, AlreadyPosted where the same shipment or the same invoice stands in the book.
    """
    with posting(connection, keep=keep):
        shipment = shipment_documents(connection, request, today, now)
        insert_documents(connection, shipment.documents)
        changes = recost(connection, shipment.documents)
    return PostedShipment(
        shipment.order,
        shipment.document,
        shipment.charge_documents,
        shipment.charges,
        changes,
        shipment.remarks,
        shipment.base_units,
    )


def shipment_documents(
    connection: sqlite3.Connection, request: ShipRequest, today: datetime.date, now: str
) -> PostedShipment:
    """Return a shipment and its charges as documents, inside the caller's transaction. Raises as `ship`."""
    shop, order = read_shop(connection), find_order(connection, request.order)
    _check_order(connection, order, request)
    remarks: list[str] = []
    effect = _effect_date(shop, order, request, remarks)
    problems = _date_problems(shop, order, request, effect, today)
    parts = ship_parts(order, request.wishes, problems)
    currency = request.currency or order.currency
    if currency != order.currency and any(not part.is_invoice_price for part in parts):
        problems.append(
            Problem(
                "the currency",
                f"the order is in {order.currency}, this invoice in {currency}, so the order's prices do not hold.",
                f'Give the price of every line in {currency}: --line "SKU 72 at 2.20".',
            )
        )
    if problems:
        raise InputErrors(request.source_name or "this shipment", problems)
    remarks += _price_remarks(order, parts, currency)
    document = _document(connection, (shop, order, request), parts, (effect, currency), now)
    _refuse_twice(connection, order, request, document.content_sha256)
    targets = [target_of(document, line) for line in document.lines]
    wishes = request.charges([line.sku or "" for line in document.lines])
    if wishes and order.title_passes == ARRIVAL:
        raise Refused(
            f"goods of order {order.number} are the shop's only when they arrive ({order.terms}): charges are "
            f"entered with the arrival. Leave --charge out here."
        )
    charged = charge_lines(connection, shop, wishes, targets, (request.shipped_on, now, document.number + 1))
    units = {line.sku: line.base_unit for line in order.lines}
    return PostedShipment(order, document, charged.documents, charged.spreads, (), tuple(remarks), units)


def _check_order(connection: sqlite3.Connection, order: Order, request: ShipRequest) -> None:
    if order.closed_by is not None:
        raise Refused(
            f"order {order.number} was closed by hand, with document {order.closed_by}. If it is shipped after "
            f'all, undo that: blankbook undo {order.closed_by} --why "…"'
        )
    if order.is_shipped and request.on_board is not None:
        last = order.shipments[-1]
        chain = " ".join(map(str, [*reversed(resting_on(connection, last.document)), last.document]))
        raise Refused(
            f"all of order {order.number} is shipped already. A day on board that is told later is the shipment's: "
            f'take it back and ship again, blankbook undo {chain} --why "on board later", then blankbook '
            f"ship {order.number} --date {last.shipped_on} --on-board {request.on_board.isoformat()}"
        )
    if order.is_shipped:
        raise Refused(
            f"all of order {order.number} is shipped already. What comes beyond it is entered when it arrives: "
            f'blankbook receive --order {order.number} --extra "SKU 3 at 2.20"'
        )


def _effect_date(shop: Shop, order: Order, request: ShipRequest, remarks: list[str]) -> str:
    """Return the day the risk passes; of goods that are the shop's only on arrival, an open day."""
    if order.title_passes == ARRIVAL:
        if request.on_board:
            remarks.append("--on-board changes nothing: the goods are the shop's only when they arrive.")
        return first_open(shop, request.shipped_on)
    if order.title_passes != ON_BOARD:
        if request.on_board:
            remarks.append("--on-board changes nothing: the goods are the shop's once they are handed over.")
        return request.shipped_on.isoformat()
    if request.on_board is None:
        remarks.append(
            f"By {order.terms} the goods are the shop's once on board. No such day was given: the day they were "
            f"handed over, {request.shipped_on.isoformat()}, stands for it. Another one: --on-board 2026-01-31."
        )
        return request.shipped_on.isoformat()
    return request.on_board.isoformat()


def _date_problems(
    shop: Shop, order: Order, request: ShipRequest, effect: str, today: datetime.date
) -> list[Problem]:
    day = datetime.date.fromisoformat(effect)
    problems = check_date(shop, day, today, "the day the goods became the shop's")
    if not problems and request.shipped_on > today:
        problems = check_date(shop, request.shipped_on, today, "the day it was shipped")
    if request.shipped_on.isoformat() < order.ordered_on:
        problems.append(
            Problem(
                "the day it was shipped",
                f"{request.shipped_on.isoformat()} is before the order, of {order.ordered_on}.",
                "Correct one of them.",
            )
        )
    if day < request.shipped_on:
        problems.append(
            Problem("--on-board", f"{effect} is before it was handed over, {request.shipped_on.isoformat()}.")
        )
    return problems


def _price_remarks(order: Order, parts: Sequence[ShipPart], currency: str) -> list[str]:
    """Say where the invoice's prices are not the order's."""
    if currency != order.currency:
        return [f"The order is in {order.currency}, the invoice in {currency}: its prices are taken."]
    told = []
    for part in parts:
        if part.is_invoice_price:
            ordered = divide_round(part.line.amount_foreign * part.quantity_milli, part.line.quantity_milli)
            if ordered != part.amount_foreign:
                told.append(part.line.sku)
    return [f"The invoice's price is taken, which is not the order's, for {', '.join(told)}."] if told else []


def _document(
    connection: sqlite3.Connection,
    what: tuple[Shop, Order, ShipRequest],
    parts: Sequence[ShipPart],
    day_and_currency: tuple[str, str],
    now: str,
) -> NewDocument:
    (shop, order, request), (effect, currency) = what, day_and_currency
    is_the_shops = order.title_passes != ARRIVAL
    conversion = Conversion(currency, shop.currency, Fraction(request.rate))
    invoices = [
        InvoiceLine(part.line.sku, part.line.tax_class, part.quantity_milli, part.amount_foreign)
        for part in parts
    ]
    landing = land(invoices, (), conversion)
    return NewDocument(
        number=next_number(connection),
        event="ship",
        document_date=request.shipped_on.isoformat(),
        effect_date=effect,
        recorded_at=now,
        currency=currency,
        party=order.party or None,
        reference=request.reference,
        rate=request.rate if is_the_shops else "1",
        rate_source=request.rate_source if is_the_shops else "",
        follows=order.number,
        shipped_on=request.shipped_on.isoformat(),
        terms=order.title_passes,
        total_foreign=landing.total_foreign,
        total=landing.total_invoice if is_the_shops else 0,
        content_sha256=_content(order, request, parts, currency),
        source_name=request.source_name,
        lines=tuple(
            NewLine(
                line=place,
                sku=part.line.sku,
                kind=part.line.kind,
                tax_class=part.line.tax_class,
                unit=part.line.base_unit,
                unit_quantity=show_quantity(part.quantity_milli),
                quantity_milli=part.quantity_milli,
                amount_foreign=part.amount_foreign,
                amount=landed.amount if is_the_shops else 0,
                weight_mg=part.weight_mg,
                volume_mm3=part.volume_mm3,
                lot_document=order.number,
                lot_line=part.line.line,
                # Goods that are bought on arrival have their tax told there.
                tax_paid=request.tax_paid if is_the_shops else "",
                supplier_code=part.line.supplier_code,
                note=INVOICE_PRICE if part.is_invoice_price else "",
            )
            for place, (part, landed) in enumerate(zip(parts, landing.lines, strict=True), 1)
        ),
    )


def _content(order: Order, request: ShipRequest, parts: Sequence[ShipPart], currency: str) -> str:
    lines = [[part.line.line, part.quantity_milli, part.amount_foreign] for part in parts]
    head = ["ship", order.number, request.reference, request.shipped_on.isoformat(), currency]
    return hashlib.sha256(json.dumps([head, lines]).encode()).hexdigest()


def _refuse_twice(connection: sqlite3.Connection, order: Order, request: ShipRequest, digest: str) -> None:
    same = content_document(connection, digest)
    if same is not None:
        raise AlreadyPosted(
            f"this shipment is in the book already, as ship {same}. Nothing was posted. If it is another one "
            "of the same goods, give its own number with --reference."
        )
    refuse_same_invoice(connection, order, request.reference, another_box=request.another_box)


def refuse_same_invoice(
    connection: sqlite3.Connection, order: Order, reference: str, *, another_box: bool
) -> None:
    """Raise AlreadyPosted where a supplier's invoice stands in the book, with a shipment or a receipt."""
    if not reference or another_box:
        return
    for event in ("ship", "receipt"):
        for number in reference_documents(connection, event, order.party, reference):
            other = order_of_shipment(connection, number) if event == "ship" else None
            of = f" of order {other}" if other else ""
            raise AlreadyPosted(
                f"{order.party} {reference} is in the book already, as {event} {number}{of}. If this is another "
                "part of the same invoice, add --another-box. If it is another invoice, give its own number "
                f'with --reference; if the earlier entry is wrong, undo it: blankbook undo {number} --why "…"'
            )

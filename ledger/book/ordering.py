"""Placing orders, telling their dates, and closing them by hand: facts that cost nothing yet."""

from __future__ import annotations

import datetime
import hashlib
import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ledger.book.catalogue_store import ensure_party, find_items, save_items
from ledger.book.connect import write_tx
from ledger.book.documents import NewDocument, NewLine, insert_documents, next_number
from ledger.book.order_days import Standing, day_problems, standing_of
from ledger.book.order_offers import tell_offer
from ledger.book.order_store import find_order
from ledger.book.orders import ARRIVES, SHIPS, Order
from ledger.book.receiving import ReceiptLine
from ledger.book.shop import Shop, read_shop
from ledger.book.standing import check_party, content_document, reference_documents
from ledger.catalogue.items import Item
from ledger.catalogue.packs import Pack
from ledger.costing.landed import Conversion, land
from ledger.errors import AlreadyPosted, InputErrors, Problem, Refused


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderTerms:
    """What an order says beyond its lines; the columns of the table `order_terms`.

    ``terms`` is a code of `ledger.catalogue.terms.TERMS`; ``deposit_foreign`` is in minor units of the
    order's currency; ``closures`` are joined by '; '.
    """

    terms: str
    title_passes: str
    named_place: str = ""
    origin: str = ""
    deposit_foreign: int = 0
    working_days: int | None = None
    transit_days: int | None = None
    closures: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRequest:
    """An order as it is to be posted. ``days`` are told dates by their name in `orders.TOLD_DAYS`.

    ``offer`` is the supplier's offer it is placed under, as the book spells it; None where nobody said.
    """

    party: str
    reference: str
    ordered_on: datetime.date
    currency: str
    lines: tuple[ReceiptLine, ...]
    terms: OrderTerms
    invoice_discount_foreign: int = 0
    days: Mapping[str, datetime.date] = field(default_factory=dict)
    offer: str | None = None
    new_items: tuple[Item, ...] = ()
    new_packs: tuple[Pack, ...] = ()
    another: bool = False
    source_name: str = ""
    note: str = ""
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderPlan:
    """An order with its amounts worked out, ready to be shown and posted."""

    shop: Shop
    request: OrderRequest
    effect_date: str
    amounts_foreign: tuple[int, ...]
    content_sha256: str

    @property
    def total_foreign(self) -> int:
        """What was ordered comes to, in minor units of the order's currency."""
        return sum(self.amounts_foreign)

    def expected(self) -> dict[str, str]:
        """Return the days it is expected to ship and to arrive by what was told, '' where unknown."""
        request, terms = self.request, self.request.terms
        order = Order(
            number=0,
            ordered_on=request.ordered_on.isoformat(),
            effect_date=self.effect_date,
            party=request.party,
            reference=request.reference,
            currency=request.currency,
            terms=terms.terms,
            named_place=terms.named_place,
            title_passes=terms.title_passes,
            origin=terms.origin,
            deposit_foreign=terms.deposit_foreign,
            working_days=terms.working_days,
            transit_days=terms.transit_days,
            closures=terms.closures,
            closed_by=None,
            undone_by=None,
            days={what: day.isoformat() for what, day in request.days.items()},
        )
        return {SHIPS: order.expected_ships, ARRIVES: order.expected_on()}


def prepare_order(connection: sqlite3.Connection, request: OrderRequest, today: datetime.date) -> OrderPlan:
    """Return what posting an order would write.

    Raises InputErrors with everything wrong in it together, AlreadyPosted where the same order stands in
    the book, or the same supplier and number with another content and ``another`` was not said.
    """
    shop = read_shop(connection)
    problems = _head_problems(request, today) + check_party(request.party)
    standing = Standing(
        ordered_on=request.ordered_on.isoformat(),
        deposit_foreign=request.terms.deposit_foreign,
        total_foreign=sum(line.invoice.net_foreign for line in request.lines)
        - request.invoice_discount_foreign,
    )
    problems += day_problems(standing, request.days, request.days, today)
    problems += [without_price(line.place, line.item.sku) for line in request.lines if line.provisional]
    if problems:
        raise InputErrors(request.source_name or "this order", problems)
    conversion = Conversion(request.currency, request.currency)
    landing = land([line.invoice for line in request.lines], (), conversion, request.invoice_discount_foreign)
    amounts = tuple(line.amount_foreign for line in landing.lines)
    if min(amounts, default=0) < 0 or request.terms.deposit_foreign > sum(amounts):
        what = "the discount" if min(amounts, default=0) < 0 else "the deposit"
        raise InputErrors("this order", [Problem("", f"{what} is more than what is ordered comes to.")])
    digest = _content(request, amounts)
    _refuse_twice(connection, request, digest)
    return OrderPlan(
        shop=shop,
        request=request,
        effect_date=first_open(shop, request.ordered_on),
        amounts_foreign=amounts,
        content_sha256=digest,
    )


def first_open(shop: Shop, day: datetime.date) -> str:
    """Return the day, or the book's first open day where that is later."""
    first = shop.first_day
    if shop.closed_through >= first:
        closed = datetime.date.fromisoformat(shop.closed_through)
        first = (closed + datetime.timedelta(days=1)).isoformat()
    return max(first, day.isoformat())


def without_price(place: str, sku: str) -> Problem:
    """Return what is wrong with a line that has no price."""
    return Problem(place, f"{sku} has no price.", 'Goods are ordered at a price: "… at 2.20".')


def _head_problems(request: OrderRequest, today: datetime.date) -> list[Problem]:
    problems = []
    if not request.party:
        problems.append(
            Problem("the supplier", "nobody is named.", 'Say who was asked: --party "Mill Lane".')
        )
    if not request.lines:
        problems.append(
            Problem("the lines", "nothing is ordered.", 'Name a FILE, or --line "SKU 72 at 2.20".')
        )
    if request.ordered_on > today:
        problems.append(
            Problem("the order's date", f"{request.ordered_on.isoformat()} is in the future.", "Correct it.")
        )
    return problems


def _content(request: OrderRequest, amounts: Sequence[int]) -> str:
    lines = sorted(
        [line.item.sku, line.invoice.quantity_milli, amount]
        for line, amount in zip(request.lines, amounts, strict=True)
    )
    head = ["order", request.party.casefold(), request.reference, request.ordered_on.isoformat()]
    return hashlib.sha256(json.dumps([head, request.currency, lines]).encode()).hexdigest()


def _refuse_twice(connection: sqlite3.Connection, request: OrderRequest, digest: str) -> None:
    same = content_document(connection, digest)
    if same is not None:
        raise AlreadyPosted(
            f"this order is in the book already, as order {same}. Nothing was posted. If it is a second order "
            "of the same goods, give its own number with --reference."
        )
    if not request.reference or request.another:
        return
    others = reference_documents(connection, "order", request.party, request.reference)
    if others:
        raise AlreadyPosted(
            f"{request.party} {request.reference} is in the book already, with other contents (order "
            f"{', '.join(map(str, others))}). If this is another order under the same number, add --another. If "
            f'it corrects the earlier one, undo that first: blankbook undo {others[-1]} --why "corrected".'
        )


def post_order(connection: sqlite3.Connection, plan: OrderPlan, now: str) -> int:
    """Post a prepared order in one transaction; return its number."""
    request = plan.request
    with write_tx(connection):
        shop = read_shop(connection)
        _refuse_twice(connection, request, plan.content_sha256)
        known = find_items(connection, [item.sku for item in request.new_items])
        new = [item for item in request.new_items if item.sku not in known]
        if new:
            save_items(connection, new, [pack for pack in request.new_packs if pack.sku not in known])
        number = next_number(connection)
        document = NewDocument(
            number=number,
            event="order",
            document_date=request.ordered_on.isoformat(),
            effect_date=first_open(shop, request.ordered_on),
            recorded_at=now,
            currency=request.currency,
            party=ensure_party(connection, request.party),
            reference=request.reference,
            total_foreign=plan.total_foreign,
            total=plan.total_foreign if request.currency == shop.currency else 0,
            content_sha256=plan.content_sha256,
            source_name=request.source_name,
            note=request.note,
            lines=tuple(_line(plan, place, shop) for place in range(len(request.lines))),
        )
        insert_documents(connection, [document])
        _insert_terms(connection, number, request.terms)
        if request.offer is not None:
            tell_offer(connection, number, request.offer)
        _insert_days(connection, number, {what: day.isoformat() for what, day in request.days.items()}, now)
    return number


def _line(plan: OrderPlan, place: int, shop: Shop) -> NewLine:
    line, amount = plan.request.lines[place], plan.amounts_foreign[place]
    sent = line.invoice.as_sent()
    return NewLine(
        line=place + 1,
        sku=line.item.sku,
        kind=line.item.kind,
        tax_class=line.item.tax_class,
        unit=line.unit,
        unit_quantity=line.unit_quantity,
        quantity_milli=line.invoice.quantity_milli,
        amount_foreign=amount,
        # What is ordered abroad has no amount in the book's currency before it is shipped.
        amount=amount if plan.request.currency == shop.currency else 0,
        discount_foreign=line.discount_foreign,
        weight_mg=sent.weight_mg,
        volume_mm3=sent.volume_mm3,
        supplier_code=line.supplier_code,
        place=line.place,
        note=line.note,
    )


def _insert_terms(connection: sqlite3.Connection, number: int, terms: OrderTerms) -> None:
    connection.execute(
        """
        INSERT INTO order_terms (document, terms, named_place, title_passes, origin, deposit_foreign,
            working_days, transit_days, closures) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
        """,
        (
            number,
            terms.terms,
            terms.named_place,
            terms.title_passes,
            terms.origin,
            terms.deposit_foreign,
            terms.working_days,
            terms.transit_days,
            terms.closures,
        ),
    )


def _insert_days(connection: sqlite3.Connection, number: int, days: Mapping[str, str], now: str) -> None:
    connection.executemany(
        "INSERT INTO order_day (document, what, day, recorded_at) VALUES (?, ?, ?, ?)",
        [(number, what, day, now) for what, day in days.items()],
    )


def tell_days(
    connection: sqlite3.Connection,
    number: int,
    days: Mapping[str, datetime.date | None],
    today: datetime.date,
    now: str,
) -> None:
    """Record what was told of an order's dates; None takes a day back.

    Raises Refused where there is no such order, InputErrors where a day cannot be or would change nothing.
    """
    with write_tx(connection):
        order = find_order(connection, number)
        told = {what: day for what, day in days.items() if day is not None}
        earlier = {
            what: datetime.date.fromisoformat(day) for what, day in order.days.items() if what not in days
        }
        problems = day_problems(standing_of(order), told, {**earlier, **told}, today)
        if problems:
            raise InputErrors(f"order {number}", problems)
        texts = {what: "" if day is None else day.isoformat() for what, day in days.items()}
        _insert_days(connection, number, texts, now)


def check_closing(order: Order) -> None:
    """Raise Refused where an order is closed or complete already."""
    if order.closed_by is not None:
        raise Refused(f"order {order.number} was closed already, by document {order.closed_by}.")
    if not order.is_waiting:
        raise Refused(f"order {order.number} is complete: there is nothing to close.")


def close_order(connection: sqlite3.Connection, number: int, why: str, on: datetime.date, now: str) -> int:
    """Close an order by hand: what was not shipped will not come. Return the closing document's number.

    Raises Refused where it is closed or complete already.
    """
    with write_tx(connection):
        shop = read_shop(connection)
        order = find_order(connection, number)
        check_closing(order)
        document = NewDocument(
            number=next_number(connection),
            event="order closed",
            document_date=on.isoformat(),
            effect_date=first_open(shop, on),
            recorded_at=now,
            currency=order.currency,
            party=order.party or None,
            reference=order.reference,
            follows=number,
            reason=why,
        )
        insert_documents(connection, [document])
    return document.number

"""Receiving: from a checked request to documents, lots and their landed cost."""

from __future__ import annotations

import datetime
import hashlib
import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from ledger.book.catalogue_store import ensure_party, find_items, find_supplier_codes, save_items
from ledger.book.charging import ChargeTarget, against_policies, charge_document, target_of
from ledger.book.connect import write_tx
from ledger.book.documents import NewDocument, NewLine, insert_documents, next_number
from ledger.book.recosting import Recorded, recost
from ledger.book.shop import Shop, read_policies, read_shop
from ledger.book.standing import (
    check_date,
    check_party,
    content_document,
    latest_unit_costs,
    reference_documents,
)
from ledger.catalogue.items import Item
from ledger.catalogue.packs import Pack
from ledger.costing.landed import ChargeWish, Conversion, InvoiceLine, Landing, check_charges, land
from ledger.errors import AlreadyPosted, InputErrors, Problem
from ledger.exact.rounding import divide_round


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceiptLine:
    """One line to be received, resolved to an item and its base unit."""

    item: Item
    invoice: InvoiceLine
    unit: str = "each"
    unit_quantity: str = ""
    discount_foreign: int = 0
    duty_percent: Fraction | None = None
    duty: int | None = None
    provisional: bool = False
    tax_paid: str = ""
    expires_on: datetime.date | None = None
    supplier_code: str = ""
    place: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceiptRequest:
    """A shipment as it is to be posted: everything is known but the document's number."""

    party: str
    reference: str
    received_on: datetime.date
    currency: str
    rate: str
    rate_source: str
    lines: tuple[ReceiptLine, ...]
    invoice_discount_foreign: int = 0
    charges: tuple[ChargeWish, ...] = ()
    new_items: tuple[Item, ...] = ()
    new_packs: tuple[Pack, ...] = ()
    another_box: bool = False
    source_name: str = ""
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceiptPlan:
    """A shipment with its landed cost worked out: what the preview shows and posting writes."""

    shop: Shop
    request: ReceiptRequest
    landing: Landing
    last_unit_costs: dict[str, Fraction]
    """Landed cost of one base unit in minor units, of the SKU's latest lot; absent where there is none."""
    content_sha256: str
    learned_codes: tuple[tuple[str, str], ...] = field(default=())


def prepare(connection: sqlite3.Connection, request: ReceiptRequest, today: datetime.date) -> ReceiptPlan:
    """Return what receiving would post, with every figure.

    Raises InputErrors with every problem of the lines and charges together, AlreadyPosted where
    the same content stands in the book, or the same supplier and number with another content
    and ``another_box`` was not said.
    """
    shop = read_shop(connection)
    problems = check_date(shop, request.received_on, today, "the shipment's date")
    for name in (request.party, *(wish.party for wish in request.charges)):
        problems += check_party(name)
    conversion = Conversion(request.currency, shop.currency, Fraction(request.rate))
    last = latest_unit_costs(connection, [line.item.sku for line in request.lines])
    lines, provisional_problems = _price_provisional(request, last, conversion)
    problems += provisional_problems
    invoices = [line.invoice for line in lines]
    charges = (*request.charges, *_duty_by_line(lines, invoices, conversion, request))
    costs = _rough_costs(invoices)
    problems += against_policies(read_policies(connection), charges)
    problems += check_charges(charges, invoices, costs)
    problems += _check_losses(lines)
    if problems:
        # What was entered long ago needs no other date and no reopened month.
        _refuse_same(connection, _content(_with_lines(request, lines, charges)))
        raise InputErrors(request.source_name or "this receipt", problems)
    landing = land(invoices, charges, conversion, request.invoice_discount_foreign)
    problems += _check_landed(lines, landing)
    if problems:
        raise InputErrors(request.source_name or "this receipt", problems)
    settled = _with_lines(request, lines, charges)
    digest = _content(settled)
    _refuse_twice(connection, settled, digest)
    return ReceiptPlan(
        shop=shop,
        request=settled,
        landing=landing,
        last_unit_costs=last,
        content_sha256=digest,
        learned_codes=_new_codes(connection, settled),
    )


def _with_lines(
    request: ReceiptRequest, lines: Sequence[ReceiptLine], charges: tuple[ChargeWish, ...]
) -> ReceiptRequest:
    return replace(request, lines=tuple(lines), charges=charges)


def _rough_costs(invoices: Iterable[InvoiceLine]) -> list[int]:
    """Return amounts that are zero exactly where a line's cost is, for checking the value basis."""
    return [
        line.net_foreign - divide_round(line.net_foreign * line.claimed_milli, line.quantity_milli)
        if line.quantity_milli
        else 0
        for line in invoices
    ]


def _price_provisional(
    request: ReceiptRequest, last: dict[str, Fraction], conversion: Conversion
) -> tuple[list[ReceiptLine], list[Problem]]:
    """Give lines without a price the latest landed cost of their SKU, marked as provisional."""
    lines, problems = [], []
    for line in request.lines:
        if not line.provisional:
            lines.append(line)
            continue
        cost = last.get(line.item.sku)
        if cost is None or conversion.source != conversion.target:
            problems.append(
                Problem(
                    line.place,
                    f"{line.item.sku} has no price, and no earlier cost to stand in for it.",
                    "Fill in the price.",
                )
            )
            continue
        amount = divide_round(cost.numerator * line.invoice.quantity_milli, cost.denominator * 1000)
        lines.append(replace(line, invoice=replace(line.invoice, net_foreign=amount)))
    return lines, problems


def _duty_by_line(
    lines: Sequence[ReceiptLine],
    invoices: Sequence[InvoiceLine],
    conversion: Conversion,
    request: ReceiptRequest,
) -> tuple[ChargeWish, ...]:
    """Return the duty of a customs entry that names it line by line, as one charge.

    A percentage is of the line's value in the book's currency, rounded half away from zero.
    """
    if all(line.duty is None and line.duty_percent is None for line in lines):
        return ()
    values = [
        line.lot_cost for line in land(invoices, (), conversion, request.invoice_discount_foreign).lines
    ]
    amounts = []
    for line, value in zip(lines, values, strict=True):
        if line.duty is not None:
            amounts.append(line.duty)
        elif line.duty_percent is not None:
            percent = line.duty_percent
            amounts.append(divide_round(value * percent.numerator, percent.denominator * 100))
        else:
            amounts.append(0)
    if not any(amounts):
        return ()
    return (ChargeWish("duty", "line", by_line=tuple(amounts), currency=conversion.target),)


def _check_losses(lines: Iterable[ReceiptLine]) -> list[Problem]:
    """Refuse lines whose losses leave nobody to bear their cost."""
    problems = []
    for line in lines:
        invoice = line.invoice
        if invoice.normal_milli and invoice.good_milli <= 0:
            problems.append(
                Problem(
                    line.place,
                    f"{line.item.sku}: no good piece is left to bear the lost ones.",
                    "Treat them as claimed or as an expense.",
                )
            )
    return problems


def _check_landed(lines: Sequence[ReceiptLine], landing: Landing) -> list[Problem]:
    """Refuse discounts that take more off a line than it cost."""
    problems = []
    for line, landed in zip(lines, landing.lines, strict=True):
        if landed.landed < 0 or landed.lot_cost < 0:
            problems.append(
                Problem(
                    line.place,
                    f"{line.item.sku}: its discounts come to more than it cost.",
                    "Check the discount: it is typed as a positive amount.",
                )
            )
    return problems


def _content(request: ReceiptRequest) -> str:
    """Return the fingerprint by which the same shipment is recognised."""
    lines = sorted(
        [
            line.item.sku,
            line.invoice.quantity_milli,
            line.invoice.net_foreign,
            line.invoice.claimed_milli,
            line.invoice.normal_milli,
            line.invoice.expensed_milli,
        ]
        for line in request.lines
    )
    head = [
        "receipt",
        request.party.casefold(),
        request.reference,
        request.received_on.isoformat(),
        request.currency,
        request.invoice_discount_foreign,
    ]
    return hashlib.sha256(json.dumps([head, lines]).encode()).hexdigest()


def _refuse_same(connection: sqlite3.Connection, digest: str) -> None:
    same = content_document(connection, digest)
    if same is not None:
        raise AlreadyPosted(
            f"this shipment is in the book already, as receipt {same}. Nothing was posted. "
            f"Look at it with: blankbook show {same}"
        )


def _refuse_twice(connection: sqlite3.Connection, request: ReceiptRequest, digest: str) -> None:
    """Refuse the same content; ask about the same supplier and number with another content."""
    _refuse_same(connection, digest)
    if not request.reference or request.another_box:
        return
    others = reference_documents(connection, "receipt", request.party, request.reference)
    if others:
        numbers = ", ".join(map(str, others))
        raise AlreadyPosted(
            f"{request.party} {request.reference} is in the book already, with other contents (receipt "
            f"{numbers}). If this is another box of the same invoice, add --another-box. If it corrects "
            f'the earlier entry, undo that first: blankbook undo {others[-1]} --why "corrected". '
            "If it is another invoice, give its own number with --reference."
        )
    shipped = reference_documents(connection, "ship", request.party, request.reference)
    if shipped:
        order = connection.execute("SELECT follows FROM document WHERE number = ?", (shipped[0],)).fetchone()[
            0
        ]
        raise AlreadyPosted(
            f"{request.party} {request.reference} is in the book already, as shipment {shipped[0]} of order {order}. "
            f"When its goods arrive: blankbook receive --order {order}. If it is another part of the invoice that "
            "was not ordered, add --another-box."
        )


def _new_codes(connection: sqlite3.Connection, request: ReceiptRequest) -> tuple[tuple[str, str], ...]:
    """Return the supplier's codes that the book does not know yet."""
    if not request.party:
        return ()
    known = find_supplier_codes(connection, request.party)
    codes = {line.supplier_code: line.item.sku for line in request.lines if line.supplier_code}
    return tuple(sorted((code, sku) for code, sku in codes.items() if code not in known))


def post(connection: sqlite3.Connection, plan: ReceiptPlan, now: str) -> Recorded:
    """Post a prepared receipt and its charges in one transaction.

    The first number is the receipt's. What another process did since the preview is checked again.
    """
    request = plan.request
    with write_tx(connection):
        problems = check_date(read_shop(connection), request.received_on, request.received_on, "the date")
        if problems:
            raise InputErrors(request.source_name or "this receipt", problems)
        _refuse_twice(connection, request, plan.content_sha256)
        documents = documents_of(connection, plan, next_number(connection), now)
        insert_documents(connection, documents)
        changes = recost(connection, documents)
    return Recorded(tuple(one.number for one in documents), changes)


def documents_of(
    connection: sqlite3.Connection, plan: ReceiptPlan, number: int, now: str
) -> list[NewDocument]:
    """Return a receipt and its charges as documents from ``number`` on, inside the caller's transaction.

    Adds the items, the party and the supplier's codes that the receipt brings along.
    """
    request = plan.request
    known = find_items(connection, [item.sku for item in request.new_items])
    new_items = [item for item in request.new_items if item.sku not in known]
    if new_items:
        save_items(connection, new_items, [p for p in request.new_packs if p.sku not in known])
    party = ensure_party(connection, request.party) if request.party else None
    if party:
        connection.executemany(
            "INSERT INTO supplier_code (party, code, sku) VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
            [(party, code, sku) for code, sku in plan.learned_codes],
        )
    receipt = _receipt_document(plan, number, party, now)
    targets = [target_of(receipt, line) for line in receipt.lines]
    return [receipt, *_charge_documents(connection, plan, number + 1, targets, now)]


def _receipt_document(plan: ReceiptPlan, number: int, party: str | None, now: str) -> NewDocument:
    request, landing = plan.request, plan.landing
    day = request.received_on.isoformat()
    return NewDocument(
        number=number,
        event="receipt",
        document_date=day,
        effect_date=day,
        arrived_on=day,
        recorded_at=now,
        currency=request.currency,
        party=party,
        reference=request.reference,
        rate=request.rate,
        rate_source=request.rate_source,
        total_foreign=landing.total_foreign,
        total=landing.total_invoice,
        content_sha256=plan.content_sha256,
        source_name=request.source_name,
        lines=tuple(_line(plan, place) for place in range(len(request.lines))),
    )


def _line(plan: ReceiptPlan, place: int) -> NewLine:
    line, landed = plan.request.lines[place], plan.landing.lines[place]
    invoice = line.invoice
    expires = expiry(line, plan.request.received_on)
    return NewLine(
        line=place + 1,
        sku=line.item.sku,
        kind=line.item.kind,
        tax_class=line.item.tax_class,
        unit=line.unit,
        unit_quantity=line.unit_quantity,
        quantity_milli=invoice.quantity_milli,
        claimed_milli=invoice.claimed_milli,
        normal_milli=invoice.normal_milli,
        expensed_milli=invoice.expensed_milli,
        amount_foreign=landed.amount_foreign,
        amount=landed.amount,
        claimed_amount=landed.claimed_amount,
        discount_foreign=line.discount_foreign,
        provisional=int(line.provisional),
        weight_mg=invoice.weight_mg,
        volume_mm3=invoice.volume_mm3,
        estimated=int(line.item.use_estimated),
        tax_paid=line.tax_paid,
        expires_on=expires.isoformat() if expires else None,
        supplier_code=line.supplier_code,
        place=line.place,
        note=line.note,
    )


def expiry(line: ReceiptLine, received_on: datetime.date) -> datetime.date | None:
    """Return the earlier of the printed date and the shelf life from receipt; None without either."""
    dates = [line.expires_on] if line.expires_on else []
    if line.item.shelf_life_days:
        dates.append(received_on + datetime.timedelta(days=line.item.shelf_life_days))
    return min(dates, default=None)


def _charge_documents(
    connection: sqlite3.Connection,
    plan: ReceiptPlan,
    first_number: int,
    targets: Sequence[ChargeTarget],
    now: str,
) -> list[NewDocument]:
    documents = []
    for offset, charge in enumerate(plan.landing.charges):
        wish = charge.wish
        party = ensure_party(connection, wish.party, "other") if wish.party else None
        documents.append(
            charge_document(
                number=first_number + offset,
                on=plan.request.received_on,
                now=now,
                party=party,
                charge=charge,
                targets=targets,
                book_currency=plan.shop.currency,
            )
        )
    return documents

"""A shipment of an order and its arrival, before and after they are posted."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ledger.book.arriving import PostedArrival
from ledger.book.documents import NewDocument, NewLine
from ledger.book.orders import ON_BOARD
from ledger.book.shipping import PostedShipment
from ledger.costing.landed import ChargeSpread, is_stocked
from ledger.exact.money import show_money
from ledger.exact.quantity import show_quantity
from ledger.views import figures
from ledger.views.orders import when_the_shops
from ledger.views.receipts import arrival_cautions, duty_words
from ledger.views.tables import Table, paragraphs


def _charge_headings(charges: Sequence[ChargeSpread]) -> list[str]:
    """Return a heading for each charge; a second one of a kind gets a number."""
    words = [charge.wish.kind.replace("_", " ") for charge in charges]
    return [
        word if words[:place].count(word) == 0 else f"{word} {words[:place].count(word) + 1}"
        for place, word in enumerate(words)
    ]


def _arrival_cautions(posted: PostedArrival) -> list[str]:
    """Return the cautions an arrival calls for; duty that came with its shipment is spoken of there."""
    lines = [line for receipt in posted.receipts for line in receipt.lines]
    return arrival_cautions(
        (charge.wish.kind for charge in posted.charges),
        (line.weight_mg for line in lines),
        (line.kind for line in lines),
    )


def shipment_text(posted: PostedShipment, currency: str) -> str:
    """Return what a shipment is: its lines at invoice value with their charges, and when it is the shop's."""
    document = posted.document
    foreign = document.currency != currency
    table = Table(
        [
            ">line",
            "SKU",
            ">quantity",
            "unit",
            f">{document.currency}",
            *([f">goods {currency}"] if foreign and posted.is_the_shops else []),
            *(f">{word}" for word in _charge_headings(posted.charges)),
        ]
    )
    for place, line in enumerate(document.lines):
        table.add(
            str(line.line),
            line.sku or "",
            figures.quantity(line.quantity_milli),
            line.unit,
            figures.money(line.amount_foreign, document.currency),
            *([figures.money(line.amount, currency)] if foreign and posted.is_the_shops else []),
            *(figures.money(charge.shares[place], currency) for charge in posted.charges),
        )
    table.total(
        "",
        "total",
        "",
        "",
        figures.money(document.total_foreign, document.currency),
        *([figures.money(document.total, currency)] if foreign and posted.is_the_shops else []),
        *(figures.money(charge.amount, currency) for charge in posted.charges),
    )
    remarks = "\n".join(
        filter(None, (*posted.remarks, duty_words(charge.wish.kind for charge in posted.charges)))
    )
    return paragraphs([_shipment_head(posted, currency), table.text(), _effect(posted), remarks])


def _shipment_head(posted: PostedShipment, currency: str) -> str:
    document, order = posted.document, posted.order
    parts = [f"of order {order.number}", order.party, document.reference, document.shipped_on or ""]
    text = "Shipment " + ", ".join(filter(None, parts))
    if document.currency != currency and posted.is_the_shops:
        text += f"\n1 {document.currency} = {document.rate} {currency} ({document.rate_source})"
    return text


def _effect(posted: PostedShipment) -> str:
    document, terms = posted.document, posted.order.terms
    if not posted.is_the_shops:
        return (
            f"By this order's terms ({terms}) the goods are the shop's when they arrive: until then the shipment is "
            "information only, and costs nothing."
        )
    where = "on board" if document.terms == ON_BOARD else when_the_shops(document.terms)
    return (
        f"By this order's terms ({terms}, {where}) the goods are the shop's from {document.effect_date} on: under "
        "way, not on the shelf."
    )


def shipment_as_data(posted: PostedShipment, currency: str, *, kept: bool) -> dict[str, Any]:
    """Return a shipment as scripts take it; numbers are null where it was not kept."""
    document = posted.document
    return {
        "document": document.number if kept else None,
        "charge_documents": [one.number for one in posted.charge_documents] if kept else [],
        "order": posted.order.number,
        "party": posted.order.party,
        "reference": document.reference,
        "shipped_on": document.shipped_on,
        "takes_effect": document.effect_date if posted.is_the_shops else None,
        "title_passes": document.terms,
        "currency": document.currency,
        "rate": document.rate,
        "rate_source": document.rate_source,
        "total_foreign": show_money(document.total_foreign, document.currency),
        "total": show_money(document.total, currency),
        "total_charges": show_money(sum(charge.amount for charge in posted.charges), currency),
        "lines": [
            {
                "lot": f"{document.number}.{line.line}" if kept else None,
                "sku": line.sku,
                "quantity": show_quantity(line.quantity_milli),
                "unit": line.unit,
                "amount_foreign": show_money(line.amount_foreign, document.currency),
                "amount": show_money(line.amount, currency),
            }
            for line in document.lines
        ],
        "remarks": list(posted.remarks),
    }


def arrival_text(posted: PostedArrival) -> str:
    """Return what an arrival is: each receipt's lines at landed cost, what is missing, and the charges on it."""
    currency = posted.shop.currency
    parts = []
    if posted.shipment is not None:
        parts.append(shipment_text(posted.shipment, currency))
    parts += [_receipt_text(posted, receipt) for receipt in posted.receipts]
    parts += [_charges(posted), _losses(posted)]
    said = posted.remarks if posted.shipment is None else posted.remarks[len(posted.shipment.remarks) :]
    return paragraphs([*parts, "\n".join([*said, *_arrival_cautions(posted)])])


def _receipt_text(posted: PostedArrival, receipt: NewDocument) -> str:
    currency = posted.shop.currency
    parts = [
        f"of shipment {receipt.follows}, order {posted.order.number}",
        posted.order.party,
        receipt.reference,
        posted.on.isoformat(),
    ]
    head = "Arrival " + ", ".join(filter(None, parts))
    if receipt.currency != currency:
        head += f"\n1 {receipt.currency} = {receipt.rate} {currency} ({receipt.rate_source})"
    table = Table(
        [
            ">line",
            "SKU",
            ">arrives",
            "unit",
            ">good",
            ">invoice",
            ">charges",
            ">landed",
            ">each",
            "how",
        ]
    )
    sums = [0, 0, 0]
    for line in receipt.lines:
        lot = posted.lots.get((receipt.number, line.line))
        # What was under way and is all claimed or missing brings no cost in: what becomes of it is said below.
        brings_nothing = lot is None and _was_under_way(receipt, line)
        invoice = lot.invoice_cost if lot else 0 if brings_nothing else line.amount - line.claimed_amount
        charges = lot.charges if lot else 0
        kept = lot.received_milli if lot else 0
        sums = [sums[0] + invoice, sums[1] + charges, sums[2] + invoice + charges]
        costs = [figures.money(each, currency) for each in (invoice, charges, invoice + charges)]
        table.add(
            str(line.line),
            line.sku or "",
            figures.quantity(line.quantity_milli),
            line.unit,
            figures.quantity(good_milli(line)),
            *(["", "", ""] if brings_nothing else costs),
            figures.per_unit(invoice + charges, kept, currency),
            _how(receipt, line),
        )
    table.total("", "total", "", "", "", *(figures.money(each, currency) for each in sums), "", "")
    return paragraphs([head, table.text()])


def good_milli(line: NewLine) -> int:
    """Return how much of a receipt's line is on the shelf afterwards."""
    return line.quantity_milli - line.claimed_milli - line.normal_milli - line.expensed_milli


def _was_under_way(receipt: NewDocument, line: NewLine) -> bool:
    """Whether a line was the shop's already when it arrived."""
    return line.lot_document is not None and not receipt.terms


def _how(receipt: NewDocument, line: NewLine) -> str:
    if line.lot_document is None:
        return "beyond what was shipped, bought now"
    if receipt.terms:
        return "bought now"
    if is_stocked(line.tax_class) and line.claimed_milli + line.normal_milli == line.quantity_milli:
        return "nothing comes in"
    return "out of what was under way" if is_stocked(line.tax_class) else "a supply, an expense when shipped"


def _charges(posted: PostedArrival) -> str:
    if not posted.charges:
        return ""
    currency = posted.shop.currency
    lines = [
        f"  {word} {figures.money(charge.amount, currency)} by {charge.wish.basis}"
        for word, charge in zip(_charge_headings(posted.charges), posted.charges, strict=True)
    ]
    return "\n".join(["Charges with it, in the landed cost above:", *lines])


def _losses(posted: PostedArrival) -> str:
    said = []
    for receipt in posted.receipts:
        for line in receipt.lines:
            words = [
                f"{figures.quantity(milli)} {what}"
                for milli, what in (
                    (line.claimed_milli, f"claimed: {_claim_words(posted, receipt, line)}"),
                    (line.normal_milli, "lost as usual: the good ones bear it"),
                    (line.expensed_milli, "lost: an expense at once"),
                )
                if milli
            ]
            if words:
                said.append(f"  {line.sku}, shipment {receipt.follows}: {', '.join(words)}")
    return "\n".join(["Missing or damaged:", *said]) if said else ""


def _claim_words(posted: PostedArrival, receipt: NewDocument, line: NewLine) -> str:
    """Return what is expected for claimed pieces, and what becomes of the rest of their cost."""
    currency, key = posted.shop.currency, (receipt.number, line.line)
    words = f"a credit of {figures.money(line.claimed_amount, currency)} {currency} is expected"
    amounts, lot = posted.amounts.get(key, {}), posted.lots.get(key)
    if "under way" not in amounts:
        return words
    if lot is not None:
        others = figures.quantity(line.quantity_milli - line.claimed_milli)
        borne = f"; what charges they had borne stays with the other {others}"
        return words + (
            borne if -amounts.get("under way", 0) > lot.invoice_cost + line.claimed_amount else ""
        )
    rest = amounts.get("supplier price differences", 0)
    words = (
        f"they were under way at {figures.money(-amounts.get('under way', 0), currency)} {currency}; {words}"
    )
    if not rest:
        return words
    return f"{words}; the rest, {figures.money(rest, currency)} of charges and price, goes to supplier price differences"


def arrival_as_data(posted: PostedArrival, *, kept: bool) -> dict[str, Any]:
    """Return an arrival as the JSON contract has a receipt; numbers are null where it was not kept."""
    currency = posted.shop.currency
    lots = _lots_as_data(posted, kept=kept)
    goods = sum(lot.invoice_cost for lot in posted.lots.values())
    charges = sum(lot.charges for lot in posted.lots.values())
    numbers = [one.number for one in posted.receipts] if kept else []
    shipped = posted.shipment.document.number if posted.shipment and kept else None
    return {
        "document": numbers[0] if numbers else None,
        "documents": numbers,
        "order": posted.order.number,
        "shipments": [receipt.follows for receipt in posted.receipts if kept],
        "ship_document": shipped,
        "charge_documents": [one.number for one in posted.charge_documents] if kept else [],
        "lots": lots,
        "total_invoice": show_money(goods, currency),
        "total_claimed": show_money(
            sum(line.claimed_amount for receipt in posted.receipts for line in receipt.lines), currency
        ),
        "total_charges": show_money(charges, currency),
        "total_landed": show_money(goods + charges, currency),
        "lines": [
            {
                "sku": line.sku,
                "quantity": show_quantity(line.quantity_milli),
                "good": show_quantity(good_milli(line)),
                "claimed": show_quantity(line.claimed_milli),
                "normal": show_quantity(line.normal_milli),
                "expensed": show_quantity(line.expensed_milli),
                "is_extra": line.lot_document is None,
            }
            for receipt in posted.receipts
            for line in receipt.lines
        ],
        "remarks": list(posted.remarks),
    }


def _lots_as_data(posted: PostedArrival, *, kept: bool) -> list[dict[str, Any]]:
    currency = posted.shop.currency
    rows = []
    for receipt in posted.receipts:
        for line in receipt.lines:
            lot = posted.lots.get((receipt.number, line.line))
            if lot is None:
                continue
            landed = lot.invoice_cost + lot.charges
            rows.append(
                {
                    "lot": f"{receipt.number}.{line.line}" if kept else None,
                    "sku": line.sku,
                    "received_on": posted.on.isoformat(),
                    "party": posted.order.party,
                    "reference": receipt.reference,
                    "quantity_received": show_quantity(lot.received_milli),
                    "quantity_on_hand": show_quantity(lot.on_hand_milli),
                    "invoice_cost": show_money(lot.invoice_cost, currency),
                    "charges": show_money(lot.charges, currency),
                    "landed_cost": show_money(landed, currency),
                    "value_on_hand": show_money(lot.value_on_hand, currency),
                    "unit_cost": figures.unit_cost(landed, lot.received_milli, currency),
                    "expires_on": lot.expires_on,
                }
            )
    return rows

"""A shipment before and after it is posted: the landed cost of every line."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from ledger.book.charging import ChargePlan, ChargeTarget
from ledger.book.late_bills import LateShare, late_day
from ledger.book.receiving import ReceiptPlan, expiry
from ledger.catalogue.items import KINDS
from ledger.costing.landed import ChargeSpread, is_stocked
from ledger.exact.money import show_money
from ledger.exact.quantity import show_quantity
from ledger.exact.rounding import divide_round
from ledger.views import figures
from ledger.views.catalogue import GARMENT_KINDS, item_cautions
from ledger.views.tables import Table, paragraphs

HEAVY_CARTON_MG = 15_000_000
"""Above this a carton is too heavy to lift carelessly at home: 15 kg."""

DUTY_KINDS = frozenset({"duty", "entry_fee"})

DUTY_BILLS = (
    "Duty and entry fees are kept for your records; class, value, origin and rate are the importer's "
    "responsibility. Ask a licensed customs broker."
)

HEAVY = "Some of these lines weigh more than 15 kg: open the cartons and carry them in parts."

CHEMICALS_ARRIVE = "Chemicals: keep the safety data sheet with the item and store it by its label."


def preview(plan: ReceiptPlan) -> str:
    """Return the whole preview: head, table with every charge's share, losses, remarks."""
    return paragraphs([_head(plan), _table(plan), _sums(plan), _losses(plan), _remarks(plan)])


def _head(plan: ReceiptPlan) -> str:
    request, shop = plan.request, plan.shop
    parts = [request.party or "a supplier not named", request.reference, request.received_on.isoformat()]
    text = "Receipt: " + ", ".join(part for part in parts if part)
    if request.currency != shop.currency:
        text += f"\n1 {request.currency} = {request.rate} {shop.currency} ({request.rate_source})"
    return text


def _charge_headings(charges: Sequence[ChargeSpread]) -> list[str]:
    """Return a heading for each charge; a second one of a kind gets a number."""
    seen: dict[str, int] = {}
    headings = []
    for charge in charges:
        word = charge.wish.kind.replace("_", " ")
        seen[word] = seen.get(word, 0) + 1
        headings.append(word if seen[word] == 1 else f"{word} {seen[word]}")
    return headings


def _table(plan: ReceiptPlan) -> str:
    request, landing, currency = plan.request, plan.landing, plan.shop.currency
    foreign = request.currency != currency
    has_claims = any(line.claimed_amount for line in landing.lines)
    unit_heading = f">price {request.currency}" if foreign else ">price"
    claim_heading = [">claimed"] if has_claims else []
    table = Table(
        [
            ">line",
            "SKU",
            ">quantity",
            "unit",
            unit_heading,
            f">goods {currency}" if foreign else ">goods",
            *claim_heading,
            *(f">{word}" for word in _charge_headings(landing.charges)),
            ">landed",
            ">each",
            "change",
        ]
    )
    for place, (line, landed) in enumerate(zip(request.lines, landing.lines, strict=True)):
        kept = line.invoice.kept_milli
        price = figures.per_unit(line.invoice.net_foreign, line.invoice.quantity_milli, request.currency)
        table.add(
            str(place + 1),
            line.item.sku,
            figures.quantity(line.invoice.quantity_milli),
            line.item.base_unit,
            price + (" *" if line.provisional else ""),
            figures.money(landed.amount, currency),
            *([figures.money(-landed.claimed_amount, currency)] if has_claims else []),
            *(figures.money(charge.shares[place], currency) for charge in landing.charges),
            figures.money(landed.landed, currency),
            figures.per_unit(landed.landed, kept, currency),
            figures.change(plan.last_unit_costs.get(line.item.sku), landed.landed, kept),
        )
    claimed = sum(line.claimed_amount for line in landing.lines)
    table.total(
        "",
        "total",
        "",
        "",
        "",
        figures.money(landing.total_invoice, currency),
        *([figures.money(-claimed, currency)] if has_claims else []),
        *(figures.money(charge.amount, currency) for charge in landing.charges),
        figures.money(landing.total_landed, currency),
        "",
        "",
    )
    return table.text()


def _sums(plan: ReceiptPlan) -> str:
    """Return the sum of the shipment in one line, and what of it does not go on the shelf."""
    landing, currency = plan.landing, plan.shop.currency
    claimed = sum(line.claimed_amount for line in landing.lines)
    text = f"Invoice {figures.money(landing.total_invoice, currency)}"
    if claimed:
        text += f" - claimed {figures.money(claimed, currency)}"
    if landing.charges:
        text += f" + charges {figures.money(landing.total_charges, currency)}"
    text += f" = landed {figures.money(landing.total_landed, currency)} {currency}"
    straight = sum(
        landed.landed
        for line, landed in zip(plan.request.lines, landing.lines, strict=True)
        if not is_stocked(line.item.tax_class)
    )
    if straight:
        text += (
            f"\nOf this {figures.money(straight, currency)} is supplies that are deducted when bought: "
            "not counted, not on the shelf."
        )
    return text


def _losses(plan: ReceiptPlan) -> str:
    lines = []
    for line in plan.request.lines:
        invoice = line.invoice
        said = [
            f"{figures.quantity(milli)} {words}"
            for milli, words in (
                (invoice.claimed_milli, "claimed: a credit is expected"),
                (invoice.normal_milli, "lost as usual: the good ones bear it"),
                (invoice.expensed_milli, "lost: an expense at once"),
            )
            if milli
        ]
        if said:
            lines.append(f"  {line.item.sku}: {', '.join(said)}")
    return "\n".join(["Missing or damaged:", *lines]) if lines else ""


def _remarks(plan: ReceiptPlan) -> str:
    request = plan.request
    remarks = list(request.remarks)
    if any(line.provisional for line in request.lines):
        remarks.append("* no price yet: taken at the latest landed cost, and it blocks the month's close.")
    if request.new_items:
        skus = ", ".join(item.sku for item in request.new_items)
        remarks.append(f"New items, added with the receipt: {skus}")
        remarks += item_cautions(item for item in request.new_items if item.kind in GARMENT_KINDS)
    remarks += cautions(plan)
    return "\n".join(remarks)


def cautions(plan: ReceiptPlan) -> list[str]:
    """Return the cautions this shipment calls for, each once."""
    lines = plan.request.lines
    return arrival_cautions(
        (charge.wish.kind for charge in plan.landing.charges),
        (line.invoice.weight_mg for line in lines),
        (line.item.kind for line in lines),
        has_sheet=any(line.item.safety_sheet for line in lines),
    )


def arrival_cautions(
    charges: Iterable[str], weights_mg: Iterable[int | None], kinds: Iterable[str], *, has_sheet: bool = False
) -> list[str]:
    """Return the cautions that what arrives calls for, each once.

    Args:
        charges: kinds of the charges that come with it.
        weights_mg: weights of its lines in milligrams, None where not known.
        kinds: kinds of its items.
        has_sheet: whether a safety data sheet is named for one of its items, whatever its kind.
    """
    said = [words] if (words := duty_words(charges)) else []
    if any((weight or 0) > HEAVY_CARTON_MG for weight in weights_mg):
        said.append(HEAVY)
    if has_sheet or any(kind in KINDS and KINDS[kind].has_safety_sheet for kind in kinds):
        said.append(CHEMICALS_ARRIVE)
    return said


def duty_words(charges: Iterable[str]) -> str:
    """Return the caution about customs bills, '' where no charge is one."""
    return DUTY_BILLS if DUTY_KINDS.intersection(charges) else ""


def lots_as_data(plan: ReceiptPlan, document: int | None) -> list[dict[str, Any]]:
    """Return the lots as the JSON contract has them; ``document`` is None before posting."""
    request, currency = plan.request, plan.shop.currency
    rows = []
    for place, (line, landed) in enumerate(zip(request.lines, plan.landing.lines, strict=True)):
        kept = line.invoice.kept_milli
        if kept <= 0 or not is_stocked(line.item.tax_class):
            continue
        good = line.invoice.good_milli
        spoiled = _first_units(landed.landed, kept, line.invoice.expensed_milli)
        expires = expiry(line, request.received_on)
        rows.append(
            {
                "lot": f"{document}.{place + 1}" if document else None,
                "sku": line.item.sku,
                "received_on": request.received_on.isoformat(),
                "party": request.party,
                "reference": request.reference,
                "quantity_received": show_quantity(kept),
                "quantity_on_hand": show_quantity(good),
                "invoice_cost": show_money(landed.lot_cost, currency),
                "charges": show_money(landed.charges, currency),
                "landed_cost": show_money(landed.landed, currency),
                "value_on_hand": show_money(landed.landed - spoiled, currency),
                "unit_cost": figures.unit_cost(landed.landed, kept, currency),
                "expires_on": expires.isoformat() if expires else None,
            }
        )
    return rows


def _first_units(amount: int, quantity: int, taken: int) -> int:
    """Return what the first units of a lot cost: R(amount x taken / quantity)."""
    return divide_round(amount * taken, quantity) if taken else 0


def as_data(plan: ReceiptPlan, numbers: Sequence[int]) -> dict[str, Any]:
    """Return a receipt as the JSON contract has it; ``numbers`` are empty for a dry run."""
    currency, landing = plan.shop.currency, plan.landing
    document = numbers[0] if numbers else None
    goods = sum(line.lot_cost for line in landing.lines)
    straight = sum(
        landed.landed
        for line, landed in zip(plan.request.lines, landing.lines, strict=True)
        if not is_stocked(line.item.tax_class)
    )
    return {
        "document": document,
        "charge_documents": list(numbers[1:]),
        "lots": lots_as_data(plan, document),
        "total_invoice": show_money(goods, currency),
        "total_claimed": show_money(sum(line.claimed_amount for line in landing.lines), currency),
        "total_charges": show_money(landing.total_charges, currency),
        "total_landed": show_money(landing.total_landed, currency),
        "supplies_when_bought": show_money(straight, currency),
        "new_items": [item.sku for item in plan.request.new_items],
        "remarks": list(plan.request.remarks),
    }


def charge_preview(plan: ChargePlan, late: Sequence[LateShare] = ()) -> str:
    """Return what a later charge adds to each line of its receipts, and where a late one comes to lie."""
    currency, wish = plan.shop.currency, plan.charge.wish
    parts = [plan.party, wish.reference, plan.on.isoformat()]
    head = f"Charge: {wish.kind.replace('_', ' ')} by {wish.basis}, " + ", ".join(p for p in parts if p)
    table = Table(["lot", "SKU", ">quantity", ">goods", f">{wish.kind.replace('_', ' ')}"])
    for target, share in zip(plan.targets, plan.charge.shares, strict=True):
        table.add(
            f"{target.document}.{target.line}",
            target.sku,
            figures.quantity(target.invoice.good_milli),
            figures.money(target.cost, currency),
            figures.money(share, currency),
        )
    goods = sum(target.cost for target in plan.targets)
    table.total("total", "", "", figures.money(goods, currency), figures.money(plan.charge.amount, currency))
    return paragraphs([head, table.text(), *_when(plan), late_text(late, currency), duty_words([wish.kind])])


def _when(plan: ChargePlan) -> list[str]:
    """Return from when on a charge's shares take effect."""
    late = {target.document: is_late for target, is_late in zip(plan.targets, plan.is_late, strict=True)}
    named = len(late) > 1
    notes = []
    in_time = [target for target in plan.targets if not late[target.document]]
    if in_time:
        which, verb, them = _months_of(in_time, named=named)
        first = min(target.effect_date for target in in_time)
        notes.append(f"{which} {verb} open: the charge takes effect with {them}, from {first} on.")
    if any(plan.is_late):
        which, verb, _ = _months_of([one for one in plan.targets if late[one.document]], named=named)
        notes.append(
            f"{which} {verb} closed: the charge comes late, and takes effect on "
            f"{late_day(plan.on, plan.shop.closed_through)}, where the goods are on that day."
        )
    return notes


def _months_of(targets: Sequence[ChargeTarget], *, named: bool) -> tuple[str, str, str]:
    """Return the months of receipts and shipments as a sentence's subject, its verb, and what stands for them."""
    found = {
        target.document: f"{_NOUNS.get(target.event, target.event)} {target.document} ({target.effect_date[:7]})"
        for target in targets
    }
    if not named:
        return f"The month of the {_NOUNS.get(targets[0].event, targets[0].event)}", "is", "it"
    if len(found) == 1:
        return f"The month of {', '.join(found.values())}", "is", "it"
    return f"The months of {', '.join(found.values())}", "are", "them"


_NOUNS = {"ship": "shipment"}


_LATE_WORDS = {
    "on hand": "on hand",
    "under way": "under way",
    "own use": "taken for own use",
    "supplies": "supplies, deducted when bought",
    "late charges on used stock": "used or sold: cost of goods sold of the bill's month",
}


def late_text(late: Sequence[LateShare], currency: str) -> str:
    """Return where the shares of a late charge or credit come to lie; empty where none is late."""
    if not late:
        return ""
    table = Table(["share of lot", "where the goods are", "SKU", "lot", ">amount"])
    for one in late:
        table.add(
            f"{one.lot[0]}.{one.lot[1]}",
            _LATE_WORDS.get(one.account, one.account),
            one.sku,
            f"{one.on_lot[0]}.{one.on_lot[1]}"
            if one.on_lot and one.account in ("on hand", "under way")
            else "",
            figures.money(one.amount, currency),
        )
    table.total("total", "", "", "", figures.money(sum(one.amount for one in late), currency))
    return table.text()


def late_as_data(late: Sequence[LateShare], currency: str) -> list[dict[str, Any]]:
    """Return where the shares of a late charge lie as data."""
    return [
        {
            "share_of_lot": f"{one.lot[0]}.{one.lot[1]}",
            "account": one.account,
            "sku": one.sku,
            "lot": f"{one.on_lot[0]}.{one.on_lot[1]}" if one.on_lot else None,
            "amount": show_money(one.amount, currency),
        }
        for one in late
    ]


def charge_as_data(plan: ChargePlan, number: int | None, late: Sequence[LateShare] = ()) -> dict[str, Any]:
    """Return a charge and its shares as data; ``number`` is None for a dry run."""
    currency = plan.shop.currency
    return {
        "document": number,
        "kind": plan.charge.wish.kind,
        "basis": plan.charge.wish.basis,
        "amount": show_money(plan.charge.amount, currency),
        "currency": currency,
        "shares": [
            {
                "lot": f"{target.document}.{target.line}",
                "sku": target.sku,
                "amount": show_money(share, currency),
            }
            for target, share in zip(plan.targets, plan.charge.shares, strict=True)
        ],
        "late": late_as_data(late, currency),
    }

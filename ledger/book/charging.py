"""Charges: a freight, duty or fee bill spread over receipt lines, with the receipt or later."""

from __future__ import annotations

import datetime
import hashlib
import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from ledger.book.catalogue_store import ensure_party
from ledger.book.connect import trial_tx, write_tx
from ledger.book.documents import NewDocument, NewLine, NewShare, insert_documents, next_number
from ledger.book.late_bills import LateShare, check_bill_date, late_day, late_shares
from ledger.book.recosting import CostChange, Recorded, recost
from ledger.book.shop import Shop, read_policies, read_shop
from ledger.book.standing import check_party, content_document, undone
from ledger.costing.facts import LATE, WITH_RECEIPT
from ledger.costing.landed import (
    ChargeSpread,
    ChargeWish,
    InvoiceLine,
    check_charges,
    spread_charge,
)
from ledger.errors import AlreadyPosted, InputErrors, Problem, Refused
from ledger.exact.words import with_article


@dataclass(frozen=True, slots=True)
class ChargeTarget:
    """A receipt or shipment line that a charge can fall on, with what it is spread by."""

    document: int
    line: int
    sku: str
    effect_date: str
    invoice: InvoiceLine
    cost: int
    """The line's cost before charges and without its claimed part, in minor units."""
    is_provisional: bool = False
    """Whether it came without a price that is still not told."""
    event: str = "receipt"


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargePlan:
    """A charge on receipts that stand in the book, worked out."""

    shop: Shop
    on: datetime.date
    party: str
    charge: ChargeSpread
    targets: tuple[ChargeTarget, ...]
    content_sha256: str
    is_late: tuple[bool, ...] = ()
    """Of each target: whether its month is closed, so that its share takes effect on the bill's date."""


def target_of(document: NewDocument, line: NewLine) -> ChargeTarget:
    """Return a line that is about to be posted as something a charge can fall on."""
    return ChargeTarget(
        document=document.number,
        line=line.line,
        sku=line.sku or "",
        effect_date=document.effect_date,
        invoice=InvoiceLine(
            label=line.sku or "",
            tax_class=line.tax_class,
            quantity_milli=line.quantity_milli,
            net_foreign=line.amount_foreign,
            claimed_milli=line.claimed_milli,
            normal_milli=line.normal_milli,
            expensed_milli=line.expensed_milli,
            weight_mg=line.weight_mg,
            volume_mm3=line.volume_mm3,
        ),
        cost=line.amount - line.claimed_amount,
        is_provisional=bool(line.provisional),
        event=document.event,
    )


# What arrives from a shipment cost what its part of the shipment's line did.
_TARGETS = """
SELECT l.document, l.line, l.sku, d.effect_date, l.tax_class, l.quantity_milli, l.amount_foreign,
    l.claimed_milli, l.normal_milli, l.expensed_milli, l.weight_mg, l.volume_mm3,
    coalesce((SELECT lot.invoice_cost FROM lot WHERE s.number IS NOT NULL AND lot.document = l.document
        AND lot.line = l.line), l.amount - l.claimed_amount),
    l.provisional AND NOT EXISTS (
        SELECT 1 FROM charge_share AS g JOIN document_line AS c ON c.document = g.document AND c.line = g.line
        JOIN document AS gd ON gd.number = g.document AND gd.event = 'charge'
        WHERE g.receipt_document = l.document AND g.receipt_line = l.line AND c.charge_kind = 'goods'
            AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = g.document))
FROM document_line AS l JOIN document AS d ON d.number = l.document
LEFT JOIN document AS s ON s.number = l.lot_document AND s.event = 'ship' AND d.event = 'receipt'
WHERE l.document = ? ORDER BY l.line
"""


def find_targets(connection: sqlite3.Connection, receipts: Sequence[int]) -> tuple[ChargeTarget, ...]:
    """Return the lines of receipts in the book that a charge can fall on.

    Raises Refused where a number is no receipt or was undone.
    """
    targets = []
    for number in receipts:
        row = connection.execute("SELECT event, terms FROM document WHERE number = ?", (number,)).fetchone()
        if row is None:
            raise Refused(f"there is no document {number} in the book. See: blankbook history")
        if row[0] not in ("receipt", "ship"):
            raise Refused(
                f"document {number} is {with_article(row[0])}; a charge falls on receipts, or on what is under way."
            )
        if row == ("ship", "arrival"):
            raise Refused(
                f"the goods of shipment {number} are the shop's only when they arrive: charge the receipt then."
            )
        by = undone(connection, number)
        if by is not None:
            raise Refused(f"{row[0]} {number} was undone by document {by}; charge the one that replaced it.")
        for r in connection.execute(_TARGETS, (number,)):
            invoice = InvoiceLine(r[2], r[4], r[5], r[6], r[7], r[8], r[9], r[10], r[11])
            targets.append(ChargeTarget(r[0], r[1], r[2], r[3], invoice, r[12], bool(r[13]), row[0]))
    return tuple(targets)


def prepare_charge(
    connection: sqlite3.Connection,
    wish: ChargeWish,
    receipts: Sequence[int],
    on: datetime.date,
    today: datetime.date,
) -> ChargePlan:
    """Return what a charge on receipts in the book would post, with every share.

    Raises InputErrors where a basis is missing, AlreadyPosted where the same bill stands in the book.
    """
    problems = check_bill_date(read_shop(connection), on, today) + check_party(wish.party)
    if problems:
        raise InputErrors("this charge", problems)
    return plan_charge(connection, wish, find_targets(connection, receipts), on)


def plan_charge(
    connection: sqlite3.Connection, wish: ChargeWish, targets: Sequence[ChargeTarget], on: datetime.date
) -> ChargePlan:
    """Return a charge spread over receipt lines, of the book or about to be posted.

    A line whose month is closed bears its share late: on the bill's date, where its goods are then.
    Raises as `prepare_charge`.
    """
    shop = read_shop(connection)
    if wish.kind == "goods":
        targets = [target for target in targets if target.is_provisional]
        if not targets:
            raise Refused("nothing of these receipts waits for a price. See: blankbook history")
    lines, costs = [t.invoice for t in targets], [t.cost for t in targets]
    problems = against_policies(read_policies(connection), [wish]) + check_charges([wish], lines, costs)
    if problems:
        raise InputErrors("this charge", problems)
    charge = spread_charge(wish, lines, costs)
    if wish.kind == "goods":
        charge = _in_place_of_provisional(charge, costs)
    is_late = tuple(target.effect_date <= shop.closed_through for target in targets)
    _check_not_below_zero(connection, charge, targets, is_late)
    digest = _content(wish, charge.amount, sorted({target.document for target in targets}), on)
    _refuse_twice(connection, digest)
    return ChargePlan(
        shop=shop,
        on=on,
        party=wish.party,
        charge=charge,
        targets=tuple(targets),
        content_sha256=digest,
        is_late=is_late,
    )


def _in_place_of_provisional(charge: ChargeSpread, costs: Sequence[int]) -> ChargeSpread:
    """Return a price told afterwards as what it is more than the provisional amounts."""
    shares = tuple(
        share - cost if weight else 0
        for share, cost, weight in zip(charge.shares, costs, charge.weights, strict=True)
    )
    return replace(charge, amount=sum(shares), shares=shares)


def against_policies(policies: dict[str, str], wishes: Iterable[ChargeWish]) -> list[Problem]:
    """Return which charges the shop's recorded policies keep out of landed cost."""
    if policies.get("bank fees") != "expense":
        return []
    return [
        Problem(
            "charge 'bank_fee'",
            "this book treats bank fees as an expense, not as part of what the goods cost.",
            "Leave it out here; it belongs in your expense records.",
        )
        for wish in wishes
        if wish.kind == "bank_fee"
    ]


def _refuse_twice(connection: sqlite3.Connection, digest: str) -> None:
    same = content_document(connection, digest)
    if same is not None:
        raise AlreadyPosted(
            f"this bill is in the book already, as charge {same}. Nothing was posted. If it is a second "
            "bill of the same amount, give its own number with --reference."
        )


def _check_not_below_zero(
    connection: sqlite3.Connection,
    charge: ChargeSpread,
    targets: Sequence[ChargeTarget],
    is_late: Sequence[bool],
) -> None:
    """Refuse what takes more off a line than it cost; a late credit takes off what its lots are worth."""
    if min(charge.shares, default=0) >= 0:
        return
    for share, target, late in zip(charge.shares, targets, is_late, strict=True):
        if late:
            continue
        row = connection.execute(
            "SELECT charges FROM lot WHERE document = ? AND line = ?", (target.document, target.line)
        ).fetchone()
        if target.cost + (row[0] if row else 0) + share < 0:
            raise Refused(
                f"{target.sku} of receipt {target.document} would cost less than nothing: the discount's "
                "share is more than the line cost. Check its amount."
            )


def _content(wish: ChargeWish, amount: int, receipts: Sequence[int], on: datetime.date) -> str:
    parts = ["charge", wish.party.casefold(), wish.reference, wish.kind, amount, sorted(receipts)]
    return hashlib.sha256(json.dumps([*parts, on.isoformat()]).encode()).hexdigest()


def preview_late(connection: sqlite3.Connection, plan: ChargePlan, now: str) -> tuple[LateShare, ...]:
    """Return where the late shares of a planned charge would come to lie; nothing is posted."""
    shares: tuple[LateShare, ...] = ()
    if any(plan.is_late):
        with trial_tx(connection):
            shares = late_shares(connection, _post(connection, plan, now)[0].number)
    return shares


def post_charge(connection: sqlite3.Connection, plan: ChargePlan, now: str) -> Recorded:
    """Post a prepared charge in one transaction."""
    with write_tx(connection):
        shop = read_shop(connection)
        problems = check_bill_date(shop, plan.on, plan.on)
        if shop.closed_through != plan.shop.closed_through:
            problems.append(Problem("this charge", "a month was closed or reopened meanwhile.", "Try again."))
        if problems:
            raise InputErrors("this charge", problems)
        _refuse_twice(connection, plan.content_sha256)
        find_targets(connection, sorted({target.document for target in plan.targets}))
        document, changes = _post(connection, plan, now)
    return Recorded((document.number,), changes)


def _post(
    connection: sqlite3.Connection, plan: ChargePlan, now: str
) -> tuple[NewDocument, tuple[CostChange, ...]]:
    document = charge_document(
        number=next_number(connection),
        on=plan.on,
        now=now,
        party=ensure_party(connection, plan.party, "other") if plan.party else None,
        charge=plan.charge,
        targets=plan.targets,
        book_currency=plan.shop.currency,
        content_sha256=plan.content_sha256,
        closed_through=plan.shop.closed_through,
    )
    insert_documents(connection, [document])
    return document, recost(connection, [document], {target.sku for target in plan.targets})


def charge_document(
    *,
    number: int,
    on: datetime.date,
    now: str,
    party: str | None,
    charge: ChargeSpread,
    targets: Sequence[ChargeTarget],
    book_currency: str,
    content_sha256: str = "",
    closed_through: str = "",
) -> NewDocument:
    """Return a charge as a document whose shares take effect with their receipts, or late.

    Those of receipts up to ``closed_through`` are late: they take effect on the bill's date, or on the
    first open day where that is closed too.
    """
    wish = charge.wish
    bearing = [
        (target, weight, share)
        for target, weight, share in zip(targets, charge.weights, charge.shares, strict=True)
        if weight
    ]
    shares = tuple(
        NewShare(
            line=1,
            receipt_document=target.document,
            receipt_line=target.line,
            position=position,
            weight=weight,
            amount=share,
            path=LATE if target.effect_date <= closed_through else WITH_RECEIPT,
            effect_date=late_day(on, closed_through)
            if target.effect_date <= closed_through
            else target.effect_date,
        )
        for position, (target, weight, share) in enumerate(bearing, 1)
    )
    # A percentage is worked out in the book's currency, whatever its minimum was typed in.
    is_foreign = wish.amount_foreign is not None
    foreign = wish.amount_foreign if wish.amount_foreign is not None else charge.amount
    return NewDocument(
        number=number,
        event="charge",
        document_date=on.isoformat(),
        effect_date=min(share.effect_date for share in shares),
        recorded_at=now,
        currency=wish.currency if is_foreign else book_currency,
        party=party,
        reference=wish.reference,
        rate=wish.rate if is_foreign else "1",
        rate_source=wish.rate_source if is_foreign else "",
        path=LATE if all(share.path == LATE for share in shares) else WITH_RECEIPT,
        follows=shares[0].receipt_document,
        total_foreign=foreign,
        total=charge.amount,
        content_sha256=content_sha256,
        lines=(
            NewLine(
                line=1,
                role="charge",
                amount_foreign=foreign,
                amount=charge.amount,
                charge_kind=wish.kind,
                basis=wish.basis,
            ),
        ),
        shares=shares,
    )

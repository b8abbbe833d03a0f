"""Double entries of the plain engine: what each event writes, and how entries become numbered legs."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ledger.costing.facts import FactLine, Leg, ShareFact
from ledger.costing.plain_checks import STRAIGHT_TO_SUPPLIES
from ledger.costing.plain_figures import Figure
from ledger.costing.plain_shelf import Lot, Taking

ON_HAND = "on hand"
UNDER_WAY = "under way"
IN_PROCESS = "work in process"
SENT_BACK = "returned to supplier"
LATE_ON_USED = "late charges on used stock"


@dataclass(frozen=True)
class Entry:
    """One leg before it has its document, line and part.

    ``comes_in`` is False where the amount has the other sign in the account than in the figure;
    ``or_nothing`` leaves the leg out where its amount turns out to be zero.
    """

    account: str
    quantity_milli: int
    amount: Figure[int]
    lot: Lot | None = None
    comes_in: bool = True
    or_nothing: bool = False


NO_AMOUNT = Figure(0)


def entries_of_supplies_when_bought(line: FactLine) -> list[Entry]:
    """Return the entries of a receipt line whose cost is deducted at once: it makes no lot."""
    used_milli, used_amount = line.quantity_milli - line.claimed_milli, line.amount - line.claimed_amount
    entries = [
        Entry("purchases", -line.quantity_milli, Figure(-line.amount)),
        Entry("supplies", used_milli, Figure(used_amount)),
    ]
    if line.claimed_milli > 0:
        entries.append(Entry(SENT_BACK, line.claimed_milli, Figure(line.claimed_amount)))
    return entries


def entries_of_takings(takings: list[Taking], account: str) -> list[Entry]:
    """Return two entries for each taking: out of stock, into the account."""
    entries: list[Entry] = []
    for taking in takings:
        entries += [
            Entry(ON_HAND, -taking.quantity_milli, taking.amount, taking.lot, comes_in=False),
            Entry(account, taking.quantity_milli, taking.amount, taking.lot),
        ]
    return entries


def entries_of_a_component(taking: Taking) -> list[Entry]:
    """Return the three entries of what a job took: its quantity is used, its cost is in the job."""
    return [
        Entry(ON_HAND, -taking.quantity_milli, taking.amount, taking.lot, comes_in=False),
        Entry("used", taking.quantity_milli, NO_AMOUNT, taking.lot),
        Entry(IN_PROCESS, 0, taking.amount, taking.lot),
    ]


def entries_of_what_came_back(
    milli: int, worth: Figure[int], lot: Lot | None, account: str = "pieces sold"
) -> list[Entry]:
    """Return the two entries by which something comes back into stock from where it had gone."""
    return [
        Entry(ON_HAND, milli, worth, lot),
        Entry(account, -milli, worth, lot, comes_in=False),
    ]


def numbered(line: FactLine, entries: list[Entry]) -> list[Leg]:
    """Return the entries as legs of the line, numbered from 1."""
    written = [entry for entry in entries if not (entry.or_nothing and entry.amount.value() == 0)]
    return [
        Leg(
            document=line.document,
            line=line.line,
            part=part,
            effect_date=line.effect_date,
            account=entry.account,
            sku=line.sku,
            lot_document=entry.lot.document if entry.lot else None,
            lot_line=entry.lot.line if entry.lot else None,
            quantity_milli=entry.quantity_milli,
            amount=entry.amount.value() if entry.comes_in else -entry.amount.value(),
        )
        for part, entry in enumerate(written, start=1)
    ]


def legs_of_a_share(share: ShareFact, receipt_line: FactLine) -> list[Leg]:
    """Return the two legs by which a share of a charge comes to the lot it belongs to; none for zero."""
    if share.amount == 0:
        return []
    straight = receipt_line.tax_class == STRAIGHT_TO_SUPPLIES
    held = UNDER_WAY if receipt_line.event == "ship" else ON_HAND
    charges = Leg(
        document=share.document,
        line=share.line,
        part=2 * share.position - 1,
        effect_date=share.effect_date,
        account=share.account,
        sku=receipt_line.sku,
        lot_document=None,
        lot_line=None,
        quantity_milli=0,
        amount=-share.amount,
    )
    goods = replace(
        charges,
        part=2 * share.position,
        account="supplies" if straight else held,
        lot_document=None if straight else receipt_line.document,
        lot_line=None if straight else receipt_line.line,
        amount=share.amount,
    )
    return [charges, goods]

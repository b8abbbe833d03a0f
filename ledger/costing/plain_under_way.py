"""Goods under way, in the plain engine: a shipment makes a lot, and arrivals take it to the shelf.

A lot under way is the shop's, but nothing can take from it except arrivals. What arrives makes a
lot of its own, at the cost that the shipment's lot gives it less what the supplier credits.
"""

from __future__ import annotations

from ledger.costing.facts import FactLine
from ledger.costing.plain_checks import STRAIGHT_TO_SUPPLIES, kept_milli, reference
from ledger.costing.plain_entries import NO_AMOUNT, ON_HAND, SENT_BACK, UNDER_WAY, Entry
from ledger.costing.plain_figures import Figure, rounded, shown
from ledger.costing.plain_shelf import Layer, Lot, Taking
from ledger.costing.plain_stock import Stock
from ledger.errors import Refused


def ship(line: FactLine, stock: Stock) -> list[Entry]:
    """Return the entries of a shipment's line, whose lot is under way from then on."""
    bought = Entry("purchases", -line.quantity_milli, Figure(-line.amount))
    if line.tax_class == STRAIGHT_TO_SUPPLIES:
        return [bought, Entry("supplies", line.quantity_milli, Figure(line.amount))]
    number = (line.document, line.line)
    landed = Figure(line.amount + stock.charges[number])
    lot = Lot(*number, line.sku, line.quantity_milli, landed, invoice_amount=line.amount)
    lot.layers.append(Layer(line.quantity_milli, landed))
    stock.under_way[number] = lot
    return [bought, Entry(UNDER_WAY, line.quantity_milli, Figure(line.amount), lot)]


def arrive_from_under_way(line: FactLine, stock: Stock) -> list[Entry]:
    """Return the entries of what arrives of a shipment's line.

    Raises:
        Refused: more arrives than is still under way, or the supplier credits more than it cost.
    """
    if line.tax_class == STRAIGHT_TO_SUPPLIES:
        return _entries_of_claimed_supplies(line)
    shipped = stock.under_way.get(reference(line))
    left_milli = shipped.left_milli() if shipped else 0
    if shipped is None or line.quantity_milli > left_milli:
        raise Refused(
            f"{_told(line)}: {shown(line.quantity_milli)} arrives, but of shipment {line.ref_document}, "
            f"line {line.ref_line} only {shown(left_milli)} is under way then. Correct the quantity or date."
        )
    taking = shipped.take(line.quantity_milli, line, stock.figures)
    assert taking is not None
    # Nothing under way was ever short, so its cost is known at once.
    cost = taking.amount.value()
    number = (line.document, line.line)
    if cost - line.claimed_amount + min(0, stock.charges[number]) < 0:
        raise Refused(
            f"{_told(line)}: what arrives cost {cost} minor units, less than the {line.claimed_amount} that "
            f"the supplier credits and the {-min(0, stock.charges[number])} of discounts. Correct the amount."
        )
    lot = None
    if kept_milli(line) > 0:
        landed = Figure(cost - line.claimed_amount + stock.charges[number])
        invoice_amount = _invoiced(shipped, left_milli, line.quantity_milli) - line.claimed_amount
        lot = Lot(*number, line.sku, kept_milli(line), landed, invoice_amount=invoice_amount)
    entries = _entries_of_an_arrival(line, taking, cost, lot)
    return entries + stock.shelve(line, lot) if lot else entries


def _entries_of_claimed_supplies(line: FactLine) -> list[Entry]:
    """Return the entries of what did not arrive of supplies that were deducted when they were shipped."""
    if line.claimed_milli == 0:
        return []
    return [
        Entry("supplies", -line.claimed_milli, Figure(-line.claimed_amount)),
        Entry(SENT_BACK, line.claimed_milli, Figure(line.claimed_amount)),
    ]


def _entries_of_an_arrival(line: FactLine, taking: Taking, cost: int, lot: Lot | None) -> list[Entry]:
    """Return the entries by which goods come in from under way, without what leaves them at once."""
    kept_amount = cost - line.claimed_amount
    entries = [Entry(UNDER_WAY, -taking.quantity_milli, Figure(-cost), taking.lot)]
    if lot is not None:
        entries.append(Entry(ON_HAND, kept_milli(line), Figure(kept_amount), lot))
    if line.claimed_milli > 0:
        entries.append(Entry(SENT_BACK, line.claimed_milli, Figure(line.claimed_amount)))
    if line.normal_milli > 0:
        entries.append(Entry("spoilage", line.normal_milli, NO_AMOUNT))
    if lot is None and kept_amount != 0:
        entries.append(Entry("supplier price differences", 0, Figure(kept_amount)))
    return entries


def _invoiced(shipped: Lot, left_milli: int, milli: int) -> int:
    """Return what the supplier invoiced for the next pieces of a shipment's line.

    Args:
        shipped: the lot of the shipment's line.
        left_milli: what was under way of it before these pieces arrived.
        milli: how many arrive.
    """
    assert shipped.invoice_amount is not None
    before_milli = shipped.received_milli - left_milli
    after_milli = before_milli + milli
    return rounded(shipped.invoice_amount * after_milli, shipped.received_milli) - rounded(
        shipped.invoice_amount * before_milli, shipped.received_milli
    )


def _told(line: FactLine) -> str:
    """Return where a line stands, in words."""
    return f"{line.sku} on {line.effect_date}: document {line.document}, line {line.line}"

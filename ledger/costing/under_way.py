"""Goods under way: what is the shop's from the day it was shipped, and how it arrives."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ledger.costing.facts import ON_HAND, FactLine
from ledger.costing.shelf import Layer, Shelf, ShelfLot
from ledger.errors import Refused
from ledger.exact.quantity import show_quantity
from ledger.exact.rounding import divide_round

if TYPE_CHECKING:
    from ledger.costing.shelf_walk import ShelfWalk

PRICE_DIFFERENCES = "supplier price differences"


def ship(walk: ShelfWalk, fact: FactLine, shelf: Shelf) -> None:
    """Put a shipped line's lot under way; its legs are written already."""
    charges = walk.run_of.charged.get((fact.document, fact.line), 0)
    cost = fact.amount + charges
    if cost < 0:
        raise Refused(
            f"document {fact.document}, line {fact.line} ({fact.sku}): its discounts come to more than it "
            "cost. Check the sign: a discount is typed as a positive amount."
        )
    quantity = fact.quantity_milli
    key = (fact.effect_date, 1, fact.document, fact.line)
    shelf.under_way[key[2:]] = ShelfLot(key, quantity, cost, [Layer(1, quantity, cost)])
    walk.invoice_costs[key[2:]] = (fact.amount, quantity)
    walk.run_of.lot(fact, quantity, fact.amount, charges)


def arrive_from_shipment(walk: ShelfWalk, fact: FactLine, shelf: Shelf) -> None:
    """Bring in what was under way: the good pieces become a lot with its place in the order of use.

    What is claimed leaves at the supplier's credit, what is lost as usual takes no cost with it, and
    what is an expense enters the new lot and leaves it at once.
    Raises Refused where more arrives than is under way, or it would cost less than nothing.
    """
    run, number = walk.run_of, (fact.ref_document or 0, fact.ref_line or 0)
    shipped = shelf.under_way.get(number)
    left = shipped.left if shipped is not None else 0
    if shipped is None or fact.quantity_milli > left:
        raise Refused(
            f"{fact.sku}: {show_quantity(fact.quantity_milli)} arrive on {fact.effect_date}, but of shipment "
            f"{number[0]} only {show_quantity(left)} are still under way. What is more than was shipped is a "
            "purchase of its own."
        )
    invoice, size = walk.invoice_costs[number]
    before = size - left
    cost = shelf.take_from(shipped, fact.quantity_milli)
    after = before + fact.quantity_milli
    invoice_cost = divide_round(invoice * after, size) - divide_round(invoice * before, size)
    kept = fact.quantity_milli - fact.claimed_milli - fact.normal_milli
    kept_cost = cost - fact.claimed_amount
    charges = run.charged.get((fact.document, fact.line), 0)
    if kept_cost < 0 or kept_cost + charges < 0:
        raise Refused(
            f"document {fact.document}, line {fact.line} ({fact.sku}): what is credited comes to more than it "
            "cost. Check the credit."
        )
    part = 1
    run.legs.entry(fact, part, "under way", number, -fact.quantity_milli, -cost)
    entries: list[tuple[str, tuple[int, int] | None, int, int]] = []
    if kept:
        entries.append((ON_HAND, (fact.document, fact.line), kept, kept_cost))
    if fact.claimed_milli:
        entries.append(("returned to supplier", None, fact.claimed_milli, fact.claimed_amount))
    if fact.normal_milli:
        entries.append(("spoilage", None, fact.normal_milli, 0))
    if not kept and kept_cost:
        entries.append((PRICE_DIFFERENCES, None, 0, kept_cost))
    for account, lot, quantity, amount in entries:
        part += 1
        run.legs.entry(fact, part, account, lot, quantity, amount)
    if not kept:
        return
    run.first_part[fact.document, fact.line] = part
    own_invoice = invoice_cost - fact.claimed_amount
    run.lot(fact, kept, own_invoice, kept_cost - own_invoice + charges)
    walk.put_lot(fact, shelf, (kept, kept_cost + charges, own_invoice))

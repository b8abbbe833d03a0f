"""Lines of an arrival: what is bought that day, what it costs by the invoice, and what it weighs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ledger.book.arrival_parts import Arriving
from ledger.catalogue.items import Item
from ledger.costing.landed import InvoiceLine
from ledger.costing.spreading import spread
from ledger.exact.quantity import MILLI
from ledger.exact.rounding import divide_round


@dataclass(frozen=True, slots=True)
class Bought:
    """A line that is bought on the day of arrival: of a shipment, or beyond it."""

    item: Item
    quantity_milli: int
    amount_foreign: int
    part: Arriving | None = None


def measure(part: Arriving | None, of_line: int | None, of_unit: int | None, good: int) -> int | None:
    """Return the weight or volume of good pieces: by the shipment's line, else by the item's own."""
    if part is not None and of_line is not None:
        return divide_round(of_line * good, part.shipped.quantity_milli)
    return None if of_unit is None else divide_round(of_unit * good, MILLI)


def bought_of(part: Arriving, items: Mapping[str, Item]) -> Bought:
    """Return what of a shipment is bought on arrival; parts of all arrivals add up to the shipped line."""
    shipped = part.shipped
    amount = part.amount_foreign
    if amount is None:
        rest = shipped.open_milli - part.quantity_milli
        amount = spread(shipped.amount_foreign - shipped.arrived_foreign, [part.quantity_milli, rest])[0]
    return Bought(items[shipped.sku], part.quantity_milli, amount, part)


def invoice_of(one: Bought) -> InvoiceLine:
    """Return a bought line as costing takes it."""
    part = one.part
    return InvoiceLine(
        one.item.sku,
        one.item.tax_class,
        one.quantity_milli,
        one.amount_foreign,
        part.claimed_milli if part else 0,
        part.normal_milli if part else 0,
        part.expensed_milli if part else 0,
    )


def cost_of(part: Arriving, credited: Mapping[tuple[int, int], int]) -> int:
    """Return what the arriving part cost by the invoice, without what is credited."""
    shipped = part.shipped
    before, after = shipped.arrived_milli, shipped.arrived_milli + part.quantity_milli
    invoice = divide_round(shipped.amount * after, shipped.quantity_milli)
    invoice -= divide_round(shipped.amount * before, shipped.quantity_milli)
    return invoice - credited.get((shipped.document, shipped.line), 0)

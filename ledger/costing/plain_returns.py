"""Goods that return, in the plain engine: what customers bring back, and what goes back to suppliers."""

from __future__ import annotations

from ledger.costing.facts import FactLine
from ledger.costing.plain_checks import reference
from ledger.costing.plain_entries import ON_HAND, SENT_BACK, Entry, entries_of_what_came_back
from ledger.costing.plain_figures import Figure, rounded, shown, spread
from ledger.costing.plain_shelf import Issue, Taking
from ledger.costing.plain_stock import Stock, refuse_a_short
from ledger.errors import Refused


def take_back(line: FactLine, stock: Stock) -> list[Entry]:
    """Return the entries of what a customer brings back into the lots it came from, what left last first.

    Raises:
        Refused: less is still out of the sale.
    """
    sale = stock.issues.get(reference(line))
    _refuse_to_take_back_too_much(line, sale)
    assert sale is not None
    entries: list[Entry] = []
    wanted_milli = line.quantity_milli
    if sale.short is not None and sale.short.open_milli > 0:
        milli = min(wanted_milli, sale.short.open_milli)
        wanted_milli -= milli
        entries += entries_of_what_came_back(milli, stock.put_back_short(sale, milli), None)
    for taking in reversed(sale.takings):
        milli = min(wanted_milli, taking.out_milli())
        if milli > 0:
            wanted_milli -= milli
            entries += entries_of_what_came_back(milli, stock.put_back(taking, milli), taking.lot)
    return entries


def send_back(line: FactLine, stock: Stock) -> list[Entry]:
    """Return the entries of what goes back to the supplier: first of the lot it came in, then of the oldest.

    Raises:
        NotEnoughStock: more is sent back than is on hand.
    """
    shelf = stock.shelves[line.sku]
    there_milli = shelf.left_milli
    if there_milli < line.quantity_milli:
        refuse_a_short(line, there_milli, "Correct the quantity or date.")
    own_lot = shelf.lot(line.ref_document, line.ref_line)
    takings = shelf.take_from(own_lot, line.quantity_milli, line) if own_lot else []
    takings += shelf.take(line.quantity_milli - sum(taking.quantity_milli for taking in takings), line)
    entries: list[Entry] = []
    for taking, credit in zip(takings, _credits(line, takings), strict=True):
        difference = stock.figures.work_out(lambda cost, given: cost - given, (taking.amount, credit))
        entries += [
            Entry(ON_HAND, -taking.quantity_milli, taking.amount, taking.lot, comes_in=False),
            Entry(SENT_BACK, taking.quantity_milli, credit, taking.lot),
            Entry("supplier price differences", 0, difference, taking.lot, or_nothing=True),
        ]
    return entries


def _credits(line: FactLine, takings: list[Taking]) -> list[Figure[int]]:
    """Return what the supplier gives for each taking: its invoice cost where nothing else is said."""
    if line.credit is not None:
        parts = spread(line.credit, [taking.quantity_milli for taking in takings])
        return [Figure(part) for part in parts]
    credits_given: list[Figure[int]] = []
    for taking in takings:
        lot = taking.lot
        if lot is None or lot.invoice_amount is None:
            credits_given.append(taking.amount)
        else:
            invoice_cost = rounded(lot.invoice_amount * taking.quantity_milli, lot.received_milli)
            credits_given.append(Figure(invoice_cost))
    return credits_given


def _refuse_to_take_back_too_much(line: FactLine, sale: Issue | None) -> None:
    """Raise Refused where less is still out of a sale than is taken back."""
    out_milli = 0
    if sale is not None:
        out_milli = sum(taking.out_milli() for taking in sale.takings)
        out_milli += sale.short.open_milli if sale.short else 0
    if line.quantity_milli > out_milli:
        raise Refused(
            f"{line.sku} on {line.effect_date}: document {line.document}, line {line.line} takes back "
            f"{shown(line.quantity_milli)}, but of sale {line.ref_document}, line {line.ref_line} only "
            f"{shown(out_milli)} is still out. Correct the quantity, the date or the sale."
        )

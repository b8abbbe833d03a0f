"""Rows of a sales export that belong to an order's sale: fees kept for it, shipping the buyer paid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from ledger.errors import Problem
from ledger.exact.numbers import show_fraction
from ledger.intake.events import EventRow
from ledger.intake.sales import SetAsideRow
from ledger.intake.sales_amounts import Added


@dataclass(frozen=True, slots=True)
class Addition:
    """One such row: what it adds, the SKU it names ('' for none), its place and what it says."""

    added: Added
    sku: str
    where: str
    text: str


class Additions:
    """The fees and shipping rows of one file, put to the sales and refunds of their orders."""

    def __init__(self, rows: Sequence[EventRow]) -> None:
        self.rows = list(rows)
        self.set_aside: list[SetAsideRow] = []
        self.problems: list[Problem] = []
        self._orders: dict[str, list[int]] = {}
        for place, row in enumerate(self.rows):
            self._orders.setdefault(row.reference, []).append(place)

    def add(self, addition: Addition) -> None:
        """Put one row to its order: to the sale of its SKU where it names one, else to the first sale.

        What is given back goes to the order's refund. A row without its order's sale in the file is set
        aside; one that cannot be put anywhere is a problem.
        """
        added = addition.added
        places = self._orders.get(added.order, [])
        if not places:
            rule = f"{added.kind} of an order that is not in this file"
            self.set_aside.append(SetAsideRow(addition.where, addition.text or added.order, rule))
            return
        events = ("sell",) if added.amount > 0 else ("take_back", "refund")
        of_kind = [place for place in places if self.rows[place].event in events]
        chosen = next((place for place in of_kind if self.rows[place].sku == addition.sku), None)
        if chosen is None:
            chosen = next(iter(of_kind), None)
        if chosen is not None:
            self._put(chosen, addition, abs(added.amount))
            return
        sale = next((place for place in places if self.rows[place].event == "sell"), None)
        kept = getattr(self.rows[sale], added.kind) or Fraction(0) if sale is not None else Fraction(0)
        if added.amount < 0 and sale is not None and kept + added.amount >= 0:
            self._put(sale, addition, added.amount)
            return
        self.problems.append(_nowhere(addition))

    def _put(self, place: int, addition: Addition, amount: Fraction) -> None:
        row, kind, currency = self.rows[place], addition.added.kind, addition.added.currency
        if row.currency and row.currency != currency:
            what = f"the {kind} of order {row.reference} are in {currency}, its sale is in {row.currency}."
            self.problems.append(Problem(addition.where, what, "Bring them into one currency."))
            return
        if kind == "fees":
            self.rows[place] = replace(row, fees=(row.fees or Fraction(0)) + amount)
        else:
            self.rows[place] = replace(row, shipping=(row.shipping or Fraction(0)) + amount)


def _nowhere(addition: Addition) -> Problem:
    added = addition.added
    amount = show_fraction(abs(added.amount))
    if added.amount > 0:
        what = f"{amount} of {added.kind} for order {added.order}, which has no sale in this file."
        return Problem(addition.where, what, "Leave the row out, or take an export that holds the sale too.")
    what = (
        f"{amount} of {added.kind} was given back for order {added.order}, which has no refund in this file."
    )
    advice = "Check the sign of the row"
    if added.kind == "fees":
        advice += ': where fees are written without a minus, say fee_rows = "plus" under [amounts]'
    return Problem(addition.where, what, f"{advice}. Else leave the row out.")

"""Receipts of goods with the order behind each, as a comparison with offers takes them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from ledger.book.order_offers import Bought, BoughtLine, PlacedOrder, order_behind


@dataclass(frozen=True)
class ReceivedLine:
    """One line that came in, with its lot's costs; ``lost_milli`` is what was no good and not claimed."""

    line: int
    sku: str
    quantity_milli: int
    amount_foreign: int
    invoice_minor: int
    charges_minor: int
    claimed_minor: int
    claimed_milli: int
    lost_milli: int
    ship_document: int | None
    ship_line: int | None


@dataclass(frozen=True)
class Received:
    """Goods that came in; ``currency`` and ``rate`` are those they were bought at, of the shipment or the receipt."""

    number: int
    received_on: str
    effect_date: str
    party: str
    rate: Fraction
    currency: str
    lines: tuple[ReceivedLine, ...]
    order: PlacedOrder | None

    @property
    def decided_on(self) -> str:
        """The day the buying was decided: of the order, else of the receipt."""
        return self.order.ordered_on if self.order else self.received_on

    def bought(self) -> Bought:
        """Return what was ordered, and what came without being ordered; all that came where nothing was."""
        ordered = self.order.lines if self.order else ()
        known = {line.sku for line in ordered}
        came = tuple(
            BoughtLine(line.sku, line.quantity_milli, line.amount_foreign)
            for line in self.lines
            if line.sku not in known
        )
        return Bought(
            party=self.party,
            decided_on=self.decided_on,
            currency=self.order.currency if self.order else self.currency,
            terms=self.order.terms if self.order else "",
            offer=self.order.offer if self.order else None,
            lines=(*ordered, *came),
        )


_RECEIPTS = """
SELECT d.number, coalesce(d.arrived_on, d.document_date), d.effect_date, d.party,
    coalesce(s.rate, d.rate), coalesce(s.currency, d.currency)
FROM document AS d
LEFT JOIN document AS s ON s.number = d.follows AND s.event = 'ship' AND s.terms <> 'arrival'
WHERE d.event = 'receipt' AND d.party IS NOT NULL
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number) ORDER BY d.number
"""
"""Receipts with the rate their goods were bought at: the shipment's, where it made them the shop's."""

_LINES = """
SELECT l.line, l.sku, l.quantity_milli, l.amount_foreign, lot.invoice_cost, lot.charges,
    coalesce(l.claimed_amount, 0), l.claimed_milli, l.normal_milli + l.expensed_milli, s.document, s.line
FROM document_line AS l
JOIN lot ON lot.document = l.document AND lot.line = l.line
LEFT JOIN lot AS s ON s.document = l.lot_document AND s.line = l.lot_line
WHERE l.document = ? AND l.quantity_milli > 0 ORDER BY l.line
"""
"""A receipt's lines, each with the lot that was under way before, where it was the shop's then."""


def received_goods(connection: sqlite3.Connection) -> Iterator[Received]:
    """Return the receipts that were not undone, in the order they were posted."""
    for number, received_on, effect_date, party, rate, currency in connection.execute(_RECEIPTS).fetchall():
        lines = tuple(ReceivedLine(*row) for row in connection.execute(_LINES, (number,)))
        order = order_behind(connection, number)
        if lines:
            yield Received(number, received_on, effect_date, party, Fraction(rate), currency, lines, order)

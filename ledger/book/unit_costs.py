"""What an item cost a piece: each lot as it came in, landed, and what left at its own cost."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from fractions import Fraction

from ledger.book import looking


@dataclass(frozen=True, slots=True)
class CameIn:
    """A lot as it came in: the event that made it, thousandths, landed cost in minor units with late charges."""

    day: str
    lot: str
    event: str
    party: str
    quantity_milli: int
    landed_cost_minor: int

    @property
    def unit_cost_minor(self) -> Fraction:
        """Landed cost of one base unit, in minor units."""
        return Fraction(self.landed_cost_minor * 1000, self.quantity_milli)


@dataclass(frozen=True, slots=True)
class WentOut:
    """What left with a document: thousandths, and what it cost first in, first out, in minor units."""

    day: str
    document: int
    event: str
    quantity_milli: int
    cost_minor: int

    @property
    def unit_cost_minor(self) -> Fraction:
        """Cost of one base unit that left, in minor units."""
        return Fraction(self.cost_minor * 1000, self.quantity_milli)


@dataclass(frozen=True, slots=True)
class UnitCosts:
    """An item's lots as they came in, and what left, each by date."""

    sku: str
    name: str
    base_unit: str
    currency: str
    came_in: tuple[CameIn, ...]
    went_out: tuple[WentOut, ...]


def unit_costs(connection: sqlite3.Connection, sku: str, currency: str) -> UnitCosts:
    """Return what an item cost a base unit over time.

    Lots that nothing was received of, and changes of cost alone, have no cost of a piece and are not in it.

    Raises Refused where the book does not know the SKU.
    """
    moves = looking.history(connection, sku)
    name, unit = connection.execute("SELECT name, base_unit FROM item WHERE sku = ?", (sku,)).fetchone()
    event_of = dict(
        connection.execute(
            "SELECT DISTINCT lot.document, d.event FROM lot JOIN document AS d ON d.number = lot.document "
            "WHERE lot.sku = ?",
            (sku,),
        ).fetchall()
    )
    came_in = [
        CameIn(
            lot.received_on,
            f"{lot.document}.{lot.line}",
            event_of[lot.document],
            lot.party,
            lot.quantity_received,
            lot.landed_cost,
        )
        for lot in looking.lots(connection, sku, include_empty=True)
        if lot.quantity_received > 0
    ]
    went_out = [
        WentOut(move.effect_date, move.document, move.event, -move.quantity_milli, -move.amount)
        for move in moves
        if move.quantity_milli < 0
    ]
    return UnitCosts(sku, name, unit, currency, tuple(came_in), tuple(went_out))

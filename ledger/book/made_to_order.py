"""Made to order: selling a finished item that is not in stock makes it that day."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping

from ledger.book.entries import Entry, EntryLine
from ledger.catalogue.boms import Catalogue, Made, explode, labour
from ledger.costing.facts import COMPONENT, LABOUR, PRODUCT
from ledger.exact.quantity import MILLI


class Availability:
    """What of an item can leave on a day without taking it from anything entered for later."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._moves: dict[str, dict[str, int]] = {}

    def _of(self, sku: str) -> dict[str, int]:
        if sku not in self._moves:
            rows = self._connection.execute(
                "SELECT effect_date, sum(quantity_milli) FROM leg WHERE sku = ? AND account = 'on hand' "
                "GROUP BY effect_date",
                (sku,),
            )
            self._moves[sku] = dict(rows.fetchall())
        return self._moves[sku]

    def move(self, sku: str, day: str, quantity: int) -> None:
        """Count something that is about to be posted: in positive, out negative."""
        moves = self._of(sku)
        moves[day] = moves.get(day, 0) + quantity

    def free(self, sku: str, day: str) -> int:
        """Return what is there at the end of the day and on every later one, in thousandths."""
        running, least = 0, None
        for date, quantity in sorted(self._of(sku).items()):
            if date > day and least is None:
                least = running
            running += quantity
            if date >= day:
                least = running if least is None else min(least, running)
        return max(0, running if least is None else least)


def job_lines(
    made: Made,
    pieces: tuple[int, int, int],
    catalogue: Catalogue,
    *,
    labour_paid: int | None,
    currency: str,
    short_allowed: bool,
) -> tuple[EntryLine, ...]:
    """Return the lines of a job: what every piece consumes, what it makes, what was paid for it.

    ``pieces`` are good, normally spoiled and abnormally spoiled ones. ``labour_paid`` is in minor
    units; None takes the bill's. Raises ValueProblem as `explode`.
    """
    good, normal, abnormal = pieces
    total = good + normal + abnormal
    components = [
        EntryLine(
            item=catalogue.items[one.sku],
            role=COMPONENT,
            quantity_milli=one.quantity_milli,
            short_allowed=short_allowed,
        )
        for one in explode(made.bill, made.blank, total, catalogue.items, catalogue.packs)
    ]
    product = EntryLine(
        item=made.item,
        role=PRODUCT,
        quantity_milli=total * MILLI,
        normal_milli=normal * MILLI,
        expensed_milli=abnormal * MILLI,
    )
    paid = labour(made.bill, total, currency) if labour_paid is None else labour_paid
    work = (EntryLine(item=made.item, role=LABOUR, amount=paid),) if paid else ()
    return (*components, *work, product)


def job_for_sale(
    sale: Entry, line: EntryLine, missing: int, made: Mapping[str, Made], catalogue: Catalogue, currency: str
) -> Entry:
    """Return the job that makes what a sale lacks, ``missing`` whole pieces, on the day of the sale."""
    lines = job_lines(
        made[line.item.sku],
        (missing, 0, 0),
        catalogue,
        labour_paid=None,
        currency=currency,
        short_allowed=line.short_allowed,
    )
    return Entry(
        event="make",
        on=sale.on,
        lines=lines,
        where=sale.where,
        reference=sale.reference,
        currency=currency,
        note="made to order",
    )

"""What a replay starts from: an item's open facts, and what stood on its shelf at the last close."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, field

from ledger.book.documents import FACT_COLUMNS
from ledger.costing.facts import CLASS_IN_DAY, PRODUCT, FactLine, ShareFact
from ledger.costing.layers import OpenLayer
from ledger.costing.shelf import LotId, Portion, Taken
from ledger.costing.walk import KnownLot, Start


@dataclass(slots=True)
class Work:
    """What one run of the engine works on."""

    facts: list[FactLine] = field(default_factory=list)
    shares: list[tuple[ShareFact, str, str]] = field(default_factory=list)
    layers: list[OpenLayer] = field(default_factory=list)
    lots: list[KnownLot] = field(default_factory=list)
    sold: dict[LotId, Taken] = field(default_factory=dict)
    short: dict[str, int] = field(default_factory=dict)
    job_costs: dict[int, int] = field(default_factory=dict)

    def start(self) -> Start:
        """Return what stood before the first fact."""
        return Start(self.layers, self.lots, self.sold, self.short, self.job_costs)


_OPEN_LAYERS = """
SELECT lot.sku, layer.lot_document, layer.lot_line, layer.position, layer.quantity, layer.amount, layer.used
FROM lot INDEXED BY lot_on_hand JOIN layer ON layer.lot_document = lot.document AND layer.lot_line = lot.line
WHERE lot.sku = ? AND lot.quantity_on_hand > 0
ORDER BY lot.available_from, lot.class, lot.document, lot.line, layer.position
"""

_CLOSED_LAYERS = """
SELECT lot.sku, layer.lot_document, layer.lot_line, layer.position, layer.quantity, layer.amount, layer.used
FROM lot CROSS JOIN closed_layer AS layer ON layer.lot_document = lot.document AND layer.lot_line = lot.line
WHERE lot.sku = ? AND layer.close_document = (
    SELECT max(document) FROM month_event WHERE action = 'close' AND month = (
        SELECT substr(closed_through, 1, 7) FROM boundary))
ORDER BY lot.available_from, lot.class, lot.document, lot.line, layer.position
"""

_CLOSED_LOTS = """
SELECT sku, available_from, class, document, line, quantity_received, invoice_cost, charges FROM lot
WHERE sku = ? AND owned_from <= (SELECT closed_through FROM boundary)
"""

_OPEN_LOTS = """
SELECT sku, available_from, class, document, line, quantity_received, invoice_cost, charges FROM lot INDEXED BY lot_on_hand
WHERE sku = ? AND quantity_on_hand > 0
"""

# A document whose pair was dropped takes no part in the costing; neither do the shares of one.
_OPEN_FACTS = f"""
SELECT {FACT_COLUMNS}
FROM document_line AS l JOIN document AS d ON d.number = l.document
WHERE l.sku = ? AND d.effect_date > (SELECT closed_through FROM boundary)
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = l.document AND u.path = 'dropped')
"""  # noqa: S608  (a constant of another module)

_OPEN_SHARES = """
SELECT s.document, s.line, s.position, s.receipt_document, s.receipt_line, s.amount, s.path, s.effect_date,
    l.sku, l.tax_class
FROM document_line AS l
JOIN charge_share AS s ON s.receipt_document = l.document AND s.receipt_line = l.line
WHERE l.sku = ? AND s.effect_date > (SELECT closed_through FROM boundary) AND s.path = 'with receipt'
    AND NOT EXISTS (
        SELECT 1 FROM document AS u WHERE u.undoes IN (s.document, l.document) AND u.path = 'dropped')
"""

_CLOSED_SHORT = """
SELECT coalesce(sum(quantity_milli), 0) FROM short
WHERE sku = ? AND effect_date <= (SELECT closed_through FROM boundary)
"""


def open_layers(connection: sqlite3.Connection, sku: str) -> Iterable[OpenLayer]:
    """Yield an item's layers as they are open now, in FIFO order."""
    return (OpenLayer(*row) for row in connection.execute(_OPEN_LAYERS, (sku,)))


def open_lots(connection: sqlite3.Connection, sku: str) -> Iterable[KnownLot]:
    """Yield an item's lots with something on hand."""
    return _known_lots(connection, _OPEN_LOTS, sku)


def _known_lots(connection: sqlite3.Connection, query: str, sku: str) -> Iterable[KnownLot]:
    for name, available, day_class, document, line, received, invoice_cost, charges in connection.execute(
        query, (sku,)
    ):
        key = (available, day_class, document, line)
        yield KnownLot(name, key, received, invoice_cost, invoice_cost + charges)


def add_replayed(connection: sqlite3.Connection, work: Work, skus: set[str]) -> None:
    """Add all open facts of some items to the work, and what stood before them.

    What a job took by lines that are not in the work is read from their legs. Call it when the
    facts that only continue are in the work already, and before the items' legs are removed.
    """
    for sku in sorted(skus):
        work.layers.extend(OpenLayer(*row) for row in connection.execute(_CLOSED_LAYERS, (sku,)))
        work.lots.extend(_known_lots(connection, _CLOSED_LOTS, sku))
        short = connection.execute(_CLOSED_SHORT, (sku,)).fetchone()[0]
        if short:
            work.short[sku] = short
        facts = [FactLine(*row) for row in connection.execute(_OPEN_FACTS, (sku,)) if row[2] in CLASS_IN_DAY]
        work.facts.extend(facts)
        work.shares.extend(
            (ShareFact(*row[:8]), row[8], row[9]) for row in connection.execute(_OPEN_SHARES, (sku,))
        )
        _add_closed_sales(connection, work, facts)
    _add_job_costs(connection, work)


_COMPONENT_COSTS = """
SELECT leg.line, sum(leg.amount) FROM leg
JOIN document_line AS l ON l.document = leg.document AND l.line = leg.line
WHERE leg.document = ? AND leg.account = 'work in process' AND l.role = 'component' GROUP BY leg.line
"""


def _add_job_costs(connection: sqlite3.Connection, work: Work) -> None:
    """Add what jobs took by lines that are not costed in this run."""
    in_run = {(fact.document, fact.line) for fact in work.facts}
    for fact in work.facts:
        if fact.role == PRODUCT:
            cost = sum(
                amount
                for line, amount in connection.execute(_COMPONENT_COSTS, (fact.document,))
                if (fact.document, line) not in in_run
            )
            if cost:
                work.job_costs[fact.document] = work.job_costs.get(fact.document, 0) + cost


_SALE_PORTIONS = """
SELECT lot_document, lot_line, -quantity_milli, -amount FROM leg
WHERE document = ? AND line = ? AND account = 'on hand'
    AND effect_date <= (SELECT closed_through FROM boundary) ORDER BY part
"""

_CLOSED_RETURNS = """
SELECT l.quantity_milli FROM document_line AS l CROSS JOIN document AS d ON d.number = l.document
WHERE l.sku = ? AND l.lot_document = ? AND l.lot_line = ? AND d.event = 'take back'
    AND d.effect_date <= (SELECT closed_through FROM boundary)
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number AND u.path = 'dropped')
ORDER BY d.effect_date, d.number
"""


def _add_closed_sales(connection: sqlite3.Connection, work: Work, facts: Iterable[FactLine]) -> None:
    """Add the portions of sales of closed months that customers return in open ones."""
    for fact in facts:
        if fact.event != "take back" or not fact.ref_document or not fact.ref_line:
            continue
        sale = (fact.ref_document, fact.ref_line)
        portions = [
            Portion((document, line) if document else None, quantity, amount)
            for document, line, quantity, amount in connection.execute(_SALE_PORTIONS, sale)
        ]
        if not portions or sale in work.sold:
            continue
        for (returned,) in connection.execute(_CLOSED_RETURNS, (fact.sku, *sale)):
            _give_back(portions, returned)
        work.sold[sale] = Taken(portions)


def _give_back(portions: list[Portion], quantity: int) -> None:
    for portion in reversed(portions):
        back = min(quantity, portion.quantity - portion.back)
        if back:
            portion.give_back(back)
            quantity -= back

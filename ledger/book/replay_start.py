"""What a replay starts from: an item's open facts, and what stood on its shelf at the last close."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, field

from ledger.book.documents import FACT_COLUMNS, SHARE_COLUMNS
from ledger.book.late_families import past_moves
from ledger.costing.facts import ARRIVES_FROM, CLASS_IN_DAY, LATE, PRODUCT, FactLine, ShareFact
from ledger.costing.late import Move
from ledger.costing.layers import OpenLayer
from ledger.costing.shelf import LotId, Portion, Taken
from ledger.costing.states import KnownLot, Start


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
    reversed_jobs: dict[int, int] = field(default_factory=dict)
    past: list[Move] = field(default_factory=list)
    made: dict[int, LotId] = field(default_factory=dict)

    def start(self) -> Start:
        """Return what stood before the first fact."""
        return Start(
            self.layers,
            self.lots,
            self.sold,
            self.short,
            self.job_costs,
            self.reversed_jobs,
            self.past,
            self.made,
        )


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

# What late charges of closed months added is part of what a lot cost landed; a reversed one cost nothing.
_LATE_BY_CLOSE = """
(SELECT coalesce(sum(c.amount), 0) FROM late_cost AS c WHERE c.lot_document = lot.document
    AND c.lot_line = lot.line AND c.effect_date <= (SELECT closed_through FROM boundary)),
EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = lot.document AND u.path = 'reversal'
    AND u.effect_date <= (SELECT closed_through FROM boundary))
"""

_CLOSED_LOTS = f"""
SELECT sku, available_from, owned_from, class, document, line, quantity_received, invoice_cost, charges,
    {_LATE_BY_CLOSE}
FROM lot WHERE sku = ? AND owned_from <= (SELECT closed_through FROM boundary)
"""  # noqa: S608  (a constant of this module)

_LATE_NOW = """
(SELECT coalesce(sum(c.amount), 0) FROM late_cost AS c WHERE c.lot_document = lot.document
    AND c.lot_line = lot.line), 0
"""

_OPEN_LOTS = f"""
SELECT sku, available_from, owned_from, class, document, line, quantity_received, invoice_cost, charges,
    {_LATE_NOW}
FROM lot INDEXED BY lot_on_hand WHERE sku = ? AND quantity_on_hand > 0
"""  # noqa: S608  (a constant of this module)

# A document whose pair was dropped takes no part in the costing; neither do the shares of one.
_OPEN_FACTS = f"""
SELECT {FACT_COLUMNS}
FROM document_line AS l JOIN document AS d ON d.number = l.document
WHERE l.sku = ? AND d.effect_date > (SELECT closed_through FROM boundary)
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = l.document AND u.path = 'dropped')
"""  # noqa: S608  (a constant of another module)

_OPEN_SHARES = f"""
SELECT {SHARE_COLUMNS}, l.sku, l.tax_class
FROM document_line AS l
JOIN charge_share AS s ON s.receipt_document = l.document AND s.receipt_line = l.line
WHERE l.sku = ? AND s.effect_date > (SELECT closed_through FROM boundary)
    AND NOT EXISTS (
        SELECT 1 FROM document AS u WHERE u.undoes IN (s.document, l.document) AND u.path = 'dropped')
"""  # noqa: S608  (a constant of another module)

# What was short at the close, less what of it came back since: the lots held more than the balance says.
_CLOSED_QUANTITY = """
SELECT quantity_milli FROM month_balance
WHERE sku = ? AND month <= (SELECT substr(closed_through, 1, 7) FROM boundary) ORDER BY month DESC LIMIT 1
"""


def open_layers(connection: sqlite3.Connection, sku: str) -> Iterable[OpenLayer]:
    """Yield an item's layers as they are open now, in FIFO order."""
    return (OpenLayer(*row) for row in connection.execute(_OPEN_LAYERS, (sku,)))


def open_lots(connection: sqlite3.Connection, sku: str) -> Iterable[KnownLot]:
    """Yield an item's lots with something on hand."""
    return _known_lots(connection, _OPEN_LOTS, sku)


def _known_lots(connection: sqlite3.Connection, query: str, sku: str) -> Iterable[KnownLot]:
    for row in connection.execute(query, (sku,)):
        name, available, owned, day_class, document, line, received, invoice_cost, charges, late, gone = row
        key = (available or owned, day_class, document, line)
        landed = None if gone else invoice_cost + charges + late
        yield KnownLot(name, key, received, invoice_cost, landed, available is None)


def add_replayed(connection: sqlite3.Connection, work: Work, skus: set[str], until: str = "9999") -> None:
    """Add all open facts of some items up to a day to the work, and what stood before them.

    What a job took by lines that are not in the work is read from their legs. Call it when the
    facts that only continue are in the work already, and before the items' legs are removed.
    """
    for sku in sorted(skus):
        layers = [OpenLayer(*row) for row in connection.execute(_CLOSED_LAYERS, (sku,))]
        lots = list(_known_lots(connection, _CLOSED_LOTS, sku))
        work.layers.extend(layers)
        work.lots.extend(lots)
        under_way = {lot.key[2:] for lot in lots if lot.is_under_way}
        there = sum(one.left for one in layers if (one.lot_document, one.lot_line) not in under_way)
        balance = connection.execute(_CLOSED_QUANTITY, (sku,)).fetchone()
        short = there - (balance[0] if balance else 0)
        if short:
            work.short[sku] = short
        facts = [
            FactLine(*row)
            for row in connection.execute(_OPEN_FACTS, (sku,))
            if row[2] in CLASS_IN_DAY and row[3] <= until
        ]
        work.facts.extend(facts)
        work.shares.extend(
            (ShareFact(*row[:9]), row[9], row[10])
            for row in connection.execute(_OPEN_SHARES, (sku,))
            if row[7] <= until
        )
        _add_closed_sales(connection, work, facts)
        _add_reversed_jobs(connection, work, facts)
    _add_job_costs(connection, work)
    if any(share.path == LATE for share, _, _ in work.shares):
        work.past, work.made = past_moves(connection, work.shares)


_JOB_COST = """
SELECT coalesce(-sum(amount), 0) FROM leg WHERE document = ? AND line = ? AND account = 'work in process'
    AND effect_date <= (SELECT closed_through FROM boundary) HAVING count(*) > 0
"""


def _add_reversed_jobs(connection: sqlite3.Connection, work: Work, facts: Iterable[FactLine]) -> None:
    """Add what jobs of closed months cost whose products are reversed in open ones."""
    for fact in facts:
        if fact.event == "reversal" and fact.role == PRODUCT:
            row = connection.execute(_JOB_COST, (fact.ref_document, fact.ref_line)).fetchone()
            if row is not None:
                work.reversed_jobs[fact.ref_document or 0] = row[0]


_COMPONENT_COSTS = """
SELECT leg.line, sum(leg.amount) FROM leg
JOIN document_line AS l ON l.document = leg.document AND l.line = leg.line
WHERE leg.document = ? AND leg.account = 'work in process' AND l.role = 'component' GROUP BY leg.line
"""


def _add_job_costs(connection: sqlite3.Connection, work: Work) -> None:
    """Add what jobs took by lines that are not costed in this run."""
    in_run = {(fact.document, fact.line) for fact in work.facts}
    for fact in work.facts:
        if fact.role == PRODUCT and fact.event == "make":
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
    """Add the portions of lines of closed months that come back in open ones."""
    for fact in facts:
        if not _comes_back(fact) or not fact.ref_document or not fact.ref_line:
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


def _comes_back(fact: FactLine) -> bool:
    """Whether a line brings back what an earlier one took."""
    if fact.event == "reversal":
        return fact.role != PRODUCT and fact.undone_event not in ARRIVES_FROM
    return fact.event == "take back"


def _give_back(portions: list[Portion], quantity: int) -> None:
    for portion in reversed(portions):
        back = min(quantity, portion.quantity - portion.back)
        if back:
            portion.give_back(back)
            quantity -= back

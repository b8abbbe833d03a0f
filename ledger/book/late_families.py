"""Late charges among the facts: the items they tie together, and what left their lots in closed months.

Where a late charge falls depends on what became of its lot's units, in jobs and jobs of jobs. So the
charged item and all that was ever made from it are costed again together.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ledger.costing.facts import FactLine, ShareFact
from ledger.costing.late import Move
from ledger.costing.shelf import LotId

_OPEN_LATE = """
SELECT s.effect_date, l.sku FROM charge_share AS s
JOIN document_line AS l ON l.document = s.receipt_document AND l.line = s.receipt_line
WHERE s.path = 'late' AND s.effect_date > (SELECT closed_through FROM boundary) AND s.amount <> 0
    AND l.tax_class <> 'supplies when bought'
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = s.document AND u.path = 'dropped')
"""

_EVER_MADE_FROM = """
SELECT DISTINCT p.sku FROM document_line AS c
JOIN document AS d ON d.number = c.document AND d.event = 'make'
JOIN document_line AS p ON p.document = c.document AND p.role = 'product'
WHERE c.sku = ? AND c.role = 'component'
"""


@dataclass(frozen=True, slots=True)
class Family:
    """The items that late charges up to ``last_day`` tie together."""

    skus: frozenset[str]
    last_day: str


def open_families(connection: sqlite3.Connection) -> list[Family]:
    """Return the families of the late charges of open months, those that overlap joined."""
    found = [
        Family(frozenset(_ever_made(connection, sku)), day) for day, sku in connection.execute(_OPEN_LATE)
    ]
    joined: list[Family] = []
    for one in found:
        skus, day, apart = one.skus, one.last_day, []
        for other in joined:
            if skus & other.skus:
                skus, day = skus | other.skus, max(day, other.last_day)
            else:
                apart.append(other)
        joined = [*apart, Family(skus, day)]
    return joined


def _ever_made(connection: sqlite3.Connection, sku: str) -> set[str]:
    reached: set[str] = set()
    waiting = [sku]
    while waiting:
        one = waiting.pop()
        if one not in reached:
            reached.add(one)
            waiting.extend(row[0] for row in connection.execute(_EVER_MADE_FROM, (one,)))
    return reached


def tied_to(families: Sequence[Family], changed: set[str], facts: Iterable[FactLine]) -> set[str]:
    """Return the items to cost again because a late charge ties them to those that changed.

    ``facts`` are new ones: those dated up to a late charge change where its goods are.
    """
    early = {(fact.sku, fact.effect_date) for fact in facts}
    tied: set[str] = set()
    for family in families:
        if family.skus & changed or any(sku in family.skus and day <= family.last_day for sku, day in early):
            tied |= family.skus
    return tied


_CLOSED_MOVES = """
SELECT leg.document, leg.line, leg.account, sum(leg.quantity_milli), CASE WHEN d.path = 'reversal'
    THEN (SELECT o.event FROM document AS o WHERE o.number = d.undoes) ELSE d.event END,
    CASE WHEN d.path = 'reversal' THEN d.undoes ELSE leg.document END,
    m.role, m.quantity_milli, m.claimed_milli, m.normal_milli
FROM leg JOIN document AS d ON d.number = leg.document
JOIN document_line AS m ON m.document = leg.document AND m.line = leg.line
WHERE leg.lot_document = ?1 AND leg.lot_line = ?2 AND leg.account IN ('on hand', 'under way')
    AND leg.quantity_milli <> 0 AND leg.effect_date <= (SELECT closed_through FROM boundary)
    AND NOT (leg.quantity_milli > 0 AND leg.document = ?1 AND leg.line = ?2)
GROUP BY leg.document, leg.line, leg.account
"""

_FINISHED_LOT = """
SELECT lot.document, lot.line FROM lot JOIN document_line AS l ON l.document = lot.document AND l.line = lot.line
WHERE lot.document = ? AND l.role = 'product'
"""


def past_moves(
    connection: sqlite3.Connection, shares: Iterable[tuple[ShareFact, str, str]]
) -> tuple[list[Move], dict[int, LotId]]:
    """Return what left, in closed months, the lots that late shares follow, and jobs' finished lots."""
    moves: list[Move] = []
    made: dict[int, LotId] = {}
    seen: set[LotId] = set()
    waiting = [(share.receipt_document, share.receipt_line) for share, _, _ in shares if share.path == "late"]
    while waiting:
        lot = waiting.pop()
        if lot in seen:
            continue
        seen.add(lot)
        for row in connection.execute(_CLOSED_MOVES, lot):
            move = _move(connection, lot, row, made)
            moves.append(move)
            if move.into is not None:
                waiting.append(move.into)
    return moves, made


def _move(
    connection: sqlite3.Connection, lot: LotId, row: tuple[int | str, ...], made: dict[int, LotId]
) -> Move:
    document, line, account, moved, event, job, role, quantity, claimed, normal = row
    left = -int(moved)
    if account == "under way":
        kept = int(quantity) - int(claimed) - int(normal)
        return Move(lot, left, into=(int(document), int(line)) if kept else None)
    if role == "component":
        finished = connection.execute(_FINISHED_LOT, (job,)).fetchone()
        if finished is not None:
            made[int(job)] = finished
        return Move(lot, left, into=finished)
    return Move(lot, left, is_own_use=event == "own use")

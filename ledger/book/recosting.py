"""Keeping what follows from the facts: legs, lots, layers and balances of open months.

A posting at the end of an item's history continues from the item's open layers. A late one
replays the item from the last close. Either way one run of the engine does the costing, and
only the rows that changed are written.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ledger.book.documents import NewDocument
from ledger.book.month_figures import add_legs_to_months, forget_open_months
from ledger.costing.facts import ARRIVES_FROM, CLASS_IN_DAY, LEAVES_TO, FactLine, ShareFact
from ledger.costing.layers import OpenLayer
from ledger.costing.legs import legs_of, movements_from
from ledger.costing.replay import Movements, Replayed, replay

_Position = tuple[str, int, int, int]


@dataclass(frozen=True, slots=True)
class _Work:
    """What one run of the engine works on."""

    facts: list[FactLine]
    shares: list[tuple[ShareFact, str, str]]
    start: list[OpenLayer]


def recost(
    connection: sqlite3.Connection, documents: Sequence[NewDocument], late_skus: Iterable[str] = ()
) -> None:
    """Bring legs, lots, layers and balances up to the facts after ``documents`` were written.

    ``late_skus`` are replayed from the last close whatever the documents say: items whose past
    an undo or a charge on an earlier receipt changes. Runs inside the caller's transaction.
    Raises NotEnoughStock or Refused where the facts cannot be costed.
    """
    facts = sorted((fact for one in documents for fact in one.facts()), key=_position)
    shares = [share for one in documents for share in one.share_facts()]
    closed_through = connection.execute("SELECT closed_through FROM boundary").fetchone()[0]
    late = set(late_skus) | _late_among(connection, facts)
    appended = {fact.sku for fact in facts} - late
    work = _Work([], [], [])
    if appended:
        _add_appended(connection, work, [fact for fact in facts if fact.sku in appended], shares)
    if late:
        _add_replayed(connection, work, sorted(late), closed_through)
    _run(connection, work, sorted(late | appended))


def _position(fact: FactLine) -> _Position:
    """The place of a fact in costing order."""
    return (fact.effect_date, CLASS_IN_DAY[fact.event], fact.document, fact.line)


def _late_among(connection: sqlite3.Connection, facts: Sequence[FactLine]) -> set[str]:
    """Return the SKUs that have something costed after the first of their new facts."""
    first: dict[str, str] = {}
    for fact in facts:
        first.setdefault(fact.sku, _effect_key(fact.effect_date, fact.event))
    late = set()
    for sku, key in first.items():
        row = connection.execute("SELECT last_effect FROM balance WHERE sku = ?", (sku,)).fetchone()
        if row is not None and row[0] > key:
            late.add(sku)
    return late


def _effect_key(effect_date: str, event: str) -> str:
    """The day and class as one sortable text, as `balance.last_effect` keeps it."""
    return f"{effect_date} {CLASS_IN_DAY[event]}"


def _add_appended(
    connection: sqlite3.Connection,
    work: _Work,
    facts: list[FactLine],
    shares: list[ShareFact],
) -> None:
    """Add new facts that continue their items' histories, with the layers open before them."""
    known = {(fact.document, fact.line): fact for fact in facts}
    work.facts.extend(facts)
    for share in shares:
        fact = known.get((share.receipt_document, share.receipt_line))
        if fact is not None:
            work.shares.append((share, fact.sku, fact.tax_class))
    for sku in sorted({fact.sku for fact in facts}):
        work.start.extend(OpenLayer(*row) for row in connection.execute(_OPEN_LAYERS, (sku,)))


_OPEN_LAYERS = """
SELECT lot.sku, layer.lot_document, layer.lot_line, layer.position, layer.quantity, layer.amount, layer.used
FROM lot JOIN layer ON layer.lot_document = lot.document AND layer.lot_line = lot.line
WHERE lot.sku = ? AND lot.quantity_on_hand > 0
ORDER BY lot.available_from, lot.class, lot.document, lot.line, layer.position
"""

_CLOSED_LAYERS = """
SELECT lot.sku, layer.lot_document, layer.lot_line, layer.position, layer.quantity, layer.amount, layer.used
FROM lot JOIN closed_layer AS layer ON layer.lot_document = lot.document AND layer.lot_line = lot.line
WHERE lot.sku = ? AND layer.close_document = ?
ORDER BY lot.available_from, lot.class, lot.document, lot.line, layer.position
"""

_LAST_CLOSE = """
SELECT max(document) FROM month_event WHERE action = 'close' AND month = (
    SELECT substr(closed_through, 1, 7) FROM boundary)
"""

# A document whose pair was dropped takes no part in the costing; neither do the shares of one.
_OPEN_FACTS = """
SELECT l.document, l.line, d.event, d.effect_date, l.sku, l.tax_class, l.quantity_milli, l.amount,
    l.claimed_milli, l.claimed_amount, l.normal_milli, l.expensed_milli
FROM document_line AS l JOIN document AS d ON d.number = l.document
WHERE l.sku = ? AND d.effect_date > ?
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = l.document AND u.path = 'dropped')
"""

_OPEN_SHARES = """
SELECT s.document, s.line, s.position, s.receipt_document, s.receipt_line, s.amount, s.path, s.effect_date,
    l.sku, l.tax_class
FROM document_line AS l
JOIN charge_share AS s ON s.receipt_document = l.document AND s.receipt_line = l.line
WHERE l.sku = ? AND s.effect_date > ? AND s.path = 'with receipt'
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes IN (s.document, l.document) AND u.path = 'dropped')
"""


def _add_replayed(connection: sqlite3.Connection, work: _Work, skus: list[str], closed_through: str) -> None:
    """Add all open facts of some items, with the layers of the last close; forget what followed from them."""
    close = connection.execute(_LAST_CLOSE).fetchone()[0]
    facts: list[FactLine] = []
    for sku in skus:
        connection.execute("DELETE FROM leg WHERE sku = ? AND effect_date > ?", (sku, closed_through))
        forget_open_months(connection, sku, closed_through[:7])
        work.start.extend(OpenLayer(*row) for row in connection.execute(_CLOSED_LAYERS, (sku, close)))
        facts.extend(
            FactLine(*row)
            for row in connection.execute(_OPEN_FACTS, (sku, closed_through))
            if row[2] in CLASS_IN_DAY
        )
        for row in connection.execute(_OPEN_SHARES, (sku, closed_through)):
            work.shares.append((ShareFact(*row[:8]), row[8], row[9]))
    facts.sort(key=_position)
    work.facts.extend(facts)
    _forget_lots(connection, skus, closed_through, {(fact.document, fact.line) for fact in facts})


def _forget_lots(
    connection: sqlite3.Connection, skus: list[str], closed_through: str, still: set[tuple[int, int]]
) -> None:
    """Remove the layers of the items' lots, and the lots of open months that no fact makes any more."""
    for sku in skus:
        lots = connection.execute(
            "SELECT document, line, owned_from FROM lot WHERE sku = ?", (sku,)
        ).fetchall()
        connection.executemany(
            "DELETE FROM layer WHERE lot_document = ? AND lot_line = ?", [lot[:2] for lot in lots]
        )
        gone = [lot[:2] for lot in lots if lot[2] > closed_through and lot[:2] not in still]
        connection.executemany("DELETE FROM lot WHERE document = ? AND line = ?", gone)
        connection.execute("DELETE FROM balance WHERE sku = ?", (sku,))


def _run(connection: sqlite3.Connection, work: _Work, skus: list[str]) -> None:
    """Cost the work and write what follows."""
    charged: dict[tuple[int, int], int] = {}
    for share, _, _ in work.shares:
        key = (share.receipt_document, share.receipt_line)
        charged[key] = charged.get(key, 0) + share.amount
    movements = movements_from(work.facts, charged, LEAVES_TO)
    replayed = replay(work.start, movements)
    legs = legs_of(work.facts, work.shares, movements, replayed)
    connection.executemany("INSERT INTO leg VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", legs.rows())
    _write_lots(connection, work, charged, movements)
    _write_layers(connection, work.start, replayed)
    _write_balances(connection, skus, work.facts, replayed)
    add_legs_to_months(connection, legs)


def _write_lots(
    connection: sqlite3.Connection, work: _Work, charged: dict[tuple[int, int], int], movements: Movements
) -> None:
    """Write the lots that the facts make; quantities on hand follow from the layers."""
    facts = {(fact.document, fact.line): fact for fact in work.facts if fact.event in ARRIVES_FROM}
    rows = []
    for place, arrives in enumerate(movements.arrives):
        if arrives:
            key = (movements.document[place], movements.line[place])
            fact, charges = facts[key], charged.get(key, 0)
            rows.append(
                (
                    *key,
                    fact.sku,
                    fact.effect_date,
                    fact.effect_date,
                    CLASS_IN_DAY[fact.event],
                    movements.quantity[place],
                    movements.amount[place] - charges,
                    charges,
                    *key,
                )
            )
    connection.executemany(
        """
        INSERT INTO lot (document, line, sku, owned_from, available_from, class, quantity_received,
            invoice_cost, charges, quantity_on_hand, value_on_hand, expires_on)
        VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, 0, 0,
            (SELECT expires_on FROM document_line WHERE document = ? AND line = ?))
        ON CONFLICT (document, line) DO UPDATE SET invoice_cost = excluded.invoice_cost,
            charges = excluded.charges, quantity_received = excluded.quantity_received
        """,
        rows,
    )


def _write_layers(connection: sqlite3.Connection, start: Iterable[OpenLayer], replayed: Replayed) -> None:
    """Write the open layers that changed, and what their lots have on hand."""
    before = {(one.lot_document, one.lot_line, one.position): one for one in start}
    after = {(one.lot_document, one.lot_line, one.position): one for one in replayed.open_layers}
    connection.executemany(
        "DELETE FROM layer WHERE lot_document = ? AND lot_line = ? AND position = ?",
        [key for key in before if key not in after],
    )
    connection.executemany(
        """
        INSERT INTO layer (lot_document, lot_line, position, quantity, amount, used) VALUES (?, ?, ?, ?, ?, ?)
        ON CONFLICT (lot_document, lot_line, position) DO UPDATE SET quantity = excluded.quantity,
            amount = excluded.amount, used = excluded.used
        """,
        [(*key, one.quantity, one.amount, one.used) for key, one in after.items()],
    )
    on_hand: dict[tuple[int, int], list[int]] = {
        lot: [0, 0] for lot in zip(replayed.lot_document, replayed.lot_line, strict=True)
    }
    for one in replayed.open_layers:
        sums = on_hand[one.lot_document, one.lot_line]
        sums[0] += one.left
        sums[1] += one.value
    connection.executemany(
        "UPDATE lot SET quantity_on_hand = ?, value_on_hand = ? WHERE document = ? AND line = ?",
        [(*sums, *lot) for lot, sums in on_hand.items()],
    )


def _write_balances(
    connection: sqlite3.Connection, skus: list[str], facts: Iterable[FactLine], replayed: Replayed
) -> None:
    """Write what each item has on hand, and the latest place in costing order that touched it."""
    sums: dict[str, list[int]] = {sku: [0, 0] for sku in skus}
    for one in replayed.open_layers:
        sums[one.sku][0] += one.left
        sums[one.sku][1] += one.value
    latest: dict[str, str] = {}
    for fact in facts:
        latest[fact.sku] = max(latest.get(fact.sku, ""), _effect_key(fact.effect_date, fact.event))
    connection.executemany(
        """
        INSERT INTO balance (sku, quantity_milli, amount, under_way_milli, under_way_amount, last_effect)
        VALUES (?, ?, ?, 0, 0, ?)
        ON CONFLICT (sku) DO UPDATE SET quantity_milli = excluded.quantity_milli,
            amount = excluded.amount, last_effect = max(last_effect, excluded.last_effect)
        """,
        [(sku, quantity, amount, latest.get(sku, "")) for sku, (quantity, amount) in sums.items()],
    )

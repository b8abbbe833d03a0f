"""Keeping what follows from the facts: legs, lots, layers and balances of open months.

A posting at the end of an item's history continues from the item's open layers. A late one
replays the item from the last close, and with it what was made from it. Either way one run of
the engine does the costing, and only the rows that changed are written.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ledger.book.documents import NewDocument
from ledger.book.month_figures import Stock, add_legs_to_months, forget_open_months, stock_sums
from ledger.book.replay_scope import all_late, charged_before, effect_key, late_among
from ledger.book.replay_start import Work, add_replayed, open_layers, open_lots
from ledger.costing.facts import (
    COMPONENT,
    LATE_CLASS,
    ON_HAND,
    PRODUCT,
    FactLine,
    ShareFact,
)
from ledger.costing.layers import OpenLayer
from ledger.costing.legs import LegColumns
from ledger.costing.shelf import LotId
from ledger.costing.states import Walked
from ledger.costing.walk import walk


@dataclass(frozen=True, slots=True)
class CostChange:
    """An earlier document whose cost of an item moved, in minor units; what leaves is positive."""

    document: int
    event: str
    sku: str
    before: int
    after: int


@dataclass(frozen=True, slots=True)
class Recorded:
    """What was posted: the new documents' numbers, and the earlier costs that moved."""

    numbers: tuple[int, ...]
    changes: tuple[CostChange, ...]


def recost(
    connection: sqlite3.Connection, documents: Sequence[NewDocument], late_skus: Iterable[str] = ()
) -> tuple[CostChange, ...]:
    """Bring legs, lots, layers and balances up to the facts after ``documents`` were written.

    ``late_skus`` are replayed from the last close whatever the documents say: items whose past an
    undo changes. Those of earlier receipts that the documents' charges bear on are found here.
    Runs inside the caller's transaction.
    Returns the earlier documents whose costs moved. Raises NotEnoughStock, Refused or
    OwnAncestor where the facts cannot be costed.
    """
    facts = [fact for one in documents for fact in one.facts()]
    shares = [share for one in documents for share in one.share_facts()]
    changed = set(late_skus) | late_among(connection, facts) | charged_before(connection, facts, shares)
    late = all_late(connection, changed, facts)
    appended = {fact.sku for fact in facts} - late
    work = Work()
    if appended:
        _add_appended(connection, work, [fact for fact in facts if fact.sku in appended], shares)
    before: dict[tuple[int, str], int] = {}
    if late:
        add_replayed(connection, work, late)
        for sku in sorted(late):
            before.update(_open_costs(connection, sku))
            _forget(connection, sku)
    walked = walk(work.facts, work.shares, work.start())
    _write(connection, work, walked, late)
    earlier = {fact.document for fact in work.facts} - {one.number for one in documents}
    return _changes(connection, before, walked.legs, earlier) if late else ()


def _open_costs(connection: sqlite3.Connection, sku: str) -> dict[tuple[int, str], int]:
    """Return what each document of the open months took of an item, in minor units."""
    rows = connection.execute(
        "SELECT document, -sum(amount) FROM leg WHERE sku = ? AND account = 'on hand' "
        "AND effect_date > (SELECT closed_through FROM boundary) GROUP BY document",
        (sku,),
    )
    return {(document, sku): amount for document, amount in rows}


def _changes(
    connection: sqlite3.Connection,
    before: Mapping[tuple[int, str], int],
    legs: LegColumns,
    earlier: set[int],
) -> tuple[CostChange, ...]:
    """Return what the ``earlier`` documents that were costed again cost differently now.

    A count costs nothing where it finds no difference: one that finds none any more, or for the
    first time, has changed as well.
    """
    after: dict[tuple[int, str], int] = {}
    for document, sku, account, amount in zip(
        legs.document, legs.sku, legs.account, legs.amount, strict=True
    ):
        if account == ON_HAND:
            after[document, sku] = after.get((document, sku), 0) - amount
    moved = [
        place
        for place in sorted(before.keys() | after.keys())
        if place[0] in earlier and before.get(place, 0) != after.get(place, 0)
    ]
    events = {
        number: connection.execute("SELECT event FROM document WHERE number = ?", (number,)).fetchone()[0]
        for number, _ in moved
    }
    return tuple(
        CostChange(number, events[number], sku, before.get((number, sku), 0), after.get((number, sku), 0))
        for number, sku in moved
    )


def _add_appended(
    connection: sqlite3.Connection, work: Work, facts: list[FactLine], shares: list[ShareFact]
) -> None:
    """Add new facts that continue their items' histories, with the layers open before them."""
    known = {(fact.document, fact.line): fact for fact in facts}
    work.facts.extend(facts)
    for share in shares:
        fact = known.get((share.receipt_document, share.receipt_line))
        if fact is not None:
            work.shares.append((share, fact.sku, fact.tax_class))
    circular = {fact.sku for fact in facts if fact.role == COMPONENT}
    circular &= {fact.sku for fact in facts if fact.role == PRODUCT}
    for sku in sorted({fact.sku for fact in facts}):
        layers = list(open_layers(connection, sku))
        work.layers.extend(layers)
        # Goods that came back lie in layers of their own: they leave over a shelf, which needs the lots.
        if sku in circular or len({(one.lot_document, one.lot_line) for one in layers}) < len(layers):
            work.lots.extend(open_lots(connection, sku))


def _forget(connection: sqlite3.Connection, sku: str) -> None:
    """Remove what followed from an item's open facts; it is about to be worked out again."""
    connection.execute(
        "DELETE FROM leg WHERE sku = ? AND effect_date > (SELECT closed_through FROM boundary)", (sku,)
    )
    forget_open_months(connection, sku)
    connection.execute(
        "DELETE FROM layer WHERE (lot_document, lot_line) IN (SELECT document, line FROM lot WHERE sku = ?)",
        (sku,),
    )
    connection.execute(
        "DELETE FROM lot WHERE sku = ? AND owned_from > (SELECT closed_through FROM boundary)", (sku,)
    )
    connection.execute(
        "DELETE FROM late_cost WHERE sku = ? AND effect_date > (SELECT closed_through FROM boundary)", (sku,)
    )
    connection.execute(
        "DELETE FROM short WHERE sku = ? AND effect_date > (SELECT closed_through FROM boundary)", (sku,)
    )
    connection.execute("DELETE FROM balance WHERE sku = ?", (sku,))


def _write(connection: sqlite3.Connection, work: Work, walked: Walked, late: set[str]) -> None:
    """Write what follows from the facts."""
    connection.executemany("INSERT INTO leg VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", walked.legs.rows())
    _write_lots(connection, walked)
    # The layers of replayed items were removed: only those of continued ones stand to be compared.
    continued = [layer for layer in work.layers if layer.sku not in late]
    _write_layers(connection, continued, walked, {lot.key[2:] for lot in work.lots})
    connection.executemany(
        "INSERT INTO short (document, line, sku, effect_date, quantity_milli) VALUES (?, ?, ?, ?, ?)",
        [(one.document, one.line, one.sku, one.effect_date, one.quantity) for one in walked.shorts],
    )
    connection.executemany(
        """
        INSERT INTO late_cost (document, line, position, lot_document, lot_line, sku, effect_date, amount)
        VALUES (?, ?, ?, ?, ?, ?, ?, ?)
        """,
        [
            (
                one.share.document,
                one.share.line,
                one.share.position,
                *one.lot,
                one.sku,
                one.share.effect_date,
                one.amount,
            )
            for one in walked.late_costs
        ],
    )
    _write_balances(connection, work.facts, walked, late)
    add_legs_to_months(connection, walked.legs)


def _write_lots(connection: sqlite3.Connection, walked: Walked) -> None:
    """Write the lots that the facts make; quantities on hand follow from the layers."""
    connection.executemany(
        """
        INSERT INTO lot (document, line, sku, owned_from, available_from, class, quantity_received,
            invoice_cost, charges, quantity_on_hand, value_on_hand, expires_on)
        VALUES (?1, ?2, ?3, ?4, CASE WHEN ?9 THEN NULL ELSE ?4 END, ?5, ?6, ?7, ?8, 0, 0,
            (SELECT expires_on FROM document_line WHERE document = ?1 AND line = ?2))
        """,
        [
            (
                lot.document,
                lot.line,
                lot.sku,
                lot.effect_date,
                lot.day_class,
                lot.quantity_received,
                lot.invoice_cost,
                lot.charges,
                lot.is_under_way,
            )
            for lot in walked.lots
        ],
    )


def _write_layers(
    connection: sqlite3.Connection, start: Iterable[OpenLayer], walked: Walked, replayed: set[LotId]
) -> None:
    """Write the open layers that changed, and what their lots have on hand.

    ``replayed`` are lots of closed months whose items were replayed: any of them may have changed.
    """
    before = {(one.lot_document, one.lot_line, one.position): one for one in start}
    after = {(one.lot_document, one.lot_line, one.position): one for one in walked.open_layers}
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
        [(*key, one.quantity, one.amount, one.used) for key, one in after.items() if before.get(key) != one],
    )
    changed = {key[:2] for key in before if after.get(key) != before[key]}
    changed |= {key[:2] for key in after if before.get(key) != after[key]}
    changed |= {(lot.document, lot.line) for lot in walked.lots} | replayed
    on_hand: dict[tuple[int, int], list[int]] = {lot: [0, 0] for lot in changed}
    for one in walked.open_layers:
        sums = on_hand.get((one.lot_document, one.lot_line))
        if sums is not None:
            sums[0] += one.left
            sums[1] += one.value
    connection.executemany(
        # What is under way is not on hand: its layers say what there is of it.
        "UPDATE lot SET quantity_on_hand = ?, value_on_hand = ? WHERE document = ? AND line = ? "
        "AND available_from IS NOT NULL",
        [(*sums, *lot) for lot, sums in on_hand.items()],
    )


_CLOSED_BALANCE = """
SELECT quantity_milli, amount, under_way_milli, under_way_amount FROM month_balance
WHERE sku = ? AND month <= (SELECT substr(closed_through, 1, 7) FROM boundary) ORDER BY month DESC LIMIT 1
"""


def _write_balances(
    connection: sqlite3.Connection,
    facts: Iterable[FactLine],
    walked: Walked,
    late: set[str],
) -> None:
    """Write what each item has on hand and under way, and the latest place in order that touched it."""
    moved = stock_sums(walked.legs)
    latest: dict[str, str] = {}
    for fact in facts:
        latest[fact.sku] = max(latest.get(fact.sku, ""), effect_key(fact))
    for one in walked.late_costs:
        latest[one.sku] = max(latest.get(one.sku, ""), f"{one.share.effect_date} {LATE_CLASS}")
    rows: list[tuple[object, ...]] = []
    for sku in sorted(late | set(latest)):
        stock: Stock = moved.get(sku, (0, 0, 0, 0))
        if sku in late:
            closed = connection.execute(_CLOSED_BALANCE, (sku,)).fetchone() or (0, 0, 0, 0)
            stock = (stock[0] + closed[0], stock[1] + closed[1], stock[2] + closed[2], stock[3] + closed[3])
        rows.append((sku, *stock, latest.get(sku, "")))
    connection.executemany(
        """
        INSERT INTO balance (sku, quantity_milli, amount, under_way_milli, under_way_amount, last_effect)
        VALUES (?, ?, ?, ?, ?, ?)
        ON CONFLICT (sku) DO UPDATE SET quantity_milli = quantity_milli + excluded.quantity_milli,
            amount = amount + excluded.amount,
            under_way_milli = under_way_milli + excluded.under_way_milli,
            under_way_amount = under_way_amount + excluded.under_way_amount,
            last_effect = max(last_effect, excluded.last_effect)
        """,
        rows,
    )

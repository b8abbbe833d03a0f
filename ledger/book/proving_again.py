"""Costing the whole book again, and comparing what is kept for the next posting with the outcome.

Lots and layers decide what the next sale costs, and where a lot stands in the order. The legs do
not show all of it, so they are worked out from the first fact on and compared row by row.
"""

from __future__ import annotations

import sqlite3

from ledger.book.replay_scope import effect_key
from ledger.costing.facts import LATE_CLASS, Facts
from ledger.costing.invariants import Finding
from ledger.costing.states import Walked
from ledger.costing.walk import walk
from ledger.errors import BlankbookError

KEPT = 6
"""What follows from the facts is kept as the facts say."""

MOST_TOLD = 20

_Rows = dict[tuple[int, ...], tuple[object, ...]]

_LOTS = """
SELECT document, line, sku, owned_from, available_from, class, quantity_received, invoice_cost, charges FROM lot
"""
_LAYERS = "SELECT lot_document, lot_line, position, quantity, amount, used FROM layer"
_SHORTS = "SELECT document, line, sku, effect_date, quantity_milli FROM short"
_LATE_COSTS = """
SELECT document, line, position, lot_document, lot_line, sku, effect_date, amount FROM late_cost
"""

_LOT_WORDS = (
    "SKU",
    "first day",
    "first day on hand",
    "class",
    "quantity received",
    "invoice cost",
    "charges",
)
_LAYER_WORDS = ("quantity", "amount", "used")
_SHORT_WORDS = ("SKU", "day", "quantity")
_LATE_COST_WORDS = ("SKU", "day", "amount")


def again_findings(connection: sqlite3.Connection, facts: Facts) -> list[Finding]:
    """Return where lots, layers, shorts, late costs and last days in the book are not those that its facts give.

    Facts that cannot be costed are the second engine's to tell: they give no finding here.
    """
    try:
        walked = _walk(facts)
    except (BlankbookError, ValueError, KeyError):
        return []
    lots: _Rows = {
        (lot.document, lot.line): (
            lot.sku,
            lot.effect_date,
            None if lot.is_under_way else lot.effect_date,
            lot.day_class,
            lot.quantity_received,
            lot.invoice_cost,
            lot.charges,
        )
        for lot in walked.lots
    }
    layers: _Rows = {
        (layer.lot_document, layer.lot_line, layer.position): (layer.quantity, layer.amount, layer.used)
        for layer in walked.open_layers
    }
    kept_lots: _Rows = {row[:2]: row[2:] for row in connection.execute(_LOTS)}
    kept_layers: _Rows = {row[:3]: row[3:] for row in connection.execute(_LAYERS)}
    return [
        *_differences("lot", _LOT_WORDS, kept_lots, lots),
        *_differences("layer", _LAYER_WORDS, _by_rank(kept_layers), _by_rank(layers)),
        *_short_findings(connection, walked),
        *_late_cost_findings(connection, walked),
        *_last_day_findings(connection, facts, walked),
    ]


def _by_rank(layers: _Rows) -> _Rows:
    """Return the layers with their place in the lot, 1 for the first to leave, instead of their position.

    Only the order of positions says anything: how far below one they begin depends on how often
    a lot was taken from and given back to in one replay.
    """
    ranked: _Rows = {}
    lot: tuple[int, ...] = ()
    rank = 0
    for key in sorted(layers):
        rank = rank + 1 if key[:2] == lot else 1
        lot = key[:2]
        ranked[*lot, rank] = layers[key]
    return ranked


def _short_findings(connection: sqlite3.Connection, walked: Walked) -> list[Finding]:
    shorts: _Rows = {
        (one.document, one.line): (one.sku, one.effect_date, one.quantity) for one in walked.shorts
    }
    kept: _Rows = {row[:2]: row[2:] for row in connection.execute(_SHORTS)}
    return _differences("short", _SHORT_WORDS, kept, shorts)


def _late_cost_findings(connection: sqlite3.Connection, walked: Walked) -> list[Finding]:
    costs: _Rows = {
        (one.share.document, one.share.line, one.share.position, *one.lot): (
            one.sku,
            one.share.effect_date,
            one.amount,
        )
        for one in walked.late_costs
    }
    kept: _Rows = {row[:5]: row[5:] for row in connection.execute(_LATE_COSTS)}
    return _differences("late cost", _LATE_COST_WORDS, kept, costs)


def _last_day_findings(connection: sqlite3.Connection, facts: Facts, walked: Walked) -> list[Finding]:
    """Return the items of which more happened than is kept: a posting would be costed without what came later.

    Only open months count, for what is posted never lies before them.
    """
    (closed_through,) = connection.execute("SELECT closed_through FROM boundary").fetchone()
    latest: dict[str, str] = {}
    gone = _gone(facts)
    for line in facts.lines:
        if line.document not in gone and line.effect_date > closed_through:
            latest[line.sku] = max(latest.get(line.sku, ""), effect_key(line))
    for one in walked.late_costs:
        if one.share.effect_date > closed_through:
            key = f"{one.share.effect_date} {LATE_CLASS}"
            latest[one.sku] = max(latest.get(one.sku, ""), key)
    kept = dict(connection.execute("SELECT sku, last_effect FROM balance"))
    return [
        Finding(
            KEPT, f"the last day of {sku} is kept as {kept.get(sku)!r}, its facts go on to '{wanted}'", sku
        )
        for sku, wanted in sorted(latest.items())
        if kept.get(sku, "") < wanted
    ][:MOST_TOLD]


def _gone(facts: Facts) -> set[int]:
    """Return the documents that dropped out of the costing, and those that undid them."""
    return {
        number for undo in facts.undos if undo.path == "dropped" for number in (undo.document, undo.undoes)
    }


def _walk(facts: Facts) -> Walked:
    gone = _gone(facts)
    lines = [line for line in facts.lines if line.document not in gone]
    by_place = {(line.document, line.line): line for line in lines}
    shares = []
    for share in facts.shares:
        if share.document not in gone:
            receipt = by_place[share.receipt_document, share.receipt_line]
            shares.append((share, receipt.sku, receipt.tax_class))
    return walk(lines, shares)


def _differences(what: str, words: tuple[str, ...], kept: _Rows, again: _Rows) -> list[Finding]:
    """Return the rows that differ, each with the first figure that does."""
    findings = []
    for key in sorted(key for key in {*kept, *again} if kept.get(key) != again.get(key)):
        name = f"{what} {'.'.join(map(str, key))}"
        there, wanted = kept.get(key), again.get(key)
        if there is None:
            told = f"the {name} is missing"
        elif wanted is None:
            told = f"the {name} follows from no fact"
        else:
            word, is_kept, is_wanted = next(
                (word, one, other)
                for word, one, other in zip(words, there, wanted, strict=True)
                if one != other
            )
            told = f"the {word} of {name} is kept as {is_kept}, the facts give {is_wanted}"
        findings.append(Finding(KEPT, told, name))
    return findings[:MOST_TOLD]

"""Costing the whole book again, and comparing what is kept for the next posting with the outcome.

Lots and layers decide what the next sale costs, and where a lot stands in the order. The legs do
not show all of it, so they are worked out from the first fact on and compared row by row.
"""

from __future__ import annotations

import sqlite3

from ledger.costing.facts import Facts
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


def again_findings(connection: sqlite3.Connection, facts: Facts) -> list[Finding]:
    """Return where the lots and layers in the book are not those that its facts give.

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
    findings = _differences("lot", _LOT_WORDS, kept_lots, lots)
    return [*findings, *_differences("layer", _LAYER_WORDS, kept_layers, layers)]


def _walk(facts: Facts) -> Walked:
    gone = {
        number for undo in facts.undos if undo.path == "dropped" for number in (undo.document, undo.undoes)
    }
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

"""What has to be costed again: items whose new facts do not simply continue their history, and what hangs on them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence

from ledger.book.late_families import open_families, tied_to
from ledger.costing.facts import (
    ARRIVES_FROM,
    CLASS_IN_DAY,
    COMPONENT,
    LEAVES_TO,
    PRODUCT,
    FactLine,
    ShareFact,
)
from ledger.costing.walk import kept


def all_late(connection: sqlite3.Connection, changed: set[str], facts: Sequence[FactLine]) -> set[str]:
    """Return the SKUs to replay: those that changed, what is made of them, what late charges tie to them."""
    families = open_families(connection)
    late = _with_products(connection, changed)
    while families:
        tied = tied_to(families, late, facts) - late
        if not tied:
            break
        late = _with_products(connection, late | tied)
    return late


def everything_tied(connection: sqlite3.Connection, skus: set[str]) -> set[str]:
    """Return the items that are costed together with some: what is made of them, what late charges tie."""
    return all_late(connection, skus, ())


def late_among(connection: sqlite3.Connection, facts: Sequence[FactLine]) -> set[str]:
    """Return the SKUs whose new facts do not simply continue their history.

    They have something costed after the first new fact, or something other than arriving and
    leaving happens to them, or they go short, or were short before.
    """
    by_sku: dict[str, list[FactLine]] = {}
    for fact in facts:
        by_sku.setdefault(fact.sku, []).append(fact)
    late = set()
    for sku, own in by_sku.items():
        row = connection.execute(
            "SELECT last_effect, quantity_milli FROM balance WHERE sku = ?", (sku,)
        ).fetchone()
        last, there = row if row is not None else ("", 0)
        first = min(effect_key(fact) for fact in own)
        if (
            last > first
            or any(not _is_plain(fact) for fact in own)
            or (any(fact.short_allowed for fact in own) and _goes_short(own, there))
            or connection.execute("SELECT 1 FROM short WHERE sku = ? LIMIT 1", (sku,)).fetchone()
        ):
            late.add(sku)
    return late


def charged_before(
    connection: sqlite3.Connection, facts: Iterable[FactLine], shares: Iterable[ShareFact]
) -> set[str]:
    """Return the SKUs of receipt lines that were in the book already and are charged now."""
    posted = {(fact.document, fact.line) for fact in facts}
    charged = {(share.receipt_document, share.receipt_line) for share in shares} - posted
    find = "SELECT sku FROM document_line WHERE document = ? AND line = ?"
    return {sku for receipt_line in charged for (sku,) in connection.execute(find, receipt_line)}


def _is_plain(fact: FactLine) -> bool:
    """Whether the fact only lets something arrive or leave; what arrives from a shipment needs its lot."""
    if fact.is_arrival:
        return False
    return fact.event in ARRIVES_FROM or fact.event in LEAVES_TO or fact.event == "make"


def _goes_short(facts: Iterable[FactLine], there: int) -> bool:
    """Whether more leaves, by the end of any day, than was there and arrived by then."""
    for fact in sorted(facts, key=effect_key):
        if fact.event in LEAVES_TO or fact.role == COMPONENT:
            there -= fact.quantity_milli
            if there < 0:
                return True
        elif fact.event in ARRIVES_FROM or fact.role == PRODUCT:
            there += kept(fact) - fact.expensed_milli
    return False


def effect_key(fact: FactLine) -> str:
    """The day and class as one sortable text, as `balance.last_effect` keeps it."""
    return f"{fact.effect_date} {CLASS_IN_DAY[fact.event]}"


_MADE_FROM = """
SELECT DISTINCT p.sku FROM document_line AS c
JOIN document AS d ON d.number = c.document AND d.event = 'make'
JOIN document_line AS p ON p.document = c.document AND p.role = 'product'
WHERE c.sku = ? AND c.role = 'component' AND d.effect_date > (SELECT closed_through FROM boundary)
"""


def _with_products(connection: sqlite3.Connection, late: set[str]) -> set[str]:
    """Return the SKUs and everything made from them in open months, through jobs of jobs.

    Jobs among the new facts are in the book already; one whose component is replayed makes its
    product late as well.
    """
    closed: set[str] = set()
    waiting = sorted(late)
    while waiting:
        sku = waiting.pop()
        if sku not in closed:
            closed.add(sku)
            waiting.extend(row[0] for row in connection.execute(_MADE_FROM, (sku,)))
    return closed

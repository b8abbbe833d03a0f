"""Prove: every invariant on the whole book, with the second engine and SQLite's own checks."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass

from ledger.book.documents import FACT_COLUMNS
from ledger.book.proving_again import again_findings
from ledger.book.schema import schema_faults
from ledger.costing.facts import CLASS_IN_DAY, FactLine, Facts, Leg, ShareFact, UndoFact
from ledger.costing.invariants import (
    Finding,
    cost_of_goods_sold_findings,
    document_findings,
    engine_findings,
    lot_findings,
    negative_stock_findings,
    roll_forward_findings,
)
from ledger.costing.plain import plain_legs
from ledger.costing.spreading import spread
from ledger.errors import BlankbookError

KEPT_FIGURES = 6
"""Balances, lots and layers are part of 'facts never change and what follows from them is kept'."""

_WORDS = {"trigger": "guard", "index": "index", "table": "table"}


@dataclass(frozen=True, slots=True)
class Proof:
    """What was proved: findings (none where the book is whole) and how much was looked at."""

    findings: tuple[Finding, ...]
    documents: int
    lots: int
    months: int
    legs: int

    @property
    def is_whole(self) -> bool:
        """Whether nothing was found wrong."""
        return not self.findings


def prove(connection: sqlite3.Connection, progress: Callable[[str], None] = lambda _: None) -> Proof:
    """Return what every check of the book found.

    ``progress`` is called with each check's name in plain words before it runs. Time and memory
    grow linearly with the book.
    """
    findings: list[Finding] = []
    progress("the file itself")
    findings += _file_findings(connection)
    progress("the guards on what was entered")
    findings += _guard_findings(connection)
    facts = read_facts(connection)
    legs = read_legs(connection)
    progress("every document balances")
    findings += document_findings(legs)
    progress("every lot's cost is accounted for")
    findings += lot_findings(facts, legs)
    progress("opening plus in less out is closing")
    for first, last in _spans(legs):
        findings += roll_forward_findings(legs, first, last)
        findings += cost_of_goods_sold_findings(legs, first, last)
    progress("no stock below zero")
    findings += negative_stock_findings(legs, facts)
    progress("charges add up to their bills")
    findings += _share_findings(connection)
    progress("the same costs by the second engine")
    findings += _engine_findings(facts, legs)
    progress("the kept balances agree with the legs")
    findings += _kept_findings(connection)
    progress("the lots and layers follow from the facts")
    findings += again_findings(connection, facts)
    progress("nothing stands twice")
    findings += _twice_findings(connection)
    documents, lots, months = connection.execute(
        "SELECT (SELECT count(*) FROM document), (SELECT count(*) FROM lot), "
        "(SELECT count(DISTINCT month) FROM month_total)"
    ).fetchone()
    return Proof(tuple(findings), documents, lots, months, len(legs))


def read_facts(connection: sqlite3.Connection) -> Facts:
    """Return all the facts of the book that touch stock."""
    lines = tuple(
        FactLine(*row)
        for row in connection.execute(
            f"SELECT {FACT_COLUMNS} FROM document_line AS l JOIN document AS d ON d.number = l.document "  # noqa: S608
            "WHERE l.sku IS NOT NULL ORDER BY l.document, l.line"
        )
        if row[2] in CLASS_IN_DAY
    )
    shares = tuple(
        ShareFact(*row)
        for row in connection.execute(
            "SELECT document, line, position, receipt_document, receipt_line, amount, path, effect_date "
            "FROM charge_share ORDER BY document, line, position"
        )
    )
    undos = tuple(
        UndoFact(*row)
        for row in connection.execute("SELECT number, undoes, path FROM document WHERE undoes IS NOT NULL")
    )
    return Facts(lines, shares, undos)


def read_legs(connection: sqlite3.Connection) -> list[Leg]:
    """Return all the legs of the book."""
    rows = connection.execute(
        "SELECT document, line, part, effect_date, account, sku, lot_document, lot_line, quantity_milli, amount "
        "FROM leg ORDER BY document, line, part"
    )
    return [Leg(*row) for row in rows]


def _spans(legs: list[Leg]) -> list[tuple[str, str]]:
    """Return the spans of dates the roll-forward is proved for: the whole book, and its last month."""
    if not legs:
        return []
    first, last = min(leg.effect_date for leg in legs), max(leg.effect_date for leg in legs)
    return sorted({(first, last), (f"{last[:7]}-01", last)})


def _file_findings(connection: sqlite3.Connection) -> list[Finding]:
    findings = [
        Finding(9, f"SQLite finds the file damaged: {row[0]}", "the file")
        for row in connection.execute("PRAGMA integrity_check(20)")
        if row[0] != "ok"
    ]
    for table, _, parent, _ in connection.execute("PRAGMA foreign_key_check").fetchmany(20):
        findings.append(Finding(6, f"a row of {table} refers to a row of {parent} that is not there", table))
    return findings


def _guard_findings(connection: sqlite3.Connection) -> list[Finding]:
    return [
        Finding(6, f"the {_WORDS[kind]} {name.replace('_', ' ')} {fault}", "the file")
        for kind, name, fault in schema_faults(connection)
    ]


def _share_findings(connection: sqlite3.Connection) -> list[Finding]:
    """Check that each charge's shares are its amount spread by its weights."""
    findings = [
        Finding(2, "its amount fell on no receipt line", f"charge {document}")
        for (document,) in connection.execute(
            """
            SELECT l.document FROM document_line AS l JOIN document AS d ON d.number = l.document
            WHERE d.event = 'charge' AND l.amount <> 0 AND NOT EXISTS (
                SELECT 1 FROM charge_share AS s WHERE s.document = l.document AND s.line = l.line)
            """
        )
    ]
    charges: dict[tuple[int, int], tuple[int, list[int], list[int]]] = {}
    for document, line, amount, weight, share in connection.execute(
        """
        SELECT s.document, s.line, l.amount, s.weight, s.amount
        FROM charge_share AS s JOIN document_line AS l ON l.document = s.document AND l.line = s.line
        ORDER BY s.document, s.line, s.position
        """
    ):
        entry = charges.setdefault((document, line), (amount, [], []))
        entry[1].append(weight)
        entry[2].append(share)
    for (document, _), (amount, weights, shares) in charges.items():
        if spread(amount, weights) != shares:
            findings.append(
                Finding(2, "its shares are not its amount spread by its weights", f"charge {document}")
            )
    return findings


def _engine_findings(facts: Facts, legs: list[Leg]) -> list[Finding]:
    try:
        plain = plain_legs(facts)
    except (BlankbookError, ValueError) as error:
        return [Finding(7, f"the second engine cannot cost the facts: {error}", "the whole book")]
    return engine_findings(legs, plain)


_KEPT: tuple[tuple[str, str], ...] = (
    (
        "the balance of {0} is kept as {1} and {2}, its legs say {3} and {4}",
        """
        SELECT i.sku, coalesce(b.quantity_milli, 0), coalesce(b.amount, 0), coalesce(l.q, 0), coalesce(l.a, 0)
        FROM item AS i LEFT JOIN balance AS b ON b.sku = i.sku
        LEFT JOIN (SELECT sku, sum(quantity_milli) AS q, sum(amount) AS a FROM leg
            WHERE account = 'on hand' GROUP BY sku) AS l ON l.sku = i.sku
        WHERE coalesce(b.quantity_milli, 0) <> coalesce(l.q, 0) OR coalesce(b.amount, 0) <> coalesce(l.a, 0)
        """,
    ),
    (
        "lot {0} of {1} keeps {2} and {3} on hand, its legs say {4} and {5}",
        """
        SELECT lot.document || '.' || lot.line, lot.sku, lot.quantity_on_hand, lot.value_on_hand,
            coalesce(l.q, 0), coalesce(l.a, 0)
        FROM lot LEFT JOIN (SELECT lot_document, lot_line, sum(quantity_milli) AS q, sum(amount) AS a FROM leg
            WHERE account = 'on hand' GROUP BY lot_document, lot_line) AS l
            ON l.lot_document = lot.document AND l.lot_line = lot.line
        WHERE lot.quantity_on_hand <> coalesce(l.q, 0) OR lot.value_on_hand <> coalesce(l.a, 0)
        """,
    ),
    (
        "the layers of lot {0} hold {1}, the lot keeps {2} on hand",
        """
        SELECT lot.document || '.' || lot.line, coalesce(y.q, 0), lot.quantity_on_hand
        FROM lot LEFT JOIN (SELECT lot_document, lot_line, sum(quantity - used) AS q FROM layer
            GROUP BY lot_document, lot_line) AS y ON y.lot_document = lot.document AND y.lot_line = lot.line
        WHERE lot.quantity_on_hand <> coalesce(y.q, 0)
        """,
    ),
    (
        "the total of {0} in {1} on '{2}' is kept as {3} and {4}, its legs say {5} and {6}",
        """
        WITH l AS (SELECT substr(effect_date, 1, 7) AS month, sku, account, sum(quantity_milli) AS q,
            sum(amount) AS a FROM leg WHERE sku IS NOT NULL GROUP BY 1, 2, 3)
        SELECT l.sku, l.month, l.account, coalesce(t.quantity_milli, 0), coalesce(t.amount, 0), l.q, l.a
        FROM l LEFT JOIN month_total AS t ON t.month = l.month AND t.sku = l.sku AND t.account = l.account
        WHERE coalesce(t.quantity_milli, 0) <> l.q OR coalesce(t.amount, 0) <> l.a
        UNION ALL
        SELECT t.sku, t.month, t.account, t.quantity_milli, t.amount, 0, 0
        FROM month_total AS t LEFT JOIN l ON t.month = l.month AND t.sku = l.sku AND t.account = l.account
        WHERE l.sku IS NULL AND (t.quantity_milli <> 0 OR t.amount <> 0)
        """,
    ),
    (
        "the balance of {0} at the end of {1} is kept as {2} and {3}, its totals say {4} and {5}",
        """
        WITH m AS (SELECT sku, month, sum(CASE account WHEN 'on hand' THEN quantity_milli ELSE 0 END) AS q,
            sum(CASE account WHEN 'on hand' THEN amount ELSE 0 END) AS a FROM month_total GROUP BY sku, month),
        r AS (SELECT sku, month, sum(q) OVER w AS q, sum(a) OVER w AS a FROM m
            WINDOW w AS (PARTITION BY sku ORDER BY month))
        SELECT r.sku, r.month, coalesce(b.quantity_milli, 0), coalesce(b.amount, 0), r.q, r.a
        FROM r LEFT JOIN month_balance AS b ON b.sku = r.sku AND b.month = r.month
        WHERE b.sku IS NULL OR b.quantity_milli <> r.q OR b.amount <> r.a
        """,
    ),
)


def _kept_findings(connection: sqlite3.Connection) -> list[Finding]:
    """Check the figures kept beside the legs; quantities here are in thousandths, amounts in minor units."""
    return [
        Finding(KEPT_FIGURES, words.format(*row), str(row[0]))
        for words, query in _KEPT
        for row in connection.execute(query).fetchmany(20)
    ]


def _twice_findings(connection: sqlite3.Connection) -> list[Finding]:
    rows = connection.execute(
        """
        SELECT min(number), max(number) FROM document AS d
        WHERE content_sha256 <> '' AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
        GROUP BY content_sha256 HAVING count(*) > 1 LIMIT 20
        """
    )
    return [
        Finding(8, f"documents {first} and {last} hold the same content", f"document {last}")
        for first, last in rows
    ]

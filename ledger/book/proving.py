"""Prove: every invariant on the whole book, with the second engine and SQLite's own checks."""

from __future__ import annotations

import contextlib
import sqlite3
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from ledger.book.documents import FACT_COLUMNS, SHARE_COLUMNS
from ledger.book.fingerprints import changed_months
from ledger.book.proving_again import again_findings
from ledger.book.proving_decisions import decision_findings
from ledger.book.proving_kept import kept_findings
from ledger.book.proving_months import month_findings
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
    with _each_text_once(connection):
        facts = read_facts(connection)
        legs = read_legs(connection)
    leg_count = len(legs)
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
    # The most memory is wanted when all is costed once more; the legs are not needed for that.
    del legs
    progress("the kept balances agree with the movements")
    findings += kept_findings(connection)
    progress("the lots and their layers follow from what was entered")
    findings += again_findings(connection, facts)
    progress("closed months match their fingerprints")
    findings += [Finding(6, what, f"month {month}") for month, what in changed_months(connection)]
    findings += month_findings(connection)
    progress("kept decisions are what was kept")
    findings += decision_findings(connection)
    progress("nothing stands twice")
    findings += _twice_findings(connection)
    documents, lots, months = connection.execute(
        "SELECT (SELECT count(*) FROM document), (SELECT count(*) FROM lot), "
        "(SELECT count(DISTINCT month) FROM month_total)"
    ).fetchone()
    return Proof(tuple(findings), documents, lots, months, leg_count)


@contextlib.contextmanager
def one_state(connection: sqlite3.Connection) -> Iterator[sqlite3.Connection]:
    """Give one state of a book to prove, which does not keep others from posting: a copy that passes.

    Where there is no room for a copy, it is the book itself.
    """
    # A nameless database of SQLite: in memory while it is small, else in a file that nobody sees.
    with contextlib.closing(sqlite3.connect("", isolation_level=None)) as copy:
        try:
            connection.backup(copy)
        except sqlite3.Error:
            yield connection
            return
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        yield copy


@contextlib.contextmanager
def _each_text_once(connection: sqlite3.Connection) -> Iterator[None]:
    """Let days, accounts and SKUs stand in memory once, however many rows name them."""
    usual = connection.text_factory
    connection.text_factory = lambda raw: sys.intern(raw.decode("utf-8"))
    try:
        yield
    finally:
        connection.text_factory = usual


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
            f"SELECT {SHARE_COLUMNS} FROM charge_share AS s ORDER BY s.document, s.line, s.position"  # noqa: S608
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
    """Check that each charge's shares are its amount spread by its weights.

    A bill that gives the price of what came without one is spread whole; its shares are what that is
    more than the provisional amounts.
    """
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
    for document, line, amount, weight, share, provisional in connection.execute(
        """
        SELECT s.document, s.line, l.amount, s.weight, s.amount,
            CASE WHEN l.charge_kind <> 'goods' THEN 0 WHEN d.event = 'undo' THEN -r.amount ELSE r.amount END
        FROM charge_share AS s JOIN document_line AS l ON l.document = s.document AND l.line = s.line
        JOIN document AS d ON d.number = s.document
        JOIN document_line AS r ON r.document = s.receipt_document AND r.line = s.receipt_line
        ORDER BY s.document, s.line, s.position
        """
    ):
        total, weights, shares = charges.get((document, line), (amount, [], []))
        charges[document, line] = (total + provisional, [*weights, weight], [*shares, share + provisional])
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
        return [Finding(7, f"the second engine cannot work out the costs: {error}", "the whole book")]
    return engine_findings(legs, plain)


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

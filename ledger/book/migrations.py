"""The schema's versions, as raw SQL steps registered with sqlite-utils' migrations."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from importlib import resources

from sqlite_utils import Database, Migrations

from ledger.errors import BookDamaged

_STEPS = Migrations("blankbook")

GUARDED = {
    "document",
    "document_line",
    "charge_share",
    "month_event",
    "policy",
    "boundary",
    "leg",
    "month_balance",
    "month_total",
    "closed_layer",
    "item",
}
"""Tables that must have triggers after every migration: rebuilding a table drops them silently."""


@_STEPS(name="1 the shop, the catalogue, the facts and what follows from them")
def _version_1(db: Database) -> None:
    _run_script(db.conn, "schema_1.sql")
    db.conn.execute("INSERT INTO boundary VALUES (1, '0000-00-00')")


def migrate(connection: sqlite3.Connection) -> None:
    """Apply the steps a book has not had yet, inside the caller's transaction."""
    db = Database(connection, execute_plugins=False)
    _STEPS.apply(db)
    guarded = {
        row[0]
        for row in connection.execute("SELECT DISTINCT tbl_name FROM sqlite_schema WHERE type = 'trigger'")
    }
    if not guarded >= GUARDED:
        lost = ", ".join(sorted(GUARDED - guarded))
        raise BookDamaged(f"the migration would leave {lost} without its guards; nothing was changed.")


def _run_script(connection: sqlite3.Connection, name: str) -> None:
    """Run a script statement by statement: executescript would commit the transaction around it."""
    text = resources.files("ledger.book").joinpath(name).read_text(encoding="utf-8")
    for statement in _statements(text):
        connection.execute(statement)


def _statements(text: str) -> Iterator[str]:
    pending = ""
    for line in text.splitlines(keepends=True):
        pending += line
        if sqlite3.complete_statement(pending):
            yield pending
            pending = ""
    if pending.strip():
        raise ValueError(f"the script ends inside a statement: {pending[:80]!r}")

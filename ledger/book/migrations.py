"""The schema's versions, as raw SQL steps registered with sqlite-utils' migrations."""

from __future__ import annotations

import sqlite3

from sqlite_utils import Database, Migrations

from ledger.book.schema import SCRIPTS, run_script, schema_faults
from ledger.errors import BookDamaged

_STEPS = Migrations("blankbook")


@_STEPS(name="1 the shop, the catalogue, the facts and what follows from them")
def _version_1(db: Database) -> None:
    run_script(db.conn, SCRIPTS[0])
    db.conn.execute("INSERT INTO boundary VALUES (1, '0000-00-00')")


@_STEPS(name="2 orders and goods under way, late charges, figures of earlier months")
def _version_2(db: Database) -> None:
    run_script(db.conn, SCRIPTS[1])


@_STEPS(name="3 quotes and duties, with their history")
def _version_3(db: Database) -> None:
    run_script(db.conn, SCRIPTS[2])


@_STEPS(name="4 buying decisions that were kept")
def _version_4(db: Database) -> None:
    run_script(db.conn, SCRIPTS[3])


def migrate(connection: sqlite3.Connection) -> None:
    """Apply the steps a book has not had yet, inside the caller's transaction."""
    db = Database(connection, execute_plugins=False)
    _STEPS.apply(db)
    # Rebuilding a table drops its triggers and indexes without a word.
    faults = schema_faults(connection)
    if faults:
        lost = ", ".join(f"{kind} {name}" for kind, name, _ in faults)
        raise BookDamaged(f"the migration would leave the book without {lost}; nothing was changed.")

"""A book as an earlier version of the program would have left it."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from ledger.book.schema import SCRIPTS, run_script


def make_older(path: Path, version: int) -> None:
    """Take from a book what versions after ``version`` added: their tables, indexes and guards."""
    fresh = sqlite3.connect(":memory:")
    for script in SCRIPTS[:version]:
        run_script(fresh, script)
    known = {row[0] for row in fresh.execute("SELECT name FROM sqlite_schema")} | {"_sqlite_migrations"}
    fresh.close()
    book = sqlite3.connect(path, isolation_level=None)
    book.execute("PRAGMA foreign_keys = OFF")
    for kind in ("trigger", "index", "table"):
        rows = book.execute("SELECT name FROM sqlite_schema WHERE type = ? AND sql IS NOT NULL", (kind,))
        for (name,) in rows.fetchall():
            if name not in known:
                book.execute(f'DROP {kind} "{name}"')
    book.execute("DELETE FROM _sqlite_migrations WHERE CAST(name AS INTEGER) > ?", (version,))
    book.execute(f"PRAGMA user_version = {version}")
    book.close()

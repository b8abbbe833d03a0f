"""The schema as the scripts say it, and what of it a file has lost or has otherwise."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from importlib import resources

SCRIPTS = ("schema_1.sql", "schema_2.sql", "schema_3.sql", "schema_4.sql")
"""The versions' scripts in order; a new version adds one."""


def run_script(connection: sqlite3.Connection, name: str) -> None:
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


_OBJECTS = "SELECT type, name, sql FROM sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%'"


def schema_faults(connection: sqlite3.Connection) -> list[tuple[str, str, str]]:
    """Return (type, name, fault) for every table, index and trigger that is gone or was rewritten.

    Compared with a book just made from the same scripts. What a file has beyond that is no fault.
    """
    fresh = sqlite3.connect(":memory:")
    try:
        for name in SCRIPTS:
            run_script(fresh, name)
        wanted = fresh.execute(_OBJECTS + " ORDER BY type, name").fetchall()
    finally:
        fresh.close()
    there = {(kind, name): sql for kind, name, sql in connection.execute(_OBJECTS)}
    faults = []
    for kind, name, sql in wanted:
        found = there.get((kind, name))
        if found is None:
            faults.append((kind, name, "was taken out of the file"))
        elif found != sql:
            faults.append((kind, name, "was rewritten in the file"))
    return faults


def guards() -> list[str]:
    """Return the names of all guards: the triggers a book must have."""
    fresh = sqlite3.connect(":memory:")
    try:
        for name in SCRIPTS:
            run_script(fresh, name)
        rows = fresh.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger' ORDER BY name")
        return [row[0] for row in rows]
    finally:
        fresh.close()

"""What suppliers call things, in the book: whole codes and single words, taught, taken back and undone."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass

from ledger.errors import Refused

CODE = "code"
PARTS = ("style", "colour", "size")
"""What a single word can be a word for; CODE is a whole name of one item."""


@dataclass(frozen=True, slots=True)
class Alias:
    """One name a party uses: ``part`` is CODE or of PARTS; ``meaning`` a SKU, or the catalogue's word."""

    party: str
    part: str
    word: str
    meaning: str


@dataclass(frozen=True, slots=True)
class AliasChange:
    """One change that was made: '' before where the name was new, '' after where it was taken away."""

    step: int
    party: str
    part: str
    word: str
    before: str
    after: str


def find_aliases(connection: sqlite3.Connection, party: str | None = None) -> list[Alias]:
    """Return the names of one party, or of all, codes first, in the order of their words."""
    rows = connection.execute(
        """
        SELECT party, 'code' AS part, code AS word, sku AS meaning FROM supplier_code
        WHERE ?1 IS NULL OR party = ?1 COLLATE NOCASE
        UNION ALL
        SELECT party, part, word, meaning FROM alias_word WHERE ?1 IS NULL OR party = ?1 COLLATE NOCASE
        """,
        (party,),
    ).fetchall()
    order = {part: place for place, part in enumerate((CODE, *PARTS))}
    found = [Alias(*row) for row in rows]
    return sorted(found, key=lambda each: (each.party.casefold(), order[each.part], each.word.casefold()))


def change_aliases(
    connection: sqlite3.Connection, aliases: Iterable[Alias], now: str, *, undoes: int | None = None
) -> int:
    """Teach names, or take them away where ``meaning`` is empty, as one step inside the caller's transaction.

    Returns the step's number, by which it can be undone; 0 where nothing changes.
    """
    step = int(connection.execute("SELECT coalesce(max(step), 0) + 1 FROM alias_change").fetchone()[0])
    count = 0
    for alias in aliases:
        before = _meaning(connection, alias)
        if before == alias.meaning:
            continue
        _write(connection, alias)
        connection.execute(
            "INSERT INTO alias_change (step, undoes, recorded_at, party, part, word, before, after) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (step, undoes, now, alias.party, alias.part, alias.word, before, alias.meaning),
        )
        count += 1
    return step if count else 0


def undo_aliases(connection: sqlite3.Connection, now: str, step: int | None = None) -> list[AliasChange]:
    """Take back one step, the latest that still stands where none is named; return its changes.

    Raises Refused where there is none, it was undone, or one of its names was changed again since.
    """
    wanted = _latest(connection) if step is None else step
    rows = connection.execute(
        "SELECT step, party, part, word, before, after FROM alias_change WHERE step = ? ORDER BY id",
        (wanted,),
    ).fetchall()
    changes = [AliasChange(*row) for row in rows]
    if not changes:
        raise Refused("there is no such change of aliases. See: blankbook aliases --changes")
    if connection.execute("SELECT 1 FROM alias_change WHERE undoes = ? LIMIT 1", (wanted,)).fetchone():
        raise Refused(f"change {wanted} was undone already.")
    for change in changes:
        alias = Alias(change.party, change.part, change.word, change.after)
        if _meaning(connection, alias) != change.after:
            raise Refused(
                f"'{change.word}' was changed again since change {wanted}: undo the later one first."
            )
    back = [Alias(each.party, each.part, each.word, each.before) for each in reversed(changes)]
    change_aliases(connection, back, now, undoes=wanted)
    return changes


def alias_changes(connection: sqlite3.Connection) -> list[AliasChange]:
    """Return every change that was made, the latest first."""
    rows = connection.execute(
        "SELECT step, party, part, word, before, after FROM alias_change ORDER BY id DESC"
    ).fetchall()
    return [AliasChange(*row) for row in rows]


def _latest(connection: sqlite3.Connection) -> int:
    row = connection.execute(
        """
        SELECT coalesce(max(step), 0) FROM alias_change
        WHERE undoes IS NULL AND step NOT IN (SELECT undoes FROM alias_change WHERE undoes IS NOT NULL)
        """
    ).fetchone()
    return int(row[0])


def _meaning(connection: sqlite3.Connection, alias: Alias) -> str:
    if alias.part == CODE:
        row = connection.execute(
            "SELECT sku FROM supplier_code WHERE party = ? AND code = ?", (alias.party, alias.word)
        ).fetchone()
    else:
        row = connection.execute(
            "SELECT meaning FROM alias_word WHERE party = ? AND part = ? AND word = ?",
            (alias.party, alias.part, alias.word),
        ).fetchone()
    return "" if row is None else str(row[0])


def _write(connection: sqlite3.Connection, alias: Alias) -> None:
    if alias.part == CODE:
        connection.execute(
            "DELETE FROM supplier_code WHERE party = ? AND code = ?", (alias.party, alias.word)
        )
        if alias.meaning:
            connection.execute(
                "INSERT INTO supplier_code (party, code, sku) VALUES (?, ?, ?)",
                (alias.party, alias.word, alias.meaning),
            )
        return
    connection.execute(
        "DELETE FROM alias_word WHERE party = ? AND part = ? AND word = ?",
        (alias.party, alias.part, alias.word),
    )
    if alias.meaning:
        connection.execute(
            "INSERT INTO alias_word (party, part, word, meaning) VALUES (?, ?, ?, ?)",
            (alias.party, alias.part, alias.word, alias.meaning),
        )

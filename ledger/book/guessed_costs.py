"""Opening stock whose cost was guessed: how the guess is kept, and what is left of it."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from ledger.book.shop import Shop

GUESSED = "the cost is a guess"
"""How the note of an opening's line begins where its cost was guessed; the maker's own note stands behind."""

IS_GUESSED = "(d.event = 'opening' AND (l.note = :guessed OR substr(l.note, 1, length(:guessed) + 2) = :guessed || '; '))"
"""Whether a line ``l`` of a document ``d`` has a guessed cost; the parameter is GUESSED."""


@dataclass(frozen=True, slots=True)
class GuessedStock:
    """What was on hand on a day at costs that were guessed: ``value`` in minor units, the openings' numbers."""

    lots: int
    value: int
    openings: tuple[int, ...]


_HELD = f"""
SELECT l.document, sum(g.quantity_milli), sum(g.amount)
FROM document AS d JOIN document_line AS l ON l.document = d.number
JOIN leg AS g ON g.lot_document = l.document AND g.lot_line = l.line AND g.account = 'on hand' AND g.effect_date <= :day
WHERE d.effect_date = :first_day AND {IS_GUESSED}
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
GROUP BY l.document, l.line HAVING sum(g.quantity_milli) > 0
"""  # noqa: S608  (constants of this module)


def guessed_note(note: str) -> str:
    """Return the note of a line whose cost was guessed, with what the maker noted behind it."""
    return f"{GUESSED}; {note}" if note else GUESSED


def guessed_stock(connection: sqlite3.Connection, shop: Shop, day: str) -> GuessedStock:
    """Return what was on hand at the end of ``day`` (ISO 8601) at costs that were guessed."""
    rows = connection.execute(_HELD, {"guessed": GUESSED, "first_day": shop.first_day, "day": day}).fetchall()
    numbers = tuple(sorted({document for document, _, _ in rows}))
    return GuessedStock(len(rows), sum(amount for _, _, amount in rows), numbers)

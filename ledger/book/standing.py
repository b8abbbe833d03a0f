"""What stands in the book already: dates that are open, documents posted before, latest costs."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from ledger.book.shop import Shop
from ledger.costing.facts import CLASS_IN_DAY
from ledger.errors import Problem


def check_date(shop: Shop, on: datetime.date, today: datetime.date, what: str) -> list[Problem]:
    """Return what is wrong with a document's date: in the future, closed, or before the book begins."""
    day = on.isoformat()
    if on > today:
        return [
            Problem(what, f"{day} is in the future.", "Enter things once they happened, or correct the date.")
        ]
    if day < shop.first_day:
        return [
            Problem(
                what,
                f"{day} is before {shop.first_day}, the book's first day.",
                "What the shop had by then comes in as opening stock, dated that day.",
            )
        ]
    if day <= shop.closed_through:
        return [
            Problem(
                what,
                f"{day} lies in {day[:7]}, which is closed.",
                f'Date it in an open month, or reopen that one: blankbook reopen {day[:7]} --why "…".',
            )
        ]
    return []


LONGEST_NAME = 200


def check_party(name: str) -> list[Problem]:
    """Return what is wrong with the name of a party: too long for the book to keep."""
    if len(name) <= LONGEST_NAME:
        return []
    what = f"the name '{name[:40]}…' has {len(name)} characters, and a name has {LONGEST_NAME} at most."
    return [Problem("the party", what, "Shorten it.")]


def undone(connection: sqlite3.Connection, number: int) -> int | None:
    """Return the number of the undo of a document, or None."""
    row = connection.execute("SELECT number FROM document WHERE undoes = ?", (number,)).fetchone()
    return None if row is None else int(row[0])


def content_document(connection: sqlite3.Connection, content_sha256: str) -> int | None:
    """Return the number of the document with this content that was not undone, or None."""
    row = connection.execute(
        "SELECT number FROM document WHERE content_sha256 = ? AND content_sha256 <> '' "
        "AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = document.number)",
        (content_sha256,),
    ).fetchone()
    return None if row is None else int(row[0])


def reference_documents(connection: sqlite3.Connection, event: str, party: str, reference: str) -> list[int]:
    """Return the documents of an event with this party and number that were not undone."""
    rows = connection.execute(
        "SELECT number FROM document WHERE event = ? AND party = ? AND reference = ? AND reference <> '' "
        "AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = document.number) ORDER BY number",
        (event, party, reference),
    )
    return [row[0] for row in rows]


def last_day_told(connection: sqlite3.Connection) -> str | None:
    """Return the last day (ISO 8601) that a document of the book is of, closes apart; None for an empty book."""
    row = connection.execute(
        "SELECT max(effect_date) FROM document WHERE event NOT IN ('close', 'reopen')"
    ).fetchone()
    return None if row[0] is None else str(row[0])


@dataclass(frozen=True, slots=True)
class OpeningStock:
    """What an item began the book with: ``document`` is the last opening it stands in."""

    document: int
    quantity_milli: int


_OPENED = """
SELECT l.sku, max(d.number), sum(l.quantity_milli) FROM document AS d JOIN document_line AS l ON l.document = d.number
WHERE d.event = 'opening' AND d.effect_date = ? AND d.number <> ?
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
GROUP BY l.sku
"""


def opening_stock(
    connection: sqlite3.Connection, shop: Shop, apart_from: int | None
) -> dict[str, OpeningStock]:
    """Return the opening stock by SKU, that of the document ``apart_from`` and what was undone left out."""
    rows = connection.execute(_OPENED, (shop.first_day, apart_from or 0))
    return {sku: OpeningStock(number, milli) for sku, number, milli in rows}


def came_in(connection: sqlite3.Connection, sku: str, day: str) -> bool:
    """Return whether anything of an item was received, made or in the opening stock by a day."""
    row = connection.execute(
        "SELECT 1 FROM lot WHERE sku = ? AND available_from <= ? AND class <> ? LIMIT 1",
        (sku, day, CLASS_IN_DAY["count"]),
    ).fetchone()
    return row is not None


LANDED = """
invoice_cost + charges + (SELECT coalesce(sum(c.amount), 0) FROM late_cost AS c
    WHERE c.lot_document = lot.document AND c.lot_line = lot.line)
"""
"""What a lot cost landed, with what came late, in minor units."""


def latest_unit_costs(connection: sqlite3.Connection, skus: Iterable[str]) -> dict[str, Fraction]:
    """Return the landed cost of one base unit of each SKU's latest lot, in minor units.

    SKUs without a lot, or whose latest lots came in for nothing, are left out.
    """
    costs = {}
    for sku in set(skus):
        row = connection.execute(
            f"SELECT {LANDED}, quantity_received FROM lot WHERE sku = ? AND available_from IS NOT NULL "  # noqa: S608
            "AND quantity_received > 0 AND invoice_cost + charges > 0 "
            "AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = lot.document) "
            "ORDER BY available_from DESC, class DESC, document DESC, line DESC LIMIT 1",
            (sku,),
        ).fetchone()
        if row is not None:
            costs[sku] = Fraction(row[0] * 1000, row[1])
    return costs


def document_words(connection: sqlite3.Connection, number: int) -> str:
    """Return a document as people call it, 'sale 12'."""
    row = connection.execute("SELECT event FROM document WHERE number = ?", (number,)).fetchone()
    return f"{row[0] if row else 'document'} {number}"

"""Which row of a sales export a document came from, so that an export may overlap an earlier one."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RowSource:
    """A row of an export: ``key`` says which one it is, ``content_sha256`` what it says.

    The key is text that a person can read: the channel, the order, the line and what happened.
    """

    key: str
    content_sha256: str


@dataclass(frozen=True, slots=True)
class PostedRow:
    """A row of an export that stands in the book: its document, with money in the book's minor units."""

    document: int
    event: str
    effect_date: str
    sku: str
    quantity_milli: int
    amount: int
    shipping: int | None
    fees: int | None
    content_sha256: str


_POSTED = """
SELECT d.source_key, d.number, d.event, d.effect_date, min(l.sku), sum(l.quantity_milli), d.total,
    sum(l.shipping), sum(l.fees), d.content_sha256
FROM document AS d JOIN document_line AS l ON l.document = d.number
WHERE d.source_key <> '' AND d.source_key IN (SELECT value FROM json_each(?))
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
GROUP BY d.number
"""


def find_posted(connection: sqlite3.Connection, keys: Iterable[str]) -> dict[str, PostedRow]:
    """Return the documents of these rows by key; rows that were never posted or undone are left out."""
    wanted = json.dumps(sorted(set(keys)), ensure_ascii=False)
    return {key: PostedRow(*row) for key, *row in connection.execute(_POSTED, (wanted,))}


@dataclass(frozen=True, slots=True)
class OrderedItem:
    """A sale of an order that stands in the book: its SKU, and what it sold for in minor units of its currency.

    ``source_key`` is the row of the export it came from, '' where it was typed.
    """

    order: str
    sku: str
    amount_minor: int
    currency: str
    note: str
    source_key: str


_ORDERED = """
SELECT d.reference, l.sku, sum(l.amount_foreign), d.currency, d.note, d.source_key
FROM document AS d JOIN document_line AS l ON l.document = d.number AND l.role = 'item'
WHERE d.party = ? AND d.reference <> '' AND d.event = 'sale'
    AND NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number)
GROUP BY d.number, l.sku ORDER BY d.number, l.sku
"""


def find_ordered(connection: sqlite3.Connection, party: str) -> dict[str, tuple[OrderedItem, ...]]:
    """Return what a channel's orders were sold, by the order's number; what was undone is left out."""
    found: dict[str, tuple[OrderedItem, ...]] = {}
    for row in connection.execute(_ORDERED, (party,)):
        one = OrderedItem(*row)
        found[one.order] = (*found.get(one.order, ()), one)
    return found

"""Questions a maker asks the book: what is there, where it came from, what was entered."""

from __future__ import annotations

import calendar
import datetime
import sqlite3
from dataclasses import dataclass

from ledger.book.guessed_costs import GUESSED, IS_GUESSED
from ledger.book.purchases import TOLD_PRICE
from ledger.catalogue._words import suggestion
from ledger.costing.facts import CLASS_IN_DAY
from ledger.errors import Refused


@dataclass(frozen=True, slots=True)
class StockRow:
    """One SKU on hand. Quantity in thousandths, value in minor units."""

    sku: str
    name: str
    kind: str
    tax_class: str
    base_unit: str
    style: str
    colour: str
    size: str
    ladder: str
    quantity_milli: int
    value: int


@dataclass(frozen=True, slots=True)
class LotRow:
    """One lot: what came in, at what cost, and what is left of it."""

    document: int
    line: int
    sku: str
    base_unit: str
    received_on: str
    party: str
    reference: str
    quantity_received: int
    quantity_on_hand: int
    invoice_cost: int
    charges: int
    value_on_hand: int
    expires_on: str | None
    is_cost_guessed: bool = False

    @property
    def landed_cost(self) -> int:
        """Invoice cost and all charges, in minor units."""
        return self.invoice_cost + self.charges


@dataclass(frozen=True, slots=True)
class DocumentRow:
    """A document's head."""

    number: int
    event: str
    document_date: str
    effect_date: str
    recorded_at: str
    party: str
    reference: str
    currency: str
    rate: str
    rate_source: str
    total_foreign: int
    total: int
    path: str
    undoes: int | None
    undone_by: int | None
    follows: int | None
    follows_event: str
    source_name: str
    reason: str
    note: str


@dataclass(frozen=True, slots=True)
class LegRow:
    """One leg of a document's double entry."""

    line: int
    part: int
    account: str
    sku: str
    base_unit: str
    lot_document: int | None
    lot_line: int | None
    quantity_milli: int
    amount: int


@dataclass(frozen=True, slots=True)
class HistoryRow:
    """What one document did to one SKU on hand, and what was there afterwards."""

    effect_date: str
    document: int
    event: str
    party: str
    reference: str
    quantity_milli: int
    amount: int
    quantity_after: int
    value_after: int


@dataclass(frozen=True, slots=True)
class ExpiryRow:
    """A lot with something left that expires by a given day."""

    sku: str
    name: str
    base_unit: str
    document: int
    line: int
    quantity_on_hand: int
    expires_on: str


AFTER_RECEIPTS = 2
"""Where charges stand within their day: they bear on receipts and come before what leaves."""

_ITEM_FIELDS = "i.sku, i.name, i.kind, i.tax_class, i.base_unit, i.style, i.colour, i.size, i.ladder"


def stock(
    connection: sqlite3.Connection, *, kind: str | None = None, style: str | None = None
) -> list[StockRow]:
    """Return every item with what is on hand now, zero included, by SKU."""
    rows = connection.execute(
        f"""
        SELECT {_ITEM_FIELDS}, coalesce(b.quantity_milli, 0), coalesce(b.amount, 0)
        FROM item AS i LEFT JOIN balance AS b ON b.sku = i.sku
        WHERE (?1 IS NULL OR i.kind = ?1) AND (?2 IS NULL OR i.style = ?2) ORDER BY i.sku
        """,  # noqa: S608  (a constant of this module)
        (kind, style),
    )
    return [StockRow(*row) for row in rows]


STOCK_ON = f"""
SELECT {_ITEM_FIELDS},
    coalesce((SELECT b.quantity_milli FROM month_balance AS b
        WHERE b.sku = i.sku AND b.month < ?1 ORDER BY b.month DESC LIMIT 1), 0)
    + coalesce((SELECT sum(l.quantity_milli) FROM leg AS l
        WHERE l.sku = i.sku AND l.effect_date BETWEEN ?1 AND ?2 AND l.account = 'on hand'), 0),
    coalesce((SELECT b.amount FROM month_balance AS b
        WHERE b.sku = i.sku AND b.month < ?1 ORDER BY b.month DESC LIMIT 1), 0)
    + coalesce((SELECT sum(l.amount) FROM leg AS l
        WHERE l.sku = i.sku AND l.effect_date BETWEEN ?1 AND ?2 AND l.account = 'on hand'), 0)
FROM item AS i
WHERE (?3 IS NULL OR i.kind = ?3) AND (?4 IS NULL OR i.style = ?4) ORDER BY i.sku
"""  # noqa: S608  (a constant of this module)
"""Stock at the end of a day: the last month-end balance before that month, and the legs since."""


STOCK_AT_MONTH_END = f"""
SELECT {_ITEM_FIELDS}, coalesce(b.quantity_milli, 0), coalesce(b.amount, 0)
FROM item AS i LEFT JOIN month_balance AS b ON b.sku = i.sku AND b.month = (
    SELECT max(month) FROM month_balance WHERE sku = i.sku AND month <= ?1)
WHERE (?2 IS NULL OR i.kind = ?2) AND (?3 IS NULL OR i.style = ?3) ORDER BY i.sku
"""  # noqa: S608  (a constant of this module)
"""Stock at the end of a month: its balances alone, however many legs the month has."""


def stock_on(
    connection: sqlite3.Connection, day: str, *, kind: str | None = None, style: str | None = None
) -> list[StockRow]:
    """Return every item with what was on hand at the end of ``day`` (ISO 8601)."""
    month = day[:7]
    if _is_last_of_month(day):
        return [StockRow(*row) for row in connection.execute(STOCK_AT_MONTH_END, (month, kind, style))]
    return [StockRow(*row) for row in connection.execute(STOCK_ON, (month, day, kind, style))]


def under_way_value(connection: sqlite3.Connection) -> int:
    """Return what all that is under way and the shop's is worth now, in minor units."""
    row = connection.execute("SELECT coalesce(sum(under_way_amount), 0) FROM balance").fetchone()
    return int(row[0])


def _is_last_of_month(day: str) -> bool:
    date = datetime.date.fromisoformat(day)
    return date.day == calendar.monthrange(date.year, date.month)[1]


def lots(
    connection: sqlite3.Connection, sku: str | None = None, *, include_empty: bool = False
) -> list[LotRow]:
    """Return lots in the order they are used up, per SKU; without the empty ones unless asked.

    What is under way has no place on the shelf yet: `ledger.book.under_way` lists it.
    """
    rows = connection.execute(
        f"""
        SELECT lot.document, lot.line, lot.sku, i.base_unit, coalesce(lot.available_from, lot.owned_from),
            coalesce(d.party, ''), d.reference, lot.quantity_received, lot.quantity_on_hand,
            lot.invoice_cost + {TOLD_PRICE},
            lot.charges - {TOLD_PRICE} + (SELECT coalesce(sum(c.amount), 0) FROM late_cost AS c
                WHERE c.lot_document = lot.document AND c.lot_line = lot.line), lot.value_on_hand, lot.expires_on,
            {IS_GUESSED}
        FROM lot JOIN document AS d ON d.number = lot.document JOIN item AS i ON i.sku = lot.sku
        JOIN document_line AS l ON l.document = lot.document AND l.line = lot.line
        WHERE (:sku IS NULL OR lot.sku = :sku) AND (:empty OR lot.quantity_on_hand > 0)
            AND lot.available_from IS NOT NULL
        ORDER BY lot.sku, lot.available_from, lot.class, lot.document, lot.line
        """,  # noqa: S608  (constants)
        {"sku": sku, "empty": include_empty, "guessed": GUESSED},
    )
    return [LotRow(*known) for known in ((*row[:-1], bool(row[-1])) for row in rows)]


_DOCUMENT_FIELDS = """
d.number, d.event, d.document_date, d.effect_date, d.recorded_at, coalesce(d.party, ''), d.reference,
d.currency, d.rate, d.rate_source, d.total_foreign, d.total, d.path, d.undoes, u.number, d.follows,
coalesce((SELECT f.event FROM document AS f WHERE f.number = d.follows), ''), d.source_name, d.reason, d.note
"""


def document(connection: sqlite3.Connection, number: int) -> DocumentRow:
    """Return one document's head; Refused where there is none of that number."""
    row = connection.execute(
        f"SELECT {_DOCUMENT_FIELDS} FROM document AS d LEFT JOIN document AS u ON u.undoes = d.number "  # noqa: S608
        "WHERE d.number = ?",
        (number,),
    ).fetchone()
    if row is None:
        raise Refused(f"there is no document {number} in the book. See: blankbook history")
    return DocumentRow(*row)


def documents(connection: sqlite3.Connection) -> list[DocumentRow]:
    """Return the heads of all documents, oldest number first."""
    rows = connection.execute(
        f"SELECT {_DOCUMENT_FIELDS} FROM document AS d LEFT JOIN document AS u ON u.undoes = d.number "  # noqa: S608
        "ORDER BY d.number"
    )
    return [DocumentRow(*row) for row in rows]


def legs(connection: sqlite3.Connection, number: int) -> list[LegRow]:
    """Return a document's double entry, by line and part."""
    rows = connection.execute(
        """
        SELECT l.line, l.part, l.account, coalesce(l.sku, ''), coalesce(i.base_unit, ''),
            l.lot_document, l.lot_line, l.quantity_milli, l.amount
        FROM leg AS l LEFT JOIN item AS i ON i.sku = l.sku WHERE l.document = ? ORDER BY l.line, l.part
        """,
        (number,),
    )
    return [LegRow(*row) for row in rows]


def history(connection: sqlite3.Connection, sku: str) -> list[HistoryRow]:
    """Return what happened to one SKU on hand, in costing order, with a running balance.

    Raises Refused where the book does not know the SKU.
    """
    if connection.execute("SELECT 1 FROM item WHERE sku = ?", (sku,)).fetchone() is None:
        known = [each for (each,) in connection.execute("SELECT sku FROM item")]
        raise Refused(
            f"the book has no item {sku}.{suggestion(sku, known)} See what there is with: blankbook items"
        )
    rows = connection.execute(
        """
        SELECT l.effect_date, l.document, d.event, coalesce(d.party, ''), d.reference,
            sum(l.quantity_milli), sum(l.amount)
        FROM leg AS l JOIN document AS d ON d.number = l.document
        WHERE l.sku = ? AND l.account = 'on hand'
        GROUP BY l.effect_date, l.document
        """,
        (sku,),
    ).fetchall()
    rows.sort(key=lambda row: (row[0], CLASS_IN_DAY.get(row[2], AFTER_RECEIPTS), row[1]))
    result = []
    quantity = value = 0
    for day, number, event, party, reference, moved, amount in rows:
        quantity += moved
        value += amount
        result.append(HistoryRow(day, number, event, party, reference, moved, amount, quantity, value))
    return result


SOON_DAYS = 30
"""How far ahead a screen sees what expires."""


def expiring(connection: sqlite3.Connection, by: str) -> list[ExpiryRow]:
    """Return the lots with something left that expire on or before ``by`` (ISO 8601), soonest first."""
    rows = connection.execute(
        """
        SELECT lot.sku, i.name, i.base_unit, lot.document, lot.line, lot.quantity_on_hand, lot.expires_on
        FROM lot JOIN item AS i ON i.sku = lot.sku
        WHERE lot.expires_on IS NOT NULL AND lot.quantity_on_hand > 0 AND lot.expires_on <= ?
        ORDER BY lot.expires_on, lot.sku, lot.document, lot.line
        """,
        (by,),
    )
    return [ExpiryRow(*row) for row in rows]


@dataclass(frozen=True, slots=True)
class ShortRow:
    """Stock that was used before it was entered, per SKU, in thousandths."""

    sku: str
    base_unit: str
    since: str
    quantity_milli: int


def shorts(connection: sqlite3.Connection) -> list[ShortRow]:
    """Return what is short, the longest standing first."""
    rows = connection.execute(
        """
        SELECT s.sku, i.base_unit, min(s.effect_date), sum(s.quantity_milli)
        FROM short AS s JOIN item AS i ON i.sku = s.sku GROUP BY s.sku ORDER BY 3, 1
        """
    )
    return [ShortRow(*row) for row in rows]

"""What stands behind a month's figures: its movements, lots, receipts, charges, jobs, sales and counts.

Every query starts from the documents of the span, or from the items that moved in it, so that it
costs what the span holds and not what the book holds.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ledger.book.purchases import TOLD_PRICE
from ledger.exact.months import first_day, last_day, months_between


@dataclass(frozen=True, slots=True)
class Span:
    """Months that follow each other, both YYYY-MM and both in it; one month where they are the same."""

    first_month: str
    last_month: str

    @property
    def first_day(self) -> str:
        """The first day, ISO 8601."""
        return first_day(self.first_month)

    @property
    def last_day(self) -> str:
        """The last day, ISO 8601."""
        return last_day(self.last_month)

    @property
    def months(self) -> list[str]:
        """Every month of it, YYYY-MM."""
        return months_between(self.first_month, self.last_month)


STANDING = "NOT EXISTS (SELECT 1 FROM document AS u WHERE u.undoes = d.number AND u.path = 'dropped')"
"""A document d that was not taken out of the costing by an undo."""


@dataclass(frozen=True, slots=True)
class JournalRow:
    """One leg with its document. ``in_job`` says that its line went through work in process."""

    effect_date: str
    document: int
    event: str
    line: int
    part: int
    account: str
    sku: str
    lot_document: int | None
    lot_line: int | None
    quantity_milli: int
    amount: int
    party: str
    reference: str
    in_job: int


JOURNAL = """
SELECT l.effect_date, l.document, d.event, l.line, l.part, l.account, l.sku, l.lot_document, l.lot_line,
    l.quantity_milli, l.amount, coalesce(d.party, ''), d.reference,
    max(l.account = 'work in process') OVER (PARTITION BY l.document, l.line)
FROM (SELECT DISTINCT sku FROM month_total WHERE month BETWEEN ?1 AND ?2) AS moved
    CROSS JOIN leg AS l ON l.sku = moved.sku AND l.effect_date BETWEEN ?3 AND ?4
    CROSS JOIN document AS d ON d.number = l.document
ORDER BY l.effect_date, l.document, l.line, l.part
"""
"""Every leg of a span. The items that moved come first: the legs have no index by date alone."""


def journal(connection: sqlite3.Connection, span: Span) -> list[JournalRow]:
    """Return every leg of the span with its document, by date, document, line and part."""
    values = (span.first_month, span.last_month, span.first_day, span.last_day)
    return [JournalRow(*row) for row in connection.execute(JOURNAL, values)]


@dataclass(frozen=True, slots=True)
class KnownItem:
    """What an item is, for the rows that speak of it."""

    sku: str
    name: str
    kind: str
    tax_class: str
    base_unit: str


def items(connection: sqlite3.Connection) -> dict[str, KnownItem]:
    """Return every item by its SKU."""
    rows = connection.execute("SELECT sku, name, kind, tax_class, base_unit FROM item")
    return {row[0]: KnownItem(*row) for row in rows}


BALANCES_AT = """
SELECT i.sku, b.quantity_milli + b.under_way_milli, b.amount + b.under_way_amount,
    b.under_way_milli, b.under_way_amount
FROM item AS i CROSS JOIN month_balance AS b ON b.sku = i.sku AND b.month = (
    SELECT max(month) FROM month_balance WHERE sku = i.sku AND month <= ?1)
"""


@dataclass(frozen=True, slots=True)
class Held:
    """What is held of an item, on hand and under way, and the latter's part: thousandths and minor units."""

    quantity_milli: int
    amount: int
    under_way_milli: int = 0
    under_way_amount: int = 0


def held_at_end_of(connection: sqlite3.Connection, month: str) -> dict[str, Held]:
    """Return what was held of each item at the end of a month, YYYY-MM, by SKU."""
    return {sku: Held(*held) for sku, *held in connection.execute(BALANCES_AT, (month,))}


def held_before(connection: sqlite3.Connection, month: str) -> dict[str, Held]:
    """Return what was held of each item when a month, YYYY-MM, began, by SKU."""
    year, number = int(month[:4]), int(month[5:])
    before = f"{year - 1:04d}-12" if number == 1 else f"{year:04d}-{number - 1:02d}"
    return held_at_end_of(connection, before)


@dataclass(frozen=True, slots=True)
class HeldLot:
    """A lot with something left at the end of a span. Quantities in thousandths, costs in minor units.

    ``charges`` took effect with the receipt; ``late_charges`` are what later bills put on what was left.
    """

    document: int
    line: int
    sku: str
    event: str
    received_on: str
    party: str
    reference: str
    quantity_received: int
    quantity_held: int
    invoice_cost: int
    charges: int
    late_charges: int
    value_held: int
    expires_on: str


LOTS_HELD = f"""
WITH later AS MATERIALIZED (
    SELECT l.lot_document AS document, l.lot_line AS line, sum(l.quantity_milli) AS milli, sum(l.amount) AS amount
    FROM (SELECT DISTINCT sku FROM month_total WHERE month > ?1) AS moved
        CROSS JOIN leg AS l ON l.sku = moved.sku AND l.effect_date > ?2
    WHERE l.account IN ('on hand', 'under way') AND l.lot_document IS NOT NULL GROUP BY 1, 2),
late AS MATERIALIZED (
    SELECT l.lot_document AS document, l.lot_line AS line, sum(l.amount) AS amount
    FROM (SELECT DISTINCT document FROM charge_share WHERE path = 'late' AND effect_date <= ?2) AS bill
        CROSS JOIN leg AS l ON l.document = bill.document
    WHERE l.account IN ('on hand', 'under way') AND l.lot_document IS NOT NULL GROUP BY 1, 2),
wanted AS (
    SELECT document, line FROM lot WHERE quantity_on_hand > 0
    UNION SELECT document, line FROM later)
SELECT lot.document, lot.line, lot.sku, d.event, coalesce(lot.available_from, lot.owned_from),
    coalesce(d.party, ''), d.reference, lot.quantity_received,
    lot.quantity_on_hand - coalesce(later.milli, 0), lot.invoice_cost + {TOLD_PRICE},
    lot.charges - {TOLD_PRICE}, coalesce(late.amount, 0),
    lot.value_on_hand - coalesce(later.amount, 0), coalesce(lot.expires_on, '')
FROM wanted CROSS JOIN lot ON lot.document = wanted.document AND lot.line = wanted.line
    JOIN document AS d ON d.number = lot.document
    LEFT JOIN later ON later.document = lot.document AND later.line = lot.line
    LEFT JOIN late ON late.document = lot.document AND late.line = lot.line
WHERE lot.owned_from <= ?2
    AND (lot.quantity_on_hand <> coalesce(later.milli, 0) OR lot.value_on_hand <> coalesce(later.amount, 0))
ORDER BY lot.sku, lot.available_from, lot.class, lot.document, lot.line
"""  # noqa: S608  (a constant of another module)
"""The lots as they stand now, less what happened to them after the span."""


def lots_held(connection: sqlite3.Connection, span: Span) -> list[HeldLot]:
    """Return the lots with something left when the span ended, in the order they are used up, per SKU."""
    return [HeldLot(*row) for row in connection.execute(LOTS_HELD, (span.last_month, span.last_day))]


SIGN = "CASE d.event WHEN 'undo' THEN -1 ELSE 1 END"
WITH_ORIGINAL = "document AS d JOIN document AS o ON o.number = coalesce(d.undoes, d.number)"
"""A document, and where it is an undo the document it undoes: the lines are those of the latter."""


@dataclass(frozen=True, slots=True)
class ChargeRow:
    """A charge, or the undo of one: its head; what it charged is in the journal."""

    document: int
    event: str
    document_date: str
    kind: str
    basis: str
    path: str
    party: str
    reference: str
    receipts: str
    currency: str
    total_foreign: int
    rate: str


CHARGES = """
SELECT d.number, d.event, d.document_date, coalesce(l.charge_kind, ''), coalesce(l.basis, ''), d.path,
    coalesce(d.party, ''), d.reference,
    coalesce((SELECT group_concat(number, ', ') FROM (SELECT DISTINCT s.receipt_document AS number
        FROM charge_share AS s WHERE s.document = coalesce(d.undoes, d.number) ORDER BY 1)), ''),
    d.currency, d.total_foreign, d.rate
FROM document AS d LEFT JOIN document_line AS l
    ON l.document = coalesce(d.undoes, d.number) AND l.role = 'charge'
    AND l.line = (SELECT min(line) FROM document_line WHERE document = coalesce(d.undoes, d.number))
WHERE d.number = ?
"""


def charge(connection: sqlite3.Connection, document: int) -> ChargeRow:
    """Return the head of a document that charged something."""
    return ChargeRow(*connection.execute(CHARGES, (document,)).fetchone())


@dataclass(frozen=True, slots=True)
class JobProduct:
    """What a job made: pieces in all, of which spoiled, in thousandths; ``sign`` is -1 where it was undone."""

    effect_date: str
    document: int
    event: str
    line: int
    reference: str
    sku: str
    pieces_milli: int
    normal_milli: int
    abnormal_milli: int
    sign: int


JOB_PRODUCTS = f"""
SELECT d.effect_date, d.number, d.event, l.line, o.reference, l.sku, l.quantity_milli, l.normal_milli,
    l.expensed_milli, {SIGN}
FROM {WITH_ORIGINAL} JOIN document_line AS l ON l.document = o.number AND l.role = 'product'
WHERE d.effect_date BETWEEN ?1 AND ?2 AND o.event = 'make' AND d.path <> 'dropped' AND {STANDING}
ORDER BY d.effect_date, d.number
"""  # noqa: S608  (constants of this module)


def job_products(connection: sqlite3.Connection, span: Span) -> list[JobProduct]:
    """Return what the jobs of the span made, by date and document."""
    return [JobProduct(*row) for row in connection.execute(JOB_PRODUCTS, (span.first_day, span.last_day))]


@dataclass(frozen=True, slots=True)
class EarningRow:
    """A line of a sale, a customer return, a refund, or of the undoing of one in a later month.

    ``sign`` is 1 where money came in and -1 where it went back.
    """

    effect_date: str
    document: int
    event: str
    line: int
    party: str
    reference: str
    sku: str
    quantity_milli: int
    amount: int
    shipping: int
    fees: int
    sign: int


EARNINGS = f"""
SELECT d.effect_date, d.number, d.event, l.line, coalesce(o.party, ''), o.reference, l.sku, l.quantity_milli,
    l.amount, coalesce(l.shipping, 0), coalesce(l.fees, 0),
    (CASE o.event WHEN 'sale' THEN 1 ELSE -1 END) * ({SIGN})
FROM {WITH_ORIGINAL} JOIN document_line AS l ON l.document = o.number
WHERE d.effect_date BETWEEN ?1 AND ?2 AND o.event IN ('sale', 'take back', 'refund')
    AND d.path <> 'dropped' AND {STANDING}
ORDER BY d.effect_date, d.number, l.line
"""  # noqa: S608  (constants of this module)


def earnings(connection: sqlite3.Connection, span: Span) -> list[EarningRow]:
    """Return what customers paid and got back in the span, line by line, by date and document."""
    return [EarningRow(*row) for row in connection.execute(EARNINGS, (span.first_day, span.last_day))]


@dataclass(frozen=True, slots=True)
class CountRow:
    """What a count found; the difference is in the journal. Thousandths."""

    effect_date: str
    document: int
    line: int
    sku: str
    counted_milli: int


COUNTS = f"""
SELECT d.effect_date, d.number, l.line, l.sku, l.quantity_milli
FROM document AS d JOIN document_line AS l ON l.document = d.number
WHERE d.effect_date BETWEEN ?1 AND ?2 AND d.event = 'count' AND {STANDING}
ORDER BY d.effect_date, d.number, l.line
"""  # noqa: S608  (a constant of this module)


def counts(connection: sqlite3.Connection, span: Span) -> list[CountRow]:
    """Return the counts of the span, by date, document and line."""
    return [CountRow(*row) for row in connection.execute(COUNTS, (span.first_day, span.last_day))]


@dataclass(frozen=True, slots=True)
class RateRow:
    """A document in a foreign currency and the rate it was converted with; amounts in minor units."""

    effect_date: str
    document: int
    event: str
    party: str
    currency: str
    total_foreign: int
    rate: str
    rate_source: str
    total: int


RATES = f"""
SELECT d.effect_date, d.number, d.event, coalesce(d.party, ''), d.currency, d.total_foreign, d.rate,
    d.rate_source, d.total
FROM document AS d WHERE d.effect_date BETWEEN ?1 AND ?2 AND d.currency <> ?3 AND d.event NOT IN ('undo', 'order')
    AND {STANDING}
ORDER BY d.effect_date, d.number
"""  # noqa: S608  (a constant of this module)


def rates(connection: sqlite3.Connection, span: Span, currency: str) -> list[RateRow]:
    """Return the span's documents that are not in the book's currency, with their rates.

    An order is not converted: it costs nothing yet.
    """
    return [RateRow(*row) for row in connection.execute(RATES, (span.first_day, span.last_day, currency))]


def value_by_month(
    connection: sqlite3.Connection, months: Iterable[str]
) -> Iterator[tuple[str, dict[str, Held]]]:
    """Yield each month, YYYY-MM, and what was held of each item at its end, by SKU."""
    for month in months:
        yield month, held_at_end_of(connection, month)

"""Documents as they are written: the facts of one posting, before they have their numbers."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields

from ledger.costing.facts import CLASS_IN_DAY, FactLine, ShareFact

EARNING = ("sale", "take back", "refund")
"""Events whose amount is what customers paid or got back, not a cost."""

FACT_COLUMNS = """
l.document, l.line, CASE WHEN d.path = 'reversal' THEN 'reversal'
    WHEN d.event = 'ship' AND d.terms = 'arrival' THEN 'shipped only' ELSE d.event END, d.effect_date, l.sku, l.tax_class, l.quantity_milli,
CASE WHEN d.event IN ('sale', 'take back', 'refund') OR (d.path = 'reversal' AND EXISTS (
    SELECT 1 FROM document AS o WHERE o.number = d.undoes AND o.event IN ('sale', 'take back', 'refund')))
    THEN 0 ELSE l.amount END,
l.claimed_milli, l.claimed_amount, l.normal_milli, l.expensed_milli, l.role, CASE WHEN d.event = 'receipt' AND d.terms = 'arrival' THEN NULL ELSE l.lot_document END,
CASE WHEN d.event = 'receipt' AND d.terms = 'arrival' THEN NULL ELSE l.lot_line END,
max(l.short_allowed, l.estimated), l.credit,
CASE WHEN d.path = 'reversal' THEN (SELECT o.event FROM document AS o WHERE o.number = d.undoes) ELSE '' END
"""
"""The columns of a `FactLine` in its order, from document_line AS l and document AS d.

Where the goods are the shop's only on arrival (terms 'arrival'), a shipment is no fact of the costing, and
what arrives of it is bought that day.
"""

SHARE_COLUMNS = """
s.document, s.line, s.position, s.receipt_document, s.receipt_line, s.amount, s.path, s.effect_date,
CASE (SELECT c.charge_kind FROM document_line AS c WHERE c.document = s.document AND c.line = s.line)
    WHEN 'goods' THEN 'purchases' ELSE 'charges' END
"""
"""The columns of a `ShareFact` in its order, from charge_share AS s."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NewLine:
    """One line of a document; the fields are the columns of the table `document_line`."""

    line: int
    role: str = "item"
    sku: str | None = None
    kind: str = ""
    tax_class: str = ""
    unit: str = ""
    unit_quantity: str = ""
    quantity_milli: int = 0
    claimed_milli: int = 0
    normal_milli: int = 0
    expensed_milli: int = 0
    amount_foreign: int = 0
    amount: int = 0
    claimed_amount: int = 0
    credit: int | None = None
    discount_foreign: int = 0
    provisional: int = 0
    weight_mg: int | None = None
    volume_mm3: int | None = None
    charge_kind: str = ""
    basis: str = ""
    lot_document: int | None = None
    lot_line: int | None = None
    estimated: int = 0
    short_allowed: int = 0
    tax_paid: str = ""
    expires_on: str | None = None
    shipping: int | None = None
    fees: int | None = None
    supplier_code: str = ""
    place: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NewShare:
    """A charge line's share for one receipt line; ``receipt_document`` is a number in the book."""

    line: int
    receipt_document: int
    receipt_line: int
    position: int
    weight: int
    amount: int
    path: str
    effect_date: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NewDocument:
    """One document; the fields but the last three are columns of the table `document`.

    ``undone_event`` is the event of the document that a reversal undoes.
    """

    number: int
    event: str
    document_date: str
    effect_date: str
    recorded_at: str
    currency: str
    party: str | None = None
    reference: str = ""
    rate: str = "1"
    rate_source: str = ""
    path: str = ""
    undoes: int | None = None
    follows: int | None = None
    shipped_on: str | None = None
    arrived_on: str | None = None
    terms: str = ""
    total_foreign: int = 0
    total: int = 0
    content_sha256: str = ""
    source_name: str = ""
    source_key: str = ""
    reason: str = ""
    note: str = ""
    lines: tuple[NewLine, ...] = ()
    shares: tuple[NewShare, ...] = ()
    undone_event: str = ""

    def facts(self) -> Iterable[FactLine]:
        """Yield the lines that touch stock, as costing sees them."""
        event = "reversal" if self.path == "reversal" else self.event
        is_on_arrival = self.terms == "arrival" and event in ("ship", "receipt")
        if is_on_arrival and event == "ship":
            return
        for line in self.lines:
            if line.sku is not None and event in CLASS_IN_DAY:
                yield FactLine(
                    document=self.number,
                    line=line.line,
                    event=event,
                    effect_date=self.effect_date,
                    sku=line.sku,
                    tax_class=line.tax_class,
                    quantity_milli=line.quantity_milli,
                    # What a sale brought in is no cost of what left.
                    amount=0 if {self.event, self.undone_event} & set(EARNING) else line.amount,
                    claimed_milli=line.claimed_milli,
                    claimed_amount=line.claimed_amount,
                    normal_milli=line.normal_milli,
                    expensed_milli=line.expensed_milli,
                    role=line.role,
                    ref_document=None if is_on_arrival else line.lot_document,
                    ref_line=None if is_on_arrival else line.lot_line,
                    short_allowed=bool(line.short_allowed or line.estimated),
                    credit=line.credit,
                    undone_event=self.undone_event,
                )

    def share_facts(self) -> Iterable[ShareFact]:
        """Yield the charge shares, as costing sees them."""
        goods = {line.line for line in self.lines if line.charge_kind == "goods"}
        for share in self.shares:
            yield ShareFact(
                document=self.number,
                line=share.line,
                position=share.position,
                receipt_document=share.receipt_document,
                receipt_line=share.receipt_line,
                amount=share.amount,
                path=share.path,
                effect_date=share.effect_date,
                account="purchases" if share.line in goods else "charges",
            )


_DOCUMENT_COLUMNS = tuple(
    f.name for f in fields(NewDocument) if f.name not in ("lines", "shares", "undone_event")
)
_LINE_COLUMNS = tuple(f.name for f in fields(NewLine))
_SHARE_COLUMNS = tuple(f.name for f in fields(NewShare))


def _insert(table: str, columns: Sequence[str]) -> str:
    # Only names from this module's own dataclasses are put into the statement, never a value.
    marks = ", ".join("?" * len(columns))
    return f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})"  # noqa: S608


INSERT_DOCUMENT = _insert("document", _DOCUMENT_COLUMNS)
INSERT_LINE = _insert("document_line", ("document", *_LINE_COLUMNS))
INSERT_SHARE = _insert("charge_share", ("document", *_SHARE_COLUMNS))


def next_number(connection: sqlite3.Connection) -> int:
    """Return the number the next document gets; call it inside the writing transaction."""
    number: int = connection.execute("SELECT coalesce(max(number), 0) + 1 FROM document").fetchone()[0]
    return number


def insert_documents(connection: sqlite3.Connection, documents: Sequence[NewDocument]) -> None:
    """Write documents, lines and shares, inside the caller's transaction."""
    connection.executemany(
        INSERT_DOCUMENT, ([getattr(one, name) for name in _DOCUMENT_COLUMNS] for one in documents)
    )
    connection.executemany(
        INSERT_LINE,
        (
            [one.number, *[getattr(line, name) for name in _LINE_COLUMNS]]
            for one in documents
            for line in one.lines
        ),
    )
    connection.executemany(
        INSERT_SHARE,
        (
            [one.number, *[getattr(share, name) for name in _SHARE_COLUMNS]]
            for one in documents
            for share in one.shares
        ),
    )

"""A small book for tests: made quickly, filled through the book's own functions."""

from __future__ import annotations

import datetime
import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from ledger.book.catalogue_store import save_items
from ledger.book.charging import post_charge, prepare_charge
from ledger.book.connect import APPLICATION_ID, create, open_writing, publish, write_tx
from ledger.book.documents import NewDocument, NewLine, insert_documents, next_number
from ledger.book.fingerprints import month_events, month_fingerprint
from ledger.book.proving import Proof, prove, read_facts, read_legs
from ledger.book.receiving import ReceiptLine, ReceiptPlan, ReceiptRequest, post, prepare
from ledger.book.recosting import recost
from ledger.book.shop import read_policies, write_shop
from ledger.book.undoing import post_undo
from ledger.catalogue.items import Item
from ledger.costing.facts import Leg
from ledger.costing.landed import ChargeWish, InvoiceLine

TODAY = datetime.date(2026, 3, 31)
NOW = "2026-03-31T12:00:00Z"
SUPPLIER = "Alder Yard Blanks"

ITEMS = (
    Item("TEE-SAND-M", "Alder tee, sand, M", "blank", "goods", "each", "Alder", "Sand", "M", "adult"),
    Item("TEE-PLUM-L", "Alder tee, plum, L", "blank", "goods", "each", "Alder", "Plum", "L", "adult"),
    Item("INK-CYAN", "Pigment ink, cyan", "ink", "goods", "mL", shelf_life_days=365),
    Item("FILM-A3", "Print film, A3", "film", "supplies when used", "sheet"),
    Item("TAPE-HEAT", "Heat tape", "tape", "supplies when bought", "each"),
    Item("GUEST-HOOD", "A customer's hoodie", "blank", "customer's", "each"),
)
"""One item of each tax class, and enough goods to queue up behind each other."""

_ITEM_BY_SKU = {item.sku: item for item in ITEMS}


def day(text: str) -> datetime.date:
    """Return the date of '2026-01-05', or of '01-05' in the year of these tests."""
    return datetime.date.fromisoformat(text if len(text) == 10 else f"2026-{text}")


def make_book(path: Path, items: Sequence[Item] = ITEMS, *, policies: dict[str, str] | None = None) -> None:
    """Make a book of a dollar shop that begins in January 2026."""
    shop = {
        "name": "Test shop",
        "currency": "USD",
        "first_month": "2026-01",
        "country": "US",
        "tax_year_starts": "01",
    }
    connection = create(path)
    with write_tx(connection):
        write_shop(connection, shop, policies or {}, NOW)
        save_items(connection, items, [])
    publish(connection, path)


def copy_in_memory(path: Path) -> sqlite3.Connection:
    """Return a copy of a book that lives in memory: no disk to wait for, the same guards."""
    source = sqlite3.connect(path)
    copy = sqlite3.connect(":memory:", isolation_level=None)
    source.backup(copy)
    source.close()
    assert copy.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
    copy.execute("PRAGMA foreign_keys = ON")
    copy.execute("PRAGMA recursive_triggers = ON")
    return copy


def line(
    sku: str, pieces: int | str = 10, cents: int = 1000, item: Item | None = None, **losses: object
) -> ReceiptLine:
    """Return a receipt line of some pieces for some cents.

    ``losses`` are the fields of `InvoiceLine` that say what is missing or damaged, or weighs what,
    and those of `ReceiptLine`, by their names.
    """
    of_invoice = {name: losses.pop(name) for name in list(losses) if name in InvoiceLine.__slots__}
    what = item or _ITEM_BY_SKU[sku]
    invoice = InvoiceLine(what.sku, what.tax_class, int(Fraction(pieces) * 1000), cents)
    invoice = replace(invoice, **of_invoice)  # type: ignore[arg-type]
    return ReceiptLine(item=what, invoice=invoice, unit=what.base_unit, **losses)  # type: ignore[arg-type]


def charge(cents: int, basis: str = "value", kind: str = "freight", **fields: object) -> ChargeWish:
    """Return a charge of some cents."""
    return ChargeWish(kind, basis, amount=cents, **fields)  # type: ignore[arg-type]


@dataclass
class Book:
    """An open book, and short words for what tests do with it."""

    path: Path
    connection: sqlite3.Connection

    def plan(self, *lines: ReceiptLine, on: str = "01-05", **fields: object) -> ReceiptPlan:
        """Prepare a receipt without posting it."""
        given: dict[str, object] = {
            "party": SUPPLIER,
            "reference": "",
            "currency": "USD",
            "rate": "1",
            "rate_source": "",
        }
        request = ReceiptRequest(received_on=day(on), lines=lines, **{**given, **fields})  # type: ignore[arg-type]
        return prepare(self.connection, request, TODAY)

    def receive(self, *lines: ReceiptLine, on: str = "01-05", **fields: object) -> int:
        """Post a receipt; return its number. Its charges have the numbers after it."""
        return post(self.connection, self.plan(*lines, on=on, **fields), NOW).numbers[0]

    def charge(self, wish: ChargeWish, *receipts: int, on: str = "01-20") -> int:
        """Post a bill that came after the goods; return its number."""
        plan = prepare_charge(self.connection, wish, receipts, day(on), TODAY)
        return post_charge(self.connection, plan, NOW).numbers[0]

    def leave(self, event: str, *what: tuple[str, int | str], on: str = "01-10") -> int:
        """Post a document by which stock leaves; ``what`` is SKU and pieces."""
        with write_tx(self.connection):
            document = leaving(next_number(self.connection), event, what, day(on).isoformat())
            insert_documents(self.connection, [document])
            recost(self.connection, [document])
        return document.number

    def undo(self, *numbers: int, why: str = "a test") -> tuple[int, ...]:
        """Undo documents."""
        return post_undo(self.connection, numbers, why, TODAY, NOW).numbers

    def close(self, month: str, number: int | None = None) -> int:
        """Close a month as it stands: the document, the layers kept, the seal, the boundary."""
        return close_month(self.connection, month, number)

    def legs(self) -> list[Leg]:
        """Return all legs."""
        return read_legs(self.connection)

    def prove(self) -> Proof:
        """Prove the book."""
        return prove(self.connection)

    def rows(self, query: str, *values: object) -> list[tuple[object, ...]]:
        """Return the rows of a query."""
        return self.connection.execute(query, values).fetchall()

    def amounts(self, account: str) -> dict[int, int]:
        """Return, per document, what went into an account."""
        sums: dict[int, int] = {}
        for leg in self.legs():
            if leg.account == account:
                sums[leg.document] = sums.get(leg.document, 0) + leg.amount
        return sums


def leaving(number: int, event: str, what: Iterable[tuple[str, int | str]], on: str) -> NewDocument:
    """Return a document by which stock leaves."""
    lines = tuple(
        NewLine(
            line=place,
            sku=sku,
            kind=_ITEM_BY_SKU[sku].kind,
            tax_class=_ITEM_BY_SKU[sku].tax_class,
            quantity_milli=int(Fraction(pieces) * 1000),
        )
        for place, (sku, pieces) in enumerate(what, 1)
    )
    return NewDocument(
        number=number,
        event=event,
        document_date=on,
        effect_date=on,
        recorded_at=NOW,
        currency="USD",
        lines=lines,
    )


def close_month(connection: sqlite3.Connection, month: str, number: int | None = None) -> int:
    """Close a month by hand, under a number of one's choice and whatever months are open before it.

    Only right where nothing of a later month is in the book yet, so that the layers that are open
    now are those of the month's end.
    """
    first_of_next = (datetime.date.fromisoformat(f"{month}-01") + datetime.timedelta(days=32)).replace(day=1)
    last_day = (first_of_next - datetime.timedelta(days=1)).isoformat()
    with write_tx(connection):
        document = number or next_number(connection)
        closing = NewDocument(
            number=document,
            event="close",
            document_date=last_day,
            effect_date=last_day,
            recorded_at=NOW,
            currency="USD",
        )
        insert_documents(connection, [closing])
        connection.execute("PRAGMA defer_foreign_keys = ON")
        connection.execute(
            "INSERT INTO closed_layer SELECT ?, lot_document, lot_line, position, quantity, amount, used FROM layer",
            (document,),
        )
        events = month_events(connection)
        previous = events[-1].fingerprint if events else ""
        connection.execute(
            "INSERT INTO month_event (document, action, month, fingerprint, previous_fingerprint, policies) "
            "VALUES (?, 'close', ?, ?, ?, ?)",
            (
                document,
                month,
                month_fingerprint(connection, month, document, previous),
                previous,
                json.dumps(read_policies(connection)),
            ),
        )
        connection.execute("UPDATE boundary SET closed_through = ?", (last_day,))
    return document


def opened(path: Path) -> Book:
    """Return the book at ``path``, open for writing."""
    return Book(path, open_writing(path))


def disarm(connection: sqlite3.Connection) -> None:
    """Drop every guard, as a hand in the file could, so that a test can break what they protect."""
    names = [row[0] for row in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'")]
    for name in names:
        connection.execute(f'DROP TRIGGER "{name}"')


__all__ = [
    "ITEMS",
    "NOW",
    "SUPPLIER",
    "TODAY",
    "Book",
    "charge",
    "close_month",
    "copy_in_memory",
    "day",
    "disarm",
    "leaving",
    "line",
    "make_book",
    "opened",
    "read_facts",
]

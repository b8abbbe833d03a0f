"""Documents of every event, posted by hand into a test's book, without the commands that make them."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from book_builder import NOW, day

from ledger.book.catalogue_store import ensure_party, find_items, save_items
from ledger.book.connect import write_tx
from ledger.book.documents import NewDocument, NewLine, insert_documents, next_number
from ledger.book.recosting import recost
from ledger.catalogue.boms import FINISHED
from ledger.catalogue.items import Item

What = tuple[str, int | str]
"""A SKU and how much of it, in base units."""


def milli(amount: int | str) -> int:
    """Return an amount of base units in thousandths."""
    return int(Fraction(amount) * 1000)


def finished(connection: sqlite3.Connection, *skus: str) -> None:
    """Put finished items into the catalogue, as posting their first job does."""
    with write_tx(connection):
        save_items(connection, [Item(sku, sku, FINISHED, "goods", "each") for sku in skus], [])


def post_lines(
    connection: sqlite3.Connection, event: str, lines: Sequence[NewLine], on: str, **head: object
) -> int:
    """Post one document of these lines, costed; return its number. ``head`` are fields of `NewDocument`."""
    items = find_items(connection, [line.sku for line in lines if line.sku])
    with write_tx(connection):
        if head.get("party"):
            ensure_party(connection, str(head["party"]), "customer")
        document = NewDocument(
            number=next_number(connection),
            event=event,
            document_date=day(on).isoformat(),
            effect_date=day(on).isoformat(),
            recorded_at=NOW,
            currency="USD",
            lines=tuple(
                replace(line, kind=items[line.sku or ""].kind, tax_class=items[line.sku or ""].tax_class)
                for line in lines
            ),
            **head,  # type: ignore[arg-type]
        )
        insert_documents(connection, [document])
        recost(connection, [document])
    return document.number


def leave(connection: sqlite3.Connection, event: str, *what: What, on: str = "01-20", **head: object) -> int:
    """Post a sale, use, sample …; also a receipt or an opening, whose pieces cost a dollar each."""
    arrives = event in {"receipt", "opening"}
    lines = [
        NewLine(line=place, sku=sku, quantity_milli=milli(much), amount=milli(much) // 10 if arrives else 0)
        for place, (sku, much) in enumerate(what, 1)
    ]
    return post_lines(connection, event, lines, on, **head)


def make(
    connection: sqlite3.Connection,
    product: What,
    *components: What,
    on: str = "01-10",
    normal: int = 0,
    abnormal: int = 0,
    labour_cents: int = 0,
) -> int:
    """Post a job; the product's quantity counts all its pieces, spoiled ones among them."""
    sku, pieces = product
    lines = [
        NewLine(line=place, role="component", sku=used, quantity_milli=milli(much))
        for place, (used, much) in enumerate(components, 1)
    ]
    after = len(components) + 1
    lines.append(
        NewLine(
            line=after,
            role="product",
            sku=sku,
            quantity_milli=milli(pieces),
            normal_milli=milli(normal),
            expensed_milli=milli(abnormal),
        )
    )
    if labour_cents:
        lines.append(NewLine(line=after + 1, role="labour", sku=sku, amount=labour_cents))
    return post_lines(connection, "make", lines, on)


def take_back(
    connection: sqlite3.Connection, sku: str, pieces: int, sale: int, *, line: int = 1, on: str = "01-25"
) -> int:
    """Post a customer's return of pieces of a sale's line."""
    lines = [NewLine(line=1, sku=sku, quantity_milli=milli(pieces), lot_document=sale, lot_line=line)]
    return post_lines(connection, "take back", lines, on)

"""Bills of materials in the book."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from fractions import Fraction

from ledger.book.catalogue_store import find_items, find_packs
from ledger.catalogue.boms import Bill, BillLine, Catalogue, Made, finished_items
from ledger.exact.numbers import read_decimal, show_fraction

_PLACES = 6
"""Amounts in a bill have six decimals at most, so their decimal text is exact."""

_BILL = (
    "SELECT code, name, way, blank, finished, misprint_percent, labour_per_piece, labour_per_run, "
    "least_polyester_percent, light_only, note FROM bill"
)
_LINES = (
    "SELECT bill, sku, per_piece, per_run, unit, waste_percent, uses, colours, note FROM bill_line "
    "ORDER BY bill, position"
)


def find_bills(connection: sqlite3.Connection) -> dict[str, Bill]:
    """Return the bills of materials by code, each with its lines in order."""
    lines: dict[str, list[BillLine]] = {}
    for row in connection.execute(_LINES):
        lines.setdefault(row[0], []).append(_line(row[1:]))
    rows = connection.execute(_BILL + " ORDER BY code")
    return {row[0]: _bill(row, lines.get(row[0], [])) for row in rows}


def find_catalogue(connection: sqlite3.Connection) -> Catalogue:
    """Return all items, packs and bills together, as exploding and checking bills takes them."""
    return Catalogue(find_items(connection), find_packs(connection), find_bills(connection))


def find_made(connection: sqlite3.Connection) -> dict[str, Made]:
    """Return what the shop's bills can make, by finished SKU: the item, its bill and its blank."""
    return finished_items(find_bills(connection).values(), find_items(connection))


def save_bills(connection: sqlite3.Connection, bills: Iterable[Bill]) -> None:
    """Add or replace bills whole, inside the caller's transaction.

    Posted jobs keep the components they used: they are not looked up here again.
    """
    for bill in bills:
        connection.execute("DELETE FROM bill WHERE code = ?", (bill.code,))
        connection.execute(
            "INSERT INTO bill (code, name, way, blank, finished, misprint_percent, labour_per_piece, "
            "labour_per_run, least_polyester_percent, light_only, note) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                bill.code,
                bill.name,
                bill.way,
                bill.blank,
                bill.finished,
                show_fraction(bill.misprint_percent, _PLACES),
                format(bill.labour_per_piece, "f"),
                format(bill.labour_per_run, "f"),
                bill.least_polyester_percent,
                int(bill.light_only),
                bill.note,
            ),
        )
        connection.executemany(
            "INSERT INTO bill_line (bill, position, sku, per_piece, per_run, unit, waste_percent, uses, "
            "colours, note) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            _line_rows(bill),
        )


def _line_rows(bill: Bill) -> Iterator[tuple[object, ...]]:
    for position, line in enumerate(bill.lines, start=1):
        yield (
            bill.code,
            position,
            line.sku,
            show_fraction(line.per_piece, _PLACES),
            show_fraction(line.per_run, _PLACES),
            line.unit,
            show_fraction(line.waste_percent, _PLACES),
            line.uses,
            "; ".join(line.colours),
            line.note,
        )


def _bill(row: Sequence[object], lines: Iterable[BillLine]) -> Bill:
    code, name, way, blank, finished, misprints, per_piece, per_run, polyester, light_only, note = row
    return Bill(
        code=str(code),
        name=str(name),
        way=str(way),
        blank=str(blank),
        finished=str(finished),
        lines=tuple(lines),
        misprint_percent=_exact(misprints),
        labour_per_piece=Decimal(str(per_piece)),
        labour_per_run=Decimal(str(per_run)),
        least_polyester_percent=polyester if isinstance(polyester, int) else None,
        light_only=bool(light_only),
        note=str(note),
    )


def _line(row: Sequence[object]) -> BillLine:
    sku, per_piece, per_run, unit, waste, uses, colours, note = row
    return BillLine(
        sku=str(sku),
        per_piece=_exact(per_piece),
        per_run=_exact(per_run),
        unit=str(unit),
        waste_percent=_exact(waste),
        uses=uses if isinstance(uses, int) else None,
        colours=tuple(filter(None, map(str.strip, str(colours).split(";")))),
        note=str(note),
    )


def _exact(text: object) -> Fraction:
    return read_decimal(str(text))

"""Small shipment files and profiles, made by hand for the tests of this room."""

from __future__ import annotations

import datetime
from decimal import Decimal
from pathlib import Path

from ledger.errors import InputErrors
from ledger.intake.profile import Profile, load_profile
from ledger.intake.read_shipment import ShipmentOptions, read_shipment
from ledger.intake.shipment import ShipmentDraft
from ledger.intake.table import Cell, Sheet, SourceFile, column_letters

Value = str | int | float | Decimal | datetime.date | None

PLAIN = """
currency = "USD"
[columns]
style = "Style"
colour = "Colour"
size = "Size"
quantity = "Qty"
unit = "Unit"
pieces = "Pieces"
unit_price = "Price"
line_total = "Amount"
discount_percent = "Disc %"
missing = "Short"
damaged = "Damaged"
loss = "Treat as"
duty = "Duty"
duty_percent = "Duty rate"
weight_kg = "Net kg"
expires_on = "Best before"
tax_paid = "Tax"
[packs]
CS = "72 each"
[packs_by_size]
"2XL" = { CS = "36 each" }
[sku]
pattern = "{style}-{colour}-{size}"
[sku.colour]
"Heather Navy" = "HNV"
[items]
kind = "blank"
ladder = "adult"
name = "{style} tee, {colour}, {size}"
[head]
reference = "Invoice no."
date = "Date"
[foot]
"Subtotal" = "lines total"
"Discount" = "discount"
"Freight" = "freight by weight"
"Total" = "invoice total"
"""
HEADINGS = ["Style", "Colour", "Size", "Qty", "Unit", "Price", "Amount"]
TEE = ["T10", "Black", "M", 2, "CS", "205.20", "410.40"]


def made_profile(folder: Path, text: str = PLAIN) -> Profile:
    """Return the profile that the text holds."""
    path = folder / "made.toml"
    path.write_text(text, encoding="utf-8")
    return load_profile(path)


def made_file(*rows: list[Value], has_addresses: bool = True) -> SourceFile:
    """Return a file of one sheet 'Invoice'; blank rows are left out as a reader leaves them out."""
    numbered = [(number, row) for number, row in enumerate(rows, start=1) if any(v is not None for v in row)]
    sheet = Sheet("Invoice", (), (), has_addresses)
    cells = tuple(
        tuple(
            Cell(_exact(value), f"sheet Invoice, cell {column_letters(place)}{number}")
            for place, value in enumerate(row)
        )
        for number, row in numbered
    )
    sheet = Sheet("Invoice", cells, tuple(number for number, _ in numbered), has_addresses)
    return SourceFile("made.xlsx", (sheet,), (), "0" * 64)


def _exact(value: Value) -> str | Decimal | datetime.date | None:
    return Decimal(str(value)) if isinstance(value, int | float) else value


def read(file: SourceFile, profile: Profile, **options: object) -> ShipmentDraft:
    """Return the draft, with options by their names."""
    return read_shipment(file, profile, options=ShipmentOptions(**options))  # type: ignore[arg-type]


def problems_of(file: SourceFile, profile: Profile, **options: object) -> list[str]:
    """Return every problem the file has, as one line of text each; an empty list where it is sound."""
    try:
        read(file, profile, **options)
    except InputErrors as errors:
        return [str(problem) for problem in errors.problems]
    return []

"""A shop all of whose names would calculate in a spreadsheet, or change a database, if they were let."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path

from month_shop import MonthShop

TOKEN = "ZZQ"  # noqa: S105  (no password: a mark)
"""Stands in every hostile name, and nowhere else."""

SHOP = f'=HYPERLINK("http://{TOKEN}.invalid","shop")'
STYLE, COLOUR = f"=cmd|'{TOKEN}'!A0", f"+{TOKEN}+1"
NAMES = (f"-{TOKEN}(1)", f"@{TOKEN}(A1)", f"'; DROP TABLE document; -- {TOKEN}", f'";={TOKEN};"')
SUPPLIER, CUSTOMER = f"=1+{TOKEN}", f"Robert'); DROP TABLE party;-- {TOKEN}"
REFERENCE, NOTE = f"@R-{TOKEN}", f"\"'; DELETE FROM leg WHERE '1'='1' {TOKEN}"  # noqa: S608


def csv_text(*rows: Sequence[str]) -> str:
    """Return rows as csv, quoted where it must be."""
    written = io.StringIO()
    csv.writer(written, lineterminator="\n").writerows(rows)
    return written.getvalue()


ITEMS = csv_text(
    ("sku", "name", "kind", "unit", "tax_class", "style", "colour", "size", "note"),
    ("TEE-M", NAMES[0], "blank", "each", "goods", STYLE, COLOUR, "M", NOTE),
    ("TEE-L", NAMES[1], "blank", "each", "goods", STYLE, COLOUR, "L", NOTE),
    ("INK", NAMES[2], "ink", "mL", "goods", "", "", "", NOTE),
    ("FILM", NAMES[3], "film", "sheet", "supplies when used", "", "", "", NOTE),
)
EVENTS = csv_text(
    (
        "date",
        "event",
        "sku",
        "quantity",
        "amount",
        "kind",
        "applies_to",
        "party",
        "reference",
        "note",
        "shipping",
        "fees",
    ),
    ("2026-01-01", "opening", "FILM", "90", "18", "", "", "", "", NOTE, "", ""),
    ("2026-01-05", "receive", "TEE-M", "40", "120", "", "", SUPPLIER, REFERENCE, NOTE, "", ""),
    ("2026-01-05", "receive", "TEE-L", "40", "124", "", "", SUPPLIER, REFERENCE, NOTE, "", ""),
    ("2026-01-06", "receive", "INK", "500", "46", "", "", SUPPLIER, f"{REFERENCE}2", NOTE, "", ""),
    (
        "2026-01-06",
        "charge",
        "",
        "",
        "12",
        "freight",
        f"{SUPPLIER}/{REFERENCE}",
        CUSTOMER,
        f"{REFERENCE}3",
        NOTE,
        "",
        "",
    ),
    ("2026-01-09", "sell", "TEE-M", "3", "60", "", "", CUSTOMER, f"{REFERENCE}4", NOTE, "4", "2"),
    ("2026-01-10", "donate", "TEE-L", "1", "", "", "", CUSTOMER, "", NOTE, "", ""),
    ("2026-01-12", "use", "INK", "20", "", "", "", "", "", NOTE, "", ""),
    ("2026-01-31", "count", "TEE-L", "38", "", "", "", "", "", NOTE, "", ""),
)
QUOTES = csv_text(
    (
        "supplier",
        "offer",
        "style",
        "prices",
        "currency",
        "minimum",
        "terms",
        "origin",
        "lead_days",
        "quoted_on",
        "freight_per_order",
    ),
    (SUPPLIER, "", STYLE, "1 = 4.35; 72 = 3.85", "USD", "12", "shipping point", "", "4", "2026-01-03", "9"),
    (
        CUSTOMER,
        f"-{TOKEN} big",
        STYLE,
        "300 = 2.20; 600 = 2.10",
        "USD",
        "300",
        "shipping point",
        "",
        "35",
        "2026-01-03",
        "80",
    ),
)


def make_hostile_shop(folder: Path) -> MonthShop:
    """Return the shop with a month of documents in it."""
    shop = MonthShop(folder, "2026-02-10")
    shop("start", "--name", SHOP, "--currency", "USD", "--country", "US", "--first-month", "2026-01", "--yes")
    for command, text in (("items", ITEMS), ("quotes", QUOTES)):
        sheet = folder / f"{command}.csv"
        sheet.write_text(text, encoding="utf-8")
        shop(command, "load", str(sheet), "--yes")
    shop.post(EVENTS)
    return shop

"""Sales exports and their profiles, as the tests write them."""

from __future__ import annotations

import csv
import io
import tomllib
from collections.abc import Sequence

from ledger.intake.read_csv import read_csv
from ledger.intake.sales_profile import SalesProfile, read_sales_profile
from ledger.intake.table import SourceFile

HEADINGS = "Date,Order,Line,SKU,Title,Variant,Pieces,Item total,Shipping,Fees,Refunded,Refunded on,Returned"

COLUMNS = """
kind = "sales"
party = "Harbour Fair"
[columns]
date = "Date"
order = "Order"
line = "Line"
sku = "SKU"
title = "Title"
variant = "Variant"
pieces = "Pieces"
item_total = "Item total"
shipping = "Shipping"
fees = "Fees"
refunded = "Refunded"
refunded_on = "Refunded on"
returned = "Returned"
"""


def profile(more: str = "", columns: str = COLUMNS) -> SalesProfile:
    """Return a profile of the tests' layout with more lines of TOML."""
    return read_sales_profile(tomllib.loads(columns + more), "tests.toml")


def export(*rows: str, headings: str = HEADINGS) -> SourceFile:
    """Return a csv export of these rows, cells with commas quoted by the test."""
    return read_csv("sales.csv", "\n".join([headings, *rows, ""]).encode())


def export_text(rows: Sequence[Sequence[object]], headings: str = HEADINGS) -> str:
    """Return a csv export of these rows as text."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(headings.split(","))
    writer.writerows(rows)
    return text.getvalue()

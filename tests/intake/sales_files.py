"""Sales exports and their profiles, as the tests write them."""

from __future__ import annotations

import tomllib

import pytest

from ledger.errors import InputErrors
from ledger.intake.events import EventRow
from ledger.intake.read_csv import read_csv
from ledger.intake.read_sales import read_sales
from ledger.intake.sales import SalesDraft
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
PRICED = (
    'kind = "sales"\nparty = "Harbour Fair"\n[columns]\ndate = "Date"\norder = "Order"\nsku = "SKU"\n'
    'pieces = "Pieces"\nunit_price = "Price"\nfees = "Fees"\n'
)
PRICED_HEADINGS = "Date,Order,SKU,Pieces,Price,Fees"


def profile(more: str = "", columns: str = COLUMNS) -> SalesProfile:
    """Return a profile of the tests' layout with more lines of TOML."""
    return read_sales_profile(tomllib.loads(columns + more), "tests.toml")


def export(*rows: str, headings: str = HEADINGS) -> SourceFile:
    """Return a csv export of these rows, cells with commas quoted by the test."""
    return read_csv("sales.csv", "\n".join([headings, *rows, ""]).encode())


def read(*rows: str, more: str = "", headings: str = HEADINGS, columns: str = COLUMNS) -> SalesDraft:
    """Return what rows of an export hold by the tests' profile with more lines."""
    return read_sales(export(*rows, headings=headings), profile(more, columns))


def problems_of(*rows: str, more: str = "", headings: str = HEADINGS, columns: str = COLUMNS) -> list[str]:
    """Return every problem of an export's rows."""
    with pytest.raises(InputErrors) as raised:
        read(*rows, more=more, headings=headings, columns=columns)
    return [str(problem) for problem in raised.value.problems]


def short(row: EventRow) -> tuple[object, ...]:
    """Return what happened in a row: event, day of the month, pieces, amount, shipping, fees."""
    figures = (row.quantity, row.amount, row.shipping, row.fees)
    return (row.event, row.date.day, *(None if one is None else float(one) for one in figures))

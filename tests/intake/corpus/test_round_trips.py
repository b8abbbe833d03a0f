"""What is written by one library is read back as it was, whatever it is."""

from __future__ import annotations

import datetime
import io
from decimal import Decimal
from typing import Any

import openpyxl
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st

from ledger.intake.read_text import read_text
from ledger.intake.read_xlsx import read_xlsx

WORDS = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Cn", "Co"]), min_size=1, max_size=9
).filter(lambda text: text.strip() == text and text[0] not in "#E=" and "_x" not in text.lower())
NUMBERS = st.decimals(-(10**9), 10**9, places=4, allow_nan=False).map(lambda value: value.normalize())
DATES = st.dates(datetime.date(2000, 1, 1), datetime.date(2100, 12, 31))
VALUES = st.one_of(st.none(), WORDS, NUMBERS, DATES, st.booleans())
TABLES = st.lists(st.lists(VALUES, min_size=1, max_size=5), min_size=1, max_size=6)


def trimmed(rows: list[list[Any]]) -> list[list[Any]]:
    """Return the rows without blank cells at their ends and without blank rows."""
    found = []
    for row in rows:
        kept = list(row)
        while kept and kept[-1] is None:
            kept.pop()
        if kept:
            found.append(kept)
    return found


def read(content: bytes) -> list[list[Any]]:
    """Return the values of a workbook's first sheet."""
    return [[cell.value for cell in row] for row in read_xlsx("a.xlsx", content).sheets[0].rows]


def stored(value: Any) -> Any:
    """Return a value as a spreadsheet library takes it."""
    return float(value) if isinstance(value, Decimal) else value


@settings(max_examples=40, deadline=None)
@given(TABLES)
def test_what_openpyxl_writes_is_read_back(rows: list[list[Any]]) -> None:
    """Texts, numbers, dates and yes or no come back as they went, blank cells where they were."""
    workbook = openpyxl.Workbook()
    for row in rows:
        workbook.active.append([stored(value) for value in row])
    buffer = io.BytesIO()
    workbook.save(buffer)
    assert read(buffer.getvalue()) == trimmed(rows)


@settings(max_examples=40, deadline=None)
@given(TABLES)
def test_what_xlsxwriter_writes_is_read_back(rows: list[list[Any]]) -> None:
    """So they do through another writer, in either system of dates."""
    buffer = io.BytesIO()
    options = {"in_memory": True, "date_1904": len(rows) % 2 == 0, "default_date_format": "d.m.yy"}
    workbook = xlsxwriter.Workbook(buffer, {**options, "strings_to_urls": False})
    sheet = workbook.add_worksheet()
    for number, row in enumerate(rows):
        for column, value in enumerate(row):
            if value is not None:
                sheet.write(number, column, stored(value))
    workbook.close()
    assert read(buffer.getvalue()) == trimmed(rows)


CELLS = st.from_regex(r"[A-Za-z0-9.,/-]{1,7}( [A-Za-z0-9.,/-]{1,4})?", fullmatch=True).filter(
    lambda text: not set(text) <= set("-.,/ ")
)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.lists(CELLS, min_size=3, max_size=3), min_size=3, max_size=6), st.data())
def test_a_table_set_in_columns_is_read_back(rows: list[list[str]], data: st.DataObject) -> None:
    """Cells under each other are told apart by where they stand, a missing one in the middle included."""
    rows = [["Style name", "Colour name", "Quantity"], *rows]
    hole = data.draw(st.integers(1, len(rows)))
    if hole < len(rows) and rows[1:] != [rows[hole]]:
        rows[hole][1] = ""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in rows]
    found = read_text("the pasted text", "\n".join(lines).encode()).sheets[0]
    assert [[cell.text for cell in row] for row in found.rows] == rows

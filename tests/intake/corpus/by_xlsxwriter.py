"""Corpus files written by xlsxwriter."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import xlsxwriter
from corpus_cases import INVOICE, READ, Case, Rows

from ledger.intake.table import ErrorValue

Change = Callable[[Any, Any], object]


def _made(
    rows: Rows = INVOICE, change: Change | None = None, options: dict[str, Any] | None = None
) -> Callable[[Path], None]:
    """Return a maker of a workbook whose sheet Invoice holds the rows, changed by a function."""

    def make(path: Path) -> None:
        workbook = xlsxwriter.Workbook(path, options or {})
        sheet = workbook.add_worksheet("Invoice")
        day = workbook.add_format({"num_format": "d mmm yyyy"})
        for number, row in enumerate(rows):
            for column, value in enumerate(row):
                if isinstance(value, datetime.date):
                    sheet.write_datetime(number, column, value, day)
                elif value is not None:
                    sheet.write(number, column, value)
        if change is not None:
            change(sheet, workbook)
        workbook.close()

    return make


def _formulas(sheet: Any, _workbook: Any) -> None:
    sheet.write(0, 6, "Amount")
    for row, value in ((2, 49.2), (3, 98.4), (4, 82.5)):
        sheet.write_formula(row - 1, 6, f"=D{row}*E{row}", None, value)


def _error_formula(sheet: Any, _workbook: Any) -> None:
    sheet.write_formula("A2", "=1/0", None, "#DIV/0!")
    sheet.write_formula("B2", '="a"&"b"', None, "ab")


def _money(sheet: Any, workbook: Any) -> None:
    sheet.write_number("A2", 1234.5, workbook.add_format({"num_format": '#,##0.00 "USD"'}))
    sheet.write_number("B2", 0.165, workbook.add_format({"num_format": "0.0%"}))
    sheet.write_number("C2", 42, workbook.add_format({"num_format": "00000"}))


def _rich(sheet: Any, workbook: Any) -> None:
    sheet.write_rich_string("A2", "TEE", workbook.add_format({"bold": True}), "-180")


def _hidden_by_default(sheet: Any, _workbook: Any) -> None:
    sheet.set_default_row(hide_unused_rows=True)


def _hidden(sheet: Any, workbook: Any) -> None:
    sheet.set_row(2, None, None, {"hidden": True})
    workbook.add_worksheet("Old").hide()


def _merged(sheet: Any, workbook: Any) -> None:
    sheet.merge_range("A2:A4", "TEE-180", workbook.add_format({"valign": "top"}))


def _listed(sheet: Any, _workbook: Any) -> None:
    heads = [{"header": str(text)} for text in INVOICE[0]]
    sheet.add_table("A1:F4", {"columns": heads})


def _chart(sheet: Any, workbook: Any) -> None:
    chart = workbook.add_chart({"type": "column"})
    chart.add_series({"values": "=Invoice!$D$2:$D$4"})
    sheet.insert_chart("H2", chart)
    sheet.write_comment("A2", "check this one")


def _protected(sheet: Any, _workbook: Any) -> None:
    sheet.protect("secret")


def _day_sixty(sheet: Any, workbook: Any) -> None:
    sheet.write_number("A2", 60, workbook.add_format({"num_format": "yyyy-mm-dd"}))


def _subtotals(rows: Rows) -> Rows:
    """Return the invoice with a subtotal after each style and the headings once more, as on a second page."""
    return [*rows[:3], [None, None, "Subtotal", 36], rows[0], rows[3], [None, None, "Subtotal", 6]]


def _macros(path: Path) -> None:
    project = path.with_suffix(".bin")
    project.write_bytes(bytes.fromhex("d0cf11e0a1b11ae1") + bytes(600))

    def add(_sheet: Any, workbook: Any) -> None:
        workbook.add_vba_project(str(project))

    _made(change=add)(path)


CASES = (
    Case("xlsxwriter, a plain invoice", "a.xlsx", _made(), READ),
    Case("xlsxwriter, texts inside the sheet", "a.xlsx", _made(options={"constant_memory": True}), READ),
    Case("xlsxwriter, dates counted from 1904", "a.xlsx", _made(options={"date_1904": True}), READ),
    Case(
        "xlsxwriter, formulas with stored values",
        "a.xlsx",
        _made(change=_formulas),
        [
            [*row, value]
            for row, value in zip(
                READ, ["Amount", Decimal("49.2"), Decimal("98.4"), Decimal("82.5")], strict=True
            )
        ],
        remark="asks to be calculated when it is opened",
    ),
    Case(
        "xlsxwriter, a formula that gives an error, one that gives text",
        "a.xlsx",
        _made([["a", "b"]], _error_formula),
        [["a", "b"], [ErrorValue("#DIV/0!"), "ab"]],
        remark="asks to be calculated when it is opened",
    ),
    Case(
        "xlsxwriter, money, percent and a code by format only",
        "a.xlsx",
        _made([["Amount", "Duty", "Code"]], _money),
        [["Amount", "Duty", "Code"], [Decimal("1234.5"), Decimal("0.165"), 42]],
    ),
    Case("xlsxwriter, text in several fonts", "a.xlsx", _made(change=_rich), READ),
    Case("xlsxwriter, unused rows hidden", "a.xlsx", _made(change=_hidden_by_default), READ),
    Case(
        "xlsxwriter, a hidden row and a hidden sheet",
        "a.xlsx",
        _made(change=_hidden),
        [READ[0], READ[1], READ[3]],
        remark="sheet Old is hidden and was skipped",
    ),
    Case(
        "xlsxwriter, a style merged down",
        "a.xlsx",
        _made([["Style", "Size"], [None, "S"], [None, "M"], [None, "L"]], _merged),
        [["Style", "Size"], ["TEE-180", "S"], ["TEE-180", "M"], ["TEE-180", "L"]],
        remark="(A2:A4)",
        is_plain=False,
    ),
    Case("xlsxwriter, a table object", "a.xlsx", _made(change=_listed), READ),
    Case("xlsxwriter, a chart and a comment", "a.xlsx", _made(change=_chart), READ),
    Case("xlsxwriter, a sheet protected against changes", "a.xlsx", _made(change=_protected), READ),
    Case(
        "xlsxwriter, the day that never was",
        "a.xlsx",
        _made([["Date"]], _day_sixty),
        [["Date"], [datetime.date(1900, 2, 28)]],
        is_plain=False,
    ),
    Case(
        "xlsxwriter, subtotals in between and headings repeated",
        "a.xlsx",
        _made(_subtotals(INVOICE)),
        _subtotals(READ),
        numbers=(1, 2, 3, 4, 5, 6, 7),
    ),
    Case(
        "xlsxwriter, macros",
        "a.xlsm",
        _macros,
        READ,
        remark="the workbook holds macros; they were left alone",
    ),
    Case(
        "xlsxwriter, fifteen digits and more",
        "a.xlsx",
        _made([[123456789012345, 0.30000000000000004]]),
        [[123456789012345, Decimal("0.3")]],
    ),
    Case("xlsxwriter, an empty workbook", "a.xlsx", _made([]), []),
    Case(
        "xlsxwriter, more columns than any table",
        "a.xlsx",
        _made([[1] * 600]),
        refusal="more than 500 columns",
    ),
)

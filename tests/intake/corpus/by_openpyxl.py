"""Corpus files written by openpyxl."""

from __future__ import annotations

import datetime
import io
import re
import zipfile
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import openpyxl
from corpus_cases import INVOICE, READ, Case, Rows
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont

from ledger.intake.table import ErrorValue

Change = Callable[[Any, openpyxl.Workbook], object]


def _made(rows: Rows = INVOICE, change: Change | None = None) -> Callable[[Path], None]:
    """Return a maker of a workbook whose sheet Invoice holds the rows, changed by a function."""

    def make(path: Path) -> None:
        workbook = openpyxl.Workbook()
        sheet = workbook.active
        sheet.title = "Invoice"
        for row in rows:
            sheet.append(row)
        if change is not None:
            change(sheet, workbook)
        workbook.save(path)

    return make


def _patched(part: str, pattern: bytes, replacement: bytes, rows: Rows = INVOICE) -> Callable[[Path], None]:
    def make(path: Path) -> None:
        buffer = path.with_suffix(".before")
        _made(rows)(buffer)
        with zipfile.ZipFile(io.BytesIO(buffer.read_bytes())) as old, zipfile.ZipFile(path, "w") as new:
            for name in old.namelist():
                content = old.read(name)
                new.writestr(name, re.sub(pattern, replacement, content) if name == part else content)

    return make


def _hide_rows(sheet: Any, _workbook: openpyxl.Workbook) -> None:
    sheet.row_dimensions[3].hidden = True


def _filter(sheet: Any, workbook: openpyxl.Workbook) -> None:
    sheet.auto_filter.ref = "A1:F4"
    sheet.auto_filter.add_filter_column(0, ["HOOD-280"])
    for row in (2, 3):
        sheet.row_dimensions[row].hidden = True
    del workbook


def _hide_column(sheet: Any, _workbook: openpyxl.Workbook) -> None:
    sheet.column_dimensions["B"].hidden = True


def _very_hidden(_sheet: Any, workbook: openpyxl.Workbook) -> None:
    old = workbook.create_sheet("Last year", 0)
    old.append(["Style", "Qty"])
    old.sheet_state = "veryHidden"
    workbook.active = 1


def _merge_down(sheet: Any, _workbook: openpyxl.Workbook) -> None:
    for area in ("A2:A3", "B2:B3", "D2:D3"):
        sheet.merge_cells(area)


def _merge_title(sheet: Any, _workbook: openpyxl.Workbook) -> None:
    sheet.insert_rows(1, 2)
    sheet["A1"] = "Invoice 4711"
    sheet.merge_cells("A1:F1")


def _formula(sheet: Any, _workbook: openpyxl.Workbook) -> None:
    sheet["G1"] = "Amount"
    sheet["G2"] = "=D2*E2"


def _mac_dates(_sheet: Any, workbook: openpyxl.Workbook) -> None:
    workbook.epoch = openpyxl.utils.datetime.MAC_EPOCH


def _mac_made(path: Path) -> None:
    workbook = openpyxl.Workbook()
    workbook.epoch = openpyxl.utils.datetime.MAC_EPOCH
    for row in INVOICE:
        workbook.active.append(row)
    workbook.save(path)


def _typed_text(sheet: Any, _workbook: openpyxl.Workbook) -> None:
    sheet["A2"] = "=TEE-180"
    sheet["A2"].data_type = "s"


def _rich(sheet: Any, _workbook: openpyxl.Workbook) -> None:
    sheet["A2"] = CellRichText("TEE", TextBlock(InlineFont(b=True), "-180"))


def _second_sheet(_sheet: Any, workbook: openpyxl.Workbook) -> None:
    workbook.create_sheet("Packing").append(["Box", 1])


def _without(rows: Rows, *places: tuple[int, int]) -> Rows:
    """Return the rows with cells emptied."""
    return [
        [None if (row, column) in places else value for column, value in enumerate(cells)]
        for row, cells in enumerate(rows)
    ]


_TEXT_NUMBERS: Rows = [
    ["Qty", "Price"],
    ["12", "4.10"],
    ["1,200", "$1,234.50"],
    ["(3)", "4,10 \N{EURO SIGN}"],
]
_ZEROS: Rows = [["Code", "Qty"], ["00412", 1], [413, 2], ["00414", 3]]
_GAPS: Rows = [[None], [None, "Style", "Qty"], [None], [None, "  "], [None, "TEE", 2]]
_DATES: Rows = [["Date", "When"], [datetime.datetime(2026, 3, 2, 14, 30), datetime.time(8, 30)]]  # noqa: DTZ001

CASES = (
    Case("openpyxl, a plain invoice", "a.xlsx", _made(), READ, numbers=(1, 2, 3, 4)),
    Case("openpyxl, numbers as text", "a.xlsx", _made(_TEXT_NUMBERS), _TEXT_NUMBERS),
    Case(
        "openpyxl, blank rows, blank columns and blanks alone",
        "a.xlsx",
        _made(_GAPS),
        [[None, "Style", "Qty"], [None, "TEE", 2]],
        numbers=(2, 5),
    ),
    Case(
        "openpyxl, style and colour merged down, a quantity merged down",
        "a.xlsx",
        _made(_without(INVOICE, (2, 0), (2, 1), (2, 3)), _merge_down),
        _without(READ, (2, 3)),
        remark="a text merged down several rows was read in each of them",
        is_plain=False,
    ),
    Case(
        "openpyxl, a title merged across",
        "a.xlsx",
        _made(change=_merge_title),
        [["Invoice 4711"], *READ],
        remark="of merged cells only the first holds the value (A1:F1)",
        numbers=(1, 3, 4, 5, 6),
    ),
    Case(
        "openpyxl, a hidden row",
        "a.xlsx",
        _made(change=_hide_rows),
        [READ[0], READ[1], READ[3]],
        remark="hidden rows were skipped (3)",
        numbers=(1, 2, 4),
    ),
    Case(
        "openpyxl, rows hidden by a filter",
        "a.xlsx",
        _made(change=_filter),
        [READ[0], READ[3]],
        remark="hidden rows were skipped (2, 3)",
    ),
    Case(
        "openpyxl, a hidden column",
        "a.xlsx",
        _made(change=_hide_column),
        READ,
        remark="hidden columns were read all the same (B)",
    ),
    Case(
        "openpyxl, a sheet hidden deeply",
        "a.xlsx",
        _made(change=_very_hidden),
        READ,
        remark="sheet Last year is hidden and was skipped",
        is_plain=False,
    ),
    Case("openpyxl, two sheets", "a.xlsx", _made(change=_second_sheet), READ),
    Case(
        "openpyxl, a formula never calculated",
        "a.xlsx",
        _made(change=_formula),
        refusal="a formula that was never calculated",
        where="sheet Invoice, cell G2",
    ),
    Case("openpyxl, dates counted from 1904", "a.xlsx", _mac_made, READ),
    Case(
        "openpyxl, a date with a time and a time alone",
        "a.xlsx",
        _made(_DATES),
        [["Date", "When"], [datetime.date(2026, 3, 2), "08:30:00"]],
        is_plain=False,
    ),
    Case(
        "openpyxl, an error in a cell",
        "a.xlsx",
        _made([["Qty"], ["#N/A"], ["#REF!"]]),
        [["Qty"], [ErrorValue("#N/A")], [ErrorValue("#REF!")]],
    ),
    Case(
        "openpyxl, a false dimension",
        "a.xlsx",
        _patched("xl/worksheets/sheet1.xml", rb'<dimension ref="[^"]*"', b'<dimension ref="A1"'),
        READ,
    ),
    Case(
        "openpyxl, no dimension",
        "a.xlsx",
        _patched("xl/worksheets/sheet1.xml", rb"<dimension [^>]*/>", b""),
        READ,
    ),
    Case(
        "openpyxl, leading zeros lost",
        "a.xlsx",
        _made(_ZEROS),
        _ZEROS,
        remark="413 in sheet Invoice, cell A3: shorter than the codes of 5 digits",
    ),
    Case(
        "openpyxl, text that begins like a formula",
        "a.xlsx",
        _made(change=_typed_text),
        [READ[0], ["=TEE-180", *READ[1][1:]], *READ[2:]],
    ),
    Case("openpyxl, text in several fonts", "a.xlsx", _made(change=_rich), READ),
    Case(
        "openpyxl, traces of binary fractions",
        "a.xlsx",
        _made([[0.1 + 0.2, 4.1000000000000005, 1e-7]]),
        [[Decimal("0.3"), Decimal("4.1"), Decimal("1e-7")]],
    ),
    Case("openpyxl, yes and no", "a.xlsx", _made([["Taxed"], [True], [False]]), [["Taxed"], [True], [False]]),
    Case(
        "openpyxl, the strict variant",
        "a.xlsx",
        _patched(
            "xl/worksheets/sheet1.xml",
            rb"http://schemas.openxmlformats.org/spreadsheetml/2006/main",
            b"http://purl.oclc.org/ooxml/spreadsheetml/main",
        ),
        refusal="strict variant",
    ),
    Case(
        "openpyxl, only hidden sheets",
        "a.xlsx",
        _patched("xl/workbook.xml", rb'state="visible"', b'state="hidden"'),
        refusal="every sheet of the workbook is hidden",
    ),
)

"""Corpus files written by LibreOffice, converted in two or three runs for all of them."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import by_openpyxl
import by_xlsxwriter
import openpyxl
from corpus_cases import AS_TEXT, INVOICE, READ, Case
from office import convert

from ledger.intake.table import ErrorValue

_MADE = {case.name: case for case in (*by_openpyxl.CASES, *by_xlsxwriter.CASES)}
_DATE_TEXT = [row[:5] for row in AS_TEXT]


def _calculated(path: Path) -> None:
    """Write formulas without values: LibreOffice calculates them."""
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    sheet.title = "Invoice"
    for row in INVOICE:
        sheet.append(row[:5])
    sheet["F1"] = "Amount"
    for number in (2, 3, 4):
        sheet[f"F{number}"] = f"=D{number}*E{number}"
    sheet["F5"] = "=D2/D9"
    sheet["F6"] = '=IF(D2>0,"","none")'
    workbook.save(path)


def _of(name: str) -> Callable[[Path], object]:
    return _MADE[name].make


SOURCES: dict[str, Callable[[Path], object]] = {
    "plain": _of("openpyxl, a plain invoice"),
    "calculated": _calculated,
    "mac": _of("openpyxl, dates counted from 1904"),
    "merged": _of("openpyxl, style and colour merged down, a quantity merged down"),
    "hidden": _of("xlsxwriter, a hidden row and a hidden sheet"),
    "money": _of("xlsxwriter, money, percent and a code by format only"),
    "texts": _of("openpyxl, numbers as text"),
    "zeros": _of("openpyxl, leading zeros lost"),
}
KINDS = {
    "xlsx": "xlsx:Calc MS Excel 2007 XML",
    "csv": "csv:Text - txt - csv (StarCalc):59,34,76,1",
    "xls": "xls:MS Excel 97",
    "ods": "ods",
    "html": "html",
}


def write_all(folder: Path) -> dict[str, Path]:
    """Return every converted file by its source's name and its kind, as 'plain.xlsx'."""
    originals = []
    for name, make in SOURCES.items():
        path = folder / f"{name}.xlsx"
        make(path)
        originals.append(path)
    made = {}
    for kind, words in KINDS.items():
        sources = originals if kind == "xlsx" else originals[:1]
        for path in convert(sources, words, folder / kind):
            made[path.name] = path
    return made


def _copied(name: str, made: dict[str, Path]) -> Callable[[Path], object]:
    return lambda path: shutil.copy(made[name], path)


def cases(made: dict[str, Path]) -> dict[str, Case]:
    """Return the cases by name over the files that `write_all` wrote."""
    merged, hidden, money, texts, zeros = (
        _MADE[name]
        for name in (
            "openpyxl, style and colour merged down, a quantity merged down",
            "xlsxwriter, a hidden row and a hidden sheet",
            "xlsxwriter, money, percent and a code by format only",
            "openpyxl, numbers as text",
            "openpyxl, leading zeros lost",
        )
    )
    amounts = ["Amount", Decimal("49.2"), Decimal("98.4"), Decimal("82.5")]
    calculated = [[*row[:5], amount] for row, amount in zip(READ, amounts, strict=True)]
    found = (
        Case("LibreOffice, a plain invoice", "a.xlsx", _copied("plain.xlsx", made), READ),
        Case(
            "LibreOffice, formulas it calculated",
            "a.xlsx",
            _copied("calculated.xlsx", made),
            [*calculated, [None] * 5 + [ErrorValue("#DIV/0!")]],
        ),
        Case("LibreOffice, dates counted from 1904", "a.xlsx", _copied("mac.xlsx", made), READ),
        Case(
            "LibreOffice, cells merged down",
            "a.xlsx",
            _copied("merged.xlsx", made),
            merged.rows,
            remark=merged.remark,
            is_plain=False,
        ),
        Case(
            "LibreOffice, a hidden row and a hidden sheet",
            "a.xlsx",
            _copied("hidden.xlsx", made),
            hidden.rows,
            remark=hidden.remark,
        ),
        Case(
            "LibreOffice, money, percent and a code by format only",
            "a.xlsx",
            _copied("money.xlsx", made),
            money.rows,
        ),
        Case("LibreOffice, numbers as text", "a.xlsx", _copied("texts.xlsx", made), texts.rows),
        Case(
            "LibreOffice, leading zeros lost",
            "a.xlsx",
            _copied("zeros.xlsx", made),
            zeros.rows,
            remark="413 in sheet Invoice, cell A3",
        ),
        Case(
            "LibreOffice, csv with semicolons",
            "a.csv",
            _copied("plain.csv", made),
            [[*row[:4], row[4].rstrip("0"), row[5]] for row in AS_TEXT],
        ),
        Case(
            "LibreOffice, an old binary workbook as .xlsx",
            "a.xlsx",
            _copied("plain.xls", made),
            refusal="old binary kind",
        ),
        Case(
            "LibreOffice, an OpenDocument sheet as .xlsx",
            "a.xlsx",
            _copied("plain.ods", made),
            refusal="OpenDocument",
        ),
        Case("LibreOffice, a web page as .xlsx", "a.xlsx", _copied("plain.html", made), refusal="web page"),
    )
    return {case.name: case for case in found}


EXPECTED = cases(dict.fromkeys((f"{name}.{kind}" for name in SOURCES for kind in KINDS), Path()))
"""The cases by name as they are known before anything is written."""

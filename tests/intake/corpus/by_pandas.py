"""Corpus files written by pandas: workbooks, and texts of every encoding and delimiter."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
from corpus_cases import AS_TEXT, INVOICE, READ, Case, Rows

_FRAME = pd.DataFrame(INVOICE[1:], columns=INVOICE[0])
_COMMA: Rows = [
    ["Style", "Price"],
    ["TEE-180", "4,10"],
    ["HOOD-280", "13,75"],
    ["Caf\N{LATIN SMALL LETTER E WITH ACUTE}", "1.234,50"],
]
_ACCENTS: Rows = [["Style", "Colour"], ["TEE-180", "Ros\N{LATIN SMALL LETTER E WITH ACUTE}"]]
_BREAKS: Rows = [["Style", "Note", "Qty"], ["TEE-180", 'two\nlines, with "quotes"', "2"]]


def _workbook(frame: pd.DataFrame, **options: Any) -> Callable[[Path], None]:
    def make(path: Path) -> None:
        frame.to_excel(path, sheet_name="Invoice", engine="openpyxl", **options)

    return make


def _text(rows: Rows = AS_TEXT, **options: Any) -> Callable[[Path], None]:
    def make(path: Path) -> None:
        pd.DataFrame(rows[1:], columns=rows[0]).to_csv(path, index=False, **options)

    return make


def _raw(content: bytes) -> Callable[[Path], object]:
    return lambda path: path.write_bytes(content)


_GROUPED = _FRAME[["Style", "Colour", "Size", "Qty"]].set_index(["Style", "Colour"])
_HOLES = pd.DataFrame({"Style": ["TEE-180", None], "Qty": [12.0, float("nan")], "Price": [4.1, 5.0]})

CASES = (
    Case("pandas, a plain invoice", "a.xlsx", _workbook(_FRAME, index=False), READ),
    Case(
        "pandas, an index before it",
        "a.xlsx",
        _workbook(_FRAME),
        [[None, *READ[0]], *([number, *row] for number, row in enumerate(READ[1:]))],
    ),
    Case(
        "pandas, groups merged down",
        "a.xlsx",
        _workbook(_GROUPED),
        [row[:4] for row in READ],
        remark="(A2:A3)",
        is_plain=False,
    ),
    Case(
        "pandas, holes",
        "a.xlsx",
        _workbook(_HOLES, index=False),
        [["Style", "Qty", "Price"], ["TEE-180", 12, READ[1][4]], [None, None, 5]],
    ),
    Case("pandas, csv in UTF-8", "a.csv", _text(_ACCENTS), _ACCENTS),
    Case("pandas, csv in UTF-8 with a mark", "a.csv", _text(_ACCENTS, encoding="utf-8-sig"), _ACCENTS),
    Case("pandas, csv in UTF-16", "a.csv", _text(_ACCENTS, encoding="utf-16"), _ACCENTS),
    Case("pandas, csv in UTF-16 without its mark", "a.csv", _text(_ACCENTS, encoding="utf-16-le"), _ACCENTS),
    Case(
        "pandas, csv in Windows-1252",
        "a.csv",
        _text(_ACCENTS, encoding="cp1252"),
        _ACCENTS,
        remark="read as Windows-1252",
    ),
    Case("pandas, csv with commas", "a.csv", _text(), AS_TEXT),
    Case("pandas, csv with semicolons and decimal commas", "a.csv", _text(_COMMA, sep=";"), _COMMA),
    Case("pandas, csv with tabs", "a.tsv", _text(sep="\t"), AS_TEXT),
    Case("pandas, csv with bars", "a.txt", _text(sep="|"), AS_TEXT),
    Case("pandas, everything quoted", "a.csv", _text(quoting=csv.QUOTE_ALL), AS_TEXT),
    Case("pandas, line breaks and quotes in quotes", "a.csv", _text(_BREAKS), _BREAKS, numbers=(1, 2)),
    Case("pandas, line ends of another system", "a.csv", _text(lineterminator="\r\n"), AS_TEXT),
    Case(
        "text, line ends of an old system",
        "a.csv",
        _raw(b"Style,Qty\rTEE,2\r"),
        [["Style", "Qty"], ["TEE", "2"]],
    ),
    Case(
        "text, blank lines and lines of commas",
        "a.csv",
        _raw(b"Style,Qty\n\n,,,\nTEE,2\n,\n"),
        [["Style", "Qty"], ["TEE", "2"]],
        numbers=(1, 4),
    ),
    Case(
        "text, leading zeros lost in some rows",
        "a.csv",
        _raw(b"Code,Qty\n00412,1\n413,2\n"),
        [["Code", "Qty"], ["00412", "1"], ["413", "2"]],
        remark="413 in row 3, column 1: shorter",
    ),
    Case("text, NUL bytes", "a.csv", _raw(b"Style,Qty\nTEE\x00,2\n"), refusal="not a text file"),
    Case(
        "text, a quotation mark never closed",
        "a.csv",
        _raw(b'Style,Note\nTEE,"12 in\nHOOD,x\n'),
        refusal="a quotation mark is not closed",
        where="row 2 (up to line 3)",
    ),
    Case("text, a web page", "a.csv", _raw(b"<!DOCTYPE html>\n<html>Sign in</html>"), refusal="web page"),
    Case("text, a web page as a workbook", "a.xlsx", _raw(b"<html><table><tr><td>TEE"), refusal="web page"),
    Case("text, as a workbook", "a.xlsx", _raw(b"Style,Qty\nTEE,2\n"), refusal="this is no workbook"),
    Case("text, nothing", "a.csv", _raw(b""), refusal="the file is empty"),
)

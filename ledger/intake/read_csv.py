"""Reading a csv file: text cells, whatever the encoding and the delimiter."""

from __future__ import annotations

import codecs
import contextlib
import csv
import hashlib
import io
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

from ledger.errors import InputErrors, Problem
from ledger.intake.table import (
    MAX_CELLS,
    MAX_COLUMNS,
    MAX_ROWS,
    Cell,
    Sheet,
    SourceFile,
    cell_text,
    refusal,
    trimmed,
)

MAX_FILE_BYTES = 100_000_000
MAX_LINE_CHARACTERS = 1_000_000
SAMPLE_CHARACTERS = 65_536
SAMPLE_ROWS = 50

DELIMITERS = "\t;|,"
"""In the order they are preferred where they fit equally well: a comma also stands inside numbers."""

GUARDED = ("'=", "'+", "'-", "'@", "'\t")
"""How our own csv files begin a text that a spreadsheet program would take for a formula."""

_SHORTER = "Split the file, or keep only the lines you need, and try again."


def read_csv(name: str, content: bytes) -> SourceFile:
    """Return a csv file as one sheet of text cells, named like the file.

    Arguments:
        name: the file's name as the maker knows it.
        content: the whole file: UTF-8, UTF-16 with a byte order mark, or else Windows-1252.

    Numbers and dates stay text: the caller knows the file's decimal sign and order of dates.
    Rows count as a spreadsheet program counts them, line breaks inside quotation marks apart.

    Raises InputErrors where the file is no text, is too large, or its quotation marks do not close.
    """
    if len(content) > MAX_FILE_BYTES:
        raise refusal(name, f"the file has more than {MAX_FILE_BYTES // 10**6} MB.", _SHORTER)
    decoded = _decode(name, content)
    sheet = _read_sheet(name, decoded.text)
    return SourceFile(name, (sheet,), decoded.remarks, hashlib.sha256(content).hexdigest())


def sniff_delimiter(text: str) -> str:
    r"""Return the delimiter, of comma, semicolon, tab and bar, that cuts most rows into as many cells.

    >>> sniff_delimiter("name;price\nred;4,10\nblue;4,20\n")
    ';'
    """
    return max(DELIMITERS, key=lambda delimiter: _consistency(text, delimiter))


def _consistency(text: str, delimiter: str) -> int:
    """Return how many of the first rows have the commonest number of cells above one."""
    widths: Counter[int] = Counter()
    reader = csv.reader(io.StringIO(text[:SAMPLE_CHARACTERS], newline=""), delimiter=delimiter)
    with contextlib.suppress(csv.Error):  # the full reading reports it, with its row
        widths.update(len(row) for row in islice(reader, SAMPLE_ROWS) if len(row) > 1)
    return max(widths.values(), default=0)


@dataclass(frozen=True)
class _Decoded:
    text: str
    remarks: tuple[str, ...] = ()


def _decode(name: str, content: bytes) -> _Decoded:
    utf16 = content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    decoded = None
    for encoding in ("utf-16",) if utf16 else ("utf-8-sig", "cp1252"):
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        remark = "the file is not UTF-8; it was read as Windows-1252: check letters with accents"
        decoded = _Decoded(text, (remark,) if encoding == "cp1252" else ())
        break
    if decoded is None or "\0" in decoded.text:
        raise refusal(
            name,
            "this is not a text file, or its encoding is unknown.",
            "Open it in a spreadsheet program and save it as csv in UTF-8.",
        )
    return decoded


def _lines(name: str, text: str) -> Iterator[str]:
    for number, line in enumerate(io.StringIO(text, newline=""), start=1):
        if len(line) > MAX_LINE_CHARACTERS:
            raise refusal(
                name,
                f"line {number} has more than {MAX_LINE_CHARACTERS} characters: this is no table.",
                "Check that it is the right file.",
            )
        yield line


def _read_sheet(name: str, text: str) -> Sheet:
    reader = csv.reader(_lines(name, text), delimiter=sniff_delimiter(text), strict=True)
    rows: list[tuple[Cell, ...]] = []
    numbers: list[int] = []
    cells = number = 0
    try:
        for number, fields in enumerate(reader, start=1):
            row = trimmed(
                [
                    Cell(cell_text(_unguarded(text)), f"row {number}, column {column}")
                    for column, text in enumerate(fields, start=1)
                ]
            )
            if not row:
                continue
            rows.append(row)
            numbers.append(number)
            cells += len(row)
            _check_size(name, len(rows), len(row), cells)
    except csv.Error:
        # An unclosed quotation mark would otherwise swallow the rows below it without a word.
        place = f"row {number + 1} (up to line {reader.line_num})"
        what = "a quotation mark is not closed, or text follows a closing one."
        next_step = "Double a quotation mark that belongs to a quoted text, or save the file again as csv."
        raise InputErrors(name, [Problem(place, what, next_step)]) from None
    return Sheet(name, tuple(rows), tuple(numbers), has_addresses=False)


def _check_size(name: str, rows: int, columns: int, cells: int) -> None:
    for count, limit, noun in (
        (rows, MAX_ROWS, "rows"),
        (columns, MAX_COLUMNS, "columns"),
        (cells, MAX_CELLS, "cells"),
    ):
        if count > limit:
            raise refusal(name, f"the file has more than {limit} {noun}.", _SHORTER)


def _unguarded(text: str) -> str:
    return text[1:] if text.startswith(GUARDED) else text

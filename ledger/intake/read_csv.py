"""Reading a csv file: text cells, whatever the encoding and the delimiter."""

from __future__ import annotations

import contextlib
import csv
import hashlib
import io
from collections import Counter
from itertools import islice

from ledger.errors import InputErrors, Problem
from ledger.intake.packed_rows import SEPARATOR, PackedRows, pack_texts, unpack_texts
from ledger.intake.table import MAX_CELLS, MAX_COLUMNS, MAX_ROWS, Sheet, SourceFile, refusal
from ledger.intake.text_lines import SAMPLE_CHARACTERS, TextLines, open_text

MAX_FILE_BYTES = 100_000_000
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
        content: the whole file: UTF-8, UTF-16, or else Windows-1252.

    Numbers and dates stay text: the caller knows the file's decimal sign and order of dates.
    Rows count as a spreadsheet program counts them, line breaks inside quotation marks apart.

    Raises InputErrors where the file is no text, is too large, or its quotation marks do not close.
    """
    if len(content) > MAX_FILE_BYTES:
        raise refusal(name, f"the file has more than {MAX_FILE_BYTES // 10**6} MB.", _SHORTER)
    text = open_text(name, content)
    rows = read_rows(text, sniff_delimiter(text.sample()))
    sheet = Sheet(name, rows, tuple(rows.numbers), has_addresses=False)
    return SourceFile(name, (sheet,), text.remarks, hashlib.sha256(content).hexdigest())


def sniff_delimiter(text: str) -> str:
    r"""Return the delimiter, of comma, semicolon, tab and bar, that cuts most rows into as many cells.

    >>> sniff_delimiter("name;price\nred;4,10\nblue;4,20\n")
    ';'
    """
    return max(DELIMITERS, key=lambda delimiter: consistency(text, delimiter))


def consistency(text: str, delimiter: str) -> int:
    """Return how many of the first rows have the commonest number of cells above one."""
    widths: Counter[int] = Counter()
    reader = csv.reader(io.StringIO(text[:SAMPLE_CHARACTERS], newline=""), delimiter=delimiter)
    with contextlib.suppress(csv.Error):  # the full reading reports it, with its row
        widths.update(len(row) for row in islice(reader, SAMPLE_ROWS) if len(row) > 1)
    return max(widths.values(), default=0)


def read_rows(text: TextLines, delimiter: str, word: str = "row") -> PackedRows:
    """Return the rows of a delimited text that hold anything.

    Arguments:
        text: the lines.
        delimiter: what separates the cells of a row.
        word: what the maker calls a row: "row", or "line" of a pasted table.

    Raises InputErrors where there is too much, or where quotation marks do not close.
    """
    reader = csv.reader(text, delimiter=delimiter, strict=True)
    rows = PackedRows(unpack_texts, word=word)
    number = 0
    try:
        for number, fields in enumerate(reader, start=1):
            packed = pack_texts(fields)
            if not packed:
                continue
            if "'" in packed:
                packed = _unguarded(packed)
            width = rows.add(number, packed)
            if width > MAX_COLUMNS or rows.cells > MAX_CELLS or len(rows) > MAX_ROWS:
                raise _too_much(text.name, len(rows), width)
    except csv.Error as error:
        raise InputErrors(text.name, [_unreadable(error, word, number + 1, reader.line_num)]) from None
    return rows


def _unreadable(error: csv.Error, word: str, row: int, line: int) -> Problem:
    """Return the problem with a row that the csv module refuses.

    An unclosed quotation mark would otherwise swallow the rows below it without a word.
    """
    place = f"{word} {row} (up to line {line})"
    if "limit" in str(error):
        what = (
            f"one cell has more than {csv.field_size_limit()} characters, or a quotation mark is not closed."
        )
    else:
        what = "a quotation mark is not closed, or text follows a closing one."
    return Problem(
        place,
        what,
        "Double a quotation mark that belongs to a quoted text, or save the file again as csv.",
    )


def _too_much(name: str, rows: int, columns: int) -> InputErrors:
    if rows > MAX_ROWS:
        what = f"{MAX_ROWS} rows"
    elif columns > MAX_COLUMNS:
        what = f"{MAX_COLUMNS} columns"
    else:
        what = f"{MAX_CELLS} cells"
    return refusal(name, f"the file has more than {what}.", _SHORTER)


def _unguarded(packed: str) -> str:
    """Return a packed row without the apostrophes that our own csv files put before = + - @."""
    texts = packed.split(SEPARATOR)
    return SEPARATOR.join([text[1:] if text.startswith(GUARDED) else text for text in texts])

"""Reading a table that was pasted or saved as plain text, from a PDF or an order page.

Its columns are separated by tabs, bars, semicolons, commas or by several blanks. With blanks a missing
cell leaves nothing to see but a wider gap, so the cells are told apart by where they stand under each
other, and a line for which that is not certain is refused.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ledger.errors import InputErrors, Problem
from ledger.intake.packed_rows import PackedRows, pack_texts, unpack_texts
from ledger.intake.read_csv import consistency, read_rows
from ledger.intake.table import MAX_COLUMNS, MAX_ROWS, Sheet, SourceFile, refusal
from ledger.intake.text_lines import TextLines, open_text

MAX_TEXT_BYTES = 20_000_000
"""What is pasted is small; what is larger goes in as a file."""

SAMPLE_LINES = 200
SEVERAL_BLANKS = "  "

SEPARATORS = ("\t", "|", ";", SEVERAL_BLANKS, ",")
"""In the order they are preferred where they fit equally well."""

_WORD = "line"
_PIECE = re.compile(r"\S+(?: \S+)*")
_RULE = re.compile(r"[-+|=_:\s]*[-=_]{2}[-+|=_:\s]*")
_DIGIT = re.compile(r"\d")
_NUMBER = re.compile(r"[^\w]{0,3}(?:[A-Z]{3} ?)?[^\w]{0,2}\d[\d.,' ]*[^\w]{0,3}(?:[A-Z]{3})?[^\w]?")
"""A number as an invoice prints it, with a sign or a currency."""
_SAY_HOW = "Put a tab or | between the columns, or save the table as .csv or .xlsx and give that file."


def read_text(name: str, content: bytes) -> SourceFile:
    """Return a pasted table as one sheet of text cells, whose rows are called lines.

    Arguments:
        name: what the maker calls it, such as "the pasted text".
        content: all of it: UTF-8, UTF-16, or else Windows-1252.

    Raises InputErrors where it is no text or too large, where nothing separates columns, and with every
    line whose columns cannot be told apart.
    """
    if len(content) > MAX_TEXT_BYTES:
        limit = f"{MAX_TEXT_BYTES // 10**6} MB"
        raise refusal(name, f"there is more than {limit} of it.", "Save it as a file and give its name.")
    text = open_text(name, content)
    separator = sniff_separator(text.sample())
    if separator in {SEVERAL_BLANKS, "|"}:
        filled = _filled(text)
        rows = _barred(text, filled) if separator == "|" else _aligned(name, filled)
    elif separator:
        rows = read_rows(text, separator, _WORD)
    else:
        raise refusal(name, "nothing in it separates columns.", _SAY_HOW)
    _check_size(name, rows)
    sheet = Sheet(name, rows, tuple(rows.numbers), has_addresses=False, row_word=_WORD)
    return SourceFile(name, (sheet,), text.remarks, hashlib.sha256(content).hexdigest())


def sniff_separator(text: str) -> str:
    r"""Return what cuts most lines into as many cells: a character, two blanks for several, or "".

    >>> sniff_separator("sku  name\nA    red, plain\n"), sniff_separator("a\tb\n1\t2\n")
    ('  ', '\t')
    """
    found = {separator: _fit(text, separator) for separator in SEPARATORS}
    best = max(SEPARATORS, key=lambda separator: found[separator])
    return best if found[best] else ""


def _fit(text: str, separator: str) -> int:
    """Return how many of the first lines have the commonest number of cells above one."""
    if separator != SEVERAL_BLANKS:
        return consistency(text, separator)
    lines = [line for line in text.splitlines()[:SAMPLE_LINES] if "\t" not in line]
    widths = Counter(len(_PIECE.findall(line.text)) for line in _filled(lines))
    return max((count for width, count in widths.items() if width > 1), default=0)


@dataclass(frozen=True, slots=True)
class _Line:
    number: int
    text: str


@dataclass(frozen=True, slots=True)
class _Piece:
    """A run of words and where it stands in its line, from ``start`` up to ``end``."""

    start: int
    end: int
    text: str


def _filled(lines: Iterable[str]) -> list[_Line]:
    """Return the lines that hold words: neither blank nor a rule drawn across the table."""
    numbered = [_line(number, line) for number, line in enumerate(lines, start=1)]
    return [line for line in numbered if line.text.strip() and not _RULE.fullmatch(line.text)]


def _line(number: int, text: str) -> _Line:
    return _Line(number, text.replace("\N{NO-BREAK SPACE}", " ").rstrip().expandtabs())


def _barred(text: TextLines, lines: Sequence[_Line]) -> PackedRows:
    """Return the rows of a table with bars between its cells, and perhaps at both ends."""
    rows = PackedRows(unpack_texts, word=_WORD)
    framed = [line for line in lines if line.text.lstrip().startswith("|")]
    if len(framed) * 2 < len(lines):
        return read_rows(text, "|", _WORD)
    for line in lines:
        inner = line.text.strip()
        if inner.startswith("|"):
            inner = inner[1:].removesuffix("|")
        packed = pack_texts([cell.strip() for cell in inner.split("|")])
        if packed:
            rows.add(line.number, packed)
    return rows


def _aligned(name: str, lines: Sequence[_Line]) -> PackedRows:
    """Return the rows of a table whose columns stand under each other with several blanks between."""
    pieces = [_pieces(line.text) for line in lines]
    widths = Counter(len(found) for found in pieces if len(found) > 1)
    # By gaps, not by lines: a short invoice has more totals, of two pieces each, than goods.
    width = max(widths, key=lambda count: (widths[count] * (count - 1), count))
    full = [index for index, found in enumerate(pieces) if len(found) == width]
    spans = _spans([pieces[index] for index in full])
    edges = _left_edges([pieces[index] for index in full])
    rows: list[_Row] = []
    problems = []
    for index, (line, found) in enumerate(zip(lines, pieces, strict=True)):
        cells: list[str] | None = [piece.text for piece in found]
        if index > full[0] and len(found) != width:
            found = [part for piece in found for part in _cut(piece, edges)]  # noqa: PLW2901
            if rows and _goes_on(rows[-1], line, found, spans):
                rows[-1].add(line, found, spans)
                continue
            if len(found) > 1:
                cells = _placed(found, spans) or _labelled(found, spans)
                if cells is None and _DIGIT.search(line.text):
                    problems.append(_uncertain(line))
                    continue
        rows.append(_Row(line.number, cells or [piece.text for piece in found]))
    if problems:
        raise InputErrors(name, problems)
    packed = PackedRows(unpack_texts, word=_WORD)
    for row in rows:
        packed.add(row.number, pack_texts(row.cells))
    return packed


@dataclass(slots=True)
class _Row:
    """The cells of one line, and of the lines under it that go on with its words."""

    number: int
    cells: list[str]
    more_lines: int = 0

    def add(self, line: _Line, pieces: Sequence[_Piece], spans: Sequence[tuple[int, int]]) -> None:
        """Put the words of the next line behind those they go on with."""
        for piece in pieces:
            (column,) = _under(piece, spans)
            self.cells[column] = f"{self.cells[column]} {piece.text}"
        self.more_lines = line.number - self.number


def _goes_on(row: _Row, line: _Line, pieces: Sequence[_Piece], spans: Sequence[tuple[int, int]]) -> bool:
    """Return whether a line right under a row holds no more than words that did not fit into its cells.

    Words in the first column may as well begin something new, and a number is never part of a word.
    """
    if line.number != row.number + row.more_lines + 1 or len(row.cells) != len(spans):
        return False
    return all(
        len(columns := _under(piece, spans)) == 1
        and columns[0] > 0
        and row.cells[columns[0]] != ""
        and not _NUMBER.fullmatch(row.cells[columns[0]])
        and any(char.isalpha() for char in piece.text)
        and piece.start >= spans[columns[0]][0]
        and (columns[0] + 1 == len(spans) or piece.end < spans[columns[0] + 1][0])
        for piece in pieces
    )


def _pieces(text: str) -> list[_Piece]:
    return [_Piece(found.start(), found.end(), found.group()) for found in _PIECE.finditer(text)]


def _spans(full: Sequence[Sequence[_Piece]]) -> list[tuple[int, int]]:
    """Return from where to where each column stands, by the lines that have a cell in each."""
    return [
        (min(piece.start for piece in column), max(piece.end for piece in column))
        for column in zip(*full, strict=True)
    ]


def _left_edges(full: Sequence[Sequence[_Piece]]) -> list[int]:
    """Return where the columns begin of which every cell begins at the same place."""
    columns = list(zip(*full, strict=True))[1:] if len(full) > 1 else []
    return [column[0].start for column in columns if len({piece.start for piece in column}) == 1]


def _cut(piece: _Piece, edges: Sequence[int]) -> list[_Piece]:
    """Return the piece cut where a column begins behind a single blank, as behind a cell that fills its own."""
    parts = [piece]
    for edge in edges:
        last = parts[-1]
        cut = edge - last.start
        if 0 < cut < len(last.text) and last.text[cut - 1] == " " and last.text[cut] != " ":
            left = last.text[: cut - 1].rstrip()
            parts[-1:] = [
                _Piece(last.start, last.start + len(left), left),
                _Piece(edge, last.end, last.text[cut:]),
            ]
    return parts


def _under(piece: _Piece, spans: Sequence[tuple[int, int]]) -> list[int]:
    """Return the columns above or below which a piece stands: one where it ends or begins with just one."""
    under = [column for column, (start, end) in enumerate(spans) if piece.start < end and start < piece.end]
    if len(under) > 1 and _NUMBER.fullmatch(piece.text):
        # A sum is wider than what it adds up, and ends with its column.
        return [column for column in under if spans[column][1] == piece.end] or under
    return under


def _placed(pieces: Sequence[_Piece], spans: Sequence[tuple[int, int]]) -> list[str] | None:
    """Return the line's cells by the columns above or below which they stand, or None where it is not certain."""
    cells: list[list[str]] = [[] for _ in spans]
    for piece in pieces:
        under = _under(piece, spans)
        if len(under) != 1 or not _stands_under(piece, spans[under[0]]):
            return None
        cells[under[0]].append(piece.text)
    return [SEVERAL_BLANKS.join(texts) for texts in cells]


def _labelled(pieces: Sequence[_Piece], spans: Sequence[tuple[int, int]]) -> list[str] | None:
    """Return the cells of a label that is set against its one amount, whatever columns it stands under.

    None where the amount does not stand under one column, or where there is more than label and amount.
    """
    *words, amount = pieces
    under = _under(amount, spans)
    is_amount = _NUMBER.fullmatch(amount.text) and len(under) == 1 and _stands_under(amount, spans[under[0]])
    if not is_amount or not under[0] or not all(any(map(str.isalpha, word.text)) for word in words):
        return None
    label = SEVERAL_BLANKS.join(word.text for word in words)
    return [label, *[""] * (under[0] - 1), amount.text, *[""] * (len(spans) - under[0] - 1)]


def _stands_under(piece: _Piece, span: tuple[int, int]) -> bool:
    """Return whether a piece begins or ends with its column, or lies mostly within it."""
    start, end = span
    within = min(piece.end, end) - max(piece.start, start)
    return piece.start == start or piece.end == end or 2 * within > piece.end - piece.start


def _uncertain(line: _Line) -> Problem:
    shown = line.text.strip()
    return Problem(
        f"{_WORD} {line.number}",
        f"it cannot be told which columns these stand in: '{shown[:80]}{'…' if len(shown) > 80 else ''}'.",  # noqa: PLR2004
        "Put the cells under their headings, or a tab or | between all columns. Delete the line only if it "
        "is neither goods nor a charge.",
    )


def _check_size(name: str, rows: PackedRows) -> None:
    if len(rows) > MAX_ROWS or rows.widest > MAX_COLUMNS:
        what = f"there are more than {MAX_ROWS} lines or {MAX_COLUMNS} columns."
        raise refusal(name, what, "Keep only the lines you need, and try again.")

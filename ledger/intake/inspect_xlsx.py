"""A look into a workbook before it is opened: is it safe, and what would a plain reading miss.

A workbook is a zip archive of XML parts. A small one can unpack into gigabytes, and the reading
library builds each row whole in memory, so the archive's list of parts is judged first and every part
that will be read is streamed through once. The same pass notes what the values alone do not tell:
hidden rows and columns, merged cells, formulas without a stored value.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, field
from xml.parsers import expat

from ledger.errors import InputErrors
from ledger.intake.table import column_letters, refusal

MAX_FILE_BYTES = 50_000_000
MAX_PARTS = 5_000
MAX_UNPACKED_BYTES = 300_000_000
MAX_RATIO = 100
"""Unpacked bytes per packed byte; sheets of ordinary repetitive lines stay below 40."""

RATIO_FROM_BYTES = 5_000_000
"""Below this unpacked size no ratio does harm."""

MAX_OTHER_PART_BYTES = 20_000_000
"""For every part but sheets, texts, pictures and pivot caches: styles and lists are built whole in memory."""

MAX_ELEMENTS = 12_000_000
MAX_TEXT_ELEMENTS = 3_000_000
MAX_ELEMENTS_BETWEEN_ROWS = 200_000
"""Ordinary rows have three elements a cell, and at most 16,384 cells."""

LAST_ROW = 1_048_576
"""The last row a sheet can have. Source: second-hand, source not read."""

SHARED_STRINGS = "xl/sharedStrings.xml"
_BIG_PARTS = ("xl/worksheets/", SHARED_STRINGS, "xl/media/", "xl/pivotCache/")
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_STRICT = "http://purl.oclc.org/ooxml/spreadsheetml/main"
_ENCRYPTED_BIT = 0x1
_TRUE = ("1", "true")
_SAVE_AGAIN = "Open it in a spreadsheet program, save it as an ordinary .xlsx workbook, and try again."


@dataclass
class SheetNotes:
    """What one sheet holds beside its values."""

    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: list[str] = field(default_factory=list)
    """Letters, or a range of them like D:F."""
    merged: list[str] = field(default_factory=list)
    """Ranges like A5:A8."""
    formulas: int = 0
    """In rows that are not hidden."""
    uncalculated: list[str] = field(default_factory=list)
    """Addresses, in rows that are not hidden, of formulas without a stored value."""


def open_package(name: str, content: bytes) -> zipfile.ZipFile:
    """Return the workbook's archive, once its list of parts has been found safe.

    Raises InputErrors where it is no archive, no workbook, password-protected or too large.
    """
    if len(content) > MAX_FILE_BYTES:
        raise refusal(
            name,
            f"the file has {len(content) / 1e6:.0f} MB; a workbook may have {MAX_FILE_BYTES / 1e6:.0f} MB.",
            "Save only the sheet you need into a new workbook, without pictures, and try again.",
        )
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
    except Exception:  # noqa: BLE001 - a broken archive raises whatever the unpacking code meets
        raise refusal(
            name, "the file is damaged or was cut short: it cannot be unpacked.", "Download or copy it again."
        ) from None
    parts = archive.infolist()
    _check_is_workbook(name, {part.filename for part in parts})
    if any(part.flag_bits & _ENCRYPTED_BIT for part in parts):
        raise password_protected(name)
    unpacked = sum(part.file_size for part in parts)
    if (
        len(parts) > MAX_PARTS
        or unpacked > MAX_UNPACKED_BYTES
        or (unpacked > RATIO_FROM_BYTES and unpacked > MAX_RATIO * len(content))
        or any(
            part.file_size > MAX_OTHER_PART_BYTES and not part.filename.startswith(_BIG_PARTS)
            for part in parts
        )
    ):
        raise _too_much(
            name, f"{len(parts)} parts and {unpacked / 1e6:.0f} MB from {len(content) / 1e6:.2f} MB"
        )
    return archive


def password_protected(name: str) -> InputErrors:
    """Return the error for a file that nobody can read without its password."""
    return refusal(
        name,
        "the workbook is protected with a password.",
        "Open it in a spreadsheet program, save it without the password, and try again.",
    )


def inspect_sheet(name: str, archive: zipfile.ZipFile, part: str) -> SheetNotes:
    """Return the notes on one sheet's part.

    Raises InputErrors where its rows would be too much to read, out of order, or not read at all.
    """
    scanner = _SheetScanner(name)
    _scan(name, archive, part, scanner.parser)
    scanner.finish_formula()
    return scanner.notes


def check_texts(name: str, archive: zipfile.ZipFile) -> None:
    """Check that the workbook's table of texts is small enough to be built in memory.

    Raises InputErrors where it is not.
    """
    if SHARED_STRINGS not in archive.namelist():
        return
    counted = 0

    def start(_tag: str, _attributes: dict[str, str]) -> None:
        nonlocal counted
        counted += 1
        if counted > MAX_TEXT_ELEMENTS:
            raise _too_much(name, "too many texts")

    _scan(name, archive, SHARED_STRINGS, _parser(name, start))


def _check_is_workbook(name: str, names: set[str]) -> None:
    if "xl/workbook.bin" in names:
        raise refusal(name, "this is a binary workbook (.xlsb).", _SAVE_AGAIN)
    if "content.xml" in names:
        raise refusal(name, "this is an OpenDocument file, not an .xlsx workbook.", _SAVE_AGAIN)
    if "[Content_Types].xml" not in names or not any(part.startswith("xl/") for part in names):
        raise refusal(
            name,
            "this is a zip archive, but there is no workbook in it.",
            "If it holds a workbook or a csv file, unpack it and give that file.",
        )


def _too_much(name: str, amount: str) -> InputErrors:
    return refusal(
        name,
        f"the workbook unpacks into far more than an invoice or a list needs ({amount}).",
        "If it comes from somebody you trust, copy the cells you need into a new workbook and try again.",
    )


def _damaged(name: str) -> InputErrors:
    return refusal(name, "the workbook is damaged: a part of it cannot be read.", _SAVE_AGAIN)


def _parser(name: str, start: Callable[[str, dict[str, str]], None]) -> expat.XMLParserType:
    """Return a parser that refuses document types, and with them every trick with entities."""
    parser = expat.ParserCreate(namespace_separator="}")
    parser.StartElementHandler = start

    def refuse(*_declaration: object) -> None:
        raise _damaged(name)

    parser.StartDoctypeDeclHandler = refuse
    parser.EntityDeclHandler = refuse
    return parser


def _scan(name: str, archive: zipfile.ZipFile, part: str, parser: expat.XMLParserType) -> None:
    try:
        with archive.open(part) as source:
            parser.ParseFile(source)
    except InputErrors:
        raise
    except Exception:  # noqa: BLE001 - a broken archive raises whatever the unpacking code meets
        raise _damaged(name) from None


class _SheetScanner:
    """Takes notes while a sheet's elements stream by.

    Only starts of elements are handled (ends would double the time): a formula's cell is judged when
    the next cell or row begins, and characters are listened to only inside a formula's value.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self.notes = SheetNotes()
        self.parser = _parser(name, self.start)
        self._row = 0
        self._column = 0
        self._row_hidden = False
        self._cell: dict[str, str] = {}
        self._in_formula = False
        self._has_value = False
        self._elements = 0
        self._elements_at_row = 0
        self._handlers: dict[str, Callable[[dict[str, str]], None]] = {
            f"{_MAIN}}}row": self._start_row,
            f"{_MAIN}}}c": self._start_cell,
            f"{_MAIN}}}f": self._start_formula,
            f"{_MAIN}}}v": self._start_value,
            f"{_MAIN}}}col": self._start_column,
            f"{_MAIN}}}mergeCell": lambda attributes: self.notes.merged.append(attributes.get("ref", "")),
            f"{_STRICT}}}worksheet": self._strict,
        }

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self._elements += 1
        if (
            self._elements > MAX_ELEMENTS
            or self._elements - self._elements_at_row > MAX_ELEMENTS_BETWEEN_ROWS
        ):
            raise _too_much(self.name, "a row or a sheet without end")
        handler = self._handlers.get(tag)
        if handler is not None:
            handler(attributes)

    def finish_formula(self) -> None:
        if not self._in_formula:
            return
        self._in_formula = False
        self.parser.CharacterDataHandler = None
        if not self._has_value and not self._row_hidden:
            address = self._cell.get("r", f"{column_letters(self._column - 1)}{self._row}")
            self.notes.uncalculated.append(address)

    def _start_row(self, attributes: dict[str, str]) -> None:
        self.finish_formula()
        self._elements_at_row = self._elements
        number = int(float(attributes.get("r", self._row + 1)))
        if number <= self._row or number > LAST_ROW:
            # The reader would drop a row that comes late without a word.
            raise _damaged(self.name)
        self._row, self._column = number, 0
        self._row_hidden = attributes.get("hidden") in _TRUE
        if self._row_hidden:
            self.notes.hidden_rows.add(number)

    def _start_cell(self, attributes: dict[str, str]) -> None:
        self._column += 1
        if self._in_formula:
            self.finish_formula()
        self._cell = attributes

    def _start_formula(self, _attributes: dict[str, str]) -> None:
        self._in_formula, self._has_value = True, False
        self.notes.formulas += not self._row_hidden

    def _start_value(self, _attributes: dict[str, str]) -> None:
        if not self._in_formula:
            return
        # An empty value of type text is a formula that was calculated and gives an empty text.
        self._has_value = self._cell.get("t") == "str"
        self.parser.CharacterDataHandler = self._value_text

    def _value_text(self, text: str) -> None:
        self._has_value = self._has_value or bool(text.strip())

    def _start_column(self, attributes: dict[str, str]) -> None:
        if attributes.get("hidden") in _TRUE:
            first, last = int(attributes["min"]) - 1, int(attributes["max"]) - 1
            letters = column_letters(first)
            self.notes.hidden_columns.append(
                letters if first == last else f"{letters}:{column_letters(last)}"
            )

    def _strict(self, _attributes: dict[str, str]) -> None:
        # The reading library knows the ordinary namespace only and would find an empty sheet.
        raise refusal(self.name, "the workbook was saved in the strict variant of its format.", _SAVE_AGAIN)

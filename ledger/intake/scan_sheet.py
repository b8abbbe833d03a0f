"""One pass over a sheet's elements: what its values alone do not tell, and whether it is too much to read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from xml.parsers import expat

from ledger.errors import InputErrors
from ledger.intake.table import MAX_COLUMNS, MAX_WORKBOOK_CELLS, column_letters, column_place, refusal

MAX_ELEMENTS = 12_000_000
MAX_ELEMENTS_BETWEEN_ROWS = 200_000
"""Ordinary rows have three elements a cell, and at most 16,384 cells."""

MAX_ROW_BYTES = 10_000_000
"""The library builds each row whole in memory."""

MAX_MERGED = 100_000

LAST_ROW = 1_048_576
"""The last row a sheet can have. Source: second-hand, source not read."""

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
STRICT = "http://purl.oclc.org/ooxml/spreadsheetml/main"
SAVE_AGAIN = "Open it in a spreadsheet program, save it as an ordinary .xlsx workbook, and try again."

_DIGITS = "0123456789"
_TRUE = ("1", "true")


@dataclass
class SheetNotes:
    """What one sheet holds beside its values."""

    hidden_rows: set[int] = field(default_factory=set)
    """Hidden rows that hold a value."""
    hidden_columns: list[str] = field(default_factory=list)
    """Letters, or a range of them like D:F."""
    merged: list[str] = field(default_factory=list)
    """Ranges like A5:A8."""
    formulas: int = 0
    """In rows that are not hidden."""
    uncalculated: list[str] = field(default_factory=list)
    """Addresses, in rows that are not hidden, of formulas without a stored value."""
    last_row: int = 0
    """The last row that holds a value; 0 where none does."""
    last_column: int = 0
    """How many columns there are up to the last that holds a value; 0 where none does."""


def too_much(name: str, amount: str) -> InputErrors:
    """Return the error for a workbook that would fill the memory."""
    return refusal(
        name,
        f"the workbook unpacks into far more than an invoice or a list needs ({amount}).",
        "If it comes from somebody you trust, copy the cells you need into a new workbook and try again.",
    )


def damaged(name: str) -> InputErrors:
    """Return the error for a workbook of which a part is not what it should be."""
    return refusal(name, "the workbook is damaged: a part of it cannot be read.", SAVE_AGAIN)


def safe_parser(name: str, start: Callable[[str, dict[str, str]], None]) -> expat.XMLParserType:
    """Return a parser that refuses document types, and with them every trick with entities."""
    parser = expat.ParserCreate(namespace_separator="}")
    parser.StartElementHandler = start

    def refuse(*_declaration: object) -> None:
        raise refusal(
            name,
            "a part of the workbook declares entities, as no spreadsheet program does: it may be an attack.",
            "Do not open it; ask its sender for the lines as csv.",
        )

    parser.StartDoctypeDeclHandler = refuse
    parser.EntityDeclHandler = refuse
    return parser


class SheetScanner:
    """Takes notes while a sheet's elements stream by.

    Only starts of elements are handled (ends would double the time): a formula's cell is judged when
    the next cell or row begins, and characters are listened to only inside a formula's value.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self.notes = SheetNotes()
        self.parser = safe_parser(name, self.start)
        self._row = 0
        self._column = 0
        self._row_hidden = False
        self._cell: dict[str, str] = {}
        self._in_formula = False
        self._has_value = False
        self._elements = 0
        self._elements_at_row = 0
        self._cells = 0
        self._byte_at_row = 0
        self._widest = (0, "")
        self._handlers: dict[str, Callable[[dict[str, str]], None]] = {
            f"{MAIN}}}row": self._start_row,
            f"{MAIN}}}c": self._start_cell,
            f"{MAIN}}}f": self._start_formula,
            f"{MAIN}}}v": self._start_value,
            f"{MAIN}}}is": self._start_inline,
            f"{MAIN}}}col": self._start_column,
            f"{MAIN}}}mergeCell": self._start_merged,
            f"{STRICT}}}worksheet": self._strict,
        }

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        """Take note of one element."""
        self._elements += 1
        if (
            self._elements > MAX_ELEMENTS
            or self._elements - self._elements_at_row > MAX_ELEMENTS_BETWEEN_ROWS
        ):
            raise too_much(self.name, "a row or a sheet without end")
        handler = self._handlers.get(tag)
        if handler is not None:
            handler(attributes)

    def finish(self) -> None:
        """Judge what the last row left open."""
        self.finish_formula()
        self._check_row_size()

    def finish_formula(self) -> None:
        """Note the formula last read where it had no stored value."""
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
        self._check_row_size()
        number = int(float(attributes.get("r", self._row + 1)))
        if number <= self._row or number > LAST_ROW:
            # The reader would drop a row that comes late without a word.
            raise damaged(self.name)
        self._row, self._column = number, 0
        self._row_hidden = attributes.get("hidden") in _TRUE

    def _check_row_size(self) -> None:
        byte = self.parser.CurrentByteIndex
        if byte - self._byte_at_row > MAX_ROW_BYTES:
            raise too_much(self.name, f"a row of {MAX_ROW_BYTES / 1e6:.0f} MB")
        self._byte_at_row = byte

    def _start_cell(self, attributes: dict[str, str]) -> None:
        self._column += 1
        self._cells += 1
        if self._cells > MAX_WORKBOOK_CELLS:
            raise too_much(
                self.name, f"more than {MAX_WORKBOOK_CELLS} cells, empty ones with a format included"
            )
        if self._in_formula:
            self.finish_formula()
        self._cell = attributes

    def _start_formula(self, _attributes: dict[str, str]) -> None:
        self._in_formula, self._has_value = True, False
        self.notes.formulas += not self._row_hidden

    def _start_inline(self, _attributes: dict[str, str]) -> None:
        self._note_value()

    def _note_value(self) -> None:
        if self._row_hidden:
            self.notes.hidden_rows.add(self._row)
            return
        self.notes.last_row = self._row
        address = self._cell.get("r")
        letters = column_letters(self._column - 1) if address is None else address.rstrip(_DIGITS)
        if (len(letters), letters) <= self._widest:
            return
        self._widest = (len(letters), letters)
        self.notes.last_column = column_place(letters) + 1
        if self.notes.last_column > MAX_COLUMNS:
            raise refusal(
                self.name,
                f"a sheet has values in more than {MAX_COLUMNS} columns (row {self._row}).",
                "Copy the columns you need into a new workbook and try again.",
            )

    def _start_merged(self, attributes: dict[str, str]) -> None:
        self.notes.merged.append(attributes.get("ref", ""))
        if len(self.notes.merged) > MAX_MERGED:
            raise too_much(self.name, f"more than {MAX_MERGED} merged cells")

    def _start_value(self, _attributes: dict[str, str]) -> None:
        self._note_value()
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
        raise refusal(self.name, "the workbook was saved in the strict variant of its format.", SAVE_AGAIN)

"""Cells of the pack's workbook: how each kind of value looks, and the one way a formula gets in.

Cells are made once for each column and filled anew for each row; a sheet is written as it goes.
Beside every formula its value is kept, so that what cannot calculate (a preview, a reader of
plain values) shows the same figures; see `values_into`.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

from ledger.exact.currencies import exponent
from ledger.intake.sheet_writing import put_text
from ledger.views.pack import Kind, Value

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet

FONT = "Arial"
TEXT_POINTS, TITLE_POINTS, LINE_POINTS = 10, 15, 12.5
DATE_FORMAT = "yyyy-mm-dd"
WHOLE_QUANTITY, PART_QUANTITY = '#,##0;-#,##0;"–"', "#,##0.0##"
WHOLE_FORMAT, UNIT_FORMAT, SMALL_UNIT_FORMAT = "#,##0", "#,##0.0000", "0.000000"
_SMALL_UNIT = Fraction(1, 100)
_THOUSAND = 1000


@dataclass(frozen=True, slots=True)
class Look:
    """How a cell looks.

    ``rule`` is 'top', 'bottom' or ''; ``is_indented`` keeps text off a number before it;
    ``is_tall`` is for a row of several lines, whose cells begin at the same height.
    """

    bold: bool = False
    italic: bool = False
    points: int = TEXT_POINTS
    to_the_right: bool = False
    is_indented: bool = False
    wraps: bool = False
    is_tall: bool = False
    rule: str = ""
    number_format: str = ""


TITLE = Look(bold=True, points=TITLE_POINTS)
STRONG = Look(bold=True)
PLAIN = Look()
NOTE = Look(italic=True)
HEADING = Look(bold=True, wraps=True, rule="bottom")
HEADING_RIGHT = replace(HEADING, to_the_right=True)


def money_format(currency: str) -> str:
    """Return a number format with the currency's decimals; what is nothing is a dash.

    >>> money_format("USD"), money_format("JPY")
    ('#,##0.00;-#,##0.00;"–"', '#,##0;-#,##0;"–"')
    """
    plain = zero_format(currency)
    return f'{plain};-{plain};"–"'


def zero_format(currency: str) -> str:
    """Return a number format with the currency's decimals, also for zero."""
    places = exponent(currency)
    return "#,##0" + ("." + "0" * places if places else "")


def new_cell(sheet: Worksheet, look: Look) -> Cell:
    """Return a cell of a sheet that looks so, to be filled and written any number of times."""
    from openpyxl.cell import WriteOnlyCell  # noqa: PLC0415 - slow to import
    from openpyxl.styles import Alignment, Border, Font, Side  # noqa: PLC0415

    cell: Cell = WriteOnlyCell(sheet)
    cell.font = Font(name=FONT, size=look.points, bold=look.bold, italic=look.italic)
    cell.alignment = Alignment(
        horizontal="right" if look.to_the_right else "left",
        vertical="top" if look.is_tall else "bottom" if look.rule else "center",
        indent=1 if look.is_indented else 0,
        wrap_text=look.wraps or None,
    )
    if look.rule:
        thin = Side(style="thin")
        cell.border = Border(top=thin) if look.rule == "top" else Border(bottom=thin)
    if look.number_format:
        cell.number_format = look.number_format
    return cell


def put_formula(cell: Cell, formula: str) -> None:
    """Write one of our own formulas into a cell; nothing a maker typed ever gets here."""
    assert formula.startswith("=")
    cell.value = formula


@dataclass(slots=True)
class SheetWriter:
    """A sheet that is written row by row; ``values`` are those of its formulas, in their order."""

    sheet: Worksheet
    currency: str
    row: int = 0
    values: list[str] = field(default_factory=list)
    _looks: dict[Look, Cell] = field(default_factory=dict)

    def text(self, line: str, look: Look = PLAIN) -> None:
        """Write a row of one text, in the first column."""
        if look not in self._looks:
            self._looks[look] = new_cell(self.sheet, look)
        put_text(self._looks[look], line)
        self.write([self._looks[look]])

    def next_row_lines(self, lines: int) -> None:
        """Make the next row as high as so many lines of text."""
        self.sheet.row_dimensions[self.row + 1].height = lines * LINE_POINTS + 2

    def blank(self, rows: int = 1) -> None:
        """Leave rows empty."""
        for _ in range(rows):
            self.write([])

    def write(self, cells: Sequence[Cell | None]) -> None:
        """Write a row of filled cells."""
        self.sheet.append(list(cells))
        self.row += 1

    def formula(self, cell: Cell, formula: str, value: Decimal | str) -> Cell:
        """Fill a cell with a formula and keep its value; cells must be filled in the order they are written.

        A formula that gives words has words of our own as its value.
        """
        put_formula(cell, formula)
        self.values.append(f"{_WORDS}{value}" if isinstance(value, str) else f"{value:f}")
        return cell


def number(value: Value, kind: Kind, currency: str) -> Decimal:
    """Return a value as the decimal number a cell holds.

    >>> number(-1205, Kind.MONEY, "USD"), number(1500, Kind.QUANTITY, "USD")
    (Decimal('-12.05'), Decimal('1.500'))
    """
    if isinstance(value, Fraction):
        return Decimal(value.numerator) / Decimal(value.denominator)
    assert isinstance(value, int)
    return Decimal(value).scaleb(-exponent(currency) if kind is Kind.MONEY else -3)


def put_value(cell: Cell, value: Value, kind: Kind, currency: str) -> None:
    """Fill a cell with a value that is told, not worked out."""
    if value is None:
        cell.value = None
    elif kind in (Kind.TEXT, Kind.PROSE):
        put_text(cell, str(value))
    elif kind is Kind.DATE:
        cell.value = datetime.date.fromisoformat(str(value))
    else:
        cell.value = number(value, kind, currency)


def number_format(value: Value, kind: Kind, currency: str) -> str:
    """Return how a number is shown: a quantity with no more decimals than it has, at most three."""
    if kind is Kind.MONEY:
        return money_format(currency)
    if kind is Kind.PER_UNIT:
        is_small = isinstance(value, Fraction) and 0 < abs(value) < _SMALL_UNIT
        return SMALL_UNIT_FORMAT if is_small else UNIT_FORMAT
    if kind is Kind.QUANTITY:
        return PART_QUANTITY if isinstance(value, int) and value % _THOUSAND else WHOLE_QUANTITY
    return DATE_FORMAT if kind is Kind.DATE else ""


_WORDS = '"'
"""How a kept value begins that is words; numbers begin with digits or a sign."""

_NO_VALUE = re.compile(rb"</f><v\s*(?:/>|></v>)")
_FORMULA_CELL = re.compile(rb"<c ([^>]*)>(<f>[^<]*</f>)<v\s*(?:/>|></v>)")


def values_into(content: bytes, values: Sequence[str]) -> bytes:
    """Return a sheet's part with the value of every formula beside it, in the order they were written."""
    waiting: Iterator[str] = iter(values)
    if any(value.startswith(_WORDS) for value in values):
        amended, count = _FORMULA_CELL.subn(lambda cell: _with_words(cell, next(waiting, "")), content)
        assert count == len(values)
        return amended
    amended, count = _NO_VALUE.subn(lambda _: b"</f><v>%s</v>" % next(waiting, "").encode(), content)
    assert count == len(values)
    return amended


def _with_words(cell: re.Match[bytes], value: str) -> bytes:
    """Return a formula's cell with its value; the file has to say where that is words."""
    if not value.startswith(_WORDS):
        return b"<c %s>%s<v>%s</v>" % (cell[1], cell[2], value.encode())
    return b'<c %s t="str">%s<v>%s</v>' % (cell[1], cell[2], escape(value[1:]).encode())

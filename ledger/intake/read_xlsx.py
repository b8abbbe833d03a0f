"""Reading an .xlsx workbook: visible cells as exact values that know their address."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import warnings
import zipfile
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from ledger.errors import BlankbookError, InputErrors, Problem
from ledger.intake.inspect_xlsx import SheetNotes, check_texts, inspect_sheet, open_package
from ledger.intake.table import (
    MAX_CELLS,
    MAX_COLUMNS,
    MAX_ROWS,
    Cell,
    CellValue,
    ErrorValue,
    Sheet,
    SourceFile,
    cell_text,
    column_letters,
    refusal,
    trimmed,
)

if TYPE_CHECKING:
    from openpyxl import Workbook

SHOWN = 20
"""How many cells of one kind a message names before it only counts the rest."""

_SHORTER = "Copy the lines you need into a new workbook and try again."


def read_xlsx(name: str, content: bytes) -> SourceFile:
    """Return the visible sheets of a workbook.

    Arguments:
        name: the file's name as the maker knows it.
        content: the whole file.

    Numbers are exact decimals of at most 15 significant digits, which is what spreadsheet programs
    show of them: 4.1000000000000005, the trace of a calculation, is 4.1. Dates lose their time of day.
    Text is text, whatever it begins with.

    Raises InputErrors where the file is unsafe, damaged or too large, and where visible formulas were
    never calculated (all of them at once).
    """
    archive = open_package(name, content)
    check_texts(name, archive)
    with warnings.catch_warnings():
        # The library warns of styles and extensions it drops; none of them is a value.
        warnings.simplefilter("ignore")
        try:
            return _read(name, content, archive)
        except BlankbookError:
            raise
        except Exception:  # noqa: BLE001 - on a broken file the library raises whatever its code meets
            raise refusal(
                name,
                "the workbook is damaged: it cannot be read.",
                "Open it in a spreadsheet program, save it as an .xlsx workbook, and try again.",
            ) from None


def _read(name: str, content: bytes, archive: zipfile.ZipFile) -> SourceFile:
    import openpyxl  # noqa: PLC0415 - slow to import

    if not openpyxl.DEFUSEDXML:
        raise refusal(
            name,
            "workbooks are only read with the package defusedxml, and it is missing or switched off.",
            "Install it (pip install defusedxml), and unset OPENPYXL_DEFUSEDXML where it is set.",
        )
    workbook = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True, keep_links=False)
    sheets: list[Sheet] = []
    remarks: list[str] = []
    problems: list[Problem] = []
    formulas = cells = 0
    for worksheet in workbook.worksheets:
        title = worksheet.title
        if worksheet.sheet_state != "visible":
            remarks.append(f"sheet {title} is hidden and was skipped")
            continue
        # The library has no public name for a sheet's part.
        notes = inspect_sheet(name, archive, worksheet._worksheet_path)  # type: ignore[attr-defined]  # noqa: SLF001
        problems += _uncalculated(title, notes)
        remarks += _remarks(title, notes)
        formulas += notes.formulas
        sheet = _read_sheet(name, worksheet, notes, MAX_CELLS - cells)
        cells += sum(map(len, sheet.rows))
        sheets.append(sheet)
    if problems:
        raise InputErrors(name, problems)
    if not sheets:
        raise refusal(name, "every sheet of the workbook is hidden.", "Unhide the one to be read and save.")
    if formulas and _wants_calculation(workbook):
        remarks.append(
            "the workbook asks to be calculated when it is opened; its formulas were taken with the values "
            "stored in it: if they look wrong, open it in a spreadsheet program, save it, and try again"
        )
    return SourceFile(name, tuple(sheets), tuple(remarks), hashlib.sha256(content).hexdigest())


def _read_sheet(name: str, worksheet: Any, notes: SheetNotes, cells_left: int) -> Sheet:
    # A false dimension in the file would lose every row but the first, silently.
    worksheet.reset_dimensions()
    title = worksheet.title
    place = f"sheet {title}, cell "
    letters = [place + column_letters(column) for column in range(MAX_COLUMNS)]
    rows: list[tuple[Cell, ...]] = []
    numbers: list[int] = []
    for number, values in _filled_rows(worksheet, notes.hidden_rows):
        if len(values) > MAX_COLUMNS and any(value is not None for value in values[MAX_COLUMNS:]):
            raise refusal(
                name, f"sheet {title} has more than {MAX_COLUMNS} columns (row {number}).", _SHORTER
            )
        row = trimmed(
            [Cell(_value(value), f"{letter}{number}") for value, letter in zip(values, letters, strict=False)]
        )
        if not row:
            continue
        rows.append(row)
        numbers.append(number)
        cells_left -= len(row)
        if len(rows) > MAX_ROWS:
            raise refusal(name, f"sheet {title} has more than {MAX_ROWS} rows (row {number}).", _SHORTER)
        if cells_left < 0:
            raise refusal(name, f"the workbook has more than {MAX_CELLS} cells.", _SHORTER)
    return Sheet(title, tuple(rows), tuple(numbers))


def _filled_rows(worksheet: Any, hidden: set[int]) -> Iterator[tuple[int, tuple[Any, ...]]]:
    """Yield the visible rows that hold anything, with their numbers.

    Rows far apart come with every blank one between them, and rows may be padded with thousands of
    blank cells, so both are passed over before any cell is made.
    """
    for number, values in enumerate(worksheet.iter_rows(values_only=True), start=1):
        if values and number not in hidden and values.count(None) < len(values):
            yield number, values


def _value(value: Any) -> CellValue:
    """Return what the library read as an exact value."""
    if value is None:
        return None
    # A time of day or a span of time is never a number here, so it is only shown.
    return _READERS.get(type(value), str)(value)


def _exact(value: float) -> Decimal | ErrorValue:
    """Return a stored number as a decimal of at most 15 significant digits.

    >>> _exact(0.1 + 0.2), _exact(4.1), _exact(72.0)
    (Decimal('0.3'), Decimal('4.1'), Decimal('72'))
    """
    if value != value or value in (float("inf"), float("-inf")):  # noqa: PLR0124 - not a number
        return ErrorValue("#NUM!")
    return Decimal(format(value, ".15g"))


_READERS: dict[type, Callable[[Any], CellValue]] = {
    bool: bool,
    str: cell_text,
    int: Decimal,
    float: _exact,
    dt.datetime: dt.datetime.date,
    dt.date: lambda value: value,
}


def _uncalculated(title: str, notes: SheetNotes) -> list[Problem]:
    next_step = "Open the file in a spreadsheet program, save it, and try again."
    problems = [
        Problem(f"sheet {title}, cell {address}", "a formula that was never calculated.", next_step)
        for address in notes.uncalculated[:SHOWN]
    ]
    more = len(notes.uncalculated) - SHOWN
    if more > 0:
        problems.append(Problem(f"sheet {title}", f"{more} more formulas that were never calculated."))
    return problems


def _remarks(title: str, notes: SheetNotes) -> list[str]:
    remarks = []
    if notes.hidden_rows:
        shown = _some([str(row) for row in sorted(notes.hidden_rows)])
        remarks.append(f"sheet {title}: hidden rows were skipped ({shown})")
    if notes.hidden_columns:
        remarks.append(
            f"sheet {title}: hidden columns were read all the same ({_some(notes.hidden_columns)})"
        )
    if notes.merged:
        remarks.append(
            f"sheet {title}: of merged cells only the first holds the value ({_some(notes.merged)})"
        )
    return remarks


def _some(names: list[str]) -> str:
    more = len(names) - SHOWN
    return ", ".join(names[:SHOWN]) + (f" and {more} more" if more > 0 else "")


def _wants_calculation(workbook: Workbook) -> bool:
    return bool(getattr(workbook.calculation, "fullCalcOnLoad", False))

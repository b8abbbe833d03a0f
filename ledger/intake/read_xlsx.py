"""Reading an .xlsx workbook: visible cells as exact values that know their address."""

from __future__ import annotations

import hashlib
import io
import warnings
import zipfile
from collections.abc import Iterator
from typing import Any

from ledger.errors import BlankbookError, InputErrors, Problem
from ledger.intake.inspect_xlsx import (
    check_parts,
    inspect_sheet,
    macros_remark,
    open_package,
    sheet_parts,
    wants_calculation,
)
from ledger.intake.marked_copy import is_problems_list
from ledger.intake.merged_cells import MergedTexts, runs_down
from ledger.intake.packed_rows import PackedRows, pack_values, unpack_values
from ledger.intake.scan_sheet import SheetNotes
from ledger.intake.table import MAX_COLUMNS, MAX_ROWS, MAX_WORKBOOK_CELLS, Sheet, SourceFile, refusal

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
    check_parts(name, archive)
    # The library looks into every sheet when it opens the workbook, so each is judged before.
    notes = {part: inspect_sheet(name, archive, part) for part in sheet_parts(archive)}
    with warnings.catch_warnings():
        # The library warns of styles and extensions it drops; none of them is a value.
        warnings.simplefilter("ignore")
        try:
            return _read(name, content, archive, notes)
        except BlankbookError:
            raise
        except Exception:  # noqa: BLE001 - on a broken file the library raises whatever its code meets
            raise refusal(
                name,
                "the workbook is damaged: it cannot be read.",
                "Open it in a spreadsheet program, save it as an .xlsx workbook, and try again.",
            ) from None


def _read(name: str, content: bytes, archive: zipfile.ZipFile, notes_of: dict[str, SheetNotes]) -> SourceFile:
    import openpyxl  # noqa: PLC0415 - slow to import

    if not openpyxl.DEFUSEDXML:
        raise refusal(
            name,
            "workbooks are only read with the package defusedxml, and it is missing or switched off.",
            "Install it (pip install defusedxml), and unset OPENPYXL_DEFUSEDXML where it is set.",
        )
    workbook = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True, keep_links=False)
    sheets: list[Sheet] = []
    remarks = list(macros_remark(archive))
    problems: list[Problem] = []
    formulas = cells = 0
    for worksheet in workbook.worksheets:
        title = worksheet.title
        if worksheet.sheet_state != "visible":
            remarks.append(f"sheet {title} is hidden and was skipped")
            continue
        # The library has no public name for a sheet's part.
        part = worksheet._worksheet_path  # type: ignore[attr-defined]  # noqa: SLF001
        notes = notes_of.get(part) or inspect_sheet(name, archive, part)
        problems += _uncalculated(title, notes)
        remarks += _remarks(title, notes)
        formulas += notes.formulas
        rows = _read_sheet(name, worksheet, notes, MAX_WORKBOOK_CELLS - cells)
        if rows and is_problems_list(title, rows[0][0].value):
            remarks.append(f"sheet {title} is the list of problems in a marked copy and was skipped")
            continue
        cells += rows.cells
        sheets.append(Sheet(title, rows, tuple(rows.numbers)))
    if problems:
        raise InputErrors(name, problems)
    if not sheets:
        raise refusal(name, "every sheet of the workbook is hidden.", "Unhide the one to be read and save.")
    if formulas and wants_calculation(archive):
        remarks.append(
            "the workbook asks to be calculated when it is opened; its formulas were taken with the values "
            "stored in it: if they look wrong, open it in a spreadsheet program, save it, and try again"
        )
    return SourceFile(name, tuple(sheets), tuple(remarks), hashlib.sha256(content).hexdigest())


def _read_sheet(name: str, worksheet: Any, notes: SheetNotes, cells_left: int) -> PackedRows:
    # A false dimension in the file would lose every row but the first, silently.
    worksheet.reset_dimensions()
    title = worksheet.title
    rows = PackedRows(unpack_values, sheet=title)
    filler = MergedTexts(notes.merged)
    for number, values in _filled_rows(worksheet, notes):
        packed = pack_values(filler.filled(number, values))
        if not packed:
            continue
        if rows.add(number, packed) > MAX_COLUMNS:
            raise refusal(
                name, f"sheet {title} has more than {MAX_COLUMNS} columns (row {number}).", _SHORTER
            )
        if len(rows) > MAX_ROWS:
            raise refusal(name, f"sheet {title} has more than {MAX_ROWS} rows (row {number}).", _SHORTER)
        if rows.cells > cells_left:
            raise refusal(name, f"the workbook has more than {MAX_WORKBOOK_CELLS} cells.", _SHORTER)
    return rows


def _filled_rows(worksheet: Any, notes: SheetNotes) -> Iterator[tuple[int, tuple[Any, ...]]]:
    """Yield the visible rows that hold anything, with their numbers.

    The library pads every row to its last cell, with a value or without, and yields the blank rows up to
    the last one: both are cut to where the values are, so that formats alone cost little.
    """
    if not notes.last_row:
        return
    found = worksheet.iter_rows(values_only=True, max_row=notes.last_row, max_col=notes.last_column)
    for number, values in enumerate(found, start=1):
        if values and number not in notes.hidden_rows and values.count(None) < len(values):
            yield number, values


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
    filled = [area for area in notes.merged if runs_down(area)]
    if filled:
        remarks.append(
            f"sheet {title}: a text merged down several rows was read in each of them, a number only in the "
            f"first ({_some(filled)})"
        )
    others = [area for area in notes.merged if not runs_down(area)]
    if others:
        remarks.append(f"sheet {title}: of merged cells only the first holds the value ({_some(others)})")
    return remarks


def _some(names: list[str]) -> str:
    more = len(names) - SHOWN
    return ", ".join(names[:SHOWN]) + (f" and {more} more" if more > 0 else "")

"""The maker's file once more, as a workbook in which every problem is marked where it stands.

The copy has a fill and a comment on each cell that a problem names, and a last sheet with all of them in
one list. The file itself is never written to. A workbook is copied with its formulas, formats and hidden
sheets (charts, pictures and macros are left out); a text, and a workbook too large to be taken apart in
little memory, becomes a workbook of the same rows.
"""

from __future__ import annotations

import io
import zipfile
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ledger.errors import Problem
from ledger.intake.inspect_xlsx import sheet_parts
from ledger.intake.problem_places import Spot, find_spot
from ledger.intake.sheet_writing import put_text, set_widths, text_to_write, workbook_bytes
from ledger.intake.table import Cell, Sheet, SourceFile

if TYPE_CHECKING:
    from openpyxl import Workbook

PROBLEMS_SHEET = "Problems"
PROBLEMS_TITLE = "What Blankbook could not read"
"""Stands in the first cell of our list, by which a mended copy's list is known and passed over."""

MAX_COPIED_BYTES = 20_000_000
"""Unpacked bytes of sheets up to which a workbook is copied whole: about 200,000 cells, 500 MB of memory."""

MAX_COMMENTS = 5_000
_AUTHOR = "Blankbook"
_FILL = "FFE699"
_WIDTHS = (28, 70, 70)


@dataclass(frozen=True)
class MarkedCopy:
    """The copy's bytes, and how many cells are marked in it."""

    content: bytes
    marked: int
    is_whole: bool
    """Whether the file's formats and formulas, where it can have any, are in it."""


def marked_copy(content: bytes, file: SourceFile | None, problems: Sequence[Problem]) -> MarkedCopy | None:
    """Return a workbook like the file with the problems marked; None where it cannot be copied at all.

    Arguments:
        content: the whole file as it came.
        file: what was read of it; None where it was refused before, as for formulas never calculated.
        problems: what is wrong, each with its place in words.
    """
    sheets = () if file is None else file.sheets
    marks: dict[Spot, list[Problem]] = defaultdict(list)
    for problem in problems:
        for where in (problem.where, *problem.also):
            spot = find_spot(where, sheets)
            if spot is not None and (spot in marks or len(marks) < MAX_COMMENTS):
                marks[spot].append(problem)
    if file is None and not marks:
        return None  # refused as a whole, perhaps because it is not safe to be opened
    workbook = _opened(content)
    is_whole = workbook is not None or not any(sheet.has_addresses for sheet in sheets)
    if workbook is not None:
        marked = _mark(workbook, marks)
    elif file is not None:
        workbook, marked = _rebuilt(file.sheets, marks)
    else:
        return None
    _list_problems(workbook, problems)
    return MarkedCopy(workbook_bytes(workbook), marked, is_whole)


def _opened(content: bytes) -> Workbook | None:
    """Return the workbook with its formulas, None where it is none or too large."""
    import openpyxl  # noqa: PLC0415 - slow to import

    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            if sum(archive.getinfo(part).file_size for part in sheet_parts(archive)) > MAX_COPIED_BYTES:
                return None
        return openpyxl.load_workbook(io.BytesIO(content), keep_links=False)
    except Exception:  # noqa: BLE001 - the library raises whatever it meets in a part that was not read
        return None


def _mark(workbook: Workbook, marks: Mapping[Spot, Sequence[Problem]]) -> int:
    marked = 0
    for spot, problems in marks.items():
        if spot.sheet not in workbook.sheetnames:
            continue
        sheet = workbook[spot.sheet]
        column = _first_filled(sheet, spot.row) if spot.column is None else spot.column
        row, column = _top_left(sheet, spot.row, column)
        _put_mark(sheet.cell(row, column + 1), problems)
        marked += 1
    return marked


def _first_filled(sheet: Any, row: int) -> int:
    return next((cell.column - 1 for cell in sheet[row] if cell.value is not None), 0)


def _top_left(sheet: Any, row: int, column: int) -> tuple[int, int]:
    """Return the first cell of the merged cells this one belongs to, else the cell itself."""
    for area in sheet.merged_cells.ranges:
        if area.min_row <= row <= area.max_row and area.min_col <= column + 1 <= area.max_col:
            return area.min_row, area.min_col - 1
    return row, column


def _put_mark(cell: Any, problems: Sequence[Problem]) -> None:
    from openpyxl.comments import Comment  # noqa: PLC0415 - slow to import
    from openpyxl.styles import PatternFill  # noqa: PLC0415

    said = [f"{problem.what} {problem.next_step}".rstrip() for problem in problems]
    before = [cell.comment.text] if cell.comment else []
    note = text_to_write("\n\n".join([*before, *said]))
    cell.comment = Comment(note, _AUTHOR, height=140, width=320)
    cell.fill = PatternFill("solid", fgColor=_FILL)


def _rebuilt(sheets: Sequence[Sheet], marks: Mapping[Spot, Sequence[Problem]]) -> tuple[Workbook, int]:
    """Return a new workbook with the rows of what was read, each under its own number."""
    import openpyxl  # noqa: PLC0415 - slow to import

    workbook = openpyxl.Workbook(write_only=True)
    marked = 0
    for sheet in sheets:
        target = workbook.create_sheet(_sheet_name(sheet))
        name = sheet.name if sheet.has_addresses else ""
        by_row: dict[int, dict[int | None, Sequence[Problem]]] = defaultdict(dict)
        for spot, problems in marks.items():
            if spot.sheet == name:
                by_row[spot.row][spot.column] = problems
        before = 0
        for row, number in zip(sheet.rows, sheet.row_numbers, strict=True):
            for _ in range(number - before - 1):
                target.append([])
            before = number
            here = by_row.get(number, {})
            target.append(_written(target, row, here))
            marked += len(here)
    return workbook, marked


def _sheet_name(sheet: Sheet) -> str:
    if sheet.has_addresses:
        return sheet.name
    return "".join("_" if char in "[]:*?/\\'" else char for char in sheet.name)[:31] or "Lines"


def _written(target: Any, row: Sequence[Cell], marks: Mapping[int | None, Sequence[Problem]]) -> list[Any]:
    from openpyxl.cell import WriteOnlyCell  # noqa: PLC0415 - slow to import

    last = max([len(row) - 1, *(column for column in marks if column is not None)])
    first = next((place for place, cell in enumerate(row) if not cell.is_empty), 0)
    cells: list[Any] = []
    for place in range(last + 1):
        value = row[place].value if place < len(row) else None
        problems = [*marks.get(place, ()), *(marks.get(None, ()) if place == first else ())]
        if value is None and not problems:
            cells.append(None)
            continue
        cell = WriteOnlyCell(target)
        if isinstance(value, str):
            put_text(cell, value)
        else:
            cell.value = value
        if problems:
            _put_mark(cell, problems)
        cells.append(cell)
    return cells


def _list_problems(workbook: Workbook, problems: Sequence[Problem]) -> None:
    from openpyxl.cell import WriteOnlyCell  # noqa: PLC0415 - slow to import
    from openpyxl.styles import Alignment, Font  # noqa: PLC0415

    sheet: Any = workbook.create_sheet(PROBLEMS_SHEET)
    set_widths(sheet, _WIDTHS)

    def append(texts: Sequence[str], *, bold: bool = False) -> None:
        cells = []
        for text in texts:
            cell: Any = WriteOnlyCell(sheet)
            put_text(cell, text)
            cell.font = Font(bold=bold)
            cell.alignment = Alignment(wrap_text=True, vertical="top")
            cells.append(cell)
        sheet.append(cells)

    append([PROBLEMS_TITLE], bold=True)
    append(["where", "what", "what to do"], bold=True)
    for problem in problems:
        append(["; ".join((problem.where, *problem.also)), problem.what, problem.next_step])


def is_problems_list(title: str, first: object) -> bool:
    """Return whether a sheet is the list that a marked copy ends with."""
    return title.startswith(PROBLEMS_SHEET) and first == PROBLEMS_TITLE

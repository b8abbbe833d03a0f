"""The count workbook: written to be printed and filled in at the shelf, and read back.

A sheet lists its items, or has a block for each style with colours down and sizes across. Beside a
block, outside of what is printed, stands the SKU of each of its cells under 'SKU of M', so what was
counted is never matched by a style's or a colour's name.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from ledger.catalogue.sizes import size_sort_key
from ledger.errors import UsageError
from ledger.exact.quantity import MILLI
from ledger.intake.nearest import fold
from ledger.intake.sheet_writing import put_text, set_print, set_widths, workbook_bytes, write_sheet

if TYPE_CHECKING:
    from openpyxl.worksheet.datavalidation import DataValidation
    from openpyxl.worksheet.worksheet import Worksheet

Layout = Literal["list", "sizes across"]
Paper = Literal["A4", "Letter"]

COUNTED = "counted"
EXPECTED = "expected"
SKU = "sku"
SKU_OF = "SKU of "
NOT_MADE = "–"
"""Stands where a style has no item in that colour and size."""

_PAPER = {"Letter": 1, "A4": 9}
"""Paper sizes by their numbers in a workbook. Source: ECMA-376 part 1, 18.3.1.63 (from memory)."""

_LONGEST_TITLE = 31
_NOT_IN_TITLES = re.compile(r"[\[\]:*?/\\]")
_FIRST_COUNT_COLUMN = 3
_HEAD_ROWS = 3
_ROOM_TO_WRITE = 20
"""The height of a row in points, so that a number fits in by hand."""


@dataclass(frozen=True)
class CountRow:
    """One item to count, with what the book expects in thousandths of its unit, None where it is not said."""

    sku: str
    name: str
    kind: str
    unit: str
    style: str = ""
    colour: str = ""
    size: str = ""
    expected_milli: int | None = None


@dataclass(frozen=True)
class _Block:
    """One style: its sizes across, and for each colour the item of each size."""

    style: str
    sizes: tuple[str, ...]
    colours: dict[str, dict[str, CountRow]] = field(default_factory=dict)


@dataclass(frozen=True)
class _Look:
    """What a workbook is like throughout."""

    layout: Layout
    blind: bool
    paper: Paper
    title: str


def write_count_sheet(
    path: Path,
    rows: Sequence[CountRow],
    *,
    layout: Layout,
    blind: bool,
    as_of: datetime.date,
    shop: str,
    paper: Paper = "Letter",
) -> None:
    """Write a count workbook, a sheet for each kind, in the order of ``rows``.

    Arguments:
        path: the file, which must not be there yet.
        rows: the items to count.
        layout: 'list', or 'sizes across': a block for each style; items without a style or a size
            stand in a list below.
        blind: whether the expected quantities are left out, so that nobody counts what they expect.
        as_of: the day at the end of which is counted.
        shop: the shop's name, for the top of each page.
        paper: what it is printed on.

    Raises UsageError where there is nothing to count, or the file is there already or cannot be written.
    """
    if not rows:
        raise UsageError("there is nothing to count: no item was chosen.")
    from openpyxl import Workbook  # noqa: PLC0415 - slow to import

    workbook = Workbook()
    workbook.remove(workbook.worksheets[0])
    workbook.properties.creator = "Blankbook"
    workbook.properties.title = "Blankbook: count"
    look = _Look(layout, blind, paper, f"{shop} · count at the end of {as_of.isoformat()}")
    taken: set[str] = set()
    for kind in dict.fromkeys(row.kind for row in rows):
        sheet = workbook.create_sheet(_title(kind, taken))
        _write_sheet(sheet, kind, [row for row in rows if row.kind == kind], look)
    write_sheet(path, workbook_bytes(workbook))


def _title(kind: str, taken: set[str]) -> str:
    """Return a sheet's title of what a title may hold, each once."""
    plain = _NOT_IN_TITLES.sub(" ", kind).strip(" '")[:_LONGEST_TITLE].capitalize() or "Items"
    title, number = plain, 1
    while fold(title) in taken:
        number += 1
        title = f"{plain[: _LONGEST_TITLE - 4]} {number}"
    taken.add(fold(title))
    return title


def _write_sheet(sheet: Worksheet, kind: str, rows: list[CountRow], look: _Look) -> None:
    from openpyxl.styles import Font  # noqa: PLC0415 - slow to import

    put_text(sheet.cell(1, 1), f"{look.title} · {kind}")
    sheet.cell(1, 1).font = Font(bold=True, size=13)
    put_text(sheet.cell(2, 1), "Counted by ________________  from ______ to ______")
    put_text(
        sheet.cell(3, 1), "Write 0 where nothing is left; leave empty what was not counted. Units as shown."
    )
    number = _number_rule()
    blocks, listed = _blocks(rows) if look.layout == "sizes across" else ([], rows)
    next_row = _HEAD_ROWS + 1
    wide = 0
    if blocks:
        wide = _FIRST_COUNT_COLUMN - 1 + max(len(block.sizes) for block in blocks)
        for block in blocks:
            next_row = _put_block(sheet, next_row, block, look, number, wide + 2) + 1
    if listed:
        wide = max(wide, _put_list(sheet, next_row, listed, look, number))
        next_row += len(listed) + 1
    if blocks:
        sheet.freeze_panes = sheet.cell(_HEAD_ROWS + 1, _FIRST_COUNT_COLUMN).coordinate
        # Names of a list below a block stand in the column of the word 'counted'.
        set_widths(sheet, (24, 28 if listed else 12, *([12] * (wide - 2)), 3))
    else:
        sheet.freeze_panes = sheet.cell(_HEAD_ROWS + 2, 1).coordinate
    _set_page(sheet, (next_row - 1, wide), look, heading_row=1 if blocks else _HEAD_ROWS + 1)
    if number.sqref:
        sheet.add_data_validation(number)


def _blocks(rows: list[CountRow]) -> tuple[list[_Block], list[CountRow]]:
    """Return the styles' blocks, and the items that no cell of a block is for."""
    by_style: dict[str, list[CountRow]] = {}
    listed: list[CountRow] = []
    for row in rows:
        (by_style.setdefault(row.style, []) if row.style and row.size else listed).append(row)
    blocks = []
    for style, items in by_style.items():
        # Compared as the reader compares headings: two sizes that differ in case only are one column.
        spelled: dict[str, str] = {}
        for item in items:
            spelled.setdefault(fold(item.size), item.size)
        block = _Block(style, tuple(sorted(spelled.values(), key=size_sort_key)))
        for item in items:
            line = block.colours.setdefault(item.colour, {})
            # A style can have one size twice, on two ladders: the second one is listed by its SKU.
            if line.setdefault(spelled[fold(item.size)], item) is not item:
                listed.append(item)
        blocks.append(block)
    return blocks, listed


def _put_block(
    sheet: Worksheet, top: int, block: _Block, look: _Look, number: DataValidation, sku_column: int
) -> int:
    """Write a style's block and return the row below it."""
    from openpyxl.styles import Border, Font, Side  # noqa: PLC0415 - slow to import

    thin = Side(style="thin")
    unit = next(iter(next(iter(block.colours.values())).values())).unit
    put_text(sheet.cell(top, 1), block.style)
    put_text(sheet.cell(top, 2), unit)
    for place, size in enumerate(block.sizes):
        put_text(sheet.cell(top, _FIRST_COUNT_COLUMN + place), size)
        put_text(sheet.cell(top, sku_column + place), SKU_OF + size)
    for column in range(1, sku_column + len(block.sizes)):
        sheet.cell(top, column).font = Font(bold=True)
    row = top + 1
    for colour, line in block.colours.items():
        put_text(sheet.cell(row, 1), colour)
        put_text(sheet.cell(row, 2), COUNTED)
        sheet.row_dimensions[row].height = _ROOM_TO_WRITE
        for place, size in enumerate(block.sizes):
            cell = sheet.cell(row, _FIRST_COUNT_COLUMN + place)
            cell.border = Border(thin, thin, thin, thin)
            if size in line:
                put_text(sheet.cell(row, sku_column + place), line[size].sku)
                number.add(cell)
            else:
                put_text(cell, NOT_MADE)
        row += 1
        if not look.blind:
            put_text(sheet.cell(row, 2), EXPECTED)
            for place, size in enumerate(block.sizes):
                if size in line:
                    _put_expected(sheet, (row, _FIRST_COUNT_COLUMN + place), line[size])
            row += 1
    return row


def _put_list(sheet: Worksheet, top: int, rows: list[CountRow], look: _Look, number: DataValidation) -> int:
    """Write a list of items with a heading row and return how many columns it has."""
    from openpyxl.styles import Border, Font, Side  # noqa: PLC0415 - slow to import

    thin = Side(style="thin")
    columns = ["SKU", "name"]
    columns += [name for name in ("style", "colour", "size") if any(getattr(row, name) for row in rows)]
    columns += ["unit", *([] if look.blind else [EXPECTED]), COUNTED, "note"]
    for column, heading in enumerate(columns, start=1):
        put_text(sheet.cell(top, column), heading)
        sheet.cell(top, column).font = Font(bold=True)
        sheet.cell(top, column).border = Border(bottom=thin)
    for row, item in enumerate(rows, start=top + 1):
        sheet.row_dimensions[row].height = _ROOM_TO_WRITE
        for column, heading in enumerate(columns, start=1):
            cell = sheet.cell(row, column)
            if heading == EXPECTED:
                _put_expected(sheet, (row, column), item)
            elif heading == COUNTED:
                cell.border = Border(thin, thin, thin, thin)
                number.add(cell)
            elif heading != "note":
                put_text(cell, getattr(item, heading.lower()))
    set_widths(sheet, [{"SKU": 24, "name": 32, "note": 24}.get(heading, 13) for heading in columns])
    return len(columns)


def _put_expected(sheet: Worksheet, place: tuple[int, int], item: CountRow) -> None:
    from openpyxl.styles import Font  # noqa: PLC0415 - slow to import

    if item.expected_milli is not None:
        cell = sheet.cell(*place)
        cell.value = Decimal(item.expected_milli) / MILLI
        cell.font = Font(italic=True)


def _number_rule() -> DataValidation:
    """Return the rule for a cell that is counted into; the reading checks it again."""
    from openpyxl.worksheet.datavalidation import DataValidation  # noqa: PLC0415 - slow to import

    return DataValidation(
        type="decimal",
        operator="greaterThanOrEqual",
        formula1="0",
        allow_blank=True,
        showErrorMessage=True,
        errorStyle="stop",
        errorTitle="Not a number",
        error="Write what is there, 0 or more; leave the cell empty where it was not counted.",
    )


def _set_page(sheet: Worksheet, corner: tuple[int, int], look: _Look, heading_row: int) -> None:
    """Set what is printed: up to ``corner`` (row, column), as wide as the page, headings on each page."""
    from openpyxl.utils import get_column_letter  # noqa: PLC0415 - slow to import

    row, column = corner
    set_print(sheet, heading_row)
    sheet.page_setup.paperSize = _PAPER[look.paper]
    sheet.page_setup.orientation = "landscape" if look.layout == "sizes across" else "portrait"
    sheet.print_area = f"A1:{get_column_letter(column)}{row}"
    # Wide enough for the edges that printers leave on either paper.
    for side in ("left", "right", "top", "bottom"):
        setattr(sheet.page_margins, side, 0.6)

"""Writing the workbooks to fill in, blank or with what is known already."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.errors import UsageError
from ledger.intake.catalogue_sheet import EXAMPLES, HOW_TO
from ledger.intake.nearest import did_you_mean, fold, quoted
from ledger.intake.sheet_writing import (
    put_drop_down,
    put_headings,
    put_text,
    set_print,
    set_widths,
    workbook_bytes,
    write_sheet,
)
from ledger.intake.template_sheets import TEMPLATES, Template

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

LAST_ROW = 2000
"""The last row that has lists to choose from; rows below it are read all the same."""


def write_template(kind: str, path: Path) -> None:
    """Write a blank workbook; ``kind`` is one of TEMPLATES.

    Raises UsageError for an unknown kind, and where the file is there already or cannot be written.
    """
    name = fold(kind)
    if name not in TEMPLATES:
        raise UsageError(f"there is no template {quoted(kind)}. {did_you_mean(kind, TEMPLATES)}")
    write_sheet(path, template_bytes(name))


def write_filled(kind: str, path: Path, rows: Sequence[Mapping[str, str]]) -> None:
    """Write a workbook with what is known in its rows, texts by their columns; ``kind`` is one of TEMPLATES.

    Raises UsageError where its name does not end in .xlsx, or the file is there already or cannot be written.
    """
    write_sheet(path, template_bytes(kind, rows))


def template_bytes(kind: str, rows: Sequence[Mapping[str, str]] = ()) -> bytes:
    """Return the workbook's file, blank but for ``rows``; the same bytes every time."""
    from openpyxl import Workbook  # noqa: PLC0415 - slow to import

    template = TEMPLATES[kind]
    workbook = Workbook()
    workbook.properties.creator = "Blankbook"
    workbook.properties.title = f"Blankbook: {template.title.lower()}"
    sheet = workbook.active
    assert sheet is not None
    _fill_in_sheet(sheet, template)
    _put_rows(sheet, template, rows)
    _how_to_sheet(workbook.create_sheet(HOW_TO), template)
    if template.examples:
        _examples_sheet(workbook.create_sheet(EXAMPLES), template)
    return workbook_bytes(workbook)


def _fill_in_sheet(sheet: Worksheet, template: Template) -> None:
    from openpyxl.styles import Font  # noqa: PLC0415 - slow to import
    from openpyxl.utils import get_column_letter  # noqa: PLC0415

    sheet.title = template.title
    for row, (label, note) in enumerate(template.head.items(), start=1):
        put_headings(sheet, row, [label], [note])
        value = sheet.cell(row, 2)
        value.number_format = "yyyy-mm-dd" if label == "Date" else "@"
        value.font = Font(bold=False)
    top = template.heading_row
    put_headings(sheet, top, list(template.columns), list(template.columns.values()))
    sheet.freeze_panes = f"A{top + 1}"
    set_widths(sheet, [template.widths.get(name, 14) for name in template.columns])
    set_print(sheet, top)
    for column, name in enumerate(template.columns, start=1):
        letter = get_column_letter(column)
        if name in template.lists:
            put_drop_down(sheet, f"{letter}{top + 1}:{letter}{LAST_ROW}", template.lists[name])
        if name in template.text_columns:
            # As text, codes keep their leading zeros and sizes such as 2-4 do not turn into dates.
            sheet.column_dimensions[letter].number_format = "@"
        if name in template.date_columns:
            sheet.column_dimensions[letter].number_format = "yyyy-mm-dd"


def _put_rows(sheet: Worksheet, template: Template, rows: Sequence[Mapping[str, str]]) -> None:
    for number, row in enumerate(rows, start=template.heading_row + 1):
        for column, name in enumerate(template.columns, start=1):
            if row.get(name):
                put_text(sheet.cell(number, column), row[name])


def _examples_sheet(sheet: Worksheet, template: Template) -> None:
    """Write the example rows under the same headings; nothing reads this sheet."""
    put_headings(sheet, 1, list(template.columns), [""] * len(template.columns))
    for row, values in enumerate(template.examples, start=2):
        for column, value in enumerate(values, start=1):
            put_text(sheet.cell(row, column), value)
    sheet.freeze_panes = "A2"
    set_widths(sheet, [template.widths.get(name, 14) for name in template.columns])
    set_print(sheet, 1)


def _how_to_sheet(sheet: Worksheet, template: Template) -> None:
    from openpyxl.styles import Alignment, Font  # noqa: PLC0415 - slow to import

    set_widths(sheet, (18, 100))
    set_print(sheet, None)
    put_text(sheet.cell(1, 1), f"How to fill in the sheet {template.title}")
    sheet.cell(1, 1).font = Font(bold=True)
    row = 3
    for sentence in template.how_to:
        put_text(sheet.cell(row, 2), sentence)
        sheet.cell(row, 2).alignment = Alignment(wrap_text=True, vertical="top")
        row += 1
    row += 1
    for name, note in (*template.head.items(), *template.columns.items()):
        put_text(sheet.cell(row, 1), name)
        put_text(sheet.cell(row, 2), note)
        sheet.cell(row, 1).alignment = Alignment(vertical="top")
        sheet.cell(row, 2).alignment = Alignment(wrap_text=True, vertical="top")
        row += 1

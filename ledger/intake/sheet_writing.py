"""Writing workbooks: text that stays text, formulas only where meant, the same bytes every time."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.errors import UsageError

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.cell.cell import Cell, MergedCell
    from openpyxl.worksheet.worksheet import Worksheet

    AnyCell = Cell | MergedCell

LONGEST_TEXT = 32_767
"""The most characters a cell can hold. Source: ECMA-376 part 1, 18.3.1.96 (from memory)."""

_NOT_WRITTEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
"""What the parts of a workbook cannot hold. Source: Extensible Markup Language 1.0, production 2 (from memory)."""

_STAMP = (2026, 1, 1, 0, 0, 0)
_STAMP_TEXT = b"2026-01-01T00:00:00Z"
_W3C_TIME = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")


@dataclass(frozen=True)
class DropDown:
    """A list to choose from below a heading; ``is_strict`` refuses other entries."""

    choices: tuple[str, ...]
    is_strict: bool = True


def text_to_write(text: str) -> str:
    """Return text without what no workbook can hold, cut where a cell ends."""
    return _NOT_WRITTEN.sub("", text)[:LONGEST_TEXT]


def put_text(cell: AnyCell, text: str) -> None:
    """Write text into a cell so that it stays text, whatever it begins with.

    Control characters, which no workbook can hold, are left out; text beyond what a cell holds is cut.
    """
    cell.value = text_to_write(text)
    # The library takes text that begins with = for a formula and runs of digits for what they are.
    cell.data_type = "s"


def put_headings(sheet: Worksheet, row: int, headings: Sequence[str], notes: Sequence[str]) -> None:
    """Write a row of headings, each with a note that says what to type below it."""
    from openpyxl.comments import Comment  # noqa: PLC0415 - slow to import
    from openpyxl.styles import Alignment, Border, Font, Side  # noqa: PLC0415

    for column, (heading, note) in enumerate(zip(headings, notes, strict=True), start=1):
        cell = sheet.cell(row, column)
        put_text(cell, heading)
        cell.font = Font(bold=True)
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        cell.border = Border(bottom=Side(style="thin"))
        if note:
            cell.comment = Comment(note, "Blankbook", height=110, width=280)


def put_drop_down(sheet: Worksheet, cells: str, choices: DropDown) -> None:
    """Give a range of cells ('C2:C2000') a list to choose from."""
    from openpyxl.worksheet.datavalidation import DataValidation  # noqa: PLC0415 - slow to import

    validation = DataValidation(
        type="list",
        formula1=f'"{",".join(choices.choices)}"',
        allow_blank=True,
        showErrorMessage=True,
        errorStyle="stop" if choices.is_strict else "information",
        errorTitle="Not on the list",
        error="Choose from the list."
        if choices.is_strict
        else "This is not on the list; keep it if you mean it.",
    )
    validation.add(cells)
    sheet.add_data_validation(validation)


def set_widths(sheet: Worksheet, widths: Sequence[float]) -> None:
    """Set the widths of the first columns, in characters."""
    from openpyxl.utils import get_column_letter  # noqa: PLC0415 - slow to import

    for column, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(column)].width = width


def set_print(sheet: Worksheet, heading_row: int | None) -> None:
    """Print across the page, as wide as the sheet is, with the heading row on every page."""
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 0
    assert sheet.sheet_properties.pageSetUpPr is not None
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    footer = sheet.oddFooter
    assert footer is not None
    assert footer.center is not None
    footer.center.text = "&A, page &P of &N"
    if heading_row is not None:
        sheet.print_title_rows = f"{heading_row}:{heading_row}"


def workbook_bytes(
    workbook: Workbook, amend: Callable[[str, bytes], bytes] = lambda _part, content: content
) -> bytes:
    """Return the workbook's file, the same bytes for the same content, whenever it is written.

    ``amend`` is given the name and the content of each part of the file, and returns what goes in.
    """
    written = io.BytesIO()
    workbook.save(written)
    packed = io.BytesIO()
    with zipfile.ZipFile(written) as source, zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as target:
        for part in source.infolist():
            content = amend(part.filename, source.read(part))
            if part.filename == "docProps/core.xml":
                content = _W3C_TIME.sub(rb"\g<1>" + _STAMP_TEXT, content)
            info = zipfile.ZipInfo(part.filename, _STAMP)
            info.compress_type = zipfile.ZIP_DEFLATED
            target.writestr(info, content)
    return packed.getvalue()


def write_sheet(path: Path, content: bytes) -> None:
    """Write a sheet to be filled in and read back, into a file that is not there yet.

    Raises UsageError where its name is no workbook's, for it would not be read again, and as `write_new` does.
    """
    if path.suffix.lower() != ".xlsx":
        raise UsageError(f"the sheet is a workbook: let its name end in .xlsx, not '{path}'.")
    write_new(path, content)


def write_new(path: Path, content: bytes) -> None:
    """Write a file that is not there yet.

    Raises UsageError where it is there, or cannot be written.
    """
    try:
        with path.open("xb") as file:
            file.write(content)
    except FileExistsError:
        raise UsageError(f"{path} is there already and was left as it is: name another file.") from None
    except OSError as error:
        raise UsageError(f"{path} cannot be written: {error.strerror}. Name another place.") from None

"""How the pack's sheets print: Letter in the United States, A4 elsewhere, headings on every page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ledger.costing.tax_lines import COUNTRY_WITH_LINES
from ledger.views.pack import Pack
from ledger.views.workbook_formulas import column_letter

if TYPE_CHECKING:
    from collections.abc import Sequence

    from openpyxl.worksheet.worksheet import Worksheet

LETTER, A4 = 1, 9
"""Paper sizes by their numbers. Source: ECMA-376 part 1, 18.3.1.63 (from memory)."""

UPRIGHT_CHARACTERS = 105
"""The widest sheet that is printed upright: beyond it the letters would become small."""

ROW_POINTS, TITLE_ROW_POINTS = 14.5, 22

_MARGIN_INCHES, _HEADER_INCHES = 0.6, 0.3


@dataclass(frozen=True, slots=True)
class Paper:
    """What sheets are printed on, and what stands at the edge of every page."""

    size: int
    below: str
    above: str | None = None
    upright_characters: int = UPRIGHT_CHARACTERS


def paper_of(pack: Pack) -> Paper:
    """Return the paper of the pack's country; pages say whose it is, of when, and whether it is a draft."""
    size = LETTER if pack.country == COUNTRY_WITH_LINES else A4
    return Paper(size, f"{pack.shop}, {pack.span_words}", "DRAFT" if pack.is_draft else None)


def set_up(
    sheet: Worksheet,
    paper: Paper,
    widths: Sequence[float],
    *,
    headings: int = 0,
    frozen: int = 0,
    on_one_page: bool = False,
) -> None:
    """Set widths, frozen panes and printing, before the first row is written.

    Args:
        sheet: an empty sheet.
        paper: what it is printed on.
        widths: of the columns, in characters.
        headings: the row of headings that every page repeats; 0 for none.
        frozen: how many columns stay in sight beside the headings.
        on_one_page: whether it is made small enough for one page.
    """
    for place, width in enumerate(widths):
        sheet.column_dimensions[column_letter(place)].width = width
    if headings:
        sheet.freeze_panes = f"{column_letter(frozen)}{headings + 1}"
        sheet.print_title_rows = f"{headings}:{headings}"
    sheet.sheet_view.showGridLines = False
    sheet.sheet_format.defaultRowHeight, sheet.sheet_format.customHeight = ROW_POINTS, True
    sheet.row_dimensions[1].height = TITLE_ROW_POINTS
    _set_page(sheet, paper, is_wide=sum(widths) > paper.upright_characters, on_one_page=on_one_page)
    _set_margins_text(sheet, paper)


def _set_page(sheet: Worksheet, paper: Paper, *, is_wide: bool, on_one_page: bool) -> None:
    """Choose paper, direction, size and margins."""
    page = sheet.page_setup
    page.paperSize = paper.size
    page.orientation = "landscape" if is_wide else "portrait"
    page.fitToWidth, page.fitToHeight = 1, 1 if on_one_page else 0
    assert sheet.sheet_properties.pageSetUpPr is not None
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    margins = sheet.page_margins
    margins.left = margins.right = margins.top = margins.bottom = _MARGIN_INCHES
    margins.header = margins.footer = _HEADER_INCHES


def _set_margins_text(sheet: Worksheet, paper: Paper) -> None:
    """Say on every page what it belongs to."""
    above, below = sheet.oddHeader, sheet.oddFooter
    assert above is not None
    assert above.right is not None
    assert below is not None
    assert below.left is not None
    assert below.right is not None
    above.right.text = paper.above
    # A single ampersand would begin a code of the header's own.
    below.left.text = paper.below.replace("&", "&&")
    below.right.text = "&A, page &P of &N"

"""Rows of a workbook's sheet, cell by cell: words, numbers, and our own formulas with their values and names."""

from __future__ import annotations

import textwrap
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, cast

from ledger.intake.sheet_writing import put_text
from ledger.views.workbook_cells import (
    HEADING,
    NOTE,
    PLAIN,
    STRONG,
    TITLE,
    Look,
    SheetWriter,
    new_cell,
)
from ledger.views.workbook_formulas import column_letter, quoted
from ledger.views.workbook_print import Paper, set_up
from ledger.views.workbook_tables import lines_in

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell
    from openpyxl.workbook.workbook import Workbook
    from openpyxl.worksheet.worksheet import Worksheet


@dataclass(frozen=True, slots=True)
class Put:
    """One cell: words, a number, or one of our own formulas with its value.

    ``name`` is what formulas call it; ``is_figure`` sets words to the right that stand for a number.
    """

    value: Decimal | str | None
    shown: str = ""
    formula: str = ""
    name: str = ""
    is_figure: bool = False

    @property
    def is_to_the_right(self) -> bool:
        """Whether it stands at the right of its cell: numbers, and whatever a formula gives."""
        return self.is_figure or bool(self.formula) or isinstance(self.value, Decimal)


NOTHING_THERE = Put(None)


class Rows:
    """A sheet written row by row, with its name, widths and paper."""

    def __init__(
        self,
        workbook: Workbook,
        title: str,
        widths: Sequence[float],
        paper: Paper,
        *,
        currency: str,
        on_one_page: bool = False,
    ) -> None:
        self.workbook, self.widths = workbook, tuple(widths)
        self.sheet = cast("Worksheet", workbook.create_sheet(title))
        set_up(self.sheet, paper, widths, on_one_page=on_one_page)
        self.writer = SheetWriter(self.sheet, currency)

    @property
    def next_row(self) -> int:
        """The row that is written next, counted from 1."""
        return self.writer.row + 1

    def head(self, title: str, *notes: str) -> None:
        """Write what stands above everything: the title, and notes broken to the sheet's width."""
        self.writer.text(title, TITLE)
        for note in notes:
            self.prose(note, NOTE)
        self.writer.blank()

    def prose(self, text: str, look: Look = PLAIN) -> None:
        """Write text over as many rows as it takes, across the whole sheet."""
        for line in textwrap.wrap(text, max(int(sum(self.widths) * _PROSE), 40)) or [""]:
            self.writer.text(line, look)

    def part(self, heading: str, *notes: str) -> None:
        """Write the heading of a part of the sheet, after an empty row."""
        self.writer.blank()
        self.writer.text(heading, STRONG)
        for note in notes:
            self.prose(note, NOTE)

    def headings(self, *heads: str, words: Collection[int] = (0,)) -> None:
        """Write a table's headings; those over numbers stand to the right, those over ``words`` (from 0) do not."""
        cells = []
        for at, head in enumerate(heads):
            after_number = at > 0 and at - 1 not in words
            look = replace(HEADING, to_the_right=at not in words, is_indented=after_number and at in words)
            cell = new_cell(self.sheet, look)
            put_text(cell, head)
            cells.append(cell)
        pairs = zip(heads, self.widths, strict=False)
        self.writer.next_row_lines(max(lines_in(head, width - 1) for head, width in pairs))
        self.writer.write(cells)

    def add(self, *cells: Put, look: Look = PLAIN) -> None:
        """Write a row of a table; words wider than their column are broken there."""
        texts = [
            (put.value, self.widths[at])
            for at, put in enumerate(cells)
            if isinstance(put.value, str) and not put.formula
        ]
        lines = max((lines_in(text, width) for text, width in texts), default=1)
        if lines > 1:
            self.writer.next_row_lines(lines)
        after_number, row = False, []
        for at, put in enumerate(cells):
            own = replace(
                look,
                number_format=put.shown,
                to_the_right=put.is_to_the_right,
                is_indented=after_number and not put.is_to_the_right,
                wraps=lines > 1 and not put.is_to_the_right,
                is_tall=lines > 1,
            )
            row.append(self._filled(put, own, at))
            after_number = put.is_to_the_right
        self.writer.write(row)

    def _filled(self, put: Put, look: Look, at: int) -> Cell | None:
        if put.name:
            self.name(put.name, f"${column_letter(at)}${self.next_row}")
        if put.value is None:
            return None
        cell = new_cell(self.sheet, look)
        if put.formula:
            return self.writer.formula(cell, f"={put.formula}", put.value)
        if isinstance(put.value, str):
            put_text(cell, put.value)
        else:
            cell.value = put.value
        return cell

    def name(self, name: str, cells: str) -> None:
        """Give cells of this sheet ('$B$3', '$B$3:$B$5') a name in the workbook."""
        from openpyxl.workbook.defined_name import DefinedName  # noqa: PLC0415 - slow to import

        where = f"{quoted(self.sheet.title)}!{cells}"
        self.workbook.defined_names[name] = DefinedName(name, attr_text=where)


_PROSE = 1.2
"""Letters are narrower than digits, which columns are measured in."""

"""The pack's forms on their sheets, every figure a named cell; and the sheet of all checks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from ledger.exact.currencies import exponent
from ledger.intake.sheet_writing import put_text
from ledger.views.pack import Check, Figure, Form, FormRow, Kind, Pack
from ledger.views.workbook_cells import (
    HEADING,
    HEADING_RIGHT,
    STRONG,
    Look,
    SheetWriter,
    money_format,
    new_cell,
    number,
    zero_format,
)
from ledger.views.workbook_formulas import Places, quoted
from ledger.views.workbook_tables import SheetCheck

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell
    from openpyxl.workbook.workbook import Workbook

LABEL_WIDTH, FIGURE_WIDTH = 56, 18
CHECK_WIDTHS = (24, 62, 16, 16, 14)
CHECKS = "Checks"
QUANTITY_FORMAT = "#,##0.000"


@dataclass(frozen=True, slots=True)
class CheckPlace:
    """Where the checks of one sheet stand on the sheet of all checks."""

    first_row: int
    last_row: int
    off_by: Decimal = Decimal(0)
    """What their differences come to without their signs: what the formula gives."""

    def check(self) -> SheetCheck:
        """Return the check that is zero where all of them are."""
        differences = f"{quoted(CHECKS)}!$E${self.first_row}:$E${self.last_row}"
        return SheetCheck(f"=SUMPRODUCT(ABS({differences}))", self.off_by)


def form_widths(form: Form) -> list[float]:
    """Return how wide a form's columns are."""
    return [LABEL_WIDTH, *(FIGURE_WIDTH for _ in form.headings)]


def write_form(writer: SheetWriter, form: Form, places: Places, workbook: Workbook) -> None:
    """Write a form below its sheet's head, and name its figures."""
    headings = [
        new_cell(writer.sheet, HEADING),
        *(new_cell(writer.sheet, HEADING_RIGHT) for _ in form.headings),
    ]
    for cell, text in zip(headings, ("", *form.headings), strict=True):
        put_text(cell, text)
    writer.write(headings)
    for row in form.rows:
        if not row.figures:
            writer.blank()
            writer.text(row.label, look=STRONG)
            continue
        label = new_cell(writer.sheet, Look(bold=row.is_result, rule="top" if row.is_result else ""))
        put_text(label, row.label)
        writer.write([label, *(_figure(writer, row, figure, places) for figure in row.figures)])
        name_cells(workbook, writer.sheet.title, row, writer.row)


def _figure(writer: SheetWriter, row: FormRow, figure: Figure | None, places: Places) -> Cell | None:
    if figure is None:
        return None
    look = Look(
        bold=row.is_result,
        rule="top" if row.is_result else "",
        number_format=money_format(writer.currency),
        to_the_right=True,
    )
    cell = new_cell(writer.sheet, look)
    value = number(figure.value, Kind.MONEY, writer.currency)
    if figure.terms is None:
        cell.value = value
        return cell
    return writer.formula(cell, places.of_terms(figure.terms), value)


def name_cells(workbook: Workbook, sheet: str, row: FormRow, at: int) -> None:
    """Give a row's figures their names in the workbook."""
    from openpyxl.workbook.defined_name import DefinedName  # noqa: PLC0415 - slow to import

    for place, figure in enumerate(row.figures):
        if figure is not None and figure.name:
            where = f"{quoted(sheet)}!${'BCDE'[place]}${at}"
            workbook.defined_names[figure.name] = DefinedName(figure.name, attr_text=where)


def check_places(checks: Iterable[Check], first_row: int, currency: str) -> dict[str, CheckPlace]:
    """Return where each sheet's checks stand, by the sheet's key; checks of a sheet follow each other."""
    places: dict[str, CheckPlace] = {}
    for row, check in enumerate(checks, first_row):
        off_by = abs(number(check.difference, check.kind, currency))
        known = places.get(check.sheet, CheckPlace(row, row))
        places[check.sheet] = CheckPlace(known.first_row, row, known.off_by + off_by)
    return places


def write_checks(writer: SheetWriter, pack: Pack, places: Places, titles: Mapping[str, str]) -> None:
    """Write every check with both its ways and their difference."""
    heads = ("sheet", "what must agree", "one way", "the other way", "difference")
    cells = [new_cell(writer.sheet, HEADING_RIGHT if at > 1 else HEADING) for at in range(len(heads))]
    for cell, text in zip(cells, heads, strict=True):
        put_text(cell, text)
    writer.write(cells)
    for check in pack.checks:
        row = writer.row + 1
        is_money = check.kind is Kind.MONEY
        shown = zero_format(writer.currency) if is_money else QUANTITY_FORMAT
        texts = [new_cell(writer.sheet, Look(wraps=True)) for _ in range(2)]
        put_text(texts[0], titles[check.sheet])
        put_text(texts[1], check.what)
        look = Look(number_format=shown, to_the_right=True)
        one, other, difference = (new_cell(writer.sheet, look) for _ in range(3))
        told = (check.value, check.other_value, check.difference)
        values = [number(value, check.kind, writer.currency) for value in told]
        writer.formula(one, places.of_terms(check.one), values[0])
        writer.formula(other, places.of_terms(check.other), values[1])
        # Rounded to what the book knows: a sum of decimals may be off by the smallest fraction of a cent.
        decimals = exponent(writer.currency) if is_money else 3
        writer.formula(difference, f"=ROUND(C{row}-D{row},{decimals})", values[2])
        writer.write([*texts, one, other, difference])

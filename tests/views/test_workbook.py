"""The workbook read back: text stays text, totals are live, paper, marks, names, and never over a file."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import openpyxl
import pytest
from openpyxl.workbook.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet
from pack_shop import tables_of, worked_pack

from ledger.errors import UsageError
from ledger.views.pack import Column, Pack, Table
from ledger.views.workbook import pack_bytes, write_workbook

NASTY = ("=1+1", "+SUM(A1)", "-2+3", "@now", "\t=1", '=HYPERLINK("http://nowhere.invalid")', "'quoted", "007")


@cache
def written() -> bytes:
    """The workbook of the worked month."""
    return pack_bytes(worked_pack())


@cache
def formulas() -> Workbook:
    """It, with its formulas."""
    return openpyxl.load_workbook(io.BytesIO(written()))


@cache
def figures() -> Workbook:
    """It, with the values that stand beside the formulas."""
    return openpyxl.load_workbook(io.BytesIO(written()), data_only=True)


def opened(pack: Pack) -> Workbook:
    """Return a pack's workbook read back."""
    return openpyxl.load_workbook(io.BytesIO(pack_bytes(pack)))


def sheets(workbook: Workbook) -> list[Worksheet]:
    """Return the sheets of a workbook."""
    return [sheet for sheet in workbook.worksheets if isinstance(sheet, Worksheet)]


def texts(sheet: Worksheet) -> set[str]:
    """Return every text of a sheet that is no formula."""
    cells = (cell for row in sheet.iter_rows() for cell in row)
    return {str(cell.value) for cell in cells if cell.data_type == "s"}


def words_of(sheet: Worksheet) -> str:
    """Return all texts of a sheet, row by row, as one."""
    cells = (cell for row in sheet.iter_rows() for cell in row)
    return " ".join(str(cell.value) for cell in cells if cell.data_type == "s")


def all_formulas() -> list[str]:
    """Return every formula of the workbook."""
    cells = (cell for sheet in sheets(formulas()) for row in sheet.iter_rows() for cell in row)
    return [str(cell.value) for cell in cells if cell.data_type == "f"]


def with_party(text: str) -> Pack:
    """Return the worked pack with a text of somebody's in a table, in notes and in its shop's name."""
    pack = worked_pack()
    table = Table("named", "Named", "", (Column("sku", "SKU"),), [(text,)])
    return replace(pack, shop=text, sheets=(*pack.sheets, table))


@pytest.mark.parametrize("text", NASTY)
def test_what_a_maker_typed_never_becomes_a_formula(text: str) -> None:
    """Text that begins like a formula is a text cell, as it was typed."""
    sheet = opened(with_party(text))["Named"]
    cell = sheet.cell(sheet.max_row, 1)
    assert (cell.value, cell.data_type) == (text, "s")


def test_a_kind_with_the_signs_of_a_pattern_gathers_its_own_rows_only() -> None:
    """Asterisks, question marks and quotes in a kind's name are that name and nothing else."""
    pack = worked_pack()
    renamed = []
    for sheet in pack.sheets:
        if isinstance(sheet, Table) and sheet.key in {"value_by_kind", "value_by_sku"}:
            rows = [tuple('b*?"~' if value == "blank" else value for value in row) for row in sheet.rows]
            renamed.append(replace(sheet, rows=rows))
        else:
            renamed.append(sheet)
    sheet = opened(replace(pack, sheets=tuple(renamed)))["Value by kind"]
    gathered = [str(cell.value) for row in sheet.iter_rows() for cell in row if "SUMIFS" in str(cell.value)]
    assert any(formula.endswith('"=b~*~?""~~")') for formula in gathered)


def test_every_total_is_a_formula() -> None:
    """Each summed column of each table ends in a sum over exactly its rows."""
    wrong = []
    for table in tables_of(worked_pack()):
        shown = table.shown()
        if not any(column.is_summed for column in shown.columns):
            continue
        sheet = formulas()[table.title]
        total = next(row for row in sheet.iter_rows() if row[0].value == "total")
        for cell, column in zip(total, shown.columns, strict=False):
            if column.is_summed:
                rows = max(len(shown.rows), 1)
                letter, last = cell.column_letter, cell.row - 1
                if cell.value != f"=SUM({letter}{last - rows + 1}:{letter}{last})":
                    wrong.append((table.title, column.key, cell.value))
    assert wrong == []


def test_only_plain_functions_are_used() -> None:
    """Functions that every program has had for long, none that changes with the day or spills."""
    used = {name for formula in all_formulas() for name in re.findall(r"[A-Z]{3,}(?=\()", formula)}
    assert used == {"SUM", "SUMIFS", "SUMPRODUCT", "ABS", "ROUND"}


def test_every_formula_has_its_value_beside_it() -> None:
    """A preview, or a reader that cannot calculate, sees the figures."""
    empty = [
        (sheet.title, cell.coordinate)
        for sheet in sheets(formulas())
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f" and figures()[sheet.title][cell.coordinate].value is None
    ]
    assert empty == []


def test_every_sheet_has_a_check_that_is_zero() -> None:
    """The check stands above the headings and is a formula."""
    for sheet in sheets(formulas()):
        head = [cell for row in sheet.iter_rows(max_row=12, max_col=2) for cell in row]
        (check,) = [cell for cell in head if cell.data_type == "f" and "SUMPRODUCT(ABS(" in str(cell.value)]
        assert figures()[sheet.title][check.coordinate].value == 0, sheet.title


def test_the_statements_figures_are_named() -> None:
    """A name leads to the cell that holds the figure."""
    named = formulas().defined_names["cost_of_goods_sold"].attr_text
    sheet, cell = str(named).replace("$", "").replace("'", "").split("!")
    assert figures()[sheet][cell].value == pytest.approx(258.62)


def test_every_name_a_formula_speaks_of_is_defined() -> None:
    """No formula leads nowhere."""
    known = set(formulas().defined_names) | {sheet.title for sheet in sheets(formulas())}
    spoken = set()
    for formula in all_formulas():
        bare = re.sub(r"\"[^\"]*\"|'[^']*'!", "", formula)
        spoken |= set(re.findall(r"[a-z][a-z0-9_]+", bare))
    assert spoken <= known
    assert "tax_line_40" in spoken


def test_money_has_the_currencys_decimals() -> None:
    """Two for dollars, none for yen."""
    pack = replace(worked_pack(), currency="JPY")
    dollars, yen = formulas()["Value by kind"], opened(pack)["Value by kind"]
    last = dollars.max_row
    assert dollars.cell(last, 2).number_format.startswith("#,##0.00;")
    assert yen.cell(last, 2).number_format.startswith("#,##0;")


def test_a_shop_in_the_united_states_prints_on_letter() -> None:
    """Paper number 1 is Letter."""
    assert {sheet.page_setup.paperSize for sheet in sheets(formulas())} == {1}


def test_a_shop_elsewhere_prints_on_a4() -> None:
    """Paper number 9 is A4."""
    pack = replace(worked_pack(), country="IE")
    assert {sheet.page_setup.paperSize for sheet in sheets(opened(pack))} == {9}


def test_wide_sheets_lie_on_their_side() -> None:
    """Many columns are printed across, few upright; all are as wide as the page."""
    book = formulas()
    assert book["Value by SKU"].page_setup.orientation == "landscape"
    assert book["Summary"].page_setup.orientation == "portrait"
    assert all(sheet.page_setup.fitToWidth == 1 for sheet in sheets(book))


def test_headings_stay_in_sight_and_repeat_on_paper() -> None:
    """Every table is frozen below its headings, which print on every page."""
    for table in worked_pack().sheets:
        sheet = formulas()[table.title]
        row = int(re.sub(r"\D", "", str(sheet.freeze_panes))) - 1
        assert sheet.print_title_rows == f"${row}:${row}"


def test_an_open_month_is_marked_on_every_sheet() -> None:
    """Nobody takes a page of a draft for the month's final figures."""
    for sheet in sheets(formulas()):
        assert any(text.startswith("DRAFT") for text in texts(sheet)), sheet.title
        assert sheet.oddHeader.right.text == "DRAFT"


def test_a_closed_month_has_no_draft_mark() -> None:
    """The mark goes with the close."""
    for sheet in sheets(opened(replace(worked_pack(), is_draft=False))):
        assert not any("DRAFT" in text for text in texts(sheet)), sheet.title


@pytest.mark.parametrize("title", ["Summary", "Tax lines", "Notes"])
def test_cautions_stand_once_where_figures_are_taken_from(title: str) -> None:
    """The first sheet, the tax lines and the notes say what the figures are not, and no other sheet."""
    assert words_of(formulas()[title]).count("not tax advice") == 1


def test_no_other_sheet_repeats_the_caution() -> None:
    """A caution on every sheet is read on none."""
    said = [sheet.title for sheet in sheets(formulas()) if "not tax advice" in words_of(sheet)]
    assert said == ["Summary", "Tax lines", "Notes"]


def test_a_shops_ampersand_prints_as_it_is() -> None:
    """A single one would begin a code of the footer's own."""
    sheet = sheets(opened(with_party("Fox & Hare")))[0]
    assert str(sheet.oddFooter.left.text).startswith("Fox && Hare")


def test_both_charts_are_drawn_with_their_axes() -> None:
    """Native charts over cells of their sheet, with axes that are shown."""
    charts = formulas()["Charts"]._charts
    assert len(charts) == 2
    assert all(not chart.x_axis.delete and not chart.y_axis.delete for chart in charts)


def test_the_same_pack_gives_the_same_bytes() -> None:
    """Nothing of the moment of writing is in the file."""
    assert pack_bytes(worked_pack()) == written()


def test_a_file_that_is_there_is_left_as_it_was(tmp_path: Path) -> None:
    """It says what to do instead."""
    path = tmp_path / "march.xlsx"
    path.write_bytes(b"mine")
    with pytest.raises(UsageError, match="--replace"):
        write_workbook(path, worked_pack())
    assert path.read_bytes() == b"mine"


def test_a_file_may_be_replaced_when_told(tmp_path: Path) -> None:
    """Then the old one goes, whole, and nothing else is left in the folder."""
    path = tmp_path / "march.xlsx"
    path.write_bytes(b"mine")
    write_workbook(path, worked_pack(), replace_existing=True)
    assert path.read_bytes() == written()
    assert [each.name for each in tmp_path.iterdir()] == ["march.xlsx"]

"""The copy with the problems marked: nothing of the file is lost, and every problem is where it belongs."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from ledger.errors import InputErrors, Problem
from ledger.intake import marked_copy as marking
from ledger.intake.marked_copy import PROBLEMS_TITLE, MarkedCopy, marked_copy
from ledger.intake.read_file import read_content
from ledger.intake.table import SourceFile

CSV = b"Style,Qty,Price\nTEE,x,4.10\n\nHOOD,2,=1+1\n"


def workbook_file() -> bytes:
    """Return a workbook with a formula, a hidden sheet, a merged cell, a comment and text like a formula."""
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    sheet.title = "Invoice"
    for row in (["Style", "Qty", "Price"], ["TEE", "x", 4.1], [None, 3, 5], ["=HOOD", 2, "=B2*2"]):
        sheet.append(row)
    sheet["A4"].data_type = "s"
    sheet.merge_cells("A2:A3")
    sheet["C2"].number_format = "0.00"
    sheet["B2"].comment = openpyxl.comments.Comment("ask them", "maker")
    workbook.create_sheet("Old").sheet_state = "hidden"
    buffer = io.BytesIO()
    workbook.save(buffer)
    return buffer.getvalue()


WORKBOOK = workbook_file()


def copied(content: bytes, file: SourceFile | None, *problems: Problem) -> MarkedCopy:
    """Return the marked copy."""
    found = marked_copy(content, file, problems)
    assert found is not None
    return found


def opened(copy: MarkedCopy) -> Any:
    """Return the copy as a workbook."""
    return openpyxl.load_workbook(io.BytesIO(copy.content))


def of_workbook(*wheres: str) -> Any:
    """Return the copy of the workbook with a problem at each place."""
    return opened(copied(WORKBOOK, None, *(Problem(where, "it is wrong.", "Mend it.") for where in wheres)))


def of_csv(*wheres: str) -> Any:
    """Return the copy of the csv with a problem at each place."""
    problems = [Problem(where, "it is wrong.", "Mend it.") for where in wheres]
    return opened(copied(CSV, read_content("lines.csv", ".csv", CSV), *problems))


def test_a_cell_of_a_workbook_gets_a_comment_and_a_fill() -> None:
    """The comment says what is wrong and what to do."""
    cell = of_workbook("sheet Invoice, cell C3")["Invoice"]["C3"]
    assert (cell.comment.text, cell.fill.fgColor.rgb[-6:]) == ("it is wrong. Mend it.", "FFE699")


def test_a_comment_that_was_there_is_kept() -> None:
    """Ours is added to it."""
    assert (
        of_workbook("sheet Invoice, cell B2")["Invoice"]["B2"].comment.text
        == "ask them\n\nit is wrong. Mend it."
    )


def test_two_problems_of_one_cell_share_a_comment() -> None:
    """Neither hides the other."""
    text = of_workbook("sheet Invoice, cell C3", "sheet Invoice, cell C3")["Invoice"]["C3"].comment.text
    assert text.count("it is wrong") == 2


def test_a_problem_inside_merged_cells_is_marked_at_the_first() -> None:
    """The others cannot be seen."""
    assert of_workbook("sheet Invoice, cell A3")["Invoice"]["A2"].comment is not None


def test_a_problem_of_a_row_is_marked_at_its_first_filled_cell() -> None:
    """There is no column to choose another by."""
    assert of_workbook("sheet Invoice, row 4")["Invoice"]["A4"].comment is not None


def test_a_problem_of_several_places_is_marked_at_each() -> None:
    """What is told once, as an unknown SKU, is marked in every row."""
    problem = Problem("row 2, column Style", "nobody knows it.", "Teach it.", ("row 4, column Style",))
    sheet = opened(copied(CSV, read_content("list.csv", ".csv", CSV), problem))["list.csv"]
    assert [sheet[f"A{row}"].comment is not None for row in (2, 3, 4)] == [True, False, True]


def test_a_problem_of_several_places_is_told_with_the_first_of_them() -> None:
    """A long list of rows is cut."""
    told = str(Problem("row 2", "nobody knows it.", "Teach it.", tuple(f"row {row}" for row in range(3, 10))))
    assert told == "row 2: nobody knows it. Teach it. Also: row 3; row 4; row 5; row 6; row 7 and 2 more."


@pytest.mark.parametrize(
    ("address", "value", "kind"),
    [("C4", "=B2*2", "f"), ("A4", "=HOOD", "s"), ("C2", 4.1, "n"), ("B2", "x", "s")],
)
def test_formulas_stay_formulas_and_text_stays_text(address: str, value: object, kind: str) -> None:
    """What the maker wrote is copied as what it was."""
    cell = of_workbook("sheet Invoice, cell B2")["Invoice"][address]
    assert (cell.value, cell.data_type) == (value, kind)


def test_sheets_and_what_is_hidden_are_copied() -> None:
    """Our list comes after all of them."""
    workbook = of_workbook("sheet Invoice, cell B2")
    assert ([sheet.title for sheet in workbook], workbook["Old"].sheet_state) == (
        ["Invoice", "Old", "Problems"],
        "hidden",
    )


def test_every_problem_is_in_the_list_with_and_without_a_cell() -> None:
    """What cannot be marked is told there."""
    rows = list(of_workbook("sheet Invoice, cell B2", "--charge 1")["Problems"].iter_rows(values_only=True))
    assert rows == [
        (PROBLEMS_TITLE, None, None),
        ("where", "what", "what to do"),
        ("sheet Invoice, cell B2", "it is wrong.", "Mend it."),
        ("--charge 1", "it is wrong.", "Mend it."),
    ]


def test_a_csv_becomes_a_workbook_of_the_same_rows() -> None:
    """Row 4 of the text is row 4 of the sheet; a text that begins like a formula stays text."""
    sheet = of_csv("row 2, column Qty")["lines.csv"]
    found = [(cell.coordinate, cell.value, cell.data_type) for cell in sheet[4]]
    assert found == [("A4", "HOOD", "s"), ("B4", "2", "s"), ("C4", "=1+1", "s")]


def test_a_cell_of_a_csv_is_found_by_its_heading() -> None:
    """The problem names the column as the maker heads it."""
    assert of_csv("row 2, column Qty")["lines.csv"]["B2"].comment is not None


def test_an_empty_cell_of_a_csv_can_be_marked() -> None:
    """A missing value is the commonest problem."""
    assert of_csv("row 2, column 5")["lines.csv"]["E2"].comment is not None


def test_the_copy_says_how_many_cells_are_marked() -> None:
    """Problems without a cell do not count."""
    problems = [
        Problem(where, "wrong") for where in ("sheet Invoice, cell B2", "sheet Gone, cell B2", "the party")
    ]
    assert copied(WORKBOOK, None, *problems).marked == 1


def test_a_workbook_too_large_to_copy_whole_is_copied_by_its_values(monkeypatch: pytest.MonkeyPatch) -> None:
    """The marks are the same; formats and formulas are left out, which is said."""
    monkeypatch.setattr(marking, "MAX_COPIED_BYTES", 10)
    workbook = openpyxl.Workbook()
    workbook.active.append(["Style", 2, True])
    buffer = io.BytesIO()
    workbook.save(buffer)
    file = read_content("a.xlsx", ".xlsx", buffer.getvalue())
    copy = copied(buffer.getvalue(), file, Problem("sheet Sheet, cell B1", "wrong"))
    row = opened(copy)["Sheet"][1]
    assert ([cell.value for cell in row], row[1].comment is not None, copy.is_whole) == (
        ["Style", 2, True],
        True,
        False,
    )


def test_formulas_never_calculated_are_marked_though_nothing_was_read() -> None:
    """The file was refused, and its cells are known all the same."""
    with pytest.raises(InputErrors) as caught:
        read_content("a.xlsx", ".xlsx", WORKBOOK)
    assert opened(copied(WORKBOOK, None, *caught.value.problems))["Invoice"]["C4"].comment is not None


def test_a_file_refused_as_a_whole_is_never_opened() -> None:
    """It may have been refused because opening it would fill the memory."""
    assert marked_copy(WORKBOOK, None, [Problem("", "it unpacks into far more.")]) is None


def test_a_mended_copy_can_be_read_again(tmp_path: Path) -> None:
    """Our own list in it is passed over, and said."""
    copy = copied(CSV, read_content("lines.csv", ".csv", CSV), Problem("row 2, column Qty", "wrong"))
    (tmp_path / "copy.xlsx").write_bytes(copy.content)
    again = read_content("copy.xlsx", ".xlsx", copy.content)
    assert ([sheet.name for sheet in again.sheets], again.remarks) == (
        ["lines.csv"],
        ("sheet Problems is the list of problems in a marked copy and was skipped",),
    )

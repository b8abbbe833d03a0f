"""Finding headings and the rows under them."""

from __future__ import annotations

from decimal import Decimal

import pytest

from ledger.errors import InputErrors, Problem
from ledger.intake.read_csv import read_csv
from ledger.intake.records import error_problems, find_header, records
from ledger.intake.table import Cell, CellValue, ErrorValue, Sheet, column_letters

WANTED = {"sku": ("Style", "Item No."), "quantity": ("Qty", "Pieces"), "price": ("Unit Price",)}


def csv_sheet(text: str) -> Sheet:
    """Return the sheet of a csv text."""
    return read_csv("lines.csv", text.encode()).sheets[0]


def workbook_sheet(*rows: tuple[CellValue, ...]) -> Sheet:
    """Return a sheet as the workbook reader makes it."""
    return Sheet(
        "Invoice",
        tuple(
            tuple(
                Cell(value, f"sheet Invoice, cell {column_letters(column)}{number}")
                for column, value in enumerate(row)
            )
            for number, row in enumerate(rows, start=1)
        ),
        tuple(range(1, len(rows) + 1)),
    )


def problems_of(sheet: Sheet, *required: str) -> tuple[Problem, ...]:
    """Return what is wrong with the sheet's headings."""
    with pytest.raises(InputErrors) as caught:
        find_header(sheet, WANTED, required)
    return caught.value.problems


def test_headings_match_whatever_their_case_and_punctuation() -> None:
    """Case, blanks and punctuation do not count, and the canonical name is always accepted."""
    header = find_header(csv_sheet("ITEM NO,note, quantity ,unit-price\n"), WANTED)
    assert header.columns == {"sku": 0, "quantity": 2, "price": 3}


def test_the_header_may_stand_below_titles() -> None:
    """Addresses above the headings are passed over."""
    header = find_header(csv_sheet("Invoice of a mill\nPieces of news\n\nStyle,Qty\n"), WANTED)
    assert header.row_number == 4


def test_of_equal_rows_the_first_is_the_header() -> None:
    """Headings repeated on a second page do not move the header."""
    assert find_header(csv_sheet("Style,Qty\nA,1\nStyle,Qty\n"), WANTED).row_number == 1


def test_a_known_header_row_is_taken_as_told() -> None:
    """A profile may name the row."""
    sheet = csv_sheet("Style,Qty,Unit price\nx\nStyle,Qty\nA,1\n")
    assert find_header(sheet, WANTED, header_row=3).row_number == 3


def test_a_missing_column_is_told_with_what_was_found() -> None:
    """The problem lists the headings there."""
    (problem,) = problems_of(csv_sheet("Style,Amuont\n"), "sku", "quantity")
    assert str(problem).startswith("row 1: the column quantity is missing. Found: Style, Amuont.")


def test_the_nearest_heading_is_named() -> None:
    """A misspelt heading is suggested."""
    (problem,) = problems_of(csv_sheet("Style,Quantty\n"), "sku", "quantity")
    assert problem.next_step.startswith("Nearest: Quantty.")


def test_every_missing_column_is_told_at_once() -> None:
    """All problems come together."""
    assert len(problems_of(csv_sheet("Style,x\n"), "sku", "quantity", "price")) == 2


def test_a_column_that_stands_there_twice_is_refused_with_its_cell() -> None:
    """Two headings of one meaning are a question for the maker."""
    (problem,) = problems_of(workbook_sheet(("Qty", "Style", "Pieces")))
    assert str(problem).startswith("sheet Invoice, cell C1: Qty and Pieces both mean the column quantity.")


def test_columns_nobody_asks_for_may_repeat() -> None:
    """Two note columns are no problem."""
    assert find_header(csv_sheet("note,Style,note\n"), WANTED).columns == {"sku": 1}


@pytest.mark.parametrize(("text", "words"), [("", "there is nothing in it"), ("a,b\n", "no header row")])
def test_a_sheet_without_any_heading_is_refused(text: str, words: str) -> None:
    """An empty sheet and a sheet of other things are told apart."""
    (problem,) = problems_of(csv_sheet(text))
    assert words in problem.what


def test_a_header_row_that_is_not_there_is_refused() -> None:
    """A wrong row number in a profile is named."""
    with pytest.raises(InputErrors, match="row 9 hold none"):
        find_header(csv_sheet("Style,Qty\n"), WANTED, header_row=9)


def test_rows_become_records_by_canonical_name() -> None:
    """A record's cells are found by what they mean."""
    sheet = workbook_sheet(("Style", "Qty"), ("A", Decimal(72)))
    (record,) = records(sheet, find_header(sheet, WANTED))
    assert (record.text("sku"), record.text("quantity"), record.place("quantity")) == (
        "A",
        "72",
        "sheet Invoice, cell B2",
    )


def test_a_csv_cell_is_told_by_its_heading() -> None:
    """The heading is shown as it stands in the file."""
    sheet = csv_sheet("Style,Qty.\nA,x\n")
    (record,) = records(sheet, find_header(sheet, WANTED))
    assert record.place("quantity") == "row 2, column Qty."


@pytest.mark.parametrize("has_addresses", [True, False])
def test_a_cell_missing_at_the_end_of_a_row_still_has_its_place(*, has_addresses: bool) -> None:
    """An empty cell can be reported like any other."""
    sheet = workbook_sheet(("Style", "Qty"), ("A",)) if has_addresses else csv_sheet("Style,Qty\nA\n")
    (record,) = records(sheet, find_header(sheet, WANTED))
    expected = "sheet Invoice, cell B2" if has_addresses else "row 2, column Qty"
    assert (record.text("quantity"), record.place("quantity")) == ("", expected)


def test_rows_without_anything_in_the_columns_found_are_skipped() -> None:
    """A line of thanks in another column is no record."""
    sheet = csv_sheet("Style,Qty,note\nA,1,\n,,thank you\n")
    assert [record.row for record in records(sheet, find_header(sheet, WANTED))] == [2]


def test_an_error_in_a_column_that_is_used_is_a_problem_with_its_place() -> None:
    """Only errors in wanted columns matter."""
    sheet = workbook_sheet(("Style", "Qty", "note"), ("A", ErrorValue("#N/A"), ErrorValue("#REF!")))
    found = error_problems(records(sheet, find_header(sheet, WANTED)))
    assert [problem.where for problem in found] == ["sheet Invoice, cell B2"]

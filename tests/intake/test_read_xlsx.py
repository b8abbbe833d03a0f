"""Reading workbooks: exact values, addresses, and everything a plain reading would miss."""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile
from decimal import Decimal
from typing import Any

import openpyxl
import pytest

from ledger.errors import InputErrors
from ledger.intake import inspect_xlsx, read_xlsx, scan_sheet, table
from ledger.intake.table import ErrorValue, Sheet, SourceFile

SHEET_PART = "xl/worksheets/sheet1.xml"


def workbook(*rows: list[Any]) -> openpyxl.Workbook:
    """Return a workbook whose sheet Invoice holds the rows."""
    made = openpyxl.Workbook()
    made.active.title = "Invoice"
    for row in rows:
        made.active.append(row)
    return made


def saved(made: openpyxl.Workbook) -> bytes:
    """Return a workbook's file."""
    buffer = io.BytesIO()
    made.save(buffer)
    return buffer.getvalue()


def with_part(content: bytes, part: str, change: Any) -> bytes:
    """Return the file with one part changed by a function of its bytes, or replaced."""
    buffer = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            data = old.read(name)
            if name == part:
                data = change(data) if callable(change) else change
            new.writestr(name, data)
    return buffer.getvalue()


def with_rows(rows: str) -> bytes:
    """Return a workbook whose one sheet holds these raw rows."""

    def change(data: bytes) -> bytes:
        return re.sub(rb"<sheetData.*(</sheetData>|/>)", f"<sheetData>{rows}</sheetData>".encode(), data)

    return with_part(saved(workbook([1])), SHEET_PART, change)


def with_texts(*texts: str) -> bytes:
    """Return a workbook whose one row holds these texts through the table of texts."""
    cells = "".join(f'<c t="s"><v>{place}</v></c>' for place in range(len(texts)))
    items = "".join(f"<si><t>{text}</t></si>" for text in texts)
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"
    entry = f'<Override PartName="/xl/sharedStrings.xml" ContentType="{kind}"/></Types>'
    content = with_part(
        with_rows(f"<row>{cells}</row>"),
        "[Content_Types].xml",
        lambda data: data.replace(b"</Types>", entry.encode()),
    )
    buffer = io.BytesIO(content)
    with zipfile.ZipFile(buffer, "a") as archive:
        archive.writestr("xl/sharedStrings.xml", f'<sst xmlns="{scan_sheet.MAIN}">{items}</sst>')
    return buffer.getvalue()


def read(content: bytes) -> SourceFile:
    """Return the file as read under an invented name."""
    return read_xlsx.read_xlsx("invoice.xlsx", content)


def only_sheet(made: openpyxl.Workbook | bytes) -> Sheet:
    """Return the one sheet of a workbook as read."""
    (sheet,) = read(made if isinstance(made, bytes) else saved(made)).sheets
    return sheet


def values(sheet: Sheet) -> list[list[Any]]:
    """Return the bare values of a sheet."""
    return [[cell.value for cell in row] for row in sheet.rows]


def test_cells_know_sheet_and_address() -> None:
    """A cell's place is its sheet and its address."""
    sheet = only_sheet(workbook(["a", "b"], [None, "c"]))
    assert sheet.rows[1][1].where == "sheet Invoice, cell B2"


@pytest.mark.parametrize(
    ("stored", "expected"),
    [
        (4.1, "4.1"),
        (72, "72"),
        (72.0, "72"),
        (0.1 + 0.2, "0.3"),
        (4.1000000000000005, "4.1"),
        (10 / 3, "3.33333333333333"),
        (-1234.56, "-1234.56"),
        (123456789012345, "123456789012345"),
    ],
)
def test_numbers_are_exact_decimals_without_traces_of_binary(stored: float, expected: str) -> None:
    """A number is the decimal that the spreadsheet shows."""
    assert values(only_sheet(workbook([stored]))) == [[Decimal(expected)]]


@pytest.mark.parametrize("epoch", [openpyxl.utils.datetime.WINDOWS_EPOCH, openpyxl.utils.datetime.MAC_EPOCH])
def test_dates_are_the_same_in_both_date_systems(epoch: dt.datetime) -> None:
    """A date is a date, counted from 1900 or from 1904."""
    made = workbook()
    made.epoch = epoch
    made.active.append([dt.date(2026, 1, 31)])
    assert values(only_sheet(made)) == [[dt.date(2026, 1, 31)]]


def test_a_date_with_a_time_is_the_date() -> None:
    """The time of day is dropped."""
    assert values(only_sheet(workbook([dt.datetime(2026, 1, 31, 23, 59)]))) == [[dt.date(2026, 1, 31)]]  # noqa: DTZ001


def test_a_time_of_day_is_shown_as_text() -> None:
    """A time is neither a number nor a date."""
    assert values(only_sheet(workbook([dt.time(8, 30)]))) == [["08:30:00"]]


def test_a_date_no_calendar_has_is_an_error_value() -> None:
    """A number far beyond the calendar, formatted as a date, is an error and no warning."""
    made = workbook([99999999])
    made.active["A1"].number_format = "yyyy-mm-dd"
    assert only_sheet(made).rows[0][0].is_error


def test_yes_and_no_stay_what_they_are() -> None:
    """A logical cell is a bool, not a number."""
    assert values(only_sheet(workbook([True, False]))) == [[True, False]]


@pytest.mark.parametrize("text", ["=1+1", "+44 1", "-x", "@home"])
def test_text_that_begins_like_a_formula_is_text(text: str) -> None:
    """Text stored as text is text, whatever it begins with."""
    made = workbook([text])
    made.active["A1"].data_type = "s"
    assert values(only_sheet(made)) == [[text]]


def test_texts_are_found_through_the_table_of_texts() -> None:
    """Most programs keep each text once, in a table."""
    assert values(only_sheet(with_texts("red", "#N/A"))) == [["red", ErrorValue("#N/A")]]


def test_trailing_blanks_are_trimmed_and_blank_rows_left_out() -> None:
    """Only what holds something is kept, under its own row number."""
    sheet = only_sheet(workbook(["a", None, "  "], [None, " "], [None, "b"], [None]))
    assert (values(sheet), sheet.row_numbers) == ([["a"], [None, "b"]], (1, 3))


def test_a_false_dimension_loses_nothing() -> None:
    """Rows beyond the size that the file states are read."""
    content = with_part(
        saved(workbook(["a"], ["b"], ["c"])),
        SHEET_PART,
        lambda data: re.sub(rb'<dimension ref="[^"]*"', b'<dimension ref="A1"', data),
    )
    assert values(only_sheet(content)) == [["a"], ["b"], ["c"]]


def test_a_value_in_the_last_row_of_all_costs_no_memory() -> None:
    """A stray value a million rows down is read, and the blank rows between are not kept."""
    sheet = only_sheet(with_rows('<row r="1"><c><v>1</v></c></row><row r="1048576"><c><v>2</v></c></row>'))
    assert sheet.row_numbers == (1, 1048576)


def test_formulas_never_calculated_are_all_reported() -> None:
    """Each formula without a stored value is a problem with its address."""
    made = workbook(["price", "amount"], [4.1, "=A2*2"], [4.2, "=A3*2"])
    with pytest.raises(InputErrors) as caught:
        read(saved(made))
    assert [problem.where for problem in caught.value.problems] == [
        "sheet Invoice, cell B2",
        "sheet Invoice, cell B3",
    ]


def test_a_long_list_of_uncalculated_formulas_is_cut_and_counted() -> None:
    """The first twenty are named, the rest counted."""
    with pytest.raises(InputErrors, match="30 more formulas"):
        read(saved(workbook(*[["=1+1"]] * 50)))


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ('<c r="A1"><f>1+1</f><v>2</v></c>', [[Decimal(2)]]),
        ('<c r="A1" t="str"><f>"a"&amp;"b"</f><v>ab</v></c>', [["ab"]]),
        ('<c r="A1" t="str"><f>""</f><v></v></c>', []),
        ('<c r="A1" t="e"><f>1/0</f><v>#DIV/0!</v></c>', [[ErrorValue("#DIV/0!")]]),
    ],
)
def test_a_calculated_formula_is_its_stored_value(cell: str, expected: list[list[Any]]) -> None:
    """The stored value counts, an empty text included."""
    assert values(only_sheet(with_rows(f'<row r="1">{cell}</row>'))) == expected


@pytest.mark.parametrize("cell", ["<c><f>1</f></c>", "<c><f>1</f><v/></c>", '<c t="str"><f>1</f></c>'])
def test_a_formula_without_any_value_is_found_without_an_address(cell: str) -> None:
    """Cells need not carry addresses for the place to be told."""
    with pytest.raises(InputErrors, match="cell B1: a formula that was never calculated"):
        read(with_rows(f"<row><c><v>1</v></c>{cell}</row>"))


def test_stored_values_of_a_workbook_that_asks_for_calculation_are_remarked() -> None:
    """Some programs store a zero for each formula and ask for calculation on opening."""
    remarks = read(with_rows('<row r="1"><c r="A1"><f>1+1</f><v>0</v></c></row>')).remarks
    assert any("asks to be calculated" in remark for remark in remarks)


def test_an_error_cell_is_kept_as_an_error() -> None:
    """An error is no text: it shows itself when it is used."""
    made = workbook(["x", "#N/A"])
    assert only_sheet(made).rows[0][1].is_error


def test_hidden_sheets_are_skipped_and_said() -> None:
    """What cannot be seen is not read."""
    made = workbook(["a"])
    made.create_sheet("Old").sheet_state = "hidden"
    found = read(saved(made))
    assert ([sheet.name for sheet in found.sheets], found.remarks) == (
        ["Invoice"],
        ("sheet Old is hidden and was skipped",),
    )


def test_hidden_rows_are_skipped_and_said() -> None:
    """Rows hidden by hand or by a filter are not read, nor are their formulas."""
    made = workbook(["a"], ["=1+1"], ["c"])
    made.active.row_dimensions[2].hidden = True
    found = read(saved(made))
    assert (found.sheets[0].row_numbers, found.remarks) == (
        (1, 3),
        ("sheet Invoice: hidden rows were skipped (2)",),
    )


def test_hidden_columns_are_read_and_said() -> None:
    """A hidden column is found by its heading like any other."""
    made = workbook(["a", "b", "c"])
    made.active.column_dimensions["B"].hidden = True
    assert read(saved(made)).remarks == ("sheet Invoice: hidden columns were read all the same (B)",)


def test_merged_cells_are_said() -> None:
    """The value of merged cells stands in the first of them only."""
    made = workbook(["a", None], ["b", "c"])
    made.active.merge_cells("A1:B1")
    assert read(saved(made)).remarks == (
        "sheet Invoice: of merged cells only the first holds the value (A1:B1)",
    )


def test_a_text_merged_down_is_read_in_each_row_and_said() -> None:
    """A style merged over the rows of its sizes is the style of each of them."""
    made = workbook(["TEE-180", "S"], [None, "M"], [None, "L"], ["HOOD", "M"])
    made.active.merge_cells("A1:A3")
    found = read(saved(made))
    assert [row[0].value for row in found.sheets[0].rows] == ["TEE-180", "TEE-180", "TEE-180", "HOOD"]
    assert "merged down several rows was read in each of them" in found.remarks[0]


@pytest.mark.parametrize("value", [12, "12", "$1,234.50", "freight 18.20 by weight"])
def test_a_number_merged_down_counts_once(value: Any) -> None:
    """What may be an amount for all rows together is not read again in each."""
    made = workbook(["S", value], ["M", None])
    made.active.merge_cells("B1:B2")
    assert len(only_sheet(made).rows[1]) == 1


def test_a_workbook_with_hidden_sheets_only_is_refused() -> None:
    """There is nothing to read."""
    content = with_part(
        saved(workbook(["a"])),
        "xl/workbook.xml",
        lambda data: data.replace(b'state="visible"', b'state="hidden"'),
    )
    with pytest.raises(InputErrors, match="every sheet of the workbook is hidden"):
        read(content)


def test_the_hash_is_of_the_file() -> None:
    """The same file has the same fingerprint, another file another."""
    one, two = saved(workbook(["a"])), saved(workbook(["b"]))
    assert (
        read(one).content_sha256 == read(one).content_sha256,
        read(one).content_sha256 == read(two).content_sha256,
    ) == (
        True,
        False,
    )


def test_more_rows_than_the_limit_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """The row where the limit is passed is named."""
    monkeypatch.setattr(read_xlsx, "MAX_ROWS", 3)
    with pytest.raises(InputErrors, match=r"more than 3 rows \(row 4\)"):
        read(saved(workbook(*[["a"]] * 9)))


def test_more_columns_than_the_limit_are_refused() -> None:
    """A value in the 501st column is too far out."""
    made = workbook(["a"])
    made.active.cell(2, table.MAX_COLUMNS + 1, "x")
    with pytest.raises(InputErrors, match=r"more than 500 columns \(row 2\)"):
        read(saved(made))


def test_more_cells_than_the_limit_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """All sheets together count."""
    monkeypatch.setattr(read_xlsx, "MAX_WORKBOOK_CELLS", 5)
    made = workbook(["a", "b"], ["c", "d"])
    made.create_sheet("More").append(["e", "f"])
    with pytest.raises(InputErrors, match="more than 5 cells"):
        read(saved(made))


def test_a_small_file_that_unpacks_into_gigabytes_is_refused_unopened() -> None:
    """Two hundred megabytes of blanks in a file of 200 kB are never unpacked."""
    bomb = with_part(saved(workbook([1])), SHEET_PART, b" " * 200_000_000)
    with pytest.raises(InputErrors, match="unpacks into far more"):
        read(bomb)


def test_a_style_sheet_of_unusual_size_is_refused_unopened(monkeypatch: pytest.MonkeyPatch) -> None:
    """Parts that are built whole in memory have their own limit."""
    monkeypatch.setattr(inspect_xlsx, "MAX_OTHER_PART_BYTES", 100)
    with pytest.raises(InputErrors, match="unpacks into far more"):
        read(saved(workbook([1])))


def test_a_row_without_end_is_refused() -> None:
    """A row is built whole in memory by the library, so it is counted first."""
    cells = "<c/>" * (scan_sheet.MAX_ELEMENTS_BETWEEN_ROWS + 1)
    with pytest.raises(InputErrors, match="without end"):
        read(with_rows(f"<row>{cells}</row>"))


def test_a_table_of_texts_without_end_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """So is the table of texts."""
    monkeypatch.setattr(inspect_xlsx, "MAX_TEXT_ELEMENTS", 3)
    with pytest.raises(InputErrors, match="too many texts"):
        read(with_texts("a", "b", "c"))


def test_a_file_over_the_size_limit_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """The size is checked before anything else."""
    monkeypatch.setattr(inspect_xlsx, "MAX_FILE_BYTES", 100)
    with pytest.raises(InputErrors, match="a workbook may have"):
        read(saved(workbook([1])))


@pytest.mark.parametrize(
    "rows",
    [
        '<row r="2"><c><v>2</v></c></row><row r="1"><c><v>1</v></c></row>',
        '<row r="99999999"><c><v>2</v></c></row>',
        '<row r="x"><c><v>2</v></c></row>',
        '<row r="1"><c r="A1" t="s"><v>77</v></c></row>',
        '<row r="1"><c r="A1"><v>1_0x</v></c></row>',
        '<row r="1"><c r="A1">',
    ],
)
def test_a_sheet_with_broken_rows_is_refused_in_plain_words(rows: str) -> None:
    """Rows out of order, numbers and texts that do not exist, and a cut file are damage."""
    with pytest.raises(InputErrors, match="the workbook is damaged"):
        read(with_rows(rows))


@pytest.mark.parametrize("part", [SHEET_PART, "xl/workbook.xml", "xl/styles.xml", "[Content_Types].xml"])
def test_entities_are_refused(part: str) -> None:
    """No part may define entities, which can multiply without end or fetch files."""

    def add_entity(data: bytes) -> bytes:
        declaration = b'<!DOCTYPE x [<!ENTITY boom "boom">]>'
        head, found, rest = data.partition(b"?>")
        return head + found + declaration + rest if found else declaration + data

    with pytest.raises(InputErrors, match="declares entities"):
        read(with_part(saved(workbook([1])), part, add_entity))


def test_the_strict_variant_is_refused_rather_than_read_as_empty() -> None:
    """The library would find no rows in it."""
    content = with_part(
        saved(workbook([1])),
        SHEET_PART,
        lambda data: data.replace(
            b"http://schemas.openxmlformats.org/spreadsheetml/2006/main",
            b"http://purl.oclc.org/ooxml/spreadsheetml/main",
        ),
    )
    with pytest.raises(InputErrors, match="strict variant"):
        read(content)


def test_no_library_guard_no_reading(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without defusedxml no workbook is opened."""
    monkeypatch.setattr(openpyxl, "DEFUSEDXML", False)
    with pytest.raises(InputErrors, match="defusedxml"):
        read(saved(workbook([1])))

"""Reading csv files: encodings, delimiters, quotation marks, limits."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import InputErrors
from ledger.intake import read_csv
from ledger.intake.table import Sheet


def sheet_of(content: bytes) -> Sheet:
    """Return the one sheet of a csv file as read under an invented name."""
    (sheet,) = read_csv.read_csv("lines.csv", content).sheets
    return sheet


def texts(content: bytes) -> list[list[str]]:
    """Return the trimmed texts of a csv file."""
    return [[cell.text for cell in row] for row in sheet_of(content).rows]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_encodings_are_found_by_content(encoding: str) -> None:
    """Accents survive in each encoding, and no byte order mark sticks to the first heading."""
    assert texts("sku,name\nA,Rosé\n".encode(encoding)) == [["sku", "name"], ["A", "Rosé"]]


def test_utf_16_of_the_other_byte_order_is_read() -> None:
    """The mark tells the byte order."""
    assert texts(b"\xfe\xff" + "sku,name".encode("utf-16-be")) == [["sku", "name"]]


def test_the_fallback_encoding_is_said() -> None:
    """Windows-1252 is a guess, so the maker is told."""
    (remark,) = read_csv.read_csv("lines.csv", "name\nRosé".encode("cp1252")).remarks
    assert "Windows-1252" in remark


def test_utf_8_needs_no_remark() -> None:
    """Nothing is said where nothing was guessed."""
    assert read_csv.read_csv("lines.csv", "name\nRosé".encode()).remarks == ()


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_delimiters_are_found(delimiter: str) -> None:
    """Each of the four delimiters cuts the rows."""
    content = f"sku{delimiter}name\nA{delimiter}red\n".encode()
    assert texts(content) == [["sku", "name"], ["A", "red"]]


@pytest.mark.parametrize(
    ("text", "delimiter"),
    [
        ("name;price;amount\nred;4,10;8,20\nblue;4,20;8,40\n", ";"),
        ("Invoice 12\nof a Monday\n\nname,price\nred,4.10\n", ","),
        ("sku,sizes\nA,S;M\nB,S;M\nC,S;M\n", ","),
        ('name\tnote\n"a, b"\tc\n', "\t"),
        ("just one column\nof words\n", "\t"),
        ("", "\t"),
    ],
)
def test_the_delimiter_is_the_consistent_one(text: str, delimiter: str) -> None:
    """Decimal commas, titles above and lists inside cells do not mislead."""
    assert read_csv.sniff_delimiter(text) == delimiter


def test_a_line_break_inside_quotation_marks_belongs_to_the_cell() -> None:
    """Rows count as a spreadsheet program counts them."""
    sheet = sheet_of(b'sku,note\nA,"two\nlines"\n\nB,c\n')
    assert (sheet.rows[1][1].text, sheet.row_numbers) == ("two\nlines", (1, 2, 4))


def test_a_cell_knows_row_and_column() -> None:
    """Without a heading known, columns are counted from one."""
    assert sheet_of(b"a,b\nc,d\n").rows[1][1].where == "row 2, column 2"


@pytest.mark.parametrize("text", ["=1+1", "+5", "-x", "@home", "\tx"])
def test_the_apostrophe_of_our_own_files_is_taken_off(text: str) -> None:
    """What we guarded on the way out comes back as it was."""
    assert sheet_of(f'a,b\n"\'{text}",c\n'.encode()).rows[1][0].value == text


def test_any_other_apostrophe_stays() -> None:
    """A text may begin with an apostrophe of its own."""
    assert texts(b"a,b\n'tis,c\n")[1][0] == "'tis"


def test_errors_written_by_a_spreadsheet_program_are_errors() -> None:
    """#REF! in a csv file is as little a value as in a workbook."""
    assert sheet_of(b"a,b\n#REF!,c\n").rows[1][0].is_error


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_utf_16_without_its_mark_is_known_by_its_nuls(encoding: str) -> None:
    """Every other byte of plain letters and digits is NUL."""
    assert texts("sku,name\nA-1,Größe\n".encode(encoding)) == [["sku", "name"], ["A-1", "Größe"]]


@pytest.mark.parametrize(
    "content", [b"a,b\nx\0y,c\n", "штука;цена".encode("utf-16-le"), b"\xff\xfe\x00", b"\x81\x8d"]
)
def test_what_is_no_text_is_refused(content: bytes) -> None:
    """NUL bytes, UTF-16 that nothing marks, and bytes of no encoding are no table."""
    with pytest.raises(InputErrors, match="not a text file, or its encoding is unknown"):
        sheet_of(content)


def test_a_quotation_mark_that_never_closes_is_refused_with_its_row() -> None:
    """It would swallow the rows below without a word."""
    with pytest.raises(InputErrors, match=r"row 2 \(up to line 4\): a quotation mark is not closed"):
        sheet_of(b'sku,name\nA,"red\nB,blue\nC,green\n')


def test_an_inch_sign_in_plain_text_is_no_quotation_mark() -> None:
    """Only a cell that begins with the mark is quoted."""
    assert texts(b'sku,name\nA,roll 12" wide\n')[1][1] == 'roll 12" wide'


def test_a_line_without_end_is_refused() -> None:
    """No table has lines of a million characters."""
    with pytest.raises(InputErrors, match="line 2 has more than 1000000 characters"):
        sheet_of(b"a,b\n" + b"x," * 500_001)


def test_a_cell_without_end_is_refused_in_plain_words() -> None:
    """A single cell longer than the csv module takes is reported with its row."""
    with pytest.raises(InputErrors, match="row 2"):
        sheet_of(b"a,b\n" + b"x" * 200_000)


@pytest.mark.parametrize(
    ("limit", "noun"), [("MAX_ROWS", "rows"), ("MAX_COLUMNS", "columns"), ("MAX_CELLS", "cells")]
)
def test_limits_are_refused_in_plain_words(monkeypatch: pytest.MonkeyPatch, limit: str, noun: str) -> None:
    """Too many rows, columns or cells end the reading."""
    monkeypatch.setattr(read_csv, limit, 1)
    with pytest.raises(InputErrors, match=f"more than 1 {noun}"):
        sheet_of(b"a,b\nc,d\n")


def test_a_file_over_the_size_limit_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """The size is checked before anything else."""
    monkeypatch.setattr(read_csv, "MAX_FILE_BYTES", 3)
    with pytest.raises(InputErrors, match="MB"):
        sheet_of(b"a,b,c")


PLAIN = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=8).filter(
    lambda text: not text.startswith(("'", "#", "E")) and not set(text) & set(";|\ufeff\x85\u2028\u2029")
)


@given(st.lists(st.lists(PLAIN, min_size=3, max_size=3), max_size=6))
def test_what_the_csv_module_writes_is_read_back(rows: list[list[str]]) -> None:
    """Quoting goes there and back for any text."""
    buffer = io.StringIO()
    csv.writer(buffer, quoting=csv.QUOTE_ALL).writerows([["one", "two", "three"], *rows])
    found = [[cell.value or "" for cell in row] for row in sheet_of(buffer.getvalue().encode()).rows[1:]]
    kept = [row for row in rows if any(text.strip() for text in row)]
    expected = [[text if text.strip() else "" for text in row] for row in kept]
    assert [row + [""] * (3 - len(row)) for row in found] == expected

"""Pasted tables: what separates the columns, where each cell stands, and what cannot be told."""

from __future__ import annotations

import pytest

from ledger.errors import InputErrors
from ledger.intake import read_text as reading
from ledger.intake.read_text import read_text, sniff_separator
from ledger.intake.table import Sheet

ORDER = """\
Order 4711, Mill Lane

Style      Colour         Size   Qty   Price    Amount
------------------------------------------------------
TEE-180    Heather Navy   S       12    4.10     49.20
TEE-180    Heather Navy   M       24             98.40
HOOD                      L        2    9.50     19.00

Total                                          1,166.60
"""


def sheet_of(text: str) -> Sheet:
    """Return the one sheet of a pasted text."""
    (sheet,) = read_text("the pasted text", text.encode()).sheets
    return sheet


def texts(text: str) -> list[list[str]]:
    """Return the texts of its cells."""
    return [[cell.text for cell in row] for row in sheet_of(text).rows]


def test_columns_set_with_blanks_are_told_apart_by_where_they_stand() -> None:
    """A missing cell stays missing, and a wider amount still ends under its heading."""
    assert texts(ORDER) == [
        ["Order 4711, Mill Lane"],
        ["Style", "Colour", "Size", "Qty", "Price", "Amount"],
        ["TEE-180", "Heather Navy", "S", "12", "4.10", "49.20"],
        ["TEE-180", "Heather Navy", "M", "24", "", "98.40"],
        ["HOOD", "", "L", "2", "9.50", "19.00"],
        ["Total", "", "", "", "", "1,166.60"],
    ]


def test_lines_are_counted_as_they_were_pasted() -> None:
    """Blank lines and rules count, though nothing is read of them."""
    assert sheet_of(ORDER).row_numbers == (1, 3, 5, 6, 7, 9)


def test_a_cell_is_told_by_line_and_column() -> None:
    """The maker looks for it in the text, which has lines."""
    assert sheet_of(ORDER).rows[2][3].where == "line 5, column 4"


def test_a_missing_cell_is_told_by_its_heading() -> None:
    """Once the headings are known, they name the column."""
    assert sheet_of(ORDER).cell_place(6, 4, "Price") == "line 6, column Price"


def test_a_line_whose_columns_cannot_be_told_is_refused() -> None:
    """A number between two columns is not put into either."""
    with pytest.raises(InputErrors) as caught:
        sheet_of("Style   Qty    Price\nTEE      12     4.10\nHOOD        5\n")
    assert [problem.where for problem in caught.value.problems] == ["line 3"]


FOOT = """\
Item      Description           Qty    Unit       Price     Amount
K7-B-M    Heron tee black        12    each        3.00      36.00
INK-BLK   Black ink               2    bottles    18.00      36.00

                                       Subtotal              72.00
                                        Freight               6.00
                                    Discount 5%              -3.60
                                      TOTAL USD          10,074.40
"""


@pytest.mark.parametrize(
    ("line", "label", "amount"),
    [
        (-4, "Subtotal", "72.00"),
        (-3, "Freight", "6.00"),
        (-2, "Discount 5%", "-3.60"),
        (-1, "TOTAL USD", "10,074.40"),
    ],
)
def test_a_label_set_against_its_amount_is_a_label_wherever_it_stands(
    line: int, label: str, amount: str
) -> None:
    """It may end under one column and begin under another; its amount stands under the amounts."""
    row = texts(FOOT)[line]
    assert ([text for text in row if text], row[5]) == ([label, amount], amount)


def test_a_short_table_with_a_long_foot_keeps_its_columns() -> None:
    """Four lines of two pieces are no table of two columns."""
    assert [len(row) for row in texts(FOOT)][:3] == [6, 6, 6]


WRAPPED = """\
Item      Description       Colour      Qty   Price
K7-B-M    Heron tee         heather      12    3.00
          with long         navy
          sleeves
K7-S-L    Heron tee         sand          4    3.25
Group B
K7-S-M    Heron tee         sand          4    3.25
"""


def test_words_that_did_not_fit_go_on_in_the_line_below() -> None:
    """They belong to the cell above them, not to the first column."""
    assert texts(WRAPPED)[1] == ["K7-B-M", "Heron tee with long sleeves", "heather navy", "12", "3.00"]


def test_words_in_the_first_column_begin_something_new() -> None:
    """They may be the title of a group."""
    assert (texts(WRAPPED)[3], len(texts(WRAPPED))) == (["Group B"], 5)


def test_a_cell_that_fills_its_column_is_cut_where_the_next_begins() -> None:
    """A single blank separates them, and every other line's cell begins there."""
    text = "Part       Name    Qty\nA-1        Ink       2\nB-1        Ink       2\nLONG-PART- Ink       3\n"
    assert texts(text)[3] == ["LONG-PART-", "Ink", "3"]


def test_the_advice_never_loses_a_charge() -> None:
    """A line that cannot be placed is not simply to be deleted."""
    with pytest.raises(InputErrors, match="only if it is neither goods nor a charge"):
        sheet_of("Style   Qty    Price\nTEE      12     4.10\nHOOD        5\n")


def test_a_line_of_words_below_the_table_is_kept_as_it_is() -> None:
    """Thanks and terms hold no number that could be lost."""
    assert (
        texts("Style   Qty\nTEE      12\nHOOD      5\nThank you    and good-bye  to all\n")[-1][0]
        == "Thank you"
    )


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("sku\tqty\nA\t2\n\t3\n", [["sku", "qty"], ["A", "2"], ["", "3"]]),
        ("sku|qty\nA|2\n", [["sku", "qty"], ["A", "2"]]),
        ("| sku | qty |\n|-----|----:|\n| A   |   2 |\n| B   |     |\n", [["sku", "qty"], ["A", "2"], ["B"]]),
        ("sku;price\nA;4,10\nB;4,20\n", [["sku", "price"], ["A", "4,10"], ["B", "4,20"]]),
        ('sku,name\nA,"red, ""new"""\n', [["sku", "name"], ["A", 'red, "new"']]),
        (
            "sku  name\nA    red, plain\nB    blue, plain\n",
            [["sku", "name"], ["A", "red, plain"], ["B", "blue, plain"]],
        ),
    ],
)
def test_what_separates_the_columns_is_found(text: str, expected: list[list[str]]) -> None:
    """Tabs, bars, semicolons, commas and several blanks are told apart by what fits."""
    assert texts(text) == expected


def test_a_text_without_columns_is_refused() -> None:
    """Words alone are no table."""
    with pytest.raises(InputErrors, match="nothing in it separates columns"):
        sheet_of("one word\nanother\n")


def test_nothing_separates_the_columns_of_an_empty_text() -> None:
    """There is no separator to be found in it."""
    assert sniff_separator("") == ""


def test_what_is_too_large_to_be_pasted_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """The size is checked before anything else."""
    monkeypatch.setattr(reading, "MAX_TEXT_BYTES", 3)
    with pytest.raises(InputErrors, match="Save it as a file"):
        sheet_of("sku\tqty\n")


def test_more_lines_than_any_table_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same limits hold as for files."""
    monkeypatch.setattr(reading, "MAX_ROWS", 1)
    with pytest.raises(InputErrors, match="more than 1 lines"):
        sheet_of("| sku | qty |\n| A | 2 |\n")

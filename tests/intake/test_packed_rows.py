"""Packed rows behave as the plain tuples that they stand for."""

from __future__ import annotations

import datetime
from decimal import Decimal

import pytest

from ledger.intake.packed_rows import PackedRows, pack_texts, pack_values, unpack_texts, unpack_values
from ledger.intake.table import Cell, ErrorValue


def rows(*texts: list[str]) -> PackedRows:
    """Return packed rows of texts, numbered from 1."""
    made = PackedRows(unpack_texts)
    for number, row in enumerate(texts, start=1):
        made.add(number, pack_texts(row))
    return made


def test_a_row_is_a_tuple_of_cells_with_their_places() -> None:
    """The places are put into words when they are asked for."""
    (first,) = rows(["a", "b"])
    assert [(cell.value, cell.where) for cell in first] == [
        ("a", "row 1, column 1"),
        ("b", "row 1, column 2"),
    ]


def test_a_row_asked_for_twice_is_the_same() -> None:
    """Callers tell cells apart by identity within a row."""
    made = rows(["a"], ["b"])
    assert made[1][0] is made[1][0]


def test_a_slice_keeps_its_row_numbers() -> None:
    """The rows below the headings are still told by their own numbers."""
    assert rows(["a"], ["b"], ["c"])[1:][1][0].where == "row 3, column 1"


def test_the_last_row_is_found_from_the_end() -> None:
    """Negative places count from the end."""
    assert rows(["a"], ["b"])[-1][0].value == "b"


def test_a_place_beyond_the_last_row_is_none() -> None:
    """As in a tuple."""
    with pytest.raises(IndexError):
        rows(["a"])[1]


def test_two_sheets_with_the_same_rows_are_equal() -> None:
    """So are packed rows and plain ones."""
    assert (rows(["a"]) == rows(["a"]), rows(["a"]) == rows(["b"])) == (True, False)


def test_rows_cells_and_the_widest_are_counted() -> None:
    """The limits are checked by these."""
    made = rows(["a", "b"], ["", "", "c"])
    assert (len(made), made.cells, made.widest) == (2, 5, 3)


@pytest.mark.parametrize(
    ("fields", "values"),
    [
        (["a", "", "b"], ["a", None, "b"]),
        (["a", " ", ""], ["a"]),
        ([" ", "b "], [None, "b "]),
        (["#N/A"], [ErrorValue("#N/A")]),
    ],
)
def test_texts_come_back_without_the_blanks_at_the_end(fields: list[str], values: list[object]) -> None:
    """Blanks between others are kept as empty cells."""
    assert unpack_texts(pack_texts(fields)) == values


def test_values_come_back_exact_and_of_their_kind() -> None:
    """Numbers are decimals, dates lose their time, yes and no stay what they are."""
    values = [1, 0.1 + 0.2, True, False, "x", None, datetime.datetime(2026, 3, 2, 8), datetime.time(8, 30)]  # noqa: DTZ001
    assert unpack_values(pack_values([*values, None, " "])) == [
        *(Decimal(1), Decimal("0.3"), True, False, "x", None, datetime.date(2026, 3, 2), "08:30:00"),
    ]


def test_what_is_not_a_number_is_an_error() -> None:
    """Infinity stands for no amount."""
    assert unpack_values(pack_values([float("inf")])) == [ErrorValue("#NUM!")]


def test_a_cell_may_be_given_its_place_in_words() -> None:
    """Callers that know the heading say it."""
    assert Cell("a", "row 12, column Qty").where == "row 12, column Qty"

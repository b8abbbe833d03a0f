"""Reading numbers, dates, yes and no by the file's habits."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.errors import ValueProblem
from ledger.intake.table import Cell, CellValue, ErrorValue
from ledger.intake.values import DateOrder, read_date, read_number, read_text


def cell(value: CellValue) -> Cell:
    """Return a cell somewhere."""
    return Cell(value, "row 2, column 1")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("4.10", "4.1"),
        (" 1,234.50 ", "1234.5"),
        ("1,234", "1234"),
        ("1,234,567.891", "1234567.891"),
        ("1 234.5", "1234.5"),
        ("1\N{NARROW NO-BREAK SPACE}234", "1234"),
        ("1'234'567.1", "1234567.1"),
        ("1\N{RIGHT SINGLE QUOTATION MARK}234", "1234"),
        ("$4.10", "4.1"),
        ("US$ 4.10", "4.1"),
        ("CN¥4.10", "4.1"),
        ("4.10 €", "4.1"),
        ("USD 4.10", "4.1"),
        ("4.10 usd", "4.1"),
        ("$4.10 USD", "4.1"),
        ("-$4.10", "-4.1"),
        ("$-4.10", "-4.1"),
        ("($4.10)", "-4.1"),
        ("4.10-", "-4.1"),
        ("\N{MINUS SIGN}4.10", "-4.1"),
        ("+5", "5"),
        (".5", "0.5"),
        ("5.", "5"),
        ("007", "7"),
    ],
)
def test_numbers_with_a_decimal_point(text: str, expected: str) -> None:
    """Numbers are read exactly, as people write them."""
    assert read_number(cell(text)) == Fraction(expected)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("4,10", "4.1"),
        ("1.234,50", "1234.5"),
        ("1.234", "1234"),
        ("1,234", "1.234"),
        ("(€ 1 234,5)", "-1234.5"),
    ],
)
def test_numbers_with_a_decimal_comma(text: str, expected: str) -> None:
    """The same signs change their parts where the file has decimal commas."""
    assert read_number(cell(text), decimal_comma=True) == Fraction(expected)


@pytest.mark.parametrize(
    ("text", "decimal_comma"),
    [
        ("1,5", False),
        ("0,125", False),
        ("4.10", True),
        ("0.125", True),
        ("1,23,456", False),
        ("1,234 567", False),
        ("1.234.567", False),
        ("1.2,345", False),
        ("4$10", False),
        ("XYZ 4", False),
        ("12 pcs", False),
        ("50%", False),
        ("1/2", False),
        ("1e3", False),
        ("--5", False),
        ("(-5)", False),
        ("-5-", False),
        ("-", False),
        ("()", False),
        ("nan", False),
        ("1_000", False),
        ("\N{ARABIC-INDIC DIGIT THREE}", False),
        ("12 12", False),
    ],
)
def test_a_number_that_is_not_certain_is_refused_with_its_text(text: str, *, decimal_comma: bool) -> None:
    """A guess is never made."""
    with pytest.raises(ValueProblem, match="cannot be read for certain") as caught:
        read_number(cell(text), decimal_comma=decimal_comma)
    assert f"'{text}'" in str(caught.value)


def test_a_number_cell_is_taken_exactly_whatever_the_habit() -> None:
    """A workbook's number needs no interpretation."""
    assert read_number(cell(Decimal("4.10")), decimal_comma=True) == Fraction(41, 10)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (None, "empty"),
        ("  ", "empty"),
        (True, "stands where a number should"),
        (dt.date(1900, 1, 12), "the date 1900-01-12 stands where a number should"),
        (ErrorValue("#N/A"), "the error #N/A"),
        ("9" * 41, "too long"),
        ("1" + "0" * 16, "far too large"),
        (Decimal("1E+300"), "far too large"),
        (Decimal("1E-300"), "too fine"),
    ],
)
def test_what_is_no_number_is_refused_in_plain_words(value: CellValue, words: str) -> None:
    """Each kind of cell gets its own sentence."""
    with pytest.raises(ValueProblem, match=words):
        read_number(cell(value))


@given(st.decimals(min_value=-(10**12), max_value=10**12, places=4), st.booleans())
def test_grouped_numbers_are_read_back(number: Decimal, decimal_comma: bool) -> None:  # noqa: FBT001
    """Any number written with thousands separators comes back as it was, in both habits."""
    text = f"{number:,}"
    if decimal_comma:
        text = text.translate(str.maketrans(",.", ".,"))
    assert read_number(cell(text), decimal_comma=decimal_comma) == Fraction(number)


@given(st.text(max_size=45))
def test_any_text_is_a_number_or_a_problem(text: str) -> None:
    """Nothing else can happen."""
    try:
        assert isinstance(read_number(cell(text)), Fraction)
    except ValueProblem:
        assert not text.strip().isascii() or not text.strip().isdigit() or len(text.strip()) > 15


@pytest.mark.parametrize(
    ("value", "order", "expected"),
    [
        ("31.01.2026", "day month year", dt.date(2026, 1, 31)),
        ("1/2/2026", "day month year", dt.date(2026, 2, 1)),
        ("1/2/2026", "month day year", dt.date(2026, 1, 2)),
        ("1-2-26", "month day year", dt.date(2026, 1, 2)),
        ("26/1/2", "year month day", dt.date(2026, 1, 2)),
        ("2026/1/2", "day month year", dt.date(2026, 1, 2)),
        ("2026-01-02", "month day year", dt.date(2026, 1, 2)),
        ("20260102", "month day year", dt.date(2026, 1, 2)),
        ("2026-01-02T14:05:00Z", "day month year", dt.date(2026, 1, 2)),
        ("1/2/2026 2:05 PM", "month day year", dt.date(2026, 1, 2)),
        ("2 Jan 2026", "month day year", dt.date(2026, 1, 2)),
        ("January 2, 2026", "day month year", dt.date(2026, 1, 2)),
        ("2-JAN-26", "day month year", dt.date(2026, 1, 2)),
        (dt.date(2026, 1, 2), "day month year", dt.date(2026, 1, 2)),
        (Decimal(20260102), "day month year", dt.date(2026, 1, 2)),
    ],
)
def test_dates_by_the_order_of_the_file(value: CellValue, order: DateOrder, expected: dt.date) -> None:
    """ISO dates are read in any order, the rest by the order told."""
    assert read_date(cell(value), order) == expected


@pytest.mark.parametrize(
    ("value", "order", "words"),
    [
        ("01/31/2026", "day month year", "not a date read as day month year"),
        ("1/2/2026", "year month day", "not a date read as year month day"),
        ("2026-02-30", "day month year", "not a date"),
        ("30 Foo 2026", "day month year", "not a date"),
        ("soon", "day month year", "not a date"),
        (Decimal(45000), "day month year", "'45000' is not a date"),
        (True, "day month year", "not a date"),
        ("31.12.1999", "day month year", "outside 2000 to 2100"),
        (dt.date(1900, 1, 12), "day month year", "outside 2000 to 2100"),
        ("1.1.2101", "day month year", "outside 2000 to 2100"),
        ("1.1.206", "day month year", "outside 2000 to 2100"),
        ("", "day month year", "empty"),
        (ErrorValue("#REF!"), "day month year", "the error #REF!"),
    ],
)
def test_what_is_no_date_is_refused_in_plain_words(value: CellValue, order: DateOrder, words: str) -> None:
    """The value and the way out are told."""
    with pytest.raises(ValueProblem, match=words):
        read_date(cell(value), order)


def test_text_is_trimmed() -> None:
    """Blanks around a text do not count."""
    assert read_text(cell(" red ")) == "red"


def test_an_error_is_not_read_as_text() -> None:
    """Nobody is called #N/A."""
    with pytest.raises(ValueProblem, match="the error #N/A"):
        read_text(cell(ErrorValue("#N/A")))

"""Corrections of a sales proposal, line by line."""

from __future__ import annotations

import pytest

from ledger.errors import InputErrors, ValueProblem
from ledger.intake.sales_answers import SALES_FORMS, SalesAnswers, read_sales_answer, read_sales_answers


def said(*lines: str) -> SalesAnswers:
    """Return what the lines say together."""
    return read_sales_answers(lines)


@pytest.mark.parametrize("line", SALES_FORMS)
def test_every_shown_form_is_understood(line: str) -> None:
    """What messages show as an example can be typed."""
    assert read_sales_answer(line, SalesAnswers()) != SalesAnswers()


@pytest.mark.parametrize("line", ["E=fees", "e = Fees", "column E=fees", "E fees"])
def test_a_column_is_said_by_its_letters(line: str) -> None:
    """With and without the equals sign."""
    assert dict(said(line).columns) == {"E": "fees"}


def test_a_column_is_left_out() -> None:
    """The same words as for a supplier's file."""
    assert dict(said("ignore D").columns) == {"D": "ignore"}


def test_a_meaning_moves_to_the_column_said_last() -> None:
    """Two columns cannot both be the fees."""
    assert dict(said("E=fees", "F=fees").columns) == {"F": "fees"}


@pytest.mark.parametrize(
    "line",
    [
        'type "Refund (returned)" = take back',
        "type Refund (returned) = take back",
        '"Refund (returned)" = "take back"',
    ],
)
def test_a_type_is_said(line: str) -> None:
    """As a line of its own, or as it would stand in a profile."""
    assert dict(said(line).types) == {"Refund (returned)": "take back"}


def test_rows_without_a_type_can_be_named() -> None:
    """An empty cell of the type column has a meaning too."""
    assert dict(said('type "" = sale').types) == {"": "sale"}


@pytest.mark.parametrize(
    ("line", "key", "value"),
    [
        ("date order day month year", ("numbers", "date_order"), "day month year"),
        ("decimal comma", ("numbers", "decimal_comma"), True),
        ("header row 3", ("file", "header_row"), 3),
        ("sheet May orders", ("file", "sheet"), "May orders"),
        ("tax inside", ("amounts", "tax"), "inside"),
        ("discount to take off", ("amounts", "discount"), "to take off"),
        ("refunds on sale date", ("refunds", "undated"), "sale date"),
        ("money below zero is take back", ("refunds", "below_zero"), "take back"),
        ("fee rows plus", ("amounts", "fee_rows"), "plus"),
    ],
)
def test_a_habit_is_said(line: str, key: tuple[str, str], value: object) -> None:
    """Each line gives one key of the profile."""
    assert said(line).settings == {key: value}


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("E=fee", "is nothing a column can be"),
        ("type Order = sold", "is none of sale, refund"),
        ("minus item total", "is none of"),
        ("tax maybe", "is none of apart, inside"),
        ("what now", "is not understood"),
        ('set aside ""', "nothing stands after it"),
    ],
)
def test_what_is_not_understood_is_told(line: str, told: str) -> None:
    """With the words there are."""
    with pytest.raises(ValueProblem, match=told):
        read_sales_answer(line, SalesAnswers())


def test_every_wrong_line_is_told_at_once() -> None:
    """Two wrong lines are two problems, each with its number."""
    with pytest.raises(InputErrors) as raised:
        said("E=fees", "nonsense", "tax maybe")
    assert [problem.where for problem in raised.value.problems] == ["--as 2", "--as 3"]

"""Schedule C lines of the worked month under every policy, Form 1125-A, and the year to date."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from month_items import WORKED_MONTH, months

from ledger.costing.month_statement import ItemMonth, MonthStatement, month_statement
from ledger.costing.tax_lines import (
    TaxLines,
    TaxPolicies,
    changed_policies,
    form_1125_a,
    opening_check,
    schedule_c,
    tax_lines,
    tax_policies,
    year_to_date,
)

MARCH = month_statement("2026-03", "USD", WORKED_MONTH)

OUTSIDE_39 = {"35": 19000, "36": 28880, "37": 1986, "38": 2533, "39": 4920, "40": 57319, "41": 30457}
INSIDE_39 = {"35": 19500, "36": 30080, "37": 1986, "38": 1980, "39": 5040, "40": 58586, "41": 31724}
OUTSIDE_36 = OUTSIDE_39 | {"36": 33800, "39": 0}
INSIDE_36 = INSIDE_39 | {"36": 35120, "39": 0}

CASES = [
    ({"freight": "39", "supplies": "outside"}, OUTSIDE_39),
    ({"freight": "39", "supplies": "inside"}, INSIDE_39),
    ({"freight": "36", "supplies": "outside"}, OUTSIDE_36),
    ({"freight": "36", "supplies": "inside"}, INSIDE_36),
]


@pytest.mark.parametrize(("recorded", "lines"), CASES)
def test_worked_month_on_every_line(recorded: dict[str, str], lines: dict[str, int]) -> None:
    """All four ways to report freight and supplies give the same line 42; a regression of our own example."""
    found = tax_lines(MARCH, tax_policies(recorded | {"samples": "cost of goods"}))
    assert found.by_number() == lines | {"42": 26862}


@pytest.mark.parametrize(("recorded", "lines"), CASES)
def test_worked_month_with_samples_elsewhere(recorded: dict[str, str], lines: dict[str, int]) -> None:
    """The sample leaves line 36, and line 42 with it: 5.20 less in both."""
    found = tax_lines(MARCH, tax_policies(recorded | {"samples": "elsewhere"}))
    changed = {"36": lines["36"] - 520, "40": lines["40"] - 520, "42": 26342}
    assert (found.by_number(), found.given_away) == (lines | changed, 520)


def test_bridge_to_the_books_closing_stock() -> None:
    """Line 41 and the supplies on hand are the closing stock, line 35 and those at the start the opening."""
    found = tax_lines(MARCH, tax_policies({"supplies": "outside"}))
    assert (found.supplies_at_start, found.supplies_on_hand) == (500, 1267)
    assert found.line_41 + found.supplies_on_hand == MARCH.total.closing_stock
    assert found.line_35 + found.supplies_at_start == MARCH.total.opening_stock


def test_no_bridge_where_supplies_are_inside() -> None:
    """Lines 35 and 41 are the whole stock then."""
    found = tax_lines(MARCH, tax_policies({"supplies": "inside"}))
    assert (found.supplies_at_start, found.supplies_on_hand) == (0, 0)


def test_policies_nobody_told_are_named() -> None:
    """They are taken as the first value, and the report can say so."""
    assert tax_policies({"freight": "36"}) == TaxPolicies(
        freight_in_36=True, not_told=("supplies", "samples")
    )


@given(months(), st.booleans(), st.booleans(), st.booleans())
def test_line_42_is_the_cost_of_goods_sold(
    items: tuple[ItemMonth, ...],
    freight_in_36: bool,  # noqa: FBT001
    supplies_inside: bool,  # noqa: FBT001
    samples_elsewhere: bool,  # noqa: FBT001
) -> None:
    """Under every policy, less what is deducted elsewhere; and the bridge leads to the book's stock."""
    statement = month_statement("2026-03", "USD", items)
    policies = TaxPolicies(
        freight_in_36=freight_in_36, supplies_inside=supplies_inside, samples_elsewhere=samples_elsewhere
    )
    found, total = tax_lines(statement, policies), statement.total
    away = total.samples + total.donations if samples_elsewhere else 0
    assert found.line_42 == total.cost_of_goods_sold - away
    assert found.line_41 + found.supplies_on_hand == total.closing_stock
    assert found.line_35 + found.supplies_at_start == total.opening_stock


def test_finished_goods_are_goods_whatever_their_class() -> None:
    """A finished item that was classed as supplies still stands on lines 35 and 41."""
    item = ItemMonth("FIN", "finished", "supplies when used", 5000, 5000, 0, {})
    found = tax_lines(month_statement("2026-03", "USD", [item]), TaxPolicies())
    assert (found.line_35, found.line_41, found.supplies_on_hand) == (5000, 5000, 0)


def test_schedule_c_names_every_line_once_in_order() -> None:
    """Lines 35 to 42."""
    lines = schedule_c(tax_lines(MARCH, TaxPolicies()))
    assert [line.number for line in lines] == [str(number) for number in range(35, 43)]


def test_form_1125_a_of_the_worked_month() -> None:
    """The same figures; supplies and other costs share line 5."""
    lines = form_1125_a(tax_lines(MARCH, TaxPolicies()))
    amounts = {line.number: line.amount for line in lines}
    assert amounts == {
        "1": 19000,
        "2": 28880,
        "3": 1986,
        "4": 0,
        "5": 7453,
        "6": 57319,
        "7": 30457,
        "8": 26862,
    }


def april() -> MonthStatement:
    """The worked month once more, from its own closing stock."""
    later = [
        replace(
            item,
            opening_amount=item.closing_amount,
            closing_amount=2 * item.closing_amount - item.opening_amount,
        )
        for item in WORKED_MONTH
    ]
    return month_statement("2026-04", "USD", later)


def test_year_to_date_takes_35_from_the_first_and_41_from_the_last() -> None:
    """All other lines are added up."""
    year = year_to_date([MARCH, april()], TaxPolicies(), from_month="2026-03", first_month="2026-03")
    assert year.lines is not None
    assert year.lines.by_number() == {
        "35": 19000,
        "36": 57760,
        "37": 3972,
        "38": 5066,
        "39": 9840,
        "40": 19000 + 57760 + 3972 + 5066 + 9840,
        "41": 41914,
        "42": 53724,
    }


def test_year_to_date_waits_for_months_before_the_book() -> None:
    """A book that begins in March cannot tell January and February; it says so and gives no figures."""
    year = year_to_date([MARCH], TaxPolicies(), from_month="2026-01", first_month="2026-03")
    assert (year.statement, year.lines) == (None, None)
    assert "2026-01" in year.missing
    assert "2026-03" in year.missing


TOLD = TaxLines(
    line_35=10000,
    line_36=20000,
    line_37=0,
    line_38=700,
    line_39=1000,
    line_41=19000,
    supplies_on_hand=500,
)


def test_year_to_date_with_the_months_before_told() -> None:
    """Their line 35 begins the year, their other lines are added."""
    year = year_to_date([MARCH], TaxPolicies(), from_month="2026-01", first_month="2026-03", told=TOLD)
    assert year.lines is not None
    assert year.lines.by_number() == {
        "35": 10000,
        "36": 48880,
        "37": 1986,
        "38": 3233,
        "39": 5920,
        "40": 70019,
        "41": 30457,
        "42": 39562,
    }
    assert year.lines.line_42 == TOLD.line_42 + 26862


def test_told_months_must_end_with_the_books_opening_stock() -> None:
    """A cent off, and the year to date is not printed, with both figures named."""
    off = replace(TOLD, line_41=19001)
    year = year_to_date([MARCH], TaxPolicies(), from_month="2026-01", first_month="2026-03", told=off)
    assert year.lines is None
    assert "195.01" in year.missing
    assert "195.00" in year.missing


def test_year_to_date_of_another_country_has_no_lines() -> None:
    """The statement is there, the lines of a US form are not."""
    year = year_to_date([MARCH], None, from_month="2026-03", first_month="2026-03")
    assert (year.statement, year.lines, year.missing) == (MARCH, None, "")


def test_year_to_date_of_another_country_asks_for_nothing() -> None:
    """What the book holds of the year is told as that, since nobody could tell lines that are not known."""
    year = year_to_date([MARCH], None, from_month="2026-01", first_month="2026-03")
    assert (year.statement, year.lines, year.missing) == (MARCH, None, "")
    assert year.statement_words == "since the book began"


def test_a_year_within_the_book_is_the_tax_year_to_date() -> None:
    """And a year with told months has them alone, too; its statement is since the book began."""
    year = year_to_date([MARCH], TaxPolicies(), from_month="2026-03", first_month="2026-03")
    assert (year.statement_words, year.told) == ("tax year to date", None)
    told = year_to_date([MARCH], TaxPolicies(), from_month="2026-01", first_month="2026-03", told=TOLD)
    assert (told.statement_words, told.told) == ("since the book began", TOLD)


def test_policies_not_told_are_not_changed_by_telling_the_first_choice() -> None:
    """No figure moves by that."""
    assert changed_policies(tax_policies({}), tax_policies({"freight": "39"})) == ()
    assert changed_policies(tax_policies({}), tax_policies({"samples": "elsewhere"})) == ("samples",)


@pytest.mark.parametrize(("last", "agrees"), [(19000, True), (19001, False)])
def test_this_years_35_is_held_against_last_years_41(last: int, agrees: bool) -> None:  # noqa: FBT001
    """As the owner told it, where the book does not hold last year."""
    check = opening_check(tax_lines(MARCH, TaxPolicies()), None, last)
    assert check is not None
    assert check.agrees is agrees


def test_an_unknown_last_year_is_not_checked() -> None:
    """Nobody told it and the book does not hold it."""
    assert opening_check(tax_lines(MARCH, TaxPolicies()), None) is None

"""What a month comes to, read from the book's month totals: statement, tax lines, roll-forward.

Any month can be asked for, open or closed. The figures of an open month are a draft: what is
entered later may change them. Statements read month totals and month-end balances, never all legs.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

from ledger.book.roll_forward import item_months
from ledger.book.shop import Shop, read_policies, read_shop
from ledger.costing.month_statement import MonthStatement, month_statement, span_statement
from ledger.costing.tax_lines import (
    COUNTRY_WITH_LINES,
    OpeningCheck,
    TaxLines,
    TaxPolicies,
    YearToDate,
    changed_policies,
    opening_check,
    tax_lines,
    tax_policies,
    tax_year_of,
    year_to_date,
)
from ledger.errors import Refused
from ledger.exact.months import last_day, months_between

UNDER_WAY = "under way"


@dataclass(frozen=True, slots=True)
class MonthReport:
    """A month's statement, its tax lines and the tax year to date.

    ``tax`` and ``policies`` are None for a shop in a country whose lines are not known.
    ``opening`` is this tax year's line 35 against last year's line 41, None where last year is not
    known. ``is_closed`` tells whether the figures are final.

    ``month_before`` is this month's line 35 against line 41 of the month before, which that month
    reports by its own policies; None where there is none in the book. ``changed_policies`` names the
    policies that are not those of the month before, and ``other_policies_in`` the months of the tax
    year that were closed by others than this report's, whose year to date is by its own throughout.
    """

    shop: Shop
    statement: MonthStatement
    policies: TaxPolicies | None
    tax: TaxLines | None
    year: YearToDate
    opening: OpeningCheck | None
    is_closed: bool
    month_before: OpeningCheck | None = None
    changed_policies: tuple[str, ...] = ()
    other_policies_in: tuple[str, ...] = ()


def read_report(
    connection: sqlite3.Connection, month: str, told: TaxLines | None = None, told_41: int | None = None
) -> MonthReport:
    """Return what a month comes to, with its tax lines and the tax year to date.

    Args:
        connection: a book.
        month: YYYY-MM, the book's first month or later.
        told: the lines of the tax year's months before the book began, as the owner tells them.
        told_41: last tax year's line 41 as the owner tells it, in minor units, where the book
            does not hold that year.

    Raises Refused for a month before the book began, BookDamaged where a month does not add up.
    """
    shop = read_shop(connection)
    told_policies = policies_of(connection, shop, month)
    policies = tax_policies(told_policies) if shop.country == COUNTRY_WITH_LINES else None
    year_began = tax_year_of(month, shop.tax_year_starts)
    months = [
        read_statement(connection, each) for each in months_between(max(year_began, shop.first_month), month)
    ]
    if not months:
        raise before_the_book(shop, month)
    year = year_to_date(months, policies, from_month=year_began, first_month=shop.first_month, told=told)
    is_closed = last_day(month) <= shop.closed_through
    if policies is None:
        return MonthReport(shop, months[-1], None, None, year, None, is_closed)
    first_lines = told or tax_lines(months[0], policies)
    before = _policies_before(connection, shop, month)
    lines = tax_lines(months[-1], policies)
    return MonthReport(
        shop,
        months[-1],
        policies,
        lines,
        year,
        opening_check(first_lines, _last_year(connection, shop, year_began), told_41),
        is_closed,
        _month_before(connection, lines, before, months[-2:-1]),
        changed_policies(before[-1].policies, policies) if before else (),
        tuple(
            one.month
            for one in before
            if one.month >= year_began and changed_policies(one.policies, policies)
        ),
    )


@dataclass(frozen=True, slots=True)
class _MonthsPolicies:
    """A month and the policies it is reported by."""

    month: str
    policies: TaxPolicies


def _policies_before(connection: sqlite3.Connection, shop: Shop, month: str) -> list[_MonthsPolicies]:
    """Return the policies of the months before one, in order: those of its tax year, and at least the last."""
    year_began = tax_year_of(month, shop.tax_year_starts)
    earlier = months_between(shop.first_month, month)[:-1]
    asked = [one for one in earlier if one >= year_began] or earlier[-1:]
    return [_MonthsPolicies(one, tax_policies(policies_of(connection, shop, one))) for one in asked]


def _month_before(
    connection: sqlite3.Connection,
    lines: TaxLines,
    before: Sequence[_MonthsPolicies],
    read: Sequence[MonthStatement],
) -> OpeningCheck | None:
    """Return a month's line 35 against line 41 of the month before; ``read`` has its statement or is empty."""
    if not before:
        return None
    last = before[-1]
    statement = read[0] if read else read_statement(connection, last.month)
    return OpeningCheck(lines.line_35, tax_lines(statement, last.policies).line_41)


def before_the_book(shop: Shop, month: str) -> Refused:
    """Return the refusal of a month that the book does not hold."""
    return Refused(f"{month} is before {shop.first_month}, the book's first month. Name a later one.")


def _last_year(connection: sqlite3.Connection, shop: Shop, year_began: str) -> TaxLines | None:
    """Return the lines of the last month of the tax year before, None where the book does not hold it."""
    months = months_between(shop.first_month, year_began)[:-1]
    if not months:
        return None
    policies = tax_policies(policies_of(connection, shop, months[-1]))
    return tax_lines(read_statement(connection, months[-1]), policies)


def policies_of(connection: sqlite3.Connection, shop: Shop, month: str) -> dict[str, str]:
    """Return the policies a month is reported by: those in force, or those it was closed with."""
    if last_day(month) <= shop.closed_through:
        row = connection.execute(
            "SELECT policies FROM month_event WHERE action = 'close' AND month = ? ORDER BY document DESC LIMIT 1",
            (month,),
        ).fetchone()
        if row is not None:
            closed_with: dict[str, str] = json.loads(row[0])
            return closed_with
    return read_policies(connection)


def read_statement(connection: sqlite3.Connection, month: str) -> MonthStatement:
    """Return the statement of one month.

    Raises BookDamaged where it does not add up.
    """
    shop = read_shop(connection)
    if month < shop.first_month:
        raise before_the_book(shop, month)
    return month_statement(month, shop.currency, item_months(connection, month))


def read_span(connection: sqlite3.Connection, first_month: str, last_month: str) -> MonthStatement:
    """Return one statement of the months from the first to the last, both in it.

    Raises Refused where the span is empty or begins before the book, BookDamaged where a month
    does not add up or does not begin with what the month before ended with.
    """
    months = months_between(first_month, last_month)
    if not months:
        raise Refused(f"{first_month} is after {last_month}: name the earlier month first.")
    return span_statement([read_statement(connection, month) for month in months])

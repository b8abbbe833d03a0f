"""A month's pack: everything whoever prepares the taxes asks for, read from the book as plain data."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence

from ledger.book import month_tables as book
from ledger.book.bought import purchases
from ledger.book.fingerprints import closes_in_force, month_events
from ledger.book.guessed_costs import guessed_stock
from ledger.book.month_report import MonthReport, policies_of, read_span
from ledger.book.month_tables import Span
from ledger.book.preparer_lists import given_away, late_bills, write_down_candidates
from ledger.book.roll_forward import ItemRow, read_roll_forward
from ledger.book.untaxed_use import untaxed_use
from ledger.costing.month_statement import MonthStatement
from ledger.costing.tax_lines import tax_lines
from ledger.exact.months import months_between
from ledger.views import pack_documents as documents
from ledger.views import pack_preparer as preparer
from ledger.views import pack_statement as forms
from ledger.views import pack_stock as stock
from ledger.views.pack import Form, Pack, Table, named_figures
from ledger.views.pack_checks import checks
from ledger.views.pack_notes import CAUTION, Closed, notes

CHART_MONTHS = 12
"""How many months the chart of stock values goes back, at most."""

_MONTH_NAMES = (
    *("January", "February", "March", "April", "May", "June", "July"),
    *("August", "September", "October", "November", "December"),
)


def month_words(month: str) -> str:
    """Return a month as people write it.

    >>> month_words("2026-03")
    'March 2026'
    """
    return f"{_MONTH_NAMES[int(month[5:]) - 1]} {month[:4]}"


def read_pack(connection: sqlite3.Connection, report: MonthReport, *, whole_year: bool = False) -> Pack:
    """Return the pack of a month, or of its tax year up to it.

    Args:
        connection: the book the report was read from.
        report: what the month comes to.
        whole_year: the pack of the tax year's months that are in the book, up to the report's.

    Raises BookDamaged where the months do not follow each other.
    """
    month = report.statement.last_month
    first = max(report.year.from_month, report.shop.first_month) if whole_year else month
    span = Span(first, month)
    statement = read_span(connection, first, month) if whole_year else report.statement
    tables = _tables(connection, report, statement, span)
    sheets: list[Table | Form] = [_summary(connection, report, statement, tables["sales"])]
    if report.policies is not None:
        sheets.append(forms.tax_form(report, statement, tax_lines(statement, report.policies)))
    by_month = tables.pop("stock_by_month")
    sheets += tables.values()
    went = forms.where_cost_went(statement.total)
    figures = named_figures(sheets)
    return Pack(
        shop=report.shop.name,
        country=report.shop.country,
        currency=report.shop.currency,
        span_words=month_words(month) if first == month else f"{month_words(first)} to {month_words(month)}",
        is_draft=not report.is_closed,
        cautions=(CAUTION,),
        sheets=tuple(sheets),
        checks=tuple(checks({**tables, by_month.key: by_month}, figures)),
        stock_by_month=by_month,
        where_cost_went=went,
    )


def _summary(
    connection: sqlite3.Connection, report: MonthReport, statement: MonthStatement, sales: Table
) -> Form:
    year = report.year.statement
    year_sales = None
    if statement is report.statement and year is not None:
        items = book.items(connection)
        # The cost of what was sold is not asked of these rows; it stands in the year's statement.
        earned = book.earnings(connection, Span(year.first_month, year.last_month))
        year_sales = documents.sales(earned, (), items)
    return forms.summary(report, statement, sales, year_sales)


def _tables(
    connection: sqlite3.Connection, report: MonthReport, statement: MonthStatement, span: Span
) -> dict[str, Table]:
    """Return every table by its key, in the order of the sheets."""
    currency = report.shop.currency
    items = book.items(connection)
    legs = book.journal(connection, span)
    opening = book.held_before(connection, span.first_month)
    at_end = book.held_at_end_of(connection, span.last_month)
    months = [read_roll_forward(connection, each, each) for each in span.months]
    rows = _whole_span(connection, months, span)
    charged = {leg.document for leg in legs if leg.account == "charges"}
    heads = {number: book.charge(connection, number) for number in charged}
    names = {leg.document: f"{leg.event} {leg.document}" for leg in legs}
    ends = (span.first_month, span.last_month)
    policies = policies_of(connection, report.shop, span.last_month)
    rates = book.rates(connection, span, currency)
    listed = [
        stock.value_by_kind(statement),
        stock.value_by_sku(months),
        stock.quantity_by_sku(rows),
        stock.lots(book.lots_held(connection, span), items, at_end, currency),
        documents.purchases(purchases(connection, span), items, currency),
        documents.charges(legs, heads, currency),
        documents.jobs(book.job_products(connection, span), legs, items, currency),
        documents.sales(book.earnings(connection, span), legs, items),
        documents.not_sold(legs, items),
        documents.counts(book.counts(connection, span), legs, items),
        preparer.given_away(given_away(connection, *ends), names, report.shop.country),
        preparer.bought_without_tax(untaxed_use(connection, span.first_day, span.last_day), names, items),
        preparer.late_bills(late_bills(connection, *ends), names),
        preparer.write_downs(write_down_candidates(connection, span.last_month), report.shop.country),
        documents.journal(legs, opening, span.first_day, items),
        notes(
            report,
            policies,
            rates,
            _closed(connection, report, span.last_month),
            guessed_stock(connection, report.shop, span.last_day),
        ),
        _stock_by_month(connection, report, span.last_month, items),
    ]
    return {table.key: table for table in listed}


def _whole_span(connection: sqlite3.Connection, months: Sequence[list[ItemRow]], span: Span) -> list[ItemRow]:
    return months[0] if len(months) == 1 else read_roll_forward(connection, span.first_month, span.last_month)


def _stock_by_month(
    connection: sqlite3.Connection, report: MonthReport, month: str, items: Mapping[str, book.KnownItem]
) -> Table:
    months = months_between(report.shop.first_month, month)[-CHART_MONTHS:]
    return stock.stock_by_month(list(book.value_by_month(connection, months)), items)


def _closed(connection: sqlite3.Connection, report: MonthReport, month: str) -> Closed | None:
    """Return what the month's close recorded, None where it is open."""
    event = closes_in_force(month_events(connection)).get(month) if report.is_closed else None
    return None if event is None else Closed(event.document, event.fingerprint, event.previous)

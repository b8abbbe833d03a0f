"""What stands behind a month's statement: the documents of each figure, policies, rates, stock by month."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass

from ledger.book.month_report import policies_of
from ledger.book.month_tables import RateRow, Span, rates
from ledger.book.shop import Shop
from ledger.book.stock_by_month import StockByMonth, stock_by_month
from ledger.costing.month_statement import OF_WHICH_ACCOUNTS
from ledger.exact.months import first_day, last_day


@dataclass(frozen=True, slots=True)
class SourceDocument:
    """What one document put into a figure: minor units, in the figure's usual direction.

    ``charge_kind`` is freight, duty and so on, '' for what is no charge.
    """

    figure: str
    document: int
    event: str
    effect_date: str
    party: str
    reference: str
    charge_kind: str
    amount_minor: int


@dataclass(frozen=True, slots=True)
class MonthBehind:
    """What stands behind one month's statement.

    Args:
        documents: by figure in the order of the statement, then by date.
        policies: as recorded in the book, or as the month was closed with.
        rates: the month's documents in other currencies.
        by_month: stock up to the month's end.
    """

    documents: tuple[SourceDocument, ...]
    policies: Mapping[str, str]
    rates: tuple[RateRow, ...]
    by_month: StockByMonth


FROM_ACCOUNTS: dict[str, tuple[str, int]] = {
    "opening_entered": ("opening balance", -1),
    "purchases": ("purchases", -1),
    "charges_in": ("charges", -1),
    "labour": ("labour", -1),
    "sent_back": ("returned to supplier", 1),
    "own_use": ("own use", 1),
    **{figure: (account, 1) for figure, account in OF_WHICH_ACCOUNTS.items()},
}
"""Each figure of a statement that documents add up to: its account, and 1 where what comes into it counts up."""

OF_ACCOUNTS = """
SELECT l.account, l.document, d.event, l.effect_date, coalesce(d.party, ''), d.reference,
    coalesce((SELECT charge_kind FROM document_line WHERE document = l.document AND role = 'charge'
        ORDER BY line LIMIT 1), ''), sum(l.amount)
FROM (SELECT DISTINCT sku FROM month_total WHERE month = ?1) AS moved
    CROSS JOIN leg AS l ON l.sku = moved.sku AND l.effect_date BETWEEN ?2 AND ?3
    CROSS JOIN document AS d ON d.number = l.document
WHERE l.account NOT IN ('on hand', 'under way', 'work in process', 'made')
GROUP BY l.account, l.document, l.effect_date HAVING sum(l.amount) <> 0
ORDER BY l.effect_date, l.document
"""
"""What each document of a month put on an account. The items that moved come first: legs have no index by date."""


def source_documents(connection: sqlite3.Connection, month: str) -> tuple[SourceDocument, ...]:
    """Return what each figure of a month comes from, by figure in the order of the statement, then by date.

    Args:
        connection: a book.
        month: YYYY-MM.
    """
    rows = connection.execute(OF_ACCOUNTS, (month, first_day(month), last_day(month))).fetchall()
    return tuple(
        SourceDocument(figure, document, event, day, party, reference, kind, sign * amount)
        for figure, (account, sign) in FROM_ACCOUNTS.items()
        for of_account, document, event, day, party, reference, kind, amount in rows
        if of_account == account
    )


def read_month_behind(connection: sqlite3.Connection, shop: Shop, month: str) -> MonthBehind:
    """Return what stands behind a month's statement; ``month`` is YYYY-MM, the book's first or later."""
    return MonthBehind(
        source_documents(connection, month),
        policies_of(connection, shop, month),
        tuple(rates(connection, Span(month, month), shop.currency)),
        stock_by_month(connection, shop.currency, shop.first_month, month),
    )

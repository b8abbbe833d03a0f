"""Leaving out the rows of a sales export that the book has: one export may overlap an earlier one."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence

from ledger.book.row_sources import PostedRow, find_posted
from ledger.book.shop import read_shop
from ledger.errors import InputErrors, Problem
from ledger.exact.money import show_money
from ledger.exact.numbers import show_fraction
from ledger.exact.quantity import show_quantity
from ledger.intake.events import EventRow
from ledger.intake.sales import SalesDraft


def skip_posted(connection: sqlite3.Connection, draft: SalesDraft) -> SalesDraft:
    """Return the draft without the rows that were posted before and not undone, and say how many.

    Raises InputErrors with every row whose order and line are in the book with other content, naming
    both.
    """
    posted = find_posted(connection, [row.source.key for row in draft.rows if row.source])
    if not posted:
        return draft
    currency = read_shop(connection).currency
    known, problems = [], []
    for row in draft.rows:
        before = posted.get(row.source.key) if row.source else None
        if before is None or row.source is None:
            continue
        known.append(row)
        if before.content_sha256 != row.source.content_sha256:
            problems.append(_changed(row, before, currency))
    if problems:
        raise InputErrors(draft.source_name, problems)
    left = draft.without(known, ())
    return draft.without(known, _skipped(draft, left, known))


def _skipped(draft: SalesDraft, left: SalesDraft, known: Sequence[EventRow]) -> list[str]:
    """Return how many rows were in the book, and of how many only the refund or the return is new."""
    whole = left.rows_skipped - draft.rows_skipped
    in_part = len({row.where for row in known} & {row.where for row in left.rows})
    said = []
    if whole:
        verbs = "is in the book already and was" if whole == 1 else "are in the book already and were"
        said.append(f"{whole:,} of {draft.rows_read:,} rows {verbs} skipped")
    if in_part:
        rows = "row the sale is" if in_part == 1 else "rows the sales are"
        said.append(
            f"of {in_part:,} {rows} in the book already; what was paid back or came back since is new"
        )
    return said


def _changed(row: EventRow, before: PostedRow, currency: str) -> Problem:
    """Return the refusal of a row that says something else than its document, telling both."""
    here = _words(
        row.date.isoformat(),
        "" if row.quantity is None else show_fraction(row.quantity),
        row.sku,
        [None if value is None else show_fraction(value) for value in (row.amount, row.shipping, row.fees)],
        row.currency or currency,
    )
    money = [before.amount, before.shipping, before.fees]
    there = _words(
        before.effect_date,
        show_quantity(before.quantity_milli) if before.quantity_milli else "",
        before.sku,
        [None if value is None else show_money(value, currency) for value in money],
        currency,
    )
    return Problem(
        row.where,
        f"order {row.reference} is in the book as {before.event} {before.document} ({there}), and here as: {here}.",
        f'If the file is right: blankbook undo {before.document} --why "…", then post the file again. '
        "Else leave the row out.",
    )


def _words(on: str, quantity: str, sku: str, money: Sequence[str | None], currency: str) -> str:
    amount, shipping, fees = money
    goods = f"{on}, {quantity} of {sku}" if quantity else f"{on}, {sku}"
    more = [("shipping", shipping), ("fees", fees)]
    said = "".join(f", {name} {value}" for name, value in more if value is not None)
    return f"{goods}, {amount or 'no amount'} {currency}{said}"

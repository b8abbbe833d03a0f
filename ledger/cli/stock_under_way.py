"""`blankbook stock --under-way`: what is the shop's and still under way, and what is expected when."""

from __future__ import annotations

import datetime

import typer

from ledger.book.catalogue_store import find_kinds
from ledger.book.order_store import find_orders
from ledger.book.shop import read_shop
from ledger.book.under_way import expected, outstanding, under_way
from ledger.catalogue.items import read_kind
from ledger.cli.common import reading, show, show_json, today
from ledger.views import under_way as view


def show_under_way(
    context: typer.Context, day: datetime.date | None, kind: str | None, *, json: bool
) -> None:
    """Show what is under way, now or at the end of a day; now also what is expected and waits to be paid."""
    with reading(context) as connection:
        shop = read_shop(connection)
        wanted = read_kind(kind, find_kinds(connection)).name if kind else None
        rows = under_way(connection, (day or datetime.date.max).isoformat(), day or today())
        orders = find_orders(connection) if day is None and not json else ()
    rows = [row for row in rows if wanted in (None, row.kind)]
    if json:
        show_json(view.under_way_as_data(rows, shop.currency))
        return
    heading = f" at the end of {day.isoformat()}" if day else ""
    show(view.under_way_text(rows, shop.currency, f"Under way and {shop.name}'s own{heading}"))
    for text in (
        view.expected_text(expected(orders, today()), today()),
        view.outstanding_text([one for order in orders for one in outstanding(order)], today()),
    ):
        if text:
            show("\n" + text)

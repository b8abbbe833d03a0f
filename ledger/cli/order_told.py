"""What is told of an order after it was placed: its days, that it is closed; and the picture of lead times."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence

import typer

from ledger.book.order_offers import told_offer
from ledger.book.order_store import find_order
from ledger.book.ordering import check_closing, close_order, tell_days
from ledger.book.under_way import Took
from ledger.cli.common import agree, now, say, show, show_json, today, typed, writing
from ledger.cli.drawing import picture_path
from ledger.errors import UsageError
from ledger.views import order_data
from ledger.views import orders as view


def tell(
    context: typer.Context, number: int, days: Mapping[str, datetime.date | None], *, json: bool
) -> None:
    """Record what was told of an order's days; it can be told anew, so nothing is asked."""
    with writing(context) as connection:
        tell_days(connection, number, days, today(), now())
        order, offer = find_order(connection, number), told_offer(connection, number)
    words = ", ".join(
        f"{what} {'taken back' if day is None else day.isoformat()}" for what, day in days.items()
    )
    if json:
        show_json(order_data.order_as_data(order, today(), offer))
    else:
        show(view.order_text(order, today(), offer))
    say(f"Told of order {number}: {words}. The latest day told of a kind is in force.")


def close(context: typer.Context, number: int, why: str, *, yes: bool, dry_run: bool, json: bool) -> None:
    """Close an order by hand, after showing what will not come."""
    if not why.strip():
        raise UsageError('say why, for whoever reads the book later: --why "sold out".')
    with writing(context) as connection:
        order = find_order(connection, number)
        check_closing(order)
        say(view.closing_text(order))
        if not agree("Close this order?", yes=yes, dry_run=dry_run):
            return
        document = close_order(connection, number, why.strip(), today(), now())
        order, offer = find_order(connection, number), told_offer(connection, number)
    if json:
        show_json({"document": document, "order": number})
    else:
        show(view.order_text(order, today(), offer))
    say(
        f"Closed order {number} with document {document}. Take it back: "
        f'{typed(context, f"undo {document}")} --why "…"'
    )


def draw(took: Sequence[Took], picture: str) -> None:
    """Write the picture of lead times where it was asked for."""
    from ledger.views.lead_times_picture import write_picture  # noqa: PLC0415  (needs a slow library)

    write_picture(took, picture_path(picture))
    say(f"Wrote {picture}.")

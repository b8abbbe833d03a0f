"""`blankbook stock` and `blankbook lots`: what is there, and what each piece cost landed."""

from __future__ import annotations

import datetime
import sqlite3
from typing import Annotated

import typer

from ledger.book import looking
from ledger.book.catalogue_store import find_kinds
from ledger.book.shop import read_shop
from ledger.catalogue._words import suggestion
from ledger.catalogue.items import read_kind
from ledger.cli.common import Json, day_option, reading, say, show, show_json, today, typed
from ledger.errors import Refused, UsageError
from ledger.views import stock as view

EXPIRY_DAYS = 30


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command()(stock)
    app.command()(lots)


def stock(
    context: typer.Context,
    on: Annotated[str | None, typer.Option("--on", metavar="DATE", help="At the end of that day.")] = None,
    kind: Annotated[str | None, typer.Option("--kind", help="Only this kind: blank, ink, vinyl, …")] = None,
    grid: Annotated[
        str | None, typer.Option("--grid", metavar="STYLE", help="One style: colours down, sizes across.")
    ] = None,
    all_items: Annotated[bool, typer.Option("--all", help="Also items with nothing on hand.")] = False,
    is_under_way: Annotated[
        bool,
        typer.Option("--under-way", help="What is the shop's and still under way, and what is expected."),
    ] = False,
    json: Json = False,
) -> None:
    """Show what is on the shelf.

    With what it cost landed, and what expires within 30 days.

    \b
    Examples:
      blankbook stock --kind blank
      blankbook stock --grid Plover --on 2026-03-31
      blankbook stock --under-way
    """
    day = day_option(on)
    if grid and kind:
        raise UsageError("--grid shows one style; leave --kind out.")
    if is_under_way:
        if grid or all_items:
            raise UsageError("--under-way is a list of its own: leave --grid and --all out.")
        from ledger.cli.stock_under_way import show_under_way  # noqa: PLC0415  (only for what is under way)

        show_under_way(context, day, kind, json=json)
        return
    with reading(context) as connection:
        shop = read_shop(connection)
        wanted = read_kind(kind, find_kinds(connection)).name if kind else None
        style = _style(connection, grid) if grid else None
        if day is None:
            rows = looking.stock(connection, kind=wanted, style=style)
        else:
            rows = looking.stock_on(connection, day.isoformat(), kind=wanted, style=style)
        as_of = day or today()
        until = (as_of + datetime.timedelta(days=EXPIRY_DAYS)).isoformat()
        expiring = looking.expiring(connection, until) if day is None or day >= today() else []
        shorts = looking.shorts(connection)
        coming = looking.under_way_value(connection) if day is None else 0
    shown = rows if all_items or grid else [row for row in rows if row.quantity_milli or row.value]
    if json:
        show_json(view.stock_as_data(shown, shop.currency))
    else:
        heading = f" at the end of {day.isoformat()}" if day else ""
        if style:
            show(view.grid_text(style, shown, shop.currency, heading))
        else:
            show(view.stock_text(shown, shop.currency, f"Stock of {shop.name}{heading}"))
    if coming:
        say(f"\n{view.coming_text(coming, shop.currency)}: {typed(context, 'stock --under-way')}")
    for note in (view.shorts_text(shorts), view.expiry_text(expiring, as_of)):
        if note:
            say("\n" + note)


def _style(connection: sqlite3.Connection, text: str) -> str:
    """Return the style as the book spells it."""
    styles = [
        row[0] for row in connection.execute("SELECT DISTINCT style FROM item WHERE style <> '' ORDER BY 1")
    ]
    for style in styles:
        if style.casefold() == text.strip().casefold():
            return str(style)
    known = f" There are: {', '.join(styles)}." if styles else " No item has a style yet."
    raise Refused(f"the book has no style '{text}'.{suggestion(text, styles)}{known}")


def lots(
    context: typer.Context,
    sku: Annotated[str | None, typer.Argument(metavar="SKU", help="Only this item.")] = None,
    all_lots: Annotated[bool, typer.Option("--all", help="Also lots with nothing left.")] = False,
    json: Json = False,
) -> None:
    """Show lots and their landed cost.

    The oldest of each item first: what came in, at what cost, what is left.

    \b
    Example:
      blankbook lots TEE-BLK-M
    """
    with reading(context) as connection:
        currency = read_shop(connection).currency
        if sku:
            known = [row[0] for row in connection.execute("SELECT sku FROM item")]
            if sku not in known:
                raise Refused(f"the book has no item {sku}.{suggestion(sku, known)} See: blankbook items")
        rows = looking.lots(connection, sku, include_empty=all_lots)
    if json:
        show_json(view.lots_as_data(rows, currency))
    else:
        show(view.lots_text(rows, currency))

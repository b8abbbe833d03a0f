"""`blankbook stock` and `blankbook lots`: what is there, and what each piece cost landed."""

from __future__ import annotations

import datetime
import sqlite3
from dataclasses import dataclass
from typing import Annotated

import typer

from ledger.book import looking
from ledger.book.catalogue_store import find_kinds
from ledger.book.shop import Shop, read_shop
from ledger.catalogue._words import suggestion
from ledger.catalogue.items import read_kind
from ledger.cli import completing
from ledger.cli.common import Json, day_option, reading, say, show, show_json, today, typed
from ledger.cli.drawing import terminal_bars
from ledger.errors import Refused, UsageError
from ledger.views import stock as view


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command()(stock)
    app.command()(lots)


def stock(
    context: typer.Context,
    on: Annotated[str | None, typer.Option("--on", metavar="DATE", help="At the end of that day.")] = None,
    kind: Annotated[
        str | None,
        typer.Option("--kind", help="Only this kind: blank, ink, vinyl, …", autocompletion=completing.kinds),
    ] = None,
    grid: Annotated[
        str | None,
        typer.Option(
            "--grid",
            metavar="STYLE",
            help="One style: colours down, sizes across.",
            autocompletion=completing.styles,
        ),
    ] = None,
    all_items: Annotated[bool, typer.Option("--all", help="Also items with nothing on hand.")] = False,
    is_under_way: Annotated[
        bool,
        typer.Option("--under-way", help="What is the shop's and still under way, and what is expected."),
    ] = False,
    report: Annotated[
        str, typer.Option("--report", metavar="FILE.html", help="Write all of it as a page to keep or print.")
    ] = "",
    picture: Annotated[
        str,
        typer.Option(
            "--picture", metavar="FILE", help="Draw stock value by month and kind, as .png or .svg."
        ),
    ] = "",
    json: Json = False,
) -> None:
    """Show what is on the shelf.

    With what it cost landed, and what expires within 30 days.

    \b
    Examples:
      blankbook stock --kind blank
      blankbook stock --grid Plover --on 2026-03-31
      blankbook stock --under-way
      blankbook stock --report stock.html
    """
    day = day_option(on)
    if report or picture:
        if any((grid, kind, all_items, is_under_way, json)):
            raise UsageError(
                "--report and --picture show all of the stock: leave --grid, --kind, --all, --under-way and --json out."
            )
        _write(context, report, picture, day)
        return
    if grid and kind:
        raise UsageError("--grid shows one style; leave --kind out.")
    if is_under_way:
        if grid or all_items:
            raise UsageError("--under-way is a list of its own: leave --grid and --all out.")
        from ledger.cli.stock_under_way import show_under_way  # noqa: PLC0415  (only for what is under way)

        show_under_way(context, day, kind, json=json)
        return
    found = _find(context, day, kind, grid)
    rows = found.rows if all_items or grid else [row for row in found.rows if row.quantity_milli or row.value]
    if json:
        show_json(view.stock_as_data(rows, found.shop.currency))
    else:
        _show(found, rows, f" at the end of {day.isoformat()}" if day else "")
    if found.coming:
        say(f"\n{view.coming_text(found.coming, found.shop.currency)}: {typed(context, 'stock --under-way')}")
    for note in (view.shorts_text(found.shorts), view.expiry_text(found.expiring, day or today())):
        if note:
            say("\n" + note)


@dataclass(frozen=True, slots=True)
class _Found:
    """What the book says of stock on a day, of one style or all; ``coming`` is under way, in minor units."""

    shop: Shop
    style: str | None
    rows: list[looking.StockRow]
    expiring: list[looking.ExpiryRow]
    shorts: list[looking.ShortRow]
    coming: int


def _find(context: typer.Context, day: datetime.date | None, kind: str | None, grid: str | None) -> _Found:
    until = ((day or today()) + datetime.timedelta(days=looking.SOON_DAYS)).isoformat()
    with reading(context) as connection:
        wanted = read_kind(kind, find_kinds(connection)).name if kind else None
        style = _style(connection, grid) if grid else None
        return _Found(
            shop=read_shop(connection),
            style=style,
            rows=looking.stock(connection, kind=wanted, style=style)
            if day is None
            else looking.stock_on(connection, day.isoformat(), kind=wanted, style=style),
            expiring=looking.expiring(connection, until) if day is None or day >= today() else [],
            shorts=looking.shorts(connection),
            coming=looking.under_way_value(connection) if day is None else 0,
        )


def _show(found: _Found, rows: list[looking.StockRow], heading: str) -> None:
    currency = found.shop.currency
    if found.style:
        show(view.grid_text(found.style, rows, currency, heading, terminal_bars()))
    else:
        show(view.stock_text(rows, currency, f"Stock of {found.shop.name}{heading}", terminal_bars()))


def _write(context: typer.Context, report: str, picture: str, day: datetime.date | None) -> None:
    """Write the page and the picture that were asked for."""
    if picture and day is not None:
        raise UsageError("--picture shows every month up to now: leave --on out.")
    from ledger.cli.stock_report import write_stock_picture, write_stock_report  # noqa: PLC0415  (slow to import)

    if report:
        write_stock_report(context, report, day)
    if picture:
        write_stock_picture(context, picture)


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
    sku: Annotated[
        str | None, typer.Argument(metavar="SKU", help="Only this item.", autocompletion=completing.skus)
    ] = None,
    all_lots: Annotated[bool, typer.Option("--all", help="Also lots with nothing left.")] = False,
    json: Json = False,
) -> None:
    """Show lots and their landed cost.

    The oldest of each item first: what came in, at what cost, what is left.

    \b
    Example:
      blankbook lots WREN-BLK-M
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

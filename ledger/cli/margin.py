"""`blankbook margin`: what was earned, by design, way of decorating or SKU, and what lies idle."""

from __future__ import annotations

from typing import Annotated

import typer

from ledger.book.margin import DESIGN, GROUPINGS, SLOW_DAYS
from ledger.book.margin import margin as find_margin
from ledger.book.shop import read_shop
from ledger.cli.common import Json, day_option, reading, show, show_json, today
from ledger.cli.drawing import terminal_bars
from ledger.costing.tax_lines import tax_year_of
from ledger.errors import UsageError
from ledger.exact.months import first_day
from ledger.views import margin as view


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(margin)


def margin(
    context: typer.Context,
    from_day: Annotated[
        str | None,
        typer.Option("--from", metavar="DATE", help="The first day; else the tax year's, or the book's."),
    ] = None,
    to_day: Annotated[
        str | None, typer.Option("--to", metavar="DATE", help="The last day; else today.")
    ] = None,
    by: Annotated[str, typer.Option("--by", help="design, way or sku.")] = DESIGN,
    slow: Annotated[
        int, typer.Option("--slow", metavar="DAYS", min=1, help="Slow: nothing sold or used for so long.")
    ] = SLOW_DAYS,
    json: Json = False,
) -> None:
    """Show what was earned, and on what.

    What was sold less what was paid back, fees and cost; misprints, shrinkage by counts, and what
    lies on the shelf without being sold or used.

    \b
    Examples:
      blankbook margin --by way
      blankbook margin --from 2026-03-01 --to 2026-03-31 --slow 60
    """
    if by not in GROUPINGS:
        raise UsageError(f"--by is '{by}': use {', '.join(GROUPINGS)}.")
    last = day_option(to_day) or today()
    with reading(context) as connection:
        shop = read_shop(connection)
        year_began = first_day(tax_year_of(last.isoformat()[:7], shop.tax_year_starts))
        given = day_option(from_day)
        first = given.isoformat() if given else max(year_began, shop.first_day)
        if first > last.isoformat():
            raise UsageError(f"the first day, {first}, is after the last, {last}: see --from and --to.")
        found = find_margin(connection, first, last.isoformat(), by=by, slow_days=slow)
    if json:
        show_json({"from": first, "to": last.isoformat(), **view.margin_as_data(found, shop.currency, by)})
        return
    heading = f"{shop.name}, {first} to {last.isoformat()}"
    show(view.margin_text(found, shop.currency, by, heading, slow, terminal_bars()))

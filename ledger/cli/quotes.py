"""`blankbook quotes`: what suppliers offer."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ledger.book.connect import write_tx
from ledger.book.quote_store import find_homes, find_offers, offer_history
from ledger.cli.common import (
    DryRun,
    Json,
    Yes,
    agree,
    now,
    reading,
    say,
    show,
    show_json,
    today,
    typed,
    writing,
)
from ledger.cli.items import BOOK_CHANGED, write_workbook
from ledger.errors import Refused, UsageError
from ledger.intake.quotes_file import plan_quotes, read_quotes_file, save_plan
from ledger.views import quotes as view


def register(app: typer.Typer) -> None:
    """Add the command and those under it."""
    group = typer.Typer(no_args_is_help=False, rich_markup_mode=None)
    group.callback(invoke_without_command=True)(quotes)
    group.command()(load)
    group.command()(template)
    app.add_typer(group, name="quotes")


def quotes(
    context: typer.Context,
    history: Annotated[
        bool, typer.Option("--history", help="Every state that offers had, and which stands.")
    ] = False,
    json: Json = False,
) -> None:
    """List what suppliers offer: prices, terms, minimums.

    load adds and amends offers; what they were before is kept.

    \b
    Examples:
      blankbook quotes
      blankbook quotes load quotes.csv --dry-run
      blankbook compare --prices WREN --quantity 144
    """
    if context.invoked_subcommand is not None:
        if json or history:
            raise UsageError(
                f"--json and --history before '{context.invoked_subcommand}' belong to the plain list."
            )
        return
    with reading(context) as connection:
        offers = list(find_offers(connection).values())
        homes = find_homes(connection)
        states = offer_history(connection) if history else []
    if history:
        if json:
            show_json(view.history_as_data(states))
        elif states:
            show(view.history_text(states, homes, today()))
    elif json:
        show_json(view.offers_as_data(offers))
    elif offers:
        show(view.offers_text(offers, homes, today()))
    if not offers and not json:
        say(
            "The book has no quotes yet. Write a sheet to fill in with: blankbook quotes template quotes.xlsx, "
            f"then: {typed(context, 'quotes load quotes.xlsx')}"
        )


def load(
    context: typer.Context,
    file: Annotated[str, typer.Argument(metavar="FILE", help="An .xlsx or .csv: one row is one price list.")],
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Load a quotes sheet: add and amend.

    Adds the offers of a sheet and amends those the book has; shows what changes, then asks.

    At least the columns supplier, sku or style, and prices; 'quotes template' writes a sheet with them all.
    Loading the same sheet again changes nothing.

    \b
    Examples:
      blankbook quotes load quotes.csv --dry-run
      blankbook quotes load quotes.csv --yes
    """
    said = read_quotes_file(Path(file))
    with reading(context) as connection:
        plan = plan_quotes(connection, said)
        homes = find_homes(connection)
    for remark in said.remarks:
        say(remark)
    (say if json else show)(view.quotes_plan_text(said.name, plan, homes))
    is_posted = not plan.is_empty and agree("Load these offers?", yes=yes, dry_run=dry_run)
    if is_posted:
        with writing(context) as connection, write_tx(connection):
            if plan_quotes(connection, said) != plan:
                raise Refused(BOOK_CHANGED)
            save_plan(connection, plan, now())
        count = len(plan.loaded)
        row = plan.loaded[0].rows[0]
        look = typed(context, f"compare --prices {row.sku or row.style}")
        say(f"Loaded {count} {'offer' if count == 1 else 'offers'}. Compare: {look}")
    if json:
        show_json(view.quotes_plan_as_data(said.name, plan, posted=is_posted))


def template(
    file: Annotated[
        str, typer.Argument(metavar="FILE", help="The workbook to write; it must not be there yet.")
    ],
) -> None:
    """Write a blank quotes sheet to fill in.

    With lists to choose from and notes.

    \b
    Example:
      blankbook quotes template my-quotes.xlsx
    """
    write_workbook("quotes", file)

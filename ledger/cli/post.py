"""`blankbook post`: a sheet of events or a sales export, in one transaction."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ledger.book.shop import read_shop
from ledger.cli.common import DryRun, Json, Yes, reading, say
from ledger.cli.post_sales import SalesWish, post_sales
from ledger.cli.posting_rows import Answers, post_rows, working
from ledger.cli.source_file import Errors, Source, find_source
from ledger.errors import UsageError
from ledger.intake.events_file import read_events
from ledger.intake.resolve_events import EventOptions
from ledger.intake.templates import write_template


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(post)


def post(
    context: typer.Context,
    file: Annotated[
        str | None, typer.Argument(metavar="FILE", help="The sheet, .xlsx or .csv; - for a pasted table.")
    ] = None,
    template: Annotated[
        str, typer.Option("--template", metavar="FILE", help="Write a blank sheet, and do nothing else.")
    ] = "",
    profile: Annotated[
        str,
        typer.Option("--profile", help="A sales export: how to read it, a .toml file or a profile's name."),
    ] = "",
    party: Annotated[
        str, typer.Option("--party", help="A sales export: the shop or marketplace it comes from.")
    ] = "",
    short: Annotated[
        bool, typer.Option("--short", help="Let stock be used before its receipt is entered.")
    ] = False,
    errors: Errors = "",
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Post a sheet of events, or a sales export.

    Opening stock, receipts, charges, jobs, sales, uses, waste, returns, counts and write-downs,
    one row each. The sheet is judged as a whole, in date order: all of it is posted or nothing.

    A sales export is read through a profile. Rows that are no goods are set aside by its rules; an
    export may overlap an earlier one: orders and lines that are in the book are skipped.

    \b
    Examples:
      blankbook post --template events.xlsx
      blankbook post march.csv --dry-run
      blankbook post april-sales.csv --profile sales-one-row-per-item --party "Harbour Fair" --dry-run
    """
    if template:
        write_template("events", Path(template))
        say(f"Wrote {template}. Fill it in, then: blankbook post {template}")
        return
    source = find_source(file, errors)
    if source is None:
        raise UsageError(
            "name the sheet to post, or write a blank one: blankbook post --template events.xlsx"
        )
    answers = Answers(yes, dry_run, json)
    with source.marking():
        if profile:
            post_sales(context, SalesWish(source, profile, party, allow_short=short), answers)
            return
        if party:
            raise UsageError(
                "--party is for a sales export: add --profile. A sheet of events has a party column."
            )
        _post_events(context, source, answers, short=short)


def _post_events(context: typer.Context, source: Source, answers: Answers, *, short: bool) -> None:
    with reading(context) as connection:
        currency = read_shop(connection).currency
    with working(f"Reading {source.name}"):
        file = source.read()
        rows = read_events(file, book_currency=currency)
    for remark in file.remarks:
        say(remark)
    post_rows(context, rows, EventOptions(allow_short=short, source=file.name), answers)

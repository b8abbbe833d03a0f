"""`blankbook duties`: the dated rates that imports pay."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ledger.book.connect import write_tx
from ledger.book.quote_store import find_duties
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
from ledger.intake.duties_file import plan_duties, read_duties_file, save_plan
from ledger.views import quotes as view


def register(app: typer.Typer) -> None:
    """Add the command and those under it."""
    group = typer.Typer(no_args_is_help=False, rich_markup_mode=None)
    group.callback(invoke_without_command=True)(duties)
    group.command()(load)
    group.command()(template)
    app.add_typer(group, name="duties")


def duties(context: typer.Context, json: Json = False) -> None:
    """List the duty rates that estimates use, with their dates and sources.

    Rates are rows you enter: by customs class, origin and day of entry. load adds and amends them.

    \b
    Examples:
      blankbook duties
      blankbook duties load duties.csv --dry-run
    """
    if context.invoked_subcommand is not None:
        if json:
            raise UsageError(
                f"--json before '{context.invoked_subcommand}' belongs to the plain list: write it behind."
            )
        return
    with reading(context) as connection:
        rows = find_duties(connection)
    if json:
        show_json([view.duty_as_data(row) for row in rows])
    elif rows:
        show(view.duties_text(rows, today()))
        say(view.CUSTOMS_CAUTION)
    else:
        say(
            "The book has no duty rates yet. Write a sheet to fill in with: blankbook duties template "
            f"duties.xlsx, then: {typed(context, 'duties load duties.xlsx')}"
        )


def load(
    context: typer.Context,
    file: Annotated[str, typer.Argument(metavar="FILE", help="An .xlsx or .csv: one row is one rate.")],
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Load a duties sheet: add and amend.

    Adds the rates of a sheet and amends those of the same program, class, origin and first day; shows what
    changes, then asks. What a rate was before is kept.

    \b
    Examples:
      blankbook duties load duties.csv --dry-run
      blankbook duties load duties.csv --yes
    """
    said = read_duties_file(Path(file))
    with reading(context) as connection:
        plan = plan_duties(connection, said)
    for remark in said.remarks:
        say(remark)
    (say if json else show)(view.duties_plan_text(said.name, plan))
    is_posted = not plan.is_empty and agree("Load these rates?", yes=yes, dry_run=dry_run)
    if is_posted:
        with writing(context) as connection, write_tx(connection):
            if plan_duties(connection, said) != plan:
                raise Refused(BOOK_CHANGED)
            save_plan(connection, plan, now())
        count = len(plan.loaded)
        say(f"Loaded {count} {'rate' if count == 1 else 'rates'}. Look: {typed(context, 'duties')}")
        say(view.CUSTOMS_CAUTION)
    if json:
        show_json(view.duties_plan_as_data(said.name, plan, posted=is_posted))


def template(
    file: Annotated[
        str, typer.Argument(metavar="FILE", help="The workbook to write; it must not be there yet.")
    ],
) -> None:
    """Write a blank duties sheet to fill in.

    A second sheet shows examples, which are not read.

    \b
    Example:
      blankbook duties template my-duties.xlsx
    """
    write_workbook("duties", file)

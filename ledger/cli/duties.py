"""`blankbook duties`: the dated rates that imports pay."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ledger.book.quote_store import find_duties
from ledger.cli.common import DryRun, Json, Yes, now, reading, say, show, show_json, today, typed
from ledger.cli.sheets import NewWorkbook, SheetJob, add_group, is_listing, load_sheet, write_workbook
from ledger.intake.duties_file import plan_duties, read_duties_file, save_plan
from ledger.views import quotes as view


def register(app: typer.Typer) -> None:
    """Add the command and those under it."""
    add_group(app, "duties", duties, load, template)


def duties(context: typer.Context, json: Json = False) -> None:
    """List the duty rates that estimates use, with their dates and sources.

    Rates are rows you enter: by customs class, origin and day of entry. load adds and amends them.

    \b
    Examples:
      blankbook duties
      blankbook duties load duties.csv --dry-run
    """
    if not is_listing(context, ("--json", json)):
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
    job = SheetJob(
        said=said,
        plan=lambda connection: plan_duties(connection, said),
        text=lambda plan: view.duties_plan_text(said.name, plan),
        as_data=lambda plan, is_posted: view.duties_plan_as_data(said.name, plan, posted=is_posted),
        save=lambda connection, plan: save_plan(connection, plan, now()),
        question="Load these rates?",
    )
    saved = load_sheet(context, job, yes=yes, dry_run=dry_run, json=json)
    if saved is not None:
        count = len(saved.loaded)
        say(f"Loaded {count} {'rate' if count == 1 else 'rates'}. Look: {typed(context, 'duties')}")
        say(view.CUSTOMS_CAUTION)


def template(file: NewWorkbook) -> None:
    """Write a blank duties sheet to fill in.

    A second sheet shows examples, which are not read.

    \b
    Example:
      blankbook duties template my-duties.xlsx
    """
    write_workbook("duties", file)

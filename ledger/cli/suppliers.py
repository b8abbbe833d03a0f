"""`blankbook suppliers`: who the shop deals with."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ledger.book.catalogue_store import find_parties
from ledger.cli.common import DryRun, Json, Yes, reading, say, show, show_json, typed
from ledger.cli.sheets import NewWorkbook, SheetJob, add_group, is_listing, load_sheet, write_workbook
from ledger.intake.suppliers_file import plan_suppliers, read_suppliers_file, save_plan
from ledger.views import catalogue


def register(app: typer.Typer) -> None:
    """Add the command and those under it."""
    add_group(app, "suppliers", suppliers, load, template)


def suppliers(context: typer.Context, json: Json = False) -> None:
    """List who the shop deals with.

    Suppliers, carriers, brokers and others; load adds and amends them.

    \b
    Examples:
      blankbook suppliers
      blankbook suppliers load suppliers.csv --dry-run
    """
    if not is_listing(context, ("--json", json)):
        return
    with reading(context) as connection:
        parties = sorted(find_parties(connection).values(), key=lambda party: party.normal_name())
    if json:
        show_json(catalogue.suppliers_as_data(parties))
    elif parties:
        show(catalogue.suppliers_text(parties))
    else:
        say(
            "The book has no suppliers yet. They are added when goods are received, or from a sheet: "
            "blankbook suppliers template suppliers.xlsx"
        )


def load(
    context: typer.Context,
    file: Annotated[str, typer.Argument(metavar="FILE", help="An .xlsx or .csv: one row for each.")],
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Load a suppliers sheet: add and amend.

    Adds the suppliers of a sheet and amends those the book has; shows what changes, then asks.

    At least the column name; 'suppliers template' writes a sheet with them all. What the sheet has no column
    for stays as it is; an empty cell empties it. Loading the same sheet again changes nothing.

    \b
    Examples:
      blankbook suppliers load suppliers.csv --dry-run
      blankbook suppliers load suppliers.csv --yes
    """
    said = read_suppliers_file(Path(file))
    job = SheetJob(
        said=said,
        plan=lambda connection: plan_suppliers(connection, said),
        text=lambda plan: catalogue.suppliers_plan_text(said.name, plan),
        as_data=lambda plan, is_posted: catalogue.suppliers_plan_as_data(said.name, plan, posted=is_posted),
        save=save_plan,
        question="Load these names?",
    )
    saved = load_sheet(context, job, yes=yes, dry_run=dry_run, json=json)
    if saved is not None:
        count = len(saved.loaded)
        say(f"Loaded {count} {'name' if count == 1 else 'names'}. Look: {typed(context, 'suppliers')}")


def template(file: NewWorkbook) -> None:
    """Write a blank suppliers sheet to fill in.

    With lists to choose from and notes.

    \b
    Example:
      blankbook suppliers template my-suppliers.xlsx
    """
    write_workbook("suppliers", file)

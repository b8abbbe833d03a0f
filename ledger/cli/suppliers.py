"""`blankbook suppliers`: who the shop deals with."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ledger.book.catalogue_store import find_parties
from ledger.book.connect import write_tx
from ledger.cli.common import DryRun, Json, Yes, agree, reading, say, show, show_json, writing
from ledger.cli.items import BOOK_CHANGED, write_workbook
from ledger.errors import Refused, UsageError
from ledger.intake.suppliers_file import plan_suppliers, read_suppliers_file, save_plan
from ledger.views import catalogue


def register(app: typer.Typer) -> None:
    """Add the command and those under it."""
    group = typer.Typer(no_args_is_help=False, rich_markup_mode=None)
    group.callback(invoke_without_command=True)(suppliers)
    group.command()(load)
    group.command()(template)
    app.add_typer(group, name="suppliers")


def suppliers(context: typer.Context, json: Json = False) -> None:
    """List who the shop deals with.

    Suppliers, carriers, brokers and others; load adds and amends them.

    \b
    Examples:
      blankbook suppliers
      blankbook suppliers load suppliers.csv --dry-run
    """
    if context.invoked_subcommand is not None:
        if json:
            raise UsageError(
                f"--json before '{context.invoked_subcommand}' belongs to the plain list: write it behind."
            )
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
    with reading(context) as connection:
        plan = plan_suppliers(connection, said)
    for remark in said.remarks:
        say(remark)
    (say if json else show)(catalogue.suppliers_plan_text(said.name, plan))
    is_posted = not plan.is_empty and agree("Load these names?", yes=yes, dry_run=dry_run)
    if is_posted:
        with writing(context) as connection, write_tx(connection):
            if plan_suppliers(connection, said) != plan:
                raise Refused(BOOK_CHANGED)
            save_plan(connection, plan)
        count = len(plan.loaded)
        say(f"Loaded {count} {'name' if count == 1 else 'names'}. Look: blankbook suppliers")
    if json:
        show_json(catalogue.suppliers_plan_as_data(said.name, plan, posted=is_posted))


def template(
    file: Annotated[
        str, typer.Argument(metavar="FILE", help="The workbook to write; it must not be there yet.")
    ],
) -> None:
    """Write a blank suppliers sheet to fill in.

    With lists to choose from and notes.

    \b
    Example:
      blankbook suppliers template my-suppliers.xlsx
    """
    write_workbook("suppliers", file)

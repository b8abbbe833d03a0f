"""`blankbook boms`: bills of materials, loaded from a sheet, listed, and shown for a job."""

from __future__ import annotations

import datetime
import sqlite3
from pathlib import Path
from typing import Annotated

import typer

from ledger.book import looking
from ledger.book.bill_store import find_bills, find_catalogue
from ledger.book.catalogue_store import find_kinds, find_ladders
from ledger.book.shop import read_shop
from ledger.catalogue.boms import (
    Bill,
    Catalogue,
    bill_warnings,
    blanks_of,
    explode,
    finished_item,
    labour,
    planned_pieces,
    with_finished,
)
from ledger.catalogue.items import Item
from ledger.catalogue.sizes import Ladder
from ledger.cli.common import (
    DryRun,
    Json,
    Yes,
    day_option,
    reading,
    say,
    show,
    show_json,
    today,
    typed,
)
from ledger.cli.sheets import NewWorkbook, SheetJob, add_group, is_listing, load_sheet, write_workbook
from ledger.errors import UsageError
from ledger.exact.words import typed_word
from ledger.intake.boms_file import plan_bills, read_bills_file, save_plan
from ledger.intake.nearest import did_you_mean, fold, quoted
from ledger.views import bills as view
from ledger.views.catalogue import in_order

MOST_PIECES = 1_000_000


def register(app: typer.Typer) -> None:
    """Add the command and those under it."""
    add_group(app, "boms", boms, load, template).command("show")(show_bill)


def boms(context: typer.Context, json: Json = False) -> None:
    """List bills of materials: what a design uses.

    load adds and amends them.

    \b
    Examples:
      blankbook boms
      blankbook boms load bills.csv --dry-run
      blankbook boms show FOX --pieces 12
    """
    if not is_listing(context, ("--json", json)):
        return
    with reading(context) as connection:
        bills = list(find_bills(connection).values())
    if json:
        show_json(view.bills_as_data(bills))
    elif bills:
        show(view.bills_text(bills))
    else:
        say(
            "The book has no bills of materials yet. Write a sheet to fill in with: blankbook boms template "
            f"bills.xlsx, then: {typed(context, 'boms load bills.xlsx')}"
        )


def load(
    context: typer.Context,
    file: Annotated[
        str, typer.Argument(metavar="FILE", help="An .xlsx or .csv: one row is one thing a bill uses.")
    ],
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Load a bills sheet: add and replace.

    Adds the bills of a sheet and replaces those the book has; shows what changes, then asks.

    At least the columns bill, name, way and sku; 'boms template' writes a sheet with them all. The items must
    be in the book first. Jobs posted before keep what they used. Loading the same sheet again changes
    nothing.

    \b
    Examples:
      blankbook boms load bills.csv --dry-run
      blankbook boms load bills.csv --yes
    """
    said = read_bills_file(Path(file))
    job = SheetJob(
        said=said,
        plan=lambda connection: plan_bills(connection, said),
        text=lambda plan: view.bills_plan_text(said.name, plan),
        as_data=lambda plan, is_posted: view.bills_plan_as_data(said.name, plan, posted=is_posted),
        save=save_plan,
        question="Load these bills?",
    )
    saved = load_sheet(context, job, yes=yes, dry_run=dry_run, json=json)
    if saved is not None:
        count = len(saved.loaded)
        look = typed(context, f"boms show {typed_word(saved.loaded[0].code)}")
        say(f"Loaded {count} {'bill' if count == 1 else 'bills'}. Look: {look}")


def template(file: NewWorkbook) -> None:
    """Write a blank bills sheet to fill in.

    With lists to choose from and notes.

    \b
    Example:
      blankbook boms template my-bills.xlsx
    """
    write_workbook("boms", file)


def show_bill(
    context: typer.Context,
    code: Annotated[str, typer.Argument(metavar="BILL", help="The bill's code.")],
    colour: Annotated[str, typer.Option("--colour", help="The blank's colour.")] = "",
    size: Annotated[str, typer.Option("--size", help="The blank's size.")] = "",
    pieces: Annotated[int, typer.Option("--pieces", min=1, max=MOST_PIECES, help="Pieces in the job.")] = 1,
    on: Annotated[
        str | None, typer.Option("--on", metavar="DATE", help="What has expired is told for that day.")
    ] = None,
    json: Json = False,
) -> None:
    """Show what a job uses by its bill.

    With what is on hand and what to be careful about.

    Without --colour and --size it is shown for the bill's first blank.

    \b
    Examples:
      blankbook boms show FOX
      blankbook boms show FOX --colour Black --size L --pieces 24
    """
    day = day_option(on) or today()
    with reading(context) as connection:
        exploded, others = _exploded(connection, code, (colour, size), pieces, day)
    if json:
        show_json(view.bill_as_data(exploded))
        return
    show(view.bill_text(exploded))
    if others and exploded.blank:
        say(
            f"\nShown for {exploded.blank.sku}, one of {others} blanks of this bill: choose with --colour "
            "and --size."
        )


def _exploded(
    connection: sqlite3.Connection, code: str, choice: tuple[str, str], pieces: int, day: datetime.date
) -> tuple[view.ExplodedBill, int]:
    """Return the bill exploded for the blank chosen, and how many blanks it has where none was chosen."""
    catalogue = find_catalogue(connection)
    bill = _bill(catalogue, code)
    items = with_finished(catalogue)
    ladders = find_ladders(connection)
    blank, others = _blank(bill, items, ladders, choice)
    components = explode(bill, blank, pieces, items, catalogue.packs)
    used = [items[component.sku] for component in components]
    shop = read_shop(connection)
    eve = (day - datetime.timedelta(days=1)).isoformat()
    expired = {row.sku for row in looking.expiring(connection, eve)}
    exploded = view.ExplodedBill(
        bill=bill,
        blank=blank,
        finished=finished_item(bill, blank),
        pieces=pieces,
        planned=planned_pieces(bill, pieces),
        components=tuple(components),
        items={item.sku: item for item in used},
        on_hand_milli={row.sku: row.quantity_milli for row in looking.stock(connection)},
        labour=labour(bill, pieces, shop.currency),
        currency=shop.currency,
        warnings=tuple(bill_warnings(bill, blank, expired)),
        cautions=view.bill_cautions(used, blank, find_kinds(connection), ladders),
    )
    return exploded, others


def _bill(catalogue: Catalogue, code: str) -> Bill:
    for bill in catalogue.bills.values():
        if fold(bill.code) == fold(code):
            return bill
    hint = did_you_mean(code, catalogue.bills) if catalogue.bills else "It has none yet."
    raise UsageError(f"the book has no bill {quoted(code)}. {hint}")


def _blank(
    bill: Bill, items: dict[str, Item], ladders: tuple[Ladder, ...], choice: tuple[str, str]
) -> tuple[Item | None, int]:
    """Return the blank chosen, the first where there is a choice left, and then how many there are.

    Raises UsageError where the bill has no such blank.
    """
    colour, size = choice
    blanks = in_order(blanks_of(bill, items), ladders)
    if not bill.blank:
        if colour or size:
            raise UsageError(f"the bill {bill.code} has no blank: leave --colour and --size out.")
        return None, 0
    wanted = [
        item
        for item in blanks
        if (not colour or fold(item.colour) == fold(colour)) and (not size or fold(item.size) == fold(size))
    ]
    if not wanted:
        colours = ", ".join(dict.fromkeys(item.colour for item in blanks if item.colour))
        sizes = ", ".join(dict.fromkeys(item.size for item in blanks if item.size))
        raise UsageError(
            f"{bill.blank} has no {' '.join(filter(None, (colour, size)))}. "
            f"Its colours are {colours or 'none'}; its sizes are {sizes or 'none'}."
        )
    return wanted[0], len(wanted) if len(wanted) > 1 else 0

"""`blankbook quotes`: what suppliers offer."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer

from ledger.book.connect import write_tx
from ledger.book.quote_store import find_homes, find_offers, offer_history, offer_key, withdraw_offer
from ledger.catalogue._words import suggestion
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
from ledger.cli.sheets import NewWorkbook, SheetJob, add_group, is_listing, load_sheet, write_workbook
from ledger.errors import Refused
from ledger.exact.words import typed_word
from ledger.intake.quotes_file import plan_quotes, read_quotes_file, save_plan
from ledger.sourcing.offers import Offer
from ledger.views import quotes as view


def register(app: typer.Typer) -> None:
    """Add the command and those under it."""
    add_group(app, "quotes", quotes, load, withdraw, template)


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
    if not is_listing(context, ("--json", json), ("--history", history)):
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
    if not offers and not json and not states:
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
        homes = find_homes(connection)
    job = SheetJob(
        said=said,
        plan=lambda connection: plan_quotes(connection, said),
        text=lambda plan: view.quotes_plan_text(said.name, plan, homes),
        as_data=lambda plan, is_posted: view.quotes_plan_as_data(said.name, plan, posted=is_posted),
        save=lambda connection, plan: save_plan(connection, plan, now()),
        question="Load these offers?",
    )
    saved = load_sheet(context, job, yes=yes, dry_run=dry_run, json=json)
    if saved is not None:
        count = len(saved.loaded)
        row = saved.loaded[0].rows[0]
        look = typed(context, f"compare --prices {typed_word(row.sku or row.style)}")
        say(f"Loaded {count} {'offer' if count == 1 else 'offers'}. Compare: {look}")


def withdraw(
    context: typer.Context,
    supplier: Annotated[str, typer.Argument(metavar="SUPPLIER", help="Who offered it.")],
    offer: Annotated[str, typer.Argument(metavar="OFFER", help="What the offer is called.")],
    yes: Yes = False,
    dry_run: DryRun = False,
) -> None:
    """Withdraw an offer: it no longer stands and is no longer compared.

    'quotes --history' keeps what it was and when it was withdrawn; loading it again brings it back.

    \b
    Example:
      blankbook quotes withdraw "Tarnwick Blank Goods" Wren --yes
    """
    with reading(context) as connection:
        found = _offer_named(find_offers(connection), supplier, offer)
    say(f"{found.name} is withdrawn; its history stays.")
    if not agree("Withdraw this offer?", yes=yes, dry_run=dry_run, refused="nothing was withdrawn"):
        return
    with writing(context) as connection, write_tx(connection):
        withdraw_offer(connection, _offer_named(find_offers(connection), supplier, offer), now())
    say(f"Withdrawn. See it: {typed(context, 'quotes --history')}")


def _offer_named(known: Mapping[tuple[str, str], Offer], supplier: str, offer: str) -> Offer:
    """Return one offer; Refused where the book has none of that name, with the nearest."""
    found = known.get(offer_key(supplier, offer))
    if found is None:
        names = {each.name for each in known.values()}
        raise Refused(
            f"the book has no offer '{offer}' of '{supplier}'.{suggestion(f'{supplier}, {offer}', names)} See what there "
            "is with: blankbook quotes"
        )
    return found


def template(file: NewWorkbook) -> None:
    """Write a blank quotes sheet to fill in.

    With lists to choose from and notes.

    \b
    Example:
      blankbook quotes template my-quotes.xlsx
    """
    write_workbook("quotes", file)

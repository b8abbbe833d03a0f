"""How stock leaves unsold: used, spoiled, taken, given away, written down."""

from __future__ import annotations

from typing import Annotated

import typer

from ledger.cli.common import DryRun, Json, Yes
from ledger.cli.event_options import (
    Cost,
    Date,
    Note,
    PartyName,
    Quantity,
    Short,
    Sku,
    TypedNumbers,
    Unit,
    event_options,
    event_row,
)
from ledger.cli.posting_rows import Answers, post_rows
from ledger.errors import UsageError


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command()(use)
    app.command()(spoil)
    app.command("own-use")(own_use)
    app.command()(sample)
    app.command()(donate)
    app.command("write-down")(write_down)


def _leave(
    context: typer.Context,
    event: str,
    fields: dict[str, str],
    date: str | None,
    short: bool,
    answers: Answers,
) -> None:
    """Post one row by which stock leaves without being sold."""
    read = TypedNumbers()
    row = event_row(
        event,
        date,
        sku=fields["sku"],
        quantity=read.number("QUANTITY", fields["quantity"]),
        unit=fields["unit"],
        amount=read.number("--amount", fields["amount"]),
        party=fields.get("party", ""),
        reference=fields.get("reference", ""),
        kind=fields.get("kind", ""),
        note=fields["note"],
    )
    read.check()
    post_rows(context, [row], event_options(short), answers)


def use(
    context: typer.Context,
    sku: Sku,
    quantity: Quantity,
    unit: Unit = "",
    amount: Cost = "",
    date: Date = None,
    note: Note = "",
    short: Short = False,
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Use something up outside a job.

    Cleaning a printer, testing, anything that no bill of materials accounts for.

    \b
    Example:
      blankbook use INK-W 12 --unit mL --note "head cleaning"
    """
    fields = {"sku": sku, "quantity": quantity, "unit": unit, "amount": amount, "note": note}
    _leave(context, "use", fields, date, short, Answers(yes, dry_run, json))


def spoil(
    context: typer.Context,
    sku: Sku,
    quantity: Quantity,
    unit: Unit = "",
    amount: Cost = "",
    kind: Annotated[
        str, typer.Option("--kind", metavar="KIND", help="normal or abnormal: a label.")
    ] = "normal",
    date: Date = None,
    note: Note = "",
    short: Short = False,
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Write off what was spoiled outside a job.

    \b
    Example:
      blankbook spoil FOX-BLK-M 1 --note "scorched while folding"
    """
    word = kind.strip().casefold()
    if word not in ("normal", "abnormal"):
        raise UsageError(f"'{kind}': what is spoiled is normal or abnormal.")
    fields = {"sku": sku, "quantity": quantity, "unit": unit, "amount": amount, "kind": word, "note": note}
    _leave(context, "spoil", fields, date, short, Answers(yes, dry_run, json))


def own_use(
    context: typer.Context,
    sku: Sku,
    quantity: Quantity,
    unit: Unit = "",
    amount: Cost = "",
    date: Date = None,
    note: Note = "",
    short: Short = False,
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Take stock for yourself.

    It leaves at cost and is listed for whoever prepares your taxes.

    \b
    Example:
      blankbook own-use TEE-BLK-M 1
    """
    fields = {"sku": sku, "quantity": quantity, "unit": unit, "amount": amount, "note": note}
    _leave(context, "own_use", fields, date, short, Answers(yes, dry_run, json))


def sample(
    context: typer.Context,
    sku: Sku,
    quantity: Quantity,
    unit: Unit = "",
    amount: Cost = "",
    party: PartyName = "",
    date: Date = None,
    note: Note = "",
    short: Short = False,
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Give a sample away.

    \b
    Example:
      blankbook sample FOX-BLK-M 1 --party "Corner Cafe"
    """
    fields = {"sku": sku, "quantity": quantity, "unit": unit, "amount": amount, "party": party, "note": note}
    _leave(context, "sample", fields, date, short, Answers(yes, dry_run, json))


def donate(
    context: typer.Context,
    sku: Sku,
    quantity: Quantity,
    unit: Unit = "",
    amount: Cost = "",
    party: PartyName = "",
    date: Date = None,
    note: Note = "",
    short: Short = False,
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Donate something.

    \b
    Example:
      blankbook donate FOX-BLK-M 6 --party "School fair"
    """
    fields = {"sku": sku, "quantity": quantity, "unit": unit, "amount": amount, "party": party, "note": note}
    _leave(context, "donate", fields, date, short, Answers(yes, dry_run, json))


def write_down(
    context: typer.Context,
    sku: Sku,
    amount: Annotated[str, typer.Argument(metavar="LOSS", help="How much less it is worth in all.")],
    date: Date = None,
    note: Note = "",
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Write stock down.

    By the loss, at most what it stands at. Whether that changes your taxes is for your preparer.

    \b
    Example:
      blankbook write-down TEE-BLK-M 12.00 --note "sun-faded"
    """
    read = TypedNumbers()
    row = event_row("write_down", date, sku=sku, amount=read.number("LOSS", amount), note=note)
    read.check()
    post_rows(context, [row], event_options(), Answers(yes, dry_run, json))

"""How stock leaves unsold: used, spoiled, taken, given away, written down."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated

import typer

from ledger.cli.common import DryRun, Json, Yes
from ledger.cli.event_options import (
    Cost,
    Date,
    Note,
    OwnReference,
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
    app.command("use")(_leaving_command("use", _USE))
    app.command()(spoil)
    app.command("own-use")(_leaving_command("own_use", _OWN_USE))
    app.command("sample")(_leaving_command("sample", _SAMPLE))
    app.command("donate")(_leaving_command("donate", _DONATE))
    app.command("write-down")(write_down)


_USE = """Use something up outside a job.

    Cleaning a printer, testing, anything that no bill of materials accounts for.

    \b
    Example:
      blankbook use INK-FLM-WHT 12 --unit mL --note "head cleaning"
    """

_OWN_USE = """Take stock for yourself.

    It leaves at cost and is listed for whoever prepares your taxes.

    \b
    Example:
      blankbook own-use WREN-BLK-M 1
    """

_SAMPLE = """Give a sample away.

    \b
    Example:
      blankbook sample FOX-BLK-L 1 --party "Copper Kettle Cafe"
    """

_DONATE = """Donate something.

    \b
    Example:
      blankbook donate FOX-BLK-L 1 --party "Larkhill School Fair"
    """


def _leaving_command(event: str, help_text: str) -> Callable[..., None]:
    """Return the command of an event by which stock leaves: they differ only in what they are for."""

    def command(
        context: typer.Context,
        sku: Sku,
        quantity: Quantity,
        unit: Unit = "",
        amount: Cost = "",
        party: PartyName = "",
        date: Date = None,
        reference: OwnReference = "",
        note: Note = "",
        short: Short = False,
        yes: Yes = False,
        dry_run: DryRun = False,
        json: Json = False,
    ) -> None:
        fields = {
            "sku": sku,
            "quantity": quantity,
            "unit": unit,
            "amount": amount,
            "party": party,
            "reference": reference,
            "note": note,
        }
        _leave(context, event, fields, date, short, Answers(yes, dry_run, json))

    command.__doc__ = help_text
    return command


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
    reference: OwnReference = "",
    note: Note = "",
    short: Short = False,
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Write off what was spoiled outside a job.

    \b
    Example:
      blankbook spoil FOX-BLK-L 1 --note "scorched while folding"
    """
    word = kind.strip().casefold()
    if word not in ("normal", "abnormal"):
        raise UsageError(f"'{kind}': what is spoiled is normal or abnormal.")
    fields = {
        "sku": sku,
        "quantity": quantity,
        "unit": unit,
        "amount": amount,
        "kind": word,
        "reference": reference,
        "note": note,
    }
    _leave(context, "spoil", fields, date, short, Answers(yes, dry_run, json))


def write_down(
    context: typer.Context,
    sku: Sku,
    amount: Annotated[str, typer.Argument(metavar="LOSS", help="How much less it is worth in all.")],
    date: Date = None,
    reference: OwnReference = "",
    note: Note = "",
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Write stock down.

    By the loss, at most what it stands at. Whether that changes your taxes is for your preparer.

    \b
    Example:
      blankbook write-down WREN-BLK-M 12.00 --note "sun-faded"
    """
    read = TypedNumbers()
    row = event_row(
        "write_down", date, sku=sku, amount=read.number("LOSS", amount), reference=reference, note=note
    )
    read.check()
    post_rows(context, [row], event_options(), Answers(yes, dry_run, json))

"""What comes back from customers, and what goes back to suppliers."""

from __future__ import annotations

from typing import Annotated

import typer

from ledger.cli.common import DryRun, Json, Yes
from ledger.cli.event_options import (
    Date,
    Note,
    PartyName,
    Quantity,
    Reference,
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
    app.command("take-back")(take_back)
    app.command()(refund)
    app.command("send-back")(send_back)


def take_back(
    context: typer.Context,
    sku: Sku,
    quantity: Quantity,
    amount: Annotated[
        str, typer.Option("--amount", metavar="AMOUNT", help="What the customer got back.")
    ] = "",
    of: Annotated[str, typer.Option("--of", metavar="SALE", help="The sale's number.")] = "",
    unit: Unit = "",
    date: Date = None,
    party: PartyName = "",
    reference: Reference = "",
    note: Note = "",
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Take back what a customer returns.

    It goes back to the lots it came from, at the cost it left with. Without --of or --reference
    it is of the most recent sales of the item.

    \b
    Example:
      blankbook take-back FOX-BLK-L 1 --amount 22.00
    """
    read = TypedNumbers()
    row = event_row(
        "take_back",
        date,
        sku=sku,
        quantity=read.number("QUANTITY", quantity),
        unit=unit,
        amount=read.number("--amount", amount, zero=True),
        party=party,
        reference=reference,
        applies_to=(of,) if of else (),
        note=note,
    )
    read.check()
    post_rows(context, [row], event_options(), Answers(yes, dry_run, json))


def refund(
    context: typer.Context,
    sku: Sku,
    amount: Annotated[str, typer.Argument(metavar="AMOUNT", help="What the customer got back.")],
    date: Date = None,
    party: PartyName = "",
    reference: Reference = "",
    note: Note = "",
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Give money back without goods.

    \b
    Example:
      blankbook refund FOX-BLK-M 5.00 --reference SA-1046
    """
    read = TypedNumbers()
    row = event_row(
        "refund",
        date,
        sku=sku,
        amount=read.number("AMOUNT", amount),
        party=party,
        reference=reference,
        note=note,
    )
    read.check()
    post_rows(context, [row], event_options(), Answers(yes, dry_run, json))


def send_back(
    context: typer.Context,
    sku: Sku,
    quantity: Quantity,
    of: Annotated[str, typer.Option("--of", metavar="RECEIPT", help="The receipt it came with.")] = "",
    lot: Annotated[str, typer.Option("--lot", metavar="LOT", help="The lot, like 12.3.")] = "",
    credit: Annotated[
        str,
        typer.Option("--credit", metavar="AMOUNT", help="What the supplier credits; else its invoice cost."),
    ] = "",
    unit: Unit = "",
    date: Date = None,
    party: PartyName = "",
    reference: Reference = "",
    note: Note = "",
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Send goods back to the supplier.

    They leave the lot they came in, as far as it still holds them, then the oldest.

    \b
    Example:
      blankbook send-back WREN-BLK-M 1 --of 1 --credit 3.83
    """
    if bool(of) == bool(lot):
        raise UsageError("say which receipt or which lot goes back: --of 12, or --lot 12.3.")
    read = TypedNumbers()
    row = event_row(
        "send_back",
        date,
        sku=sku,
        quantity=read.number("QUANTITY", quantity),
        unit=unit,
        amount=read.number("--credit", credit, zero=True),
        party=party,
        reference=reference,
        applies_to=(of,) if of else (),
        lot=lot,
        note=note,
    )
    read.check()
    post_rows(context, [row], event_options(), Answers(yes, dry_run, json))

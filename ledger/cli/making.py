"""`blankbook make` and `blankbook sell`: jobs by their bills, and what is sold."""

from __future__ import annotations

from typing import Annotated

import typer

from ledger.cli import completing
from ledger.cli.common import DryRun, Json, Yes
from ledger.cli.event_options import (
    Amount,
    Currency,
    Date,
    Note,
    PartyName,
    Quantity,
    Rate,
    Reference,
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
    app.command()(make)
    app.command()(sell)


def make(
    context: typer.Context,
    sku: Annotated[
        str, typer.Argument(metavar="SKU", help="The finished item.", autocompletion=completing.skus)
    ],
    pieces: Annotated[str, typer.Argument(metavar="PIECES", help="Good pieces.")],
    normal: Annotated[str, typer.Option("--normal", metavar="N", help="Spoiled as usual.")] = "",
    abnormal: Annotated[str, typer.Option("--abnormal", metavar="N", help="Spoiled unusually.")] = "",
    labour: Annotated[
        str, typer.Option("--labour", metavar="AMOUNT", help="Paid to others, never your own.")
    ] = "",
    date: Date = None,
    reference: Reference = "",
    note: Note = "",
    short: Short = False,
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Make finished items by their bill.

    Every piece, spoiled or not, uses what the bill says. Pieces spoiled as usual are borne by the
    good ones; unusual ones are an expense.

    \b
    Example:
      blankbook make FOX-BLK-M 6 --normal 1 --reference "job 7"
    """
    read = TypedNumbers()
    counts = {
        "good": read.number("PIECES", pieces, zero=True),
        "normal": read.number("--normal", normal, zero=True),
        "abnormal": read.number("--abnormal", abnormal, zero=True),
    }
    paid = read.number("--labour", labour, zero=True)
    read.check()
    job = reference
    rows = [
        event_row("make", date, sku=sku, quantity=count, kind=kind, reference=job, note=note)
        for kind, count in counts.items()
        if count
    ]
    if not rows:
        raise UsageError("a job makes or spoils at least one piece.")
    if paid is not None:
        rows[0] = event_row(
            "make",
            date,
            sku=sku,
            quantity=rows[0].quantity,
            kind=rows[0].kind,
            amount=paid,
            reference=job,
            note=note,
        )
    post_rows(context, rows, event_options(short), Answers(yes, dry_run, json))


def sell(
    context: typer.Context,
    sku: Sku,
    quantity: Quantity,
    amount: Amount = "",
    shipping: Annotated[str, typer.Option("--shipping", metavar="AMOUNT", help="Shipping charged.")] = "",
    fees: Annotated[str, typer.Option("--fees", metavar="AMOUNT", help="What the sale cost in fees.")] = "",
    unit: Unit = "",
    date: Date = None,
    party: PartyName = "",
    reference: Reference = "",
    currency: Currency = "",
    rate: Rate = "",
    note: Note = "",
    short: Short = False,
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Sell something.

    A finished item that has a bill and is not in stock is made that day.

    \b
    Example:
      blankbook sell FOX-BLK-L 1 --amount 24.00 --fees 1.70 --reference SA-1060
    """
    read = TypedNumbers()
    row = event_row(
        "sell",
        date,
        sku=sku,
        quantity=read.number("QUANTITY", quantity),
        unit=unit,
        amount=read.number("--amount", amount, zero=True),
        shipping=read.number("--shipping", shipping, zero=True),
        fees=read.number("--fees", fees, zero=True),
        currency=read.currency(currency),
        rate=rate,
        party=party,
        reference=reference,
        note=note,
    )
    read.check()
    post_rows(context, [row], event_options(short), Answers(yes, dry_run, json))

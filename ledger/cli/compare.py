"""`blankbook compare`: buy here, buy there, or buy the certain part there and top up here."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ledger.cli.common import Json, show, show_json, today
from ledger.cli.compare_prices import (
    Afterwards,
    Asked,
    BillCode,
    Colour,
    Curve,
    Entry,
    Picture,
    Prices,
    Quantity,
    Rate,
    Workbook,
    answer_about_prices,
)
from ledger.errors import UsageError
from ledger.intake.study_file import read_study
from ledger.sourcing.decide import decide
from ledger.sourcing.study import DEFAULT_FUTURES, DEFAULT_SEED
from ledger.views import decision as view
from ledger.views.decision_formulas import explain_text

MOST_FUTURES = 100_000
MOST_SEED = 2**63 - 1


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(compare)


def compare(
    context: typer.Context,
    study: Annotated[
        Path | None,
        typer.Argument(metavar="STUDY.toml", help="The offers, the demand and your limits; see study.toml."),
    ] = None,
    explain: Annotated[
        bool, typer.Option("--explain", help="Also print each formula with its numbers and source.")
    ] = False,
    seed: Annotated[
        int, typer.Option("--seed", min=0, max=MOST_SEED, help="The same seed gives the same figures.")
    ] = DEFAULT_SEED,
    futures: Annotated[
        int,
        typer.Option(
            "--futures", min=2, max=MOST_FUTURES, help="How many futures are drawn; more are surer."
        ),
    ] = DEFAULT_FUTURES,
    prices: Prices = "",
    quantity: Quantity = "",
    colour: Colour = "",
    entry: Entry = "",
    rate: Rate = None,
    curve: Curve = False,
    bill: BillCode = "",
    picture: Picture = "",
    workbook: Workbook = "",
    afterwards: Afterwards = False,
    json: Json = False,
) -> None:
    """Decide where to buy: here, there, or the certain part there and the rest here.

    Says how many of each size, by when, what it saves, ties up and risks, and what would have to
    change for the answer to flip. Needs no book.

    With --prices it asks the book instead: who is cheapest landed for an item or a style at a quantity,
    and why; with --afterwards what orders were expected to cost and cost.

    \b
    Examples:
      blankbook compare study.toml
      blankbook compare study.toml --explain
      blankbook compare study.toml --json --futures 10000
      blankbook compare --prices WREN --quantity 144 --curve
      blankbook compare --prices TRF-FOX --bill FOX --quantity 24
    """
    asked = Asked(
        prices,
        quantity,
        colour,
        entry,
        tuple(rate or ()),
        curve,
        bill,
        picture,
        workbook,
        afterwards=afterwards,
    )
    if asked.is_about_prices:
        answer_about_prices(context, asked, study, json=json)
        return
    if study is None:
        raise UsageError("name a study (STUDY.toml), or ask for landed prices: --prices SKU-or-STYLE.")
    decision = decide(read_study(study, today()), futures, seed)
    if json:
        show_json(view.decision_as_data(decision))
        return
    show(view.decision_text(decision))
    if explain:
        show("")
        show(explain_text(decision))

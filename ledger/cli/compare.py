"""`blankbook compare`: buy here, buy there, or buy the certain part there and top up here."""

from __future__ import annotations

from typing import Annotated

import typer

from ledger.cli.common import DryRun, Json, Yes
from ledger.cli.compare_options import (
    DEFAULT_FUTURES,
    DEFAULT_SEED,
    NO_FILES,
    Afterwards,
    Against,
    Asked,
    BillCode,
    Colour,
    Curve,
    DecisionWish,
    Entry,
    Files,
    Keep,
    KeepWish,
    Picture,
    Prices,
    Quantity,
    Rate,
    Report,
    Template,
    Why,
    Workbook,
    WriteStudy,
)
from ledger.errors import UsageError
from ledger.exact.words import listed

MOST_FUTURES = 100_000
MOST_SEED = 2**63 - 1


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(compare)


def compare(
    context: typer.Context,
    study: Annotated[
        str,
        typer.Argument(
            metavar="[STUDY.toml|SKU|STYLE]",
            help="A study's file; or goods of the book: its quotes and its own history are the study.",
        ),
    ] = "",
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
    template: Template = "",
    write_study: WriteStudy = "",
    against: Against = "",
    prices: Prices = "",
    quantity: Quantity = "",
    colour: Colour = "",
    entry: Entry = "",
    rate: Rate = None,
    curve: Curve = False,
    bill: BillCode = "",
    picture: Picture = "",
    workbook: Workbook = "",
    report: Report = "",
    afterwards: Afterwards = False,
    keep: Keep = False,
    why: Why = "",
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Decide where to buy: here, there, or the certain part there and the rest here.

    Says how many of each size, by when, what it saves, ties up and risks, and what would have to
    change for the answer to flip. A study's file needs no book; for an SKU or a style the book's quotes,
    its own demand and its stock are the study. --template writes a study to begin with.

    With --prices it says who is cheapest landed for an item or a style at a quantity, and why; with
    --afterwards what orders were expected to cost and cost.

    \b
    Examples:
      blankbook compare --template study.toml
      blankbook compare wren-study.toml
      blankbook compare WREN --colour Black
      blankbook compare WREN --colour Black --keep --why "before the summer markets"
      blankbook compare WREN --colour Black --report wren.html
      blankbook compare WREN --colour Black --write-study wren.toml
      blankbook compare wren.toml --against wren-study.toml
      blankbook compare --prices WREN --quantity 144 --curve
      blankbook compare --prices TRF-FOX --bill FOX --quantity 24
    """
    rates = tuple(rate or ())
    # The files are of the decision where there is something to decide on, else of the landed prices.
    files = Files(picture, workbook, report)
    of_prices, of_decision = (NO_FILES, files) if study and not prices else (files, NO_FILES)
    asked = Asked(prices, quantity, colour, entry, rates, curve, bill, of_prices, afterwards=afterwards)
    wish = DecisionWish(
        study,
        colour,
        rates,
        write_study,
        against,
        seed,
        futures,
        explain,
        KeepWish(keep, why.strip(), yes, dry_run),
        of_decision,
    )
    if template:
        _write_template(template, asked, wish, is_json=json)
        return
    _check_together(asked, wish)
    if _is_about_prices(asked, wish):
        from ledger.cli.compare_prices import answer_about_prices  # noqa: PLC0415  (slow to import)

        answer_about_prices(context, asked, wish, json=json)
        return
    if not study:
        raise UsageError(
            "name a study (STUDY.toml), an SKU or a style; or ask for landed prices: --prices SKU-or-STYLE. A study to "
            "begin with: blankbook compare --template study.toml."
        )
    from ledger.cli.compare_decision import answer_where_to_buy  # noqa: PLC0415  (slow to import)

    answer_where_to_buy(context, wish, json=json)


def _write_template(name: str, asked: Asked, wish: DecisionWish, *, is_json: bool) -> None:
    """Write the study that comes along, to be filled in; never over a file.

    Raises UsageError where anything else was typed too, the name is no TOML's, or the file is there already.
    """
    from ledger.cli.compare_template import write_template  # noqa: PLC0415  (only where it is asked for)

    others = [wish.subject, *asked.typed, *wish.typed, *wish.files.typed, *(["--json"] if is_json else [])]
    typed = list(dict.fromkeys(each for each in others if each))
    if typed:
        raise UsageError(f"--template writes a study and does nothing else: leave {listed(typed)} out.")
    write_template(name)


def _check_together(asked: Asked, wish: DecisionWish) -> None:
    """Refuse options that do not go with what else was typed, by their names."""
    if not _is_about_prices(asked, wish):
        return
    if wish.subject:
        kept = () if wish.is_file else ("--colour", "--rate")
        wrong = [option for option in asked.typed if option not in kept]
        what = "a study" if wish.is_file else f"the decision on {wish.subject}"
        raise UsageError(
            f"{what} has its own offers: leave {listed(wrong)} out, or ask for landed prices without it: "
            "--prices SKU-or-STYLE."
        )
    if not asked.what and not asked.afterwards:
        raise UsageError(
            f"{listed(asked.typed)}: say which goods: --prices SKU-or-STYLE for landed prices, or an SKU, a style or a "
            "STUDY.toml for a decision."
        )
    if wish.typed:
        raise UsageError(
            f"{listed(wish.typed)} goes with a decision (compare STUDY.toml, SKU or STYLE), not with "
            f"{'--afterwards' if asked.afterwards else '--prices'}: leave it out."
        )


def _is_about_prices(asked: Asked, wish: DecisionWish) -> bool:
    """Whether landed prices are asked for; a colour and rates also go with goods of the book to decide on."""
    if not wish.subject or wish.is_file:
        return asked.is_about_prices
    return asked != Asked(colour=wish.colour, rates=wish.rates)

"""What the commands of single events share: their options, read one by one, and the row they make."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated

import typer

from ledger.cli import completing
from ledger.cli.common import day_option, today
from ledger.errors import InputErrors, Problem, ValueProblem
from ledger.exact.currencies import read_currency
from ledger.exact.numbers import read_decimal
from ledger.intake.events import EventRow
from ledger.intake.resolve_events import EventOptions

Sku = Annotated[str, typer.Argument(metavar="SKU", help="The item.", autocompletion=completing.skus)]
Quantity = Annotated[str, typer.Argument(metavar="QUANTITY", help="How many.")]
Unit = Annotated[str, typer.Option("--unit", metavar="UNIT", help="A unit or pack; else the base unit.")]
Amount = Annotated[str, typer.Option("--amount", metavar="AMOUNT", help="The item total, without sales tax.")]
Cost = Annotated[str, typer.Option("--amount", metavar="AMOUNT", help="Its cost, where the book knows none.")]
Date = Annotated[str | None, typer.Option("--date", metavar="DATE", help="The day; today if left out.")]
PartyName = Annotated[
    str, typer.Option("--party", metavar="NAME", help="Who it was.", autocompletion=completing.parties)
]
Reference = Annotated[str, typer.Option("--reference", metavar="TEXT", help="The order's or job's number.")]
OwnReference = Annotated[
    str, typer.Option("--reference", metavar="TEXT", help="What tells it from another one just like it.")
]
Note = Annotated[str, typer.Option("--note", metavar="TEXT", help="Anything worth keeping.")]
Currency = Annotated[str, typer.Option("--currency", metavar="CODE", help="The amount's currency.")]
Rate = Annotated[str, typer.Option("--rate", metavar="RATE", help="Book currency per unit of it.")]
Short = Annotated[bool, typer.Option("--short", help="Let it be used before its receipt is entered.")]


class TypedNumbers:
    """Option texts read one by one, so that all that is wrong is said together."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []

    def number(self, name: str, text: str, *, zero: bool = False) -> Fraction | None:
        """Return an option's number, None where it was left out."""
        if not text.strip():
            return None
        try:
            value = read_decimal(text)
        except ValueProblem as problem:
            self.problems.append(Problem(name, str(problem)))
            return None
        if value < 0 or (value == 0 and not zero):
            self.problems.append(Problem(name, f"{text} is not above zero.", "Type it as a positive number."))
            return None
        return value

    def currency(self, text: str) -> str:
        """Return an option's currency, '' where it was left out."""
        try:
            return read_currency(text) if text else ""
        except ValueProblem as problem:
            self.problems.append(Problem("--currency", str(problem)))
            return ""

    def check(self) -> None:
        """Raise InputErrors where something could not be read."""
        if self.problems:
            raise InputErrors("this command", self.problems)


def event_row(event: str, date: str | None, **fields: object) -> EventRow:
    """Return the row of an events sheet that a command stands for."""
    return EventRow(where="this command", date=day_option(date) or today(), event=event, **fields)  # type: ignore[arg-type]


def event_options(short: bool = False) -> EventOptions:
    """Return how a command's row is to be resolved."""
    return EventOptions(allow_short=short, source="this command")

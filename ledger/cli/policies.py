"""`blankbook policies`: what the owner decided, recorded as told."""

from __future__ import annotations

from typing import Annotated

import typer

from ledger.book.connect import write_tx
from ledger.book.shop import POLICIES, policies_for, read_policies, read_shop, record_policy
from ledger.catalogue._words import suggestion
from ledger.cli.common import Json, now, reading, say, show, show_json, writing
from ledger.errors import UsageError
from ledger.views.tables import Table, paragraphs

CAUTION = "They are recorded as told: the program makes no election. Ask a licensed preparer what is yours."


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(policies)


def policies(
    context: typer.Context,
    name: Annotated[str, typer.Argument(metavar="NAME", help="The policy to record.")] = "",
    value: Annotated[str, typer.Argument(metavar="VALUE", help="Its value.")] = "",
    json: Json = False,
) -> None:
    """The policies of the book, and recording one.

    A month closed before keeps the figures it was closed with.

    \b
    Examples:
      blankbook policies
      blankbook policies freight 36
    """
    if name:
        values = POLICIES.get(name.strip().casefold(), ((), ""))[0]
        if not values:
            raise UsageError(
                f"'{name}' is no policy.{suggestion(name, POLICIES)} They are: {', '.join(POLICIES)}."
            )
        word = value.strip().casefold()
        if word not in values:
            said = f"'{value}' is no value of {name}" if value else f"{name} wants a value"
            raise UsageError(f"{said}: {' or '.join(values)}.")
        with writing(context) as connection, write_tx(connection):
            record_policy(connection, name.strip().casefold(), word, now())
        say(f"Recorded: {name.strip().casefold()} is {word}.")
    with reading(context) as connection:
        told = read_policies(connection)
        country = read_shop(connection).country
    shown = {one: POLICIES[one] for one in POLICIES if one in told or one in policies_for(country)}
    if json:
        show_json(
            [
                {"policy": one, "value": told.get(one), "values": list(values), "decides": meaning}
                for one, (values, meaning) in shown.items()
            ]
        )
        return
    table = Table(["policy", "told", "values", "what it decides"])
    for one, (values, meaning) in shown.items():
        table.add(one, told.get(one, f"not told, taken as {values[0]}"), ", ".join(values), meaning)
    show(paragraphs([table.text(), CAUTION]))

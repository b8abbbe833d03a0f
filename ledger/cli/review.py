"""`blankbook review`: what kept decisions expected, what came, and whether they would be made again."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ledger.book.connect import write_tx
from ledger.book.decision_store import KeptDecision, find_decision, find_decisions, tell_order
from ledger.book.since_decision import SinceDecision, since_decision
from ledger.cli.common import Json, check_number, now, reading, say, show, show_json, today, typed, writing
from ledger.cli.compare_options import Rate
from ledger.errors import UsageError
from ledger.exact.words import typed_word


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(review)


def review(
    context: typer.Context,
    number: Annotated[
        int | None, typer.Argument(metavar="[N]", help="One kept decision, whole. Else all of them.", min=1)
    ] = None,
    order: Annotated[
        int | None,
        typer.Option(
            "--order", metavar="M", help="Tell which order decision N led to; the book keeps it.", min=1
        ),
    ] = None,
    rate: Rate = None,
    json: Json = False,
) -> None:
    """Look back at the decisions that were kept: what they expected and what came.

    Each is decided again for its own day and with the stock of that day: with the offers and the history that the
    book has today, or its own study with what really came in the place of what was expected. Keep decisions with: blankbook compare … --keep

    \b
    Examples:
      blankbook compare WREN --colour Black --keep --yes
      blankbook review
      blankbook review 1
    """
    if order is not None:
        if number is None:
            raise UsageError("--order: name the decision that led to it: blankbook review 1 --order 97.")
        check_number(order, "--order")
        check_number(number, "N")
        with writing(context) as connection, write_tx(connection):
            tell_order(connection, number, order, now())
        say(f"Told: decision {number} led to order {order}.")
    with reading(context) as connection:
        every = find_decisions(connection)
        wanted = every if number is None else [find_decision(connection, number)]
        looked: list[tuple[KeptDecision, SinceDecision]] = [
            (kept, since_decision(connection, kept, every, today())) for kept in wanted
        ]
    if not wanted and not json:
        say(f"No decision was kept yet. Keep one: {typed(context, 'compare SKU-or-STYLE --keep')}")
        return
    from ledger.cli.decide_again import looked_back  # noqa: PLC0415  (slow to import)

    reviews = [
        looked_back(context, kept, since, tuple(rate or ()), is_whole=number is not None)
        for kept, since in looked
    ]
    if json:
        from ledger.views.review_data import review_as_data  # noqa: PLC0415  (only for scripts)

        found = [review_as_data(one) for one in reviews]
        show_json(found if number is None else found[0])
        return
    from ledger.views.review import review_text, reviews_text  # noqa: PLC0415  (slow to import)

    show(reviews_text(reviews) if number is None else review_text(reviews[0]))
    if number is not None:
        say(_what_now(context, wanted[0]))
    else:
        say(f"One of them whole: {typed(context, f'review {wanted[0].number}')}")


def _what_now(context: typer.Context, kept: KeptDecision) -> str:
    """Return what to type for today's answer; the book keeps the name of a study's file and not its folder."""
    colour = f" --colour {typed_word(kept.colour)}" if kept.colour and kept.from_book else ""
    where = "" if kept.from_book or Path(kept.subject).is_file() else f", in the folder of {kept.subject}"
    return f"What to order today{where}: {typed(context, f'compare {typed_word(kept.subject)}{colour}')}"

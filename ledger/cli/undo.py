"""`blankbook undo`: the reversing document."""

from __future__ import annotations

from typing import Annotated

import typer

from ledger.book.late_bills import late_shares
from ledger.book.shop import read_shop
from ledger.book.undoing import post_undo, try_undo
from ledger.cli.common import DryRun, Json, Yes, agree, now, say, show, show_json, today, writing
from ledger.cli.posting_rows import say_changes
from ledger.errors import UsageError
from ledger.views import documents
from ledger.views.receipts import late_text


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(undo)


def undo(
    context: typer.Context,
    numbers: Annotated[list[str], typer.Argument(metavar="DOC...", help="The documents' numbers.")],
    why: Annotated[str, typer.Option("--why", help="The reason, kept with the undo.")] = "",
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Undo documents, saying why.

    Nothing is erased: the pair drops out of the costing. A receipt with charges is undone together with them.

    \b
    Example:
      blankbook undo 92 93 --why "entered for another shop"
    """
    wanted = [documents.read_number(text) for text in numbers]
    if not why.strip():
        raise UsageError('say why, for whoever reads the book later: --why "wrong supplier".')
    with writing(context) as connection:
        currency = read_shop(connection).currency
        targets = try_undo(connection, wanted, why.strip(), today(), now())
        preview = documents.undo_preview(targets, currency)
        if json:
            say(preview)
        else:
            show(preview)
        if not agree("Undo this?", yes=yes, dry_run=dry_run):
            if json:
                show_json([{"document": None, "undoes": target.number} for target in targets])
            return
        recorded = post_undo(connection, wanted, why.strip(), today(), now())
        late = [share for number in recorded.numbers for share in late_shares(connection, number)]
    if late and not json:
        show(late_text(late, currency))
    posted = recorded.numbers
    say_changes(recorded, currency)
    if json:
        show_json(
            [{"document": one, "undoes": target.number} for one, target in zip(posted, targets, strict=True)]
        )
    names = ", ".join(map(str, posted))
    say(f"Posted undo {names}. An undo cannot be undone; enter the right document anew.")

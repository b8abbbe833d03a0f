"""`blankbook prove`: every invariant, on the whole book."""

from __future__ import annotations

import typer

from ledger.book import proving
from ledger.cli.common import Json, reading, show, show_json
from ledger.cli.waiting import working


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(prove)


def prove(context: typer.Context, json: Json = False) -> None:
    """Prove that the book is whole.

    Balances, lots, costs by a second engine, the file itself.

    \b
    Example:
      blankbook prove
    """
    checked: list[str] = []
    with reading(context) as connection, proving.one_state(connection) as state, working("Proving") as tell:

        def progress(what: str) -> None:
            checked.append(what)
            tell(what)

        proof = proving.prove(state, progress)
    if json:
        show_json(
            {
                "ok": proof.is_whole,
                "findings": [
                    {"invariant": one.invariant, "what": one.what, "where": one.where}
                    for one in proof.findings
                ],
                "documents": proof.documents,
                "lots": proof.lots,
                "months": proof.months,
            }
        )
    elif proof.is_whole:
        show(
            f"The book is whole: {len(checked)} checks over {proof.documents} documents, {proof.legs} movements, "
            f"{proof.lots} lots and {proof.months} {'month' if proof.months == 1 else 'months'} found nothing wrong."
        )
        show("\n".join(f"  {what}: holds" for what in checked))
    else:
        count = len(proof.findings)
        show(f"{count} {'thing is' if count == 1 else 'things are'} wrong with this book:")
        show("\n".join(f"  {one.where}: {one.what} (invariant {one.invariant})" for one in proof.findings))
        if any("minor unit" in one.what for one in proof.findings):
            show("A minor unit is the smallest amount of the book's currency: a cent, where it has cents.")
        show("Keep the file as it is, and restore the latest backup that proves whole.")
    if not proof.is_whole:
        raise typer.Exit(1)

"""`blankbook trace`: where a lot went, what stands behind a document, who holds something of a bad lot."""

from __future__ import annotations

import sqlite3
from typing import Annotated

import typer

from ledger.book import looking, recalling, tracing
from ledger.cli.common import Json, reading, say, show, show_json
from ledger.costing.shelf import LotId
from ledger.errors import Refused
from ledger.views import traces as view
from ledger.views.documents import read_number

USED_UP = "use"


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(trace)


def trace(
    context: typer.Context,
    what: Annotated[
        str, typer.Argument(metavar="LOT-or-DOC", help="A lot like 12.3, or a document's number.")
    ],
    recall: Annotated[
        bool, typer.Option("--recall", help="Only who holds something of the lot, and what is on hand.")
    ] = False,
    json: Json = False,
) -> None:
    """Show where a lot went, or what stands behind a document.

    A lot is followed through jobs, finished lots and sales; a sale back to the suppliers' invoices. With
    --recall: every order that holds something of a bad lot (of a document: of all the lots it made).

    \b
    Examples:
      blankbook trace 43.2
      blankbook trace 43.2 --recall
      blankbook trace "sale 45"
    """
    lot = view.read_lot(what)
    number = read_number(what) if lot is None else lot[0]
    with reading(context) as connection:
        if recall:
            found = recalling.recall(tracing.ahead(connection, _bad_lots(connection, lot, number)))
            _print_recall(found, json=json)
        elif lot is not None:
            _print_lot(connection, lot, json=json)
        else:
            _print_document(connection, number, json=json)


def _bad_lots(connection: sqlite3.Connection, lot: LotId | None, number: int) -> list[LotId]:
    """Return the lot named, or all the lots of the document named."""
    if lot is not None:
        return [lot]
    document = looking.document(connection, number)
    lots = tracing.lots_made(connection, number)
    if not lots:
        undone = f"; it was undone by document {document.undone_by}" if document.undone_by else ""
        raise Refused(
            f"{document.event} {number} made no lot to recall{undone}. Name a lot, like 12.3. "
            "See: blankbook lots --all"
        )
    return lots


def _print_recall(found: recalling.Recall, *, json: bool) -> None:
    if json:
        show_json(view.recall_as_data(found))
        return
    show(view.recall_text(found))
    if any(each.event == USED_UP for each in found.elsewhere):
        say("\nWhat was used outside of jobs cannot be followed to a customer.")


def _print_lot(connection: sqlite3.Connection, lot: LotId, *, json: bool) -> None:
    ahead = tracing.ahead(connection, [lot])
    behind = tracing.behind(connection, {lot: ahead.seeds[0].received_milli})
    if json:
        show_json(view.lot_trace_as_data(ahead, behind))
    else:
        show(view.lot_trace_text(ahead, behind))


def _print_document(connection: sqlite3.Connection, number: int, *, json: bool) -> None:
    traced = view.DocumentTrace(
        document=looking.document(connection, number),
        behind=tuple(tracing.behind(connection, tracing.lots_taken(connection, number))),
        ahead=tuple(tracing.ahead(connection, [lot]) for lot in tracing.lots_made(connection, number)),
    )
    if json:
        show_json(view.document_trace_as_data(traced))
    else:
        show(view.document_trace_text(traced))

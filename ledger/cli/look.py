"""`blankbook show` and `blankbook history`: one document's double entry, and what happened."""

from __future__ import annotations

from typing import Annotated

import typer

from ledger.book import looking
from ledger.book.catalogue_store import find_items
from ledger.book.shop import read_shop
from ledger.book.unit_costs import unit_costs
from ledger.cli import completing
from ledger.cli.common import Json, reading, say, show, show_json, typed
from ledger.cli.drawing import picture_path
from ledger.errors import Refused, UsageError
from ledger.views import documents as view


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("show")(show_document)
    app.command()(history)


def show_document(
    context: typer.Context,
    number: Annotated[str, typer.Argument(metavar="DOC", help="The document's number.")],
    json: Json = False,
) -> None:
    """Show one document's double entry.

    Both of its sums, of amounts and of quantities, are zero.

    \b
    Example:
      blankbook show 12
    """
    wanted = view.read_number(number)
    with reading(context) as connection:
        currency = read_shop(connection).currency
        document = looking.document(connection, wanted)
        legs = looking.legs(connection, wanted)
    if json:
        show_json(view.document_as_data(document, legs, currency))
    else:
        show(view.document_text(document, legs, currency))
        if document.event == "order":
            say(f"Its lines, shipments and days: {typed(context, f'order {wanted}')}")


def history(
    context: typer.Context,
    sku: Annotated[
        str | None,
        typer.Argument(
            metavar="SKU", help="One item; all documents if left out.", autocompletion=completing.skus
        ),
    ] = None,
    picture: Annotated[
        str,
        typer.Option(
            "--picture", metavar="FILE", help="Draw what the item cost a piece over time, as .png or .svg."
        ),
    ] = "",
    json: Json = False,
) -> None:
    """Show what happened.

    To one item by date, with a running balance; or every document, in the order of entry.

    \b
    Examples:
      blankbook history
      blankbook history WREN-BLK-M
      blankbook history WREN-BLK-M --picture cost.png
    """
    if picture:
        _draw_history(context, sku, picture)
    with reading(context) as connection:
        currency = read_shop(connection).currency
        if sku is None:
            rows = looking.documents(connection)
            if json:
                show_json(view.documents_as_data(rows, currency))
            else:
                show(view.documents_text(rows, currency))
            return
        moves = looking.history(connection, sku)
        unit = find_items(connection, [sku])[sku].base_unit
    if json:
        show_json(view.history_as_data(moves, currency))
    else:
        show(view.history_text(sku, unit, moves, currency))


def _draw_history(context: typer.Context, sku: str | None, picture: str) -> None:
    """Draw what an item cost a piece over time, before its list is shown.

    Raises UsageError without an item or where the file cannot be written, Refused where it never came in.
    """
    if sku is None:
        raise UsageError(
            "--picture draws one item: name its SKU, as in: blankbook history WREN-BLK-M --picture cost.png"
        )
    path = picture_path(picture)
    with reading(context) as connection:
        costs = unit_costs(connection, sku, read_shop(connection).currency)
    if not costs.came_in and not costs.went_out:
        raise Refused(f"{sku} never came in, so there is nothing to draw.")
    from ledger.views.pictures import save  # noqa: PLC0415  (only where something is drawn)
    from ledger.views.shop_pictures import unit_cost_chart, unit_cost_figure  # noqa: PLC0415

    save(unit_cost_figure(unit_cost_chart(costs)), path)
    say(f"Wrote {picture}.")

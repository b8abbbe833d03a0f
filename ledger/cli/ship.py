"""`blankbook ship`: part of an order is handed to the carrier."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass, replace
from typing import Annotated

import typer

from ledger.book.order_store import find_order
from ledger.book.orders import ARRIVAL
from ledger.book.orders import Order as BookOrder
from ledger.book.recosting import Recorded
from ledger.book.ship_parts import ShipWish
from ledger.book.shipping import ShipRequest
from ledger.book.shipping import ship as post_shipment
from ledger.book.shop import read_shop
from ledger.cli.common import (
    DryRun,
    Json,
    Yes,
    agree,
    day_option,
    now,
    say,
    show,
    show_json,
    today,
    typed,
    writing,
)
from ledger.cli.document_options import Charges, InvoiceNumber, InvoiceRate, TaxPaid
from ledger.cli.layout_choice import ProposedOptions
from ledger.cli.layout_options import Accept, As, Comma, Order, Profile
from ledger.cli.posting_rows import say_changes
from ledger.cli.shipment_file import FileOptions, ReadShipment, read_for_order
from ledger.cli.shipment_options import (
    Rates,
    amounts_of,
    gathered,
    read_charges,
    read_tax_paid,
    read_words,
)
from ledger.cli.source_file import Errors, find_source, marking
from ledger.cli.waiting import working
from ledger.errors import Problem, UsageError
from ledger.exact.currencies import read_currency
from ledger.intake.charge_words import ChargeWords
from ledger.intake.order_lines import minor_amount, read_line
from ledger.views import documents, shipments


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(ship)


def ship(
    context: typer.Context,
    number: Annotated[str, typer.Argument(metavar="ORDER", help="The order's number.")],
    file: Annotated[
        str | None, typer.Argument(metavar="[FILE]", help="The supplier's packing list or invoice.")
    ] = None,
    date: Annotated[
        str | None, typer.Option("--date", help="The day it was handed to the carrier; else today.")
    ] = None,
    on_board: Annotated[
        str | None, typer.Option("--on-board", metavar="DATE", help="The day it was loaded on board.")
    ] = None,
    line: Annotated[
        list[str] | None,
        typer.Option("--line", help='Only this: "TEE-BLK-M 98"; by the invoice "TEE-BLK-M 98 at 2.25".'),
    ] = None,
    reference: InvoiceNumber = "",
    currency: Annotated[str, typer.Option("--currency", help="The invoice's, where not the order's.")] = "",
    rate: InvoiceRate = "",
    charge: Charges = None,
    tax_paid: TaxPaid = "",
    another_box: Annotated[
        bool, typer.Option("--another-box", help="Another part of an invoice that is there already.")
    ] = False,
    profile: Profile = None,
    errors: Errors = "",
    as_: As = None,
    date_order: Order = "",
    decimal_comma: Comma = None,
    accept: Accept = False,
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Ship an order, or a part of it.

    All that is not shipped yet, unless --line or a FILE says what. From the day the risk passes by the order's
    terms the goods are the shop's: under way at invoice value, at that day's rate, in the month's closing
    stock. Charges can come with it, or later: blankbook charge WORDS --on SHIPMENT.

    \b
    Examples:
      blankbook order --line "WREN-BLK-M 1 case at 276.00" --party "Tarnwick Blank Goods" --terms "shipping point" --yes
      blankbook ship 97 --date 2026-04-02 --reference TW-77
      blankbook ship 97 --line "WREN-BLK-M 48" --date 2026-04-02
    """
    if file and line:
        raise UsageError("name a FILE or --line, not both.")
    layout = ProposedOptions(
        corrections=tuple(as_ or ()),
        date_order=date_order,
        decimal_comma=decimal_comma,
        currency=currency,
        accept=accept,
        yes=yes,
        dry_run=dry_run,
        json=json,
    )
    source = find_source(file, errors)
    charges = read_charges(charge or [])
    with marking(source), writing(context) as connection:
        order = find_order(connection, documents.read_number(number))
        told = Shipping(
            order=order,
            date=date,
            on_board=on_board,
            reference=reference,
            currency=read_currency(currency) if currency else order.currency,
            rate=rate,
            charges=charges,
            tax_paid=read_tax_paid(tax_paid),
            another_box=another_box,
        )
        told.refuse_what_changes_nothing()
        if source is None:
            with gathered("the lines") as problems:
                wishes = typed_wishes(connection, tuple(line or ()), told.currency, problems)
                request = told.request(connection, wishes) if wishes or not problems else None
                if problems and request is not None:
                    # What is wrong with the other lines is said in one go.
                    post_shipment(connection, request, today(), now(), keep=False)
            if request is not None:
                _finish(context, connection, request, layout)
            return
        layout = replace(layout, party=order.party, order_currency=order.currency)
        options = FileOptions(source=source, profile=profile, layout=layout, reference=reference)
        with read_for_order(context, connection, options) as read:
            request = told.request(connection, file_wishes(read), read)
            for remark in read.remarks:
                say(remark)
            read.is_posted = _finish(context, connection, request, layout)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shipping:
    """A shipment as the command line tells it, without its lines."""

    order: BookOrder
    date: str | None
    on_board: str | None
    reference: str
    currency: str
    rate: str
    charges: tuple[ChargeWords, ...]
    tax_paid: str
    another_box: bool

    def refuse_what_changes_nothing(self) -> None:
        """Raise UsageError for what has no effect on a shipment that is information only."""
        if self.order.title_passes != ARRIVAL:
            return
        given = [name for name, told in (("--rate", self.rate), ("--tax-paid", self.tax_paid)) if told]
        if given:
            raise UsageError(
                f"the goods of order {self.order.number} are the shop's only when they arrive "
                f"({self.order.terms}): until then the shipment is information only. Leave {' and '.join(given)} "
                f"out here and give it then: blankbook receive --order {self.order.number}"
            )

    def request(
        self, connection: sqlite3.Connection, wishes: tuple[ShipWish, ...], read: ReadShipment | None = None
    ) -> ShipRequest:
        """Return the shipment to be posted, of typed lines or of a file that was read."""
        shipped_on = day_option(self.date) or (read and read.draft.invoice_date) or today()
        on_board = day_option(self.on_board)
        currency = read.request.currency if read and _has_prices(read) else self.currency
        book_currency = read_shop(connection).currency
        rates = Rates(book_currency, currency, self.rate, on_board or shipped_on)
        is_the_shops = self.order.title_passes != ARRIVAL
        used = rates.of(currency) if is_the_shops else None
        return ShipRequest(
            order=self.order.number,
            shipped_on=shipped_on,
            on_board=on_board,
            wishes=wishes,
            reference=self.reference or (read.draft.reference if read else ""),
            currency=currency,
            rate=used.text if used else "1",
            rate_source=used.source if used else "",
            charges=rates.wishes((*self.charges, *(read.charges if read else ()))),
            tax_paid=self.tax_paid,
            another_box=self.another_box,
            source_name=read.draft.source_name if read else "",
        )


def typed_wishes(
    connection: sqlite3.Connection, texts: tuple[str, ...], currency: str, problems: list[Problem]
) -> tuple[ShipWish, ...]:
    """Return what typed lines say is shipped; what is wrong with the others is added to ``problems``."""
    settled = amounts_of(connection).settle(read_words(texts, "--line", read_line, problems), problems)
    return tuple(
        ShipWish(
            sku=words.sku,
            quantity_milli=milli,
            amount_foreign=minor_amount(words, currency),
            where=words.where,
        )
        for words, milli in settled
    )


def _has_prices(read: ReadShipment) -> bool:
    return any(not line.provisional for line in read.request.lines)


def file_wishes(read: ReadShipment) -> tuple[ShipWish, ...]:
    """Return what a file says is shipped; where it has prices, at those."""
    return tuple(
        ShipWish(
            sku=line.item.sku,
            quantity_milli=sent.quantity_milli,
            amount_foreign=None if line.provisional else sent.net_foreign,
            weight_mg=sent.weight_mg,
            volume_mm3=sent.volume_mm3,
            where=line.place,
        )
        for line, sent in ((line, line.invoice.as_sent()) for line in read.request.lines)
    )


def _finish(
    context: typer.Context, connection: sqlite3.Connection, request: ShipRequest, layout: ProposedOptions
) -> bool:
    """Show what the shipment would be, ask, post it; return whether it was posted."""
    currency = read_shop(connection).currency
    posted = post_shipment(connection, request, today(), now(), keep=False)
    (say if layout.json else show)(shipments.shipment_text(posted, currency))
    if not agree("Post this shipment?", yes=layout.yes, dry_run=layout.dry_run):
        if layout.json:
            show_json(shipments.shipment_as_data(posted, currency, kept=False))
        return False
    with working("Posting"):
        kept = post_shipment(connection, request, today(), now(), keep=True)
    numbers = tuple(one.number for one in kept.documents)
    say_changes(Recorded(numbers, kept.changes), currency)
    if layout.json:
        show_json(shipments.shipment_as_data(kept, currency, kept=True))
    charges = f", charges {', '.join(map(str, numbers[1:]))}" if numbers[1:] else ""
    look = "stock --under-way" if kept.is_the_shops else f"order {request.order}"
    say(
        f"Posted ship {numbers[0]}{charges}. Look: {typed(context, look)}. When it arrives: "
        f"{typed(context, f'receive --order {request.order}')}. Take it back: "
        f'{typed(context, "undo")} {" ".join(map(str, reversed(numbers)))} --why "…"'
    )
    return True

"""`blankbook receive --order`: what was shipped arrives, whole or in part, with more or less than was sent."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, replace

import typer

from ledger.book.arrival_parts import ArrivalWishes, ArriveWish, ExtraWish, LossWish
from ledger.book.arriving import ArrivalRequest, PostedArrival, arrive
from ledger.book.order_store import find_order
from ledger.book.orders import ARRIVAL, Order
from ledger.book.recosting import Recorded
from ledger.book.ship_parts import ShipWish
from ledger.book.shipping import ShipRequest
from ledger.book.shop import read_shop
from ledger.cli.common import agree, day_option, now, say, show, show_json, today, typed, writing
from ledger.cli.layout_choice import ProposedOptions
from ledger.cli.posting_rows import say_changes
from ledger.cli.shipment_file import FileOptions, ReadShipment, read_for_order
from ledger.cli.shipment_options import (
    Amounts,
    Rates,
    amounts_of,
    gathered,
    read_charges,
    read_tax_paid,
    read_treatment,
    read_words,
)
from ledger.cli.source_file import find_source, marking
from ledger.cli.waiting import working
from ledger.errors import InputErrors, Problem, UsageError, ValueProblem
from ledger.exact.currencies import read_currency
from ledger.exact.money import read_money
from ledger.intake.order_lines import LineWords, minor_amount, read_line, read_loss
from ledger.views import documents, shipments


@dataclass(frozen=True, slots=True, kw_only=True)
class ArrivalOptions:
    """An arrival as the command line tells it."""

    order: str
    file: str | None
    profile: str | None
    lines: tuple[str, ...]
    missing_lines: tuple[str, ...]
    damaged_lines: tuple[str, ...]
    extras: tuple[str, ...]
    lost: str
    missing: str
    damaged: str
    credit: str
    shipment: str
    shipped_on: str
    on_board: str
    reference: str
    date: str | None
    rate: str
    charges: tuple[str, ...]
    tax_paid: str
    another_box: bool
    errors: str
    layout: ProposedOptions


def receive_order(context: typer.Context, told: ArrivalOptions) -> None:
    """Show what arrives of an order, ask, post it, and say what is in the book now."""
    if told.file and told.lines:
        raise UsageError("name a FILE or --line, not both.")
    if told.lost and (told.file or told.lines or told.missing_lines or told.damaged_lines):
        raise UsageError("--lost says that nothing arrived: leave the FILE and the lines out.")
    source = find_source(told.file, told.errors)
    with marking(source), writing(context) as connection:
        order = find_order(connection, documents.read_number(told.order))
        if source is None:
            _finish(context, connection, _request(connection, order, told, None), told.layout)
            return
        options = FileOptions(
            source=source,
            profile=told.profile,
            layout=replace(told.layout, party=order.party, order_currency=_currency(order, told)),
            reference=told.reference,
            missing_as=read_treatment(told.missing),
            damaged_as=read_treatment(told.damaged),
        )
        with read_for_order(context, connection, options) as read:
            for remark in read.remarks:
                say(remark)
            request = _request(connection, order, told, read)
            read.is_posted = _finish(context, connection, request, told.layout)


def _request(
    connection: sqlite3.Connection, order: Order, told: ArrivalOptions, read: ReadShipment | None
) -> ArrivalRequest:
    """Return the arrival to be posted. Raises InputErrors with everything wrong in the words."""
    arrived = day_option(told.date) or today()
    book_currency, currency = read_shop(connection).currency, _currency(order, told)
    rates = Rates(book_currency, currency, told.rate, arrived)
    with gathered("this arrival") as problems:
        wishes = _wishes(connection, (order, currency), told, read, problems)
        request = _arrival((order, told, read), rates, wishes)
        if problems and (wishes.came or not told.lines):
            # What is wrong with the other lines is said in one go.
            arrive(connection, request, today(), now(), keep=False)
    return request


def _currency(order: Order, told: ArrivalOptions) -> str:
    """Return the currency of what arrives: the shipments' where they have one, else the order's."""
    if told.shipped_on:
        return order.currency
    waiting = {
        one.currency
        for one in order.shipments
        if not one.is_arrived and (not told.shipment or one.document == documents.read_number(told.shipment))
    }
    return waiting.pop() if len(waiting) == 1 else order.currency


def _arrival(
    what: tuple[Order, ArrivalOptions, ReadShipment | None], rates: Rates, wishes: ArrivalWishes
) -> ArrivalRequest:
    """Return an arrival of what came, as the command line and a file tell it."""
    order, told, read = what
    charges = (*read_charges(told.charges), *(read.charges if read else ()))
    return ArrivalRequest(
        order=order.number,
        on=rates.on,
        wishes=wishes,
        rate_of=rates.of,
        ship=_ship(order, told, rates.book_currency, wishes) if told.shipped_on else None,
        shipment=documents.read_number(told.shipment) if told.shipment else None,
        credit_foreign=_credit(told.credit, rates.currency),
        credit_currency=rates.currency,
        reference=told.reference or (read.draft.reference if read else ""),
        charges=rates.wishes(charges),
        tax_paid=read_tax_paid(told.tax_paid),
        another_box=told.another_box,
        source_name=read.draft.source_name if read else "",
    )


def _wishes(
    connection: sqlite3.Connection,
    of: tuple[Order, str],
    told: ArrivalOptions,
    read: ReadShipment | None,
    problems: list[Problem],
) -> ArrivalWishes:
    """Return what came and what did not; what is wrong in the words is added to ``problems``."""
    (order, currency), amounts = of, amounts_of(connection)
    missing, damaged = read_treatment(told.missing), read_treatment(told.damaged)
    losses = [
        LossWish(
            sku=words.sku, quantity_milli=milli, treatment=words.treatment, is_missing=gone, where=words.where
        )
        for texts, option, default, gone in (
            (told.missing_lines, "--missing-line", missing, True),
            (told.damaged_lines, "--damaged-line", damaged, False),
        )
        for words, milli in amounts.settle(
            read_words(texts, option, _loss_reader(default), problems), problems
        )
    ]
    if read is None:
        came = _typed(amounts, told.lines, problems)
    else:
        problems += _another_currency(order, read, currency)
        came = _of_file(read, losses, takes_prices=read.request.currency == currency)
    extras = amounts.settle(read_words(told.extras, "--extra", read_line, problems), problems)
    return ArrivalWishes(
        came=tuple(came),
        losses=tuple(losses),
        extras=tuple(
            ExtraWish(
                item=amounts.items[words.sku],
                quantity_milli=milli,
                amount_foreign=minor_amount(words, currency),
                where=words.where,
            )
            for words, milli in extras
        ),
        lost=read_treatment(told.lost) if told.lost else "",
    )


def _loss_reader(default: str) -> Callable[[str, str], LineWords]:
    def read(text: str, where: str) -> LineWords:
        return read_loss(text, where, default)

    return read


def _typed(amounts: Amounts, texts: tuple[str, ...], problems: list[Problem]) -> list[ArriveWish]:
    """Return what typed lines say came; a price has no place on goods that were shipped at one."""
    lines = read_words(texts, "--line", read_line, problems)
    problems += [
        Problem(
            line.where,
            f"{line.sku} arrives at the price it was shipped at.",
            "Leave the price out; what came beyond the order has one: --extra.",
        )
        for line in lines
        if line.net is not None
    ]
    return [
        ArriveWish(sku=words.sku, quantity_milli=milli, where=words.where)
        for words, milli in amounts.settle(lines, problems)
    ]


def _another_currency(order: Order, read: ReadShipment, currency: str) -> list[Problem]:
    """Return what is wrong with prices in another currency, of goods that are bought at them on arrival."""
    own = read.request.currency
    if (
        own == currency
        or order.title_passes != ARRIVAL
        or all(line.provisional for line in read.request.lines)
    ):
        return []
    return [
        Problem(
            read.draft.source_name,
            f"its prices are in {own}, and what was shipped is in {currency}.",
            f"Undo the shipment and ship it by this file, or give a file in {currency}.",
        )
    ]


def _of_file(read: ReadShipment, losses: list[LossWish], *, takes_prices: bool) -> list[ArriveWish]:
    """Return what a file says came, and add what it says is missing or damaged to ``losses``.

    Its missing pieces are of its quantity. What it says is lost is told apart no further: as missing.
    """
    came = []
    for line in read.request.lines:
        invoice = line.invoice
        lost = (
            ("claimed", invoice.claimed_milli),
            ("normal", invoice.normal_milli),
            ("expense", invoice.expensed_milli),
        )
        losses += [
            LossWish(
                sku=line.item.sku,
                quantity_milli=milli,
                treatment=treatment,
                is_missing=True,
                where=line.place,
            )
            for treatment, milli in lost
            if milli
        ]
        came.append(
            ArriveWish(
                sku=line.item.sku,
                quantity_milli=invoice.good_milli,
                amount_foreign=invoice.net_foreign if takes_prices and not line.provisional else None,
                where=line.place,
            )
        )
    return came


def _ship(order: Order, told: ArrivalOptions, book_currency: str, wishes: ArrivalWishes) -> ShipRequest:
    """Return the shipment that is posted with the arrival: what came and is missing, as far as it is ordered."""
    shipped_on, on_board = day_option(told.shipped_on) or today(), day_option(told.on_board)
    rates = Rates(book_currency, order.currency, told.rate, on_board or shipped_on)
    is_the_shops = order.title_passes != ARRIVAL
    used = rates.of(order.currency) if is_the_shops else None
    sent: dict[str, int] = {}
    if wishes.came:
        for one in wishes.came:
            sent[one.sku] = sent.get(one.sku, 0) + one.quantity_milli
        for loss in wishes.losses:
            if loss.is_missing:
                sent[loss.sku] = sent.get(loss.sku, 0) + loss.quantity_milli
    left: dict[str, int] = {}
    for line in order.lines:
        left[line.sku] = left.get(line.sku, 0) + order.to_ship_milli(line)
    parts = tuple(
        ShipWish(sku=sku, quantity_milli=min(milli, left[sku]))
        for sku, milli in sent.items()
        if left.get(sku)
    )
    return ShipRequest(
        order=order.number,
        shipped_on=shipped_on,
        on_board=on_board,
        wishes=parts,
        reference=told.reference,
        currency=order.currency,
        rate=used.text if used else "1",
        rate_source=used.source if used else "",
        tax_paid=read_tax_paid(told.tax_paid),
        another_box=told.another_box,
    )


def _credit(text: str, currency: str) -> int | None:
    """Return the credit in minor units of the order's currency; '58.80 CNY' names it, for the reader."""
    if not text:
        return None
    number, _, named = text.strip().partition(" ")
    try:
        if named and read_currency(named) != currency:
            raise ValueProblem(  # noqa: TRY301
                f"the order is in {currency}, so is its credit: give it in {currency}."
            )
        amount = read_money(number, currency)
        if amount < 0:
            raise ValueProblem(f"the credit {number} is below zero; what is credited is typed positive.")  # noqa: TRY301
    except ValueProblem as problem:
        raise InputErrors("this arrival", [Problem("--credit", str(problem))]) from problem
    return amount


def _finish(
    context: typer.Context, connection: sqlite3.Connection, request: ArrivalRequest, layout: ProposedOptions
) -> bool:
    """Show what the arrival would be, ask, post it; return whether it was posted."""
    posted = arrive(connection, request, today(), now(), keep=False)
    (say if layout.json else show)(shipments.arrival_text(posted))
    if not agree("Post this arrival?", yes=layout.yes, dry_run=layout.dry_run):
        if layout.json:
            show_json(shipments.arrival_as_data(posted, kept=False))
        return False
    with working("Posting"):
        kept = arrive(connection, request, today(), now(), keep=True)
    numbers = tuple(one.number for one in kept.documents)
    say_changes(Recorded(numbers, kept.changes), kept.shop.currency)
    if layout.json:
        show_json(shipments.arrival_as_data(kept, kept=True))
    say(_posted(context, kept, numbers, find_order(connection, request.order).state))
    return True


def _posted(context: typer.Context, kept: PostedArrival, numbers: tuple[int, ...], state: str) -> str:
    receipts = ", ".join(str(one.number) for one in kept.receipts)
    noun = "receipt" if len(kept.receipts) == 1 else "receipts"
    shipped = f"ship {kept.shipment.document.number}, " if kept.shipment else ""
    others = [str(one.number) for one in kept.charge_documents]
    if kept.shipment:
        others = [*(str(one.number) for one in kept.shipment.charge_documents), *others]
    charges = f", charges {', '.join(others)}" if others else ""
    lots = "1 lot" if len(kept.lots) == 1 else f"{len(kept.lots)} lots"
    return (
        f"Posted {shipped}{noun} {receipts}{charges}: {lots}. Order {kept.order.number} is {state}. Look: "
        f"{typed(context, f'show {kept.receipts[0].number}')}. Take it back: "
        f'{typed(context, "undo")} {" ".join(map(str, reversed(numbers)))} --why "…"'
    )

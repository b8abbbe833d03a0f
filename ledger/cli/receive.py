"""`blankbook receive`: a supplier's file, a fill-in sheet or options become lots at landed cost."""

from __future__ import annotations

import datetime
import sqlite3
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Annotated

import typer

from ledger.book.order_store import find_orders_of
from ledger.book.receiving import ReceiptPlan, post, prepare
from ledger.book.same_elsewhere import twin_remark
from ledger.book.shop import read_shop
from ledger.catalogue.items import Item
from ledger.cli import completing
from ledger.cli.ask_item import AskItem
from ledger.cli.common import (
    DryRun,
    Json,
    Yes,
    agree,
    day_option,
    is_asking,
    now,
    say,
    show,
    show_json,
    today,
    typed,
    writing,
)
from ledger.cli.document_options import AddItems, Charges, InvoiceNumber, InvoiceRate, TaxPaid
from ledger.cli.layout_choice import ProposedOptions
from ledger.cli.layout_options import Accept, As, Comma, Order, Profile, Propose, Save
from ledger.cli.posting_rows import say_changes
from ledger.cli.receive_proposed import with_new_blanks
from ledger.cli.shipment_file import draft_of_file, profile_of_file
from ledger.cli.shipment_options import read_charges, read_tax_paid, read_treatment
from ledger.cli.source_file import Errors, find_source, marking
from ledger.cli.waiting import working
from ledger.errors import InputErrors, Problem, Refused, UsageError, ValueProblem
from ledger.exact.currencies import exponent, read_currency
from ledger.exact.numbers import read_decimal
from ledger.exact.words import typed_word
from ledger.intake.read_shipment import ShipmentOptions
from ledger.intake.resolve import ResolveOptions, known_factor, resolve
from ledger.intake.shipment import ShipmentDraft, ShipmentLine
from ledger.intake.templates import write_template
from ledger.views import orders as view
from ledger.views import receipts


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(receive)


def receive(
    context: typer.Context,
    file: Annotated[
        str | None, typer.Argument(metavar="FILE", help="The supplier's .xlsx or .csv; - for a pasted table.")
    ] = None,
    profile: Profile = None,
    party: Annotated[
        str,
        typer.Option(
            "--party", help="The supplier, where the file does not say.", autocompletion=completing.parties
        ),
    ] = "",
    reference: InvoiceNumber = "",
    date: Annotated[
        str | None, typer.Option("--date", help="The day the goods arrived; else the invoice's, else today.")
    ] = None,
    currency: Annotated[str, typer.Option("--currency", help="The invoice's currency.")] = "",
    rate: InvoiceRate = "",
    charge: Charges = None,
    sku: Annotated[str, typer.Option("--sku", help="Without a file: the item of a single line.")] = "",
    quantity: Annotated[str, typer.Option("--quantity", help="How many of the unit.")] = "",
    unit: Annotated[str, typer.Option("--unit", help="A unit or pack of the item: case, dozen, roll.")] = "",
    amount: Annotated[str, typer.Option("--amount", help="What the line cost in all, before charges.")] = "",
    missing: Annotated[
        str, typer.Option("--missing", help="What did not come: claimed, normal or expense.")
    ] = "claimed",
    damaged: Annotated[
        str, typer.Option("--damaged", help="What came damaged: claimed, normal or expense.")
    ] = "claimed",
    tax_paid: TaxPaid = "",
    another_box: Annotated[
        bool, typer.Option("--another-box", help="More of an invoice that was received in part.")
    ] = False,
    add_items: AddItems = False,
    template: Annotated[
        str,
        typer.Option("--template", metavar="FILE", help="Write a blank fill-in sheet, and do nothing else."),
    ] = "",
    order: Annotated[
        list[str] | None,
        typer.Option("--order", metavar="ORDER", help="What was shipped of an order has arrived."),
    ] = None,
    line: Annotated[
        list[str] | None,
        typer.Option("--line", help='With --order: only this came, "TEE-BLK-M 98". Repeat as needed.'),
    ] = None,
    missing_line: Annotated[
        list[str] | None,
        typer.Option("--missing-line", help='With --order: "TEE-BLK-M 2 claimed", normal or expense.'),
    ] = None,
    damaged_line: Annotated[
        list[str] | None,
        typer.Option("--damaged-line", help='With --order, of what came: "TEE-BLK-M 1 expense".'),
    ] = None,
    extra: Annotated[
        list[str] | None,
        typer.Option("--extra", help='With --order, beyond it: "TEE-BLK-M 3 at 2.20".'),
    ] = None,
    lost: Annotated[
        str,
        typer.Option("--lost", help="With --order: nothing arrived and nothing will: claimed or expense."),
    ] = "",
    credit: Annotated[
        str, typer.Option("--credit", help="With --order: what the supplier credits, in its currency.")
    ] = "",
    shipment: Annotated[
        str, typer.Option("--shipment", help="With --order: only this shipment; else the oldest first.")
    ] = "",
    shipped_on: Annotated[
        str, typer.Option("--shipped-on", metavar="DATE", help="With --order: ship it too, on that day.")
    ] = "",
    on_board: Annotated[
        str, typer.Option("--on-board", metavar="DATE", help="With --shipped-on: the day it was loaded.")
    ] = "",
    errors: Errors = "",
    as_: As = None,
    date_order: Order = "",
    decimal_comma: Comma = None,
    accept: Accept = False,
    propose: Propose = False,
    save: Save = "",
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Receive a shipment at landed cost.

    Shows every line with its share of the charges, then asks.

    The file is read through a profile: the one named, else the one saved for its supplier,
    else one that is proposed, shown and corrected until you take it. The fill-in sheet that
    --template writes needs none, a single line needs no file. "-" reads a table that is pasted
    or piped in, its columns apart by tabs, bars, commas or several blanks.

    \b
    Examples:
      blankbook receive domestic-blanks.xlsx --profile tarnwick-blank-goods --another-box --date 2026-04-02 --dry-run
      blankbook receive domestic-blanks.xlsx --party "Tarnwick Blank Goods" --propose
      blankbook order --line "WREN-BLK-M 1 case at 276.00" --party "Tarnwick Blank Goods" --terms destination --yes
      blankbook receive --order 97 --shipped-on 2026-04-02 --missing-line "WREN-BLK-M 2 claimed" --date 2026-04-02
      blankbook receive --sku WREN-BLK-M --quantity 2 --unit case --amount 552.00 --party "Tarnwick Blank Goods"
    """
    if template:
        write_template("shipment", Path(template))
        say(f"Wrote {template}. Fill it in, then: blankbook receive {typed_word(template)}")
        return
    layout = ProposedOptions(
        party=party,
        corrections=tuple(as_ or ()),
        date_order=date_order,
        decimal_comma=decimal_comma,
        currency=currency,
        accept=accept,
        propose=propose,
        save=save,
        yes=yes,
        dry_run=dry_run,
        json=json,
        needs_date=date is None and not order,
    )
    only_of_orders = (line, missing_line, damaged_line, extra, lost, credit, shipment, shipped_on, on_board)
    if order:
        if sku or quantity or unit or amount or party or currency or add_items or propose:
            raise UsageError(
                "an order says what is bought from whom: --order goes with a FILE, --line, --missing-line, "
                "--damaged-line, --extra, --lost, --charge and the dates."
            )
        from ledger.cli.receive_order import ArrivalOptions, receive_order  # noqa: PLC0415 - only for orders

        told = ArrivalOptions(
            order=_only(order),
            file=file,
            profile=profile,
            lines=tuple(line or ()),
            missing_lines=tuple(missing_line or ()),
            damaged_lines=tuple(damaged_line or ()),
            extras=tuple(extra or ()),
            lost=lost,
            missing=missing,
            damaged=damaged,
            credit=credit,
            shipment=shipment,
            shipped_on=shipped_on,
            on_board=on_board,
            reference=reference,
            date=date,
            rate=rate,
            charges=tuple(charge or ()),
            tax_paid=tax_paid,
            another_box=another_box,
            errors=errors,
            layout=layout,
        )
        receive_order(context, told)
        return
    if any(only_of_orders):
        raise UsageError(
            "--line, --missing-line, --damaged-line, --extra, --lost, --credit, --shipment, --shipped-on and "
            "--on-board go with --order."
        )
    _check_single_line(file, sku, quantity, unit, amount)
    arrived = day_option(date)
    treatments = (read_treatment(missing), read_treatment(damaged))
    source = find_source(file, errors)
    with marking(source), writing(context) as connection:
        habits = ShipmentOptions(
            missing_as=treatments[0],
            damaged_as=treatments[1],
            default_currency=read_shop(connection).currency,
            known_factor=known_factor(connection),
        )
        chosen = None
        if source:
            with working(f"Reading {source.name}"):
                source.read()
            chosen = profile_of_file(context, connection, source, profile, layout)
            if chosen is None:
                return
        is_posted = False
        try:
            if source and chosen:
                if add_items:
                    chosen = replace(chosen, profile=with_new_blanks(chosen.profile))
                draft = draft_of_file(connection, source, chosen, reference, layout, habits)
            else:
                draft = _draft_of_options(sku, quantity, unit, amount, party, reference, currency)
            options = ResolveOptions(
                received_on=arrived or draft.invoice_date or today(),
                rate=rate,
                charges=read_charges(charge or []),
                tax_paid=read_tax_paid(tax_paid),
                another_box=another_box,
                ask=AskItem(connection, teach=not dry_run) if is_asking() and not yes else None,
            )
            plan = prepare(connection, resolve(connection, _dated(draft, arrived), options), today())
            plan = _with_twin(connection, plan)
            is_posted = _finish(
                context, connection, plan, add_items=add_items, yes=yes, dry_run=dry_run, json=json
            )
        finally:
            if chosen:
                chosen.settle(is_posted=is_posted)


def _check_single_line(file: str | None, *of_a_line: str) -> None:
    """Refuse the options of a single line beside a file: they would change nothing in it."""
    if file and any(of_a_line):
        raise UsageError(
            "--sku, --quantity, --unit and --amount are of a single line without a FILE. What a file's rows count "
            'without a unit is said with --as "unit bottle", or of one item: --as "unit of INK-7 = bottle".'
        )


def _with_twin(connection: sqlite3.Connection, plan: ReceiptPlan) -> ReceiptPlan:
    """Return the plan, with a remark where the same shipment stands there under another supplier's name."""
    remark = twin_remark(connection, plan)
    if not remark:
        return plan
    return replace(plan, request=replace(plan.request, remarks=(*plan.request.remarks, remark)))


def _only(orders: list[str]) -> str:
    """Return the order that was named. Raises UsageError where several were."""
    if len(orders) > 1:
        raise UsageError(
            f"--order is given {len(orders)} times: goods arrive of one order at a time. Receive each on its own."
        )
    return orders[0]


def _dated(draft: ShipmentDraft, arrived: datetime.date | None) -> ShipmentDraft:
    """Return the draft, with a remark where neither its file nor the command line names a day."""
    if arrived or draft.invoice_date or not draft.content_sha256:
        return draft
    remark = (
        f"No date was found in {draft.source_name} and none was given: today, {today().isoformat()}, is "
        "taken as the day it arrived. Another one: --date 2026-01-31."
    )
    return replace(draft, remarks=(*draft.remarks, remark))


def _finish(
    context: typer.Context,
    connection: sqlite3.Connection,
    plan: ReceiptPlan,
    *,
    add_items: bool,
    yes: bool,
    dry_run: bool,
    json: bool,
) -> bool:
    """Show the preview, ask, post, and say what is in the book now; return whether it was posted."""
    preview = receipts.preview(plan)
    if json:
        say(preview)
    else:
        show(preview)
    waiting = view.waiting_text(find_orders_of(connection, plan.request.party))
    if waiting:
        say(waiting)
    if plan.request.new_items and not dry_run:
        _agree_new_items(plan.request.new_items, add_items=add_items, yes=yes)
    if not agree("Post this receipt?", yes=yes, dry_run=dry_run):
        if json:
            show_json(receipts.as_data(plan, ()))
        return False
    with working("Posting"):
        recorded = post(connection, plan, now())
    numbers = recorded.numbers
    say_changes(recorded, plan.shop.currency)
    if json:
        show_json(receipts.as_data(plan, numbers))
    lots = len(receipts.lots_as_data(plan, numbers[0]))
    charges = f", charges {', '.join(map(str, numbers[1:]))}" if numbers[1:] else ""
    say(
        f"Posted receipt {numbers[0]}{charges}: {lots} {'lot' if lots == 1 else 'lots'}. "
        f"Look: {typed(context, f'show {numbers[0]}')}. Take it back: "
        f'{typed(context, "undo")} {" ".join(map(str, reversed(numbers)))} --why "…"'
    )
    return True


def _agree_new_items(new_items: tuple[Item, ...], *, add_items: bool, yes: bool) -> None:
    if add_items:
        return
    count = len(new_items)
    question = f"Add {'this item' if count == 1 else f'these {count} items'} to the book?"
    if yes or not is_asking():
        names = ", ".join(item.sku for item in new_items)
        raise Refused(
            f"the book does not know {names}. Add --add-items to take them as the file describes them, or "
            "load them first: blankbook items load FILE. Nothing was posted."
        )
    if not typer.confirm(question, err=True, default=True):
        raise Refused("nothing was posted.")


def _draft_of_options(
    sku: str, quantity: str, unit: str, amount: str, party: str, reference: str, currency: str
) -> ShipmentDraft:
    """Return a shipment of the single line that the options describe."""
    if not sku or not quantity:
        raise UsageError("name a FILE, or a line with --sku, --quantity and --amount.")
    problems = []
    number, net = Fraction(0), Fraction(0)
    code = read_currency(currency) if currency else ""
    try:
        number = read_decimal(quantity, what="quantity")
        if number <= 0:
            raise ValueProblem(f"the quantity {quantity} is not above zero.")  # noqa: TRY301
    except ValueProblem as problem:
        problems.append(Problem("--quantity", str(problem)))
    try:
        net = read_decimal(amount, what="amount of money") if amount else Fraction(0)
        if amount and net <= 0:
            raise ValueProblem(f"the amount {amount} is not above zero.")  # noqa: TRY301
        if code and (net * 10 ** exponent(code)).denominator != 1:
            raise ValueProblem(f"{amount} has more decimals than {code} has.")  # noqa: TRY301
    except ValueProblem as problem:
        problems.append(Problem("--amount", str(problem)))
    if problems:
        raise InputErrors("this line", problems)
    line = ShipmentLine(
        where="the line", sku=sku.strip(), quantity=number, unit=unit.strip(), net=net, provisional=not amount
    )
    return ShipmentDraft(
        source_name="this line",
        content_sha256="",
        party=party,
        reference=reference,
        invoice_date=None,
        currency=code,
        lines=(line,),
    )

"""`blankbook receive`: a supplier's file, a fill-in sheet or options become lots at landed cost."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Annotated

import typer

from ledger.book.receiving import ReceiptPlan, post, prepare
from ledger.book.shop import read_shop
from ledger.catalogue.items import Item
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
from ledger.cli.posting_rows import say_changes, working
from ledger.cli.receive_proposed import (
    Accept,
    As,
    AskItem,
    Comma,
    Order,
    Propose,
    ProposedOptions,
    Save,
    is_fill_in,
    profile_for,
    with_new_blanks,
)
from ledger.cli.source_file import Errors, Source, find_source, marking
from ledger.errors import InputErrors, Problem, Refused, UsageError, ValueProblem
from ledger.exact.currencies import exponent, read_currency
from ledger.exact.numbers import read_decimal
from ledger.intake.charge_words import ChargeWords, read_charge
from ledger.intake.profile import Profile, find_profile, load_profile
from ledger.intake.read_shipment import ShipmentOptions, read_shipment
from ledger.intake.resolve import ResolveOptions, known_factor, resolve
from ledger.intake.saved_profiles import with_party_codes
from ledger.intake.shipment import LOSSES, ShipmentDraft, ShipmentLine
from ledger.intake.templates import write_template
from ledger.views import receipts

FILL_IN_PROFILE = "fill-in-shipment"
TAX_PAID = ("yes", "resale", "none")


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(receive)


def receive(
    context: typer.Context,
    file: Annotated[
        str | None, typer.Argument(metavar="FILE", help="The supplier's .xlsx or .csv; - for a pasted table.")
    ] = None,
    profile: Annotated[
        str | None, typer.Option("--profile", help="How to read the file: a carried name or a .toml file.")
    ] = None,
    party: Annotated[str, typer.Option("--party", help="The supplier, where the file does not say.")] = "",
    reference: Annotated[str, typer.Option("--reference", help="The invoice's number.")] = "",
    date: Annotated[
        str | None, typer.Option("--date", help="The day the goods arrived; else the invoice's, else today.")
    ] = None,
    currency: Annotated[str, typer.Option("--currency", help="The invoice's currency.")] = "",
    rate: Annotated[str, typer.Option("--rate", help="Book currency per unit of the invoice's.")] = "",
    charge: Annotated[
        list[str] | None,
        typer.Option("--charge", help='A charge in words: "freight 182.40 by weight". Repeat as needed.'),
    ] = None,
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
    tax_paid: Annotated[str, typer.Option("--tax-paid", help="Sales tax: yes, resale or none.")] = "",
    another_box: Annotated[
        bool, typer.Option("--another-box", help="More of an invoice that was received in part.")
    ] = False,
    add_items: Annotated[bool, typer.Option("--add-items", help="Add items the book does not know.")] = False,
    template: Annotated[
        str,
        typer.Option("--template", metavar="FILE", help="Write a blank fill-in sheet, and do nothing else."),
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
      blankbook receive invoice.xlsx --profile one-row-per-size --party "Mill Lane" --dry-run
      blankbook receive invoice.xlsx --party "Mill Lane" --as "F=unit price" --accept --dry-run
      blankbook receive --sku TEE-BLK-M --quantity 2 --unit case --amount 259.20 --party "Mill Lane"
    """
    if template:
        write_template("shipment", Path(template))
        say(f"Wrote {template}. Fill it in, then: blankbook receive {template}")
        return
    arrived = day_option(date)
    treatments = (_treatment(missing), _treatment(damaged))
    source = find_source(file, errors)
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
    )
    with marking(source), writing(context) as connection:
        habits = ShipmentOptions(
            missing_as=treatments[0],
            damaged_as=treatments[1],
            default_currency=read_shop(connection).currency,
            known_factor=known_factor(connection),
        )
        if source:
            with working(f"Reading {source.name}"):
                source.read()
            chosen = _profile(context, connection, source, profile, layout)
            if chosen is None:
                return
            if add_items:
                chosen = with_new_blanks(chosen)
            draft = _draft_of_file(connection, source, chosen, reference, layout, habits)
        else:
            draft = _draft_of_options(sku, quantity, unit, amount, party, reference, currency)
        options = ResolveOptions(
            received_on=arrived or draft.invoice_date or today(),
            rate=rate,
            charges=_charges(charge or []),
            tax_paid=_tax_paid(tax_paid),
            another_box=another_box,
            ask=AskItem(connection, teach=not dry_run) if is_asking() and not yes else None,
        )
        plan = prepare(connection, resolve(connection, draft, options), today())
        _finish(context, connection, plan, add_items=add_items, yes=yes, dry_run=dry_run, json=json)


def _finish(
    context: typer.Context,
    connection: sqlite3.Connection,
    plan: ReceiptPlan,
    *,
    add_items: bool,
    yes: bool,
    dry_run: bool,
    json: bool,
) -> None:
    """Show the preview, ask, post, and say what is in the book now."""
    preview = receipts.preview(plan)
    if json:
        say(preview)
    else:
        show(preview)
    if plan.request.new_items and not dry_run:
        _agree_new_items(plan.request.new_items, add_items=add_items, yes=yes)
    if not agree("Post this receipt?", yes=yes, dry_run=dry_run):
        if json:
            show_json(receipts.as_data(plan, ()))
        return
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


def _profile(
    context: typer.Context,
    connection: sqlite3.Connection,
    source: Source,
    named: str | None,
    layout: ProposedOptions,
) -> Profile | None:
    """Return the profile to read the file by, None where a proposal was only to be shown."""
    if layout.save and not layout.propose:
        raise UsageError("--save goes with --propose: what is accepted is saved beside the book.")
    if named:
        if layout.has_any:
            raise UsageError("--profile names how the file is read: leave out what corrects a proposal.")
        return load_profile(find_profile(named))
    fill_in = load_profile(find_profile(FILL_IN_PROFILE))
    if not layout.has_any and is_fill_in(source.read(), fill_in):
        return fill_in
    return profile_for(context, connection, source.read(), layout)


def _draft_of_file(
    connection: sqlite3.Connection,
    source: Source,
    profile: Profile,
    reference: str,
    layout: ProposedOptions,
    habits: ShipmentOptions,
) -> ShipmentDraft:
    party = layout.party or profile.party
    return read_shipment(
        source.read(),
        with_party_codes(connection, profile, party) if party else profile,
        party=layout.party,
        reference=reference,
        currency=read_currency(layout.currency) if layout.currency else "",
        options=habits,
    )


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


def _charges(texts: list[str]) -> tuple[ChargeWords, ...]:
    words, problems = [], []
    for number, text in enumerate(texts, 1):
        where = f"--charge {number}"
        try:
            words.append(replace(read_charge(text), where=where))
        except ValueProblem as problem:
            problems.append(Problem(where, str(problem)))
    if problems:
        raise InputErrors("the charges", problems)
    return tuple(words)


def _treatment(text: str) -> str:
    word = text.strip().casefold()
    if word not in LOSSES:
        raise UsageError(f"'{text}': missing and damaged pieces are {', '.join(LOSSES)}.")
    return word


def _tax_paid(text: str) -> str:
    word = text.strip().casefold()
    if word and word not in TAX_PAID:
        raise UsageError(f"'{text}': --tax-paid is {', '.join(TAX_PAID)}.")
    return word

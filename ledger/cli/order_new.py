"""Placing an order from a file or from lines typed as words."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

import typer

from ledger.book.catalogue_store import find_parties
from ledger.book.order_offers import offer_named
from ledger.book.ordering import (
    OrderPlan,
    OrderRequest,
    OrderTerms,
    post_order,
    prepare_order,
    without_price,
)
from ledger.book.orders import ARRIVAL, ON_BOARD, SHIPPING, SHIPS, TITLES
from ledger.book.receiving import ReceiptRequest
from ledger.book.shop import read_shop
from ledger.catalogue.parties import normal_name, read_country
from ledger.catalogue.terms import AT_DESTINATION, INCOTERMS, TERMS, DeliveryTerms, place_named, read_terms
from ledger.catalogue.terms import ON_BOARD as RISK_ON_BOARD
from ledger.cli.ask_item import AskItem
from ledger.cli.common import agree, is_asking, now, read_date, say, show, show_json, today, typed, writing
from ledger.cli.layout_choice import ProposedOptions
from ledger.cli.shipment_file import FileOptions, read_for_order
from ledger.cli.shipment_options import amounts_of, gathered, read_words
from ledger.cli.source_file import find_source, marking
from ledger.errors import InputErrors, Problem, Refused, UsageError, ValueProblem
from ledger.exact.currencies import exponent, read_currency
from ledger.exact.money import read_money
from ledger.exact.numbers import read_decimal
from ledger.exact.rounding import round_fraction
from ledger.intake.order_lines import drafted, read_line
from ledger.intake.resolve import ResolveOptions, resolve
from ledger.intake.shipment import ShipmentDraft
from ledger.sourcing.closures import last_published_year, read_closures
from ledger.views import order_data
from ledger.views import orders as view

WITHOUT_TERMS = (
    'say who bears the risk on the way: --terms "FOB PLACE" or another of Incoterms 2020, or within one '
    'country --terms "shipping point" (the shop\'s once handed over) or --terms destination (on arrival).'
)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewOrder:
    """An order as the command line tells it."""

    file: str | None
    lines: tuple[str, ...]
    reference: str
    date: str
    terms: str
    title: str
    origin: str
    deposit: str
    days: Mapping[str, datetime.date | None]
    working_days: int | None
    transit_days: int | None
    closures: tuple[str, ...]
    note: str
    another: bool
    add_items: bool
    profile: str | None
    errors: str
    layout: ProposedOptions
    offer: str = ""


def place_order(context: typer.Context, new: NewOrder) -> None:
    """Show an order, ask, post it, and say what to do next."""
    if new.file and new.lines:
        raise UsageError("name a FILE or --line, not both.")
    if not new.terms:
        raise UsageError(WITHOUT_TERMS)
    source = find_source(new.file, new.errors)
    with marking(source), writing(context) as connection:
        if source is None:
            _finish(context, connection, new, _typed_order(connection, new))
            return
        options = FileOptions(
            source=source,
            profile=new.profile,
            layout=new.layout,
            reference=new.reference,
            add_items=new.add_items,
        )
        with read_for_order(context, connection, options) as read:
            request = replace(
                read.request, remarks=(*read.remarks, *_not_ordered(read.request, len(read.charges)))
            )
            read.is_posted = _finish(context, connection, new, request)


def _typed_order(connection: sqlite3.Connection, new: NewOrder) -> ReceiptRequest:
    """Return what typed lines order. Raises InputErrors with everything wrong in all of them."""
    known, currency = amounts_of(connection), _currency(connection, new)
    ask = None
    if is_asking() and not new.layout.yes:
        ask = AskItem(connection, teach=not new.layout.dry_run)
    with gathered("this order") as problems:
        words = [known.spelled(one) for one in read_words(new.lines, "--line", read_line, problems)]
        problems += [without_price(one.where, one.sku) for one in words if one.net is None]
        draft = ShipmentDraft(
            source_name="this order",
            content_sha256="",
            party=new.layout.party,
            reference=new.reference,
            invoice_date=None,
            currency=currency,
            lines=drafted(words, currency),
        )
        # What was found wrong before is raised when the block ends, whatever is returned.
        return resolve(connection, draft, ResolveOptions(received_on=today(), ask=ask, converts=False))


def _currency(connection: sqlite3.Connection, new: NewOrder) -> str:
    """Return the currency as typed, else the supplier's, else the book's."""
    if new.layout.currency:
        return read_currency(new.layout.currency)
    wanted = normal_name(new.layout.party)
    own = [one.currency for one in find_parties(connection).values() if one.normal_name() == wanted]
    return next((currency for currency in own if currency), read_shop(connection).currency)


def _not_ordered(request: ReceiptRequest, charges: int) -> list[str]:
    """Say what of a file is no part of an order."""
    said = []
    if charges:
        said.append("Its charges are no part of the order: enter them with the shipment or the arrival.")
    if any(
        line.invoice.claimed_milli or line.invoice.normal_milli or line.invoice.expensed_milli
        for line in request.lines
    ):
        said.append("What the file says is missing or damaged is ordered all the same.")
    return said


def _finish(
    context: typer.Context, connection: sqlite3.Connection, new: NewOrder, read: ReceiptRequest
) -> bool:
    """Show the preview, ask, post; return whether it was posted."""
    layout = new.layout
    request = _request(new, read)
    if new.offer:
        request = replace(request, offer=offer_named(connection, request.party, new.offer))
    plan = prepare_order(connection, request, today())
    expected = plan.expected()
    beyond = _beyond_the_calendar(plan, expected[SHIPS])
    if beyond:
        plan = replace(plan, request=replace(plan.request, remarks=(*plan.request.remarks, *beyond)))
    (say if layout.json else show)(view.order_preview(plan, expected))
    _agree_new_items(request, new)
    if not agree("Post this order?", yes=layout.yes, dry_run=layout.dry_run):
        if layout.json:
            show_json(order_data.plan_as_data(plan, None, expected))
        return False
    number = post_order(connection, plan, now())
    if layout.json:
        show_json(order_data.plan_as_data(plan, number, expected))
    say(_posted(context, number, plan.request))
    return True


def _agree_new_items(request: OrderRequest, new: NewOrder) -> None:
    if request.new_items and not (new.add_items or new.layout.dry_run):
        names = ", ".join(item.sku for item in request.new_items)
        raise Refused(
            f"the book does not know {names}. Add --add-items to take them as the file describes them, or "
            "load them first: blankbook items load FILE. Nothing was posted."
        )


def _posted(context: typer.Context, number: int, request: OrderRequest) -> str:
    """Return what to do next: goods from within the country are mostly told of when they arrive."""
    rule = TERMS.get(request.terms.terms)
    ship = f"ship {number}"
    if rule is not None and rule.is_domestic:
        arrive = f"receive --order {number} --shipped-on {request.ordered_on.isoformat()}"
        follows = (
            f"When it has arrived: {typed(context, arrive)} (the day it was handed over); or before that, while "
            f"it is under way: {typed(context, ship)}"
        )
    else:
        follows = f"When it is handed to the carrier: {typed(context, ship)}"
    return (
        f"Posted order {number}. Look: {typed(context, f'order {number}')}. {follows}. "
        f'Take it back: {typed(context, f"undo {number}")} --why "…"'
    )


def _request(new: NewOrder, read: ReceiptRequest) -> OrderRequest:
    """Return the order that a file's or typed lines and the options make.

    Raises InputErrors with everything wrong in the options.
    """
    problems: list[Problem] = []
    ordered_on = read_date(new.date) if new.date else read.received_on
    total = sum(line.invoice.net_foreign for line in read.lines) - read.invoice_discount_foreign
    terms = _terms(new, read.currency, total, problems)
    if any(day is None for day in new.days.values()):
        problems.append(Problem("the days", "a new order has no day to take back.", "Leave 'none' out."))
    if problems:
        raise InputErrors("this order", problems)
    remarks = [*read.remarks, *_calendar_remarks(new, terms)]
    return OrderRequest(
        party=read.party,
        reference=read.reference,
        ordered_on=ordered_on,
        currency=read.currency,
        lines=read.lines,
        terms=terms,
        invoice_discount_foreign=read.invoice_discount_foreign,
        days={what: day for what, day in new.days.items() if day is not None},
        new_items=read.new_items,
        new_packs=read.new_packs,
        another=new.another,
        source_name="" if new.file is None else read.source_name,
        note=new.note,
        remarks=tuple(remarks),
    )


def _terms(new: NewOrder, currency: str, total: int, problems: list[Problem]) -> OrderTerms:
    origin, deposit, closures, rule = "", 0, "", None
    try:
        rule = read_terms(new.terms)
    except ValueProblem as problem:
        problems.append(Problem("--terms", str(problem)))
    try:
        origin = read_country(new.origin)
    except ValueProblem as problem:
        problems.append(Problem("--origin", str(problem)))
    try:
        deposit = _deposit(new.deposit, currency, total)
    except ValueProblem as problem:
        problems.append(Problem("--deposit", str(problem)))
    try:
        read_closures(new.closures)
        closures = "; ".join(text.strip() for text in new.closures)
    except ValueProblem as problem:
        problems.append(Problem("--closures", str(problem)))
    title = new.title.strip().casefold()
    if title and title not in TITLES:
        problems.append(
            Problem("--title", f"'{new.title}': the goods become the shop's at {', '.join(TITLES)}.")
        )
    return OrderTerms(
        terms=rule.code if rule else "",
        title_passes=title or _title(rule),
        named_place=_place(rule, new.terms),
        origin=origin,
        deposit_foreign=deposit,
        working_days=new.working_days,
        transit_days=new.transit_days,
        closures=closures,
    )


def _title(rule: DeliveryTerms | None) -> str:
    """Return from where goods are the shop's by a rule: where the risk passes."""
    if rule is None or rule.risk_passes == AT_DESTINATION:
        return ARRIVAL
    return ON_BOARD if rule.risk_passes == RISK_ON_BOARD else SHIPPING


def _place(rule: DeliveryTerms | None, text: str) -> str:
    """Return the place named behind a rule: 'Port Rellan' of 'FOB Port Rellan'."""
    if rule is None:
        return ""
    rest = place_named(text)
    return " ".join(
        word for word in rest.replace(",", " ").split() if word.casefold() not in ("incoterms", "2020")
    )


def _calendar_remarks(new: NewOrder, terms: OrderTerms) -> list[str]:
    """Return what the calendar does not know: closures, the day it ships, holidays of years to come."""
    said = []
    if new.working_days and not new.closures:
        said.append("No closures were told: of the working days only weekends are left out. --closures CN")
    if new.transit_days is not None and new.working_days is None and SHIPS not in new.days:
        said.append(
            "The days on the way count from the day it ships, which was not told: --ships 2026-01-31, or "
            "--working-days 15."
        )
    if terms.terms in INCOTERMS and not terms.named_place:
        rule = TERMS[terms.terms]
        said.append(
            f"{rule.code} is named with its place ({rule.place}), and none was given: "
            f'--terms "{rule.code} PLACE" says where the risk passes.'
        )
    return said


def _beyond_the_calendar(plan: OrderPlan, ships: str) -> list[str]:
    """Say where working days reach into a year whose shifted holidays are not published yet."""
    terms = plan.request.terms
    if not terms.working_days or not ships or SHIPS in plan.request.days:
        return []
    closures = read_closures([part.strip() for part in terms.closures.split(";") if part.strip()])
    last = last_published_year(closures.country)
    if last is None or int(ships[:4]) <= last:
        return []
    said = (
        f"The holidays of {closures.country} are known with their shifted and make-up days up to {last}; of "
        f"{ships[:4]} only the statutory days are. Ask when the supplier is closed: --closures FIRST..LAST"
    )
    return [said]


def _deposit(text: str, currency: str, total: int) -> int:
    """Return a deposit in minor units: an amount, or a percentage of the whole order."""
    if not text:
        return 0
    if text.strip().endswith("%"):
        percent = read_decimal(text.strip().removesuffix("%"), what="percentage")
        amount = round_fraction(Fraction(total) * percent / 100)
    else:
        amount = read_money(text, currency)
    if amount < 0:
        raise ValueProblem(f"the deposit {text} is below zero.")
    if amount > total:
        whole = total / Fraction(10 ** exponent(currency))
        raise ValueProblem(f"the deposit {text} is more than the order, {float(whole):,.2f} {currency}.")
    return amount

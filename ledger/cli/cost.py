"""`blankbook cost`: what one piece of a design costs now, and what a job did cost."""

from __future__ import annotations

import datetime
import re
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated

import typer

from ledger.book import costs, looking
from ledger.book.catalogue_store import find_kinds, find_ladders
from ledger.book.shop import read_shop
from ledger.catalogue.boms import Bill, bill_warnings, blanks_of, finished_sku
from ledger.catalogue.items import Item, Kind
from ledger.catalogue.sizes import Ladder
from ledger.cli.common import Json, reading, say, show, show_json, today, typed
from ledger.costing.piece_cost import Fee, left_at
from ledger.errors import UsageError, ValueProblem
from ledger.exact.currencies import exponent
from ledger.exact.money import read_money
from ledger.exact.numbers import read_decimal
from ledger.exact.words import typed_word
from ledger.intake.nearest import did_you_mean, fold, quoted
from ledger.views import costs as view
from ledger.views.bills import bill_cautions
from ledger.views.catalogue import in_order
from ledger.views.documents import read_number

MOST_PIECES = 1_000_000
WHOLE_PERCENT = 100

_JOB = re.compile(r"(make\s+)?\d+", re.IGNORECASE)


@dataclass(frozen=True)
class Asked:
    """What the options ask for: pieces in a run, a price in minor units, fees on it."""

    pieces: int = 1
    price: int | None = None
    fees: tuple[Fee, ...] = ()


@dataclass(frozen=True)
class Shelves:
    """What every bill of one call is costed and warned with."""

    known: costs.Costing
    ladders: tuple[Ladder, ...]
    kinds: Mapping[str, Kind]
    expired: frozenset[str]


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(cost)


def cost(
    context: typer.Context,
    what: Annotated[
        str | None, typer.Argument(metavar="BILL-or-JOB", help="A bill's code, or a job: 12 or 'make 12'.")
    ] = None,
    colour: Annotated[str, typer.Option("--colour", help="The blank's colour.")] = "",
    size: Annotated[str, typer.Option("--size", help="The blank's size.")] = "",
    pieces: Annotated[
        int | None,
        typer.Option("--pieces", min=1, max=MOST_PIECES, help="Pieces in the run; 1 if left out."),
    ] = None,
    price: Annotated[
        str | None, typer.Option("--price", help="Shows what is left of a price per piece.")
    ] = None,
    fees: Annotated[
        list[str] | None,
        typer.Option("--fees", help="A fee on the price: 8% or an amount; may be given several times."),
    ] = None,
    all_bills: Annotated[bool, typer.Option("--all", help="All designs and ways in one table.")] = False,
    json: Json = False,
) -> None:
    """Show what one piece costs now.

    By component, out of the lots on hand and at the latest landed costs.

    For a job, what it used and cost against the bill as it is now.

    \b
    Examples:
      blankbook cost FOX --colour Black --size L --pieces 24
      blankbook cost FOX --price 25 --fees 8% --fees 0.40
      blankbook cost --all
      blankbook cost "make 47"
    """
    if all_bills and (what or colour or size):
        raise UsageError("--all shows every bill: leave the bill, --colour and --size out.")
    if not all_bills and not what:
        raise UsageError("name a bill or a job, or add --all. See: blankbook boms")
    with reading(context) as connection:
        currency = read_shop(connection).currency
        asked = Asked(pieces or 1, _price(price, currency), _fees(fees or [], currency))
        if asked.fees and asked.price is None:
            raise UsageError("--fees are taken off a price: add --price.")
        known = costs.costing(connection, currency)
        bill = None if all_bills else _find_bill(known, what or "")
        if bill is None and not all_bills:
            if colour or size or pieces or price:
                raise UsageError(
                    f"{quoted(what or '')} is a job, which has its pieces and its blank already: leave "
                    "--pieces, --colour, --size and --price out."
                )
            job = costs.job_cost(known, read_number(what or ""))
            _print_job(job, currency, json=json)
            return
        shelves = _shelves(connection, known)
        bills = [*known.catalogue.bills.values()] if bill is None else [bill]
        shown = [_shown(shelves, each, (colour, size), asked) for each in bills]
        others = len(blanks_of(bill, known.items)) if bill else 0
    if json:
        data = [view.bill_cost_as_data(each) for each in shown]
        show_json(data if all_bills else data[0])
    elif all_bills:
        show(view.all_costs_text(shown, asked.pieces))
        say("\nEach for size M, else the first size, of the first colour that has a cost.")
    else:
        show(view.bill_cost_text(shown[0]))
        blank = shown[0].costed.blank
        if blank and others > 1 and not (colour and size):
            words = typed(context, f"cost {typed_word(shown[0].costed.bill.code)} --colour … --size …")
            say(f"\nShown for {blank.sku}, one of {others} blanks of this bill. Choose: {words}")


def _print_job(job: costs.JobCost, currency: str, *, json: bool) -> None:
    if json:
        show_json(view.job_cost_as_data(job, currency))
    else:
        show(view.job_cost_text(job, currency))


def _find_bill(known: costs.Costing, what: str) -> Bill | None:
    """Return the bill of that code, or None for what can only be a job's number.

    Raises UsageError where it is neither.
    """
    bills = known.catalogue.bills
    for bill in bills.values():
        if fold(bill.code) == fold(what):
            return bill
    if _JOB.fullmatch(what.strip()):
        return None
    hint = did_you_mean(what, bills) if bills else "It has none yet. See: blankbook boms --help"
    raise UsageError(f"the book has no bill {quoted(what)}. {hint}")


def _price(text: str | None, currency: str) -> int | None:
    if text is None:
        return None
    try:
        price = read_money(text, currency)
    except ValueProblem as problem:
        raise UsageError(f"--price: {problem}") from problem
    if price < 0:
        raise UsageError(f"--price: {quoted(text)} is below zero.")
    return price


def _fees(texts: Sequence[str], currency: str) -> tuple[Fee, ...]:
    """Return the fees in the order they were typed.

    Raises UsageError for one that cannot be read or is no fee.
    """
    fees: list[Fee] = []
    for text in texts:
        words = text.strip()
        try:
            if words.endswith("%"):
                fee = Fee(words, percent=read_decimal(words[:-1], what="percentage"))
            else:
                fee = Fee(words, amount=read_money(words, currency))
        except ValueProblem as problem:
            raise UsageError(f"--fees: {problem} A fee is like 8% or 0.40.") from problem
        if fee.amount < 0 or (fee.percent is not None and not 0 <= fee.percent <= WHOLE_PERCENT):
            raise UsageError(f"--fees: {quoted(words)} is no fee: write 0% to 100%, or an amount from 0.")
        fees.append(fee)
    return tuple(fees)


def _shelves(connection: sqlite3.Connection, known: costs.Costing) -> Shelves:
    eve = (today() - datetime.timedelta(days=1)).isoformat()
    expired = frozenset(row.sku for row in looking.expiring(connection, eve))
    return Shelves(known, find_ladders(connection), find_kinds(connection), expired)


def _shown(shelves: Shelves, bill: Bill, choice: tuple[str, str], asked: Asked) -> view.ShownCost:
    known = shelves.known
    blank = costs.usual_blank(known, _blanks(shelves, bill, choice))
    costed = costs.bill_cost(known, bill, blank, asked.pieces)
    at = None
    if asked.price is not None:
        at = left_at(asked.price, asked.fees, costed.cost, exponent(known.currency))
    return view.ShownCost(
        costed=costed,
        finished_sku=finished_sku(bill, blank),
        currency=known.currency,
        fees=asked.fees,
        at=at,
        warnings=tuple(bill_warnings(bill, blank, shelves.expired)),
        cautions=bill_cautions(costed.items.values(), blank, shelves.kinds, shelves.ladders),
    )


def _blanks(shelves: Shelves, bill: Bill, choice: tuple[str, str]) -> list[Item]:
    """Return the blanks of a bill that fit the choice, in the order of colours and sizes.

    Raises UsageError where there is none.
    """
    colour, size = choice
    blanks = in_order(blanks_of(bill, shelves.known.items), shelves.ladders)
    if not bill.blank and (colour or size):
        raise UsageError(f"the bill {bill.code} has no blank: leave --colour and --size out.")
    fitting = [
        item
        for item in blanks
        if (not colour or fold(item.colour) == fold(colour)) and (not size or fold(item.size) == fold(size))
    ]
    if bill.blank and not fitting:
        colours = ", ".join(dict.fromkeys(item.colour for item in blanks if item.colour)) or "none"
        sizes = ", ".join(dict.fromkeys(item.size for item in blanks if item.size)) or "none"
        wanted = " ".join(filter(None, (colour, size)))
        raise UsageError(
            f"{bill.blank} has no {wanted or 'item in the catalogue'}. Its colours are {colours}; "
            f"its sizes are {sizes}."
        )
    return fitting

"""`blankbook post`: a sheet of events or a sales export, in one transaction."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from ledger.book.shop import read_shop
from ledger.cli.common import DryRun, Json, Yes, book_path, reading, say
from ledger.cli.post_proposed import ChosenProfile, Export, SalesAs, SalesProposalWish, sales_profile_for
from ledger.cli.post_sales import BookOrdersOf, SalesWish, post_sales
from ledger.cli.posting_rows import Answers, post_rows
from ledger.cli.source_file import Errors, Source, find_source
from ledger.cli.waiting import working
from ledger.errors import UsageError, ValueProblem
from ledger.exact.currencies import read_currency
from ledger.exact.words import typed_word
from ledger.intake.events_file import read_events
from ledger.intake.propose_sales import is_sales_export
from ledger.intake.records import normal_heading
from ledger.intake.resolve_events import EventOptions
from ledger.intake.sales_items import find_sales_items
from ledger.intake.sales_profile import find_sales_profile, load_sales_profile
from ledger.intake.table import SourceFile
from ledger.intake.templates import write_template


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(post)


def post(
    context: typer.Context,
    file: Annotated[
        str | None, typer.Argument(metavar="FILE", help="The sheet, .xlsx or .csv; - for a pasted table.")
    ] = None,
    template: Annotated[
        str, typer.Option("--template", metavar="FILE", help="Write a blank sheet, and do nothing else.")
    ] = "",
    profile: Annotated[
        str,
        typer.Option("--profile", help="A sales export: how to read it, a .toml file or a profile's name."),
    ] = "",
    party: Annotated[
        str, typer.Option("--party", help="A sales export: the shop or marketplace it comes from.")
    ] = "",
    short: Annotated[
        bool, typer.Option("--short", help="Let stock be used before its receipt is entered.")
    ] = False,
    corrections: SalesAs = None,
    accept: Annotated[
        bool, typer.Option("--accept", help="Take the proposal for an unknown export, and save it.")
    ] = False,
    propose: Annotated[
        bool, typer.Option("--propose", help="Only show how an unknown export would be read.")
    ] = False,
    save: Annotated[
        str,
        typer.Option("--save", metavar="FILE", help="With --propose: write the profile there, to edit it."),
    ] = "",
    currency: Annotated[
        str,
        typer.Option("--currency", help="A sales export: what this file's amounts are in, like EUR."),
    ] = "",
    rate: Annotated[
        str,
        typer.Option("--rate", help="A sales export: what one unit of its currency is in the book's."),
    ] = "",
    errors: Errors = "",
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Post a sheet of events, or a sales export.

    Opening stock, receipts, charges, jobs, sales, uses, waste, returns, counts and write-downs,
    one row each. The sheet is judged as a whole, in date order: all of it is posted or nothing.

    A sales export is read through a profile: the one named, the one saved for its party, else one
    that is proposed and shown. Correct it with --as, take it with --accept; it is saved once the export
    is posted. A new column that holds numbers is asked about, never left out. Rows that are no goods are set aside by its rules; an export may overlap an earlier one:
    orders and lines that are in the book are skipped.

    \b
    Examples:
      blankbook post --template events.xlsx
      blankbook post april-events.csv --dry-run
      blankbook post april-sales.csv --profile sales-one-row-per-item --party "Harbour Fair" --dry-run
      blankbook post april-sales.csv --party "Harbour Fair" --propose
    """
    if template:
        write_template("events", Path(template))
        say(f"Wrote {template}. Fill it in, then: blankbook post {typed_word(template)}")
        return
    source = find_source(file, errors)
    if source is None:
        raise UsageError(
            "name the sheet to post, or write a blank one: blankbook post --template events.xlsx"
        )
    answers = Answers(yes, dry_run, json)
    with source.marking():
        code = _currency(currency)
        wish = SalesProposalWish(
            party, tuple(corrections or ()), accept=accept, propose=propose, save=save, currency=code
        )
        if profile:
            if replace(wish, party="", currency="") != SalesProposalWish():
                raise UsageError(
                    "a named --profile is read as it stands: --as, --accept, --propose and --save are for a "
                    "proposal. Change the profile's file, or leave --profile out."
                )
            chosen = ChosenProfile(load_sales_profile(find_sales_profile(profile, book_path(context))))
            post_sales(context, SalesWish(source, chosen, party, short, code, rate), answers)
            return
        if save and not propose:
            raise UsageError("--save goes with --propose: what is accepted is saved beside the book.")
        if wish != SalesProposalWish() or not _is_events_sheet(source.read()):
            _post_unknown(context, source, wish, answers, (short, rate))
            return
        if rate:
            raise UsageError("a sheet of events has a column for the rate: --rate is for a sales export.")
        _post_events(context, source, answers, short=short)


def _currency(typed: str) -> str:
    """Return the code of a currency as it was typed. Raises UsageError where there is none such."""
    try:
        return read_currency(typed) if typed else ""
    except ValueProblem as problem:
        raise UsageError(f"--currency: {problem}") from None


def _is_events_sheet(file: SourceFile) -> bool:
    """Whether a file has the heading that only a sheet of events has, or is no sales export either."""
    return _has_event_column(file) or not is_sales_export(file)


def _has_event_column(file: SourceFile) -> bool:
    return any(
        normal_heading(cell.text) == "event"
        for sheet in file.sheets
        for row in sheet.rows[:20]
        for cell in row
    )


def _post_unknown(
    context: typer.Context,
    source: Source,
    wish: SalesProposalWish,
    answers: Answers,
    more: tuple[bool, str],
) -> None:
    """Post an export that no profile was named for; ``more`` is whether it may go short, and the rate."""
    file = source.read()
    if _has_event_column(file):
        raise UsageError(
            f"{file.name} is no sales export: --party, --as, --accept, --propose and --currency are for those. "
            "A sheet of events has a party column."
        )
    with reading(context) as connection:
        export = Export(
            file,
            source.path,
            read_shop(connection).currency,
            find_sales_items(connection, wish.party),
            BookOrdersOf(context),
        )
    chosen = sales_profile_for(context, export, wish, answers)
    if chosen is not None:
        party = wish.party or chosen.party
        post_sales(context, SalesWish(source, chosen, party, more[0], wish.currency, more[1]), answers)


def _post_events(context: typer.Context, source: Source, answers: Answers, *, short: bool) -> None:
    with reading(context) as connection:
        currency = read_shop(connection).currency
    with working(f"Reading {source.name}"):
        file = source.read()
        rows = read_events(file, book_currency=currency)
    for remark in file.remarks:
        say(remark)
    post_rows(context, rows, EventOptions(allow_short=short, source=file.name), answers)

"""`blankbook start`: a new book, with the shop's policies recorded as told."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Annotated

import typer

from ledger.book.connect import create, discard, publish, write_tx
from ledger.book.shop import POLICIES, UNITED_STATES, policies_for, write_shop
from ledger.catalogue.parties import read_country
from ledger.cli.common import (
    BOOK_SUFFIX,
    BOOK_VARIABLE,
    Yes,
    agree,
    ask,
    is_asking,
    now,
    say,
    today,
    typed,
)
from ledger.errors import UsageError, ValueProblem
from ledger.exact.currencies import read_currency

UNTOLD = "not told"
DOLLARS = "USD"
OWN_SHOP = "My shop"
PREPARER_QUESTION = "Do you want to say now what your preparer has chosen?"
_MONTH = re.compile(r"(20\d\d|2100)-(0[1-9]|1[0-2])", re.ASCII)


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(start)


def start(
    context: typer.Context,
    name: Annotated[str | None, typer.Option("--name", help="The shop's name.")] = None,
    currency: Annotated[str | None, typer.Option("--currency", help="The book's currency, ISO 4217.")] = None,
    first_month: Annotated[
        str | None, typer.Option("--first-month", metavar="YYYY-MM", help="The first month the book holds.")
    ] = None,
    country: Annotated[
        str | None,
        typer.Option("--country", help="Where the shop is taxed, ISO 3166. Untold: US, in USD only."),
    ] = None,
    tax_year_starts: Annotated[
        str | None, typer.Option("--tax-year-starts", metavar="MM", help="The month the tax year begins.")
    ] = None,
    policy: Annotated[
        list[str] | None,
        typer.Option(
            "--policy", metavar="NAME=VALUE", help="A policy your preparer chose; repeat as needed."
        ),
    ] = None,
    yes: Yes = False,
) -> None:
    """Start a new book.

    Asks for what is not given, and for nothing with --yes.

    Enter alone takes what stands in brackets. Policies can be told later with blankbook policies.

    Policies are recorded as you tell them and never chosen for you. Ask whoever prepares your taxes.

    \b
    They are told as --policy NAME=VALUE:
      accounting   cash or accrual
      inventory    inventory, supplies or books
      freight      39 or 36: the line of Schedule C
      supplies     outside or inside (lines 35 and 41)
      samples      cost of goods or elsewhere
      bank fees    landed or expense
      counts       yearly, quarterly or monthly
      reversals    no or yes

    \b
    Example:
      blankbook --book shop.blankbook start --name "Shop" --currency USD --first-month 2026-01 --yes
    """
    path = _new_path(context)
    asking = is_asking() and not yes
    this_month = today().strftime("%Y-%m")
    named = _answer(name, "Shop name", OWN_SHOP if asking else "", asking, _read_name)
    code = _answer(currency, "Currency (ISO 4217)", DOLLARS, asking, read_currency)
    month = _answer(first_month, "First month the book holds", this_month, asking, _read_month)
    taxed_in = _country(country, code, asking=asking)
    tells = asking and typer.confirm(PREPARER_QUESTION, default=False, err=True)
    # Most makers' tax year is the calendar's: it is asked with what the preparer said, and where it is told apart.
    asks_year = asking and (tells or taxed_in != UNITED_STATES)
    shop = {
        "name": named,
        "currency": code,
        "first_month": month,
        "country": taxed_in,
        "tax_year_starts": _answer(
            tax_year_starts, "Month the tax year begins", "01", asks_year, _read_year_start
        ),
    }
    policies = _policies(policy or [], asking=tells, country=shop["country"])
    say(f"A new book at {path} for {shop['name']}, in {shop['currency']}, from {shop['first_month']} on.")
    if asking:
        say(f"  taxed in {taxed_in}, where its tax year begins with month {shop['tax_year_starts']}")
    for key in POLICIES:
        if key in policies or key in policies_for(shop["country"]):
            say(f"  {key}: {policies.get(key, UNTOLD)}")
    say("Policies are recorded as told. They are records, not tax advice; ask a licensed preparer.")
    if not agree(
        "Start this book?", yes=yes, dry_run=False, refused="no book was started", is_enter_yes=True
    ):
        return
    connection = create(path)
    try:
        with write_tx(connection):
            write_shop(connection, shop, policies, now())
        publish(connection, path)
    finally:
        connection.close()
        discard(path)
    say(f"Started {path}. Next: {typed(context, 'items template items.xlsx')}, or receive a shipment.")


def _new_path(context: typer.Context) -> Path:
    """Return where the new book goes; named with --book or the variable."""
    named = context.find_root().params.get("book") or os.environ.get(BOOK_VARIABLE)
    path = Path(named) if named else Path(f"shop{BOOK_SUFFIX}")
    if path.exists():
        raise UsageError(f"{path} exists already. Name a new file: blankbook --book FILE start.")
    return path


def _country(given: str | None, currency: str, *, asking: bool) -> str:
    """Return where the shop is taxed; the United States untold only where the book is in their dollars."""
    if given is None and currency != DOLLARS and not asking:
        raise UsageError(
            f"say in which country the shop is taxed: add --country and its two letters by ISO 3166. A book in "
            f"{currency} is not taken for one of the United States."
        )
    default = "US" if currency == DOLLARS else ""
    return _answer(given, "Country the shop is taxed in (ISO 3166)", default, asking, _read_country)


def _answer(given: str | None, question: str, default: str, asking: bool, read: object) -> str:
    """Return an option's value, or the answer to a question, or the default without anybody to ask."""
    reader = read if callable(read) else str
    if given is not None:
        return str(reader(given))
    if asking:
        return str(ask(question, default, read=reader))
    if not default:
        raise UsageError(f'{question.lower()} is missing: add --name "…".')
    return str(reader(default))


def _policies(given: list[str], *, asking: bool, country: str) -> dict[str, str]:
    """Return the policies that were told: as given, then as answered; the rest stays untold."""
    told: dict[str, str] = {}
    for text in given:
        key, _, value = (part.strip().casefold() for part in text.partition("="))
        if key not in POLICIES or value not in POLICIES[key][0]:
            known = "; ".join(f"{name} = {' or '.join(values)}" for name, (values, _) in POLICIES.items())
            raise UsageError(f"'{text}' is not a policy and one of its values. There are: {known}.")
        told[key] = value
    if asking:
        for key, (values, meaning) in policies_for(country).items():
            if key not in told:
                say(meaning)
                answer = ask(
                    f"  {key} ({' / '.join(values)} / not told)", UNTOLD, read=_one_of((*values, UNTOLD))
                )
                if answer != UNTOLD:
                    told[key] = answer
    return {key: told[key] for key in POLICIES if key in told}


def _one_of(values: tuple[str, ...]) -> object:
    def read(text: str) -> str:
        value = text.strip().casefold()
        if value not in values:
            raise ValueProblem(f"'{text}' is none of {', '.join(values)}.")
        return value

    return read


def _read_name(text: str) -> str:
    name = " ".join(text.split())
    if not 1 <= len(name) <= 200:  # noqa: PLR2004  (the schema's limit)
        raise ValueProblem("the shop's name needs 1 to 200 characters.")
    return name


def _read_month(text: str) -> str:
    if not _MONTH.fullmatch(text.strip()):
        raise ValueProblem(f"'{text}' is not a month like 2026-01.")
    return text.strip()


def _read_country(text: str) -> str:
    country = read_country(text)
    if not country:
        raise ValueProblem("the country is missing: use its two letters by ISO 3166, like US.")
    return country


def _read_year_start(text: str) -> str:
    if text.strip().zfill(2) not in {f"{month:02d}" for month in range(1, 13)}:
        raise ValueProblem(f"'{text}' is not a month from 01 to 12.")
    return text.strip().zfill(2)

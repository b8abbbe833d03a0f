"""`blankbook charge`: a freight, duty or fee bill that comes after the goods."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

import typer

from ledger.book.charging import find_targets, post_charge, prepare_charge, preview_late
from ledger.book.late_bills import late_shares
from ledger.book.shop import read_shop
from ledger.cli import completing
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
from ledger.cli.posting_rows import say_changes
from ledger.errors import InputErrors, Problem, UsageError
from ledger.intake.charge_words import read_charge
from ledger.intake.foreign_rate import used_rate
from ledger.intake.resolve import charge_wish
from ledger.views import receipts

LONGEST_NUMBER = 15
"""Digits of a document's number, beyond which there is none."""

_NOUNS = ("receipt", "shipment", "ship")
"""What a receipt's or a shipment's number may be typed behind, the longer word first."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(charge)


def charge(
    context: typer.Context,
    words: Annotated[str, typer.Argument(metavar="WORDS", help='Like "freight 182.40 by weight".')],
    on: Annotated[
        list[str] | None,
        typer.Option(
            "--on", metavar="RECEIPT", help="The receipt's or shipment's number; repeat for several."
        ),
    ] = None,
    party: Annotated[
        str, typer.Option("--party", help="Who sent the bill.", autocompletion=completing.parties)
    ] = "",
    reference: Annotated[str, typer.Option("--reference", help="The bill's own number.")] = "",
    date: Annotated[str | None, typer.Option("--date", help="The bill's date; today if left out.")] = None,
    rate: Annotated[str, typer.Option("--rate", help="Book currency per unit of a foreign bill's.")] = "",
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Add a freight, duty or fee bill.

    It falls on receipts that are in the book, or on goods under way; shows every line's share, then
    asks. For goods whose month is closed it comes late: on its own date, where they are then.

    Kinds: freight, insurance, duty, entry_fee, brokerage, terminal, delivery, bank_fee, tax,
    discount, other; goods gives the price of what came in without one. Spread by value,
    quantity, weight or volume.

    \b
    Example:
      blankbook charge "brokerage 85.00 by value" --on 15 --party "Harrowgull Customs Brokers" --reference HG-5577
    """
    numbers = _numbers(on or [])
    asked = read_charge(words)
    asked = replace(asked, party=party or asked.party, reference=reference or asked.reference)
    day = day_option(date) or today()
    with writing(context) as connection:
        book_currency = read_shop(connection).currency
        currency = asked.currency or book_currency
        used = used_rate(currency, book_currency, rate, day)
        if used.remark:
            say(used.remark)
        skus = [target.sku for target in find_targets(connection, numbers)]
        problems: list[Problem] = []
        wish = charge_wish(asked, skus, book_currency, (currency, used), problems)
        if wish is None or problems:
            raise InputErrors("this charge", problems)
        plan = prepare_charge(connection, wish, numbers, day, today())
        late = preview_late(connection, plan, now())
        preview = receipts.charge_preview(plan, late)
        if json:
            say(preview)
        else:
            show(preview)
        if not agree("Post this charge?", yes=yes, dry_run=dry_run):
            if json:
                show_json(receipts.charge_as_data(plan, None, late))
            return
        recorded = post_charge(connection, plan, now())
        number = recorded.numbers[0]
        late = late_shares(connection, number)
    say_changes(recorded, plan.shop.currency)
    if json:
        show_json(receipts.charge_as_data(plan, number, late))
    say(
        f"Posted charge {number}. Look: {typed(context, f'show {number}')}. "
        f'Take it back: {typed(context, f"undo {number}")} --why "…"'
    )


def _numbers(texts: list[str]) -> list[int]:
    """Return numbers of receipts or shipments typed as 12, 'receipt 12' or 'shipment 12', several with commas."""
    numbers = []
    for text in ",".join(texts).split(","):
        word = text.strip().casefold()
        for noun in _NOUNS:
            word = word.removeprefix(noun).strip()
        if not word:
            continue
        if not word.isascii() or not word.isdecimal():
            raise UsageError(f"'{text.strip()}' is not the number of a receipt or a shipment.")
        if len(word) > LONGEST_NUMBER:
            raise UsageError(f"--on '{text}': no document has such a number. See: blankbook history")
        numbers.append(int(word))
    if not numbers:
        raise UsageError("say which receipt the bill is for: --on 12. See: blankbook history")
    return sorted(set(numbers))

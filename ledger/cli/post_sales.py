"""Posting a sales export from the command line: its profile, what is set aside and skipped, its totals."""

from __future__ import annotations

from dataclasses import dataclass

import typer

from ledger.book.shop import read_shop
from ledger.cli.common import book_path, reading, say, show, show_json
from ledger.cli.posting_rows import Answers, post_rows, working
from ledger.cli.source_file import Source
from ledger.intake.read_sales import SalesOptions, read_sales
from ledger.intake.resolve_events import EventOptions
from ledger.intake.sales import SalesDraft
from ledger.intake.sales_overlap import skip_posted
from ledger.intake.sales_profile import find_sales_profile, load_sales_profile
from ledger.views.sales import sales_as_data, sales_text


@dataclass(frozen=True, slots=True)
class SalesWish:
    """A sales export as it was named: its file, the profile's name or path, the channel's name."""

    file: Source
    profile: str
    party: str = ""
    allow_short: bool = False


def post_sales(context: typer.Context, wish: SalesWish, answers: Answers) -> None:
    """Read a sales export, leave out what the book has, show what it holds, ask and post it."""
    profile = load_sales_profile(find_sales_profile(wish.profile, book_path(context)))
    with reading(context) as connection:
        currency = read_shop(connection).currency
        with working(f"Reading {wish.file.name}"):
            options = SalesOptions(party=wish.party, book_currency=currency)
            draft = skip_posted(connection, read_sales(wish.file.read(), profile, options))
    _show(draft, currency, answers)
    more = {"sales": {**sales_as_data(draft, currency), "remarks": list(draft.remarks)}}
    if not draft.rows:
        if answers.json:
            show_json({"documents": [], "changes": [], "currency": currency, "remarks": [], **more})
        say("Nothing to post.")
        return
    events = EventOptions(allow_short=wish.allow_short, source=draft.source_name)
    post_rows(context, draft.rows, events, answers, more=more)


def _show(draft: SalesDraft, currency: str, answers: Answers) -> None:
    for remark in draft.remarks:
        say(f"{remark[:1].upper()}{remark[1:]}.")
    text = sales_text(draft, currency)
    if answers.json:
        say(text)
    elif text:
        show(f"{text}\n")

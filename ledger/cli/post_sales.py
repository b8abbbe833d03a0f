"""Posting a sales export from the command line: its profile, what is set aside and skipped, its totals."""

from __future__ import annotations

import contextlib
import sqlite3
from dataclasses import dataclass, field

import typer

from ledger.book.alias_store import CODE, Alias, change_aliases
from ledger.book.catalogue_store import ensure_party, find_items
from ledger.book.connect import write_tx
from ledger.book.row_sources import OrderedItem, find_ordered
from ledger.book.shop import read_shop
from ledger.cli.common import is_asking, now, reading, say, show, show_json, writing
from ledger.cli.post_proposed import ChosenProfile
from ledger.cli.posting_rows import Answers, post_rows
from ledger.cli.source_file import Source
from ledger.cli.waiting import working
from ledger.exact.words import typed_word
from ledger.intake.nearest import fold
from ledger.intake.read_sales import SalesOptions, read_sales
from ledger.intake.resolve_events import EventOptions
from ledger.intake.sales import SalesDraft, with_rate
from ledger.intake.sales_items import SalesItems, find_sales_items, names_to_learn
from ledger.intake.sales_overlap import skip_posted
from ledger.intake.sales_skus import UnknownName
from ledger.views.sales import sales_as_data, sales_text


@dataclass(frozen=True, slots=True)
class SalesWish:
    """A sales export as it was named: its file, how it is read, the channel's name."""

    file: Source
    chosen: ChosenProfile
    party: str = ""
    allow_short: bool = False
    currency: str = ""
    """What the amounts of this file are in, whatever its profile says; '' for what that says."""
    rate: str = ""
    """One unit of it in the book's currency, as typed."""


def post_sales(context: typer.Context, wish: SalesWish, answers: Answers) -> None:
    """Read a sales export, leave out what the book has, show what it holds, ask and post it.

    Once it is posted, how it was read is saved and what the channel calls our items is learned.
    """
    profile = wish.chosen.profile
    asked = AskGoods() if is_asking() and not answers.yes else None
    with reading(context) as connection:
        currency = read_shop(connection).currency
        items = find_sales_items(connection, wish.party or profile.party)
        file = wish.file.read()
        with working(f"Reading {wish.file.name}") if asked is None else contextlib.nullcontext():
            options = SalesOptions(
                wish.party, currency, items, asked, currency=wish.currency, orders=BookOrdersOf(context)
            )
            draft = skip_posted(
                connection, with_rate(read_sales(file, profile, options), wish.rate, currency)
            )
    _show(draft, currency, answers)
    more = {"sales": {**sales_as_data(draft, currency), "remarks": list(draft.remarks)}}
    posted = not answers.dry_run
    if draft.rows:
        events = EventOptions(allow_short=wish.allow_short, source=draft.source_name)
        posted = post_rows(context, draft.rows, events, answers, more=more)
    else:
        if answers.json:
            show_json({"documents": [], "changes": [], "currency": currency, "remarks": [], **more})
        say("Nothing to post.")
    if posted:
        wish.chosen.keep()
        _learn(context, draft, items, {} if asked is None else asked.answers)
    else:
        wish.chosen.say_not_kept()


@dataclass
class BookOrdersOf:
    """What the book knows of the orders of channels, each channel's looked up once and only if it is asked."""

    context: typer.Context
    _known: dict[str, dict[str, tuple[OrderedItem, ...]]] = field(default_factory=dict)

    def __call__(self, party: str, order: str) -> tuple[OrderedItem, ...]:
        """Return what an order was sold, empty where the book does not know it."""
        if party not in self._known:
            with reading(self.context) as connection:
                self._known[party] = find_ordered(connection, party)
        return self._known[party].get(order, ())


@dataclass
class AskGoods:
    """Asks which item a channel's name means; the answers are learned once the export is posted."""

    answers: dict[str, str] = field(default_factory=dict)

    def __call__(self, name: UnknownName, where: str, items: SalesItems) -> str:
        """Return the SKU, empty where the person leaves it open."""
        guesses = items.nearest(name.text)
        say(f"{where}: what is {items.party or 'the shop or marketplace'}'s '{name.word}'?")
        for number, guess in enumerate(guesses, 1):
            say(f"  {number}  {guess.sku}  {guess.name} ({guess.confidence}%)")
        while True:
            answer = typer.prompt(
                "A number, an SKU, or Enter to leave it", default="", show_default=False, err=True
            )
            answer = str(answer).strip()
            if answer.isdecimal() and 1 <= int(answer) <= len(guesses):
                answer = guesses[int(answer) - 1].sku
            if not answer or answer in items.items:
                break
            say(f"The book has no item {answer}.")
        if answer:
            self.answers[name.word] = answer
        return answer


def _learn(context: typer.Context, draft: SalesDraft, items: SalesItems, answered: dict[str, str]) -> None:
    """Teach the book what the channel calls our items: what was answered, and what stood beside a SKU."""
    if not draft.party:
        return
    told = [Alias(items.party, CODE, word, sku) for word, sku in answered.items()]
    known = {fold(each.word) for each in told}
    told += [each for each in names_to_learn(draft.names, items) if fold(each.word) not in known]
    if not told:
        return
    with writing(context) as connection, write_tx(connection):
        step = _taught(connection, draft.party, told)
    if step:
        name = typed_word(draft.party)
        say(
            f"Learned what {draft.party} calls our items. See: blankbook aliases --party {name}. Take it back: "
            f"blankbook aliases undo {step}"
        )


def _taught(connection: sqlite3.Connection, party: str, told: list[Alias]) -> int:
    there = find_items(connection)
    name = ensure_party(connection, party, "customer")
    taught = [Alias(name, CODE, each.word, each.meaning) for each in told if each.meaning in there]
    return change_aliases(connection, taught, now())


def _show(draft: SalesDraft, currency: str, answers: Answers) -> None:
    for remark in draft.remarks:
        say(f"{remark[:1].upper()}{remark[1:]}.")
    text = sales_text(draft, currency)
    if answers.json:
        say(text)
    elif text:
        show(f"{text}\n")

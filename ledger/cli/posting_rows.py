"""Posting event rows from the command line: preview, question, posting, and what to do next."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import typer

from ledger.book.catalogue_store import find_items
from ledger.book.entries import Entries
from ledger.book.posting import Posted, post_entries
from ledger.book.recosting import Recorded
from ledger.book.shop import read_shop
from ledger.cli.common import agree, now, say, show, show_json, today, typed, writing
from ledger.cli.waiting import working
from ledger.intake.events import EventRow
from ledger.intake.resolve_events import EventOptions, resolve_events
from ledger.views import postings

PreviewText = Callable[[Posted, str, Mapping[str, str]], str]
"""What makes a preview of a posting, the book's currency and the base units by SKU."""


@dataclass(frozen=True, slots=True)
class Answers:
    """How a command is to ask and answer."""

    yes: bool
    dry_run: bool
    json: bool


def post_rows(
    context: typer.Context,
    rows: Sequence[EventRow],
    options: EventOptions,
    answers: Answers,
    *,
    more: Mapping[str, Any] | None = None,
) -> bool:
    """Resolve rows, show what they would do, ask, post them, and say what was posted.

    ``more`` is added to the JSON document. Returns whether they were posted.
    """
    with writing(context) as connection, working(f"Reading {len(rows):,} rows"):
        entries = resolve_events(connection, rows, options)
    return post_resolved(context, entries, options.source, answers, more=more)


def post_resolved(
    context: typer.Context,
    entries: Entries,
    source: str,
    answers: Answers,
    *,
    more: Mapping[str, Any] | None = None,
    text: PreviewText | None = None,
) -> bool:
    """Show what entries would do, ask, post them, and say what was posted. Returns whether they were.

    ``text`` makes the preview in place of the usual table.
    """
    with writing(context) as connection:
        currency = read_shop(connection).currency
        posted: Posted | None = None
        if not answers.yes or answers.dry_run:
            with working("Working out the costs"):
                posted = _post(connection, entries, source, keep=False)
            _show(connection, posted, (entries, text), currency, answers)
            if not agree("Post this?", yes=False, dry_run=answers.dry_run):
                if answers.json:
                    data = postings.posting_as_data(posted, currency, entries.remarks, kept=False)
                    show_json({**data, **(more or {})})
                return False
        with working("Posting"):
            kept = _post(connection, entries, source, keep=True)
        if posted is None:
            _show(connection, kept, (entries, text), currency, answers)
    if answers.json:
        show_json({**postings.posting_as_data(kept, currency, entries.remarks, kept=True), **(more or {})})
    say(_posted_words(context, kept))
    return True


def _post(connection: sqlite3.Connection, entries: Entries, source: str, *, keep: bool) -> Posted:
    return post_entries(connection, entries, today=today(), now=now(), source=source, keep=keep)


def _show(
    connection: sqlite3.Connection,
    posted: Posted,
    said: tuple[Entries, PreviewText | None],
    currency: str,
    answers: Answers,
) -> None:
    entries, own_text = said
    skus = {line.sku for document in posted.documents for line in document.lines if line.sku}
    # An item that comes in with the sheet is not in the book while the posting is only shown.
    units = {item.sku: item.base_unit for item in entries.new_items}
    units |= {sku: item.base_unit for sku, item in find_items(connection, skus).items()}
    if own_text is not None:
        text = own_text(posted, currency, units)
    elif {document.event for document in posted.documents} == {"count"}:
        text = postings.count_text(posted, currency, units)
    else:
        text = postings.posting_text(posted, currency, entries.remarks, units)
    if answers.json:
        say(text)
    else:
        show(text)


def say_changes(recorded: Recorded, currency: str) -> None:
    """Say which earlier documents cost something else now."""
    text = postings.changes_text(recorded.changes, currency)
    if text:
        say(text)


def _posted_words(context: typer.Context, posted: Posted) -> str:
    numbers = [document.number for document in posted.documents]
    if len(numbers) == 1:
        event = posted.documents[0].event
        return (
            f"Posted {event} {numbers[0]}. Look: {typed(context, f'show {numbers[0]}')}. "
            f'Take it back: {typed(context, f"undo {numbers[0]}")} --why "…"'
        )
    if len(numbers) == 2:  # noqa: PLR2004  (made to order: a job and its sale)
        names = " and ".join(f"{one.event} {one.number}" for one in posted.documents)
        return (
            f"Posted {names}. Look: {typed(context, f'show {numbers[-1]}')}. "
            f'Take both back: {typed(context, f"undo {numbers[1]} {numbers[0]}")} --why "…"'
        )
    return f"Posted {len(numbers):,} documents, {numbers[0]} to {numbers[-1]}. Look: {typed(context, 'history')}."

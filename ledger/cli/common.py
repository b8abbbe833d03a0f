"""What every command shares: the book, the options, asking, printing."""

from __future__ import annotations

import contextlib
import datetime
import json
import os
import sqlite3
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any

import typer

from ledger.book.connect import WAITING, explain, open_reading, open_writing
from ledger.book.drafts import is_kept
from ledger.book.unsafe_places import place_warnings
from ledger.cli import clock
from ledger.cli.commands import NAMED_BOOK, with_named_book
from ledger.errors import BlankbookError, BookMissing, Refused, UsageError, ValueProblem, fit_to_show
from ledger.exact.words import typed_word

BOOK_VARIABLE = "BLANKBOOK_BOOK"
BOOK_SUFFIX = ".blankbook"

MOST_NUMBER = 10**15
LAST_YEAR = 2999
"""A later year is a slip, and leaves no room for the days that are counted on from it."""

Json = Annotated[bool, typer.Option("--json", help="Print one JSON document instead of tables.")]
Yes = Annotated[bool, typer.Option("--yes", help="Post without asking.")]
DryRun = Annotated[bool, typer.Option("--dry-run", help="Only show what would be posted.")]


def read_date(text: str) -> datetime.date:
    """Return a date typed on the command line as 2026-03-31.

    Raises UsageError where it is none, or later than LAST_YEAR.
    """
    try:
        # Only the long form: datetime would also read 20260331 and week dates.
        day = datetime.datetime.strptime(text.strip(), "%Y-%m-%d").date()  # noqa: DTZ007
    except ValueError as error:
        shown = fit_to_show(" ".join(text[:40].split()))
        raise UsageError(f"'{shown}' is not a date: write it like 2026-03-31.") from error
    if day.year > LAST_YEAR:
        raise UsageError(f"'{day}' is beyond {LAST_YEAR}: correct the year.")
    return day


def check_number(number: int | None, what: str) -> None:
    """Raise UsageError for a number that is too long for any document, decision or change to have it."""
    if number is not None and abs(number) > MOST_NUMBER:
        raise UsageError(f"{what}: nothing in a book has the number {number}.")


def day_option(text: str | None) -> datetime.date | None:
    """Return an optional date option's value, or None where it was not given."""
    return None if not text else read_date(text)


def book_path(context: typer.Context, without: Path | None = None) -> Path:
    """Return the book's path: --book, else BLANKBOOK_BOOK, else the only book in this folder.

    Books that were kept when another took their place do not count, nor does ``without``.
    """
    named = context.find_root().params.get("book") or os.environ.get(BOOK_VARIABLE)
    if named:
        return Path(named)
    found = [
        path
        for path in sorted(Path.cwd().glob(f"*{BOOK_SUFFIX}"))
        if not is_kept(path) and (without is None or path.resolve() != without.resolve())
    ]
    if not found:
        way_out = (
            f"Start one with: blankbook --book shop{BOOK_SUFFIX} start, or name it with --book."
            if without is None
            else f"Say where it is to lie: blankbook --book shop{BOOK_SUFFIX} restore {typed_word(str(without))}"
        )
        raise BookMissing(f"no book was named and there is none in this folder. {way_out}")
    if len(found) > 1:
        names = ", ".join(path.name for path in found)
        raise UsageError(f"there are several books in this folder ({names}). Name one with --book.")
    return found[0]


def typed(context: typer.Context, words: str) -> str:
    """Return a command as the maker would type it from here, naming the book as they did."""
    return with_named_book(f"blankbook {words}", context.find_root().params.get("book") or "")


@contextlib.contextmanager
def reading(context: typer.Context) -> Iterator[sqlite3.Connection]:
    """Open the book read-only for the block, which sees one state of it even while others post."""
    yield from _opened(context, writing=False)


@contextlib.contextmanager
def writing(context: typer.Context) -> Iterator[sqlite3.Connection]:
    """Open the book for posting in the block."""
    yield from _opened(context, writing=True)


def _opened(context: typer.Context, *, writing: bool) -> Iterator[sqlite3.Connection]:
    path = book_path(context)
    WAITING.tell = _say_waiting
    connection = open_writing(path) if writing else open_reading(path)
    try:
        if writing:
            say_of_place(path)
        else:
            connection.execute("BEGIN")
        yield connection
    except sqlite3.Error as error:
        raise explain(error, path) from error
    except UnicodeEncodeError as error:
        # What is typed in another encoding reaches us as halves of letters, which the book does not hold.
        raise ValueProblem(
            "something typed holds letters in an encoding other than UTF-8: type it anew, or in plain letters."
        ) from error
    finally:
        connection.close()


def _say_waiting() -> None:
    say("Waiting for another command on this book to finish…")


def say_of_place(path: Path) -> None:
    """Warn where the book lies in a folder that is not safe for it to be written in."""
    for text in place_warnings(path):
        say(text)


def say(text: str = "") -> None:
    """Print a message for the maker on stderr, where it does not disturb data."""
    typer.echo(_printed(text), err=True)


def show(text: str) -> None:
    """Print a table or another result on stdout."""
    _put(_printed(text))


def _put(text: str) -> None:
    try:
        typer.echo(text)
    except BrokenPipeError:
        raise
    except OSError as error:
        raise BlankbookError(
            f"what is to be shown could not be written: {error.strerror}. Make room where it goes, and look at "
            "what stands in the book before you post anything again: blankbook history"
        ) from error


def _printed(text: str) -> str:
    """Return a text as it is printed: fit for a terminal, its commands naming the book as this call did."""
    return naming_book(fit_to_show(text))


def naming_book(text: str) -> str:
    """Return a text whose commands name the book as this call did."""
    return with_named_book(text, NAMED_BOOK.get())


def show_json(value: Any) -> None:
    """Print one JSON document on stdout."""
    _put(json.dumps(value, indent=2, ensure_ascii=False))


def is_asking() -> bool:
    """Whether there is somebody to ask."""
    return sys.stdin.isatty()


def agree(
    question: str,
    *,
    yes: bool,
    dry_run: bool,
    refused: str = "nothing was posted",
    is_enter_yes: bool = False,
) -> bool:
    """Return whether to post: --yes, or a yes at the prompt; False for --dry-run.

    ``is_enter_yes`` makes Enter alone a yes. Raises Refused where nobody can be asked or the answer is no.
    """
    if dry_run:
        say("Nothing was posted: this was a dry run.")
        return False
    if yes:
        return True
    if not is_asking():
        raise Refused(f"{refused}: there is nobody to ask. Add --yes to post, or --dry-run to look.")
    if not typer.confirm(question, default=is_enter_yes, err=True):
        raise Refused(f"{refused}.")
    return True


def ask(question: str, default: str, *, read: Any = str) -> Any:
    """Ask until the answer can be read; the default stands in brackets."""
    while True:
        answer = typer.prompt(question, default=default, show_default=bool(default), err=True)
        try:
            return read(answer)
        except (ValueProblem, UsageError) as problem:
            say(str(problem))


def today() -> datetime.date:
    """Return today's date by the program's clock."""
    return clock.today()


def now() -> str:
    """Return the present moment as documents record it."""
    return clock.now()

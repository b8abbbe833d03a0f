"""`blankbook` alone: where the book stands, and what is worth doing next."""

from __future__ import annotations

import typer

from ledger.book.at_a_glance import at_a_glance
from ledger.cli.common import BOOK_SUFFIX, book_path, reading, show, today, typed
from ledger.errors import BookMissing
from ledger.views.at_a_glance import glance_text

NO_BOOK = f"""There is no book in this folder yet.

  {"blankbook tour":<42}a sample shop to look at, in a folder of its own
  {f"blankbook --book shop{BOOK_SUFFIX} start":<42}your own book
  {"blankbook --help":<42}every command"""


def show_glance(context: typer.Context) -> None:
    """Print where the book stands; without a book, how to begin.

    Raises UsageError where there are several books to choose from, BookMissing where a named one is not there.
    """
    try:
        path = book_path(context)
    except BookMissing:
        show(NO_BOOK)
        return
    with reading(context) as connection:
        show(glance_text(at_a_glance(connection, today()), path.name, lambda words: typed(context, words)))

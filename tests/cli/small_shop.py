"""A new book, and the command line around it, for tests of single commands."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.testing import CliRunner

from ledger.book.connect import create, publish, write_tx
from ledger.book.shop import write_shop

SHOP = {
    "name": "Pebble Lane Prints",
    "currency": "USD",
    "country": "US",
    "first_month": "2026-01",
    "tax_year_starts": "01",
}


def new_book(path: Path, name: str = SHOP["name"]) -> Path:
    """Return the path of a new book without anything in it."""
    connection = create(path)
    with write_tx(connection):
        write_shop(connection, {**SHOP, "name": name}, {}, "2026-01-02T10:00:00Z")
    publish(connection, path)
    return path


@dataclass(frozen=True)
class Outcome:
    """What a command printed on either stream, its exit code, and the error it ended with."""

    code: int
    out: str
    err: str
    error: BaseException | None

    @property
    def data(self) -> Any:
        """The JSON document on stdout."""
        return json.loads(self.out)


@dataclass(frozen=True)
class Commands:
    """One command of blankbook in this process, with a book of its own."""

    register: Callable[[typer.Typer], None]
    book: Path

    def __call__(self, *arguments: str, typed: str = "") -> Outcome:
        """Run the command with these words."""
        app = typer.Typer(rich_markup_mode=None, pretty_exceptions_enable=False)

        @app.callback()
        def root(book: Annotated[str | None, typer.Option("--book")] = None) -> None:
            """Take --book as the real command does."""

        self.register(app)
        result = CliRunner().invoke(app, ["--book", str(self.book), *arguments], input=typed)
        return Outcome(result.exit_code, result.stdout, result.stderr, result.exception)

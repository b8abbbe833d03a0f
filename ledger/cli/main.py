"""The command `blankbook`: puts the commands together and turns errors into words and exit codes."""

from __future__ import annotations

import io
import sqlite3
import sys
from typing import Annotated

import typer

from ledger import __version__
from ledger.cli import charge, items, look, proving, receive, start, stock, suppliers, tour, undo
from ledger.errors import BlankbookError

app = typer.Typer(
    name="blankbook",
    no_args_is_help=True,
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["--help", "-h"]},
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"blankbook {__version__}")
        raise typer.Exit


@app.callback()
def blankbook(
    book: Annotated[
        str | None,
        typer.Option(
            "--book", metavar="FILE", help="The book; else $BLANKBOOK_BOOK, else the only one here."
        ),
    ] = None,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """The stock book of a home T-shirt shop: what came in, what it cost landed, what is there.

    Start with: blankbook tour
    """


start.register(app)
tour.register(app)
items.register(app)
suppliers.register(app)
receive.register(app)
charge.register(app)
undo.register(app)
stock.register(app)
look.register(app)
proving.register(app)


def run() -> None:
    """Run the command line; every expected error becomes one message and its exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A console in another encoding must not turn a product name into a traceback.
            stream.reconfigure(errors="replace")
    try:
        app()
    except BlankbookError as error:
        typer.echo(f"blankbook: {error}", err=True)
        sys.exit(error.exit_code)
    except KeyboardInterrupt:
        typer.echo("blankbook: interrupted; nothing was posted.", err=True)
        sys.exit(130)
    except sqlite3.Error as error:
        typer.echo(f"blankbook: the book could not be used ({type(error).__name__}).", err=True)
        sys.exit(1)

"""The command `blankbook`: finds each command's module, and turns errors into words and exit codes.

A command's module is imported when the command is called: looking at stock does not wait for
what reads spreadsheets.
"""

from __future__ import annotations

import importlib
import io
import os
import sys
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from ledger import __version__
from ledger.cli.commands import MODULES, NAMED_BOOK, with_named_book
from ledger.cli.help_words import name_values
from ledger.errors import BlankbookError


class Commands(TyperGroup):
    """The commands by name, imported one by one."""

    def __init__(self, **attributes: Any) -> None:
        super().__init__(**attributes)
        # The names alone: what is not a command gets the nearest of them suggested.
        self.commands = dict.fromkeys(MODULES)  # type: ignore[assignment]

    def list_commands(self, ctx: Any) -> list[str]:
        """Return the names of all commands in the order of the help."""
        del ctx
        return list(MODULES)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Return a command, importing the module that holds it; None where there is none."""
        if cmd_name not in MODULES:
            return super().get_command(ctx, cmd_name)
        module = importlib.import_module(f"ledger.cli.{MODULES[cmd_name]}")
        holder = typer.Typer(rich_markup_mode=None)
        module.register(holder)
        return name_values(typer.main.get_group(holder).commands[cmd_name])

    def invoke(self, ctx: Any) -> Any:
        """Run the command; what it prints, and an error's message, name the book that was named."""
        book = ctx.params.get("book") or ""
        token = NAMED_BOOK.set(book)
        try:
            return super().invoke(ctx)
        except BlankbookError as error:
            error.named_book = book
            raise
        finally:
            NAMED_BOOK.reset(token)


app = typer.Typer(
    cls=Commands,
    name="blankbook",
    invoke_without_command=True,
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
    context: typer.Context,
    book: Annotated[  # noqa: ARG001  (commands read it from the context)
        str | None,
        typer.Option(
            "--book", metavar="FILE", help="The book; else $BLANKBOOK_BOOK, else the only one here."
        ),
    ] = None,
    version: Annotated[  # noqa: ARG001  (its callback answers)
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """The stock book of a home T-shirt shop: what came in, what it cost landed, what is there.

    Alone it says where your book stands and what is worth doing next. To begin: blankbook tour
    """
    if context.invoked_subcommand is None:
        from ledger.cli.at_a_glance import show_glance  # noqa: PLC0415  (no command needs it)

        show_glance(context)


def run() -> None:
    """Run the command line; every expected error becomes one message and its exit code."""
    _open_what_is_closed()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # A console in another encoding must not turn a product name into a traceback.
            stream.reconfigure(errors="replace")
    try:
        app()
    except BlankbookError as error:
        typer.echo(with_named_book(f"blankbook: {error}", error.named_book), err=True)
        sys.exit(error.exit_code)
    except KeyboardInterrupt:
        typer.echo("blankbook: interrupted; nothing was posted.", err=True)
        sys.exit(130)
    except Exception as error:  # noqa: BLE001  (the last place where anything can be told)
        typer.echo(f"blankbook: {_unexpected(error)}", err=True)
        sys.exit(1)


def _open_what_is_closed() -> None:
    """Put an empty stream where the caller closed one: nobody is asked there, and nothing is shown."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, Path(os.devnull).open(mode, encoding="utf-8"))  # noqa: SIM115  (as long as the process)


def _unexpected(error: Exception) -> str:
    """Return the line for a failure nobody foresaw; a report of it is written."""
    from ledger.cli.unexpected import report_unexpected, typed_options  # noqa: PLC0415  (seldom needed)

    typed = sys.argv[1:]
    command = next((word for word in typed if word in MODULES), "")
    known: set[str] = {"--book"}
    if command:
        found = typer.main.get_command(app).get_command(None, command)  # type: ignore[attr-defined]
        known |= {name for parameter in found.params for name in parameter.opts}
    return report_unexpected(error, command, typed_options(typed, frozenset(known)))

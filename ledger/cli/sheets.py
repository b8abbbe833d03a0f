"""What items, suppliers, bills, quotes and duties share: a list, and a sheet that is loaded or written blank."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Generic, Protocol, TypeVar

import typer

from ledger.book.connect import write_tx
from ledger.cli.common import agree, reading, say, show, show_json, writing
from ledger.errors import Refused, UsageError
from ledger.exact.words import listed, typed_word
from ledger.intake.templates import write_template

BOOK_CHANGED = "the book changed while you were asked. Nothing was changed; run the command again."

NewWorkbook = Annotated[
    str, typer.Argument(metavar="FILE", help="The workbook to write; it must not be there yet.")
]


class SheetPlan(Protocol):
    """What loading a sheet would do to the book."""

    @property
    def is_empty(self) -> bool:
        """Whether the book already says all that the sheet says."""


class ReadSheet(Protocol):
    """A sheet as it was read: the file's name, and what is to be said of it."""

    @property
    def name(self) -> str:
        """The file's name."""

    @property
    def remarks(self) -> tuple[str, ...]:
        """What was skipped or taken for granted."""


_Plan = TypeVar("_Plan", bound=SheetPlan)


@dataclass(frozen=True)
class SheetJob(Generic[_Plan]):
    """One loading of a sheet: how it is planned, shown and saved, and what is asked.

    ``plan`` is made again inside the writing transaction: what is saved is what was shown.
    """

    said: ReadSheet
    plan: Callable[[sqlite3.Connection], _Plan]
    text: Callable[[_Plan], str]
    as_data: Callable[[_Plan, bool], Any]
    save: Callable[[sqlite3.Connection, _Plan], None]
    question: str


def add_group(
    app: typer.Typer, name: str, listing: Callable[..., None], *commands: Callable[..., None]
) -> typer.Typer:
    """Add a command that lists, with commands under it; return the group."""
    group = typer.Typer(no_args_is_help=False, rich_markup_mode=None)
    group.callback(invoke_without_command=True)(listing)
    for command in commands:
        group.command()(command)
    app.add_typer(group, name=name)
    return group


def is_listing(context: typer.Context, *options: tuple[str, object]) -> bool:
    """Return whether the plain list was asked for, and no command under it.

    Raises UsageError where options of the list, each with its value, stand before such a command.
    """
    below = context.invoked_subcommand
    if below is None:
        return True
    if any(value for _, value in options):
        names = [name for name, _ in options]
        belong = "belong" if names[1:] else "belongs"
        raise UsageError(
            f"{listed(names)} before '{below}' {belong} to the plain list: write it behind, as "
            f"'blankbook {context.info_name} {below} --help' says."
        )
    return False


def load_sheet(
    context: typer.Context, job: SheetJob[_Plan], *, yes: bool, dry_run: bool, json: bool
) -> _Plan | None:
    """Show what a sheet changes, ask, and save it; return the plan that was saved, None where none was."""
    with reading(context) as connection:
        plan = job.plan(connection)
    for remark in job.said.remarks:
        say(remark)
    (say if json else show)(job.text(plan))
    is_posted = not plan.is_empty and agree(job.question, yes=yes, dry_run=dry_run)
    if is_posted:
        with writing(context) as connection, write_tx(connection):
            if job.plan(connection) != plan:
                raise Refused(BOOK_CHANGED)
            job.save(connection, plan)
    if json:
        show_json(job.as_data(plan, is_posted))
    return plan if is_posted else None


def write_workbook(kind: str, file: str) -> None:
    """Write a blank sheet of that kind and say what comes next.

    Raises UsageError where the name does not end in .xlsx, or the file is there or cannot be written.
    """
    write_template(kind, Path(file))
    say(f"Wrote {file}. Fill it in, then: blankbook {kind} load {typed_word(file)}")

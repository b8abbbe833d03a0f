"""`blankbook tour`: the sample shop, built step by step with the real commands."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ledger.carried import carried
from ledger.cli import clock
from ledger.cli.common import say, show
from ledger.errors import BlankbookError, Refused, UsageError

if TYPE_CHECKING:
    from rich.progress import Progress

STEPS_FILE = "tour.toml"
WORTH_TRYING = 8
"""How many commands are named at the end, beside those that are shown."""
MOST_LINES = 12
"""How many lines of a command's output the tour shows, its tables left out; all of a step that shows them."""

_RULE = re.compile(r"-+( +-+)*")


@dataclass(frozen=True)
class Step:
    """One command of the tour: what it is for, its words behind --book, and whether its tables are shown."""

    title: str
    command: tuple[str, ...]
    shows: bool = False


@dataclass(frozen=True)
class Tour:
    """The tour of a shop: its book's name, the day it is told on, what is done and what to look at."""

    shop: str
    book: str
    as_of: str
    steps: tuple[Step, ...]
    looks: tuple[Step, ...]


@dataclass(frozen=True)
class Answer:
    """What a command said: its exit code, its results and messages as printed, and the messages alone."""

    code: int
    output: str
    messages: str


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(tour)


def tour(
    context: typer.Context,
    folder: Annotated[str, typer.Argument(metavar="[DIR]", help="An empty or a new folder.")] = "tour",
) -> None:
    """Walk through an invented shop.

    Builds its book from sample files, step by step, and shows what to look at.

    Every step is a real command, printed as you would type it. Takes less than a minute; delete the folder
    when you are done.

    \b
    Example:
      blankbook tour my-tour
    """
    if context.find_root().params.get("book"):
        raise UsageError("the tour makes a book of its own: leave --book out.")
    place = Path(folder)
    _copy_samples(place)
    told = read_tour(place / STEPS_FILE)
    show(f"{told.shop} is an invented shop. Its files are in {place}, its book is {place / told.book}.")
    _run_steps(told, place)
    _end(told, place)


def read_tour(path: Path) -> Tour:
    """Return the tour that a steps file tells."""
    table: dict[str, Any] = tomllib.loads(path.read_text("utf-8"))

    def steps(name: str) -> tuple[Step, ...]:
        return tuple(
            Step(each["title"], tuple(each["command"]), each.get("shows", False)) for each in table[name]
        )

    return Tour(table["shop"], table["book"], table["as_of"].isoformat(), steps("step"), steps("look"))


def _copy_samples(place: Path) -> None:
    """Copy the carried sample files into the folder, which must be empty or not there."""
    samples = carried("samples")
    if not (samples / STEPS_FILE).is_file():
        raise BlankbookError(f"the sample files are missing from {samples}. Install Blankbook again.")
    if place.exists() and not place.is_dir():
        raise Refused(f"{place} is a file. Name a folder: blankbook tour my-tour")
    try:
        if place.is_dir() and any(place.iterdir()):
            raise Refused(
                f"the folder {place} is not empty, and was left as it is. Delete it, or name another: "
                "blankbook tour my-tour"
            )
        shutil.copytree(
            samples, place, dirs_exist_ok=True, ignore=shutil.ignore_patterns("__pycache__", "pictures")
        )
    except shutil.Error as error:
        raise Refused(f"the sample files could not be copied to {place}. Name another folder.") from error
    except OSError as error:
        raise Refused(f"the folder {place} cannot be used: {error.strerror}. Name another.") from error


def _run_steps(told: Tour, place: Path) -> None:
    """Run the steps in order, with a bar on stderr that gives way to what each step says."""
    bar = _progress()
    task = bar.add_task("", total=len(told.steps))
    for number, step in enumerate(told.steps, start=1):
        arguments = _arguments(told, place, step)
        show(f"\n{number} of {len(told.steps)}. {step.title}\n   {command_line(arguments)}")
        bar.update(task, description=f"Step {number} of {len(told.steps)}")
        if bar.console.is_terminal:
            # Elsewhere the bar would only leave blank lines; the titles say how far it is.
            bar.start()
        try:
            answer = _run(arguments, told.as_of)
        finally:
            # The bar is taken away before anything is printed, so it never ends up among the results.
            bar.advance(task)
            bar.stop()
        _check(answer, f"step {number}, '{step.title}'", arguments)
        for line in answer.output.splitlines() if step.shows else condensed(answer.output):
            show(f"      {line}".rstrip())


def _progress() -> Progress:
    from rich.console import Console  # noqa: PLC0415  (slow to import)
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn  # noqa: PLC0415

    return Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TimeElapsedColumn(),
        console=Console(stderr=True),
        transient=True,
        redirect_stdout=False,
        redirect_stderr=False,
    )


def _end(told: Tour, place: Path) -> None:
    """Show the looks that are to be shown, the first where none is, and name those worth trying next."""
    shown = [look for look in told.looks if look.shows] or [*told.looks[:1]]
    for look in shown:
        arguments = _arguments(told, place, look)
        answer = _run(arguments, told.as_of)
        _check(answer, f"'{look.title}'", arguments)
        show(f"\n{look.title}\n   {command_line(arguments)}\n\n{answer.output.rstrip()}")
    show("\nWorth trying next:")
    for look in [look for look in told.looks if look not in shown][:WORTH_TRYING]:
        show(f"\n{look.title}\n   {command_line(_arguments(told, place, look))}")
    say(
        f"\nThe tour is done. Try the commands above, then read {place / 'about.md'}: it says what the files "
        f"hold and what each row must give. Delete {place} when you are done."
    )


def _arguments(told: Tour, place: Path, step: Step) -> list[str]:
    """Return the words of the command from where the maker stands: the tour's files by their path."""
    files = {path.name for path in place.iterdir()}
    words = [str(place / word) if word in files else word for word in step.command]
    return ["--book", str(place / told.book), *words]


def _run(arguments: Sequence[str], as_of: str) -> Answer:
    """Run one command as a process of its own, on the day the tour is told."""
    package_home = str(Path(__file__).resolve().parents[2])
    paths = [package_home, *filter(None, [os.environ.get("PYTHONPATH")])]
    environment = {
        **os.environ,
        # The samples lie in the past of the day they are told on; a slow clock must not refuse them.
        clock.VARIABLE: as_of,
        "PYTHONPATH": os.pathsep.join(paths),
        "PYTHONIOENCODING": "utf-8",
        "PYTHONUNBUFFERED": "1",
    }
    # -P: what lies in the maker's folder is never imported in place of a library.
    words = [sys.executable, "-P", "-m", "ledger", *arguments]
    done = subprocess.run(  # noqa: S603  (our own program, no shell)
        words,
        env=environment,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        errors="replace",
        check=False,
    )
    output = f"{done.stdout.rstrip()}\n\n{done.stderr.rstrip()}"
    return Answer(done.returncode, output.strip("\n"), done.stderr)


def _check(answer: Answer, what: str, arguments: Sequence[str]) -> None:
    """Raise Refused with the command's own message where it did not do what it should."""
    if answer.code != 0:
        message = answer.messages.strip().removeprefix("blankbook: ") or f"exit code {answer.code}"
        raise Refused(f"the tour stopped at {what}:\n  {command_line(arguments)}\n{message}")


def condensed(output: str) -> list[str]:
    """Return the lines of a command's output without its tables, each named by its number of rows."""
    lines: list[str] = []
    for paragraph in re.split(r"\n\s*\n", output.strip("\n")):
        rows = paragraph.splitlines()
        rules = [place for place, row in enumerate(rows) if _RULE.fullmatch(row)]
        if not rules:
            lines += rows
            continue
        # Above the first rule stands the heading; a second rule is followed by one line of totals.
        end = rules[1] if len(rules) > 1 else len(rows)
        count = end - rules[0] - 1
        lines += [*rows[: rules[0] - 1], f"(a table of {count} {'line' if count == 1 else 'lines'})"]
    if len(lines) <= MOST_LINES:
        return lines
    return [*lines[: MOST_LINES - 2], "…", lines[-1]]


def command_line(arguments: Sequence[str]) -> str:
    """Return the command as the maker types it, quoted for their shell."""
    words = [*_program(), *arguments]
    return subprocess.list2cmdline(words) if sys.platform == "win32" else shlex.join(words)


def _program() -> list[str]:
    """Return how the maker started this program: by its name where the shell finds it, else as typed."""
    started = Path(sys.argv[0])
    if started.name == "__main__.py":
        return [_found(sys.executable), "-m", "ledger"]
    if started.stem != "blankbook":
        # Started by a test or another program.
        return ["blankbook"]
    return [_found(sys.argv[0])]


def _found(typed: str) -> str:
    """Return the bare name where the shell would find this very file by it, else the path as typed."""
    name = _without_exe(Path(typed).name)
    there = shutil.which(name)
    is_found = there is not None and _without_exe(str(Path(there).absolute())) == _without_exe(
        str(Path(typed).absolute())
    )
    return name if is_found else typed


def _without_exe(name: str) -> str:
    # Windows adds .exe where the shell looks, and leaves it out where it tells how the program was started.
    return re.sub(r"\.exe\Z", "", name, flags=re.IGNORECASE)

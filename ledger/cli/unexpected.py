"""A failure nobody foresaw: one line for the maker, and a report of structure that holds none of their data.

The report names the command, versions, and where in the program it failed. It holds no message of the
error, no value, no argument and no file name: each of them could carry what a customer bought or what a
shop paid.
"""

from __future__ import annotations

import errno
import platform
import sqlite3
import tempfile
import traceback
from importlib import metadata
from pathlib import Path

from ledger import __version__
from ledger.cli import clock

LIBRARIES = ("typer", "openpyxl", "pandas", "numpy", "sqlite-utils", "matplotlib")
MOST_FRAMES = 60


def report_unexpected(error: BaseException, command: str, options: tuple[str, ...]) -> str:
    """Write the report and return the line to print.

    Args:
        error: what was raised.
        command: the command's name, '' where there was none.
        options: the names of its options, without their values.
    """
    text = report_text(error, command, options)
    for folder in (Path.cwd(), Path(tempfile.gettempdir())):
        try:
            path = _write(folder, text)
        except OSError:
            continue
        return (
            f"something went wrong that the program did not foresee ({type(error).__name__}). What was not "
            f"finished was not posted. {path} says where in the program, and holds nothing of your book: "
            "send it with a word about what you did."
        )
    return (
        f"something went wrong that the program did not foresee ({type(error).__name__}), and no report could "
        "be written. What was not finished was not posted."
    )


def report_text(error: BaseException, command: str, options: tuple[str, ...]) -> str:
    """Return the report: versions, the command, the kinds of errors and the places in the program."""
    lines = [
        "Blankbook: an unexpected failure. Nothing of the book, of a file or of what was typed stands here.",
        "",
        f"blankbook {__version__}, Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}",
        f"{platform.system()} {platform.machine()}",
        ", ".join(f"{name} {_version(name)}" for name in LIBRARIES),
        f"command: {command or '(none)'}",
        f"options: {' '.join(options) or '(none)'}",
    ]
    for each in _chain(error):
        lines += ["", f"{type(each).__module__}.{type(each).__qualname__}{_code(each)}"]
        lines += [
            f"  {frame.f_globals.get('__name__', '?')}.{frame.f_code.co_qualname}, line {line}"
            for frame, line in list(traceback.walk_tb(each.__traceback__))[-MOST_FRAMES:]
        ]
    return "\n".join(lines) + "\n"


def typed_options(arguments: list[str], known: frozenset[str]) -> tuple[str, ...]:
    """Return the names of the options among what was typed, without values; what is no option is left out.

    >>> typed_options(["sell", "FOX-M", "--party=Ann", "--yes", "--Ann"], frozenset({"--party", "--yes"}))
    ('--party', '--yes')
    """
    names = (argument.partition("=")[0] for argument in arguments)
    return tuple(name for name in names if name in known)


def _chain(error: BaseException) -> list[BaseException]:
    """Return the error and what it came from, the last first."""
    found: list[BaseException] = []
    here: BaseException | None = error
    while here is not None and here not in found:
        found.append(here)
        here = here.__cause__ or here.__context__
    return found


def _code(error: BaseException) -> str:
    """Return the system's or the database's own name for an error, which says nothing of what was in it."""
    if isinstance(error, sqlite3.Error):
        return f" {getattr(error, 'sqlite_errorname', '')}".rstrip()
    if isinstance(error, OSError) and error.errno is not None:
        return f" {errno.errorcode.get(error.errno, '')}".rstrip()
    return ""


def _version(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return "(not installed)"


def _write(folder: Path, text: str) -> Path:
    """Write a new file beside earlier reports and return its path."""
    day = clock.today().isoformat() if _clock_works() else "undated"
    for number in range(1, 1000):
        path = folder / f"blankbook-failure-{day}{'' if number == 1 else f'-{number}'}.txt"
        try:
            with path.open("x", encoding="utf-8") as file:
                file.write(text)
        except FileExistsError:
            continue
        return path
    raise OSError("too many reports")


def _clock_works() -> bool:
    try:
        clock.today()
    except Exception:  # noqa: BLE001  (a report is written whatever is wrong)
        return False
    return True

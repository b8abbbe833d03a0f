"""The file a command reads: from a path or standard input, and back again with its problems marked."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer

from ledger.cli.common import say
from ledger.errors import BlankbookError, InputErrors, UsageError
from ledger.intake.read_file import STREAM_BYTES, file_content, read_content, read_pasted
from ledger.intake.table import SourceFile

STANDARD_INPUT = "-"
PASTED = "the pasted text"

Errors = Annotated[
    str,
    typer.Option(
        "--errors",
        metavar="FILE",
        help="Where something is wrong: write a copy of the file with the cells marked (.xlsx).",
    ),
]


class Source:
    """A file, or what comes through standard input where it is called "-".

    Arguments:
        path: as the maker typed it.
        errors: where a marked copy is to be written if something is wrong; "" for nowhere.

    Raises UsageError where the copy's name is not a workbook's.
    """

    def __init__(self, path: str, errors: str = "") -> None:
        self.path = path
        self.errors = errors
        self._content: bytes | None = None
        self._file: SourceFile | None = None
        if errors:
            _check_name(errors)

    @property
    def name(self) -> str:
        """What messages call it."""
        return PASTED if self.path == STANDARD_INPUT else self.path

    def read(self) -> SourceFile:
        """Return the file's sheets; reading it again costs nothing.

        Raises InputErrors where it cannot be read.
        """
        if self._file is None:
            if self.path == STANDARD_INPUT:
                self._content = _standard_input()
                self._file = read_pasted(PASTED, self._content)
            else:
                path = Path(self.path)
                self._content = file_content(path)
                self._file = read_content(path.name, path.suffix.lower(), self._content)
            if not self.errors:
                self._content = None
        return self._file

    @contextlib.contextmanager
    def marking(self) -> Iterator[None]:
        """Write the marked copy, where one was asked for, when the block finds problems in the file.

        Where none is written, it is said why.
        """
        try:
            yield
        except InputErrors as errors:
            if self.errors:
                self._write(errors)
            raise
        except BlankbookError:
            if self.errors:
                say(f"{self.errors} was not written: no cell of {self.name} was found wrong. See below.")
            raise

    def _write(self, errors: InputErrors) -> None:
        from ledger.intake.marked_copy import marked_copy  # noqa: PLC0415 - only where something is wrong
        from ledger.intake.sheet_writing import write_new  # noqa: PLC0415

        if Path(self.errors).exists():
            say(
                f"{self.errors} was not written: a file of that name is there already and was left as it is. "
                "Name another one for --errors."
            )
            return
        if self._content is None and self._file is None and self.path != STANDARD_INPUT:
            say(f"{self.errors} was not written: what is wrong does not stand in {self.name}.")
            return
        copy = None if self._content is None else marked_copy(self._content, self._file, errors.problems)
        if copy is None:
            say(f"{self.errors} was not written: nothing of {self.name} could be read.")
            return
        write_new(Path(self.errors), copy.content)
        cells = "1 cell is" if copy.marked == 1 else f"{copy.marked:,} cells are"
        kept = "" if copy.is_whole else " It holds the values only."
        say(
            f"Wrote {self.errors}, a copy in which {cells} marked; its last sheet lists every problem.{kept} "
            "Mend it there, save, and give that file."
        )


def find_source(file: str | None, errors: str) -> Source | None:
    """Return the file to read, None where none was named.

    Raises UsageError where --errors was given without a file, or with a name that is no workbook's.
    """
    if errors and not file:
        raise UsageError("--errors marks the problems of a FILE: name the file too.")
    return Source(file, errors) if file else None


def marking(source: Source | None) -> contextlib.AbstractContextManager[None]:
    """Return the block in which problems are marked in a copy, or one that does nothing."""
    return contextlib.nullcontext() if source is None else source.marking()


def _check_name(errors: str) -> None:
    if Path(errors).suffix.lower() != ".xlsx":
        raise UsageError(f"--errors writes a workbook: let the name {errors} end in .xlsx.")


def _standard_input() -> bytes:
    if sys.stdin.isatty():
        say(
            "Paste the table, headings included, then press Ctrl-D on a line of its own (Windows: Ctrl-Z, Enter)."
        )
    return sys.stdin.buffer.read(STREAM_BYTES)

"""Every error Blankbook raises on purpose, in one tree.

::

    BlankbookError             anything a maker can be told about; exit code 1
    ├── UsageError             the command line itself is wrong; exit code 2
    ├── ValueProblem           one value cannot be read as what it should be
    ├── InputErrors            a file, sheet or form holds one or more problems
    │   └── StudyErrors        a buying study does
    ├── BookError              the book file cannot be used
    │   ├── BookMissing        there is no book where one was expected
    │   ├── BookForeign        the file is not a Blankbook book
    │   ├── BookNewer          the book was written by a newer Blankbook
    │   ├── BookDamaged        the file is a book, but not a whole one
    │   └── BookBusy           another process is writing and did not finish in time
    ├── Refused                the book's rules forbid what was asked
    │   ├── AlreadyPosted      the same document stands in the book
    │   ├── ClosedMonth        the date lies in a closed month
    │   ├── NotEnoughStock     more would leave than is there
    │   └── OwnAncestor        a lot would be made from itself
    └── RateUnknown            a foreign amount has no rate to convert it with

Each message says what is wrong, where, the value, and what to do next.
Errors are raised in the rooms below and printed only by the command line.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

LONGEST_LINE = 4_000
"""Characters of a line of a message, beyond which it is cut: what a file holds must not flood the screen."""

_OBEYED = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
"""What a terminal obeys instead of showing it, what turns the order of reading, and halves of letters."""


def fit_to_show(text: str) -> str:
    r"""Return text that a terminal shows and does not obey; tabs and line breaks stay.

    >>> fit_to_show("a\x1b[2Jb")
    'a�[2Jb'

    Source: our own rule. What a file holds may be made to hide or to forge what stands on the screen.
    """
    return _OBEYED.sub("\N{REPLACEMENT CHARACTER}", text.replace("\r\n", "\n"))


class BlankbookError(Exception):
    """The root: something a maker can be told about."""

    exit_code = 1
    named_book = ""
    """The book that the command line named: a command in the message has to name it too."""

    def __str__(self) -> str:
        """The message, fit to be shown, each line of it of a bounded length."""
        lines = fit_to_show(super().__str__()).replace("\t", " ").split("\n")
        return "\n".join(line if len(line) <= LONGEST_LINE else f"{line[:LONGEST_LINE]}…" for line in lines)


class UsageError(BlankbookError):
    """The command line itself is wrong: an option is missing, two exclude each other."""

    exit_code = 2


class ValueProblem(BlankbookError):
    """One value cannot be read as a number, a date, a unit, a code."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong in an input, with its place.

    ``where`` names the place as the maker sees it ("sheet Invoice, cell F12"; "row 7";
    "--charge 2"); ``what`` says what is wrong with the value; ``next_step`` what to do.
    ``also`` are other places where the same is wrong.
    """

    where: str
    what: str
    next_step: str = ""
    also: tuple[str, ...] = ()

    def __str__(self) -> str:
        """One line: place, fault, way out."""
        head = f"{self.where}: {self.what}" if self.where else self.what
        rest = len(self.also) - _ALSO_SHOWN
        more = f" and {rest:,} more" if rest > 0 else ""
        also = f" Also: {'; '.join(self.also[:_ALSO_SHOWN])}{more}." if self.also else ""
        # A line break in a cell must not begin what looks like a problem of its own.
        return _BREAKS.sub(" ", f"{head} {self.next_step}".rstrip() + also)


_ALSO_SHOWN = 5
_BREAKS = re.compile(r"[\r\n]+")


MOST_PROBLEMS = 500
"""How many problems a message lists; a marked copy lists all."""


class InputErrors(BlankbookError):
    """All the problems of one input together, so that they can be mended in one go."""

    outcome = "nothing was posted"

    def __init__(self, source: str, problems: Iterable[Problem]) -> None:
        self.source = source
        self.problems = tuple(problems)
        super().__init__(self._text())

    def _text(self) -> str:
        count = len(self.problems)
        noun = "problem" if count == 1 else "problems"
        lines = [f"{self.source}: {count} {noun}, {self.outcome}."]
        # A place that is the source itself is not said twice.
        lines += [
            f"  - {problem if problem.where != self.source else replace(problem, where='')}"
            for problem in self.problems[:MOST_PROBLEMS]
        ]
        if count > MOST_PROBLEMS:
            lines.append(f"  … and {count - MOST_PROBLEMS:,} more. Mend these first.")
        return "\n".join(lines)


class StudyErrors(InputErrors):
    """A buying study holds one or more problems."""

    outcome = "nothing was compared"


class BookError(BlankbookError):
    """The book file cannot be used."""


class BookMissing(BookError):
    """There is no book where one was expected."""


class BookForeign(BookError):
    """The file exists but is not a Blankbook book."""


class BookNewer(BookError):
    """The book was written by a newer Blankbook than this one."""


class BookDamaged(BookError):
    """The file is a Blankbook book, but not a whole or sound one."""


class BookBusy(BookError):
    """Another process is writing to the book and did not finish in time."""


class Refused(BlankbookError):
    """The book's rules forbid what was asked; nothing was posted."""


class AlreadyPosted(Refused):
    """The same document already stands in the book: twice is once."""


class ClosedMonth(Refused):
    """The date lies in a closed month."""


@dataclass(frozen=True)
class Shortage:
    """A line that finds too little: quantities in thousandths of the item's base unit."""

    sku: str
    document: int
    effect_date: str
    wanted_milli: int
    missing_milli: int


class NotEnoughStock(Refused):
    """More would leave than is there on that day.

    ``shortages`` name the lines, so that what posts them can say which row of a sheet they were.
    """

    def __init__(self, message: str = "", shortages: Iterable[Shortage] = ()) -> None:
        self.shortages = tuple(shortages)
        super().__init__(message)


class OwnAncestor(Refused):
    """A lot would be made, through jobs, from itself."""


class RateUnknown(BlankbookError):
    """A foreign amount has no exchange rate to convert it with."""

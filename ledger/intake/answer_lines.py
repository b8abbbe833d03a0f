"""Lines that answer questions about a file, as those about a supplier's file and a sales export read them."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Mapping
from typing import TypeVar

from ledger.errors import InputErrors, Problem, ValueProblem
from ledger.intake.nearest import fold, nearest, quoted
from ledger.intake.proposal import IGNORED

COLUMN = re.compile(r"(?:column\s+)?([A-Za-z]{1,3})\s*=\s*(.+)")
"""A line that says what a column is: its letters and its meaning."""

_IGNORED_COLUMNS = re.compile(rf"{IGNORED} +([A-Za-z]{{1,3}}(?:(?: *, *| +)[A-Za-z]{{1,3}})*)", re.IGNORECASE)

Said = TypeVar("Said")


def read_lines(lines: Iterable[str], read: Callable[[str, Said], Said], before: Said) -> Said:
    """Return what several lines say, each on top of what was said before it.

    Raises InputErrors with every line that ``read`` refuses.
    """
    said, problems = before, []
    for number, line in enumerate(lines, 1):
        try:
            said = read(line, said)
        except ValueProblem as problem:
            problems.append(Problem(f"--as {number}", str(problem)))
    if problems:
        raise InputErrors("what you said of the file", problems)
    return said


def ignored_columns(text: str) -> list[str]:
    """Return the letters of the columns that a line says to leave out, none where it says something else.

    >>> ignored_columns("ignore G"), ignored_columns("ignore G, AB"), ignored_columns("G=fees")
    (['G'], ['G', 'AB'], [])
    """
    match = _IGNORED_COLUMNS.fullmatch(text)
    return [] if match is None else re.findall(r"[A-Za-z]+", match[1])


def with_column(
    columns: Mapping[str, str], letters: str, meaning: str, several: Collection[str] = ()
) -> dict[str, str]:
    """Return columns with one more; what it is no other column is, but for IGNORED and ``several``."""
    may_repeat = meaning == IGNORED or meaning in several
    kept = {key: value for key, value in columns.items() if value != meaning or may_repeat}
    return {**kept, letters.upper(): meaning}


def column_meaning(text: str, columns: Collection[str], more: str = "") -> str:
    """Return which of ``columns`` a text says, blanks for its underscores, or IGNORED.

    Raises ValueProblem with the nearest one; ``more`` is what else a column can be, in words.
    """
    folded = fold(text).replace("_", " ")
    if folded in (IGNORED, "nothing", "no"):
        return IGNORED
    names = {name.replace("_", " "): name for name in columns}
    if folded not in names:
        near = nearest(folded, names)
        hint = f"Did you mean {quoted(near[0])}? " if near else ""
        raise ValueProblem(
            f"{quoted(text)} is nothing a column can be. {hint}A column can be: {', '.join(names)}, {more}or ignore."
        )
    return names[folded]


def choice(text: str, choices: Collection[str]) -> str:
    """Return the one of the choices that a text is. Raises ValueProblem where it is none."""
    value = fold(text.strip('"'))
    if value not in choices:
        raise ValueProblem(f"{quoted(text)} is none of {', '.join(choices)}.")
    return value

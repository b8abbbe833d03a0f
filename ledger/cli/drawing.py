"""What commands that draw share: where a picture may be written, and whether a terminal shows bars."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from ledger.errors import UsageError
from ledger.views.bars import BELOW_ZERO, EIGHTHS, Bars
from ledger.views.whole_file import refuse_existing

ENDINGS = (".png", ".svg")
"""What the file of a picture ends in."""


def picture_path(file: str) -> Path:
    """Return where a picture is written: ask it before long work.

    Raises UsageError for another kind of file, one that is there already, or a folder that is not.
    """
    path = Path(file)
    if path.suffix.lower() not in ENDINGS:
        raise UsageError(f"'{file}': the name of a picture ends in {' or '.join(ENDINGS)}.")
    if path.exists():
        raise UsageError(f"{path} is there already and was left as it is: name another file.")
    refuse_existing(path, replace=False)
    return path


def terminal_bars() -> Bars | None:
    """Return how bars are drawn on standard output, None where that is no terminal: what is piped is plain."""
    if not sys.stdout.isatty():
        return None
    columns = shutil.get_terminal_size().columns
    try:
        (EIGHTHS + BELOW_ZERO).encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return Bars(columns, has_blocks=False)
    return Bars(columns)

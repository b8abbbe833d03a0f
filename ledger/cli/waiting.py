"""Showing on a terminal that something takes its time."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Iterator


@contextlib.contextmanager
def working(what: str) -> Iterator[Callable[[str], None]]:
    """Show at a terminal what is being done, for as long as it takes; give what tells which part of it.

    Nothing is shown where standard error is no terminal.
    """
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console  # noqa: PLC0415  (only where there is somebody to see it)
    from rich.text import Text  # noqa: PLC0415

    # As plain text: what stands in brackets, in the name of a file too, is no word of markup.
    with Console(stderr=True).status(Text(f"{what} …")) as shown:
        yield lambda part: shown.update(Text(f"{what}: {part} …"))

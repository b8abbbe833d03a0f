"""Timing side by side, peak memory, and the table that is printed."""

from __future__ import annotations

import gc
import math
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
TODAY = "2026-01-15"
"""The day the commands believe it is: soon after the last day of the large books."""

MEBIBYTE_KIB = 1024


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table: two figures of the same unit, and the most their ratio should be.

    ``documents`` is how many the book holds, 0 where it is not about a book. ``memory_mebibytes`` and
    ``yardstick_mebibytes`` are the most that the processes held which did either.
    A yardstick of NaN was not taken: ``against`` says why.
    """

    what: str
    ours: float
    yardstick: float
    unit: str
    against: str
    target: float | None = None
    documents: int = 0
    memory_mebibytes: float | None = None
    yardstick_mebibytes: float | None = None

    @property
    def ratio(self) -> float:
        """How many times the yardstick ours is."""
        return self.ours / self.yardstick if self.yardstick else float("inf")

    @property
    def is_missed(self) -> bool:
        """Whether there is a target, and the ratio is above it."""
        return self.target is not None and self.ratio > self.target


def side_by_side(
    actions: Mapping[str, Callable[[], object]],
    rounds: int,
    *,
    before: Callable[[str], object] = lambda _: None,
    clock: Callable[[], float] = time.perf_counter,
) -> dict[str, float]:
    """Return the median seconds of each action, run in turn so that a busy moment hits all alike.

    ``before`` is called with the action's name before each run and is not timed.
    """
    seconds: dict[str, list[float]] = {name: [] for name in actions}
    for _ in range(rounds):
        for name, action in actions.items():
            before(name)
            gc.collect()
            start = clock()
            action()
            seconds[name].append(clock() - start)
    return {name: statistics.median(listed) for name, listed in seconds.items()}


def environment() -> dict[str, str]:
    """Return the environment of a child: this checkout's package, and the injected day."""
    told = {**os.environ, "PYTHONPATH": str(ROOT), "BLANKBOOK_TODAY": TODAY, "PYTHONIOENCODING": "utf-8"}
    told.pop("BLANKBOOK_BOOK", None)
    return told


def run_python(arguments: Sequence[str]) -> None:
    """Run a Python with arguments to its end; raises where it fails."""
    subprocess.run([sys.executable, *arguments], env=environment(), check=True, stdout=subprocess.DEVNULL)


def run_command(book: Path, *words: str) -> None:
    """Run a command in this process, its output thrown away; raises where it fails."""
    from typer.testing import CliRunner  # noqa: PLC0415

    from ledger.cli.main import app  # noqa: PLC0415  (imported before anything is timed: see `warm_up`)

    result = CliRunner().invoke(
        app, ["--book", str(book), *words], env={"BLANKBOOK_TODAY": TODAY}, catch_exceptions=False
    )
    if result.exit_code:
        raise RuntimeError(f"{' '.join(words)} ended with {result.exit_code}:\n{result.output}")


_COMMAND = """
import os, sys
from ledger.cli.main import run
out, sys.stdout = sys.stdout, open(os.devnull, "w")
try:
    run()
except SystemExit as ended:
    if ended.code:
        raise
"""

_FIGURES = """
import os, sys, time
seconds = time.process_time()
try:
    status = open("/proc/self/status").read()
    peak = int(status.split("VmHWM:")[1].split()[0])
except OSError:
    import resource
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // (1024 if sys.platform == "darwin" else 1)
print(seconds, peak, file=sys.__stdout__)
"""


@dataclass(frozen=True, slots=True)
class Taken:
    """What a process took from its start to its end: seconds of processor time, and the most memory."""

    seconds: float
    mebibytes: float


def taken_by_code(code: str, *arguments: str) -> Taken:
    """Return what a Python takes that runs code with these arguments; raises where it fails."""
    ended = subprocess.run(
        [sys.executable, "-c", code + _FIGURES, *arguments],
        env=environment(),
        check=True,
        stdout=subprocess.PIPE,
        text=True,
    )
    seconds, peak = ended.stdout.split()[-2:]
    return Taken(float(seconds), int(peak) / MEBIBYTE_KIB)


def taken_by_command(book: Path, *words: str) -> Taken:
    """Return what a command takes, run in a process of its own."""
    return taken_by_code(_COMMAND, "--book", str(book), *words)


HEAD = ("what", "documents", "ours", "yardstick", "ratio", "target", "growth", "memory", "the yardstick")
ALWAYS = {"what", "ours", "yardstick", "ratio", "target", "the yardstick"}
"""Columns that are printed whatever the rows hold; the others only where one has something to say."""


def table(rows: Iterable[Row]) -> str:
    """Return the rows as one aligned table.

    Growth is how many times ours of the first row with the same words ours is: what ten times the
    documents cost. Memory is in MiB, the yardstick's in brackets.
    """
    first: dict[str, Row] = {}
    lines = [_cells(row, first.setdefault(row.what, row)) for row in rows]
    shown = [place for place, name in enumerate(HEAD) if name in ALWAYS or any(line[place] for line in lines)]
    kept = [[line[place] for place in shown] for line in (HEAD, *lines)]
    # Words to the left, figures to the right.
    sides = ["<" if HEAD[place] in {"what", "target", "the yardstick"} else ">" for place in shown]
    widths = [max(map(len, column)) for column in zip(*kept, strict=True)]
    return "\n".join(_line(line, widths, sides) for line in kept)


def _cells(row: Row, first: Row) -> tuple[str, ...]:
    memory = "" if row.memory_mebibytes is None else f"{row.memory_mebibytes:.0f}"
    if row.yardstick_mebibytes is not None:
        memory += f" ({row.yardstick_mebibytes:.0f})"
    is_taken = not math.isnan(row.yardstick)
    return (
        row.what,
        f"{row.documents:,}" if row.documents else "",
        _figure(row.ours, row.unit),
        _figure(row.yardstick, row.unit) if is_taken else "",
        f"{row.ratio:.2f}" if is_taken else "",
        _target(row),
        f"{row.ours / first.ours:.1f}" if first is not row and first.ours else "",
        memory,
        row.against,
    )


def _line(cells: Sequence[str], widths: Sequence[int], sides: Sequence[str]) -> str:
    return "  ".join(
        f"{cell:{side}{width}}" for cell, side, width in zip(cells, sides, widths, strict=True)
    ).rstrip()


def _target(row: Row) -> str:
    if row.target is None:
        return "none set"
    return f"{row.target:g} {'missed' if row.is_missed else 'met'}"


def _figure(value: float, unit: str) -> str:
    if unit == "s":
        return f"{value * 1000:.1f} ms" if value < 1 else f"{value:.2f} s"
    return f"{value:.1f} {unit}"

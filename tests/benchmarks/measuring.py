"""Timing side by side, peak memory, and the table that is printed."""

from __future__ import annotations

import gc
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
    """One line of the table: two figures of the same unit, and the most their ratio should be."""

    what: str
    ours: float
    yardstick: float
    unit: str
    against: str
    target: float | None = None

    @property
    def ratio(self) -> float:
        """How many times the yardstick ours is."""
        return self.ours / self.yardstick if self.yardstick else float("inf")


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


_PEAK = """
import os, sys
from ledger.cli.main import run
out, sys.stdout = sys.stdout, open(os.devnull, "w")
try:
    run()
except SystemExit as ended:
    if ended.code:
        raise
try:
    status = open("/proc/self/status").read()
    peak = int(status.split("VmHWM:")[1].split()[0])
except OSError:
    import resource
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // (1024 if sys.platform == "darwin" else 1)
print(peak, file=out)
"""


def peak_mebibytes(book: Path, *words: str) -> float:
    """Return the most memory that a command held, run in a process of its own, in MiB."""
    ended = subprocess.run(
        [sys.executable, "-c", _PEAK, "--book", str(book), *words],
        env=environment(),
        check=True,
        capture_output=True,
        text=True,
    )
    return int(ended.stdout.split()[-1]) / MEBIBYTE_KIB


def table(rows: Iterable[Row]) -> str:
    """Return the rows as one aligned table: what, ours, yardstick, ratio, target, against."""
    head = ("what", "ours", "yardstick", "ratio", "target", "the yardstick")
    cells = [head] + [
        (
            row.what,
            _figure(row.ours, row.unit),
            _figure(row.yardstick, row.unit),
            f"{row.ratio:.2f}",
            _target(row),
            row.against,
        )
        for row in rows
    ]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    return "\n".join(_line(line, widths) for line in cells)


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    # Words to the left, figures to the right.
    sides = ("<", ">", ">", ">", "<", "<")
    return "  ".join(
        f"{cell:{side}{width}}" for cell, side, width in zip(cells, sides, widths, strict=True)
    ).rstrip()


def _target(row: Row) -> str:
    if row.target is None:
        return "none set"
    return f"{row.target:g} {'met' if row.ratio <= row.target else 'missed'}"


def _figure(value: float, unit: str) -> str:
    if unit == "s":
        return f"{value * 1000:.1f} ms" if value < 1 else f"{value:.2f} s"
    return f"{value:.1f} {unit}"

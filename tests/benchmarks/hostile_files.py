"""Processor time and peak memory of reading or refusing hostile and very large files, each in its own process.

Run: python -m tests.benchmarks.hostile_files
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from hostile_makers import CASES, LARGE, Hostile
from measuring import MEBIBYTE_KIB, environment

_READ = """
import sys, time
from pathlib import Path
from ledger.errors import InputErrors
from ledger.intake.read_file import read_file
start = time.process_time()
try:
    rows = sum(len(sheet.rows) for sheet in read_file(Path(sys.argv[1])).sheets)
    said = f"read, {rows} rows"
except InputErrors as errors:
    said = str(errors.problems[0])
seconds = time.process_time() - start
try:
    peak = int(open("/proc/self/status").read().split("VmHWM:")[1].split()[0])
except OSError:
    import resource
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // (1024 if sys.platform == "darwin" else 1)
print(seconds, peak, said.replace("\\n", " "), sep="\\t")
"""


@dataclass(frozen=True, slots=True)
class Outcome:
    """How long the reading took of the processor, the most memory its process held, and what it said."""

    seconds: float
    mebibytes: float
    said: str


def outcome(case: Hostile, folder: Path, factor: float = 1.0) -> Outcome:
    """Return what reading a case's file costs, in a process of its own; the file is deleted again."""
    path = folder / case.file
    case.make(path, factor)
    try:
        ended = subprocess.run(
            [sys.executable, "-c", _READ, str(path)],
            env=environment(),
            check=True,
            capture_output=True,
            text=True,
        )
    finally:
        path.unlink()
    seconds, peak, said = ended.stdout.rstrip("\n").split("\t", 2)
    return Outcome(float(seconds), int(peak) / MEBIBYTE_KIB, said)


def main() -> None:
    """Print one line for each case."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("words", nargs="*", help="only the cases whose names hold one of these words")
    parser.add_argument("--factor", type=float, default=1.0, help="scale the large files by this")
    arguments = parser.parse_args()
    start = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        for case in (*CASES, *LARGE):
            if arguments.words and not any(word in case.name for word in arguments.words):
                continue
            found = outcome(case, Path(folder), arguments.factor)
            sys.stdout.write(
                f"{case.name:<48}{found.seconds:>8.2f} s {found.mebibytes:>6.0f} MiB  {found.said[:90]}\n"
            )
    sys.stdout.write(f"everything, making the files included: {time.perf_counter() - start:.0f} s\n")


if __name__ == "__main__":
    main()

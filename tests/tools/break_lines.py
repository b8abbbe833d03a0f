"""Break one line of the computing rooms at a time and see whether a test notices: `python -m tests.tools.break_lines`.

The lines stand in broken_lines.toml: file, the text as it is, what stands there instead, and which tests
should notice. Each is broken in a copy of the project, never in the project itself.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import tomllib
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LIST = Path(__file__).with_name("broken_lines.toml")
COPIED = ("ledger", "tests", "imports", "samples", "pyproject.toml", "README.md", "DEVELOPERS.md")
ALL_PASSED, SOME_FAILED = 0, 1
"""The exit codes of a run of tests; any other says that it could not be made."""

LONGEST_SECONDS = 900
"""A broken line may make a loop endless: that is noticed as well."""


@dataclass(frozen=True)
class Broken:
    """One line and what is put in its place; both stand exactly so in the file, the first once."""

    file: str
    line: str
    instead: str
    tests: tuple[str, ...]


@dataclass(frozen=True)
class Outcome:
    """Whether tests noticed, and the first that did."""

    is_caught: bool
    by: str


def read_list(path: Path = LIST) -> list[Broken]:
    """Return the lines to break.

    Raises ValueError where a text does not stand in its file exactly once.
    """
    content = tomllib.loads(path.read_text(encoding="utf-8"))
    found = [
        Broken(each["file"], each["line"], each["instead"], tuple(each["tests"]))
        for each in content["broken"]
    ]
    for each in found:
        count = (ROOT / each.file).read_text(encoding="utf-8").count(each.line)
        if count != 1:
            raise ValueError(f"{each.file}: {each.line!r} stands there {count} times.")
    return found


def guide_row(each: Broken) -> str:
    """Return a line's row in the contributor guide."""
    where = each.file.removeprefix("ledger/").removesuffix(".py")
    return f"| {where} | `{each.line}` | `{each.instead}` |"


def broken(each: Broken, copy: Path) -> Outcome:
    """Return what the tests say of a copy of the project with that line broken; the copy is mended again."""
    path = copy / each.file
    whole = path.read_text(encoding="utf-8")
    path.write_text(whole.replace(each.line, each.instead), encoding="utf-8")
    try:
        return tried(each.tests, copy)
    finally:
        path.write_text(whole, encoding="utf-8")


def tried(tests: tuple[str, ...], copy: Path) -> Outcome:
    """Return whether the tests fail in a copy of the project, and the first that does."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *tests]
    environment = {**os.environ, "PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"}
    try:
        done = subprocess.run(
            command,
            cwd=copy,
            env=environment,
            capture_output=True,
            text=True,
            timeout=LONGEST_SECONDS,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return Outcome(is_caught=True, by="did not end")
    first = next((row for row in done.stdout.splitlines() if row.startswith(("FAILED", "ERROR"))), "")
    if done.returncode not in (ALL_PASSED, SOME_FAILED):
        raise RuntimeError(f"the tests could not run: {done.stdout[-800:]}")
    return Outcome(is_caught=done.returncode == SOME_FAILED, by=first[:110])


def say(text: str) -> None:
    """Print a line at once: the run takes long."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def main() -> int:
    """Break the lines asked for and print what noticed; 1 where more than two went unnoticed."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--list", action="store_true", help="only print the contributor guide's table")
    reader.add_argument("--only", type=int, nargs="*", help="the places in the list, from 1; else all")
    told = reader.parse_args()
    wanted, lines = told.only, read_list()
    if told.list:
        say("\n".join(map(guide_row, lines)))
        return 0
    unnoticed = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder)
        for name in COPIED:
            source = ROOT / name
            if source.is_dir():
                shutil.copytree(source, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
            else:
                shutil.copyfile(source, copy / name)
        unbroken = tried(tuple(sorted({test for each in lines for test in each.tests})), copy)
        if unbroken.is_caught:
            say(f"The tests fail with nothing broken, mend them first: {unbroken.by}")
            return 1
        for place, each in enumerate(lines, 1):
            if wanted and place not in wanted:
                continue
            outcome = broken(each, copy)
            unnoticed += not outcome.is_caught
            said = f"noticed: {outcome.by}" if outcome.is_caught else "NOT NOTICED"
            say(f"{place:3} {each.file}: {each.line.strip()}  ->  {each.instead.strip()}\n      {said}")
    say(f"{unnoticed} went unnoticed.")
    return int(unnoticed > ALLOWED_UNNOTICED)


ALLOWED_UNNOTICED = 2


if __name__ == "__main__":
    sys.exit(main())

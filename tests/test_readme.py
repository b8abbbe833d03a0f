"""The README's commands, run as they stand."""

from __future__ import annotations

import re
import shlex
from dataclasses import dataclass
from pathlib import Path

from command_line import RunnerHere

README = Path(__file__).resolve().parent.parent / "README.md"
TODAY = re.compile(r"<!-- example: today (\S+) -->")
FILE = re.compile(r"<!-- file: (\S+) -->\n```\n(.*?)```\n", re.DOTALL)
CONSOLE = re.compile(r"```console\n(.*?)```", re.DOTALL)


@dataclass(frozen=True)
class Example:
    """One command of the README, the day it is run on and what it prints.

    A line of three dots stands for any lines.
    """

    command: str
    output: str
    today: str


def examples() -> list[Example]:
    """Return the README's examples in order."""
    found = []
    text = README.read_text(encoding="utf-8")
    days = [(each.start(), each[1]) for each in TODAY.finditer(text)]
    for block in CONSOLE.finditer(text):
        today = [day for place, day in days if place < block.start()][-1]
        for part in re.split(r"^\$ ", block[1], flags=re.MULTILINE)[1:]:
            command, _, output = part.partition("\n")
            found.append(Example(command, output, today))
    return found


def run(command: str, folder: Path, today: str) -> str:
    """Return what a README command prints, on both streams in the order of a terminal."""
    words = shlex.split(command)
    assert words[0] == "blankbook"
    return RunnerHere(folder, variables={"BLANKBOOK_TODAY": today}).printed(*words[1:])


def matches(expected: str, printed: str) -> bool:
    """Whether the output is the expected one, three dots standing for any lines."""
    parts = [re.escape(part.strip("\n")) for part in re.split(r"^\.\.\.$", expected, flags=re.MULTILINE)]
    return re.fullmatch(r"\n*.*?\n*".join(parts) + r"\n*", printed.strip("\n"), re.DOTALL) is not None


def test_readme_commands_print_what_the_readme_shows(tmp_path: Path) -> None:
    """Every console example of the README, run in order in one folder, prints what stands there."""
    text = README.read_text(encoding="utf-8")
    for name, content in FILE.findall(text):
        (tmp_path / name).write_text(content, encoding="utf-8")
    for example in examples():
        printed = run(example.command, tmp_path, example.today)
        assert matches(example.output, printed), f"$ {example.command}\n{printed}"


def test_readme_names_the_command_that_runs_the_tests() -> None:
    """The README's second command is the one that continuous integration calls."""
    assert ".venv/bin/python -m pytest" in README.read_text(encoding="utf-8")

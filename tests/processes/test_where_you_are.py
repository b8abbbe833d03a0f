"""`blankbook` alone: where the book stands, and commands that work as they are printed."""

from __future__ import annotations

import re
import shlex
from dataclasses import replace
from pathlib import Path

import pytest
from command_line import Runner, RunnerHere
from receiving_command import receive


def commands(text: str) -> list[list[str]]:
    """Return the commands that stand indented below what is worth doing, as words after 'blankbook'."""
    return [shlex.split(found) for found in re.findall(r"^    blankbook (.+)$", text, re.MULTILINE)]


@pytest.fixture
def run(run: Runner) -> Runner:
    """The command in this process: what it says is what a process of its own says."""
    return RunnerHere(run.folder, run.book, run.variables)


def test_a_folder_without_a_book_says_how_to_begin(run: Runner, tmp_path: Path) -> None:
    """No error: somebody typed the name to see what it is."""
    empty = tmp_path / "empty"
    empty.mkdir()
    done = replace(run, folder=empty, book=None)()
    assert (done.returncode, done.stderr) == (0, "")
    assert "blankbook tour" in done.stdout
    assert "blankbook --help" in done.stdout


def test_what_presses_most_stands_first_and_its_commands_work(run: Runner) -> None:
    """What was used before it came, an order that is late, a month that waits: each with a command that runs."""
    run(*receive(), "--yes")
    run("use", "TEE-SAND-L", "3", "--short", "--amount", "9.00", "--date", "2026-01-20", "--yes")
    run(
        "order", "--line", "TEE-PLUM-M 12 each at 3.00", "--party", "Alder Yard Blanks", "--terms", "destination",
        "--expect", "2026-04-05", "--yes",
    )  # fmt: skip
    later = replace(run, variables={"BLANKBOOK_TODAY": "2026-05-02"})
    done = later()
    assert done.returncode == 0
    order = [done.stdout.index(words) for words in ("TEE-SAND-L", "is 27 days late", "cannot be closed yet")]
    assert order == sorted(order)
    typed = commands(done.stdout)
    assert len(typed) >= 3
    for words in typed:
        # The book is named in them as it was named in the call.
        assert words[:1] == ["--book"]
        looked = replace(later, book=None)(*words)
        assert (looked.returncode, words) == (0, words)


def test_it_only_reads(run: Runner) -> None:
    """A look changes no byte of the book."""
    assert run.book is not None
    before = run.book.read_bytes()
    run()
    assert run.book.read_bytes() == before


def test_commands_in_messages_name_the_book_that_was_named(run: Runner) -> None:
    """Deep in the book nothing knows how it was named; what is printed does, in errors and on screens."""
    run(*receive(), "--yes")
    refused = run("show", "999")
    shown = run("close", "2026-03", "--show")
    assert f"See: blankbook --book {run.book} history" in refused.stderr
    assert f"record it: blankbook --book {run.book} policies" in shown.stdout
    assert "it: blankbook policies" not in shown.stdout
    for words in ("history", "policies"):
        assert replace(run, book=None)("--book", str(run.book), words).returncode == 0

"""What a maker or a program gets from the command: exit codes, data on stdout, words on stderr, quick starts."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from command_line import ROOT, Runner, RunnerHere
from receiving_command import documents, is_whole, no_traceback, receive, sheet


def test_done_is_zero_and_the_book_is_whole(run: Runner) -> None:
    """A receipt with a charge is posted, found again and proved."""
    done = run(*receive(), "--charge", "freight 9.00", "--yes")
    lots = json.loads(run("lots", "--json").stdout)
    assert (done.returncode, lots[0]["landed_cost"], is_whole(run)) == (0, "50.00", True)


@pytest.mark.parametrize(
    "words",
    [
        ["receive", "--sku", "TEE-SAND-M"],
        ["receive", "--no-such-option"],
        ["receive", "a.csv", "--date", "31.3.2026"],
        ["undo", "1"],
        ["charge", "freight 5"],
        ["no-such-command"],
    ],
)
def test_bad_usage_is_two(run: Runner, words: list[str]) -> None:
    """A command line that cannot be understood has an exit code of its own, and words."""
    done = run(*words)
    assert (done.returncode, done.stdout, no_traceback(done)) == (2, "", True)


@pytest.mark.parametrize(
    "words",
    [["stock"], ["lots"], ["history"], ["history", "TEE-SAND-M"], ["show", "1"], ["prove"], ["items"]],
)
def test_json_is_one_document_alone_on_stdout(run: Runner, words: list[str]) -> None:
    """Every command that reads gives data that another program can take as it is."""
    run(*receive(), "--yes")
    done = run(*words, "--json")
    assert (done.returncode, isinstance(json.loads(done.stdout), list | dict)) == (0, True)


def test_json_of_a_posting_leaves_messages_on_stderr(run: Runner) -> None:
    """The preview and what to do next do not get into the data."""
    done = run(*receive(), "--yes", "--json")
    assert (json.loads(done.stdout)["document"], "Posted receipt 1" in done.stderr) == (1, True)
    assert "TEE-SAND-M" in done.stderr


def test_a_dry_run_posts_nothing(run: Runner) -> None:
    """Every figure is shown, and the book is byte for byte as it was."""
    assert run.book is not None
    before = run.book.read_bytes()
    done = run(*receive(), "--charge", "freight 9.00", "--dry-run", "--json")
    assert (done.returncode, json.loads(done.stdout)["total_landed"]) == (0, "50.00")
    assert "Nothing was posted" in done.stderr
    assert run.book.read_bytes() == before


def test_without_anybody_to_ask_nothing_is_posted(run: Runner) -> None:
    """In a script without --yes the command refuses instead of guessing."""
    done = run(*receive())
    assert (done.returncode, "Add --yes to post" in done.stderr, documents(run)) == (1, True, [])


def test_a_pipe_closed_early_is_no_traceback(run: Runner) -> None:
    """`history | head -1` ends quietly."""
    run(*receive(), "--yes")
    process = run.begin("history")
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    told = process.stderr.read()
    process.stderr.close()
    process.wait(timeout=60)
    assert ("Traceback" in told, "Exception" in told) == (False, False)


def test_a_console_of_another_encoding_is_no_traceback(run: Runner) -> None:
    """A name that the console cannot show is shown as well as it can."""
    words = [*receive(), "--party", "Mühle & Söhne 织物", "--yes"]
    ascii_console = replace(run, variables={"PYTHONIOENCODING": "ascii"})
    done = ascii_console(*words)
    assert (done.returncode, no_traceback(done)) == (0, True)
    assert ascii_console("history").returncode == 0
    assert documents(run)[0]["party"] == "Mühle & Söhne 织物"


def test_text_that_looks_like_a_formula_stays_text(run: Runner) -> None:
    """A description that begins with = is a description."""
    done = run(*sheet(run, "new.csv", "CAP-1,2,,9.00,,=1+1"), "--add-items", "--yes")
    names = {item["sku"]: item["name"] for item in json.loads(run("items", "--json").stdout)}
    assert (done.returncode, names["CAP-1"]) == (0, "=1+1")


def test_undo_by_the_words_the_receipt_printed(run: Runner) -> None:
    """The command that a posting offers for taking it back does so."""
    done = run(*receive(), "--charge", "freight 9.00", "--yes")
    assert "blankbook" in done.stderr
    assert "undo 2 1" in done.stderr
    assert run("undo", "2", "1", "--why", "a test", "--yes").returncode == 0
    assert (json.loads(run("stock", "--json").stdout), is_whole(run)) == ([], True)


def test_what_expires_soon_is_said_on_stderr(run: Runner) -> None:
    """Within thirty days of the injected date, and the data stays data."""
    run(*sheet(run, "ink.csv", "TEE-SAND-M,2,,9.00,2026-04-20,"), "--yes")
    done = run("stock", "--json")
    assert (len(json.loads(done.stdout)), "2026-04-20" in done.stderr) == (1, True)
    assert "2026-04-20" not in replace(run, variables={"BLANKBOOK_TODAY": "2026-03-01"})("stock").stderr


@pytest.fixture
def readers(run: Runner) -> Runner:
    """The command with something in its book."""
    run(*receive(), "--yes")
    return run


LISTING = """
import sys
from ledger.cli.main import run
sys.argv[0] = "blankbook"
try:
    run()
except SystemExit as end:
    assert not end.code, end.code
slow = {
    "pandas", "numpy", "openpyxl", "sqlite_utils", "currency_converter", "scipy", "matplotlib", "holidays",
    "pydantic", "rapidfuzz", "rich.progress", "rich.console",
}
print("loaded:", *sorted(slow.intersection(sys.modules)), file=sys.stderr)
"""


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["stock"],
        ["stock", "--on", "2026-02-01"],
        ["lots"],
        ["history"],
        ["history", "TEE-SAND-M"],
        ["show", "1"],
        ["months"],
        ["close", "2026-01", "--show"],
        ["prove"],
        ["items"],
        ["plan", "--help"],
        ["compare", "--help"],
        ["review"],
        ["review", "--help"],
        ["backup", "copy.blankbook"],
        ["restore", "--help"],
    ],
)
def test_a_reading_command_loads_no_slow_library(readers: Runner, words: list[str]) -> None:
    """What only reading spreadsheets or changing the catalogue needs is not waited for."""
    done = subprocess.run(
        [sys.executable, "-c", LISTING, "--book", str(readers.book), *words],
        env=readers.environment,
        cwd=readers.folder,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert (done.returncode, done.stderr.splitlines()[-1]) == (0, "loaded:")


def test_the_installed_command_is_the_same(run: Runner) -> None:
    """The console script beside this Python gives what the module gives."""
    script = Path(sys.executable).with_name("blankbook")
    if not script.exists():
        pytest.skip("the package is not installed here, only its source is on the path")
    done = subprocess.run(
        [str(script), "--version"], env=run.environment, capture_output=True, encoding="utf-8", check=False
    )
    assert done.stdout == run("--version").stdout


def test_a_clock_that_is_no_date_is_told(run: Runner) -> None:
    """A mistyped injected date is bad usage, not a traceback."""
    done = replace(run, variables={"BLANKBOOK_TODAY": "yesterday"})(*receive(), "--yes")
    assert (done.returncode, "BLANKBOOK_TODAY" in done.stderr, no_traceback(done)) == (2, True, True)


def test_the_package_is_the_one_of_this_checkout(run: Runner) -> None:
    """These processes run what stands here, not what is installed elsewhere."""
    done = subprocess.run(
        [sys.executable, "-c", "import ledger; print(ledger.__file__)"],
        env=run.environment,
        cwd=run.folder,
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    assert Path(done.stdout.strip()).is_relative_to(ROOT), os.environ.get("PYTHONPATH")


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("receive", "--sku", "TEE-SAND-M", "--quantity", "12", "--amount", "48.00", "--dry-run"), 0),
        (("history", "TEE-SAND"), 1),
        (("stock", "--never-heard-of"), 2),
    ],
    ids=["done", "refused", "bad usage"],
)
def test_tests_that_start_no_process_see_what_one_prints(
    run: Runner, words: tuple[str, ...], code: int
) -> None:
    """The exit code and both streams, letter by letter."""
    apart, here = run(*words), RunnerHere(run.folder, run.book)(*words)
    assert (here.returncode, here.stdout, here.stderr) == (code, apart.stdout, apart.stderr)
    assert apart.returncode == code

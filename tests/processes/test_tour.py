"""The tour as a maker runs it: a real process, with the sample shop's figures at its end."""

from __future__ import annotations

import json
import os
import shlex
import subprocess
import sys
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from command_line import RunnerHere
from typer.testing import CliRunner

from ledger.cli import main, tour
from ledger.cli.tour import Tour, condensed, read_tour

ROOT = Path(__file__).resolve().parents[2]
FIGURES: dict[str, Any] = json.loads((ROOT / "samples" / "figures.json").read_text("utf-8"))
TOLD: Tour = read_tour(ROOT / "samples" / "tour.toml")
SLOW_CLOCK = "2025-06-01"
"""A day before everything that happens in the sample shop."""


def run(folder: Path, *words: str, today: str = FIGURES["as_of"]) -> subprocess.CompletedProcess[str]:
    """Run the program in a folder as a process of its own."""
    environment = {
        **os.environ,
        "PYTHONPATH": str(ROOT),
        "BLANKBOOK_TODAY": today,
        "PYTHONIOENCODING": "utf-8",
    }
    environment.pop("BLANKBOOK_BOOK", None)
    return subprocess.run(
        [sys.executable, "-m", "ledger", *words],
        cwd=folder,
        env=environment,
        capture_output=True,
        encoding="utf-8",
        timeout=120,
        check=False,
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder the tour was started in."""
    return tmp_path_factory.mktemp("where the maker is")


@pytest.fixture(scope="module")
def toured(folder: Path) -> subprocess.CompletedProcess[str]:
    """The tour, once for the tests that look at what it left."""
    return run(folder, "tour", "my tour", today=SLOW_CLOCK)


@pytest.fixture
def ask(folder: Path, toured: subprocess.CompletedProcess[str]) -> Callable[..., Any]:
    """Ask the tour's book for data."""
    assert toured.returncode == 0, toured.stderr

    def asked(*words: str) -> Any:
        here = RunnerHere(folder, folder / "my tour" / TOLD.book, {"BLANKBOOK_TODAY": FIGURES["as_of"]})
        done = here(*words, "--json")
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    return asked


def commands(output: str) -> list[list[str]]:
    """Return the words of every command that the tour printed, behind the program's own."""
    lines = [line.strip() for line in output.splitlines() if " -m ledger --book " in line]
    return [shlex.split(line)[3:] for line in lines]


def test_the_tour_runs_to_its_end_on_a_slow_clock(toured: subprocess.CompletedProcess[str]) -> None:
    """Every step is posted, although its dates lie in the future of this clock."""
    assert (toured.returncode, "The tour is done." in toured.stderr) == (0, True)


def test_the_stock_is_the_sample_shops(ask: Callable[..., Any]) -> None:
    """Quantity and value of every SKU are those worked out apart from the program."""
    rows = ask("stock", "--on", FIGURES["as_of"])
    keys = ("sku", "kind", "unit", "quantity", "value")
    assert sorted(tuple(row[key] for key in keys) for row in rows) == sorted(
        tuple(row[key] for key in keys) for row in FIGURES["month"]["stock"]["items"]
    )


def test_the_lots_are_the_sample_shops(ask: Callable[..., Any]) -> None:
    """Every lot of the suppliers' files has its invoice cost, charges and landed cost to the cent."""
    keys = ("lot", "sku", "quantity_received", "invoice_cost", "charges", "landed_cost")
    wanted = [
        tuple(line[key] for key in keys)
        for receipt in FIGURES["receipts"]
        for line in receipt["lines"]
        if line["is_stocked"]
    ]
    received = {line[0] for line in wanted}
    found = [tuple(row[key] for key in keys) for row in ask("lots", "--all") if row["lot"] in received]
    assert sorted(found) == sorted(wanted)


def test_the_catalogue_loaded_twice_changes_nothing(folder: Path, ask: Callable[..., Any]) -> None:
    """Items that receipts use meanwhile are still as the file has them."""
    answer = ask("items", "load", str(folder / "my tour" / "items.csv"), "--yes")
    assert (answer["new"], answer["changed"]) == ([], [])


def test_each_step_is_printed_as_it_is_typed(toured: subprocess.CompletedProcess[str]) -> None:
    """The commands printed are those of the tour, with the book and the files by their path."""
    place = Path("my tour")
    files = {path.name for path in (ROOT / "samples").iterdir()}
    wanted = [
        [
            "--book",
            str(place / TOLD.book),
            *(str(place / word) if word in files else word for word in step.command),
        ]
        for step in TOLD.steps
    ]
    assert commands(toured.stdout)[: len(wanted)] == wanted


def test_the_looks_printed_at_the_end_run_from_where_the_maker_is(
    folder: Path, toured: subprocess.CompletedProcess[str]
) -> None:
    """Each of them can be copied and answers."""
    looks = commands(toured.stdout)[len(TOLD.steps) :]
    failed = [words for words in looks if run(folder, *words).returncode != 0]
    shown = [look for look in TOLD.looks if look.shows]
    assert (len(looks), failed) == (len(shown) + tour.WORTH_TRYING, [])


def test_the_look_to_be_shown_is_shown_with_its_answer(toured: subprocess.CompletedProcess[str]) -> None:
    """What a shirt costs in every way stands at the end."""
    shown = toured.stdout.partition("What one piece costs now")[2].partition("Worth trying next")[0]
    bills = {bill["bill"] for bill in FIGURES["bills"]}
    assert {line.split()[0] for line in shown.splitlines() if line.split()[:1]} >= bills


@pytest.mark.parametrize("row", ["write down", "POW-MED"])
def test_a_steps_tables_are_shown_where_the_tour_says_so(
    row: str, toured: subprocess.CompletedProcess[str]
) -> None:
    """The month by event, and the count's differences."""
    assert any(line.strip().startswith(row) for line in toured.stdout.splitlines())


def test_the_cost_of_a_posted_sheet_is_what_left_the_shelf(
    toured: subprocess.CompletedProcess[str],
) -> None:
    """What jobs and receipts cost is on the shelf afterwards, and not in the total."""
    left = sum(
        -Decimal(row["cost"]) if row["event"] == "take_back" else Decimal(row["cost"])
        for row in FIGURES["month"]["rows"]
        if row["event"] not in ("make", "receive", "charge")
    )
    (total,) = [line for line in toured.stdout.splitlines() if "jobs, receipts and charges apart" in line]
    assert Decimal(total.split()[-1]) == left


def test_a_tour_without_a_look_to_be_shown_shows_the_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A steps file need not say which."""
    samples = tmp_path / "samples"
    samples.mkdir()
    start = '["start", "--name", "S", "--currency", "USD", "--first-month", "2026-01", "--yes"]'
    (samples / "tour.toml").write_text(
        'shop = "S"\nbook = "s.blankbook"\nas_of = 2026-03-31\n'
        f'[[step]]\ntitle = "Start."\ncommand = {start}\n'
        '[[look]]\ntitle = "First."\ncommand = ["history"]\n'
        '[[look]]\ntitle = "Second."\ncommand = ["stock"]\n',
        "utf-8",
    )
    monkeypatch.setattr(tour, "carried", lambda *_: samples)
    printed = CliRunner().invoke(main.app, ["tour", str(tmp_path / "t")]).stdout
    head, _, tail = printed.partition("Worth trying next")
    assert ("First." in head, "Second." in head, "Second." in tail) == (True, False, True)


def test_a_folder_with_something_in_it_is_left_as_it_is(tmp_path: Path) -> None:
    """The tour does not mix with the maker's files."""
    (tmp_path / "tour").mkdir()
    (tmp_path / "tour" / "mine.txt").write_text("mine", "utf-8")
    done = run(tmp_path, "tour")
    assert (done.returncode, "not empty" in done.stderr, list((tmp_path / "tour").iterdir())) == (
        1,
        True,
        [tmp_path / "tour" / "mine.txt"],
    )


def test_a_book_named_for_the_tour_is_bad_usage(tmp_path: Path) -> None:
    """The tour never touches the maker's own book."""
    done = run(tmp_path, "--book", "mine.blankbook", "tour")
    assert (done.returncode, list(tmp_path.iterdir())) == (2, [])


def test_a_step_that_fails_is_named_with_its_message(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The tour stops there and says what the command said."""
    samples = tmp_path / "samples"
    samples.mkdir()
    (samples / "tour.toml").write_text(
        'shop = "S"\nbook = "s.blankbook"\nas_of = 2026-03-31\n'
        '[[step]]\ntitle = "Load what is not there."\ncommand = ["items", "load", "gone.csv", "--yes"]\n'
        '[[look]]\ntitle = "Look."\ncommand = ["stock"]\n',
        "utf-8",
    )
    monkeypatch.setattr(tour, "carried", lambda *_: samples)
    error = CliRunner().invoke(main.app, ["tour", str(tmp_path / "t")]).exception
    assert ("step 1, 'Load what is not there.'" in str(error), "there is no book" in str(error)) == (
        True,
        True,
    )


def test_a_long_table_is_shown_by_its_number_of_lines() -> None:
    """What stands before and after it stays; totals do not count."""
    output = "Head\n\nSKU  qty\n---  ---\nA      1\nB      2\n---  ---\nall    3\n\nPosted.\n"
    assert condensed(output) == ["Head", "(a table of 2 lines)", "Posted."]

"""What the command refuses to receive, each in words and with nothing posted: doubles, dates, items, units, rates, files."""

from __future__ import annotations

from dataclasses import replace

import pytest
from command_line import Runner, RunnerHere
from openpyxl import Workbook
from receiving_command import documents, no_traceback, receive, sheet


@pytest.fixture
def run(run: Runner) -> Runner:
    """The command in this process: what it says is what a process of its own says."""
    return RunnerHere(run.folder, run.book, run.variables)


def test_refused_is_one_and_nothing_is_posted(run: Runner) -> None:
    """The same shipment twice is refused with a message on stderr."""
    words = [*receive(), "--party", "Alder Yard Blanks", "--yes"]
    run(*words)
    done = run(*words)
    assert (done.returncode, done.stderr.count("blankbook: "), "is in the book already" in done.stderr) == (
        1,
        1,
        True,
    )
    assert len(documents(run)) == 1


def test_a_date_in_the_future_is_refused(run: Runner) -> None:
    """By the clock the process was given."""
    done = run(*receive(), "--date", "2026-04-01", "--yes")
    assert (done.returncode, "2026-04-01 is in the future" in done.stderr) == (1, True)
    assert (
        replace(run, variables={"BLANKBOOK_TODAY": "2026-04-01"})(
            *receive(), "--date", "2026-04-01", "--yes"
        ).returncode
        == 0
    )


def test_an_unknown_item_is_named_with_the_nearest(run: Runner) -> None:
    """A slip of the finger is answered with what it may have meant."""
    done = run(*receive("TEE-SND-M"), "--yes")
    assert (done.returncode, "the book has no item TEE-SND-M" in done.stderr) == (1, True)
    assert "TEE-SAND-M" in done.stderr


def test_an_unknown_unit_is_named(run: Runner) -> None:
    """A pack the item does not have is refused with the units there are."""
    done = run(*receive(), "--unit", "barrel", "--yes")
    assert (done.returncode, "'barrel' is not a unit. Units are:" in done.stderr) == (1, True)


def test_an_unknown_currency_is_named(run: Runner) -> None:
    """Three letters that are no currency are refused."""
    done = run(*receive(), "--currency", "DOL", "--yes")
    assert (done.returncode, "'DOL' is not a currency" in done.stderr) == (1, True)


def test_a_rate_upside_down_is_refused(run: Runner) -> None:
    """Yuan for one dollar instead of dollars for one yuan: the other way is offered."""
    done = run(*receive(), "--currency", "CNY", "--rate", "7.05", "--yes")
    assert (done.returncode, "looks upside down" in done.stderr, "0.1418" in done.stderr) == (1, True, True)
    assert documents(run) == []


def test_an_amount_finer_than_the_currency_is_refused(run: Runner) -> None:
    """A fraction of a cent is not rounded in silence."""
    done = run(*receive(amount="41.005"), "--yes")
    assert (done.returncode, "more decimals than USD has" in done.stderr, documents(run)) == (1, True, [])


def test_every_error_of_a_sheet_comes_at_once(run: Runner) -> None:
    """Each with its sheet and cell, in one list, and nothing is posted."""
    workbook = Workbook()
    page = workbook.active
    assert page is not None
    page.title = "Invoice"
    for row in (
        ["SKU", "Qty", "Unit", "Amount", "Best before", "Text"],
        ["TEE-SAND-M", -3, None, 41, None, "negative"],
        ["TEE-SAND-L", 5, None, "forty", None, "a word"],
        ["TEE-PLUM-M", 5, None, 20, "soon", "no date"],
    ):
        page.append(row)
    workbook.save(run.folder / "bad.xlsx")
    done = run("receive", "bad.xlsx", "--profile", "plain.toml", "--date", "2026-01-05", "--yes")
    places = [f"sheet Invoice, cell {cell}" in done.stderr for cell in ("B2", "D3", "E4")]
    assert (done.returncode, places, "3 problems, nothing was posted" in done.stderr) == (1, [True] * 3, True)


@pytest.mark.parametrize(
    ("name", "content"),
    [("notes.xlsx", b"just some text"), ("picture.csv", b"\x89PNG\r\n\x1a\n\x00\x00"), ("empty.csv", b"")],
)
def test_a_file_that_is_not_what_its_name_says(run: Runner, name: str, content: bytes) -> None:
    """The file is named and nothing is posted."""
    (run.folder / name).write_bytes(content)
    done = run("receive", name, "--profile", "plain.toml", "--yes")
    assert (done.returncode, name in done.stderr, no_traceback(done)) == (1, True, True)


def test_items_the_book_does_not_know_are_asked_about(run: Runner) -> None:
    """--yes alone does not fill the catalogue; --add-items does."""
    words = sheet(run, "new.csv", "CAP-1,2,,9.00,,Cap")
    done = run(*words, "--yes")
    assert (done.returncode, "--add-items" in done.stderr, documents(run)) == (1, True, [])
    assert run(*words, "--add-items", "--yes").returncode == 0

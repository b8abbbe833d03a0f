"""The command as a maker runs it: real processes, with their exit codes, streams and the book afterwards."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from command_line import ROOT, Runner, started
from openpyxl import Workbook

PROFILE = """
currency = "USD"
[columns]
sku = "SKU"
quantity = "Qty"
unit = "Unit"
line_total = "Amount"
expires_on = "Best before"
description = "Text"
[items]
kind = "blank"
name = "{description}"
"""


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Runner:
    """A book with a few items, made once by the command itself."""
    folder = tmp_path_factory.mktemp("template")
    return started(folder, skus=("TEE-SAND-M", "TEE-SAND-L", "TEE-PLUM-M"))


@pytest.fixture
def run(template: Runner, tmp_path: Path) -> Runner:
    """The command in a folder of its own, with a book of its own and a profile."""
    assert template.book is not None
    book = tmp_path / "shop.blankbook"
    book.write_bytes(template.book.read_bytes())
    (tmp_path / "plain.toml").write_text(PROFILE, encoding="utf-8")
    return Runner(tmp_path, book)


def receive(sku: str = "TEE-SAND-M", quantity: str = "10", amount: str = "41.00", *more: str) -> list[str]:
    """The words that receive one line."""
    return [
        "receive",
        "--sku",
        sku,
        "--quantity",
        quantity,
        "--amount",
        amount,
        "--date",
        "2026-01-05",
        *more,
    ]


def sheet(run: Runner, name: str, *rows: str) -> list[str]:
    """Write a csv of the profile's shape; return the words that receive it."""
    (run.folder / name).write_text(
        "\n".join(["SKU,Qty,Unit,Amount,Best before,Text", *rows, ""]), encoding="utf-8"
    )
    return [
        "receive",
        name,
        "--profile",
        "plain.toml",
        "--party",
        "Alder Yard Blanks",
        "--date",
        "2026-01-05",
    ]


def documents(run: Runner) -> list[dict[str, object]]:
    """Every document in the book."""
    answer: list[dict[str, object]] = json.loads(run("history", "--json").stdout)
    return answer


def is_whole(run: Runner) -> bool:
    """Whether the book proves whole."""
    return bool(json.loads(run("prove", "--json").stdout)["ok"])


def no_traceback(done: subprocess.CompletedProcess[str]) -> bool:
    """Whether a maker saw words only."""
    return "Traceback" not in done.stdout + done.stderr


def test_done_is_zero_and_the_book_is_whole(run: Runner) -> None:
    """A receipt with a charge is posted, found again and proved."""
    done = run(*receive(), "--charge", "freight 9.00", "--yes")
    lots = json.loads(run("lots", "--json").stdout)
    assert (done.returncode, lots[0]["landed_cost"], is_whole(run)) == (0, "50.00", True)


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


def test_text_that_looks_like_a_formula_stays_text(run: Runner) -> None:
    """A description that begins with = is a description."""
    done = run(*sheet(run, "new.csv", "CAP-1,2,,9.00,,=1+1"), "--add-items", "--yes")
    names = {item["sku"]: item["name"] for item in json.loads(run("items", "--json").stdout)}
    assert (done.returncode, names["CAP-1"]) == (0, "=1+1")


def test_items_the_book_does_not_know_are_asked_about(run: Runner) -> None:
    """--yes alone does not fill the catalogue; --add-items does."""
    words = sheet(run, "new.csv", "CAP-1,2,,9.00,,Cap")
    done = run(*words, "--yes")
    assert (done.returncode, "--add-items" in done.stderr, documents(run)) == (1, True, [])
    assert run(*words, "--add-items", "--yes").returncode == 0


def test_a_busy_book_is_left_alone(run: Runner, template: Runner) -> None:
    """While another process writes, looking works, and posting waits until it has ended."""
    del template
    assert run.book is not None
    other = sqlite3.connect(run.book, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    waiting = run.begin(*receive(), "--yes")
    assert run("stock").returncode == 0
    time.sleep(1)
    assert waiting.poll() is None
    other.execute("ROLLBACK")
    other.close()
    waiting.communicate(timeout=60)
    assert (waiting.returncode, len(documents(run))) == (0, 1)


IMPATIENT = """
import sys
from ledger.book import connect
from ledger.cli.main import run
connect.BUSY_SECONDS = 0
sys.argv[0] = "blankbook"
run()
"""


def test_a_book_that_stays_busy_is_told(run: Runner) -> None:
    """After the wait the command says who is in the way, and posts nothing."""
    assert run.book is not None
    other = sqlite3.connect(run.book, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    done = subprocess.run(
        [sys.executable, "-c", IMPATIENT, "--book", str(run.book), *receive(), "--yes"],
        env=run.environment,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    other.execute("ROLLBACK")
    other.close()
    assert (done.returncode, "another Blankbook is writing" in done.stderr, no_traceback(done)) == (
        1,
        True,
        True,
    )
    assert documents(run) == []


def test_an_interrupted_command_posts_nothing(run: Runner) -> None:
    """Stopped while it waits for its turn, it leaves the book as it was and says so without a traceback."""
    assert run.book is not None
    other = sqlite3.connect(run.book, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    waiting = run.begin(*receive(), "--yes")
    time.sleep(2)
    waiting.send_signal(signal.SIGINT)
    other.execute("ROLLBACK")
    other.close()
    _, told = waiting.communicate(timeout=60)
    assert (waiting.returncode in (1, 130), "Traceback" in told) == (True, False)
    assert (documents(run), is_whole(run)) == ([], True)


def test_a_killed_command_leaves_the_book_as_it_was(run: Runner) -> None:
    """Killed while it waits for its turn, nothing of it is in the book."""
    assert run.book is not None
    other = sqlite3.connect(run.book, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    waiting = run.begin(*receive(), "--yes")
    time.sleep(1)
    waiting.kill()
    waiting.communicate(timeout=60)
    other.execute("ROLLBACK")
    other.close()
    assert (documents(run), is_whole(run)) == ([], True)


def test_four_at_once_are_all_posted(run: Runner) -> None:
    """Four processes receive four invoices together: each gets its own number, and the book is whole."""
    processes = [
        run.begin(
            *receive("TEE-SAND-M", str(number), f"{number}.00"),
            *(
                "--reference",
                f"A-{number}",
                "--party",
                "Alder Yard Blanks",
                "--charge",
                "freight 1.00",
                "--yes",
            ),
        )
        for number in range(1, 5)
    ]
    told = [process.communicate(timeout=120)[1] for process in processes]
    assert [process.returncode for process in processes] == [0] * 4, told
    assert [document["document"] for document in documents(run)] == list(range(1, 9))
    assert (json.loads(run("stock", "--json").stdout)[0]["quantity"], is_whole(run)) == ("10", True)


def test_the_same_invoice_from_four_at_once_is_once(run: Runner) -> None:
    """Whoever comes second is refused."""
    words = [*receive(), "--reference", "A-1", "--party", "Alder Yard Blanks", "--yes"]
    processes = [run.begin(*words) for _ in range(4)]
    for process in processes:
        process.communicate(timeout=120)
    assert sorted(process.returncode for process in processes) == [0, 1, 1, 1]
    assert len(documents(run)) == 1


def test_start_over_an_existing_file_is_refused(run: Runner) -> None:
    """Whatever the file is, it stays."""
    assert run.book is not None
    before = run.book.read_bytes()
    done = run("start", "--name", "Other", "--yes")
    assert (done.returncode, "exists already" in done.stderr, run.book.read_bytes() == before) == (
        2,
        True,
        True,
    )


def test_the_only_book_of_the_folder_is_found(run: Runner) -> None:
    """Without --book the one that lies there is used; two have to be told apart."""
    here = replace(run, book=None)
    assert here("stock").returncode == 0
    (run.folder / "other.blankbook").write_bytes(b"")
    done = here("stock")
    assert (done.returncode, "shop.blankbook" in done.stderr, "other.blankbook" in done.stderr) == (
        2,
        True,
        True,
    )


def test_the_book_of_the_environment_is_used(run: Runner, tmp_path: Path) -> None:
    """BLANKBOOK_BOOK names it, and --book comes before that."""
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    named = Runner(elsewhere, None, {"BLANKBOOK_BOOK": str(run.book)})
    assert named("stock").returncode == 0
    done = named("--book", "missing.blankbook", "stock")
    assert (done.returncode, "missing.blankbook" in done.stderr) == (1, True)


def test_a_book_that_is_none_is_told(run: Runner) -> None:
    """Without a book, with a sheet for a book, with a folder for a book: words and exit code 1."""
    (run.folder / "list.blankbook").write_text("sku,quantity\n", encoding="utf-8")
    for name in ("none.blankbook", "list.blankbook", "."):
        done = Runner(run.folder, run.folder / name)("stock")
        assert (done.returncode, done.stderr.count("\n"), no_traceback(done)) == (1, 1, True), name


def test_undo_by_the_words_the_receipt_printed(run: Runner) -> None:
    """The command that a posting offers for taking it back does so."""
    done = run(*receive(), "--charge", "freight 9.00", "--yes")
    assert "blankbook" in done.stderr
    assert "undo 2 1" in done.stderr
    assert run("undo", "2", "1", "--why", "a test", "--yes").returncode == 0
    assert (json.loads(run("stock", "--json").stdout), is_whole(run)) == ([], True)


def test_prove_finds_what_a_hand_changed(run: Runner) -> None:
    """Exit code 1, and the place in words."""
    assert run.book is not None
    run(*receive(), "--yes")
    hand = sqlite3.connect(run.book, isolation_level=None)
    hand.execute("UPDATE balance SET amount = amount + 1")
    hand.close()
    done = run("prove")
    assert (done.returncode, "the balance of TEE-SAND-M is kept as 10000 and 4101" in done.stdout) == (
        1,
        True,
    )


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
    "pydantic", "rapidfuzz",
}
print("loaded:", *sorted(slow.intersection(sys.modules)), file=sys.stderr)
"""


@pytest.mark.parametrize(
    "words",
    [["stock"], ["stock", "--on", "2026-02-01"], ["lots"], ["history"], ["show", "1"], ["prove"], ["items"]],
)
def test_a_reading_command_loads_no_slow_library(readers: Runner, words: list[str]) -> None:
    """What only reading spreadsheets or changing the catalogue needs is not waited for."""
    done = subprocess.run(
        [sys.executable, "-c", LISTING, "--book", str(readers.book), *words],
        env=readers.environment,
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

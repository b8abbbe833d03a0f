"""Several processes at one book: waiting, giving up, interrupted, killed, and all posting together."""

from __future__ import annotations

import json
import signal
import sqlite3
import subprocess
import sys
import time

from command_line import Runner
from receiving_command import documents, is_whole, no_traceback, receive


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
    _, told = waiting.communicate(timeout=60)
    assert (waiting.returncode, len(documents(run))) == (0, 1)
    assert "Traceback" not in told


def test_waiting_is_told_after_a_second(run: Runner) -> None:
    """Whoever waits for another process learns it while they wait."""
    assert run.book is not None
    other = sqlite3.connect(run.book, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    waiting = run.begin(*receive(), "--yes")
    assert waiting.stderr is not None
    first = next(row for row in waiting.stderr if "Waiting" in row)
    assert (first, waiting.poll()) == ("Waiting for another command on this book to finish…\n", None)
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


def test_eight_at_once_post_read_close_and_copy(run: Runner) -> None:
    """Four post, one closes, one reads, one proves, one makes a backup: nothing is lost, doubled or half seen."""
    assert run(*receive("TEE-PLUM-M", "7", "21.00"), "--yes").returncode == 0
    posting = [
        run.begin(
            *("receive", "--sku", "TEE-SAND-M", "--quantity", str(number), "--amount", f"{number}.00"),
            *("--date", "2026-02-05", "--reference", f"B-{number}", "--party", "Alder Yard Blanks", "--yes"),
        )
        for number in range(1, 5)
    ]
    closing = run.begin("close", "2026-01", "--yes")
    reading = run.begin("stock", "--json")
    proving = run.begin("prove", "--json")
    copying = run.begin("backup", "copy.blankbook")
    told = [one.communicate(timeout=120) for one in (*posting, closing, reading, proving, copying)]
    assert [one.returncode for one in (*posting, closing, reading, proving, copying)] == [0] * 8, told
    assert not any("Traceback" in out + err or "locked" in out + err for out, err in told)
    # What was read while others wrote is one state: the pieces of whole receipts.
    assert sum(int(row["quantity"]) for row in json.loads(told[5][0])) in range(7, 18)
    assert json.loads(told[6][0])["ok"]
    events = [document["event"] for document in documents(run)]
    assert sorted(events) == ["close", *["receipt"] * 5]
    stock = {row["sku"]: row["quantity"] for row in json.loads(run("stock", "--json").stdout)}
    assert (stock, is_whole(run)) == ({"TEE-PLUM-M": "7", "TEE-SAND-M": "10"}, True)
    copied = Runner(run.folder, run.folder / "copy.blankbook")
    assert is_whole(copied)
    assert 1 <= len(documents(copied)) <= 6


def test_a_book_taken_away_while_a_command_runs(run: Runner) -> None:
    """Moved elsewhere at the question: nothing is posted, in words, to what is gone or to what came instead."""
    assert run.book is not None
    other = sqlite3.connect(run.book, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    waiting = run.begin(*receive(), "--yes")
    assert waiting.stderr is not None
    assert any("Waiting" in row for row in waiting.stderr)
    run.book.rename(run.folder / "elsewhere.moved")
    other.execute("ROLLBACK")
    other.close()
    _, told = waiting.communicate(timeout=60)
    assert (waiting.returncode, "another file took the place of" in told, "Traceback" in told) == (
        1,
        True,
        False,
    )
    (run.folder / "elsewhere.moved").rename(run.book)
    assert (documents(run), is_whole(run)) == ([], True)

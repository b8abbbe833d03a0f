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

"""Which file is the book: the one named, the one of the environment, the only one here, none, or one a hand changed."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from pathlib import Path

from command_line import Runner
from receiving_command import no_traceback, receive


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


def test_a_book_in_another_currency_is_told_its_country(run: Runner) -> None:
    """Only dollars are taken for the United States; nothing is written without it."""
    other = replace(run, book=run.folder / "euro.blankbook")
    words = ("start", "--name", "Euro", "--currency", "EUR", "--first-month", "2026-01", "--yes")
    done = other(*words)
    assert (done.returncode, "add --country" in done.stderr, (run.folder / "euro.blankbook").exists()) == (
        2,
        True,
        False,
    )
    assert other(*words, "--country", "DE").returncode == 0


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

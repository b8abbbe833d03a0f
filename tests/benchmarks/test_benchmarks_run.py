"""The benchmarks still run, and their large books are whole; nothing here looks at a clock."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import astuple
from pathlib import Path

import pytest
from big_books import BookShape, make_big_book, make_documents, make_empty_book
from measuring import Row, environment, side_by_side, table
from run import issues_over_lots
from yardsticks import fill_columns, insert_rows, posted_rows

from ledger.book.connect import open_reading, open_writing
from ledger.book.proving import Proof, prove
from ledger.costing.replay import replay

ROOT = Path(__file__).resolve().parents[2]
SHAPE = BookShape(legs=600, skus=24)

ROWS = (
    "start-up",
    "stock:",
    "stock --on",
    "costing",
    "posting",
    "receive --dry-run",
    "receive --yes",
    "one receipt",
    "prove",
    "peak memory, stock",
    "peak memory, prove",
)


@pytest.fixture(scope="module")
def big_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book made as the large ones are, of a few hundred legs."""
    path = tmp_path_factory.mktemp("books") / "large.blankbook"
    make_big_book(path, SHAPE, batch_documents=20)
    return path


@pytest.fixture(scope="module")
def proof(big_book: Path) -> Proof:
    """What `prove` finds in it."""
    connection = open_reading(big_book)
    found = prove(connection)
    connection.close()
    return found


@pytest.fixture(scope="module")
def tiny_run() -> str:
    """What the one command prints with everything a few hundred legs large."""
    ended = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.run", "--tiny"],
        cwd=ROOT,
        env=environment(),
        check=False,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert ended.returncode == 0, ended.stderr
    return ended.stdout


@pytest.mark.parametrize("what", ROWS)
def test_a_tiny_run_prints_every_row(tiny_run: str, what: str) -> None:
    """Everything that is measured has its line in the table."""
    assert any(line.startswith(what) for line in tiny_run.splitlines())


def test_the_large_books_are_whole(proof: Proof) -> None:
    """Legs, lots, layers, balances and month figures of a generated book are right."""
    assert proof.findings == ()


def test_the_large_books_are_as_large_as_asked(proof: Proof) -> None:
    """The legs come within a twentieth of what was asked for."""
    assert abs(proof.legs - SHAPE.legs) <= SHAPE.legs / 20


def test_the_same_seed_makes_the_same_documents() -> None:
    """Two runs measure the same book."""
    assert list(map(astuple, make_documents(SHAPE))) == list(map(astuple, make_documents(SHAPE)))


def test_documents_come_in_date_order() -> None:
    """A batch continues every item's history, as a shop's own postings do."""
    dates = [document.effect_date for document in make_documents(SHAPE)]
    assert dates == sorted(dates)


def test_most_documents_are_sales_and_uses() -> None:
    """The shape is a shop's: for each receipt there are many documents by which stock leaves."""
    events = [document.event for document in make_documents(SHAPE)]
    assert events.count("sale") + events.count("use") > len(events) / 2


def test_the_posting_yardstick_writes_the_very_same_rows(big_book: Path, tmp_path: Path) -> None:
    """What executemany leaves in an empty book of the same catalogue is what posting left."""
    copy = tmp_path / "copy.blankbook"
    make_empty_book(copy, SHAPE.skus)
    source, target = open_reading(big_book), open_writing(copy)
    rows = posted_rows(source)
    insert_rows(target, rows)
    assert posted_rows(target) == rows
    source.close()
    target.close()


def test_the_costing_yardstick_fills_a_column_for_every_issue() -> None:
    """The yardstick's columns are as long as there are issues."""
    movements = issues_over_lots(issues=300, lots=30)
    assert len(fill_columns(movements).amount) == movements.arrives.count(False) == 300


def test_the_costing_benchmark_takes_something_for_every_issue() -> None:
    """The engine finds enough for every issue that is measured."""
    movements = issues_over_lots(issues=300, lots=30)
    assert len(set(replay((), movements).takings.movement)) == 300


def test_actions_are_run_in_turn() -> None:
    """A busy moment of the machine hits both sides of a ratio."""
    calls: list[str] = []
    side_by_side({"a": lambda: calls.append("a"), "b": lambda: calls.append("b")}, rounds=2)
    assert calls == ["a", "b", "a", "b"]


def test_a_ratio_above_its_target_says_missed() -> None:
    """The table tells a missed target in words."""
    assert "1 missed" in table([Row("x", 2.0, 1.0, "s", "y", 1.0)])

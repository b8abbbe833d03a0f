"""The benchmarks still run, and their large books are whole; nothing here looks at a clock."""

from __future__ import annotations

import datetime
import shutil
import subprocess
import sys
from dataclasses import astuple, replace
from pathlib import Path

import pytest
from benchmark_sizes import TINY
from big_books import BookShape, make_big_book, make_documents, make_empty_book, post_batch
from closing_months import close_through, make_closed_book, seconds_to_close
from costing_rows import costing_rows, issues_over_lots
from costing_yardsticks import costs_by_duckdb, costs_by_pandas, costs_of, duckdb_with, movement_frame
from measuring import Row, environment, side_by_side, table
from summary_table import summary
from yardsticks import fill_columns, insert_rows, posted_rows, read_every_row, rows_since

from ledger.book.connect import open_reading, open_writing
from ledger.book.proving import Proof, prove
from ledger.costing.replay import Movements, replay

ROOT = Path(__file__).resolve().parents[2]
SHAPE = BookShape(legs=600, skus=24)

ROWS = (
    "start-up",
    "stock",
    "stock --on",
    "costing",
    "posting",
    "closing month",
    "pack and workbook",
    "page of the stock",
    "page of the last month",
    "receive --dry-run",
    "receive --yes",
    "workbook with its proposal",
    "one receipt",
    "prove ",
    "prove, per 1,000 documents",
    "large simulation",
    "page of a decision",
    "decision and page",
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
        [sys.executable, "-m", "tests.benchmarks.run", "--tiny", "--markdown"],
        cwd=ROOT,
        env=environment(),
        check=False,
        capture_output=True,
        text=True,
        timeout=600,
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


def test_the_table_is_also_printed_as_markdown(tiny_run: str) -> None:
    """Both sizes of book have a column."""
    assert "| what | against | 40 | 80 | target | growth | memory, MiB |" in tiny_run.splitlines()


@pytest.mark.parametrize(("issues", "skus"), [(1, 1), (40, 3), (900, 11)])
def test_pandas_costs_every_issue_as_the_program_does(issues: int, skus: int) -> None:
    """Cumulative ranges give the very cents, issue by issue, so no rounding difference is left."""
    movements = issues_over_lots(issues, max(1, issues // 10), skus)
    costs = costs_by_pandas(movement_frame(movements))
    assert costs.tolist() == costs_of(replay((), movements).takings).tolist()


@pytest.mark.parametrize(("issues", "skus"), [(1, 1), (40, 3), (900, 11)])
def test_duckdb_costs_every_issue_as_the_program_does(issues: int, skus: int) -> None:
    """Window functions over cumulative ranges give the very cents, issue by issue."""
    pytest.importorskip("duckdb", reason="DuckDB is in the extra `benchmarks`")
    movements = issues_over_lots(issues, max(1, issues // 10), skus)
    costs = costs_by_duckdb(duckdb_with(movement_frame(movements)))
    assert costs.tolist() == costs_of(replay((), movements).takings).tolist()


def test_issues_that_end_with_a_lot_belong_to_it() -> None:
    """The first lot of 1.00 goes in two issues, the next one costs of the second lot only."""
    frame = movement_frame(movements_of([("in", 3, 100), ("in", 3, 700), ("out", 2), ("out", 1), ("out", 3)]))
    assert costs_by_pandas(frame).tolist() == [67, 33, 700]


def movements_of(moves: list[tuple[str, int] | tuple[str, int, int]]) -> Movements:
    """Return movements of one item, in whole pieces."""
    movements = Movements()
    for number, (way, pieces, *amount) in enumerate(moves, 1):
        movements.document.append(number)
        movements.line.append(1)
        movements.effect_date.append("2026-01-05")
        movements.sku.append("TEE")
        movements.arrives.append(way == "in")
        movements.account.append("purchases" if way == "in" else "pieces sold")
        movements.quantity.append(1000 * pieces)
        movements.amount.append(amount[0] if amount else 0)
        movements.expensed.append(0)
    return movements


def test_costs_found_otherwise_end_the_benchmark(monkeypatch: pytest.MonkeyPatch) -> None:
    """A yardstick which computes something else measures nothing."""
    monkeypatch.setattr("costing_rows.costs_by_pandas", lambda frame: costs_by_pandas(frame) + 1)
    with pytest.raises(RuntimeError, match="pandas costs the issues at"):
        list(costing_rows(replace(TINY, documents=(40,))))


def test_where_duckdb_is_missing_its_rows_say_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """The table is printed without it, in words, and the program's figures stay."""
    monkeypatch.setitem(sys.modules, "duckdb", None)
    rows = [row for row in costing_rows(replace(TINY, documents=(40,))) if "DuckDB" in row.against]
    assert {row.against for row in rows} == {"DuckDB: not installed"}
    assert "DuckDB: not installed" in table(rows)


def test_the_books_are_as_many_documents_as_asked() -> None:
    """A book that is asked for by its documents has them, and they end in the last month."""
    documents = list(make_documents(BookShape(documents=300, skus=24)))
    assert 300 <= len(documents) <= 310
    assert documents[-1].effect_date > "2025-12-01"


def test_the_yardstick_of_more_documents_writes_their_rows(big_book: Path, tmp_path: Path) -> None:
    """Its twin has as many documents, legs and lots after it, and the same balances."""
    books = [tmp_path / name for name in ("ours.blankbook", "twin.blankbook")]
    for book in books:
        shutil.copyfile(big_book, book)
    ours, twin = map(open_writing, books)
    last = ours.execute("SELECT max(number) FROM document").fetchone()[0]
    day = datetime.date(2026, 1, 1)
    more = BookShape(documents=50, skus=SHAPE.skus, first_day=day, days=3, first_number=last + 1)
    post_batch(ours, list(make_documents(more)))
    insert_rows(twin, rows_since(ours, last, "2026-01"))
    for name in ("document", "document_line", "charge_share", "leg", "lot", "balance", "month_total"):
        counted = [one.execute(f"SELECT count(*) FROM {name}").fetchone() for one in (ours, twin)]  # noqa: S608
        assert counted[0] == counted[1], name
    stock = [one.execute("SELECT * FROM balance ORDER BY sku").fetchall() for one in (ours, twin)]
    assert stock[0] == stock[1]
    ours.close()
    twin.close()


def test_reading_every_row_reads_them_all(big_book: Path) -> None:
    """The least that proving has to do is not less than every leg and every document line."""
    connection = open_reading(big_book)
    legs, lines = connection.execute(
        "SELECT (SELECT count(*) FROM leg), (SELECT count(*) FROM document_line)"
    ).fetchone()
    connection.close()
    assert read_every_row(big_book) > legs + lines > 0


def test_a_month_is_closed_anew_in_every_round(big_book: Path, tmp_path: Path) -> None:
    """What is timed is a close, not a refusal because the month is closed already."""
    copy = tmp_path / "copy.blankbook"
    shutil.copyfile(big_book, copy)
    connection = open_writing(copy)
    close_through(connection, ["2016-01"])
    seconds_to_close({"book": ("2016-02", connection)}, rounds=2)
    events = connection.execute(
        "SELECT event FROM document WHERE event IN ('close', 'reopen') ORDER BY number"
    ).fetchall()
    connection.close()
    assert [event for (event,) in events] == ["close", "close", "reopen", "close"]


def test_growth_and_memory_have_columns_where_there_is_something_to_say() -> None:
    """Ten times the documents in eleven times the time, and what the process held."""
    rows = [
        Row("x", 1.0, 2.0, "s", "y", 1.0, 10, 5.0),
        Row("x", 11.0, 2.0, "s", "y", 1.0, 100, 50.0, 7.0),
    ]
    assert table(rows).splitlines()[-1].split() == [
        *("x", "100", "11.00", "s", "2.00", "s", "5.50", "1", "missed", "11.0", "50", "(7)", "y")
    ]
    assert summary(rows).splitlines()[-1] == "| x | y | 0.50 | 5.50 missed | 1 | 11.0 | 5, 50 (7) |"


def test_a_table_without_books_has_no_columns_for_them() -> None:
    """The other benchmarks print what they printed."""
    assert table([Row("x", 2.0, 1.0, "s", "y")]).splitlines()[0].split() == [
        *("what", "ours", "yardstick", "ratio", "target", "the", "yardstick")
    ]


def test_a_closed_book_is_whole_and_open_in_its_last_month(tmp_path: Path) -> None:
    """Closes take the numbers left to them, and the last month has documents that no close took."""
    path = tmp_path / "closed.blankbook"
    months = ["2016-01", "2016-02", "2016-03"]
    make_closed_book(path, BookShape(documents=4_000, skus=24), months)
    connection = open_reading(path)
    assert prove(connection).findings == ()
    closed = connection.execute("SELECT month FROM month_event ORDER BY month").fetchall()
    last = connection.execute("SELECT max(effect_date) FROM document_line JOIN document ON number = document")
    assert [month for (month,) in closed] == months[:-1]
    assert last.fetchone()[0][:7] == months[-1]
    connection.close()

"""`blankbook count` in this process: one item, and a count workbook there and back."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import pytest
import typer
from book_builder import make_book, opened
from event_shop import event_shop
from openpyxl import load_workbook
from small_shop import Commands, Outcome

from ledger.cli import count, post, stock
from ledger.errors import BlankbookError, InputErrors, Refused, UsageError

STOCK = (
    "01-01,opening,TEE-SAND-M,20,60.00",
    "01-01,opening,TEE-SAND-S,5,20.00",
    "01-01,opening,TEE-PLUM-L,4,16.00",
    "01-01,opening,FILM-A3,50,25.00",
    "01-01,opening,INK-CYAN,200,10.00",
)


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book with stock in it, made once."""
    path = tmp_path_factory.mktemp("counted") / "counted.blankbook"
    make_book(path)
    book = opened(path)
    event_shop(book).post(*STOCK)
    book.connection.close()
    return path


@pytest.fixture
def run(filled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Outcome]:
    """Run a command with a book of its own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    path = tmp_path / "shop.blankbook"
    path.write_bytes(filled.read_bytes())

    def register(app: typer.Typer) -> None:
        for module in (count, post, stock):
            module.register(app)

    return Commands(register, path)


def stock_of(run: Callable[..., Outcome]) -> dict[str, tuple[str, str]]:
    """Quantity and value of what is there."""
    return {row["sku"]: (row["quantity"], row["value"]) for row in run("stock", "--json").data}


def documents() -> int:
    """How many documents the book has."""
    connection = sqlite3.connect("shop.blankbook")
    number = connection.execute("SELECT count(*) FROM document").fetchone()[0]
    connection.close()
    return int(number)


def fill(path: str, counted: Mapping[str, object]) -> None:
    """Write quantities beside the SKUs of a list layout's workbook."""
    workbook = load_workbook(path)
    for sheet in workbook.worksheets:
        heads = next(
            (row for row in sheet.iter_rows() if any(str(cell.value).casefold() == "sku" for cell in row)), ()
        )
        place = {str(cell.value).casefold(): cell.column for cell in heads if cell.value}
        for row in sheet.iter_rows():
            for cell in row:
                if cell.value in counted:
                    sheet.cell(cell.row, place["counted"]).value = counted[cell.value]
    workbook.save(path)


def test_a_count_shows_the_difference_in_pieces_and_money(run: Callable[..., Outcome]) -> None:
    """Twenty in the book at 3.00, eighteen there."""
    done = run("count", "TEE-SAND-M", "18", "--date", "2026-01-31", "--yes")
    (shown,) = [text for text in done.out.splitlines() if text.startswith("TEE-SAND-M")]
    assert shown.split() == ["TEE-SAND-M", "20", "18", "-2", "each", "-6.00"]
    assert stock_of(run)["TEE-SAND-M"] == ("18", "54.00")


@pytest.mark.parametrize(
    ("words", "sku", "left"),
    [
        (("INK-CYAN", "0.15", "--unit", "L"), "INK-CYAN", ("150", "7.50")),
        (("FILM-A3", "60"), "FILM-A3", ("60", "30.00")),
        (("TEE-SAND-M", "2", "--unit", "dozen"), "TEE-SAND-M", ("24", "72.00")),
    ],
)
def test_what_was_counted_is_what_is_there(
    run: Callable[..., Outcome], words: Sequence[str], sku: str, left: tuple[str, str]
) -> None:
    """More or less than the book has, in any unit of the item."""
    assert run("count", *words, "--date", "2026-01-31", "--yes").code == 0
    assert stock_of(run)[sku] == left


def test_nothing_left_is_a_count_of_zero(run: Callable[..., Outcome]) -> None:
    """The whole stock is missing."""
    run("count", "FILM-A3", "0", "--date", "2026-01-31", "--yes")
    assert "FILM-A3" not in stock_of(run)


def test_a_receipt_entered_late_changes_the_difference_and_not_the_count(run: Callable[..., Outcome]) -> None:
    """Eighteen were there: with two more received before, four are missing, and that is told."""
    run("count", "TEE-SAND-M", "18", "--date", "2026-01-15", "--yes")
    Path("late.csv").write_text(
        "date,event,sku,quantity,amount\n2026-01-10,receive,TEE-SAND-M,2,8.00\n", encoding="utf-8"
    )
    done = run("post", "late.csv", "--yes")
    assert "count 6, TEE-SAND-M: 6.00 before, 12.00 now" in done.out
    assert stock_of(run)["TEE-SAND-M"] == ("18", "56.00")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("TEE-SAN-M", "3"), "the book has no item TEE-SAN-M. Did you mean 'TEE-SAND-M'?"),
        (("GUEST-HOOD", "3"), "nothing of GUEST-HOOD ever came in by 2026-01-31"),
        (("TEE-SAND-M", "3", "--unit", "mL"), "mL measures volume"),
        (("TEE-SAND-M", "some"), "some"),
        (("INK-CYAN", "1.0004"), "finer than a thousandth"),
    ],
)
def test_what_cannot_have_been_counted_is_refused(
    run: Callable[..., Outcome], words: Sequence[str], said: str
) -> None:
    """Unknown items, those of which nothing ever came in, units that do not fit, what is no number."""
    done = run("count", *words, "--date", "2026-01-31", "--yes")
    assert isinstance(done.error, BlankbookError)
    assert (said in str(done.error), documents()) == (True, len(STOCK))


def test_less_than_nothing_was_not_counted(run: Callable[..., Outcome]) -> None:
    """There is no stock below zero on a shelf."""
    done = run("count", "--date", "2026-01-31", "--yes", "--", "TEE-SAND-M", "-3")
    assert isinstance(done.error, BlankbookError)
    assert ("below zero" in str(done.error), documents()) == (True, len(STOCK))


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("nothing-like-this.xlsx",),
        ("--sheet", "c.xlsx", "--layout", "heap"),
        ("--sheet", "c.xlsx", "--paper", "A5"),
        ("--sheet", "c.csv"),
        ("TEE-SAND-M",),
    ],
)
def test_a_count_of_nothing_in_particular_is_bad_usage(
    run: Callable[..., Outcome], words: Sequence[str]
) -> None:
    """Neither item nor file, no such file, an unknown layout or paper, a sheet nothing reads, no quantity."""
    assert isinstance(run("count", *words, "--yes").error, UsageError)


def test_without_an_answer_nothing_is_posted(run: Callable[..., Outcome]) -> None:
    """The difference is shown, and nobody is there to say yes."""
    done = run("count", "TEE-SAND-M", "18", "--date", "2026-01-31")
    assert isinstance(done.error, Refused)
    assert ("-6.00" in done.out, documents()) == (True, len(STOCK))


def test_a_dry_run_only_shows(run: Callable[..., Outcome]) -> None:
    """As everywhere."""
    done = run("count", "TEE-SAND-M", "18", "--date", "2026-01-31", "--dry-run")
    assert (done.code, "-6.00" in done.out, documents()) == (0, True, len(STOCK))


def test_a_count_workbook_goes_there_and_back(run: Callable[..., Outcome]) -> None:
    """Written as a list, filled in for two items, read: the others were not counted."""
    assert run("count", "--sheet", "count.xlsx", "--layout", "list", "--date", "2026-01-31").code == 0
    fill("count.xlsx", {"TEE-SAND-M": 18, "INK-CYAN": 150.5})
    done = run("count", "count.xlsx", "--date", "2026-01-31", "--yes")
    assert done.code == 0
    assert stock_of(run) == {
        "TEE-SAND-M": ("18", "54.00"),
        "TEE-SAND-S": ("5", "20.00"),
        "TEE-PLUM-L": ("4", "16.00"),
        "FILM-A3": ("50", "25.00"),
        "INK-CYAN": ("150.5", "7.52"),
    }
    assert documents() == len(STOCK) + 1


def test_a_workbook_nobody_filled_in_counts_nothing(run: Callable[..., Outcome]) -> None:
    """Empty cells are not zeros."""
    run("count", "--sheet", "count.xlsx", "--layout", "list", "--date", "2026-01-31")
    done = run("count", "count.xlsx", "--date", "2026-01-31", "--yes")
    assert isinstance(done.error, InputErrors)
    assert documents() == len(STOCK)


def test_a_partial_sheet_has_the_items_of_a_kind_alone(run: Callable[..., Outcome]) -> None:
    """Three shirts, and no film or ink."""
    done = run("count", "--sheet", "blanks.xlsx", "--kind", "blank", "--layout", "list")
    texts = {
        str(cell.value)
        for sheet in load_workbook("blanks.xlsx").worksheets
        for row in sheet.iter_rows()
        for cell in row
    }
    assert "FILM-A3" not in texts
    assert texts >= {"TEE-SAND-M", "TEE-SAND-S", "TEE-PLUM-L"}
    assert done.code == 0


@pytest.mark.parametrize(("words", "times_shown"), [((), 1), (("--blind",), 0)])
def test_a_blind_sheet_does_not_say_what_is_expected(
    run: Callable[..., Outcome], words: Sequence[str], times_shown: int
) -> None:
    """So that the counter counts."""
    run("count", "--sheet", "count.xlsx", "--layout", "list", "--kind", "ink", *words)
    values = [
        cell.value
        for sheet in load_workbook("count.xlsx").worksheets
        for row in sheet.iter_rows()
        for cell in row
    ]
    assert [str(value) for value in values].count("200") == times_shown


def test_the_same_count_twice_is_refused(run: Callable[..., Outcome]) -> None:
    """It would change nothing, and is told."""
    words = ("count", "TEE-SAND-M", "18", "--date", "2026-01-31", "--yes")
    run(*words)
    refused = str(run(*words).error)
    assert "in the book already, as count 6" in refused
    assert "reference" not in refused

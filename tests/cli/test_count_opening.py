"""`blankbook count --opening` in this process: a pile of stock comes in from one sheet."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
import typer
from book_builder import make_book
from small_shop import Commands, Outcome

from ledger.book.guessed_costs import guessed_stock
from ledger.book.month_report import read_report
from ledger.book.shop import read_shop
from ledger.cli import closing, count, items, leaving, proving, stock, undo
from ledger.errors import InputErrors, Refused, UsageError
from ledger.intake.opening_columns import OPENING_COLUMNS
from ledger.views.month_pack import read_pack

HEAD = "sku,name,kind,unit,packs,quantity,counted in,cost each,cost in all,cost is,expires on,note"
PILE = (
    "TEE-SAND-M,,,,,20,,3.00,,paid,,",
    "TEE-SAND-M,,,,,5,,,17.00,guess,,found in a box",
    "INK-CYAN,,,,,200,,0.0525,,guess,2026-12-31,",
    "TAPE-HEAT,,,,,,,,,,,",
    "HOOD-RED-M,Red hoodie M,blank,each,case = 12 each,2,case,96.00,,,,",
)


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Outcome]:
    """Run a command with a book that knows some items and holds no stock."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-02-10")
    path = tmp_path / "shop.blankbook"
    make_book(path)

    def register(app: typer.Typer) -> None:
        for module in (count, items, stock, closing, leaving, undo, proving):
            module.register(app)

    return Commands(register, path)


def sheet(*rows: str, name: str = "opening.csv") -> str:
    """Write an opening count as csv and return its name."""
    Path(name).write_text("\n".join([HEAD, *rows, ""]), encoding="utf-8")
    return name


def problems(outcome: Outcome) -> list[str]:
    """What a refused sheet was refused for, each with its place."""
    assert isinstance(outcome.error, InputErrors)
    return [f"{one.where}: {one.what} {one.next_step}" for one in outcome.error.problems]


def documents() -> int:
    """How many documents the book has."""
    connection = sqlite3.connect("shop.blankbook")
    number = connection.execute("SELECT count(*) FROM document").fetchone()[0]
    connection.close()
    return int(number)


def test_one_sheet_becomes_one_opening_with_new_items_and_guesses(run: Callable[..., Outcome]) -> None:
    """Costs each and in all, packs, two lots of an item, a new item: one document, exact to the cent."""
    done = run("count", sheet(*PILE), "--opening", "--yes", "--json")
    assert done.code == 0
    (document,) = done.data["documents"]
    assert (document["event"], document["date"], document["amount"]) == ("opening", "2026-01-01", "279.50")
    held = {row["sku"]: (row["quantity"], row["value"]) for row in run("stock", "--json").data}
    assert held == {
        "TEE-SAND-M": ("25", "77.00"),
        "INK-CYAN": ("200", "10.50"),
        "HOOD-RED-M": ("24", "192.00"),
    }
    (hood,) = [item for item in run("items", "--json").data if item["sku"] == "HOOD-RED-M"]
    assert [pack["name"] for pack in hood["packs"]] == ["case"]
    assert run("prove").code == 0


def test_the_preview_names_guesses_and_sums_by_kind(run: Callable[..., Outcome]) -> None:
    """A dry run shows quantity, cost each, value and what is a guess, and posts nothing."""
    done = run("count", sheet(*PILE), "--opening", "--dry-run")
    assert "2 rows are guesses, 27.50 USD of the total." in done.out
    assert [line.split() for line in done.out.splitlines() if line.startswith(("blank", "ink", "total"))] == [
        ["blank", "3", "269.00", "17.00"],
        ["ink", "1", "10.50", "10.50"],
        ["total", "4", "279.50", "27.50"],
    ]
    hood = next(line for line in done.out.splitlines() if line.startswith("HOOD-RED-M"))
    assert hood.split() == ["HOOD-RED-M", "24", "each", "8.0000", "192.00", "paid"]
    assert documents() == 0


def test_a_guess_stays_marked_while_its_lot_has_stock(run: Callable[..., Outcome]) -> None:
    """In lots, at the close and in the pack's notes; gone when nothing of it is left."""
    run("count", sheet(*PILE), "--opening", "--yes")
    lots = {row["lot"]: row["is_cost_guessed"] for row in run("lots", "--json").data}
    assert lots == {"1.1": False, "1.2": True, "1.3": True, "1.4": False}
    assert sum("a guess" in line for line in run("lots").out.splitlines()) == 2
    advice = [point for point in run("close", "2026-01", "--dry-run", "--json").data["checklist"] if "guess" in point["what"]]  # fmt: skip
    assert [(point["what"].split(":")[0], point["blocking"]) for point in advice] == [
        ("2 lots at guessed costs, 27.50 USD", False)
    ]
    connection = sqlite3.connect("shop.blankbook")
    pack = read_pack(connection, read_report(connection, "2026-01"), whole_year=False)
    said = [row for row in pack.table("notes").rows if row[1] == "guessed costs"]
    assert len(said) == 1
    assert "27.50 USD" in str(said[0][2])
    connection.close()
    run("use", "TEE-SAND-M", "25", "--date", "2026-01-20", "--yes")
    connection = sqlite3.connect("shop.blankbook")
    shop = read_shop(connection)
    assert (guessed_stock(connection, shop, "2026-01-19").lots, guessed_stock(connection, shop, "2026-01-31").lots) == (2, 1)  # fmt: skip
    connection.close()


def test_a_book_without_guesses_says_nothing_of_them(run: Callable[..., Outcome]) -> None:
    """No column and no advice where every cost was paid."""
    run("count", sheet("TEE-SAND-M,,,,,20,,3.00,,paid,,"), "--opening", "--yes")
    assert "cost is" not in run("lots").out
    assert "guess" not in run("close", "2026-01", "--dry-run").out


def test_every_problem_is_told_with_its_cell_and_nothing_is_posted(run: Callable[..., Outcome]) -> None:
    """One reading finds them all."""
    rows = (
        "TEE-SAND-N,,,,,1,,1.00,,,,",
        "TAPE-HEAT,,,,,4,,1.00,,,,",
        "TEE-PLUM-L,,,,,-2,,1.00,,,,",
        "TEE-PLUM-L,,,,,2,,,,,,",
        "TEE-PLUM-L,,,,,2,,1.00,3.00,,,",
        "TEE-PLUM-L,,,,,2,,1.00,,perhaps,,",
        "TEE-PLUM-L,,,,,2,crate,1.00,,,,",
        "TEE-PLUM-L,,,,,,,1.00,,,,",
        "TEE-PLUM-L,,,mL,,2,,1.00,,,,",
        "GUEST-HOOD,,,,,2,,1.00,,,,",
        "tee-plum-l,,,,,2,,1.00,,,,",
        "TEE-PLUM-L,,,,,2.5,,1.00,,,,",
        "TEE-PLUM-L,,,,,2,,0,,,,",
        "TEE-PLUM-L,,,,,2,,1.0000001,,,,",
        "TEE-PLUM-L,,,,,2,,,1.001,,,",
        "TEE-PLUM-L,,,,,99000000000000,,1.00,,,,",
    )
    found = problems(run("count", sheet(*rows), "--opening", "--yes"))
    assert [text.split(":")[0] for text in found] == [
        "row 2, column sku", "row 3, column sku", "row 4, column quantity", "row 5, column cost each",
        "row 6, column cost in all", "row 7, column cost is", "row 8, column counted in", "row 9, column quantity",
        "row 10, column unit", "row 11, column sku", "row 12, column sku", "row 13, column quantity",
        "row 14, column cost each", "row 15, column cost each", "row 16, column cost in all", "row 17, column quantity",
    ]  # fmt: skip
    assert "Did you mean 'TEE-SAND-M'?" in found[0]
    assert "deducted already" in found[1]
    assert ["more than 6 decimals" in found[13], "more than 2 decimals" in found[14]] == [True, True]
    assert "larger than a book can hold" in found[15]
    assert documents() == 0


def test_a_price_of_one_may_be_six_decimals_fine(run: Callable[..., Outcome]) -> None:
    """Ink by the millilitre costs parts of a cent, and 20,000 of them make 1,050.02."""
    assert run("count", sheet("INK-CYAN,,,,,20000,,0.052501,,,,"), "--opening", "--yes").code == 0
    (row,) = run("stock", "--json").data
    assert row["value"] == "1050.02"


def test_a_customers_own_goods_come_in_at_no_cost(run: Callable[..., Outcome]) -> None:
    """They are held, and never valued."""
    run("count", sheet("GUEST-HOOD,,,,,2,,,,,,"), "--opening", "--yes")
    (row,) = run("stock", "--json").data
    assert (row["quantity"], row["value"]) == ("2", "0.00")


def test_the_same_sheet_twice_is_refused(run: Callable[..., Outcome]) -> None:
    """Its items have their opening stock; only the opening that is corrected may come again."""
    run("count", sheet(*PILE), "--opening", "--yes")
    again = problems(run("count", sheet(*PILE), "--opening", "--yes"))
    assert len(again) == 4
    assert "opening 1" in again[0]
    same = run("count", sheet(*PILE), "--opening", "--instead-of", "1", "--yes")
    assert isinstance(same.error, InputErrors)
    assert "in the book already, as opening 1" in str(same.error)
    assert documents() == 1


def test_a_guess_is_corrected_though_stock_was_used(run: Callable[..., Outcome]) -> None:
    """The corrected sheet first, then the undo that it names: what was used is costed anew."""
    run("count", sheet(*PILE), "--opening", "--yes")
    run("use", "TEE-SAND-M", "22", "--date", "2026-01-20", "--yes")
    corrected = [row.replace("17.00,guess", "15.00,paid") for row in PILE]
    done = run("count", sheet(*corrected), "--opening", "--instead-of", "1", "--yes")
    assert "undo 1 --why" in done.err
    assert run("undo", "1", "--why", "entered anew, corrected", "--yes").code == 0
    held = {row["sku"]: (row["quantity"], row["value"]) for row in run("stock", "--json").data}
    assert held["TEE-SAND-M"] == ("3", "9.00")
    assert run("prove").code == 0
    gone = run("count", "opening.csv", "--opening", "--instead-of", "1", "--yes")
    assert isinstance(gone.error, Refused)


def test_the_written_sheet_has_the_items_kept_in_stock_and_is_read_back(run: Callable[..., Outcome]) -> None:
    """What is deducted when bought is not on it; filled in, the workbook is posted."""
    assert run("count", "--opening", "--sheet", "opening.xlsx").code == 0
    workbook = openpyxl.load_workbook("opening.xlsx")
    first = workbook.worksheets[0]
    columns = list(OPENING_COLUMNS)
    assert [cell.value for cell in first[1]] == columns
    rows = {first.cell(number, 1).value: number for number in range(2, first.max_row + 1)}
    rows.pop(None, None)
    assert set(rows) == {"TEE-SAND-M", "TEE-PLUM-L", "INK-CYAN", "FILM-A3", "GUEST-HOOD"}
    first.cell(rows["FILM-A3"], columns.index("quantity") + 1).value = 40
    first.cell(rows["FILM-A3"], columns.index("cost_each") + 1).value = 0.5
    first.cell(rows["FILM-A3"], columns.index("cost_is") + 1).value = "guess"
    workbook.save("opening.xlsx")
    assert run("count", "opening.xlsx", "--opening", "--yes").code == 0
    (row,) = run("stock", "--json").data
    assert (row["sku"], row["quantity"], row["value"]) == ("FILM-A3", "40", "20.00")


def test_one_kind_can_be_written_alone(run: Callable[..., Outcome]) -> None:
    """--kind leaves the other kinds out; the command that comes next takes the name with its blank."""
    done = run("count", "--opening", "--sheet", "my ink.xlsx", "--kind", "ink")
    assert 'count "my ink.xlsx" --opening\n' in done.err
    first = openpyxl.load_workbook("my ink.xlsx").worksheets[0]
    assert [first.cell(number, 1).value for number in range(2, 4)] == ["INK-CYAN", None]


@pytest.mark.parametrize(
    "words",
    [
        ("opening.csv", "--opening", "--date", "2026-01-05"),
        ("opening.csv", "--opening", "--sheet", "x.xlsx"),
        ("--opening",),
        ("--opening", "--sheet", "x.csv"),
        ("none.csv", "--opening"),
        ("opening.csv", "--instead-of", "1"),
    ],
)
def test_what_does_not_go_together_is_refused(run: Callable[..., Outcome], words: tuple[str, ...]) -> None:
    """Options that would change nothing are not passed over."""
    sheet(*PILE)
    assert isinstance(run("count", *words).error, UsageError)


def test_figures_of_before_a_book_that_holds_the_whole_tax_year_are_said_to_be_unused(
    run: Callable[..., Outcome],
) -> None:
    """There are no months before it to add up; only last year's closing stock is held against line 35."""
    assert "only last year's 41 is used" in run("months", "--earlier", "36 512.40").err
    assert "is used" not in run("months", "--earlier", "last year's 41 180.00").err

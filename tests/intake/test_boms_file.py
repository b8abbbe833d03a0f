"""A file of bills against the book: read, checked together, compared, every problem with its place."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import openpyxl
import pytest

from ledger.book.bill_store import find_bills, find_made
from ledger.book.connect import create, write_tx
from ledger.errors import InputErrors
from ledger.intake import items_file
from ledger.intake.boms_file import BillsPlan, plan_bills, read_bills_file, save_plan
from ledger.intake.templates import write_template

ITEMS = (
    "sku,name,kind,unit,style,sizes,colours,density_g_per_mL,packs\n"
    ",Drift tee,blank,each,Drift,S-M,Black=BLK; White=WHT,,\n"
    "INK-W,White ink,ink,mL,,,,,bottle = 500 mL\n"
    "PRE,Pretreatment,chemical,g,,,,1.05,\n"
    "COVER,Cover sheet,tool,each,,,,,\n"
)
HEAD = "bill,name,way,blank,finished,sku,per_piece,per_run,unit,waste,uses,colours,misprints,labour_per_piece,note\n"
FOX = (
    "FOX,Fox,direct to garment,Drift,FOX-{colour}-{size},INK-W,2.5,,,10,,Black,3,0.40,white below\n"
    ",,,,,PRE,12.5,,mL,,,,,,\n"
    ",,,,,COVER,1,,,,50,,,,\n"
)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """A connection to a book with a style, an ink, a pretreatment and a cover sheet."""
    connection = create(tmp_path / "shop.blankbook")
    path = tmp_path / "items.csv"
    path.write_text(ITEMS, "utf-8")
    with write_tx(connection):
        items_file.save_plan(connection, items_file.plan_items(connection, items_file.read_items_file(path)))
    yield connection
    connection.close()


def planned(book: sqlite3.Connection, folder: Path, text: str, head: str = HEAD) -> BillsPlan:
    """Return what a csv of bills would do."""
    path = folder / "bills.csv"
    path.write_text(head + text, "utf-8")
    return plan_bills(book, read_bills_file(path))


def load(book: sqlite3.Connection, folder: Path, text: str, head: str = HEAD) -> BillsPlan:
    """Load a csv of bills into the book and return what it did."""
    plan = planned(book, folder, text, head)
    with write_tx(book):
        save_plan(book, plan)
    return plan


def problems(book: sqlite3.Connection, folder: Path, text: str) -> list[str]:
    """Return the places of what is wrong with a csv of bills."""
    with pytest.raises(InputErrors) as caught:
        planned(book, folder, text)
    return [problem.where for problem in caught.value.problems]


def test_a_bill_is_in_the_book_as_the_file_says(book: sqlite3.Connection, tmp_path: Path) -> None:
    """Every amount comes back exactly, in its own unit, lines in their order."""
    plan = load(book, tmp_path, FOX)
    found = find_bills(book)["FOX"]
    first = found.lines[0]
    assert found == plan.new[0]
    assert (first.per_piece, first.waste_percent, first.colours, first.note, found.labour_per_piece) == (
        Fraction(5, 2),
        Fraction(10),
        ("Black",),
        "white below",
        Decimal("0.40"),
    )


def test_the_bills_of_the_book_make_an_item_of_every_blank(book: sqlite3.Connection, tmp_path: Path) -> None:
    """One bill serves all colours and sizes."""
    load(book, tmp_path, FOX)
    assert list(find_made(book)) == ["FOX-BLK-M", "FOX-BLK-S", "FOX-WHT-M", "FOX-WHT-S"]


def test_the_same_file_again_is_an_empty_plan(book: sqlite3.Connection, tmp_path: Path) -> None:
    """Twice is once."""
    load(book, tmp_path, FOX)
    assert planned(book, tmp_path, FOX) == BillsPlan(unchanged=("FOX",))


def test_capitals_of_the_file_do_not_matter(book: sqlite3.Connection, tmp_path: Path) -> None:
    """Bill, blank and SKU are spelled as the book has them."""
    load(book, tmp_path, FOX)
    other = FOX.replace("FOX,", "fox,").replace("Drift", "DRIFT").replace("INK-W", "ink-w")
    assert planned(book, tmp_path, other).is_empty


def test_a_change_names_its_columns(book: sqlite3.Connection, tmp_path: Path) -> None:
    """What the bill uses is called lines."""
    load(book, tmp_path, FOX)
    plan = planned(book, tmp_path, FOX.replace(",Fox,", ",Red fox,").replace("12.5", "13"))
    assert plan.changed_columns == ("name", "lines")


def test_a_line_the_file_leaves_out_is_gone(book: sqlite3.Connection, tmp_path: Path) -> None:
    """A bill is replaced whole."""
    load(book, tmp_path, FOX)
    load(book, tmp_path, FOX.replace(",,,,,COVER,1,,,,50,,,,\n", ""))
    assert [line.sku for line in find_bills(book)["FOX"].lines] == ["INK-W", "PRE"]


def test_what_the_file_has_no_column_for_stays(book: sqlite3.Connection, tmp_path: Path) -> None:
    """A short sheet does not empty the bill's own fields."""
    load(book, tmp_path, FOX)
    before = find_bills(book)["FOX"]
    head = "bill,name,way,sku,per_piece\n"
    load(book, tmp_path, "FOX,Fox,direct to garment,PRE,9\n", head)
    after = find_bills(book)["FOX"]
    assert after == replace(before, lines=after.lines)


def test_rows_of_a_bill_may_stand_apart(book: sqlite3.Connection, tmp_path: Path) -> None:
    """Its code brings them together; its own columns need to stand only once."""
    text = FOX + "ELK,Elk,stones,Drift,,COVER,1,,,,,,,,\nFOX,,,,,INK-W,,5,,,,White,,,\n"
    plan = load(book, tmp_path, text)
    assert [(bill.code, len(bill.lines)) for bill in plan.new] == [("FOX", 4), ("ELK", 1)]


def test_a_bill_may_use_what_a_bill_further_down_makes(book: sqlite3.Connection, tmp_path: Path) -> None:
    """The file is judged as a whole, not row by row."""
    text = "SET,Set,stones,,SET,fox-blk-m,2,,,,,,,,\n" + FOX
    assert load(book, tmp_path, text).new[0].lines[0].sku == "FOX-BLK-M"


def test_every_problem_is_told_in_one_go(book: sqlite3.Connection, tmp_path: Path) -> None:
    """Cells that cannot be read, and what the book knows better, with their places."""
    text = (
        "A,Ay,knitting,Drift,,INK-W,-1,,,,,,,,\n"
        ",,,,,NIX,0,,,,,,,,\n"
        "B,Bee,stones,Drifft,,INK-W,1,,cm,,,,,,\n"
        "C,Cee,stones,Drift,C,COVER,1,,,,,,,,\n"
    )
    assert problems(book, tmp_path, text) == [
        "row 2, column way",
        "row 2, column per_piece",
        "row 3, column per_piece",
        "row 3, column sku",
        "row 4, column blank",
        "row 4, column unit",
        "row 5, column finished",
    ]


def test_a_circle_through_the_book_is_told(book: sqlite3.Connection, tmp_path: Path) -> None:
    """The file's bill uses one of the book that would then use it."""
    load(book, tmp_path, "A,Ay,stones,,ONE,INK-W,1,,,,,,,,\nB,Bee,stones,,TWO,ONE,1,,,,,,,,\n")
    assert problems(book, tmp_path, "A,Ay,stones,,ONE,TWO,1,,,,,,,,\n") == ["row 2, column sku"]


def test_a_row_without_a_bill_above_it_is_told(book: sqlite3.Connection, tmp_path: Path) -> None:
    """Nothing says whose line it is."""
    assert problems(book, tmp_path, ",,,,,INK-W,1,,,,,,,,\n" + FOX) == ["row 2, column bill"]


def test_a_row_wrong_among_many_posts_nothing(book: sqlite3.Connection, tmp_path: Path) -> None:
    """Row 400 of 500 is named, and no bill is in the plan."""
    rows = [f"B{n},Bee {n},stones,Drift,,COVER,{'x' if n == 398 else 1},,,,,,,,\n" for n in range(500)]
    assert problems(book, tmp_path, "".join(rows)) == ["row 400, column per_piece"]


def test_a_missing_column_is_told(book: sqlite3.Connection, tmp_path: Path) -> None:
    """Bill, name, way and sku are needed."""
    with pytest.raises(InputErrors, match="way"):
        planned(book, tmp_path, "A,B,C\n", "bill,name,sku\n")


def test_the_template_filled_in_is_read(book: sqlite3.Connection, tmp_path: Path) -> None:
    """The blank workbook and the reader belong together; a way is chosen without its comma."""
    path = tmp_path / "bills.xlsx"
    write_template("boms", path)
    workbook = openpyxl.load_workbook(path)
    sheet = workbook.worksheets[0]
    cells = ["SUB", "Sub", "sublimation one panel", "Drift", None, "INK-W", 0.9, None, "mL", "5%"]
    for column, value in enumerate(cells, start=1):
        sheet.cell(2, column).value = value
    workbook.save(path)
    bill = plan_bills(book, read_bills_file(path)).new[0]
    assert (bill.way, bill.finished, bill.lines[0].per_piece, bill.lines[0].waste_percent) == (
        "sublimation, one panel",
        "SUB-{blank}",
        Fraction(9, 10),
        Fraction(5),
    )

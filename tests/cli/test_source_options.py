"""`--errors FILE` and `-` on receive and post, in this process."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
from small_shop import Commands, Outcome, new_book

from ledger.cli import items, post, receive
from ledger.errors import InputErrors, UsageError

ITEMS = "sku,name,kind,unit\nTEE-BLK-M,Tee,blank,each\nTEE-BLK-L,Tee,blank,each\n"
WRONG = "date,event,sku,quantity,amount\n2026-01-05,opening,TEE-BLK-M,many,40\n2026-01-05,opening,TEE-BLK-L,6,30\n"
RIGHT = WRONG.replace("many", "10").replace("01-05", "01-01")
PASTED = """\
Date         Event     SKU         Quantity   Amount
2026-01-01   opening   TEE-BLK-M         10    40.00
2026-01-01   opening   TEE-BLK-L          6    30.00
"""


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A book with two items, in the current folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    made = new_book(tmp_path / "shop.blankbook")
    Path("items.csv").write_text(ITEMS, "utf-8")
    assert Commands(items.register, made)("items", "load", "items.csv", "--yes").code == 0
    return made


def posted(book: Path, text: str, *more: str) -> Outcome:
    """Post a sheet of events of this text."""
    Path("events.csv").write_text(text, "utf-8")
    return Commands(post.register, book)("post", "events.csv", "--yes", *more)


def test_a_wrong_cell_is_marked_in_a_copy(book: Path) -> None:
    """The copy is a workbook of the same rows, the cell filled and commented."""
    posted(book, WRONG, "--errors", "marked.xlsx")
    assert openpyxl.load_workbook("marked.xlsx")["events.csv"]["D2"].comment is not None


def test_the_problems_are_raised_all_the_same(book: Path) -> None:
    """The command still ends with every problem and its exit code."""
    assert isinstance(posted(book, WRONG, "--errors", "marked.xlsx").error, InputErrors)


def test_the_copy_and_what_to_do_with_it_are_said(book: Path) -> None:
    """The maker reads where it is and how many cells are marked."""
    assert (
        "Wrote marked.xlsx, a copy in which 1 cell is marked"
        in posted(book, WRONG, "--errors", "marked.xlsx").err
    )


def test_the_file_itself_is_never_written_to(book: Path) -> None:
    """Only the copy holds marks."""
    posted(book, WRONG, "--errors", "marked.xlsx")
    assert Path("events.csv").read_text("utf-8") == WRONG


def test_a_mended_copy_is_posted(book: Path) -> None:
    """The maker mends the cell in the copy, saves and gives that file."""
    posted(book, WRONG.replace("01-05", "01-01"), "--errors", "marked.xlsx")
    workbook = openpyxl.load_workbook("marked.xlsx")
    workbook["events.csv"]["D2"] = 10
    workbook.save("mended.xlsx")
    assert Commands(post.register, book)("post", "mended.xlsx", "--yes").code == 0


def test_no_copy_is_written_where_nothing_is_wrong(book: Path) -> None:
    """The option asks for a copy of problems, not of the file."""
    assert (posted(book, RIGHT, "--errors", "marked.xlsx").code, Path("marked.xlsx").exists()) == (0, False)


def test_a_name_that_is_no_workbooks_is_refused(book: Path) -> None:
    """Before anything is read: the file itself may be meant."""
    found = posted(book, WRONG, "--errors", "events.csv")
    assert isinstance(found.error, UsageError)
    assert "let the name events.csv end in .xlsx" in str(found.error)


def test_a_file_that_is_there_is_left_and_the_problems_are_told_all_the_same(book: Path) -> None:
    """Only the copy is refused, and it is said why there is none."""
    Path("there.xlsx").write_bytes(b"mine")
    found = posted(book, WRONG, "--errors", "there.xlsx")
    assert (isinstance(found.error, InputErrors), "many" in str(found.error)) == (True, True)
    assert "there.xlsx was not written: a file of that name is there already" in found.err
    assert Path("there.xlsx").read_bytes() == b"mine"


def test_errors_without_a_file_are_wrong_usage(book: Path) -> None:
    """There is nothing to copy."""
    found = Commands(receive.register, book)(
        "receive", *("--sku", "TEE-BLK-M", "--quantity", "2"), "--errors", "marked.xlsx"
    )
    assert isinstance(found.error, UsageError)


def test_a_file_that_cannot_be_read_leaves_no_copy(book: Path) -> None:
    """It is said that there is none."""
    found = posted(book, "<html>sign in</html>", "--errors", "marked.xlsx")
    assert ("marked.xlsx was not written" in found.err, Path("marked.xlsx").exists()) == (True, False)


def test_an_unknown_item_of_a_delivery_is_marked(book: Path) -> None:
    """Problems that only the book can see are marked too."""
    Path("invoice.csv").write_text("Style,Colour,Size,Qty,Price\nTEE,BLK,M,many,4.00\n", "utf-8")
    Path("mine.toml").write_text(
        '[columns]\nstyle = "Style"\ncolour = "Colour"\nsize = "Size"\nquantity = "Qty"\nunit_price = "Price"\n'
        '[sku]\npattern = "{style}-{colour}-{size}"\n',
        "utf-8",
    )
    Commands(receive.register, book)(
        *("receive", "invoice.csv", "--profile", "mine.toml", "--party", "Mill Lane"),
        "--errors",
        "marked.xlsx",
    )
    assert openpyxl.load_workbook("marked.xlsx")["invoice.csv"]["D2"].comment is not None


def test_a_pasted_table_is_posted(book: Path) -> None:
    """What comes through standard input is read as a table."""
    assert Commands(post.register, book)("post", "-", "--yes", typed=PASTED).code == 0


def test_a_problem_of_a_pasted_table_names_line_and_column(book: Path) -> None:
    """The maker finds it in what was pasted."""
    found = Commands(post.register, book)("post", "-", "--yes", typed=PASTED.replace("   10", " many"))
    assert isinstance(found.error, InputErrors)
    assert [problem.where for problem in found.error.problems] == ["line 2, column Quantity"]


def test_nothing_pasted_is_said(book: Path) -> None:
    """An empty input is no empty sheet."""
    assert "nothing came in" in str(Commands(post.register, book)("post", "-", "--yes").error)


def test_a_pasted_delivery_is_received(book: Path) -> None:
    """Receive reads it through the same profile as a file."""
    Path("mine.toml").write_text('[columns]\nsku = "SKU"\nquantity = "Qty"\nunit_price = "Price"\n', "utf-8")
    table = "SKU         Qty   Price\nTEE-BLK-M    12    4.00\nTEE-BLK-L     6    4.00\n"
    found = Commands(receive.register, book)(
        *("receive", "-", "--profile", "mine.toml", "--party", "Mill Lane", "--reference", "1", "--yes"),
        typed=table,
    )
    assert (found.code, "Posted receipt 1" in found.err) == (0, True), found.error

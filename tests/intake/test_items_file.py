"""An items file against the book: read, compared, every problem with its place."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from ledger.book.catalogue_store import find_items, find_packs
from ledger.book.connect import create, write_tx
from ledger.errors import InputErrors
from ledger.intake.items_file import ItemsPlan, plan_items, read_items_file, save_plan

TEE = "sku,name,kind,unit,fibre,packs\nTEE-1,Tee,blank,each,100% cotton,case = 72 each\n"


@pytest.fixture
def book(tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """A connection to an empty book."""
    connection = create(tmp_path / "shop.blankbook")
    yield connection
    connection.close()


def load(book: sqlite3.Connection, folder: Path, text: str) -> ItemsPlan:
    """Load a csv of items into the book and return what it did."""
    plan = planned(book, folder, text)
    with write_tx(book):
        save_plan(book, plan)
    return plan


def planned(book: sqlite3.Connection, folder: Path, text: str) -> ItemsPlan:
    """Return what a csv of items would do."""
    path = folder / "items.csv"
    path.write_text(text, "utf-8")
    return plan_items(book, read_items_file(path))


def workbook(folder: Path, *rows: tuple[object, ...], title: str = "Items") -> Path:
    """Write a workbook with one sheet of these rows."""
    made = openpyxl.Workbook()
    sheet = made.active
    assert sheet is not None
    sheet.title = title
    for row in rows:
        sheet.append(row)
    path = folder / "items.xlsx"
    made.save(path)
    return path


def problems_of(path: Path) -> list[tuple[str, str]]:
    """Return the places and texts of what is wrong with a file."""
    with pytest.raises(InputErrors) as caught:
        read_items_file(path)
    return [(problem.where, problem.what) for problem in caught.value.problems]


def test_new_items_and_packs_are_in_the_book_after_saving(book: sqlite3.Connection, tmp_path: Path) -> None:
    """Loading adds what the book does not know."""
    load(book, tmp_path, TEE)
    assert (list(find_items(book)), [pack.name for pack in find_packs(book)["TEE-1"]]) == (
        ["TEE-1"],
        ["case"],
    )


def test_the_same_file_again_is_an_empty_plan(book: sqlite3.Connection, tmp_path: Path) -> None:
    """Nothing new, nothing changed, every item counted as unchanged."""
    load(book, tmp_path, TEE)
    assert planned(book, tmp_path, TEE) == ItemsPlan(unchanged=("TEE-1",))


def test_a_change_names_its_columns_as_the_sheet_has_them(book: sqlite3.Connection, tmp_path: Path) -> None:
    """The maker reads the names they typed, not those of the database."""
    load(book, tmp_path, TEE)
    plan = planned(book, tmp_path, TEE.replace("100% cotton", "100% linen").replace("72", "60"))
    assert [change.columns for change in plan.changed] == [("fibre", "packs")]


def test_what_the_file_has_no_column_for_stays(book: sqlite3.Connection, tmp_path: Path) -> None:
    """A short sheet does not empty what a longer one filled."""
    load(book, tmp_path, TEE)
    before = find_items(book)["TEE-1"]
    load(book, tmp_path, "sku,name,kind,unit\nTEE-1,Renamed,blank,each\n")
    assert find_items(book)["TEE-1"] == replace(before, name="Renamed")


def test_a_tax_class_that_was_told_stays_where_the_file_does_not_say(
    book: sqlite3.Connection, tmp_path: Path
) -> None:
    """The kind's usual class does not overrule the maker's."""
    load(book, tmp_path, "sku,name,kind,unit,tax_class\nCLN-1,Cleaner,chemical,mL,supplies when bought\n")
    assert planned(book, tmp_path, "sku,name,kind,unit\nCLN-1,Cleaner,chemical,mL\n").is_empty


def test_a_youth_size_stays_one_where_the_file_names_no_ladder(
    book: sqlite3.Connection, tmp_path: Path
) -> None:
    """A bare S would be guessed an adult size, and the caution for children lost."""
    load(book, tmp_path, "sku,name,kind,unit,size,ladder\nK-S,Kid,blank,each,S,youth\n")
    assert planned(book, tmp_path, "sku,name,kind,unit,size\nK-S,Kid,blank,each,S\n").is_empty


def test_an_empty_cell_empties_what_the_book_has(book: sqlite3.Connection, tmp_path: Path) -> None:
    """A column that is there says what is so."""
    load(book, tmp_path, TEE)
    load(book, tmp_path, TEE.replace("100% cotton", ""))
    assert find_items(book)["TEE-1"].fibre_content == ""


def test_packs_the_file_does_not_name_are_told_and_stay(book: sqlite3.Connection, tmp_path: Path) -> None:
    """Loading takes no pack away."""
    load(book, tmp_path, TEE)
    plan = load(book, tmp_path, TEE.replace("case = 72", "carton = 24"))
    assert (plan.kept_packs, len(find_packs(book)["TEE-1"])) == (("TEE-1 case",), 2)


def test_a_pack_in_other_capitals_is_the_same_pack(book: sqlite3.Connection, tmp_path: Path) -> None:
    """Case and case do not become two."""
    load(book, tmp_path, TEE)
    assert planned(book, tmp_path, TEE.replace("case", "Case")).is_empty


def test_a_sku_that_differs_only_in_capitals_from_the_books_is_refused(
    book: sqlite3.Connection, tmp_path: Path
) -> None:
    """Two SKUs that read alike would be two stocks of one thing."""
    load(book, tmp_path, TEE)
    with pytest.raises(InputErrors, match="row 2, column sku: the SKU tee-1 stands in the book as TEE-1"):
        planned(book, tmp_path, TEE.replace("TEE-1", "tee-1"))


def test_what_is_fixed_after_first_use_is_refused_with_its_place(
    book: sqlite3.Connection, tmp_path: Path
) -> None:
    """Kind, tax class and unit of an item in a document cannot be loaded over."""
    load(book, tmp_path, TEE)
    book.execute(
        "INSERT INTO document (number, event, document_date, effect_date, recorded_at, currency) "
        "VALUES (1, 'use', '2026-01-05', '2026-01-05', '2026-01-05T10:00:00Z', 'USD')"
    )
    book.execute("INSERT INTO document_line (document, line, sku) VALUES (1, 1, 'TEE-1')")
    with pytest.raises(InputErrors, match="row 2, column sku: TEE-1: its base unit is each"):
        planned(book, tmp_path, "sku,name,kind,unit\nTEE-1,Tee,blank,sheet\n")


def test_every_problem_of_a_workbook_has_its_cell(tmp_path: Path) -> None:
    """All rows are read before anything is said."""
    path = workbook(
        tmp_path,
        ("sku", "name", "kind", "unit", "weight_g"),
        ("A-1", "Alpha", "blnk", "each", None),
        ("B-1", None, "blank", "each", -2),
    )
    assert [where for where, _ in problems_of(path)] == [
        "sheet Items, cell C2",
        "sheet Items, cell B3",
        "sheet Items, cell E3",
    ]


def test_a_sku_twice_in_one_file_is_a_problem_also_beside_another_fault(tmp_path: Path) -> None:
    """The second row is named, and where the first stands."""
    path = tmp_path / "items.csv"
    path.write_text("sku,name,kind,unit\nA-1,Alpha,blank,litre\na-1,Alpha,blank,each\n", "utf-8")
    assert problems_of(path)[1] == (
        "row 3, column sku",
        "the SKU a-1 stands twice in the file: also in row 2.",
    )


def test_a_size_that_the_spreadsheet_made_a_date_is_a_problem(tmp_path: Path) -> None:
    """2-4 typed into a cell becomes the second of April; it is no size."""
    path = workbook(
        tmp_path,
        ("sku", "name", "kind", "unit", "size"),
        ("A-1", "Alpha", "blank", "each", datetime.date(2026, 4, 2)),
    )
    assert [where for where, _ in problems_of(path)] == ["sheet Items, cell E2"]


def test_an_error_value_in_a_cell_is_a_problem(tmp_path: Path) -> None:
    """A broken formula's #N/A does not become a name."""
    path = tmp_path / "items.csv"
    path.write_text("sku,name,kind,unit\nA-1,#N/A,blank,each\n", "utf-8")
    assert [where for where, _ in problems_of(path)] == ["row 2, column name"]


def test_missing_columns_are_named_with_what_was_found(tmp_path: Path) -> None:
    """A file without kind and unit says so in one go."""
    path = tmp_path / "items.csv"
    path.write_text("sku,name\nA-1,Alpha\n", "utf-8")
    whats = " ".join(what for _, what in problems_of(path))
    assert ("the column kind is missing" in whats, "the column unit is missing" in whats) == (True, True)


def test_a_sheet_of_styles_needs_no_sku(tmp_path: Path) -> None:
    """Sizes make the SKUs."""
    path = tmp_path / "items.csv"
    path.write_text("name,kind,unit,style,sizes\nTee,blank,each,Drift,S-M\n", "utf-8")
    assert [item.sku for item in read_items_file(path).items] == ["DRIFT-S", "DRIFT-M"]


def test_headings_of_other_files_are_understood(tmp_path: Path) -> None:
    """Item code, description and type are sku, name and kind."""
    path = tmp_path / "items.csv"
    path.write_text("Item Code;Description;Type;Base Unit\nA-1;Alpha;blank;each\n", "utf-8")
    assert read_items_file(path).items[0].name == "Alpha"


def test_a_column_that_is_not_read_is_said(tmp_path: Path) -> None:
    """A heading with a slip of the finger does not lose its column in silence."""
    path = tmp_path / "items.csv"
    path.write_text("sku,name,kind,unit,fibr\nA-1,Alpha,blank,each,100% cotton\n", "utf-8")
    assert read_items_file(path).remarks == (
        "the column 'fibr' was not read: the Items sheet has no such column. Did you mean 'fibre'?",
    )


def test_the_sheet_called_items_is_read_wherever_it_stands(tmp_path: Path) -> None:
    """Another sheet before it is named as not read."""
    path = workbook(tmp_path, ("sku", "name", "kind", "unit"), ("A-1", "Alpha", "blank", "each"))
    made = openpyxl.load_workbook(path)
    made.create_sheet("Ideas", 0).append(["sku", "name", "kind", "unit"])
    made.save(path)
    read = read_items_file(path)
    assert ([item.sku for item in read.items], read.remarks) == (
        ["A-1"],
        ("sheet Ideas was not read, only sheet Items.",),
    )


def test_a_sheet_of_another_name_is_found_by_its_headings(tmp_path: Path) -> None:
    """The sheet need not be called Items."""
    path = workbook(
        tmp_path, ("sku", "name", "kind", "unit"), ("A-1", "Alpha", "blank", "each"), title="Stock list"
    )
    made = openpyxl.load_workbook(path)
    made.create_sheet("Notes", 0).append(["buy more ink"])
    made.save(path)
    assert [item.sku for item in read_items_file(path).items] == ["A-1"]


def test_a_template_without_rows_is_refused(tmp_path: Path) -> None:
    """A sheet that was not filled in says so."""
    path = workbook(tmp_path, ("sku", "name", "kind", "unit"))
    assert [what for _, what in problems_of(path)] == ["there are no rows under the headings in row 1."]


def test_text_that_begins_like_a_formula_is_no_sku(tmp_path: Path) -> None:
    """It would come out of a workbook as a formula."""
    path = tmp_path / "items.csv"
    path.write_text("sku,name,kind,unit\n=A1,Alpha,blank,each\n", "utf-8")
    assert [where for where, _ in problems_of(path)] == ["row 2, column sku"]

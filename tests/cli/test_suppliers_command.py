"""`blankbook suppliers` in this process."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
from small_shop import Commands, new_book

from ledger.cli import suppliers
from ledger.errors import InputErrors, Refused, UsageError

HEAD = "name,role,country,currency,terms,note\n"
MILL = "Mill Lane Textiles,supplier,US,USD,prepaid,\n"
BROKER = "Quillfeather Brokers,broker,US,USD,30 days,Clears shipments\n"


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The command with a new book, run in an empty folder."""
    monkeypatch.chdir(tmp_path)
    return Commands(suppliers.register, new_book(tmp_path / "shop.blankbook"))


def sheet(*rows: str, head: str = HEAD) -> str:
    """Write a suppliers file and return its name."""
    Path("suppliers.csv").write_text(head + "".join(rows), "utf-8")
    return "suppliers.csv"


def test_loaded_suppliers_are_listed(blankbook: Commands) -> None:
    """What the sheet says of a broker is what the list says."""
    blankbook("suppliers", "load", sheet(BROKER), "--yes")
    assert blankbook("suppliers", "--json").data == [
        {
            "name": "Quillfeather Brokers",
            "role": "broker",
            "country": "US",
            "currency": "USD",
            "terms": "30 days",
            "note": "Clears shipments",
        }
    ]


def test_the_list_is_a_table_in_the_order_of_names(blankbook: Commands) -> None:
    """Names stand below each other, by the alphabet."""
    blankbook("suppliers", "load", sheet(BROKER, MILL), "--yes")
    rows = blankbook("suppliers").out.splitlines()
    assert [row.split()[0] for row in rows[2:]] == ["Mill", "Quillfeather"]


def test_an_unchanged_file_changes_nothing_and_says_so(blankbook: Commands) -> None:
    """Twice is once."""
    blankbook("suppliers", "load", sheet(MILL, BROKER), "--yes")
    before = blankbook.book.read_bytes()
    outcome = blankbook("suppliers", "load", "suppliers.csv")
    assert (outcome.code, "Nothing changes" in outcome.out, blankbook.book.read_bytes() == before) == (
        0,
        True,
        True,
    )


def test_a_name_in_other_capitals_is_the_same_supplier(blankbook: Commands) -> None:
    """It is amended under the name the book has."""
    blankbook("suppliers", "load", sheet(MILL), "--yes")
    blankbook("suppliers", "load", sheet("MILL  lane textiles,CN\n", head="name,country\n"), "--yes")
    assert [(row["name"], row["country"]) for row in blankbook("suppliers", "--json").data] == [
        ("Mill Lane Textiles", "CN")
    ]


def test_what_the_sheet_has_no_column_for_stays(blankbook: Commands) -> None:
    """A sheet of names and countries leaves a broker a broker."""
    blankbook("suppliers", "load", sheet(BROKER), "--yes")
    outcome = blankbook(
        "suppliers",
        "load",
        sheet("Quillfeather Brokers,CA\n", head="name,country\n"),
        "--yes",
        "--json",
    )
    assert outcome.data["changed"] == [{"name": "Quillfeather Brokers", "columns": ["country"]}]


def test_every_problem_of_the_file_is_named_with_its_place(blankbook: Commands) -> None:
    """Role, country, currency, an empty name and a name twice come in one list."""
    rows = (MILL, "X,seller,ZZ,XXQ,,\n", ",supplier,US,USD,,\n", MILL.upper())
    error = blankbook("suppliers", "load", sheet(*rows), "--yes").error
    assert isinstance(error, InputErrors)
    assert [problem.where for problem in error.problems] == [
        "row 3, column role",
        "row 3, column country",
        "row 3, column currency",
        "row 4, column name",
        # The role in capitals is fine; the name stands there for the second time.
        "row 5, column name",
    ]


def test_without_anybody_to_ask_nothing_is_loaded(blankbook: Commands) -> None:
    """A load without --yes in a script is refused."""
    assert isinstance(blankbook("suppliers", "load", sheet(MILL)).error, Refused)


def test_a_dry_run_changes_nothing(blankbook: Commands) -> None:
    """--dry-run only shows."""
    before = blankbook.book.read_bytes()
    outcome = blankbook("suppliers", "load", sheet(MILL), "--dry-run")
    assert ("1 new, 0 changed" in outcome.out, blankbook.book.read_bytes() == before) == (True, True)


def test_the_template_is_a_workbook_that_loads(blankbook: Commands) -> None:
    """A row typed into the blank sheet is a supplier of the book."""
    blankbook("suppliers", "template", "sheet.xlsx")
    workbook = openpyxl.load_workbook("sheet.xlsx")
    workbook["Suppliers"].cell(2, 1, "Mill Lane Textiles")
    workbook.save("sheet.xlsx")
    blankbook("suppliers", "load", "sheet.xlsx", "--yes")
    assert [row["role"] for row in blankbook("suppliers", "--json").data] == ["supplier"]


def test_a_new_book_says_how_to_begin(blankbook: Commands) -> None:
    """An empty list names the next command."""
    assert "blankbook suppliers template" in blankbook("suppliers").err


def test_options_of_the_list_do_not_reach_a_command_under_it(blankbook: Commands) -> None:
    """An option that would be lost in silence is refused."""
    assert isinstance(blankbook("suppliers", "--json", "load", sheet(MILL)).error, UsageError)


@pytest.mark.parametrize("words", [("suppliers",), ("suppliers", "load"), ("suppliers", "template")])
def test_help_shows_an_example(blankbook: Commands, words: tuple[str, ...]) -> None:
    """Each help text has a command to copy."""
    assert f"\n    blankbook {' '.join(words)}" in blankbook(*words, "--help").out

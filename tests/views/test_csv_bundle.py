"""The pack as csv files: safe in a spreadsheet, exact as text, and never over somebody's files."""

from __future__ import annotations

import csv
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pack_shop import tables_of, worked_pack

from ledger.errors import UsageError
from ledger.views.csv_bundle import safe_text, write_csv_bundle
from ledger.views.pack import Column, Table

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The worked month's tables."""
    path = tmp_path_factory.mktemp("csv") / "march"
    write_csv_bundle(path, worked_pack())
    return path


def read(path: Path) -> list[dict[str, str]]:
    """Return the rows of a csv file."""
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def test_every_table_and_form_has_its_file(folder: Path) -> None:
    """One file for each sheet, and the chart's figures."""
    pack = worked_pack()
    expected = {"DRAFT.txt", *(f"{sheet.key}.csv" for sheet in (*pack.sheets, pack.stock_by_month))}
    assert {path.name for path in folder.iterdir()} == expected


def test_a_draft_says_so_until_it_is_replaced_by_a_closed_month(tmp_path: Path) -> None:
    """In a file of its own, which goes with the draft, and in the notes; somebody's own file stays."""
    folder, note = tmp_path / "march", tmp_path / "march" / "DRAFT.txt"
    write_csv_bundle(folder, worked_pack())
    assert "This month is not closed" in note.read_text(encoding="utf-8-sig")
    assert [row["what"] for row in read(folder / "notes.csv") if row["about"] == "draft"] == ["open"]
    closed = replace(worked_pack(), is_draft=False)
    write_csv_bundle(folder, closed, replace=True)
    assert not note.exists()
    note.write_text("my own words", encoding="utf-8")
    write_csv_bundle(folder, closed, replace=True)
    assert note.exists()


def test_money_is_exact_text(folder: Path) -> None:
    """The lots add up to the closing stock, to the cent, without a float in between."""
    total = sum(Decimal(row["value_on_hand"]) for row in read(folder / "lots.csv"))
    assert str(total) == "317.24"


def test_forms_give_names_and_figures(folder: Path) -> None:
    """A script finds a figure by its name."""
    told = {row["name"]: row["this month"] for row in read(folder / "tax_lines.csv")}
    assert told["tax_line_42"] == "258.62"


def test_every_row_of_every_table_is_there(folder: Path) -> None:
    """As many rows as the pack has, in its order."""
    for table in tables_of(worked_pack()):
        rows = read(folder / f"{table.key}.csv")
        assert len(rows) == len(table.rows), table.key


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("=1+1", "'=1+1"),
        ("+49 30", "'+49 30"),
        ("-", "'-"),
        ("@home", "'@home"),
        ("\tx", "'\tx"),
        ("-12.50", "-12.50"),
        ("+3", "+3"),
        ("-1e5", "'-1e5"),
        ("plain", "plain"),
        ("", ""),
    ],
)
def test_text_that_could_be_a_formula_has_an_apostrophe(text: str, expected: str) -> None:
    """Plain numbers keep their sign; all else that begins like a formula is marked."""
    assert safe_text(text) == expected


@given(st.text(max_size=12))
def test_no_text_ever_begins_like_a_formula(text: str) -> None:
    """Whatever a maker types, a cell begins like a formula only where it is a plain number."""
    shown = safe_text(text)
    assert shown.removeprefix("'") == text.removeprefix("'")
    if shown.startswith(FORMULA_STARTS):
        Decimal(shown)


def test_nasty_text_goes_through_the_file(tmp_path: Path) -> None:
    """Quotes, line breaks and commas come back as they were, a formula with its apostrophe."""
    pack = worked_pack()
    table = Table("named", "Named", "", (Column("sku", "SKU"),), [('a "b",\nc',), ("=cmd",)])
    write_csv_bundle(tmp_path / "out", replace(pack, sheets=(table,)))
    assert [row["sku"] for row in read(tmp_path / "out" / "named.csv")] == ['a "b",\nc', "'=cmd"]


def test_a_folder_with_files_in_it_is_left_alone(tmp_path: Path) -> None:
    """It says what to do instead, and writes nothing."""
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(UsageError, match="not empty"):
        write_csv_bundle(tmp_path, worked_pack())
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_replacing_leaves_other_files_alone(tmp_path: Path) -> None:
    """Only files of the pack's own names go."""
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    (tmp_path / "lots.csv").write_text("old", encoding="utf-8")
    write_csv_bundle(tmp_path, worked_pack(), replace=True)
    assert (tmp_path / "mine.txt").read_text(encoding="utf-8") == "mine"
    assert read(tmp_path / "lots.csv")


def test_a_folder_whose_parent_is_missing_is_refused(tmp_path: Path) -> None:
    """Nothing is made on the way."""
    with pytest.raises(UsageError, match="does not exist"):
        write_csv_bundle(tmp_path / "no" / "march", worked_pack())

"""The pack's workbook and csv files, worked out again by programs that are not ours.

LibreOffice calculates every formula anew; pandas adds up the journal. Source: both programs' own
arithmetic on the files as they are handed over; the data is the invented sample shop's March.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest
from office_books import Books, different_cells, needs_office, recalculated
from openpyxl.workbook.workbook import Workbook
from pack_shop import sample_report_and_pack

from ledger.costing.month_statement import StatementLines
from ledger.views.csv_bundle import write_csv_bundle
from ledger.views.pack import Pack, Table, whole
from ledger.views.pack_statement import OF_WHICH
from ledger.views.workbook import pack_bytes

CENT = 0.005


@cache
def pack() -> Pack:
    """The sample shop's March."""
    return sample_report_and_pack()[1]


@cache
def statement() -> StatementLines:
    """What the program says the month comes to."""
    return sample_report_and_pack()[0].statement.total


@cache
def written() -> bytes:
    """The workbook as the program writes it."""
    return pack_bytes(pack())


@cache
def formulas() -> Workbook:
    """Its formulas."""
    return openpyxl.load_workbook(io.BytesIO(written()))


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Books:
    """The workbook with LibreOffice's values."""
    return Books(formulas(), recalculated(written(), tmp_path_factory.mktemp("office")))


def changed(change: Callable[[Workbook], None], folder: Path) -> Books:
    """Return the workbook calculated by LibreOffice after a change by hand."""
    book = openpyxl.load_workbook(io.BytesIO(written()))
    change(book)
    content = io.BytesIO()
    book.save(content)
    return Books(book, recalculated(content.getvalue(), folder))


@pytest.fixture(scope="module")
def dearer(tmp_path_factory: pytest.TempPathFactory) -> Books:
    """The workbook after a bought shirt was made 100.00 dearer on the sheet by SKU."""
    return changed(add_to_a_purchase, tmp_path_factory.mktemp("dearer"))


BOUGHT = "PLOVER-BLK-M"


def add_to_a_purchase(book: Workbook) -> None:
    """Add 100.00 to what one SKU was bought for."""
    cell_of(book["Value by SKU"], BOUGHT, "purchases").value += 100


def cell_of(sheet: Any, row_name: str, heading: str) -> Any:
    """Return the cell of a row and a column by their names."""
    heads = next(row for row in sheet.iter_rows() if any(cell.value == heading for cell in row))
    column = next(cell.column for cell in heads if cell.value == heading)
    row = next(row[0].row for row in sheet.iter_rows(min_row=heads[0].row) if row[0].value == row_name)
    return sheet.cell(row, column)


@needs_office
def test_every_formula_gives_the_programs_own_figure(office: Books) -> None:
    """LibreOffice, trusting no kept value, comes to what the program worked out, cell by cell."""
    assert different_cells(written(), office) == []
    assert len(office.formula_cells()) > 500


@needs_office
def test_no_kept_value_is_trusted(tmp_path: Path) -> None:
    """A wrong value beside a formula is not what LibreOffice shows: the comparison above can fail."""
    packed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(written())) as source, zipfile.ZipFile(packed, "w") as target:
        for part in source.infolist():
            content = source.read(part)
            if part.filename.startswith("xl/worksheets/sheet"):
                content = re.sub(rb"</f><v>[^<]*", b"</f><v>123456789", content)
            target.writestr(part, content)
    wrong = openpyxl.load_workbook(packed, data_only=True)
    books = Books(formulas(), recalculated(packed.getvalue(), tmp_path))
    assert Books(formulas(), wrong).named("closing_stock") == 123456789
    assert round(books.named("closing_stock") * 100) == statement().closing_stock


@needs_office
def test_no_cell_is_an_error(office: Books) -> None:
    """Nothing divides by zero or speaks of a name that is not there."""
    errors = [
        (sheet.title, cell.coordinate, cell.value)
        for sheet in office.shown.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "e"
    ]
    assert errors == []


@needs_office
@pytest.mark.parametrize("name", [*OF_WHICH, "opening_stock", "purchases", "charges_in", "closing_stock"])
def test_named_cells_are_the_statements_lines(office: Books, name: str) -> None:
    """What the workbook calculates from SKUs is what the book's month totals say."""
    lines = statement()
    expected = getattr(lines.of_which if name in OF_WHICH else lines, name)
    assert round(office.named(name) * 100) == expected


@needs_office
def test_line_42_is_the_cost_of_goods_sold(office: Books) -> None:
    """The tax lines, calculated from the figures by class."""
    assert round(office.named("tax_line_42") * 100) == statement().cost_of_goods_sold


@needs_office
def test_every_check_is_zero(office: Books) -> None:
    """On the sheet of checks, and on each sheet."""
    differences = {
        row[1].value: row[4].value
        for row in office.shown["Checks"].iter_rows(min_row=5)
        if row[4].value != ""
    }
    numbers = [value for value in differences.values() if isinstance(value, int | float)]
    assert len(numbers) == len(pack().checks)
    assert set(numbers) == {0}


@needs_office
def test_a_dearer_purchase_moves_its_kind_and_the_statement(dearer: Books) -> None:
    """100.00 more bought is 100.00 more of blanks, and of purchases in all."""
    kinds = dearer.shown["Value by kind"]
    before = pack().table("value_by_kind")
    blank = next(row for row in before.rows if row[0] == "blank")
    was = whole(blank[before.place("purchases")]) / 100
    assert cell_of(kinds, "blank", "purchases").value == pytest.approx(was + 100)
    assert dearer.named("purchases") * 100 == pytest.approx(statement().purchases + 10_000)


@needs_office
def test_a_dearer_purchase_moves_closing_stock_and_not_the_cost(dearer: Books) -> None:
    """What was bought and not sold stays on the shelf."""
    assert dearer.named("closing_stock") * 100 == pytest.approx(statement().closing_stock + 10_000)
    assert dearer.named("cost_of_goods_sold") * 100 == pytest.approx(statement().cost_of_goods_sold)


@needs_office
def test_a_dearer_purchase_moves_lines_36_40_and_41_alike(dearer: Books) -> None:
    """Line 42 stays: what came in more is still there."""
    figures = pack().figures()
    moved = {
        number: round(dearer.named(f"tax_line_{number}") * 100) - figures[f"tax_line_{number}"]
        for number in range(35, 43)
    }
    assert moved == {35: 0, 36: 10_000, 37: 0, 38: 0, 39: 0, 40: 10_000, 41: 10_000, 42: 0}


@needs_office
@pytest.mark.parametrize(
    ("what", "difference"),
    [
        ("purchases and what was bought", 100),
        ("closing stock and the lots", 100),
        ("stock in the journal and closing stock", -100),
        ("closing stock by kind and by SKU", 0),
        ("cost of goods sold by what came in and by account", 0),
        ("debits and credits", 0),
        ("pieces sold and the sales", 0),
    ],
)
def test_a_dearer_purchase_breaks_the_ties_it_must(dearer: Books, what: str, difference: float) -> None:
    """The checks notice a figure that no document stands behind, and only those that look at it."""
    assert dearer.check(what) == pytest.approx(difference, abs=CENT)


@needs_office
def test_a_broken_tie_shows_on_its_own_sheet(dearer: Books) -> None:
    """The sheet of lots disagrees, the sheet of sales does not."""
    checks = {
        title: next(
            float(dearer.shown[title][cell].value)
            for sheet, cell in dearer.formula_cells()
            if sheet == title and "ABS" in str(dearer.formulas[sheet][cell].value)
        )
        for title in ("Lots", "Sales")
    }
    assert checks == {"Lots": pytest.approx(100), "Sales": 0}


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> pd.DataFrame:
    """The journal's csv file read by pandas, money in whole cents; nothing else of the pack is read."""
    folder = tmp_path_factory.mktemp("journal") / "march"
    write_csv_bundle(folder, pack())
    frame = pd.read_csv(folder / "journal.csv", dtype=str, keep_default_na=False, encoding="utf-8-sig")
    for side in ("debit", "credit"):
        frame[side] = frame[side].str.replace(".", "", regex=False).replace("", "0").astype("int64")
    frame["amount"] = frame["debit"] - frame["credit"]
    return frame


STATEMENT_FROM_JOURNAL = {
    "purchases": (-1, ["purchases"]),
    "charges_in": (-1, ["charges"]),
    "labour": (-1, ["labour"]),
    "sent_back": (1, ["returned to supplier"]),
    "own_use": (1, ["own use"]),
    "closing_stock": (1, ["on hand", "under way"]),
    "cost_of_goods_sold": (
        1,
        [
            *("pieces sold", "used", "samples", "donations", "spoilage", "count differences", "write-downs"),
            *("late charges on used stock", "supplies", "supplier price differences"),
        ],
    ),
}
"""Each line of the statement: its sign, and the accounts it is the balance of."""


@pytest.mark.parametrize("name", sorted(STATEMENT_FROM_JOURNAL))
def test_pandas_gets_the_statement_from_the_journal_alone(journal: pd.DataFrame, name: str) -> None:
    """Balances of accounts are the statement's lines."""
    sign, accounts = STATEMENT_FROM_JOURNAL[name]
    balance = journal.loc[journal["account"].isin(accounts), "amount"].sum()
    assert sign * balance == getattr(statement(), name)


STOCK = ["on hand", "under way"]


def test_pandas_gets_the_opening_stock_from_the_journal_alone(journal: pd.DataFrame) -> None:
    """What was brought forward on hand and under way."""
    brought = journal[(journal["document"] == "brought forward") & journal["account"].isin(STOCK)]
    assert brought["amount"].sum() == statement().opening_stock


def test_pandas_rolls_every_sku_forward(journal: pd.DataFrame) -> None:
    """Opening, in and out of every SKU, from its legs alone, are the pack's sheet by SKU."""
    table = pack().table("value_by_sku")
    wrong = []
    for row in table.rows:
        legs = journal[journal["sku"] == row[0]]
        rolled = rolled_forward(legs)
        told = {key: whole(row[table.place(key)]) for key in rolled}
        if told != rolled:
            wrong.append((row[0], told, rolled))
    assert wrong == []


def rolled_forward(legs: pd.DataFrame) -> dict[str, int]:
    """Return a SKU's roll-forward from its legs: what jobs used and made is read off work in process."""
    balance = legs.groupby("account")["amount"].sum()
    in_process = legs[legs["account"] == "work in process"]
    labour = -int(balance.get("labour", 0))
    opening = legs[(legs["document"] == "brought forward") & legs["account"].isin(STOCK)]
    return {
        "opening_stock": int(opening["amount"].sum()) - int(balance.get("opening balance", 0)),
        "purchases": -int(balance.get("purchases", 0)),
        "charges_in": -int(balance.get("charges", 0)),
        "labour": labour,
        "used_in_jobs": int(in_process["debit"].sum()) - labour,
        "made_in_jobs": int(in_process["credit"].sum()) - labour,
        "pieces_sold": int(balance.get("pieces sold", 0)),
        "spoilage": int(balance.get("spoilage", 0)),
        "own_use": int(balance.get("own use", 0)),
        "closing_stock": sum(int(balance.get(account, 0)) for account in STOCK),
    }


def test_pandas_finds_nothing_left_under_way_of_what_arrived(journal: pd.DataFrame) -> None:
    """What was brought forward under way left that account with its late freight, item by item."""
    under_way = journal[journal["account"] == "under way"]
    brought = under_way[under_way["document"] == "brought forward"]
    assert brought["amount"].sum() > 0
    assert not under_way.groupby("sku")["amount"].sum().any()


def test_pandas_finds_every_document_in_balance(journal: pd.DataFrame) -> None:
    """Debits and credits of each document are equal."""
    sums = journal.groupby("document")["amount"].sum()
    assert list(sums[sums != 0].index) == []


def test_the_journal_has_every_leg_of_the_month(journal: pd.DataFrame) -> None:
    """As many rows as the pack's journal, which ends in equal sums."""
    table: Table = pack().table("journal")
    assert len(journal) == len(table.rows)
    assert journal["debit"].sum() == journal["credit"].sum() == table.total("debit")

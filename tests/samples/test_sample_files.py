"""The sample shop's files: the committed ones are what the tool writes, and their figures foot."""

from __future__ import annotations

import csv
import importlib
import json
import shlex
import tomllib
from collections.abc import Callable
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from types import ModuleType
from typing import Any

import openpyxl
import pytest

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "samples"
WORKBOOKS = ("domestic-blanks.xlsx", "overseas-packing-list.xlsx")
TEXTS = (
    "overseas-order.csv",
    "consumables.csv",
    "print-supplies.csv",
    "items.csv",
    "bills.csv",
    "suppliers.csv",
    "march-events.csv",
    "march-count.csv",
    "figures.json",
)
RECEIPTS: list[dict[str, Any]] = json.loads((SAMPLES / "figures.json").read_text("utf-8"))["receipts"]

each_receipt = pytest.mark.parametrize("receipt", RECEIPTS, ids=lambda receipt: receipt["file"])


@pytest.fixture
def tool(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], ModuleType]:
    """Import a module of tests/tools."""
    monkeypatch.syspath_prepend(str(ROOT / "tests" / "tools"))
    return importlib.import_module


@pytest.fixture
def written(tool: Callable[[str], ModuleType], tmp_path: Path) -> Path:
    """The sample files, written anew."""
    tool("make_samples").write_samples(tmp_path)
    return tmp_path


def _cells(path: Path) -> list[tuple[str, object, str, str]]:
    sheets = openpyxl.load_workbook(path).worksheets
    return [
        (f"{sheet.title} {cell.coordinate}", cell.value, cell.data_type, cell.number_format)
        for sheet in sheets
        for row in sheet.iter_rows()
        for cell in row
    ]


def _column(path: Path, heading: str) -> list[object]:
    """Return what stands in a column of a workbook, under its heading."""
    sheet = openpyxl.load_workbook(path).worksheets[0]
    head = next(cell for row in sheet.iter_rows() for cell in row if cell.value == heading)
    return [sheet.cell(row, head.column).value for row in range(head.row + 1, sheet.max_row + 1)]


def _numbers(values: list[object]) -> list[Decimal]:
    return [Decimal(repr(value)) for value in values if isinstance(value, int | float)]


def _sum(rows: list[dict[str, Any]], key: str) -> Decimal:
    return sum((Decimal(row[key]) for row in rows), Decimal(0))


@pytest.mark.parametrize("name", WORKBOOKS)
def test_committed_workbook_is_what_the_tool_writes(written: Path, name: str) -> None:
    """A workbook in samples/ equals a fresh one cell by cell."""
    assert _cells(SAMPLES / name) == _cells(written / name)


@pytest.mark.parametrize("name", TEXTS)
def test_committed_text_is_what_the_tool_writes(written: Path, name: str) -> None:
    """A text file in samples/ equals a fresh one."""
    assert (SAMPLES / name).read_text("utf-8") == (written / name).read_text("utf-8")


@pytest.mark.parametrize("name", WORKBOOKS)
def test_tool_writes_the_same_bytes_twice(written: Path, tmp_path: Path, tool: Any, name: str) -> None:
    """No clock and no chance stands in a workbook."""
    first = (written / name).read_bytes()
    tool("make_samples").write_samples(tmp_path / "again")
    assert (tmp_path / "again" / name).read_bytes() == first


@pytest.mark.parametrize("name", WORKBOOKS)
def test_workbooks_hold_no_formula(name: str) -> None:
    """Every cell is a plain text, number or date."""
    assert {kind for _, _, kind, _ in _cells(SAMPLES / name)} <= {"s", "n", "d"}


def test_domestic_invoice_foots() -> None:
    """Amounts add up to the subtotal, and less the discount plus freight to the total."""
    *amounts, subtotal, discount, freight, total = _numbers(_column(SAMPLES / WORKBOOKS[0], "Amount"))
    assert (sum(amounts), subtotal - discount + freight) == (subtotal, total)


def test_packing_list_foots() -> None:
    """Amounts add up to the total in yuan."""
    *amounts, total = _numbers(_column(SAMPLES / WORKBOOKS[1], "Amount"))
    assert sum(amounts) == total


def test_packing_list_counts_what_stands_across() -> None:
    """The pieces of a row are the sum of its sizes."""
    path = SAMPLES / WORKBOOKS[1]
    across = sum(sum(_numbers(_column(path, size))) for size in ("S", "M", "L", "XL", "2XL"))
    assert across == sum(_numbers(_column(path, "Pieces")))


def test_the_order_is_of_what_the_packing_list_brings() -> None:
    """The shop's order foots, in the pieces and the yuan that the mill packs and bills."""
    rows = list(csv.reader((SAMPLES / "overseas-order.csv").read_text("utf-8").splitlines()))
    (total,) = [Decimal(row[5]) for row in rows if row[0] == "Total"]
    lines = [row for row in rows if row[0] == "Plover"]
    *_, billed = _numbers(_column(SAMPLES / WORKBOOKS[1], "Amount"))
    packed = sum(_numbers(_column(SAMPLES / WORKBOOKS[1], "Pieces")))
    assert (total, sum(Decimal(row[3]) for row in lines)) == (billed, packed)
    assert [Decimal(row[3]) * Decimal(row[4]) for row in lines] == [Decimal(row[5]) for row in lines]
    assert sum(Decimal(row[5]) for row in lines) == total


def test_consumables_invoice_foots() -> None:
    """Amounts add up to the subtotal, and with freight and tax to the total."""
    rows = list(csv.reader((SAMPLES / "consumables.csv").read_text("utf-8").splitlines()))
    amounts = [Decimal(row[6]) for row in rows if len(row) > 6 and row[0].isdigit()]
    foot = {row[5]: Decimal(row[6]) for row in rows if len(row) > 6 and not row[0]}
    expected = (foot["Subtotal"], foot["Subtotal"] + foot["Freight"] + foot["Sales tax"])
    assert (sum(amounts), foot["Total"]) == expected


def test_print_supplies_invoice_foots() -> None:
    """Amounts add up to the goods, and with freight and tax to what is to pay."""
    rows = list(csv.reader((SAMPLES / "print-supplies.csv").read_text("utf-8").splitlines()))
    amounts = [Decimal(row[6]) for row in rows if len(row) > 6 and row[0].isdigit()]
    foot = {row[2]: Decimal(row[6]) for row in rows if len(row) > 6 and not row[0]}
    expected = (foot["Goods"], foot["Goods"] + foot["Freight"] + foot["Sales tax"])
    assert (sum(amounts), foot["To pay"]) == expected


def test_print_supplies_bear_six_percent_on_what_is_used_up() -> None:
    """The sales tax is six per cent of the rows that are taxed."""
    rows = list(csv.reader((SAMPLES / "print-supplies.csv").read_text("utf-8").splitlines()))
    taxed = sum(Decimal(row[6]) for row in rows if len(row) > 8 and row[8] == "yes")
    tax = next(Decimal(row[6]) for row in rows if len(row) > 6 and row[2] == "Sales tax")
    assert (taxed * Decimal("0.06")).quantize(Decimal("0.01"), rounding=ROUND_HALF_UP) == tax


@each_receipt
def test_landed_cost_is_invoice_plus_charges(receipt: dict[str, Any]) -> None:
    """Of every lot, invoice cost and charges are the landed cost."""
    wrong = [
        line["lot"]
        for line in receipt["lines"]
        if Decimal(line["invoice_cost"]) + Decimal(line["charges"]) != Decimal(line["landed_cost"])
    ]
    assert wrong == []


@each_receipt
def test_every_charge_is_spread_whole(receipt: dict[str, Any]) -> None:
    """The lines' shares of a charge add up to the charge, to the cent."""
    spread = {
        str(charge["document"]): sum(
            Decimal(line["charge_shares"][str(charge["document"])]) for line in receipt["lines"]
        )
        for charge in receipt["charges"]
    }
    assert spread == {str(charge["document"]): Decimal(charge["amount"]) for charge in receipt["charges"]}


@each_receipt
def test_lots_add_up_to_the_receipt(receipt: dict[str, Any]) -> None:
    """The lots' invoice cost, charges and landed cost are the receipt's totals."""
    columns = {"invoice_cost": "total_invoice", "charges": "total_charges", "landed_cost": "total_landed"}
    found = {total: _sum(receipt["lines"], column) for column, total in columns.items()}
    assert found == {total: Decimal(receipt[total]) for total in columns.values()}


@each_receipt
def test_the_total_is_converted_once(receipt: dict[str, Any]) -> None:
    """Foreign total times the rate, rounded once, is the total with what is claimed in it."""
    exact = Decimal(receipt["total_foreign"]) * Decimal(receipt["rate"])
    assert exact.quantize(Decimal("0.01"), rounding=ROUND_HALF_UP) == Decimal(receipt["total_amount"])


def test_stock_is_what_the_lots_hold() -> None:
    """The stock's total is what is left of all lots."""
    stock = json.loads((SAMPLES / "figures.json").read_text("utf-8"))["stock"]
    on_hand = sum(_sum(receipt["lines"], "value_on_hand") for receipt in RECEIPTS)
    assert (_sum(stock["items"], "value"), Decimal(stock["total"])) == (on_hand, on_hand)


def test_entry_fee_is_its_minimum() -> None:
    """A percentage of a small entry is below the least fee, so the least fee holds."""
    charges = [charge for receipt in RECEIPTS for charge in receipt["charges"]]
    fees = [charge["amount"] for charge in charges if charge["kind"] == "entry_fee"]
    assert fees[0] == "33.58"


def test_some_blanks_are_not_in_the_catalogue(tool: Callable[[str], ModuleType]) -> None:
    """The domestic invoice brings a style that items.csv does not know."""
    catalogue = tool("sample_catalogue").ITEM_ROWS
    styles = {row[5] for row in catalogue}
    assert {str(style) for style in _column(SAMPLES / WORKBOOKS[0], "Style") if style} - styles == {"Heron"}


def test_profile_weighs_new_blanks_as_the_figures_do(tool: Callable[[str], ModuleType]) -> None:
    """Freight by weight needs the new style's weight: profile and figures have the same."""
    profile = tomllib.loads((ROOT / "imports" / "tarnwick-blank-goods.toml").read_text("utf-8"))
    assert Decimal(profile["items"]["weight_g"]) * 1000 == tool("sample_shop").STYLE_WEIGHT_MG["Heron"]


def test_catalogue_weighs_blanks_as_the_figures_do(tool: Callable[[str], ModuleType]) -> None:
    """Freight by weight needs the known styles' weights: items.csv and figures have the same."""
    rows = csv.DictReader((SAMPLES / "items.csv").read_text("utf-8").splitlines())
    weights = {row["style"]: int(Decimal(row["weight_g"]) * 1000) for row in rows if row["style"]}
    expected = tool("sample_shop").STYLE_WEIGHT_MG
    assert {style: weights[style] for style in ("Wren", "Finch")} == {
        style: expected[style] for style in ("Wren", "Finch")
    }


def test_tour_types_the_charges_of_the_figures(tool: Callable[[str], ModuleType]) -> None:
    """The tour's commands hold the charges that the figures were worked out with."""
    steps = tomllib.loads((SAMPLES / "tour.toml").read_text("utf-8"))["step"]
    words = [part for step in steps for part in step["command"] if " by " in part]
    shop = tool("sample_shop")
    typed = (shop.INSURANCE, shop.FREIGHT, *shop.ARRIVAL_CHARGES, shop.BROKER_CHARGE)
    assert words == [charge.words for charge in typed]


def test_tour_receives_the_files_in_the_order_of_the_figures() -> None:
    """The tour's receive commands name the files, dates and references the figures speak of."""
    steps = tomllib.loads((SAMPLES / "tour.toml").read_text("utf-8"))["step"]
    received = [step["command"] for step in steps if step["command"][0] == "receive"]
    assert [(words[1], words[words.index("--date") + 1]) for words in received] == [
        (receipt["file"], receipt["date"]) for receipt in RECEIPTS
    ]


def test_tour_orders_and_ships_on_the_days_of_the_figures(tool: Callable[[str], ModuleType]) -> None:
    """The order's day and number, the day the goods are handed over, the day they are loaded and its rate."""
    steps = tomllib.loads((SAMPLES / "tour.toml").read_text("utf-8"))["step"]
    order, ship = (
        [step["command"] for step in steps if step["command"][0] == name] for name in ("order", "ship")
    )
    shop = tool("sample_shop")
    typed = {
        option: words[words.index(option) + 1]
        for words, options in ((order[0], ("--reference",)), (ship[0], ("--date", "--on-board", "--rate")))
        for option in options
    }
    assert typed == {
        "--reference": shop.ORDER_REFERENCE,
        "--date": shop.SHIPPED.isoformat(),
        "--on-board": shop.ON_BOARD.isoformat(),
        "--rate": shop.OVERSEAS_RATE,
    }
    assert order[0][order[0].index("--date") + 1] == shop.ORDERED.isoformat()


def test_the_guide_types_the_commands_of_the_tour() -> None:
    """What can be typed by hand is what the tour runs, word by word."""
    tour = tomllib.loads((SAMPLES / "tour.toml").read_text("utf-8"))
    lines = (SAMPLES / "about.md").read_text("utf-8").splitlines()
    typed = [shlex.split(line) for line in lines if line.startswith("blankbook --book ")]
    assert typed == [["blankbook", "--book", tour["book"], *step["command"]] for step in tour["step"]]

"""Writes the sample shop's files into samples/: run ``python tests/tools/make_samples.py``.

The files are the same on every run. What they must give is worked out in sample_costs and
sample_figures, apart from the program.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
import sys
import zipfile
from decimal import Decimal
from pathlib import Path

import sample_print
import sample_shop as shop
from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet
from sample_bills import BILL_COLUMNS, bill_rows
from sample_catalogue import ITEM_COLUMNS, ITEM_ROWS, SUPPLIER_COLUMNS, SUPPLIER_ROWS
from sample_costs import cents, money
from sample_events import COUNT_COLUMNS, EVENT_COLUMNS, EVENTS
from sample_figures import blank_net, figures, packing_amount, supply_net
from sample_month import count_rows

SAMPLES = Path(__file__).resolve().parents[2] / "samples"

TEXT = "@"
WHOLE = "#,##0"
TWO_PLACES = "#,##0.00"
_SAVED = "2026-01-01T00:00:00Z"
_ZIP_TIME = (2026, 1, 1, 0, 0, 0)

CellContent = str | int | Decimal | dt.date | None


def write_samples(folder: Path) -> None:
    """Write every sample file that is made by program into ``folder``."""
    folder.mkdir(parents=True, exist_ok=True)
    write_domestic(folder / "domestic-blanks.xlsx")
    write_order(folder / "overseas-order.csv")
    write_packing_list(folder / "overseas-packing-list.xlsx")
    write_consumables(folder / "consumables.csv")
    write_print_supplies(folder / "print-supplies.csv")
    _write_csv(folder / "items.csv", [ITEM_COLUMNS, *ITEM_ROWS])
    _write_csv(folder / "bills.csv", [BILL_COLUMNS, *bill_rows()])
    _write_csv(folder / "suppliers.csv", [SUPPLIER_COLUMNS, *SUPPLIER_ROWS])
    _write_csv(folder / "march-events.csv", [EVENT_COLUMNS, *(event.cells for event in EVENTS)])
    _write_csv(folder / "march-count.csv", [COUNT_COLUMNS, *count_rows()])
    text = json.dumps(figures(), indent=1, ensure_ascii=False) + "\n"
    (folder / "figures.json").write_text(text, encoding="utf-8", newline="\n")


def write_domestic(path: Path) -> None:
    """Write the domestic wholesaler's invoice: one row per size, case packs and single pieces."""
    book, sheet = _new_book("Invoice")
    _put_row(sheet, 1, {1: shop.DOMESTIC}, bold=True, size=15)
    _put_row(sheet, 2, {1: "Wholesale blanks · an invented firm, for trying Blankbook out"})
    _put_row(sheet, 4, {1: "Invoice no.", 2: shop.DOMESTIC_REFERENCE, 6: "Sold to", 7: shop.SHOP})
    _put_row(sheet, 5, {1: "Date", 2: shop.DOMESTIC_DATE, 6: "Ship by", 7: "Ground, 11 cartons"})
    sheet.cell(5, 2).number_format = "mm/dd/yyyy"
    surcharges = ", ".join(f"{size} +{amount}" for size, amount in shop.SURCHARGES.items())
    _put_row(sheet, 6, {1: f"Prices are per piece. Larger sizes, already in the amount: {surcharges}."})
    cases = f"CS = case of {shop.CASE_PIECES}, of {shop.LARGE_CASE_PIECES} from 2XL up. EA = single piece."
    _put_row(sheet, 7, {1: cases})
    headings = ("Style", "Description", "Colour", "Size", "Unit", "Qty", "Price", "Disc %", "Amount")
    _put_headings(sheet, 9, (*headings, "Short", "Damaged"))
    row = 9
    for blank in shop.blank_rows():
        row += 1
        words = (blank.style, blank.description, blank.colour, blank.size, blank.unit)
        numbers = (blank.quantity, blank.price, blank.discount_percent or None, blank_net(blank))
        losses = (blank.short or None, blank.damaged or None)
        _put_row(sheet, row, dict(enumerate((*words, *numbers, *losses), start=1)))
        _format(sheet, row, {6: WHOLE, 7: TWO_PLACES, 8: WHOLE, 9: TWO_PLACES, 10: WHOLE, 11: WHOLE})
    subtotal = sum((blank_net(blank) for blank in shop.blank_rows()), Decimal(0))
    total = subtotal - shop.DOMESTIC_DISCOUNT + shop.DOMESTIC_FREIGHT
    foot = {
        "Subtotal": subtotal,
        "Discount": shop.DOMESTIC_DISCOUNT,
        "Freight": shop.DOMESTIC_FREIGHT,
        "Total": total,
    }
    _put_foot(sheet, row + 1, foot, label_column=7, amount_column=9)
    _widths(sheet, (13, 23, 15, 8, 7, 8, 11, 8, 12, 8, 10))
    sheet.freeze_panes = "A10"
    _save(book, path)


def write_order(path: Path) -> None:
    """Write the shop's order to the overseas maker: one row per size, in the shop's own words, in yuan."""
    rows: list[tuple[str, ...]] = [
        (shop.SHOP, f"Order to {shop.OVERSEAS}, both invented, for trying Blankbook out"),
        ("Order no.", shop.ORDER_REFERENCE),
        ("Date", f"{shop.ORDERED:%m/%d/%Y}"),
        ("Currency", "CNY"),
        ("Style", "Colour", "Size", "Quantity", "Price", "Amount"),
    ]
    own_words = {code: colour for colour, code in shop.COLOUR_CODES.items()} | {"NVY": "Navy", "MOS": "Moss"}
    for packed in shop.PACKING_ROWS:
        colour = own_words[shop.PACKING_COLOURS[packed.colour]]
        for size, pieces in packed.pieces.items():
            numbers = (str(pieces), str(packed.price), str(packed.price * pieces))
            rows.append(("Plover", colour, size, *numbers))
    total = sum((packing_amount(packed) for packed in shop.PACKING_ROWS), Decimal(0))
    rows.append(("Total", "", "", "", "", str(total)))
    _write_csv(path, rows)


def write_packing_list(path: Path) -> None:
    """Write the overseas maker's packing list: sizes across, colours down, prices in yuan."""
    book, sheet = _new_book("Packing list")
    _put_row(sheet, 1, {1: shop.OVERSEAS}, bold=True, size=15)
    _put_row(
        sheet, 2, {1: "Commercial invoice and packing list · an invented firm, for trying Blankbook out"}
    )
    _put_row(sheet, 4, {1: "Invoice", 2: shop.OVERSEAS_REFERENCE, 6: "Buyer", 7: shop.SHOP})
    _put_row(sheet, 5, {1: "Date", 2: shop.OVERSEAS_DATE, 6: "Terms", 7: "FOB, ocean, currency CNY"})
    sheet.cell(5, 2).number_format = "yyyy-mm-dd"
    goods = f"{shop.PACKING_STYLE} round neck T-shirt, 100% cotton, knitted, HS 6109.10, made in China"
    _put_row(sheet, 6, {1: "Goods", 2: goods})
    headings = (
        "Carton",
        "Style",
        "Colour",
        *shop.PACKING_SIZES,
        "Pieces",
        "Net kg",
        "Price/pc",
        "Amount",
        "Short",
    )
    _put_headings(sheet, 8, headings)
    row = 8
    for packed in shop.PACKING_ROWS:
        row += 1
        sizes = tuple(packed.pieces.get(size) for size in shop.PACKING_SIZES)
        words = (packed.cartons, shop.PACKING_STYLE, packed.colour)
        weights = (packed.total_pieces, packed.net_kg)
        prices = (packed.price, packing_amount(packed), packed.short or None)
        _put_row(sheet, row, dict(enumerate((*words, *sizes, *weights, *prices), start=1)))
        formats = dict.fromkeys((*range(4, 10), 13), WHOLE) | dict.fromkeys((10, 11, 12), TWO_PLACES)
        _format(sheet, row, formats)
    total = sum((packing_amount(packed) for packed in shop.PACKING_ROWS), Decimal(0))
    _put_foot(sheet, row + 1, {"Total CNY": total}, label_column=1, amount_column=12)
    _widths(sheet, (12, 14, 15, 7, 7, 7, 7, 7, 9, 10, 10, 13, 8))
    sheet.freeze_panes = "A9"
    _save(book, path)


def write_consumables(path: Path) -> None:
    """Write the craft-supply house's invoice as csv."""
    rows: list[tuple[str, ...]] = [
        (shop.CONSUMABLES, "an invented firm, for trying Blankbook out"),
        ("Invoice", shop.CONSUMABLES_REFERENCE),
        ("Date", f"{shop.CONSUMABLES_DATE:%m/%d/%Y}"),
        ("Item", "Description", "Qty", "Unit", "Price", "Disc %", "Amount", "Best before", "Tax"),
    ]
    for row in shop.SUPPLY_ROWS:
        best_before = f"{row.best_before:%m/%d/%Y}" if row.best_before else ""
        discount = str(row.discount_percent or "")
        numbers = (str(row.quantity), row.unit, str(row.price), discount, str(supply_net(row)))
        rows.append((row.code, row.description, *numbers, best_before, row.tax))
    subtotal = sum((supply_net(row) for row in shop.SUPPLY_ROWS), Decimal(0))
    foot = {"Subtotal": subtotal, "Freight": shop.CONSUMABLES_FREIGHT, "Sales tax": shop.SALES_TAX}
    foot["Total"] = sum(foot.values(), Decimal(0))
    rows += [("", "", "", "", "", label, money(cents(amount)), "", "") for label, amount in foot.items()]
    _write_csv(path, rows)


def write_print_supplies(path: Path) -> None:
    """Write the print-supply house's invoice as csv: the number and date above, another order of columns."""
    rows: list[tuple[str, ...]] = [
        ("Invoice no.", sample_print.REFERENCE, "", sample_print.HOUSE),
        ("Invoice date", sample_print.DATE.isoformat(), "", "an invented firm, for trying Blankbook out"),
        ("Sold to", shop.SHOP),
        (),
        ("Pos", "Article", "Product", "Quantity", "Packed as", "Unit price", "Total", "Keeps until", "Taxed"),
    ]
    for place, row in enumerate(sample_print.ROWS, start=1):
        keeps = row.best_before.isoformat() if row.best_before else ""
        amounts = (str(row.quantity), row.unit, str(row.price), str(supply_net(row)))
        rows.append((str(place), row.code, row.description, *amounts, keeps, row.tax))
    goods = sum((supply_net(row) for row in sample_print.ROWS), Decimal(0))
    foot = {"Goods": goods, "Freight": sample_print.FREIGHT, "Sales tax": sample_print.SALES_TAX}
    foot["To pay"] = sum(foot.values(), Decimal(0))
    rows += [("", "", label, "", "", "", money(cents(amount))) for label, amount in foot.items()]
    _write_csv(path, rows)


def _write_csv(path: Path, rows: list[tuple[str, ...]]) -> None:
    buffer = io.StringIO(newline="")
    csv.writer(buffer, lineterminator="\n").writerows(rows)
    path.write_text(buffer.getvalue(), encoding="utf-8", newline="\n")


def _new_book(title: str) -> tuple[Workbook, Worksheet]:
    book = Workbook()
    sheet = book.active
    assert isinstance(sheet, Worksheet)
    sheet.title = title
    sheet.sheet_view.showGridLines = False
    return book, sheet


def _put_row(
    sheet: Worksheet,
    row: int,
    values: dict[int, CellContent],
    *,
    bold: bool = False,
    size: int = 11,
) -> None:
    """Put values into columns of a row; text stays text, whatever it looks like."""
    for column, value in values.items():
        if value is None:
            continue
        cell = sheet.cell(row, column, value)
        cell.font = Font(bold=bold, size=size)
        if isinstance(value, str):
            cell.data_type = "s"
            cell.number_format = TEXT


def _put_headings(sheet: Worksheet, row: int, headings: tuple[str, ...]) -> None:
    _put_row(sheet, row, dict(enumerate(headings, start=1)), bold=True)
    for cell in sheet[row]:
        cell.fill = PatternFill("solid", start_color="E8E3DA")
        cell.border = Border(bottom=Side(style="thin"))
        cell.alignment = Alignment(horizontal="center")


def _put_foot(
    sheet: Worksheet, row: int, foot: dict[str, Decimal], *, label_column: int, amount_column: int
) -> None:
    for place, (label, amount) in enumerate(foot.items()):
        _put_row(sheet, row + place, {label_column: label, amount_column: amount}, bold=True)
        _format(sheet, row + place, {amount_column: TWO_PLACES})


def _format(sheet: Worksheet, row: int, formats: dict[int, str]) -> None:
    for column, number_format in formats.items():
        sheet.cell(row, column).number_format = number_format


def _widths(sheet: Worksheet, widths: tuple[int, ...]) -> None:
    for column, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(column)].width = width


def _save(book: Workbook, path: Path) -> None:
    """Save a workbook so that the same content gives the same bytes: no clock in it."""
    buffer = io.BytesIO()
    book.properties.creator = "sample shop"
    book.save(buffer)
    with zipfile.ZipFile(buffer) as made, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as out:
        for name in sorted(made.namelist(), key=lambda name: (name != "[Content_Types].xml", name)):
            content = made.read(name)
            if name == "docProps/core.xml":
                content = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", _SAVED.encode(), content)
            entry = zipfile.ZipInfo(name, _ZIP_TIME)
            entry.compress_type = zipfile.ZIP_DEFLATED
            out.writestr(entry, content)


if __name__ == "__main__":
    write_samples(Path(sys.argv[1]) if len(sys.argv) > 1 else SAMPLES)

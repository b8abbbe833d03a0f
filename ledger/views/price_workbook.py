"""The comparison as a workbook: ranking, steps, and the curves with a native chart."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.exact.currencies import exponent
from ledger.exact.numbers import show_fraction
from ledger.intake.sheet_writing import (
    put_headings,
    put_text,
    set_print,
    set_widths,
    workbook_bytes,
    write_new,
)
from ledger.sourcing.comparison import RANKED, Contender, waterfall
from ledger.views.price_ranking import standing_words, why_text
from ledger.views.price_report import PriceReport, per, script_cost
from ledger.views.prices import cautions

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

_UNIT_FORMAT = "0.0000"
_MONEY_FORMAT = "#,##0.00"


def write_price_workbook(report: PriceReport, path: Path) -> None:
    """Write the comparison as a workbook with a native chart of the curves.

    Raises UsageError where the file is there already or cannot be written.
    """
    write_new(path, price_workbook_bytes(report))


def price_workbook_bytes(report: PriceReport) -> bytes:
    """Return the workbook's file, the same bytes for the same comparison."""
    from openpyxl import Workbook  # noqa: PLC0415 - slow to import

    workbook = Workbook()
    workbook.properties.creator = "Blankbook"
    workbook.properties.title = f"Landed prices: {report.comparison.market.goods.label}"
    sheet = workbook.active
    assert sheet is not None
    _ranking_sheet(sheet, report)
    _steps_sheet(workbook.create_sheet("Steps"), report)
    _curve_sheet(workbook.create_sheet("By quantity"), report)
    return workbook_bytes(workbook)


def _number(sheet: Worksheet, row: int, column: int, text: str, number_format: str) -> None:
    """Write exact decimal text as a number."""
    from decimal import Decimal  # noqa: PLC0415 - only where a workbook is written

    cell = sheet.cell(row, column)
    cell.value = Decimal(text)
    cell.number_format = number_format


def _ranking_sheet(sheet: Worksheet, report: PriceReport) -> None:
    sheet.title = "Ranking"
    headings = [
        *("who", "what", "buys", f"price {per(report.unit)}", f"landed {per(report.unit)}", "in all"),
        *("when", "terms", "origin", "how it stands"),
    ]
    put_headings(sheet, 1, headings, [""] * len(headings))
    row = 2
    for each in report.comparison.contenders:
        put_text(sheet.cell(row, 1), each.name)
        put_text(sheet.cell(row, 2), each.what)
        _number(sheet, row, 3, show_fraction(each.quantity, 3), "#,##0.###")
        _number(sheet, row, 4, script_cost(each.price_minor, report.currency), _UNIT_FORMAT)
        _number(sheet, row, 5, script_cost(each.unit_cost_minor, report.currency), _UNIT_FORMAT)
        total = Fraction(each.total_minor) / 10 ** exponent(report.currency)
        _number(sheet, row, 6, show_fraction(total), _MONEY_FORMAT)
        put_text(sheet.cell(row, 7), each.date)
        put_text(sheet.cell(row, 8), each.quote.terms if each.quote else f"receipt {each.document}")
        put_text(sheet.cell(row, 9), each.quote.origin if each.quote else "")
        put_text(sheet.cell(row, 10), _standing(each))
        row += 1
    notes = [
        why_text(report),
        *(f"Not compared: {each.name}: {each.reason}" for each in report.comparison.left_out),
    ]
    for offset, note in enumerate([*notes, cautions(report)], start=1):
        put_text(sheet.cell(row + offset, 1), note)
    sheet.freeze_panes = "A2"
    set_widths(sheet, (36, 10, 10, 14, 14, 12, 12, 16, 10, 30))
    set_print(sheet, 1)


def _standing(each: Contender) -> str:
    """Return why an offer stands apart from those that are ranked; nothing where it does not."""
    if each.quote is None or each.standing == RANKED:
        return ""
    return f"{each.standing}: {standing_words(each)}"


def _steps_sheet(sheet: Worksheet, report: PriceReport) -> None:
    """Write one column for each offer, one row for each step, and a formula that adds them up."""
    from openpyxl.utils import get_column_letter  # noqa: PLC0415 - slow to import

    offers = [each for each in report.comparison.offers if each.quote and each.estimate]
    ways = [
        {step.name: step.amount_minor for step in waterfall(each.quote, each.estimate)}
        for each in offers
        if each.quote and each.estimate
    ]
    names = list(dict.fromkeys(name for way in ways for name in way))
    put_headings(sheet, 1, [per(report.unit), *(each.name for each in offers)], [""] * (len(offers) + 1))
    for row, name in enumerate(names, start=2):
        put_text(sheet.cell(row, 1), name)
        for column, way in enumerate(ways, start=2):
            _number(
                sheet, row, column, script_cost(way.get(name, Fraction(0)), report.currency), _UNIT_FORMAT
            )
    last = len(names) + 1
    put_text(sheet.cell(last + 1, 1), "landed")
    for column in range(2, len(offers) + 2):
        letter = get_column_letter(column)
        cell = sheet.cell(last + 1, column)
        cell.value = f"=SUM({letter}2:{letter}{last})"
        cell.number_format = _UNIT_FORMAT
    sheet.freeze_panes = "B2"
    set_widths(sheet, (20, *[24] * len(offers)))
    set_print(sheet, 1)


def _curve_sheet(sheet: Worksheet, report: PriceReport) -> None:
    """Write the curves below each other, and a scatter chart with one series for each offer."""
    from openpyxl.chart import Reference, ScatterChart, Series  # noqa: PLC0415 - slow to import

    headings = ["offer", f"quantity, {report.unit}", f"landed {per(report.unit)}", "in all", "what changes"]
    put_headings(sheet, 1, headings, [""] * len(headings))
    chart = ScatterChart()
    chart.title = f"{report.comparison.market.goods.label}: landed {per(report.unit)}, {report.currency}"
    chart.x_axis.title, chart.y_axis.title = f"quantity, {report.unit}", report.currency
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.width, chart.height = 24, 12
    row = 2
    for each in report.comparison.offers:
        points = report.curves.get(each.name, ())
        if each.quote is None or not points:
            continue
        first = row
        for point in points:
            put_text(sheet.cell(row, 1), each.name)
            _number(sheet, row, 2, show_fraction(point.quantity * each.quote.unit_factor, 3), "#,##0.###")
            _number(sheet, row, 3, script_cost(point.unit_cost_minor, report.currency), _UNIT_FORMAT)
            total = Fraction(point.estimate.total_minor) / 10 ** exponent(report.currency)
            _number(sheet, row, 4, show_fraction(total), _MONEY_FORMAT)
            put_text(sheet.cell(row, 5), point.what)
            row += 1
        quantities = Reference(sheet, min_col=2, min_row=first, max_row=row - 1)
        costs = Reference(sheet, min_col=3, min_row=first, max_row=row - 1)
        chart.series.append(Series(costs, quantities, title=each.name))
    sheet.add_chart(chart, "G2")
    sheet.freeze_panes = "A2"
    set_widths(sheet, (36, 14, 14, 14, 32))
    set_print(sheet, 1)

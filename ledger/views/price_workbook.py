"""The comparison as a workbook: ranking, steps, and the curves with a native chart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from ledger.exact.currencies import exponent
from ledger.exact.numbers import show_fraction
from ledger.exact.rounding import round_fraction
from ledger.intake.sheet_writing import (
    put_headings,
    put_text,
    set_print,
    set_widths,
    workbook_bytes,
    write_new,
)
from ledger.sourcing.comparison import RANKED, Contender, step_names, waterfall
from ledger.views.price_ranking import LARGER, standing_words, why_text
from ledger.views.price_report import PriceReport, per, script_cost
from ledger.views.prices import cautions
from ledger.views.workbook_cells import WHOLE_FORMAT, zero_format

if TYPE_CHECKING:
    from openpyxl.chart import ScatterChart
    from openpyxl.worksheet.worksheet import Worksheet

_UNIT_PLACES = 2
"""So many decimals beyond the currency's own are shown of a unit cost."""

_LINE_WIDTH = 22_000
"""Of a chart's lines, in English Metric Units: about 1.7 points."""


@dataclass(frozen=True)
class _Measure:
    """What unit costs are told by in the workbook: the base unit, or a larger one where that costs next to nothing."""

    per: str
    times: Fraction


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


def _measure(report: PriceReport) -> _Measure:
    larger = LARGER.get(report.unit)
    return _Measure(f"per {larger[0]}", larger[1]) if larger else _Measure(per(report.unit), Fraction(1))


def _unit_format(report: PriceReport) -> str:
    return f"0.{'0' * (exponent(report.currency) + _UNIT_PLACES)}"


def _quantity_format(quantities: Iterable[Fraction]) -> str:
    # A format with optional places would leave a bare decimal point behind whole numbers.
    return WHOLE_FORMAT if all(each.denominator == 1 for each in quantities) else "#,##0.00"


def _number(sheet: Worksheet, place: tuple[int, int], text: str, number_format: str) -> None:
    """Write exact decimal text as a number into a row and column."""
    from decimal import Decimal  # noqa: PLC0415 - only where a workbook is written

    cell = sheet.cell(*place)
    cell.value = Decimal(text)
    cell.number_format = number_format


def _headings(sheet: Worksheet, headings: Sequence[str], figures_from: int, figures_to: int) -> None:
    """Write the headings, those over figures to the right as the figures are."""
    from openpyxl.styles import Alignment  # noqa: PLC0415 - slow to import

    put_headings(sheet, 1, headings, [""] * len(headings))
    for column in range(figures_from, figures_to + 1):
        sheet.cell(1, column).alignment = Alignment(wrap_text=True, vertical="top", horizontal="right")
    # What stands behind figures would run into them.
    for column in range(figures_to + 1, len(headings) + 1):
        sheet.cell(1, column).alignment = Alignment(
            wrap_text=True, vertical="top", horizontal="left", indent=1
        )


def _wrapped(sheet: Worksheet, row: int, column: int, text: str) -> None:
    from openpyxl.styles import Alignment  # noqa: PLC0415 - slow to import

    put_text(sheet.cell(row, column), text)
    sheet.cell(row, column).alignment = Alignment(
        wrap_text=True, vertical="top", horizontal="left", indent=int(column > 1)
    )


_RANKING_WIDTHS = (38, 8, 12, 15, 16, 13, 18, 14, 16, 10, 34)


def _ranking_sheet(sheet: Worksheet, report: PriceReport) -> None:
    sheet.title = "Ranking"
    measure, unit_format = _measure(report), _unit_format(report)
    wanted = report.comparison.wanted
    headings = [
        *("who", "what", f"buys, {report.unit}", f"price {measure.per}", f"landed {measure.per}", "in all"),
        *("wanted, all good", "when", "terms", "origin", "how it stands"),
    ]
    _headings(sheet, headings, 3, 7)
    quantity_format = _quantity_format(each.quantity for each in report.comparison.contenders)
    row = 2
    for each in report.comparison.contenders:
        _wrapped(sheet, row, 1, each.name)
        put_text(sheet.cell(row, 2), each.what)
        _number(sheet, (row, 3), show_fraction(each.quantity, 3), quantity_format)
        for column, cost in ((4, each.price_minor), (5, each.unit_cost_minor)):
            _number(sheet, (row, column), script_cost(cost * measure.times, report.currency), unit_format)
        _money(sheet, (row, 6), Fraction(each.total_minor), report)
        if each.quote is not None:
            _money(sheet, (row, 7), Fraction(round_fraction(each.cost_of(wanted))), report)
        _wrapped(sheet, row, 8, each.date)
        _wrapped(sheet, row, 9, each.quote.terms if each.quote else f"receipt {each.document}")
        _wrapped(sheet, row, 10, each.quote.origin if each.quote else "")
        _wrapped(sheet, row, 11, _standing(each))
        row += 1
    notes = [
        f"Money in {report.currency}.",
        *why_text(report).split("\n"),
        *(f"Not compared: {each.name}: {each.reason}" for each in report.comparison.left_out),
        cautions(report),
    ]
    for offset, note in enumerate(filter(None, notes), start=1):
        _note(sheet, row + offset, note)
    sheet.freeze_panes = "A2"
    set_widths(sheet, _RANKING_WIDTHS)
    set_print(sheet, 1)


def _note(sheet: Worksheet, row: int, note: str) -> None:
    """Write a note across the sheet, in a row as high as it needs."""
    _wrapped(sheet, row, 1, note)
    sheet.merge_cells(start_row=row, end_row=row, start_column=1, end_column=len(_RANKING_WIDTHS))
    lines = len(note) // int(sum(_RANKING_WIDTHS) * _NOTE_FILL) + 1
    sheet.row_dimensions[row].height = _LINE_POINTS * lines


_NOTE_FILL = 0.9
"""How much of a note's line is filled before a word no longer fits."""
_LINE_POINTS = 15


def _money(sheet: Worksheet, place: tuple[int, int], minor: Fraction, report: PriceReport) -> None:
    _number(
        sheet, place, show_fraction(minor / 10 ** exponent(report.currency)), zero_format(report.currency)
    )


def _standing(each: Contender) -> str:
    """Return why an offer stands apart from those that are ranked, and what it does not bring."""
    if each.quote is None:
        return ""
    apart = "" if each.standing == RANKED else f"{each.standing}: {standing_words(each)}"
    return "; ".join(filter(None, (apart, f"without {', '.join(each.missing)}" if each.missing else "")))


def _steps_sheet(sheet: Worksheet, report: PriceReport) -> None:
    """Write one column for each offer, one row for each step, and a formula that adds them up."""
    from openpyxl.utils import get_column_letter  # noqa: PLC0415 - slow to import

    measure, unit_format = _measure(report), _unit_format(report)
    offers = [each for each in report.comparison.offers if each.quote and each.estimate]
    found = [waterfall(each.quote, each.estimate) for each in offers if each.quote and each.estimate]
    ways = [{step.name: step.amount_minor for step in way} for way in found]
    names = step_names(found)
    _headings(
        sheet,
        [f"{report.currency} {measure.per}", *(each.name for each in offers)],
        2,
        len(offers) + 1,
    )
    for row, name in enumerate(names, start=2):
        put_text(sheet.cell(row, 1), name)
        for column, way in enumerate(ways, start=2):
            cost = way.get(name, Fraction(0)) * measure.times
            _number(sheet, (row, column), script_cost(cost, report.currency), unit_format)
    last = len(names) + 1
    put_text(sheet.cell(last + 1, 1), "landed")
    for column in range(2, len(offers) + 2):
        letter = get_column_letter(column)
        cell = sheet.cell(last + 1, column)
        cell.value = f"=SUM({letter}2:{letter}{last})"
        cell.number_format = unit_format
    sheet.freeze_panes = "B2"
    set_widths(sheet, (20, *[24] * len(offers)))
    set_print(sheet, 1)


def _curve_sheet(sheet: Worksheet, report: PriceReport) -> None:
    """Write the curves below each other, and a scatter chart with one series for each offer."""
    from openpyxl.chart import Reference, Series  # noqa: PLC0415 - slow to import

    measure, unit_format = _measure(report), _unit_format(report)
    _headings(
        sheet,
        ["offer", f"quantity, {report.unit}", f"landed {measure.per}", "in all", "what changes"],
        2,
        4,
    )
    chart = _chart(report, measure)
    row = 2
    for each in report.comparison.offers:
        points = report.curves.get(each.name, ())
        if each.quote is None or not points:
            continue
        first = row
        quantities = [point.quantity * each.quote.unit_factor for point in points]
        quantity_format = _quantity_format(quantities)
        for point, quantity in zip(points, quantities, strict=True):
            _wrapped(sheet, row, 1, each.name)
            _number(sheet, (row, 2), show_fraction(quantity, 3), quantity_format)
            cost = script_cost(point.unit_cost_minor * measure.times, report.currency)
            _number(sheet, (row, 3), cost, unit_format)
            _money(sheet, (row, 4), Fraction(point.estimate.total_minor), report)
            _wrapped(sheet, row, 5, point.what)
            row += 1
        across = Reference(sheet, min_col=2, min_row=first, max_row=row - 1)
        costs = Reference(sheet, min_col=3, min_row=first, max_row=row - 1)
        series = Series(costs, across, title=each.name)
        # Between two points a cost goes straight: a smoothed line would show prices nobody asks.
        series.smooth = False
        series.marker.symbol = _MARKS[len(chart.series) % len(_MARKS)]
        series.marker.size = 5
        series.graphicalProperties.line.width = _LINE_WIDTH
        series.graphicalProperties.line.dashStyle = _DASHES[len(chart.series) % len(_DASHES)]
        chart.series.append(series)
    if chart.series:
        sheet.add_chart(chart, "G2")
    sheet.freeze_panes = "A2"
    set_widths(sheet, (38, 14, 15, 14, 40))
    set_print(sheet, 1)


_MARKS = ("circle", "square", "triangle", "diamond", "x")
_DASHES = ("solid", "dash", "sysDot", "dashDot", "lgDash")


def _chart(report: PriceReport, measure: _Measure) -> ScatterChart:
    from openpyxl.chart import ScatterChart  # noqa: PLC0415 - slow to import

    chart = ScatterChart()
    chart.style = None
    chart.scatterStyle = "lineMarker"
    chart.title = f"{report.comparison.market.goods.label}: landed {measure.per}, {report.currency}"
    chart.x_axis.title, chart.y_axis.title = f"quantity, {report.unit}", f"{report.currency} {measure.per}"
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.x_axis.number_format, chart.y_axis.number_format = WHOLE_FORMAT, zero_format(report.currency)
    assert chart.legend is not None
    chart.legend.position = "b"
    chart.width, chart.height = 24, 13
    return chart

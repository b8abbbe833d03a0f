"""The native charts of a decision's workbook, over cells of their own sheet, so that they follow the figures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any, cast

from ledger.views.pictures import LOOKS, Look

if TYPE_CHECKING:
    from openpyxl.chart import BarChart, ScatterChart
    from openpyxl.chart.series import XYSeries
    from openpyxl.worksheet.worksheet import Worksheet

CHART_ROWS = 25
"""How many rows a chart covers."""

_WIDTH_CM, _HEIGHT_CM = 22, 12
_GRID_GREY = "D9D9D9"
_LINE_WIDTH = 22_000
_DASHES: Mapping[str, Any] = {"-": "solid", "--": "dash", "-.": "dashDot", ":": "sysDot"}
_MARKS: Mapping[str, Any] = {"o": "circle", "s": "square", "^": "triangle", "D": "diamond"}
_HATCHES: Mapping[str, Any] = {"": None, "///": "wdUpDiag", "...": "pct20", "xxx": "diagCross"}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a chart: its name, the columns of its two values (counted from 1), its rows."""

    name: str
    x_column: int
    y_column: int
    first_row: int
    last_row: int


@dataclass(frozen=True, slots=True)
class Axes:
    """What a chart is called and what its axes measure; ``starts_at_zero`` where no value is below."""

    title: str
    across: str
    upward: str
    across_format: str = "#,##0"
    upward_format: str = "#,##0"
    starts_at_zero: bool = True


def line_chart(sheet: Worksheet, axes: Axes, lines: Sequence[Line], anchor: str) -> None:
    """Put lines over a sheet's cells on it, each with its own ink, mark and dash; the corner at ``anchor``."""
    from openpyxl.chart import Reference, ScatterChart, Series  # noqa: PLC0415 - slow to import

    chart = ScatterChart()
    chart.scatterStyle = "lineMarker"
    for at, line in enumerate(lines):
        first, last = line.first_row, line.last_row
        across = Reference(sheet, min_col=line.x_column, min_row=first, max_row=last)
        upward = Reference(sheet, min_col=line.y_column, min_row=first, max_row=last)
        series = Series(upward, across, title=line.name)
        _draw_line(series, LOOKS[at % len(LOOKS)], with_marks=len(lines) > 1)
        chart.series.append(series)
    chart.x_axis.scaling.min = 0
    if axes.starts_at_zero:
        chart.y_axis.scaling.min = 0
    _finish(chart, axes, with_legend=len(lines) > 1)
    sheet.add_chart(chart, anchor)


def _draw_line(series: XYSeries, look: Look, *, with_marks: bool) -> None:
    from openpyxl.chart.marker import Marker  # noqa: PLC0415 - slow to import
    from openpyxl.chart.shapes import GraphicalProperties  # noqa: PLC0415
    from openpyxl.drawing.line import LineProperties  # noqa: PLC0415

    ink = look.ink.lstrip("#").upper()
    series.smooth = False
    series.spPr = GraphicalProperties(
        ln=LineProperties(solidFill=ink, w=_LINE_WIDTH, prstDash=_DASHES[look.line])
    )
    series.marker = Marker(symbol=_MARKS[look.mark] if with_marks else "none", size=4)
    if with_marks:
        series.marker.spPr = GraphicalProperties(solidFill=ink, ln=LineProperties(solidFill=ink))


@dataclass(frozen=True, slots=True)
class Bars:
    """Bars over a sheet's cells: the headings' row, the rows below it, the names' column and the values'."""

    heading_row: int
    last_row: int
    names_column: int
    value_columns: tuple[int, ...]


def column_chart(sheet: Worksheet, axes: Axes, bars: Bars, anchor: str) -> None:
    """Put upright bars on a sheet, those of one name side by side."""
    chart = _bars(sheet, bars)
    chart.type, chart.gapWidth, chart.overlap = "col", 30, 0
    chart.x_axis.tickLblPos = "low"
    chart.y_axis.scaling.min = 0
    _finish(chart, axes, with_legend=len(bars.value_columns) > 1)
    sheet.add_chart(chart, anchor)


def tornado(sheet: Worksheet, axes: Axes, bars: Bars, expected: Decimal, anchor: str) -> None:
    """Put bars on a sheet that begin at the expected value and reach to each side, the first on top."""
    chart = _bars(sheet, bars)
    chart.type, chart.gapWidth, chart.overlap = "bar", 50, 100
    chart.x_axis.scaling.orientation = "maxMin"
    chart.x_axis.tickLblPos, chart.x_axis.tickLblSkip = "low", 1
    chart.x_axis.crosses = None
    # The library writes the number as it is; its types ask for a whole one.
    chart.x_axis.crossesAt = cast("int", float(expected))
    chart.y_axis.crosses = "max"
    _finish(chart, axes, with_legend=True)
    sheet.add_chart(chart, anchor)


def _bars(sheet: Worksheet, bars: Bars) -> BarChart:
    from openpyxl.chart import BarChart, Reference  # noqa: PLC0415 - slow to import

    chart = BarChart()
    for at, column in enumerate(bars.value_columns):
        data = Reference(sheet, min_col=column, min_row=bars.heading_row, max_row=bars.last_row)
        chart.add_data(data, titles_from_data=True)
        _fill(chart.series[at], LOOKS[at % len(LOOKS)])
    names = Reference(sheet, min_col=bars.names_column, min_row=bars.heading_row + 1, max_row=bars.last_row)
    chart.set_categories(names)
    return chart


def _fill(series: Any, look: Look) -> None:
    """Fill bars with ink, hatched where they are not the first, so that they differ without colour."""
    from openpyxl.chart.shapes import GraphicalProperties  # noqa: PLC0415 - slow to import
    from openpyxl.drawing.colors import ColorChoice  # noqa: PLC0415
    from openpyxl.drawing.fill import PatternFillProperties  # noqa: PLC0415
    from openpyxl.drawing.line import LineProperties  # noqa: PLC0415

    ink, hatch = look.ink.lstrip("#").upper(), _HATCHES[look.hatch]
    edge = LineProperties(solidFill=ink)
    if hatch is None:
        series.spPr = GraphicalProperties(solidFill=ink, ln=edge)
        return
    pattern = PatternFillProperties(prst=hatch)
    # The library's types know a colour by its parts only; it takes the usual six digits all the same.
    own, white = (ColorChoice(srgbClr=digits) for digits in _colours(ink, "FFFFFF"))
    pattern.foreground, pattern.background = own, white
    series.spPr = GraphicalProperties(pattFill=pattern, ln=edge)


def _colours(*digits: str) -> Sequence[Any]:
    return digits


def _size(title: Any, points: int, *, bold: bool) -> None:
    """Set the letters of a title."""
    from openpyxl.drawing.text import CharacterProperties, ParagraphProperties  # noqa: PLC0415 - slow to import

    letters = CharacterProperties(sz=points * 100, b=bold)
    for paragraph in title.tx.rich.p:
        paragraph.pPr = ParagraphProperties(defRPr=letters)
        for run in paragraph.r or ():
            run.rPr = letters


def _finish(chart: BarChart | ScatterChart, axes: Axes, *, with_legend: bool) -> None:
    """Write title, axes and grid; nothing lies over anything else."""
    from openpyxl.chart.shapes import GraphicalProperties  # noqa: PLC0415 - slow to import
    from openpyxl.drawing.line import LineProperties  # noqa: PLC0415

    chart.title, chart.width, chart.height = axes.title, _WIDTH_CM, _HEIGHT_CM
    chart.x_axis.title, chart.y_axis.title = axes.across, axes.upward
    chart.x_axis.numFmt, chart.y_axis.numFmt = axes.across_format, axes.upward_format
    for titled, points in ((chart, 12), (chart.x_axis, 10), (chart.y_axis, 10)):
        if titled.title is not None:
            titled.title.overlay = False
            _size(titled.title, points, bold=titled is chart)
    if not with_legend:
        chart.legend = None
    elif chart.legend is not None:
        chart.legend.position, chart.legend.overlay = "b", False
    for axis in (chart.x_axis, chart.y_axis):
        # Without this the axes are not drawn at all by some programs.
        axis.delete = False
    if chart.y_axis.majorGridlines is not None:
        grid = GraphicalProperties(ln=LineProperties(solidFill=_GRID_GREY))
        chart.y_axis.majorGridlines.spPr = grid
    # A scatter chart brings a grid across as well: one is enough.
    chart.x_axis.majorGridlines = None

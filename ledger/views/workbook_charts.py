"""The pack's two charts, native ones over cells of their own sheet, so that they follow the figures."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ledger.views.pack import Form, Table
from ledger.views.pack_stock import OTHER_KINDS
from ledger.views.workbook_formulas import Place, column_letter

if TYPE_CHECKING:
    from openpyxl.chart import BarChart
    from openpyxl.worksheet.worksheet import Worksheet

CHART_ROWS = 21
"""How many rows the charts cover, side by side."""

_HEIGHT_CM, _WIDTH_CM = 10, 15
_CHARACTERS_PER_CM = 5.2
_DEFAULT_WIDTH = 8.5
_GRID_GREY = "D9D9D9"
_ROUNDED_OFF = "#,##0"


def stock_chart(sheet: Worksheet, place: Place, shown: int, anchor: str) -> None:
    """Put a chart of stock value by month on the sheet; kinds stand on one another.

    Args:
        sheet: the sheet that holds the table.
        place: where the table stands.
        shown: how many columns after the month are drawn.
        anchor: the cell where the chart's corner is.
    """
    chart = _bars("Stock value by month and kind")
    chart.grouping, chart.overlap = "stacked", 100
    _draw(chart, sheet, place, (2, shown + 1))
    sheet.add_chart(chart, anchor)


def cost_chart(sheet: Worksheet, first_row: int, form: Form, anchor: str) -> None:
    """Put a chart of where the cost went on the sheet, the largest part on top.

    Args:
        sheet: the sheet that holds the form.
        first_row: the row of the form's headings.
        form: the parts.
        anchor: the cell where the chart's corner is.
    """
    from openpyxl.chart import Reference  # noqa: PLC0415 - slow to import

    chart = _bars(form.title)
    chart.type = "bar"
    chart.legend = None
    chart.x_axis.scaling.orientation = "maxMin"
    # Without it some programs leave out every other name.
    chart.x_axis.tickLblSkip = 1
    chart.y_axis.crosses = "max"
    last = first_row + len(form.rows)
    chart.add_data(Reference(sheet, min_col=2, min_row=first_row, max_row=last), titles_from_data=True)
    chart.set_categories(Reference(sheet, min_col=1, min_row=first_row + 1, max_row=last))
    sheet.add_chart(chart, anchor)


def beside(widths: Sequence[float]) -> str:
    """Return the column in which a chart may begin that stands beside another one."""
    covered, place = 0.0, 0
    while covered < (_WIDTH_CM + 0.5) * _CHARACTERS_PER_CM:
        covered += widths[place] if place < len(widths) else _DEFAULT_WIDTH
        place += 1
    return column_letter(place)


def _bars(title: str) -> BarChart:
    from openpyxl.chart import BarChart  # noqa: PLC0415 - slow to import
    from openpyxl.chart.shapes import GraphicalProperties  # noqa: PLC0415
    from openpyxl.drawing.line import LineProperties  # noqa: PLC0415

    chart = BarChart()
    chart.title = title
    chart.width, chart.height = _WIDTH_CM, _HEIGHT_CM
    chart.gapWidth = 60
    chart.y_axis.numFmt = _ROUNDED_OFF
    assert chart.y_axis.majorGridlines is not None
    chart.y_axis.majorGridlines.spPr = GraphicalProperties(ln=LineProperties(solidFill=_GRID_GREY))
    # Without this the axes are not drawn at all by some programs.
    chart.x_axis.delete = False
    chart.y_axis.delete = False
    return chart


def _draw(chart: BarChart, sheet: Worksheet, place: Place, columns: tuple[int, int]) -> None:
    from openpyxl.chart import Reference  # noqa: PLC0415 - slow to import

    first, last = columns
    head = place.first_row - 1
    data = Reference(sheet, min_col=first, max_col=last, min_row=head, max_row=place.last_row)
    chart.add_data(data, titles_from_data=True)
    chart.set_categories(Reference(sheet, min_col=1, min_row=place.first_row, max_row=place.last_row))


def drawn_columns(table: Table) -> int:
    """Return how many columns of the stock table after the month are drawn: kinds, or some and the rest."""
    keys = [column.key for column in table.columns]
    return keys.index(OTHER_KINDS) if OTHER_KINDS in keys else len(keys) - 2

"""The pack as a workbook: figures, and over them a formula for every total, tie and tax line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, cast

from ledger.intake.sheet_writing import workbook_bytes
from ledger.views.pack import Check, Form, Pack, Table
from ledger.views.pack_notes import CAUTION
from ledger.views.whole_file import refuse_existing, write_whole
from ledger.views.workbook_cells import SheetWriter, values_into
from ledger.views.workbook_charts import CHART_ROWS, beside, cost_chart, drawn_columns, stock_chart
from ledger.views.workbook_forms import (
    CHECK_WIDTHS,
    CHECKS,
    CheckPlace,
    check_places,
    form_widths,
    write_checks,
    write_form,
)
from ledger.views.workbook_formulas import Place, Places
from ledger.views.workbook_print import paper_of, set_up
from ledger.views.workbook_tables import LEAST_SHEET_WIDTH, Head, head_of, widths_of, write_head, write_table

if TYPE_CHECKING:
    from openpyxl.workbook.workbook import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

CHARTS = "Charts"
CHECKS_NOTE = "Each pair of figures is reached by two ways and must agree."
_CAUTIOUS = frozenset({"summary", "tax_lines"})
"""The sheets that carry the caution above their figures; the notes have it as a row."""

_PARTS_WIDTH = 36
"""The width of the charts' first column, which names the parts of the cost."""


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A sheet to write: what it shows, what stands above it, and how wide its columns are."""

    content: Table | Form
    head: Head
    widths: list[float]


@dataclass(frozen=True, slots=True)
class _Plan:
    """What goes where, worked out before anything is written: formulas speak of sheets still to come."""

    pack: Pack
    sheets: tuple[_Sheet, ...]
    charts: Head
    checks: Head
    places: dict[str, Place]


def write_workbook(path: Path, pack: Pack, *, replace_existing: bool = False) -> None:
    """Write the pack as a workbook, whole or not at all.

    Args:
        path: the file, .xlsx; its folder must be there.
        pack: as `read_pack` returns it.
        replace_existing: whether a file of that name may go.

    Raises UsageError where the file is there and may not go, or cannot be written.
    """
    refuse_existing(path, replace=replace_existing)
    write_whole(path, pack_bytes(pack), replace=replace_existing)


def pack_bytes(pack: Pack) -> bytes:
    """Return the workbook's file; the same pack gives the same bytes."""
    from openpyxl import Workbook  # noqa: PLC0415 - slow to import

    workbook = Workbook(write_only=True)
    workbook.properties.title = f"{pack.shop}, {pack.span_words}"
    workbook.properties.creator = "Blankbook"
    plan = _plan(pack)
    writers = [_write_sheet(workbook, plan, sheet) for sheet in plan.sheets]
    writers += [_write_charts(workbook, plan), _write_checks(workbook, plan)]
    values = {f"xl/worksheets/sheet{at}.xml": writer.values for at, writer in enumerate(writers, 1)}

    def with_values(part: str, content: bytes) -> bytes:
        return values_into(content, values[part]) if part in values else content

    return workbook_bytes(workbook, with_values)


def _plan(pack: Pack) -> _Plan:
    shown = [sheet.shown() if isinstance(sheet, Table) else sheet for sheet in pack.sheets]
    keys = [sheet.key for sheet in shown]
    checks = _in_sheet_order(pack.checks, keys)
    pack = replace(pack, checks=tuple(checks))
    first = head_of(pack, CHECKS, CHECKS_NOTE, CheckPlace(0, 0).check(), sum(CHECK_WIDTHS)).headings_row + 1
    of_sheet = check_places(checks, first, pack.currency)
    off_by = sum((place.off_by for place in of_sheet.values()), Decimal(0))
    every = CheckPlace(first, first + len(checks) - 1, off_by)

    def head(key: str, title: str, note: str, width: float) -> Head:
        said = f"{note} {CAUTION}" if key in _CAUTIOUS and CAUTION not in note else note
        return head_of(pack, title, said, of_sheet.get(key, every).check(), width)

    sheets = []
    for sheet in shown:
        widths = widths_of(sheet, pack.currency) if isinstance(sheet, Table) else form_widths(sheet)
        sheets.append(_Sheet(sheet, head(sheet.key, sheet.title, sheet.note, sum(widths)), widths))
    by_month = pack.stock_by_month
    charts = head(by_month.key, CHARTS, "", LEAST_SHEET_WIDTH)
    below = charts.headings_row + CHART_ROWS
    places = {
        sheet.content.key: Place(sheet.content.title, sheet.content, sheet.head.headings_row + 1)
        for sheet in sheets
        if isinstance(sheet.content, Table)
    }
    places[by_month.key] = Place(CHARTS, by_month, below + 1)
    return _Plan(pack, tuple(sheets), charts, head("", CHECKS, CHECKS_NOTE, sum(CHECK_WIDTHS)), places)


def _in_sheet_order(checks: Sequence[Check], keys: Sequence[str]) -> list[Check]:
    """Return the checks in the order of their sheets, so that those of one follow each other."""
    order = {key: place for place, key in enumerate(keys)}
    return sorted(checks, key=lambda check: order.get(check.sheet, len(order)))


def _new_sheet(
    workbook: Workbook,
    plan: _Plan,
    head: Head,
    widths: Sequence[float],
    *,
    frozen: int | None = None,
    on_one_page: bool = False,
) -> SheetWriter:
    """Return a sheet with its head written; ``frozen`` columns stay in sight, None: nothing does."""
    sheet = cast("Worksheet", workbook.create_sheet(head.title))
    row = 0 if frozen is None else head.headings_row
    set_up(sheet, paper_of(plan.pack), widths, headings=row, frozen=frozen or 0, on_one_page=on_one_page)
    writer = SheetWriter(sheet, plan.pack.currency)
    write_head(writer, head, widths[0])
    return writer


def _write_sheet(workbook: Workbook, plan: _Plan, sheet: _Sheet) -> SheetWriter:
    content, places = sheet.content, Places(plan.places)
    if isinstance(content, Table):
        writer = _new_sheet(workbook, plan, sheet.head, sheet.widths, frozen=content.keys)
        write_table(writer, plan.places[content.key], places, sheet.widths)
    else:
        writer = _new_sheet(workbook, plan, sheet.head, sheet.widths, frozen=1, on_one_page=True)
        write_form(writer, content, places, workbook)
    return writer


def _write_charts(workbook: Workbook, plan: _Plan) -> SheetWriter:
    """Write the charts over the figures they draw."""
    place, went = plan.places[plan.pack.stock_by_month.key], plan.pack.where_cost_went
    table = place.table
    widths = [_PARTS_WIDTH, *widths_of(table, plan.pack.currency)[1:]]
    writer = _new_sheet(workbook, plan, plan.charts, widths, on_one_page=True)
    top = writer.row + 1
    writer.blank(CHART_ROWS)
    write_table(writer, place, Places(plan.places), widths)
    writer.blank()
    parts = writer.row + 1
    write_form(writer, went, Places(plan.places), workbook)
    if table.rows and drawn_columns(table):
        stock_chart(writer.sheet, place, drawn_columns(table), f"A{top}")
    if went.rows:
        cost_chart(writer.sheet, parts, went, f"{beside(widths)}{top}")
    return writer


def _write_checks(workbook: Workbook, plan: _Plan) -> SheetWriter:
    writer = _new_sheet(workbook, plan, plan.checks, CHECK_WIDTHS, frozen=2)
    titles = {sheet.content.key: sheet.content.title for sheet in plan.sheets}
    titles[plan.pack.stock_by_month.key] = CHARTS
    write_checks(writer, plan.pack, Places(plan.places), titles)
    return writer

"""`blankbook count`: what is physically there, item by item or from a count workbook."""

from __future__ import annotations

import datetime
from fractions import Fraction
from pathlib import Path
from typing import Annotated

import typer

from ledger.book import looking
from ledger.book.catalogue_store import find_items, find_kinds, find_packs
from ledger.book.entries import Entries, Entry, EntryLine
from ledger.book.shop import read_shop
from ledger.catalogue.items import Item, kind_place, read_kind
from ledger.catalogue.packs import unit_factor
from ledger.cli import completing
from ledger.cli.common import DryRun, Json, Yes, check_number, day_option, reading, say, today, typed
from ledger.cli.event_options import Note
from ledger.cli.posting_rows import Answers, post_resolved
from ledger.errors import InputErrors, Problem, UsageError, ValueProblem
from ledger.exact.numbers import read_decimal
from ledger.exact.quantity import check_step, to_base
from ledger.exact.words import typed_word
from ledger.intake.count_sheet import CountRow, write_count_sheet
from ledger.intake.count_sheet_reading import CountedRow, count_day, read_count_sheet
from ledger.intake.nearest import did_you_mean
from ledger.intake.read_file import read_file
from ledger.intake.resolve_events import check_whole

LAYOUTS = ("list", "sizes across")
PAPERS = ("Letter", "A4")
_LAYOUT, _PAPER = "sizes across", "Letter"


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(count)


def count(
    context: typer.Context,
    what: Annotated[
        str | None,
        typer.Argument(
            metavar="SKU-or-FILE",
            help="An item, or a count workbook filled in.",
            autocompletion=completing.skus,
        ),
    ] = None,
    quantity: Annotated[str, typer.Argument(metavar="QUANTITY", help="What is there of the item.")] = "",
    sheet: Annotated[
        str, typer.Option("--sheet", metavar="FILE", help="Write a count workbook to print and fill in.")
    ] = "",
    kind: Annotated[
        str,
        typer.Option(
            "--kind", metavar="KIND", help="With --sheet: only this kind.", autocompletion=completing.kinds
        ),
    ] = "",
    layout: Annotated[
        str, typer.Option("--layout", metavar="LAYOUT", help="With --sheet: list, or sizes across.")
    ] = _LAYOUT,
    blind: Annotated[
        bool, typer.Option("--blind", help="With --sheet: do not say what is expected.")
    ] = False,
    paper: Annotated[
        str, typer.Option("--paper", metavar="SIZE", help="With --sheet: Letter or A4.")
    ] = _PAPER,
    unit: Annotated[str, typer.Option("--unit", metavar="UNIT", help="A unit or pack of the item.")] = "",
    date: Annotated[
        str | None, typer.Option("--date", metavar="DATE", help="Counted at the end of that day; today.")
    ] = None,
    note: Note = "",
    opening: Annotated[
        bool,
        typer.Option("--opening", help="What the shop has on the book's first day, with its costs."),
    ] = False,
    instead_of: Annotated[
        int | None,
        typer.Option(
            "--instead-of", metavar="DOC", help="With --opening: the opening that this one corrects."
        ),
    ] = None,
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Record what is really there.

    The fact is what was there at the end of a day; the difference follows from it, also when a
    receipt is entered late. Weighing an ink bottle is a count. Cells left empty were not counted.

    --opening brings in the stock a shop already has when its book begins, from one sheet: items, new ones
    too, quantities, and costs as paid or as guesses. Filled in, it is posted with: blankbook count FILE --opening

    \b
    Examples:
      blankbook count --sheet count.xlsx --kind blank
      blankbook count march-count.csv --date 2026-04-01
      blankbook count INK-FLM-WHT 410 --unit mL
      blankbook count --opening --sheet opening.xlsx
    """
    told = day_option(date)
    check_number(instead_of, "--instead-of")
    if opening:
        if quantity or unit or note or blind or told or layout != _LAYOUT or paper != _PAPER:
            raise UsageError("--opening goes with a file, or with --sheet FILE and --kind, and nothing else.")
        _opening(context, (what, sheet, kind), instead_of, Answers(yes, dry_run, json))
        return
    if instead_of is not None:
        raise UsageError("--instead-of goes with --opening and a file.")
    if sheet:
        _refuse_beside_sheet(what, unit, note, json=json)
        _write_sheet(context, Path(sheet), kind, (layout, paper), blind, told or today())
        return
    if kind or blind or layout != _LAYOUT or paper != _PAPER:
        raise UsageError(
            "--kind, --layout, --blind and --paper say how a sheet is written: add --sheet FILE."
        )
    if not what:
        raise UsageError("say what was counted: an item and how many, a filled-in workbook, or --sheet FILE.")
    if unit and not quantity:
        raise UsageError("--unit goes with an item and how many; a sheet has its own column for it.")
    counted, source = _counted(what, quantity)
    for remark in counted[1]:
        say(remark)
    day = _day(told, counted[2])
    entries = _entries(context, counted[0], unit, day, note, source)
    post_resolved(context, entries, source, Answers(yes, dry_run, json))


def _refuse_beside_sheet(what: str | None, unit: str, note: str, *, json: bool) -> None:
    """Raise UsageError where something is to be counted, though only an empty sheet is written."""
    if what or unit or note or json:
        raise UsageError(
            "--sheet writes a sheet to fill in and posts nothing: leave the item, how many, --unit, --note and --json out."
        )


def _opening(
    context: typer.Context, asked: tuple[str | None, str, str], instead_of: int | None, answers: Answers
) -> None:
    """Write the sheet of an opening count, or post a filled-in one."""
    from ledger.cli.count_opening import count_opening, write_opening_sheet  # noqa: PLC0415  (seldom needed)

    file, sheet, kind = asked
    if bool(sheet) == bool(file) or (kind and file) or (sheet and instead_of is not None):
        raise UsageError(
            "say --sheet FILE to write the sheet of an opening count (--kind for one kind), or name the filled-in file."
        )
    if sheet:
        write_opening_sheet(context, Path(sheet), kind)
    elif file:
        count_opening(context, file, instead_of, answers)


def _day(told: datetime.date | None, headed: datetime.date | None) -> datetime.date:
    """Return the day of a count: as told, else what the workbook is headed with, else today."""
    if told is not None and headed is not None and told != headed:
        raise UsageError(
            f"the workbook is headed as the count of {headed.isoformat()}, and --date says {told.isoformat()}. "
            "Leave --date out, or write a workbook for that day."
        )
    return told or headed or today()


_Counted = tuple[tuple[CountedRow, ...], tuple[str, ...], datetime.date | None]


def _counted(what: str, quantity: str) -> tuple[_Counted, str]:
    """Return the counted rows with the reader's remarks and the workbook's day, and where they come from."""
    if quantity:
        value = read_decimal(quantity, what="a quantity")
        if value < 0:
            raise ValueProblem(f"{quantity} is below zero: what is there cannot be less than nothing.")
        return ((CountedRow("this command", what, Fraction(value)),), (), None), "this command"
    if not Path(what).exists():
        raise UsageError(
            f"there is no file {what}. For one item: blankbook count {typed_word(what)} QUANTITY"
        )
    file = read_file(Path(what))
    return (read_count_sheet(file), file.remarks, count_day(file)), file.name


def _entries(
    context: typer.Context,
    rows: tuple[CountedRow, ...],
    unit: str,
    day: datetime.date,
    note: str,
    source: str,
) -> Entries:
    """Return one count of all rows, or raise every problem of them."""
    problems: list[Problem] = []
    lines: list[EntryLine] = []
    with reading(context) as connection:
        items, packs = find_items(connection), find_packs(connection)
    for row in rows:
        item = items.get(row.sku)
        if item is None:
            near = did_you_mean(row.sku, items)
            problems.append(
                Problem(
                    row.where,
                    f"the book has no item {row.sku}. {near} See: blankbook items".replace("  ", " "),
                )
            )
            continue
        try:
            factor = unit_factor(unit, item.base_unit, packs.get(item.sku, ()), item.density_g_per_ml)
            check_step(row.quantity, factor)
            milli = to_base(row.quantity, factor)
            check_whole(item, milli)
            lines.append(EntryLine(item=item, quantity_milli=milli))
        except ValueProblem as problem:
            problems.append(Problem(row.where, str(problem)))
    if not rows:
        problems.append(Problem(source, "nothing was counted: every cell is empty."))
    if problems:
        raise InputErrors(source, problems)
    return Entries((Entry(event="count", on=day, lines=tuple(lines), where=source, note=note),))


def _write_sheet(
    context: typer.Context,
    path: Path,
    kind: str,
    look: tuple[str, str],
    blind: bool,
    day: datetime.date,
) -> None:
    layout, paper = look
    if layout not in LAYOUTS:
        raise UsageError(f"'{layout}': the layout is {' or '.join(LAYOUTS)}.")
    if paper not in PAPERS:
        raise UsageError(f"'{paper}': the paper is {' or '.join(PAPERS)}.")
    with reading(context) as connection:
        shop = read_shop(connection)
        wanted = read_kind(kind, find_kinds(connection)).name if kind else None
        rows = looking.stock_on(connection, day.isoformat(), kind=wanted)
        items = find_items(connection)
    to_count = [
        CountRow(
            row.sku,
            row.name,
            row.kind,
            row.base_unit,
            row.style,
            row.colour,
            row.size,
            None if blind else row.quantity_milli,
        )
        for row in sorted(rows, key=lambda row: kind_place(row.kind))
        if _is_counted(items[row.sku], wanted)
    ]
    if not to_count:
        raise UsageError("there is nothing to count: the book has no such items.")
    write_count_sheet(path, to_count, layout=layout, blind=blind, as_of=day, shop=shop.name, paper=paper)  # type: ignore[arg-type]
    say(
        f"Wrote {path}: {len(to_count)} items. Count, fill it in, then: {typed(context, f'count {typed_word(str(path))}')}"
    )


def _is_counted(item: Item, wanted: str | None) -> bool:
    """Whether an item is on the sheet: what is deducted when bought is not, nor are tools that wear down.

    A tool is expected as the fraction of its uses that is left, which nobody can count; asked for by
    name, tools are listed.
    """
    return item.tax_class != "supplies when bought" and (item.kind != "tool" or wanted == "tool")

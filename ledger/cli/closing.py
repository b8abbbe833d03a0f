"""`blankbook months`, `close` and `reopen`: a month is looked at, closed and sealed, or opened again."""

from __future__ import annotations

import re
import sqlite3
from typing import Annotated

import typer

from ledger.book import closing
from ledger.book.closing import ClosePlan
from ledger.book.earlier_figures import LAST_YEAR, NAMES, read_told, tell
from ledger.book.month_report import MonthReport, read_report
from ledger.book.reopening import post_reopen, prepare_reopen
from ledger.book.roll_forward import read_roll_forward
from ledger.book.shop import read_shop
from ledger.book.standing import last_day_told
from ledger.book.stock_by_month import stock_by_month
from ledger.cli import completing
from ledger.cli.close_files import CloseFiles, closed_month
from ledger.cli.common import (
    DryRun,
    Json,
    Yes,
    agree,
    now,
    reading,
    say,
    show,
    show_json,
    today,
    typed,
    writing,
)
from ledger.cli.drawing import terminal_bars
from ledger.cli.waiting import working
from ledger.costing.tax_lines import tax_year_of
from ledger.errors import Refused, UsageError, ValueProblem
from ledger.exact.money import read_money
from ledger.exact.months import first_day
from ledger.views import months as views

Month = Annotated[
    str, typer.Argument(metavar="MONTH", help="Like 2026-03.", autocompletion=completing.months)
]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command()(months)
    app.command()(close)
    app.command()(reopen)


def read_month(text: str) -> str:
    """Return a month typed as 2026-03.

    Raises UsageError for anything else.
    """
    word = text.strip()
    if re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", word, re.ASCII) is None:
        raise UsageError(f"'{text}' is not a month like 2026-03.")
    return word


def months(
    context: typer.Context,
    earlier: Annotated[
        list[str] | None,
        typer.Option(
            "--earlier",
            metavar="FIGURE",
            help='A figure of the tax year\'s months before the book: "36 512.40" (lines 35 to 39 and 41), '
            '"supplies at start 10.00", "supplies on hand 20.00"; or "last year\'s 41 180.00". Repeat as needed.',
        ),
    ] = None,
    json: Json = False,
) -> None:
    """The book's months: open or closed, and whether a closed one still is what was closed.

    A book that begins within a tax year has a year to date once the figures of the months before
    it are told; a figure told again takes the place of the earlier one.

    \b
    Examples:
      blankbook months
      blankbook months --earlier "35 100.00" --earlier "36 512.40"
    """
    if earlier:
        with writing(context) as connection:
            _tell(connection, read_shop(connection).first_month, earlier)
    with reading(context) as connection:
        rows = closing.list_months(connection, today())
        shop = read_shop(connection)
        stock = stock_by_month(
            connection, shop.currency, shop.first_month, rows[-1].month if rows else shop.first_month
        )
    if json:
        show_json(views.months_as_data(rows, stock))
    else:
        show(views.months_text(rows, stock, terminal_bars()))
        first_open = next((row.month for row in rows if not row.is_closed), None)
        if first_open:
            say(f"Next to close: {first_open}. Look at it: {typed(context, f'close {first_open} --show')}")


def close(
    context: typer.Context,
    month: Month,
    look: Annotated[
        bool, typer.Option("--show", help="Only show the month: closed, or as a draft while it is open.")
    ] = False,
    skus: Annotated[
        bool, typer.Option("--skus", help="Show every item's opening, in, out, closing.")
    ] = False,
    workbook: Annotated[
        str, typer.Option("--workbook", metavar="FILE", help="Write the month's pack as a workbook.")
    ] = "",
    csv: Annotated[str, typer.Option("--csv", metavar="FOLDER", help="Write the pack's tables as csv.")] = "",
    report: Annotated[
        str, typer.Option("--report", metavar="FILE.html", help="Write the month as a page to keep or print.")
    ] = "",
    year: Annotated[
        bool, typer.Option("--year", help="The pack of the tax year up to the month, not of the month alone.")
    ] = False,
    replace: Annotated[bool, typer.Option("--replace", help="Write over files that are there.")] = False,
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Close a month: the checklist, what the month comes to, then it is frozen and sealed.

    Nothing in a closed month can move afterwards. Figures from your records, not tax advice:
    no election is made here; ask a licensed preparer.

    \b
    Examples:
      blankbook close 2026-03 --show
      blankbook close 2026-03 --workbook march.xlsx --yes
      blankbook close 2026-03 --show --report march.html
    """
    wanted = read_month(month)
    files = CloseFiles(workbook, csv, report, year, replace)
    files.refuse()
    if look:
        _look(context, wanted, files, json=json, skus=skus)
        return
    with writing(context) as connection:
        plan = closing.prepare_close(connection, wanted, today())
        preview = closing.with_corrections(connection, plan, now(), lambda: _report(connection, wanted))
        text = views.checklist(plan) + "\n\n" + views.statement(preview)
        if json:
            say(text)
        else:
            show(text)
            if skus:
                _show_skus(connection, preview)
        if plan.blocking and not dry_run:
            raise Refused(
                f"{wanted} is not closed: settle what stands first in the list above, then close again."
            )
        if not agree(f"Close {wanted}?", yes=yes, dry_run=dry_run, refused=f"{wanted} was not closed"):
            if json:
                show_json(views.closed_as_data(preview, plan, None, None))
            closing.with_corrections(connection, plan, now(), lambda: files.write(connection, preview, plan))
            return
        with working("Closing"):
            done = closing.post_close(connection, plan, today(), now())
        found = _report(connection, wanted)
        if json:
            show_json(views.closed_as_data(found, plan, done, done.document))
        corrected = f" Use corrected by count {done.corrected[0]}." if done.corrected else ""
        say(
            f"Closed {wanted} (document {done.document}), fingerprint {done.fingerprint[:12]}.{corrected} "
            f'To change something in it: {typed(context, f"reopen {wanted}")} --why "…"'
        )
        files.write(connection, found, None)


def _look(context: typer.Context, month: str, files: CloseFiles, *, json: bool, skus: bool) -> None:
    """Show a month, and write its files; the book is opened for writing only where the close would correct uses.

    Their correction is tried in the book and taken back: what it comes to is not known otherwise.
    """
    with reading(context) as connection:
        _check_begun(connection, month)
        report = _report(connection, month)
        plan = None if report.is_closed else closing.look_before(connection, month)
        if plan is None or not plan.corrected:
            _say_month(connection, report, plan, files, json=json, skus=skus)
            return
    with writing(context) as connection:
        # Somebody may have posted between the two.
        again = closing.look_before(connection, month)

        def say_it() -> None:
            _say_month(connection, _report(connection, month), again, files, json=json, skus=skus)

        closing.with_corrections(connection, again, now(), say_it)


def _check_begun(connection: sqlite3.Connection, month: str) -> None:
    """Raise Refused for a month that is still to come: neither the day nor the book has reached it."""
    reached = max(today().isoformat(), last_day_told(connection) or "", read_shop(connection).closed_through)
    if first_day(month) > reached:
        raise Refused(f"{month} has not begun, so there is nothing to show. See: blankbook months")


def _report(connection: sqlite3.Connection, month: str) -> MonthReport:
    shop = read_shop(connection)
    told = read_told(connection, int(tax_year_of(month, shop.tax_year_starts)[:4]))
    return read_report(connection, month, told.lines, told.last_year_41)


def _say_month(
    connection: sqlite3.Connection,
    report: MonthReport,
    plan: ClosePlan | None,
    files: CloseFiles,
    *,
    json: bool,
    skus: bool,
) -> None:
    closed = closed_month(connection, report.statement.last_month)
    if json:
        show_json(views.closed_as_data(report, plan, closed, closed.document if closed else None))
    else:
        if plan is not None:
            show(views.checklist(plan) + "\n")
        show(views.statement(report))
        if skus:
            _show_skus(connection, report)
        if closed is not None:
            say(f"Closed by document {closed.document}, fingerprint {closed.fingerprint}.")
    files.write(connection, report, plan)


def _show_skus(connection: sqlite3.Connection, report: MonthReport) -> None:
    month = report.statement.last_month
    rows = read_roll_forward(connection, month, month)
    show("\nEvery item: quantity, then money\n\n" + views.by_sku(rows, report.statement.currency))


def _tell(connection: sqlite3.Connection, month: str, texts: list[str]) -> None:
    """Record figures of before the book, each typed as its name and an amount."""
    if not texts:
        return
    shop = read_shop(connection)
    figures = {}
    for text in texts:
        name, _, amount = text.strip().rpartition(" ")
        known = {one.casefold(): one for one in NAMES}.get(name.strip().casefold().replace("’", "'"))
        if known is None:
            raise UsageError(f"'{text}': begin with one of {', '.join(NAMES)}, then the amount.")
        try:
            figures[known] = read_money(amount, shop.currency)
        except ValueProblem as problem:
            raise UsageError(f"'{text}': {problem}") from problem
    year_began = tax_year_of(month, shop.tax_year_starts)
    year = int(year_began[:4])
    tell(connection, year, figures, now())
    say(f"Recorded for the tax year that begins in {year}: {', '.join(figures)}.")
    if year_began == month and set(figures) != {LAST_YEAR}:
        say(f"The book holds that tax year from its first month on: only {LAST_YEAR} is used.")


def reopen(
    context: typer.Context,
    month: Month,
    why: Annotated[str, typer.Option("--why", help="The reason; it is kept in the book.")] = "",
    yes: Yes = False,
    dry_run: DryRun = False,
    json: Json = False,
) -> None:
    """Open a closed month again, and with it every month closed after it.

    What was given to a preparer may no longer match then: close again and say so to them.

    \b
    Example:
      blankbook reopen 2026-02 --why "a bill was entered twice"
    """
    wanted = read_month(month)
    if not why.strip():
        raise UsageError('say why: --why "a bill was entered twice". It is kept in the book.')
    with writing(context) as connection:
        opens = prepare_reopen(connection, wanted)
        text = (
            f"{', '.join(opens)} will be open again. What was reported of {'it' if len(opens) == 1 else 'them'} "
            "may change: close again afterwards, and tell whoever had the figures."
        )
        if json:
            say(text)
        else:
            show(text)
        if not agree(f"Reopen {wanted}?", yes=yes, dry_run=dry_run, refused=f"{wanted} was not reopened"):
            if json:
                show_json({"document": None, "months": list(opens), "undone": []})
            return
        done = post_reopen(connection, wanted, why.strip(), today(), now())
    if json:
        show_json({"document": done.document, "months": list(done.months), "undone": list(done.undone)})
    say(
        f"Reopened {', '.join(done.months)} (document {done.document}). Close again: {typed(context, f'close {wanted}')}"
    )

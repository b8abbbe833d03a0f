"""What `blankbook close` writes beside what it shows: the month's pack, and its page."""

from __future__ import annotations

import os
import sqlite3
from dataclasses import dataclass
from pathlib import Path

from ledger.book.closing import Closed, ClosePlan
from ledger.book.fingerprints import closes_in_force, month_events
from ledger.book.month_report import MonthReport
from ledger.cli.common import naming_book, say, today
from ledger.cli.waiting import working
from ledger.errors import UsageError
from ledger.views.whole_file import refuse_existing

WORKBOOK_SUFFIX = ".xlsx"


@dataclass(frozen=True, slots=True)
class CloseFiles:
    """The files asked for, each '' where it was not.

    ``year`` makes the pack that of the tax year, ``replace`` lets files go that are there.
    """

    workbook: str = ""
    csv: str = ""
    report: str = ""
    year: bool = False
    replace: bool = False

    def refuse(self) -> None:
        """Raise UsageError for what could not be written, before anything is closed."""
        if self.workbook:
            if Path(self.workbook).suffix.lower() != WORKBOOK_SUFFIX:
                raise UsageError(f"'{self.workbook}': a workbook's name ends in {WORKBOOK_SUFFIX}.")
            self._refuse_file(self.workbook)
        if self.report:
            # It imports what makes pages, which closing alone does not need.
            from ledger.views.page import PAGE_SUFFIX  # noqa: PLC0415

            if Path(self.report).suffix.lower() != PAGE_SUFFIX:
                raise UsageError(f"'{self.report}': the name of a report ends in {PAGE_SUFFIX}.")
            self._refuse_file(self.report)
        if self.csv:
            from ledger.views.csv_bundle import refuse_folder  # noqa: PLC0415

            refuse_folder(Path(self.csv), replace=self.replace)
            _refuse_unwritable(Path(self.csv).absolute().parent)

    def _refuse_file(self, file: str) -> None:
        refuse_existing(Path(file), replace=self.replace)
        _refuse_unwritable(Path(file).absolute().parent)

    def write(self, connection: sqlite3.Connection, report: MonthReport, plan: ClosePlan | None) -> None:
        """Write what was asked for, of a month as it stands in the connected book.

        Args:
            connection: a book.
            report: what the month comes to.
            plan: its checklist, None for a closed month.
        """
        if self.workbook or self.csv:
            self._write_packs(connection, report)
        if self.report:
            self._write_page(connection, report, plan)

    def _write_packs(self, connection: sqlite3.Connection, report: MonthReport) -> None:
        # These import what writes workbooks, which closing alone does not need.
        from ledger.views.csv_bundle import write_csv_bundle  # noqa: PLC0415
        from ledger.views.month_pack import read_pack  # noqa: PLC0415
        from ledger.views.workbook import write_workbook  # noqa: PLC0415

        with working("Writing the pack"):
            pack = read_pack(connection, report, whole_year=self.year)
            for disagreement in pack.disagreements():
                say(disagreement)
            if self.workbook:
                write_workbook(Path(self.workbook), pack, replace_existing=self.replace)
                say(f"Wrote {self.workbook}{_draft(report)}.")
            if self.csv:
                write_csv_bundle(Path(self.csv), pack, replace=self.replace)
                say(f"Wrote the tables to {self.csv}.")

    def _write_page(
        self, connection: sqlite3.Connection, report: MonthReport, plan: ClosePlan | None
    ) -> None:
        # These draw, which closing alone does not.
        from ledger.book.month_behind import read_month_behind  # noqa: PLC0415
        from ledger.views.close_report import MonthPage, close_page  # noqa: PLC0415
        from ledger.views.page import write_page  # noqa: PLC0415

        month = report.statement.last_month
        event = closes_in_force(month_events(connection)).get(month)
        page = MonthPage(
            report,
            read_month_behind(connection, report.shop, month),
            plan if event is None else None,
            closed_month(connection, month),
            event.recorded_at[:10] if event else "",
            today().isoformat(),
        )
        with working("Drawing"):
            write_page(Path(self.report), close_page(page), replace=self.replace, respelled=naming_book)
        say(f"Wrote {self.report}{_draft(report)}.")


def closed_month(connection: sqlite3.Connection, month: str) -> Closed | None:
    """Return the close of a month that is in force, None where it is open."""
    event = closes_in_force(month_events(connection)).get(month)
    return Closed(event.document, month, event.fingerprint, event.previous, ()) if event else None


def _draft(report: MonthReport) -> str:
    return "" if report.is_closed else " (a draft: the month is open)"


def _refuse_unwritable(folder: Path) -> None:
    if not os.access(folder, os.W_OK):
        raise UsageError(f"nothing can be written into {folder}. Name another place. Nothing was closed.")

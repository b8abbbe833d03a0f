"""The files a comparison can write: pictures, a workbook, a page to keep."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from ledger.cli.common import naming_book, say
from ledger.cli.compare_options import Files
from ledger.cli.drawing import ENDINGS as PICTURE_ENDINGS
from ledger.errors import UsageError

if TYPE_CHECKING:
    from ledger.intake.study_sources import StudySources
    from ledger.sourcing.decide import Decision
    from ledger.views.price_report import PriceReport

ENDINGS = {"--picture": PICTURE_ENDINGS, "--workbook": (".xlsx",), "--report": (".html",)}


def check_files(files: Files) -> None:
    """Refuse names that cannot be written to, before anything is worked out.

    Raises UsageError naming the option and the file.
    """
    for option, name in files.given.items():
        if Path(name).suffix.lower() not in ENDINGS[option]:
            raise UsageError(f"{option}: let the name end in {' or '.join(ENDINGS[option])}, not '{name}'.")
        if Path(name).exists():
            raise UsageError(f"{name} is there already and was left as it is: name another file.")
        if not Path(name).parent.is_dir():
            raise UsageError(f"{option}: the folder {Path(name).parent} does not exist. Make it first.")


def write_decision_files(files: Files, decision: Decision, sources: StudySources) -> None:
    """Write the picture, the workbook and the page of a decision where they were asked for."""
    if files.picture:
        from ledger.views.decision_pictures import write_decision_picture  # noqa: PLC0415  (slow to import)

        write_decision_picture(decision, Path(files.picture))
        say(f"Wrote {files.picture}.")
    if files.workbook:
        from ledger.views.decision_workbook import write_decision_workbook  # noqa: PLC0415  (slow to import)

        write_decision_workbook(decision, sources, Path(files.workbook))
        say(f"Wrote {files.workbook}.")
    if files.report:
        from ledger.views.decision_report import write_decision_report  # noqa: PLC0415  (slow to import)

        write_decision_report(decision, sources, Path(files.report), naming_book)
        say(f"Wrote {files.report}: open it in a browser, or print it.")


def write_price_files(files: Files, report: PriceReport) -> None:
    """Write the picture, the workbook and the page of landed prices where they were asked for."""
    if files.picture:
        from ledger.views.pictures_prices import write_price_picture  # noqa: PLC0415  (slow to import)

        write_price_picture(report, Path(files.picture))
        say(f"Wrote {files.picture}.")
    if files.workbook:
        from ledger.views.price_workbook import write_price_workbook  # noqa: PLC0415  (slow to import)

        write_price_workbook(report, Path(files.workbook))
        say(f"Wrote {files.workbook}.")
    if files.report:
        from ledger.views.price_page import write_price_page  # noqa: PLC0415  (slow to import)

        write_price_page(report, Path(files.report), naming_book)
        say(f"Wrote {files.report}: open it in a browser, or print it.")

"""Packs for tests: of the worked month, of the sample shop's March, of a shop elsewhere; each made once."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from contextlib import closing
from functools import cache
from pathlib import Path

from month_shop import WORKED_BILLS, WORKED_EVENTS, WORKED_ITEMS, MonthShop, month_shop
from typer.testing import CliRunner

from ledger.book.connect import open_reading
from ledger.book.month_report import MonthReport, read_report
from ledger.cli.main import app
from ledger.views.month_pack import read_pack
from ledger.views.pack import Form, LastOf, Named, Pack, Ref, Table, Terms, TotalOf, whole

SAMPLE_MONTH = "2026-03"


def pack_of(shop: MonthShop, month: str, *, whole_year: bool = False) -> Pack:
    """Return a month's pack of a shop made for tests."""
    return _read(shop.book, month, whole_year=whole_year)[1]


def _read(book: Path, month: str, *, whole_year: bool = False) -> tuple[MonthReport, Pack]:
    with closing(open_reading(book)) as connection:
        report = read_report(connection, month)
        return report, read_pack(connection, report, whole_year=whole_year)


def _new_folder() -> Path:
    """Return a folder that goes when the tests have ended: what is in it is shared by several modules."""
    folder = Path(tempfile.mkdtemp(prefix="packs-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


@cache
def worked_shop() -> MonthShop:
    """The shop of the worked month."""
    folder = _new_folder()
    start = ("--first-month", "2026-03", "--policy", "freight=39", "--policy", "supplies=outside")
    shop = month_shop(folder, WORKED_ITEMS, WORKED_BILLS, *start)
    shop.post(WORKED_EVENTS)
    return shop


@cache
def worked_pack() -> Pack:
    """The pack of the worked month, still open."""
    return pack_of(worked_shop(), "2026-03")


@cache
def sample_report_and_pack() -> tuple[MonthReport, Pack]:
    """The report and the pack of the sample shop's March, as the tour leaves it."""
    folder = _new_folder() / "tour"
    result = CliRunner().invoke(app, ["tour", str(folder)], env={"BLANKBOOK_TODAY": "2026-03-31"})
    assert result.exit_code == 0, result.output
    return _read(folder / "sorrel-attic.blankbook", SAMPLE_MONTH)


def sample_pack() -> Pack:
    """The pack of the sample shop's March."""
    return sample_report_and_pack()[1]


def amount_of(pack: Pack, terms: Terms) -> int:
    """Return what terms come to by the pack's own cells, worked out apart from the workbook's formulas."""
    return sum(_ref(pack, ref) for ref in terms.plus) - sum(_ref(pack, ref) for ref in terms.minus)


def _ref(pack: Pack, ref: Ref) -> int:
    if isinstance(ref, Named):
        return pack.figures()[ref.name]
    table = pack.stock_by_month if ref.table == pack.stock_by_month.key else pack.table(ref.table)
    column = table.place(ref.column)
    if isinstance(ref, LastOf):
        return whole(table.rows[-1][column])
    if isinstance(ref, TotalOf):
        return table.total(ref.column)
    where = table.place(ref.where)
    return sum(whole(row[column]) for row in table.rows if row[where] == ref.equals)


def forms_of(pack: Pack) -> list[Form]:
    """Return the forms of a pack."""
    return [*(sheet for sheet in pack.sheets if isinstance(sheet, Form)), pack.where_cost_went]


def tables_of(pack: Pack) -> list[Table]:
    """Return the tables of a pack."""
    return [*(sheet for sheet in pack.sheets if isinstance(sheet, Table)), pack.stock_by_month]

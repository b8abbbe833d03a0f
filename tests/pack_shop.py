"""Packs for tests: of the worked month, of the sample shop's March, of a shop elsewhere; each made once."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from contextlib import closing
from functools import cache
from pathlib import Path

from month_shop import WORKED_BILLS, WORKED_EVENTS, WORKED_ITEMS, MonthShop, month_shop
from toured_shop import toured_shop

from ledger.book.connect import open_reading
from ledger.book.month_report import MonthReport, read_report
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


MILL = "Alder Yard Blanks"

HARD_JANUARY = f"""date,event,sku,quantity,amount,applies_to,kind,party,reference
2026-01-01,opening,TEE,5,14.00,,,,
2026-01-05,receive,TEE,10,30.00,,,{MILL},R-1
2026-01-05,receive,VIN,10,10.00,,,{MILL},R-1
2026-01-05,receive,PAPER,10,10.00,,,{MILL},R-1
2026-01-05,receive,CLEANER,1,18.00,,,{MILL},R-1
2026-01-06,charge,,,4.40,{MILL}/R-1,freight,Carrier,F-1
2026-01-07,receive,PAPER,20,20.00,,,{MILL},R-2
2026-01-08,make,FIN-M,4,2.00,,,,J-1
2026-01-09,own_use,TEE,1,,,,,
2026-01-10,sell,FIN-M,2,30.00,,,,S-1
"""

HARD_FEBRUARY = f"""date,event,sku,quantity,amount,applies_to,kind,party,reference
2026-02-03,charge,,,10.00,{MILL}/R-1,freight,Carrier,F-2
2026-02-06,donate,TEE,2,,,,School fair,
2026-02-07,spoil,VIN,1,,,,,
2026-02-08,send_back,TEE,1,,{MILL}/R-1,,,
2026-02-09,take_back,FIN-M,1,15.00,,,,S-1
2026-02-28,count,PAPER,5,,,,,
"""


@cache
def hard_shop() -> MonthShop:
    """A shop with what makes months hard: late prices, late bills, goods under way, reversals; January is closed.

    Twice twenty tees are under way at a month's end. Four tees came without a price, which is told in January, and
    when that is closed it is taken back and told anew.
    """
    shop = month_shop(_new_folder(), WORKED_ITEMS, WORKED_BILLS, "--first-month", "2026-01")
    shop.post(HARD_JANUARY)
    unpriced = ("receive", "--sku", "TEE", "--quantity", "4", "--party", MILL, "--reference", "R-3")
    receipt = shop.data(*unpriced, "--date", "2026-01-11", "--yes")["document"]
    priced = shop.data("charge", "goods 14.00", "--on", str(receipt), "--date", "2026-01-20", "--yes")
    order = ("order", "--party", MILL, "--terms", "FOB Port Rellan", "--line")
    for line, ordered, shipped in (
        ("TEE 20 at 3.20", "2026-01-12", "2026-01-25"),
        ("TEE 20 at 3.40", "2026-02-01", "2026-02-26"),
    ):
        placed = shop.data(*order, line, "--date", ordered, "--reference", ordered, "--yes")["document"]
        charge = ("--charge", "freight 6.00 by value", "--reference", f"S-{shipped}")
        shop("ship", str(placed), "--date", shipped, *charge, "--yes")
        if ordered < "2026-02":
            shop("close", "2026-01", "--yes")
            lost = ("--missing-line", "TEE 2 claimed", "--damaged-line", "TEE 1 expense")
            duty = ("--charge", "duty 3.00 by value", "--date", "2026-02-05")
            shop("receive", "--order", str(placed), *lost, *duty, "--yes")
    then = MonthShop(shop.folder, "2026-02-10")
    then("undo", str(priced["document"]), "--why", "the wrong bill", "--yes")
    then("undo", "3", "--why", "it never came", "--yes")
    shop("charge", "goods 16.00", "--on", str(receipt), "--date", "2026-02-12", "--yes")
    shop.post(HARD_FEBRUARY)
    return shop


@cache
def sample_report_and_pack() -> tuple[MonthReport, Pack]:
    """The report and the pack of the sample shop's March, as the tour leaves it."""
    return _read(toured_shop().book, SAMPLE_MONTH)


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

"""The pages of the stock and of a month against what their pictures alone take.

Run: python -m tests.benchmarks.report_pages
"""

from __future__ import annotations

import argparse
import datetime
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from measuring import Row, side_by_side, table
from writing_packs import MONTH, SKUS, make_month

from ledger.book.closing import look_before
from ledger.book.connect import open_reading
from ledger.book.month_behind import read_month_behind
from ledger.book.month_report import read_report
from ledger.book.shop import read_shop
from ledger.book.stock_by_month import stock_by_month
from ledger.book.stock_state import read_stock_state
from ledger.exact.months import last_day
from ledger.views.close_report import MonthPage, close_page
from ledger.views.page import page_html
from ledger.views.pictures import svg_text
from ledger.views.shop_pictures import came_to_chart, came_to_figure, stock_value_chart, stock_value_figure
from ledger.views.stock_report import stock_page

DOCUMENTS, ROUNDS = 10_000, 3
MOST = 2.0
"""How many times what its pictures alone take a page may take."""


def stock_html(path: Path, month: str = MONTH) -> str:
    """Return the page of the stock, read and written."""
    connection = open_reading(path)
    today = datetime.date.fromisoformat(last_day(month))
    html = page_html(stock_page(read_stock_state(connection, None, today)))
    connection.close()
    return html


def month_html(path: Path, month: str = MONTH) -> str:
    """Return the page of the month, read and written."""
    connection = open_reading(path)
    report = read_report(connection, month)
    behind = read_month_behind(connection, report.shop, month)
    page = MonthPage(report, behind, look_before(connection, month), None, "", last_day(month))
    html = page_html(close_page(page))
    connection.close()
    return html


def stock_picture(path: Path, month: str = MONTH) -> str:
    """Return the picture of stock by month and kind up to a month, its data read and drawn."""
    connection = open_reading(path)
    stock = stock_by_month(connection, "USD", read_shop(connection).first_month, month)
    connection.close()
    return svg_text(stock_value_figure(stock_value_chart(stock)), "Stock", "By month and kind.")


def month_pictures(path: Path, month: str = MONTH) -> list[str]:
    """Return the pictures of the month's page, their data read and drawn."""
    connection = open_reading(path)
    lines = read_report(connection, month).statement.total
    connection.close()
    return [
        svg_text(came_to_figure(came_to_chart(lines, "USD")), "Month", "Step by step."),
        stock_picture(path, month),
    ]


def rows_of(folder: Path, documents: int = DOCUMENTS, skus: int = SKUS, rounds: int = ROUNDS) -> list[Row]:
    """Return the lines of the table; processor time, for another process may be busy."""
    path = folder / "month.blankbook"
    make_month(path, documents, skus)
    # The plotting library is imported once, and before anything is timed.
    stock_picture(path)
    seconds = side_by_side(
        {
            "stock": lambda: stock_html(path),
            "stock alone": lambda: stock_picture(path),
            "month": lambda: month_html(path),
            "month alone": lambda: month_pictures(path),
        },
        rounds,
        clock=time.process_time,
    )
    return [
        Row(
            f"page of the {name}: {documents} documents, {skus} items",
            seconds[name],
            seconds[f"{name} alone"],
            "s",
            "its pictures alone",
            MOST,
        )
        for name in ("stock", "month")
    ]


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description="Pages as a ratio to their pictures alone.")
    parser.add_argument("--documents", type=int, default=DOCUMENTS, help="how many the month has")
    told = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        print(table(rows_of(Path(temporary), told.documents)))  # noqa: T201


if __name__ == "__main__":
    main()

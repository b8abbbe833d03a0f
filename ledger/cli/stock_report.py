"""`blankbook stock --report` and `--picture`: the shop's stock as a page to keep, or as one picture."""

from __future__ import annotations

import datetime
from pathlib import Path

import typer

from ledger.book.shop import read_shop
from ledger.book.stock_by_month import stock_by_month
from ledger.book.stock_state import read_stock_state
from ledger.cli.common import naming_book, reading, say, today
from ledger.cli.drawing import picture_path
from ledger.cli.waiting import working
from ledger.errors import Refused
from ledger.views.page import refuse_page, write_page
from ledger.views.pictures import save
from ledger.views.shop_pictures import stock_value_chart, stock_value_figure
from ledger.views.stock_report import stock_page


def write_stock_report(context: typer.Context, file: str, day: datetime.date | None) -> None:
    """Write the page of the shop's stock, now or at the end of a day.

    Raises UsageError where the file is there already or cannot be written.
    """
    path = Path(file)
    refuse_page(path)
    with working("Drawing"), reading(context) as connection:
        page = stock_page(read_stock_state(connection, day, today()))
        write_page(path, page, respelled=naming_book)
    say(f"Wrote {file}.")


def write_stock_picture(context: typer.Context, file: str) -> None:
    """Write the picture of stock value by month and kind.

    Raises UsageError where the file is there already or cannot be written, Refused where there is nothing to draw.
    """
    path = picture_path(file)
    with reading(context) as connection:
        shop = read_shop(connection)
        month = max(today().isoformat()[:7], shop.first_month)
        stock = stock_by_month(connection, shop.currency, shop.first_month, month)
    if not stock.kinds:
        raise Refused("the book has had no stock of any value yet, so there is nothing to draw.")
    chart = stock_value_chart(stock, is_last_so_far=True)
    save(stock_value_figure(chart), path)
    say(f"Wrote {file}.")

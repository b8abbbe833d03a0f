"""The cost of goods sold of a published tax year, through real documents and the real command."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing

import pytest
from month_shop import MonthShop, month_shop

from ledger.book.connect import open_reading
from ledger.book.margin import Margin, MarginRow, margin
from ledger.book.month_report import read_report, read_span
from ledger.costing.month_statement import MonthStatement
from ledger.costing.tax_lines import TaxLines, form_1125_a

# Source: IRS Publication 334 (2016), Tax Guide for Small Business, chapter 7, the illustration of
# gross profit: gross receipts 400,000, returns and allowances 14,940, net 385,060; inventory at the
# start 37,845; purchases 285,900 less 2,650 taken for personal use, 283,250; available 321,095;
# inventory at the end 32,955; cost of goods sold 288,140; gross profit 96,920. The illustration
# gives totals of a year; the documents that come to them are ours.

ITEMS = """sku,name,kind,unit
GOODS,Goods,blank,each
OTHER,Other goods,blank,each
"""

EVENTS = """date,event,sku,quantity,amount,applies_to,reference,party
2016-01-01,opening,GOODS,12615,37845.00,,,
2016-03-04,receive,GOODS,40000,124000.00,,A-1,Alder Yard
2016-04-12,receive,OTHER,1000,5000.00,,B-1,Birch Lane
2016-05-02,own_use,OTHER,530,,,,
2016-06-30,sell,GOODS,50000,210000.00,,S-1,
2016-07-08,receive,GOODS,30000,96000.00,,A-2,Alder Yard
2016-08-15,take_back,GOODS,2000,9000.00,,S-1,
2016-09-01,sell,OTHER,470,4700.00,,S-2,
2016-10-05,receive,GOODS,10000,27945.00,,A-3,Alder Yard
2016-11-20,refund,GOODS,,5940.00,,S-1,
2016-12-01,sell,GOODS,44615,185300.00,,S-3,
2016-12-19,receive,GOODS,10985,32955.00,,A-4,Alder Yard
2016-12-31,count,GOODS,10985,,,,
2016-12-31,count,OTHER,0,,,,
"""


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> MonthShop:
    """A book that holds the year."""
    folder = tmp_path_factory.mktemp("year")
    shop = month_shop(folder, ITEMS, "", "--first-month", "2016-01", today="2016-12-31")
    shop.post(EVENTS)
    return shop


@pytest.fixture(scope="module")
def year(shop: MonthShop) -> Iterator[MonthStatement]:
    """The statement of all twelve months."""
    with closing(open_reading(shop.book)) as connection:
        yield read_span(connection, "2016-01", "2016-12")


@pytest.fixture(scope="module")
def lines(shop: MonthShop) -> TaxLines:
    """The tax year to date in December."""
    with closing(open_reading(shop.book)) as connection:
        found = read_report(connection, "2016-12").year.lines
    assert found is not None
    return found


@pytest.fixture(scope="module")
def earned(shop: MonthShop) -> Margin:
    """What the year earned."""
    with closing(open_reading(shop.book)) as connection:
        return margin(connection, "2016-01-01", "2016-12-31")


def test_statement_of_the_published_year(year: MonthStatement) -> None:
    """Inventory at both ends, purchases before and own use, cost of goods sold."""
    total = year.total
    assert (total.opening_stock, total.purchases, total.own_use) == (3784500, 28590000, 265000)
    assert (total.closing_stock, total.cost_of_goods_sold) == (3295500, 28814000)


def test_lines_of_the_published_year(lines: TaxLines) -> None:
    """35 to 42: 37,845; 283,250; nothing else; 321,095 available; 32,955; 288,140."""
    assert lines.by_number() == {
        "35": 3784500,
        "36": 28325000,
        "37": 0,
        "38": 0,
        "39": 0,
        "40": 32109500,
        "41": 3295500,
        "42": 28814000,
    }


def test_the_same_year_on_form_1125_a(lines: TaxLines) -> None:
    """Form 1125-A has the same figures under numbers of its own (its lines 1, 2, 6, 7 and 8)."""
    amounts = {line.number: line.amount for line in form_1125_a(lines)}
    wanted = {"1": 3784500, "2": 28325000, "6": 32109500, "7": 3295500, "8": 28814000}
    assert {number: amounts[number] for number in wanted} == wanted


def test_gross_profit_of_the_published_year(earned: Margin) -> None:
    """Net receipts 385,060 less cost of goods sold 288,140 is 96,920."""
    assert (earned.total.revenue, earned.total.cost, earned.total.left) == (38506000, 28814000, 9692000)


def test_gross_profit_test() -> None:
    """Source: IRS Publication 334, gross profit: 300,000 less 200,000 is 100,000, 33 1/3 percent."""
    row = MarginRow("all", "", 0, revenue=30000000, shipping=0, fees=0, cost=20000000)
    assert row.left == 10000000
    assert row.percent is not None
    assert 3 * row.percent == 100

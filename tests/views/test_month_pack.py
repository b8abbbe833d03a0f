"""The pack as plain data: figures are the statement's, every tie holds, drafts and shops elsewhere."""

from __future__ import annotations

from pathlib import Path

import pytest
from month_shop import WORKED_BILLS, WORKED_EVENTS, WORKED_ITEMS, MonthShop, month_shop
from pack_shop import amount_of, forms_of, pack_of, tables_of, worked_pack, worked_shop

from ledger.views.pack import Adds, Check, Pack, whole

BUSY_YEAR = """date,event,sku,quantity,amount,kind,applies_to,reference,party
2026-01-05,receive,TEE,10,30.00,,,R-1,Alder Yard Blanks
2026-01-09,own_use,TEE,1,,,,,
2026-02-03,receive,TEE,10,40.00,,,R-2,Alder Yard Blanks
2026-02-10,sell,TEE,2,30.00,,,S-1,
2026-02-11,donate,TEE,1,,,,,School fair
2026-02-20,write_down,TEE,,2.50,,,,
2026-03-02,sell,TEE,3,45.00,,,S-2,
2026-03-03,spoil,TEE,1,,,,,
2026-03-04,send_back,TEE,2,,,Alder Yard Blanks/R-2,,
"""


@pytest.fixture(scope="module")
def busy(tmp_path_factory: pytest.TempPathFactory) -> MonthShop:
    """A shop with three months in it, none closed."""
    shop = month_shop(tmp_path_factory.mktemp("busy"), WORKED_ITEMS, "", "--first-month", "2026-01")
    shop.post(BUSY_YEAR)
    return shop


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory: pytest.TempPathFactory) -> Pack:
    """The worked month of a shop in Japan, whose currency has no decimals."""
    shop = MonthShop(tmp_path_factory.mktemp("elsewhere"), "2026-03-31")
    start = ("start", "--name", "Yama & Sons", "--currency", "JPY", "--country", "JP")
    shop(*start, "--first-month", "2026-03", "--yes")
    for command, text in (("items", WORKED_ITEMS), ("boms", WORKED_BILLS)):
        sheet = shop.folder / f"{command}.csv"
        sheet.write_text(text, encoding="utf-8")
        shop(command, "load", str(sheet), "--yes")
    shop.post(WORKED_EVENTS.replace(".00", "").replace(".20", "").replace(".86", ""))
    return pack_of(shop, "2026-03")


def checks_of(pack: Pack) -> list[Check]:
    """Return the checks of a pack that do not hold by its own cells."""
    return [
        check
        for check in pack.checks
        if not amount_of(pack, check.one) == amount_of(pack, check.other) == check.value
    ]


def test_every_check_of_the_worked_month_holds() -> None:
    """Both ways to every tie give the same figure, and it is the one that is kept."""
    assert checks_of(worked_pack()) == []


def test_every_named_figure_follows_from_its_terms() -> None:
    """What a form's formula adds up is the figure the statement gives."""
    pack = worked_pack()
    wrong = [
        figure.name
        for form in forms_of(pack)
        for row in form.rows
        for figure in row.figures
        if figure is not None and figure.terms is not None and amount_of(pack, figure.terms) != figure.value
    ]
    assert wrong == []


def test_every_sum_across_a_row_follows_from_its_columns() -> None:
    """Landed cost, closing stock and the like are what their columns add up to."""
    wrong = []
    for table in tables_of(worked_pack()):
        for place, column in enumerate(table.columns):
            if isinstance(column.formula, Adds):
                for row in table.rows:
                    plus = sum(whole(row[table.place(key)]) for key in column.formula.plus)
                    minus = sum(whole(row[table.place(key)]) for key in column.formula.minus)
                    if row[place] is not None and row[place] != plus - minus:
                        wrong.append((table.key, column.key, row))
    assert wrong == []


def test_the_kinds_are_gathered_from_the_skus() -> None:
    """Each figure of the statement by kind is the sum over the SKUs of that kind."""
    pack = worked_pack()
    kinds, skus = pack.table("value_by_kind"), pack.table("value_by_sku")
    for row in kinds.rows:
        own = [each for each in skus.rows if each[skus.place("kind")] == row[0]]
        for column in kinds.columns[1:]:
            summed = sum(whole(each[skus.place(column.key)]) for each in own)
            assert row[kinds.place(column.key)] == summed, (row[0], column.key)


def test_the_worked_month_in_the_pack() -> None:
    """The figures of the worked month without its late bill, as its own tests work them out."""
    figures = worked_pack().figures()
    assert (figures["closing_stock"], figures["cost_of_goods_sold"], figures["tax_line_42"]) == (
        31724,
        25862,
        25862,
    )
    assert (figures["sales"], figures["gross_profit"]) == (88000, 88000 - 25862)


def test_jobs_show_materials_labour_and_the_cost_of_a_piece() -> None:
    """The worked job: 54 sets, paid help, 51 pieces that bear 255.00."""
    table = worked_pack().table("jobs")
    (row,) = table.rows
    shown = [row[table.place(key)] for key in ("pieces", "normal", "abnormal", "materials", "labour", "cost")]
    assert shown == [54000, 3000, 1000, 23514, 1986, 25500]
    assert row[table.place("unit_cost")] == 5


def test_purchases_show_charges_and_landed_cost() -> None:
    """The first receipt's shirts: 186.00 and 18.60 of the freight, 60 pieces at 3.41."""
    table = worked_pack().table("purchases")
    row = next(row for row in table.rows if row[table.place("sku")] == "TEE")
    cost = [row[table.place(key)] for key in ("amount", "charges", "landed_cost")]
    assert cost == [18600, 1860, 20460]
    assert str(row[table.place("unit_cost")]) == "341/100"


def test_a_customer_return_stands_with_a_minus() -> None:
    """What came back is taken off the pieces, the money and the cost."""
    table = worked_pack().table("sales")
    row = next(row for row in table.rows if str(row[1]).startswith("take back"))
    shown = [row[table.place(key)] for key in ("quantity", "amount", "cost", "left")]
    assert shown == [-1000, -2000, -500, -1500]


def test_counts_show_what_the_book_had() -> None:
    """Two shirts were missing of 65, at 6.82."""
    table = worked_pack().table("counts")
    (row,) = table.rows
    shown = [row[table.place(key)] for key in ("expected", "counted", "difference", "amount")]
    assert shown == [65000, 63000, -2000, 682]


def test_the_journal_begins_with_what_was_brought_forward(busy: MonthShop) -> None:
    """A later month's journal opens with the stock that the month before ended with."""
    journal = pack_of(busy, "2026-02").table("journal")
    first, second = journal.rows[0], journal.rows[1]
    assert (first[1], first[2], first[3], first[7]) == ("brought forward", "on hand", "TEE", 2700)
    assert (second[2], second[8]) == ("brought forward", 2700)


@pytest.mark.parametrize("month", ["2026-01", "2026-02", "2026-03"])
def test_every_check_holds_in_each_month(busy: MonthShop, month: str) -> None:
    """Also in a month that later documents have moved on from."""
    assert checks_of(pack_of(busy, month)) == []


def test_lots_of_an_earlier_month_are_what_they_were_then(busy: MonthShop) -> None:
    """At the end of January nine of ten were left, though none of them is now."""
    table = pack_of(busy, "2026-01").table("lots")
    (row,) = table.rows
    assert (row[table.place("quantity_on_hand")], row[table.place("value_on_hand")]) == (9000, 2700)


def test_the_year_is_the_months_together(busy: MonthShop) -> None:
    """The year's pack has the first month's opening, the last month's closing, and all between."""
    year, march = pack_of(busy, "2026-03", whole_year=True), pack_of(busy, "2026-03")
    assert checks_of(year) == []
    assert year.figures()["purchases"] == 7000
    assert year.figures()["closing_stock"] == march.figures()["closing_stock"]
    assert year.figures()["cost_of_goods_sold"] == march.figures()["year_cost_of_goods_sold"]


def test_an_open_month_is_a_draft() -> None:
    """Figures of an open month may still change, and the pack knows it."""
    assert worked_pack().is_draft


def test_a_closed_month_carries_its_fingerprint(tmp_path: Path) -> None:
    """The notes of a closed month name the close and its fingerprint."""
    shop = month_shop(tmp_path, WORKED_ITEMS, "", "--first-month", "2026-01")
    shop.post("date,event,sku,quantity,amount\n2026-01-05,receive,TEE,10,30.00\n")
    shop("close", "2026-01", "--yes")
    pack = pack_of(shop, "2026-01")
    assert not pack.is_draft
    told = {row[1]: row[2] for row in pack.table("notes").rows if row[0] == "close"}
    assert len(str(told["fingerprint (SHA-256)"])) == 64


def test_a_shop_elsewhere_has_no_us_tax_lines(elsewhere: Pack) -> None:
    """Line numbers of a United States form mean nothing to it; every other tie holds."""
    assert all(form.key != "tax_lines" for form in forms_of(elsewhere))
    assert checks_of(elsewhere) == []


def test_stock_used_before_it_was_entered_stands_beside_the_lots(tmp_path: Path) -> None:
    """A short is part of the closing stock, so it has a row of its own."""
    shop = month_shop(tmp_path, WORKED_ITEMS, "", "--first-month", "2026-01")
    shop.post("date,event,sku,quantity,amount\n2026-01-05,receive,TEE,10,30.00\n")
    shop("use", "TEE", "12", "--date", "2026-01-07", "--short", "--yes")
    pack = pack_of(shop, "2026-01")
    table = pack.table("lots")
    (row,) = table.rows
    assert (row[0], row[table.place("quantity_on_hand")]) == ("used before entered", -2000)
    assert checks_of(pack) == []


def test_an_empty_month_has_a_pack_whose_checks_hold(busy: MonthShop) -> None:
    """A month in which nothing happened carries its stock over."""
    shop = MonthShop(busy.folder, "2026-04-30")
    pack = pack_of(shop, "2026-04")
    assert checks_of(pack) == []
    assert pack.figures()["cost_of_goods_sold"] == 0


def test_optional_columns_without_figures_are_left_out() -> None:
    """What did not happen takes no room on paper, and none of what did is lost."""
    table = worked_pack().table("value_by_sku")
    shown = table.shown()
    keys = {column.key for column in shown.columns}
    assert "donations" not in keys
    assert "samples" in keys
    assert shown.total("closing_stock") == table.total("closing_stock")


def test_the_worked_shop_is_read_only_by_packs() -> None:
    """Reading a pack twice gives the same: nothing in the book moves."""
    assert pack_of(worked_shop(), "2026-03") == worked_pack()


LATE_YEAR = """date,event,sku,quantity,amount,applies_to,kind,party,reference
2026-01-05,receive,TEE,10,30.00,,,Alder Yard Blanks,R-1
2026-01-05,receive,VIN,10,10.00,,,Alder Yard Blanks,R-1
2026-01-05,receive,PAPER,10,10.00,,,Alder Yard Blanks,R-1
2026-01-06,make,FIN-M,4,2.00,,,,J-1
2026-01-09,own_use,TEE,1,,,,,
2026-01-10,sell,FIN-M,2,30.00,,,,S-1
"""


@pytest.fixture(scope="module")
def billed_late(tmp_path_factory: pytest.TempPathFactory) -> MonthShop:
    """A shop whose freight of January came when January was closed and its goods were made up and sold."""
    folder = tmp_path_factory.mktemp("late")
    shop = month_shop(folder, WORKED_ITEMS, WORKED_BILLS, "--first-month", "2026-01")
    shop.post(LATE_YEAR)
    shop("close", "2026-01", "--yes")
    shop.post(
        "date,event,amount,applies_to,kind,party\n2026-02-03,charge,10.00,Alder Yard Blanks/R-1,freight,Carrier\n"
    )
    return shop


@pytest.mark.parametrize("month", ["2026-01", "2026-02"])
def test_every_check_holds_around_a_late_bill(billed_late: MonthShop, month: str) -> None:
    """A bill that reaches stock, finished goods, own use and what was sold leaves every tie whole."""
    assert checks_of(pack_of(billed_late, month)) == []


def test_every_check_holds_in_a_year_with_a_late_bill(billed_late: MonthShop) -> None:
    """Also where the months are taken together."""
    assert checks_of(pack_of(billed_late, "2026-02", whole_year=True)) == []


def test_a_closed_months_pack_does_not_know_the_late_bill(billed_late: MonthShop) -> None:
    """January's lots stand as they stood when it was closed."""
    table = pack_of(billed_late, "2026-01").table("lots")
    assert {row[table.place("charges")] for row in table.rows} == {0}
    assert table.total("late_charges") == 0


def test_a_late_bill_is_told_apart_on_the_lots(billed_late: MonthShop) -> None:
    """What of the bill went on stock, finished goods included, stands beside the lots it went to."""
    pack = pack_of(billed_late, "2026-02")
    bills = pack.table("late_bills")
    assert pack.table("lots").total("late_charges") == bills.total("on_stock") == 740
    assert bills.total("amount") == 1000


def test_every_check_holds_where_closed_documents_were_undone(tmp_path: Path) -> None:
    """A reversal stands in the open month as what it takes back, and every tie holds in both months."""
    shop = month_shop(tmp_path, WORKED_ITEMS, WORKED_BILLS, "--first-month", "2026-01")
    shop.post(
        f"{LATE_YEAR}2026-01-11,receive,TEE,5,15.00,,,Alder Yard Blanks,R-2\n2026-01-12,make,FIN-M,1,1.50,,,,J-2\n"
    )
    shop("close", "2026-01", "--yes")
    for number in ("6", "5", "4", "3"):
        shop("undo", number, "--why", "a test", "--yes")
    january, march = pack_of(shop, "2026-01"), pack_of(shop, "2026-03")
    assert (checks_of(january), checks_of(march)) == ([], [])
    undone = [[row[1] for row in march.table(key).rows] for key in ("jobs", "purchases", "sales", "not_sold")]
    assert undone == [["undo 8"], ["undo 9"], ["undo 10"], ["undo 11"]]


def test_what_came_in_without_sales_tax_and_was_not_sold_is_listed(tmp_path: Path) -> None:
    """Used and given away beside what was lost, each by the lot it came with; what was sold is not there."""
    shop = month_shop(tmp_path, WORKED_ITEMS, WORKED_BILLS, "--first-month", "2026-01")
    receive = (
        "receive",
        "--party",
        "Alder Yard Blanks",
        "--sku",
        "TEE",
        "--quantity",
        "10",
        "--date",
        "2026-01-11",
    )
    shop(*receive, "--amount", "30.00", "--tax-paid", "resale", "--yes")
    shop("own-use", "TEE", "2", "--date", "2026-01-12", "--yes")
    shop("spoil", "TEE", "1", "--date", "2026-01-13", "--yes")
    table = pack_of(shop, "2026-01").table("bought_without_tax")
    shown = [
        tuple(row[table.place(key)] for key in ("what", "sku", "sales_tax", "used", "lost"))
        for row in table.rows
    ]
    assert shown == [("own use", "TEE", "for resale", 600, 0), ("spoilage", "TEE", "for resale", 0, 300)]
    assert "No tax is worked out" in table.note

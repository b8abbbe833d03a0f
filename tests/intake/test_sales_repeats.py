"""What is repeated in a sales export: amounts of an order on its rows, whole rows; and discounts row by row."""

from __future__ import annotations

from pathlib import Path

import pytest
from sales_files import COLUMNS, export, profile

from ledger.errors import InputErrors
from ledger.intake.propose_sales import propose_sales
from ledger.intake.read_sales import SalesOptions, read_sales
from ledger.intake.sales import SalesDraft
from ledger.intake.sales_amended import amended_profile
from ledger.intake.sales_answers import read_sales_answers

FIRST = "2026-05-09,S1,,FOX,Fox tee,M,1,22.00,4.50,1.10,,,"
FOX = "2026-05-10,S2,,FOX,Fox tee,M,1,22.00,4.50,1.10,,,"
OWL = "2026-05-10,S2,,OWL,Owl tee,M,1,30.00,4.50,1.50,,,"
PRICED = (
    'kind = "sales"\nparty = "Fair"\n[columns]\ndate = "Date"\norder = "Order"\nsku = "SKU"\npieces = "Qty"\n'
)
PRICED += 'unit_price = "Each"\ndiscount = "Promo"\nitem_total = "Goods"\n[amounts]\ndiscount = "'
PRICED_HEADINGS = "Date,Order,SKU,Qty,Each,Promo,Goods"


def read(*rows: str, more: str = "") -> SalesDraft:
    """Return what rows hold by the tests' layout with more lines."""
    return read_sales(export(*rows), profile(more))


def priced(row: str, habit: str) -> SalesDraft:
    """Return what a row with a price and a discount holds."""
    return read_sales(export(row, headings=PRICED_HEADINGS), profile(f'{habit}"\n', PRICED))


@pytest.mark.parametrize(
    ("column", "rows"),
    [
        ("shipping", (FOX, OWL)),
        ("fees", (FOX, OWL.replace("4.50,1.50", ",1.10"))),
        (
            "refunded",
            (FOX.replace("1.10,,", "1.10,9.00,2026-05-12"), OWL.replace("4.50,1.50,,", ",,9.00,2026-05-12")),
        ),
    ],
)
def test_one_amount_on_every_row_of_an_order_is_asked(column: str, rows: tuple[str, ...]) -> None:
    """It may be the order's, told once; both ways to say it are named."""
    with pytest.raises(InputErrors) as refused:
        read(FIRST, *rows)
    (problem,) = refused.value.problems
    assert problem.what.startswith(f"every row of order S2 has the same {column}, ")
    assert f'--as "per order {column}" or --as "per row {column}"' in problem.next_step
    assert ("row 3" in problem.where, "row 4" in problem.also[0]) == (True, True)


@pytest.mark.parametrize(("answer", "paid"), [("per order shipping", "4.50"), ("per row shipping", "9.00")])
def test_the_answer_is_kept(tmp_path: Path, answer: str, paid: str) -> None:
    """A saved profile with the answer reads this file, and its text says it for the next one."""
    path = tmp_path / "fair.toml"
    path.write_text(COLUMNS, "utf-8")
    amended, text = amended_profile(path, export(FOX, OWL), read_sales_answers([answer]))
    rows = read_sales(export(FOX, OWL), amended).rows
    assert f"{float(sum(row.shipping or 0 for row in rows)):.2f}" == paid
    path.write_text(text, "utf-8")
    other = "per row shipping" if "order" in answer else "per order shipping"
    changed, _ = amended_profile(path, export(FOX, OWL), read_sales_answers([other]))
    assert (changed.per_order, changed.per_row) == (amended.per_row, amended.per_order)


def test_a_new_file_keeps_the_answer_too() -> None:
    """What is said of a file without a profile stands in the profile that it gives."""
    proposal = propose_sales(export(FOX, OWL), party="Fair", answers=read_sales_answers(["per row shipping"]))
    assert proposal.to_profile().per_row == ("shipping",)
    assert sum(row.shipping or 0 for row in read_sales(export(FOX, OWL), proposal.to_profile()).rows) == 9


@pytest.mark.parametrize(
    "rows",
    [
        (FOX, OWL.replace("4.50", "")),
        (FOX, OWL, FOX.replace("S2", "S3"), OWL.replace("S2", "S3").replace("4.50", "2.00")),
        (FOX.replace("S2,", "S2,1"), FOX.replace("S2,", "S2,1")),
    ],
    ids=["once", "another order differs", "one line twice"],
)
def test_what_the_file_tells_is_not_asked(rows: tuple[str, ...]) -> None:
    """A cell left empty, rows of an order that differ, and one line that stands twice."""
    assert read(*rows).rows


@pytest.mark.parametrize(
    ("habit", "goods", "side"), [("taken off", "36.00", "before"), ("to take off", "32.40", "after")]
)
def test_a_discount_that_the_price_contradicts_is_asked(habit: str, goods: str, side: str) -> None:
    """The profile's habit came from another file; this row's pieces times price tell otherwise."""
    with pytest.raises(InputErrors) as refused:
        priced(f"2026-05-24,S1,FOX,2,18.00,3.60,{goods}", habit)
    (problem,) = refused.value.problems
    assert f"the item total {goods.rstrip('0').rstrip('.')}" in problem.what.replace(".00", "").replace(
        ".40", ".4"
    )
    assert (f"is {side} the discount" in problem.what, "row 2" in problem.where) == (True, True)


@pytest.mark.parametrize(
    ("habit", "goods", "amount"),
    [("taken off", "32.40", 3240), ("to take off", "36.00", 3240), ("in the price", "36.00", 3600)],
)
def test_a_discount_that_the_price_bears_out_is_read(habit: str, goods: str, amount: int) -> None:
    """Where the price is after the discount, pieces times price are the total, and nothing comes off."""
    (row,) = priced(f"2026-05-24,S1,FOX,2,18.00,3.60,{goods}", habit).rows
    assert (row.amount or 0) * 100 == amount


def test_a_row_that_stands_twice_is_named() -> None:
    """A sale with its refund, word for word and without a line number, counts twice, and both are named."""
    row = FOX.replace("1.10,,", "1.10,3.00,2026-05-12")
    draft = read(row, row, more='[amounts]\nper_row = ["shipping", "fees", "refunded"]')
    (remark,) = [each for each in draft.remarks if "exactly the same" in each]
    assert ("row 2 and " in remark, "row 3 say" in remark, len(draft.rows)) == (True, True, 4)
    assert not [each for each in read(FIRST, FOX).remarks if "exactly the same" in each]


def test_more_paid_back_than_sold_names_what_to_say() -> None:
    """The line that is named makes the row readable."""
    row = FIRST.replace("1.10,,", "1.10,26.50,2026-05-12")
    with pytest.raises(InputErrors, match='--as "refunds above shipping"'):
        read(row)
    told = read_sales_answers(["refunds above shipping"])
    layout = propose_sales(export(row), party="Fair", answers=told).to_profile()
    assert read_sales(export(row), layout, SalesOptions("Fair")).rows[1].shipping == 4.5

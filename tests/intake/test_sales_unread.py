"""Columns of a sales export that nothing reads: asked or refused where they could hold money, else left."""

from __future__ import annotations

import pytest
from sales_files import export

from ledger.errors import InputErrors
from ledger.intake.propose_sales import SalesProposal, propose_sales
from ledger.intake.read_sales import SalesOptions, read_sales
from ledger.intake.sales_answers import read_sales_answers

HEADINGS = "Date,Order,SKU,Qty,Amount,Shipping,Fees"
SALE = "2026-05-09,S1,FOX,2,44.00,4.00,1.10"


def proposal(heading: str, *cells: str, said: tuple[str, ...] = ()) -> SalesProposal:
    """Return what is proposed for sales with one more column H."""
    rows = [f"{SALE.replace('S1', f'S{number}')},{cell}" for number, cell in enumerate(cells)]
    file = export(*rows, headings=f"{HEADINGS},{heading}")
    return propose_sales(file, party="Fair", currency="USD", answers=read_sales_answers(said))


@pytest.mark.parametrize(
    ("heading", "cell", "answer"),
    [
        ("Gift wrap", "1.50", "H=more shipping"),
        ("Ad cost", "-0.50", "H=more fees"),
        ("Goodwill", "3.00", "H=refunded"),
        ("Mood", "3.00", "ignore H"),
        ("", "3.00", "ignore H"),
        ("Order total", "49.00", "ignore H"),
        ("State", "Cancelled", "H=type"),
        ("Refunded", "partly", "H=refunded"),
    ],
)
def test_a_column_that_could_be_money_is_asked_about(heading: str, cell: str, answer: str) -> None:
    """With the likeliest meaning first, and the question ends with any of its answers."""
    made = proposal(heading, cell)
    (question,) = (each for each in made.questions if answer in each.answers)
    assert question.answers[0] == answer
    assert not proposal(heading, cell, said=("ignore H",)).questions


@pytest.mark.parametrize(
    ("heading", "cell"),
    [
        ("Transaction ID", "90001"),
        ("Buyer postcode", "97201"),
        ("Order total", "48.00"),
        ("Net payout", "46.90"),
        ("Quantity ordered", "2"),
        ("Balance", "12.34"),
        ("Buyer", "Anna 2"),
        ("Gift wrap", "0.00"),
        ("Promo", "MAY10"),
        ("State", "OR"),
    ],
)
def test_what_surely_is_no_money_of_its_own_is_not_asked(heading: str, cell: str) -> None:
    """Numbers of orders and places, sums of what is read, pieces known, zeros, texts."""
    assert not proposal(heading, cell).questions


def test_a_sum_of_a_whole_order_is_known() -> None:
    """It stands on the order's first row; shipping and the items of both rows are in it."""
    rows = ("2026-05-09,S1,FOX,2,44.00,4.00,,68.00", "2026-05-09,S1,OWL,1,20.00,,,")
    made = propose_sales(export(*rows, headings=f"{HEADINGS},Order total"), party="Fair", currency="USD")
    assert not made.questions


def test_columns_of_one_kind_are_added_up() -> None:
    """Three columns of fees, with a minus, are the sale's fees."""
    headings = "Date,Order,SKU,Qty,Amount,Fee,Ad cost,Card charge"
    file = export("2026-05-09,S1,FOX,1,22.00,-1.00,-0.30,-0.20", headings=headings)
    answers = read_sales_answers(("G=more fees", "H=more fees"))
    made = propose_sales(file, party="Fair", currency="USD", answers=answers)
    (row,) = read_sales(file, made.to_profile()).rows
    assert row.fees is not None
    assert (float(row.fees), made.questions) == (1.5, ())


def test_a_profile_stops_at_a_new_column() -> None:
    """The column is named at its heading with the answers; with is_sample it is only shown."""
    file = export(f"{SALE},22.00", headings=f"{HEADINGS},Refunded")
    profile = propose_sales(export(SALE, headings=HEADINGS), party="Fair", currency="USD").to_profile()
    with pytest.raises(InputErrors, match=r'row 1, column Refunded: .*--as "H=refunded" or --as "ignore H"'):
        read_sales(file, profile)
    assert len(read_sales(file, profile, SalesOptions(is_sample=True)).rows) == 1

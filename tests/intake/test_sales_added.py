"""Rows of a sales export that belong to an order: its fees and shipping, refunds without an item, its first row's date and status."""

from __future__ import annotations

from fractions import Fraction

import pytest
from sales_files import read, short

from ledger.errors import InputErrors
from ledger.intake.sales import SalesDraft

LEDGER = (
    'kind = "sales"\nparty = "Harbour Fair"\n[columns]\ndate = "Date"\ntype = "Type"\norder = "Order"\nsku = "SKU"\n'
    'pieces = "Pieces"\nitem_total = "Amount"\n[types]\n"Sale" = "sale"\n"Fee" = "fees"\n"Post" = "shipping"\n'
    '"Refund" = "refund"\n"Return" = "take back"\n'
)
LEDGER_HEADINGS = "Date,Type,Order,SKU,Pieces,Amount"
LEDGER_SALE = "2026-04-03,Sale,1,FOX,1,22.00"


def ledger(*rows: str, more: str = "") -> SalesDraft:
    """Return what rows of a list of money movements hold."""
    return read(*rows, columns=LEDGER, headings=LEDGER_HEADINGS, more=more)


def test_rows_of_fees_and_shipping_belong_to_their_orders_sale() -> None:
    """Two fees are added up; they may stand before the sale."""
    draft = ledger(
        "2026-04-03,Fee,1,,,-1.43", LEDGER_SALE, "2026-04-03,Post,1,,,4.95", "2026-04-03,Fee,1,,,-0.91"
    )
    assert [short(row) for row in draft.rows] == [("sell", 3, 1.0, 22.0, 4.95, 2.34)]


def test_a_fee_goes_to_the_row_of_its_own_item() -> None:
    """Where it names one, of an order with several."""
    rows = ledger(LEDGER_SALE, "2026-04-03,Sale,1,OWL,1,24.00", "2026-04-03,Fee,1,OWL,,-1.00").rows
    assert [(row.sku, row.fees) for row in rows] == [("FOX", None), ("OWL", 1)]


def test_a_fee_given_back_goes_to_the_orders_return() -> None:
    """It has the other sign than a fee."""
    rows = ledger(LEDGER_SALE, "2026-04-09,Return,1,FOX,1,-22.00", "2026-04-09,Fee,1,,,1.43").rows
    assert [(row.event, row.fees) for row in rows] == [("sell", None), ("take_back", Fraction("1.43"))]


def test_fees_written_without_a_minus_are_read_where_the_profile_says_so() -> None:
    """A plus is what was kept."""
    rows = ledger(LEDGER_SALE, "2026-04-03,Fee,1,,,1.43", more='[amounts]\nfee_rows = "plus"').rows
    assert rows[0].fees == Fraction("1.43")


def test_a_fee_given_back_for_an_order_without_a_refund_is_refused() -> None:
    """It cannot be told from a fee that is written without a minus."""
    with pytest.raises(InputErrors, match='fee_rows = "plus"'):
        ledger(LEDGER_SALE, "2026-04-03,Fee,1,,,1.43")


def test_fees_without_their_sale_are_set_aside_and_said() -> None:
    """One of an earlier export's order, and one of no order at all."""
    draft = ledger(LEDGER_SALE, "2026-04-03,Fee,7,,,-1.43", "2026-04-03,Fee,,,,-0.20")
    assert sorted((each.where, each.rule) for each in draft.set_aside) == [
        ("row 3", "fees of an order that is not in this file"),
        ("row 4", "Fee, without an order"),
    ]


def test_a_fee_is_part_of_what_a_sale_says() -> None:
    """The same export with another fee is another content under the same key."""
    first, second = (
        ledger(LEDGER_SALE, f"2026-04-03,Fee,1,,,-{fee}").rows[0].source for fee in ("1.43", "1.44")
    )
    assert first is not None
    assert second is not None
    assert (first.key == second.key, first.content_sha256 == second.content_sha256) == (True, False)


def test_a_refund_that_names_no_item_is_of_the_only_one_of_its_order() -> None:
    """Newest first or last."""
    assert ledger("2026-04-09,Refund,1,,,-5.00", LEDGER_SALE).rows[1].sku == "FOX"


def test_a_refund_that_names_no_item_of_an_order_with_several_is_spread() -> None:
    """By what they sold for, to the cent, and it is said."""
    draft = ledger(LEDGER_SALE, "2026-04-03,Sale,1,OWL,1,24.00", "2026-04-09,Refund,1,,,-5.00")
    (fox, owl) = (row for row in draft.rows if row.event == "refund")
    assert (fox.sku, owl.sku, (fox.amount or 0) + (owl.amount or 0)) == ("FOX", "OWL", 5)
    assert any("several items" in remark for remark in draft.remarks)


def test_goods_that_came_back_of_an_order_with_several_items_are_refused() -> None:
    """A piece cannot be spread: which of them came back has to be said."""
    with pytest.raises(InputErrors, match=r"several items, and nothing says which .*FOX, OWL"):
        ledger(LEDGER_SALE, "2026-04-03,Sale,1,OWL,1,24.00", "2026-04-09,Return,1,,1,-24.00")


def test_a_row_without_a_date_has_that_of_its_order() -> None:
    """Web shops write the date on an order's first row alone."""
    assert [row.date.day for row in read("2026-04-03,1,1,FOX,,,1,20,,,,,", ",1,2,OWL,,,1,20,,,,,").rows] == [
        3,
        3,
    ]


def test_the_status_of_an_order_holds_for_all_its_rows() -> None:
    """A cancelled order's second row, without a status, is no sale."""
    columns = LEDGER.replace('"Type"', '"Status"').replace(
        '"Sale" = "sale"', '"Paid" = "sale"\n"Cancelled" = "set aside"'
    )
    draft = read(
        "2026-04-03,Cancelled,1,FOX,1,22.00",
        ",,1,OWL,1,24.00",
        "2026-04-03,Paid,2,FOX,1,22.00",
        ",,2,OWL,1,24.00",
        columns=columns,
        headings=LEDGER_HEADINGS.replace("Type", "Status"),
    )
    assert ([row.reference for row in draft.rows], len(draft.set_aside)) == (["2", "2"], 2)

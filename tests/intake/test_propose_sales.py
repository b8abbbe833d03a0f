"""Proposing a profile for a sales export: what can be told is told, the rest is asked."""

from __future__ import annotations

import tomllib
from fractions import Fraction

import pytest
from sales_files import export

from ledger.errors import InputErrors
from ledger.intake.propose_sales import SalesProposal, is_sales_export, propose_sales
from ledger.intake.read_csv import read_csv
from ledger.intake.read_sales import read_sales
from ledger.intake.sales_profile import read_sales_profile

HEADINGS = "Order ID;Sale date;Item name;Variation;Item SKU;Quantity;Net sales;Shipping charged;Selling fees;Customer e-mail"
ROW = "7;2026-04-25;Fox tee;Black, M;FOX-BLK-M;2;39,00;4,95;-2,10;a@example.org"


def proposal(*rows: str, headings: str = HEADINGS) -> SalesProposal:
    """Return what is proposed for an export of these rows."""
    return propose_sales(export(*rows, headings=headings), party="Harbour Fair", currency="EUR")


def test_columns_are_told_by_their_headings() -> None:
    """Near headings are enough; what is no part of a sale is not read."""
    told = {each.heading: each.meaning for each in proposal(ROW).columns}
    assert told["Order ID"] == "order"
    assert told["Variation"] == "variant"
    assert told["Selling fees"] == "fees"
    assert told["Customer e-mail"] == ""


def test_a_proposed_profile_reads_the_file() -> None:
    """The decimal comma and the fees' minus are found in the values."""
    row = read_sales(export(ROW, headings=HEADINGS), proposal(ROW).to_profile()).rows[0]
    assert (row.amount, row.fees, row.party) == (39, Fraction("2.1"), "Harbour Fair")


def test_a_proposed_profile_can_be_kept_as_a_file() -> None:
    """The TOML text gives the same profile."""
    made = proposal(ROW)
    assert read_sales_profile(tomllib.loads(made.to_toml()), "proposal") == made.to_profile()


def test_a_date_that_reads_in_two_ways_is_asked() -> None:
    """03/04/2026 is a question, not a guess."""
    assert proposal(ROW.replace("2026-04-25", "03/04/2026")).asks("date order")


def test_what_a_tax_column_means_is_asked() -> None:
    """Nothing in the file tells whether the tax is in the total; until it is said there is no profile."""
    made = proposal(f"{ROW};3,20", headings=f"{HEADINGS};Sales tax")
    assert made.asks("tax")
    with pytest.raises(InputErrors, match="column tax"):
        made.to_profile()


@pytest.mark.parametrize(("total", "habit"), [("40", "to take off"), ("35", "taken off")])
def test_the_discounts_meaning_is_worked_out(total: str, habit: str) -> None:
    """Two at 20 with 5 off: the total tells whether the 5 are in it."""
    headings = "Order;Date;SKU;Qty;Unit price;Discount;Item total"
    made = proposal(f"1;2026-04-03;FOX;2;20;5;{total}", headings=headings)
    assert made.tables["amounts"] == {"discount": habit}


def test_words_of_a_type_column_are_told_or_asked() -> None:
    """'Refund' is a refund; what 'Adjustment' is has to be said."""
    headings = "Type;Order;Date;SKU;Qty;Item total"
    made = proposal("Refund;1;2026-04-03;FOX;1;5", "Adjustment;1;2026-04-03;FOX;1;5", headings=headings)
    assert made.tables["types"] == {"Refund": "refund"}
    assert made.asks("type Adjustment")


def test_a_heading_whose_values_do_not_fit_is_not_believed() -> None:
    """A column headed Date without a date in it is none."""
    assert proposal(ROW.replace("2026-04-25", "soon")).asks("date")


def test_an_address_list_is_no_sales_export() -> None:
    """Without an order, a date and a total nothing is proposed."""
    assert not is_sales_export(export("Anna;Mill Lane 3;Norwell", headings="Name;Street;Town"))


def test_a_net_column_alone_is_asked_about() -> None:
    """Net may be without tax or after fees; without a price nothing tells, so it is not guessed."""
    text = "Order ID,Order date,SKU,Qty,Shipping charged,Fees,Net\n1,2026-03-01,FOX-M,1,5.00,1.28,25.72\n"
    made = propose_sales(read_csv("sales.csv", text.encode()), party="Harbour Fair", currency="USD")
    assert made.asks("item total")

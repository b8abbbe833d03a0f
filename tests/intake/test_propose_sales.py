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
from ledger.intake.sales_answers import read_sales_answers
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


def answered(*rows: str, headings: str, said: tuple[str, ...] = ()) -> SalesProposal:
    """Return what is proposed after some answers."""
    return propose_sales(
        export(*rows, headings=headings),
        party="Harbour Fair",
        currency="EUR",
        answers=read_sales_answers(said),
    )


TYPED = "Type;Order;Date;SKU;Qty;Item total"
EXCHANGE = "Exchange;1;2026-04-03;FOX;1;5"


def test_a_question_of_money_offers_a_column_with_numbers() -> None:
    """The ticket's code is offered as the order, the column of amounts as the item total."""
    headings = "Sold at;Ticket;What;Variation;Units;Gross;Postage in;Cut"
    made = proposal("2026-01-16;T1;Lamp tee;Ecru / M;2;48,00;4,50;3,42", headings=headings)
    offered = {question.subject: question.answers[0] for question in made.questions}
    assert (offered["order"], offered["item total"]) == ("B=order", "F=item total")


def test_an_answer_closes_a_question() -> None:
    """What a type means is said in a line, and stands in the profile."""
    made = answered(EXCHANGE, headings=TYPED, said=('type "Exchange" = set aside',))
    assert (made.questions, made.to_profile().types) == ((), {"exchange": "set aside"})


def test_every_question_is_closed_by_one_of_its_answers() -> None:
    """What is shown as an answer is understood and answers."""
    headings = "Type;Order;Date;SKU;Qty;Price;Postage;Discount;VAT;Refunded"
    rows = (
        "Sale;1;03/04/2026;FOX;1;5;4;1;1;",
        "Sale;1;03/04/2026;OWL;1;5;4;1;1;2",
        "Sale;2;03/04/2026;OWL;1;-5;;;;",
        "Exchange;3;03/04/2026;OWL;1;5;;;;",
    )
    made = answered(*rows, headings=headings)
    said = tuple(question.answers[0] for question in made.questions)
    assert len(said) >= 6
    assert answered(*rows, headings=headings, said=said).questions == ()


def test_a_column_is_what_a_person_says() -> None:
    """It leaves the column that was taken for it, whatever the headings are near to."""
    made = answered(
        "1;2026-04-03;FOX;1;5;2", headings="Order;Date;SKU;Qty;Item total;Kept", said=("F=shipping",)
    )
    assert made.to_profile().columns["shipping"] == ("Kept",)
    assert "fees" not in made.to_profile().columns


def test_a_column_that_is_not_there_is_told() -> None:
    """With those that are."""
    with pytest.raises(InputErrors, match="no headed column Z"):
        answered(EXCHANGE, headings=TYPED, said=("Z=fees",))


def test_types_without_a_column_are_told() -> None:
    """What a type means is of no use where no column is the type."""
    with pytest.raises(InputErrors, match="no column is the type"):
        answered("1;2026-04-03;FOX;1;5", headings="Order;Date;SKU;Qty;Item total", said=("type Sale = sale",))


def test_a_column_of_kinds_of_goods_is_asked_about_once() -> None:
    """'Type' may say what was sold: none of its words is a type of row."""
    made = answered("Mug;1;2026-04-03;FOX;1;5", "Tee;1;2026-04-03;FOX;1;5", headings=TYPED)
    assert [question.answers[0] for question in made.questions] == ["ignore A"]


def test_the_order_of_dates_is_told_by_one_that_reads_only_one_way() -> None:
    """25/04/2026 tells how 03/04/2026 is meant, and it is kept for the next export."""
    made = answered("1;03/04/2026;FOX;1;5", "2;25/04/2026;FOX;1;5", headings="Order;Date;SKU;Qty;Item total")
    assert (made.asks("date order"), made.to_profile().date_order) == (False, "day month year")


def test_dates_that_tell_two_orders_are_asked_about() -> None:
    """One of the two is mistyped."""
    rows = ("1;03/04/2026;FOX;1;5", "2;25/04/2026;FOX;1;5", "3;04/25/2026;FOX;1;5")
    assert answered(*rows, headings="Order;Date;SKU;Qty;Item total").asks("date order")


@pytest.mark.parametrize("said", ["per order shipping", "per row shipping"])
def test_shipping_repeated_on_every_row_is_asked_about(said: str) -> None:
    """Two rows with 4.95 may be 4.95 or 9.90."""
    rows = ("1;2026-04-03;FOX;1;5;4.95", "1;2026-04-03;OWL;1;5;4.95")
    headings = "Order;Date;SKU;Qty;Item total;Shipping"
    assert answered(*rows, headings=headings).asks("per order shipping")
    made = answered(*rows, headings=headings, said=(said,))
    assert (made.questions, bool(made.to_profile().per_order)) == ((), said.startswith("per order"))


def test_a_total_that_is_not_pieces_times_price_is_asked_about() -> None:
    """It may be the order's total with shipping."""
    made = answered("1;2026-04-03;FOX;2;5.00;14.95", headings="Order;Date;SKU;Qty;Price;Amount")
    assert made.asks("item total")


def test_money_below_zero_beside_pieces_is_asked_about() -> None:
    """Nothing in the file tells whether the goods came back."""
    made = answered("1;2026-04-03;FOX;1;-5.00", headings="Order;Date;SKU;Qty;Price")
    assert made.asks("money below zero")


def test_fees_in_rows_of_their_own_are_told_by_their_sign() -> None:
    """A fee without a minus is a plus in the profile; one without an order is no part of a sale."""
    made = answered(
        "Sale;1;2026-04-03;FOX;1;5",
        "Commission;1;2026-04-03;;;0.50",
        "Listing fee;;2026-04-03;;;0.20",
        headings=TYPED,
    )
    told = made.to_profile()
    assert told.fee_rows == "plus"
    assert told.types == {"sale": "sale", "commission": "fees", "listing fee": "set aside"}


def test_a_label_with_a_code_and_without_an_order_is_no_goods() -> None:
    """Goods always have an order."""
    made = answered(
        "1;2026-04-03;FOX;Fox tee;1;5",
        ";2026-04-03;LBL-1;Shipping labels;1;4.10",
        headings="Order;Date;SKU;Title;Qty;Item total",
    )
    assert made.to_profile().set_aside_words == ("shipping label",)


def test_open_questions_stand_in_the_kept_file() -> None:
    """As comments, with the way a profile says it."""
    text = answered(EXCHANGE, "Sale;1;2026-04-03;FOX;1;5", headings=TYPED).to_toml()
    assert "# To be answered: What are rows of the type 'Exchange'" in text
    assert '"Exchange" = "…" under [types].' in text

"""What a row of a sales export comes to: tax, discounts, prices of one piece, fees, shipping, amounts below zero."""

from __future__ import annotations

from fractions import Fraction

import pytest
from sales_files import COLUMNS, PRICED, PRICED_HEADINGS, problems_of, read, short


def test_tax_and_discount_are_taken_off() -> None:
    """A total with tax inside, and a discount not yet taken off, come to the total without both."""
    columns = COLUMNS.replace('line = "Line"', 'tax = "Tax"\ndiscount = "Off"')
    row = read(
        "2026-04-03,1001,43.20,3.20,5.00,1,FOX",
        more='[amounts]\ntax = "inside"\ndiscount = "to take off"',
        columns=columns,
        headings="Date,Order,Item total,Tax,Off,Pieces,SKU",
    ).rows[0]
    assert row.amount == Fraction(35)


def test_a_unit_price_times_pieces_is_rounded_to_whole_cents() -> None:
    """Three pieces at 0.335 come to 1.01."""
    columns = COLUMNS.replace('item_total = "Item total"', 'unit_price = "Each"')
    row = read("2026-04-03,1,FOX,3,0.335", columns=columns, headings="Date,Order,SKU,Pieces,Each").rows[0]
    assert row.amount == Fraction("1.01")


def test_a_unit_price_that_does_not_give_the_total_is_refused() -> None:
    """Where both stand, they must agree, give or take the discount."""
    columns = COLUMNS.replace('line = "Line"', 'unit_price = "Each"')
    told = problems_of(
        "2026-04-03,1,FOX,3,10,20", columns=columns, headings="Date,Order,SKU,Pieces,Each,Item total"
    )
    assert told[0].startswith("row 2, column Item total: the item total 20 is not 3 x 10")


def test_a_decimal_comma_is_read() -> None:
    """1.234,50 is a thousand two hundred and thirty-four and a half where the profile says so."""
    row = read('2026-04-03,1,1,FOX,,,9,"1.234,50",,,,,', more="[numbers]\ndecimal_comma = true").rows[0]
    assert row.amount == Fraction("1234.50")


def test_fees_with_a_minus_are_read_where_the_profile_says_so() -> None:
    """What the file writes as -2.31 is a fee of 2.31."""
    row = read("2026-04-03,1,1,FOX,,,1,20,,-2.31,,,", more='[amounts]\nminus = ["fees"]').rows[0]
    assert row.fees == Fraction("2.31")


def test_fees_with_a_minus_are_refused_with_the_way_out() -> None:
    """A minus nobody announced is refused, and the line of the profile is named."""
    told = problems_of("2026-04-03,1,1,FOX,,,1,20,,-2.31,,,")
    assert told[0] == (
        "row 2, column Fees: -2.31 is below zero on a sale. Where the file writes them so, "
        'say --as "minus fees", or minus = ["fees"] under [amounts] in the profile.'
    )


def test_shipping_repeated_on_each_row_counts_once_an_order() -> None:
    """Both rows of the order say 5.00: the customer paid it once."""
    rows = ["2026-04-03,1,1,FOX,,,1,20,5.00,,,,", "2026-04-03,1,2,FOX,,,1,20,5.00,,,,"]
    draft = read(*rows, more='[amounts]\nper_order = ["shipping"]')
    assert [row.shipping for row in draft.rows] == [5, None]


def test_shipping_that_is_not_repeated_is_refused_where_it_should_be() -> None:
    """A second row with other shipping contradicts per_order."""
    rows = ["2026-04-03,1,1,FOX,,,1,20,5.00,,,,", "2026-04-03,1,2,FOX,,,1,20,6.00,,,,"]
    told = problems_of(*rows, more='[amounts]\nper_order = ["shipping"]')
    assert told[0].startswith("row 3, column Shipping: 6.00 stands here, and 5 on the first row of order 1.")


def test_shipping_paid_back_with_the_goods_is_split_off_where_the_profile_says_so() -> None:
    """24.95 paid back of items for 20.00 and shipping of 4.95."""
    rows = read(
        "2026-04-03,1,1,FOX,,,1,20,4.95,,24.95,2026-04-05,1", more='[refunds]\nabove_item_total = "shipping"'
    ).rows
    assert short(rows[1]) == ("take_back", 5, 1.0, 20.0, 4.95, None)


def test_a_currency_without_decimals_takes_none() -> None:
    """Half a yen is refused."""
    columns = COLUMNS.replace('party = "Harbour Fair"', 'party = "Harbour Fair"\ncurrency = "JPY"')
    assert "more than 0 decimals" in problems_of("2026-04-03,1,1,FOX,,,1,20.5,,,,,", columns=columns)[0]


def test_a_price_below_zero_without_pieces_is_money_paid_back() -> None:
    """Nothing left the shelf or came back."""
    draft = read("2026-04-09,1,FOX,,-5.00,", columns=PRICED, headings=PRICED_HEADINGS)
    assert short(draft.rows[0]) == ("refund", 9, None, 5.0, None, None)


@pytest.mark.parametrize(("meaning", "event"), [("refund", "refund"), ("take back", "take_back")])
def test_a_price_below_zero_beside_pieces_is_what_the_profile_says(meaning: str, event: str) -> None:
    """Money only, or goods that came back."""
    rows = read(
        "2026-04-09,1,FOX,1,-22.00,",
        more=f'[refunds]\nbelow_zero = "{meaning}"',
        columns=PRICED,
        headings=PRICED_HEADINGS,
    ).rows
    assert [(row.event, row.amount) for row in rows] == [(event, 22)]


def test_a_price_below_zero_beside_pieces_is_refused_where_nobody_says_what_it_is() -> None:
    """With the line of the profile that says it."""
    told = problems_of("2026-04-09,1,FOX,1,-22.00,", columns=PRICED, headings=PRICED_HEADINGS)
    assert told[0].startswith("row 2, column Price: the unit price -22 is below zero beside 1 piece")
    assert 'below_zero = "refund"' in told[0]


def test_fees_given_back_with_goods_are_kept_with_the_return() -> None:
    """They have the other sign than those of a sale."""
    rows = read(
        "2026-04-03,1,FOX,1,22.00,-1.43",
        "2026-04-09,1,FOX,-1,-22.00,1.43",
        more='[amounts]\nminus = ["fees"]',
        columns=PRICED,
        headings=PRICED_HEADINGS,
    ).rows
    assert [(row.event, row.fees) for row in rows] == [
        ("sell", Fraction("1.43")),
        ("take_back", Fraction("1.43")),
    ]

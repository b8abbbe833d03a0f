"""Reading sales exports: every row right, or refused with its cell."""

from __future__ import annotations

import datetime
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some
from openpyxl import Workbook
from sales_files import COLUMNS, HEADINGS, export, profile

from ledger.errors import InputErrors
from ledger.intake.events import EventRow
from ledger.intake.read_file import read_file
from ledger.intake.read_sales import SalesOptions, read_sales
from ledger.intake.sales import SalesDraft, totals_by_design


def read(*rows: str, more: str = "", headings: str = HEADINGS, columns: str = COLUMNS) -> SalesDraft:
    """Return what rows of an export hold by the tests' profile with more lines."""
    return read_sales(export(*rows, headings=headings), profile(more, columns))


def problems_of(*rows: str, more: str = "", headings: str = HEADINGS, columns: str = COLUMNS) -> list[str]:
    """Return every problem of an export's rows."""
    with pytest.raises(InputErrors) as raised:
        read(*rows, more=more, headings=headings, columns=columns)
    return [str(problem) for problem in raised.value.problems]


def short(row: EventRow) -> tuple[object, ...]:
    """Return what happened in a row: event, day of the month, pieces, amount, shipping, fees."""
    figures = (row.quantity, row.amount, row.shipping, row.fees)
    return (row.event, row.date.day, *(None if one is None else float(one) for one in figures))


def test_a_sale_is_read() -> None:
    """The order is the reference, the channel the party, the title the note; amounts are exact."""
    draft = read('2026-04-03,1001,1,FOX-BLK-M,Fox tee,"Black, M",2,39.00,4.95,2.31,,,')
    row = draft.rows[0]
    assert (row.event, row.date, row.sku, row.quantity) == ("sell", datetime.date(2026, 4, 3), "FOX-BLK-M", 2)
    assert (row.amount, row.shipping, row.fees) == (Fraction(39), Fraction("4.95"), Fraction("2.31"))
    assert (row.reference, row.party, row.note) == ("1001", "Harbour Fair", "Fox tee | Black, M")


def test_money_paid_back_beside_a_sale_is_a_refund() -> None:
    """Nothing came back: the refund is money only, on its own day."""
    rows = read("2026-04-03,1001,1,FOX,,,2,39.00,,,10.00,2026-04-20,0").rows
    assert [short(row) for row in rows] == [
        ("sell", 3, 2.0, 39.0, None, None),
        ("refund", 20, None, 10.0, None, None),
    ]


@pytest.mark.parametrize(("returned", "pieces"), [("1", 1.0), ("yes", 2.0)])
def test_goods_that_came_back_are_taken_back(returned: str, pieces: float) -> None:
    """Returned pieces make the refund a return; a yes means all of the row's."""
    rows = read(f"2026-04-03,1001,1,FOX,,,2,39.00,,,19.50,2026-04-20,{returned}").rows
    assert short(rows[1]) == ("take_back", 20, pieces, 19.5, None, None)


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


def test_two_rows_of_one_item_without_line_numbers_are_two() -> None:
    """Without line numbers the rows of an order are told apart by SKU and how many came before."""
    rows = read("2026-04-03,1,,FOX,,,1,20,,,,,", "2026-04-03,1,,FOX,,,1,20,,,,,").rows
    assert len({row.source.key for row in rows if row.source}) == 2


def test_the_same_line_twice_in_a_file_is_taken_once() -> None:
    """A file pasted together of two exports repeats a row: it is said."""
    draft = read("2026-04-03,1,1,FOX,,,1,20,,,,,", "2026-04-03,1,1,FOX,,,1,20,,,,,")
    assert (len(draft.rows), draft.rows_skipped) == (1, 1)
    assert "the same row twice in the file, taken once: row 3" in draft.remarks


def test_one_line_with_two_contents_is_refused() -> None:
    """Nobody knows which of the two rows is right."""
    told = problems_of("2026-04-03,1,1,FOX,,,1,20,,,,,", "2026-04-03,1,1,FOX,,,2,40,,,,,")
    assert told[0].startswith("row 3: order 1, line 1 stands here again with other content than in row 2.")


TYPED = COLUMNS.replace('line = "Line"', 'type = "Type"') + (
    '[types]\n"Order" = "sale"\n"Refund" = "refund"\n"Return" = "take back"\n"Label" = "set aside"\n'
)
TYPED_HEADINGS = "Date,Type,Order,SKU,Pieces,Item total"


def test_rows_are_what_their_type_says() -> None:
    """Sales, refunds and returns in rows of their own, whatever their sign; a label is set aside."""
    draft = read(
        "2026-04-03,Order,1,FOX,2,40",
        "2026-04-09,Refund,1,FOX,,-5",
        "2026-04-10,return,1,FOX,1,20",
        "2026-04-11,Label,1,,,-4.10",
        columns=TYPED,
        headings=TYPED_HEADINGS,
    )
    assert [short(row)[:4] for row in draft.rows] == [
        ("sell", 3, 2.0, 40.0),
        ("refund", 9, None, 5.0),
        ("take_back", 10, 1.0, 20.0),
    ]
    assert [(row.where, row.rule) for row in draft.set_aside] == [("row 5", "Label")]


def test_a_type_nobody_explained_is_asked_once() -> None:
    """The same unknown word on two rows is one question with both places."""
    rows = ["2026-04-03,Gift,1,FOX,2,40", "2026-04-03,Gift,2,FOX,2,40"]
    told = problems_of(*rows, columns=TYPED, headings=TYPED_HEADINGS)
    assert len(told) == 1
    assert told[0].startswith("row 2, column Type: the profile does not say what the type 'Gift' means.")
    assert told[0].endswith("Also: row 3, column Type.")


def test_minus_pieces_without_a_type_are_goods_that_came_back() -> None:
    """A row of -1 pieces and -20.00 is a return."""
    row = read("2026-04-09,1,1,FOX,,,-1,-20,,,,,").rows[0]
    assert short(row) == ("take_back", 9, 1.0, 20.0, None, None)


ASIDE = '[set_aside]\nwords = ["shipping label"]\npatterns = ["listing fee *"]\n'


@pytest.mark.parametrize("title", ["Shipping  Label 123", "LISTING FEE April"])
def test_rows_that_are_no_goods_are_set_aside(title: str) -> None:
    """A word or a pattern of the profile fits the title: the row is listed and nothing else."""
    draft = read(f"2026-04-03,,,,{title},,,4.10,,,,,", "2026-04-03,1,1,FOX,,,1,20,,,,,", more=ASIDE)
    assert [row.where for row in draft.set_aside] == ["row 2"]
    assert len(draft.rows) == 1


def test_a_word_inside_another_sets_nothing_aside() -> None:
    """'tip' is not in 'Tiptoe tee'."""
    draft = read("2026-04-03,1,1,FOX,Tiptoe tee,,1,20,,,,,", more='[set_aside]\nwords = ["tip"]')
    assert not draft.set_aside


def test_totals_and_repeated_headings_are_skipped_and_said() -> None:
    """A subtotal, a heading in between and sums without a label are no sales."""
    draft = read(
        "2026-04-03,1,1,FOX,,,1,20,,,,,",
        "Subtotal,,,,,,1,20,,,,,",
        HEADINGS,
        "2026-04-04,2,1,FOX,,,1,20,,,,,",
        ",,,,,,2,40,,,,,",
    )
    assert draft.rows_read == 2
    assert "2 rows of totals skipped: row 3, row 6" in draft.remarks
    assert "1 repeated heading rows skipped" in draft.remarks


def test_what_was_sold_for_nothing_is_said() -> None:
    """A gift goes out at 0: it is read, and the row is named."""
    draft = read("2026-04-03,1,1,FOX,,,1,0.00,,,,,")
    assert draft.rows[0].amount == 0
    assert "sold for nothing: row 2" in draft.remarks


def test_a_date_that_reads_in_two_ways_is_refused_once_for_the_file() -> None:
    """03/04/2026 is not guessed; a date of the file that fits one order is shown as a hint."""
    rows = [
        f"{day},{order},1,FOX,,,1,20,,,,,"
        for order, day in enumerate(("03/04/2026", "05/06/2026", "25/04/2026"))
    ]
    told = problems_of(*rows)
    assert len(told) == 1
    assert told[0] == (
        "row 2, column Date: '03/04/2026' can be read in two ways, and 1 more like it: the profile does not "
        'say the order. Write date_order = "day month year" or "month day year" under [numbers] in the '
        "profile. Its 25/04/2026 fits day month year."
    )


@pytest.mark.parametrize(("order", "month"), [("day month year", 4), ("month day year", 3)])
def test_a_date_is_read_in_the_order_the_profile_says(order: str, month: int) -> None:
    """Said, the order holds for the whole file."""
    row = read("03/04/2026,1,1,FOX,,,1,20,,,,,", more=f'[numbers]\ndate_order = "{order}"').rows[0]
    assert row.date.month == month


@pytest.mark.parametrize("day", ["2026-04-25", "25/04/2026", "04/25/2026", "25 Apr 2026", "4/4/2026"])
def test_a_date_that_reads_in_one_way_needs_no_order(day: str) -> None:
    """What can only be one day is read."""
    assert read(f"{day},1,1,FOX,,,1,20,,,,,").rows[0].date.month == 4


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("2026-04-03,,1,FOX,,,1,20,,,,,", "row 2, column Order: the order is missing."),
        (",1,1,FOX,,,1,20,,,,,", "row 2, column Date: the date is missing."),
        ("2026-04-03,1,1,FOX,,,,20,,,,,", "row 2, column Pieces: the pieces are missing."),
        ("2026-04-03,1,1,FOX,,,1.5,20,,,,,", "row 2, column Pieces: 1.5 is not a whole number of pieces."),
        ("2026-04-03,1,1,FOX,,,2000000,20,,,,,", "row 2, column Pieces: 2000000 is above 1,000,000."),
        ("2026-04-03,1,1,FOX,,,1,,,,,,", "row 2, column Item total: the item total is missing."),
        ("2026-04-03,1,1,FOX,,,1,20.005,,,,,", "row 2, column Item total: 20.005 has more than 2 decimals"),
        ("2026-04-03,1,1,FOX,,,1,#N/A,,,,,", "row 2, column Item total: the error #N/A stands there"),
        (
            '2026-04-03,1,1,FOX,,,1,"20,00",,,,,',
            "row 2, column Item total: '20,00' cannot be read for certain",
        ),
        (
            "2026-04-03,1,1,FOX,,,2,-20,,,,,",
            "row 2, column Item total: the item total -20 is below zero beside",
        ),
        ("2026-04-03,1,1,FOX,,,1,20,,,5,,", "row 2, column Refunded on: nothing says when the money"),
        (
            "2026-04-03,1,1,FOX,,,1,20,,,5,2026-04-01,",
            "row 2, column Refunded on: it was paid back on 2026-04-01",
        ),
        (
            "2026-04-03,1,1,FOX,,,1,20,,,25,2026-04-05,",
            "row 2, column Refunded: 25 was paid back of an item total",
        ),
        (
            "2026-04-03,1,1,FOX,,,1,20,,,20,2026-04-05,2",
            "row 2, column Returned: 2 pieces came back of 1 sold.",
        ),
        ("2026-04-03,1,1,FOX,,,1,20,,,20,2026-04-05,some", "row 2, column Returned: 'some' cannot be read"),
        (f"2026-04-03,{'9' * 201},1,FOX,,,1,20,,,,,", "has more than 200 characters."),
        ("2026-04-03,1,1,,Owl tee,,1,20,,,,,", "row 2, column Title: 'Owl tee' has no SKU."),
        ("2026-04-03,1,1,,,,1,20,,,,,", "row 2, column SKU: nothing says what was sold"),
    ],
)
def test_a_cell_that_cannot_be_is_refused_with_its_place(row: str, told: str) -> None:
    """Each problem names the row and the column, the value, and what to do."""
    problems = problems_of(row)
    assert len(problems) == 1
    assert told in problems[0]


def test_shipping_paid_back_with_the_goods_is_split_off_where_the_profile_says_so() -> None:
    """24.95 paid back of items for 20.00 and shipping of 4.95."""
    rows = read(
        "2026-04-03,1,1,FOX,,,1,20,4.95,,24.95,2026-04-05,1", more='[refunds]\nabove_item_total = "shipping"'
    ).rows
    assert short(rows[1]) == ("take_back", 5, 1.0, 20.0, 4.95, None)


def test_all_problems_of_a_file_come_at_once() -> None:
    """Three rows, three problems; the same unknown title twice is one of them."""
    rows = [
        "2026-04-03,1,1,,Owl tee,,1,20,,,,,",
        "2026-04-03,2,1,,Owl tee,,1,20,,,,,",
        "2026-04-33,3,1,FOX,,,1,20,,,,,",
        "2026-04-03,4,1,FOX,,,one,20,,,,,",
    ]
    assert len(problems_of(*rows)) == 3


def test_a_file_without_a_column_that_is_needed_is_refused() -> None:
    """The profile's order column is not in the file: what was found is told."""
    assert (
        "the column order is missing"
        in problems_of("2026-04-03,FOX,20,1", headings="Date,SKU,Item total,Pieces")[0]
    )


def test_a_channel_must_be_named() -> None:
    """Without a party nobody knows whose order 1001 it is."""
    unnamed = profile("", COLUMNS.replace('party = "Harbour Fair"', ""))
    with pytest.raises(InputErrors, match="--party"):
        read_sales(export("2026-04-03,1,1,FOX,,,1,20,,,,,"), unnamed)


def test_the_channel_that_is_named_comes_before_the_profiles() -> None:
    """--party outranks the profile, and is part of what tells a row."""
    draft = read_sales(export("2026-04-03,1,1,FOX,,,1,20,,,,,"), profile(), SalesOptions(party="Own shop"))
    row = draft.rows[0]
    assert row.source is not None
    assert (row.party, "own shop" in row.source.key) == ("Own shop", True)


def test_a_currency_without_decimals_takes_none() -> None:
    """Half a yen is refused."""
    columns = COLUMNS.replace('party = "Harbour Fair"', 'party = "Harbour Fair"\ncurrency = "JPY"')
    assert "more than 0 decimals" in problems_of("2026-04-03,1,1,FOX,,,1,20.5,,,,,", columns=columns)[0]


def test_a_workbook_is_read_and_its_cells_are_named(tmp_path: Path) -> None:
    """Of a workbook the sheet with the headings is read; a problem names sheet and cell."""
    book = Workbook()
    book.active.title = "About"  # type: ignore[union-attr]
    sheet = book.create_sheet("Sales")
    sheet.append(HEADINGS.split(","))
    sheet.append([datetime.date(2026, 4, 3), 1001, 1, "FOX", None, None, 1, 19.5])
    sheet.append([datetime.date(2026, 4, 3), 1002, 1, "FOX", None, None, "one", 19.5])
    path = tmp_path / "sales.xlsx"
    book.save(path)
    with pytest.raises(InputErrors) as raised:
        read_sales(read_file(path), profile())
    assert [problem.where for problem in raised.value.problems] == ["sheet Sales, cell G3"]


@given(
    some.lists(
        some.tuples(
            some.sampled_from(["Fox tee", "Owl tee"]),
            some.integers(1, 9),
            some.integers(0, 10**6),
            some.integers(0, 999),
        ),
        min_size=1,
        max_size=20,
    )
)
def test_totals_by_design_foot(sales: list[tuple[str, int, int, int]]) -> None:
    """Whatever is sold, the designs' pieces and cents add up to those of the file."""
    rows = [
        f"2026-04-03,{order},1,FOX,{title},,{pieces},{cents / 100:.2f},{shipping / 100:.2f},,,,"
        for order, (title, pieces, cents, shipping) in enumerate(sales)
    ]
    totals = totals_by_design(read(*rows).rows, "USD")
    assert sum(one.pieces for one in totals) == sum(sale[1] for sale in sales)
    assert sum(one.item_total + one.shipping for one in totals) * 100 == sum(
        sale[2] + sale[3] for sale in sales
    )


PRICED = (
    'kind = "sales"\nparty = "Harbour Fair"\n[columns]\ndate = "Date"\norder = "Order"\nsku = "SKU"\n'
    'pieces = "Pieces"\nunit_price = "Price"\nfees = "Fees"\n'
)
PRICED_HEADINGS = "Date,Order,SKU,Pieces,Price,Fees"


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


def test_a_return_needs_a_date_of_its_own() -> None:
    """It did not happen on the day of the sale because nothing is written."""
    told = problems_of(
        "2026-04-03,1,FOX,1,22.00,", ",1,FOX,-1,-22.00,", columns=PRICED, headings=PRICED_HEADINGS
    )
    assert told == ["row 3, column Date: the date is missing. Fill it in."]


def test_rows_set_aside_need_no_order_and_no_date() -> None:
    """A rule comes before what a sale needs; a rule for a label also means several."""
    draft = read(",,,PLAN-1,Shipping labels,,1,4.10,,,,,", more='[set_aside]\nwords = ["shipping label"]')
    assert [each.rule for each in draft.set_aside] == ["shipping label"]


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


def test_a_column_is_told_by_its_own_heading_alone() -> None:
    """A column headed 'Shipping' that is not read does not clash with 'Postage', which is the shipping."""
    columns = PRICED + 'shipping = "Postage"\n'
    draft = read(
        "2026-04-03,1,FOX,1,22.00,,4.95,fast", columns=columns, headings=f"{PRICED_HEADINGS},Postage,Shipping"
    )
    assert draft.rows[0].shipping == Fraction("4.95")

"""A whole sales export: its sheet, columns, channel and dates, its rows once each, every problem at once."""

from __future__ import annotations

import datetime
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some
from openpyxl import Workbook
from sales_files import COLUMNS, HEADINGS, PRICED, PRICED_HEADINGS, export, problems_of, profile, read

from ledger.errors import InputErrors
from ledger.intake.read_file import read_file
from ledger.intake.read_sales import SalesOptions, read_sales
from ledger.intake.sales import totals_by_design


def test_a_sale_is_read() -> None:
    """The order is the reference, the channel the party, the title the note; amounts are exact."""
    draft = read('2026-04-03,1001,1,FOX-BLK-M,Fox tee,"Black, M",2,39.00,4.95,2.31,,,')
    row = draft.rows[0]
    assert (row.event, row.date, row.sku, row.quantity) == ("sell", datetime.date(2026, 4, 3), "FOX-BLK-M", 2)
    assert (row.amount, row.shipping, row.fees) == (Fraction(39), Fraction("4.95"), Fraction("2.31"))
    assert (row.reference, row.party, row.note) == ("1001", "Harbour Fair", "Fox tee | Black, M")


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


def test_a_column_is_told_by_its_own_heading_alone() -> None:
    """A column headed 'Shipping' that is not read does not clash with 'Postage', which is the shipping."""
    columns = PRICED + 'shipping = "Postage"\n'
    draft = read(
        "2026-04-03,1,FOX,1,22.00,,4.95,fast", columns=columns, headings=f"{PRICED_HEADINGS},Postage,Shipping"
    )
    assert draft.rows[0].shipping == Fraction("4.95")

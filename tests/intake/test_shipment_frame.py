"""What stands around the lines of an invoice: its sheet, headings, head, currency, and the totals of its foot."""

from __future__ import annotations

import datetime
from pathlib import Path

from shipment_files import HEADINGS, PLAIN, TEE, made_file, made_profile, problems_of, read

from ledger.intake.profile import Profile
from ledger.intake.read_shipment import read_shipment


def test_the_head_gives_reference_and_date(plain: Profile) -> None:
    """A label's right neighbour is its value, or stands behind its colon."""
    file = made_file(["Invoice no.:", None, "A-17"], ["Date: 02/03/2026"], HEADINGS, TEE)
    draft = read(file, plain)
    assert (draft.reference, draft.invoice_date) == ("A-17", datetime.date(2026, 2, 3))


def test_an_empty_field_of_the_head_does_not_take_the_next_label(plain: Profile) -> None:
    """A blank reference stays blank where another label follows in its row."""
    file = made_file(["Invoice no.", None, "Date", datetime.date(2026, 2, 3)], HEADINGS, TEE)
    draft = read(file, plain)
    assert (draft.reference, draft.invoice_date) == ("", datetime.date(2026, 2, 3))


def test_the_head_may_be_a_cell(tmp_path: Path) -> None:
    """A field of the head can be named by its cell."""
    profile = made_profile(tmp_path, PLAIN.replace('"Invoice no."', '"cell C1"'))
    assert read(made_file(["Bill", None, "B-9"], HEADINGS, TEE), profile).reference == "B-9"


def test_what_the_caller_says_comes_first(plain: Profile) -> None:
    """Options outrank the file's head and the profile."""
    file = made_file(["Invoice no.", "A-17"], HEADINGS, TEE)
    draft = read_shipment(file, plain, party="Fernbank", reference="X", currency="CNY")
    assert (draft.party, draft.reference, draft.currency) == ("Fernbank", "X", "CNY")


def test_the_foot_gives_discount_and_charges(plain: Profile) -> None:
    """Labelled rows under the table are checked, or become a discount and charges."""
    file = made_file(
        HEADINGS,
        TEE,
        ["Subtotal", None, None, None, None, None, "410.40"],
        ["Discount", None, None, None, None, None, -10],
        [None, None, None, None, None, "Freight:", 25],
        ["Total", None, None, None, None, None, "$425.40"],
        ["Thank you for your order"],
    )
    draft = read(file, plain)
    assert (draft.invoice_discount, [str(charge) for charge in draft.charges], len(draft.lines)) == (
        10,
        ["freight 25 USD by weight"],
        1,
    )


def test_a_subtotal_between_lines_counts_what_stands_above_it(plain: Profile) -> None:
    """Subtotals of groups are checked against their own group."""
    subtotal = ["Subtotal", None, None, None, None, None, "410.40"]
    file = made_file(HEADINGS, TEE, subtotal, TEE, subtotal, ["Total", "820.80"])
    assert problems_of(file, plain) == []


def test_blank_rows_and_repeated_headings_are_skipped(plain: Profile) -> None:
    """A long list repeats its headings on every page."""
    assert len(read(made_file(HEADINGS, TEE, [None], HEADINGS, TEE), plain).lines) == 2


def test_a_heading_between_lines_is_said_and_skipped(plain: Profile) -> None:
    """A word alone in a row is a heading, and the maker is told."""
    draft = read(made_file(HEADINGS, ["Sweatshirts"], TEE), plain)
    assert (
        draft.remarks[-1] == "sheet Invoice, row 2: 'Sweatshirts' has no quantity and was taken for a heading"
    )


def test_a_second_line_of_headings_is_no_foot(plain: Profile) -> None:
    """A word of the foot under the headings, without any number in its row, is passed over."""
    second = ["code", None, None, "(case)", None, "per piece", "Total"]
    assert len(read(made_file(HEADINGS, second, TEE), plain).lines) == 1


def test_missing_columns_are_told_together_with_the_head(plain: Profile) -> None:
    """A missing column names what was found and what comes near, beside a wrong date."""
    found = problems_of(made_file(["Date", "soon"], ["Style", "Color", "Size", "Quant", "Unit"]), plain)
    assert len(found) == 3
    assert any("the column Qty is missing. Found: Style, Color, Size, Quant, Unit" in each for each in found)
    assert any("the column Colour is missing" in each and "Nearest: Color" in each for each in found)


def test_a_file_without_a_price_column_is_refused(plain: Profile) -> None:
    """Without any price column every line would be provisional without a word."""
    (problem,) = problems_of(made_file(["Style", "Colour", "Size", "Qty"], ["T10", "Black", "M", 1]), plain)
    assert "no column holds the price" in problem


def test_a_foot_that_does_not_add_up_is_refused(plain: Profile) -> None:
    """The file's own totals are checked to the cent."""
    file = made_file(HEADINGS, TEE, ["Subtotal", 410], ["Freight", 5], ["Total", "415.41"])
    assert [problem.split(" Look")[0] for problem in problems_of(file, plain)] == [
        "sheet Invoice, cell B3: 410 stands there, and the lines above add up to 410.40.",
        "sheet Invoice, cell B5: 415.41 stands there, and lines less discount plus charges come to 415.40.",
    ]


def test_a_total_not_named_in_the_profile_is_never_an_item(tmp_path: Path) -> None:
    """A row called total would otherwise become an item of that name."""
    text = 'currency = "USD"\n[columns]\ncode = "Item"\nquantity = "Qty"\n'
    (problem,) = problems_of(
        made_file(["Item", "Qty"], ["A1", 5], ["TOTAL", 5]), made_profile(tmp_path, text)
    )
    assert "'TOTAL' looks like a total" in problem


def test_a_sheet_that_is_not_there_names_those_that_are(tmp_path: Path) -> None:
    """The profile's sheet is looked for by name."""
    profile = made_profile(tmp_path, PLAIN + '[file]\nsheet = "Invoce"\n')
    assert problems_of(made_file(HEADINGS, TEE), profile) == [
        "there is no visible sheet 'Invoce', which the profile made reads. Did you mean 'Invoice'?"
    ]


def test_a_file_without_a_currency_takes_the_book_s(tmp_path: Path) -> None:
    """The book's currency serves where neither the file nor the profile names one."""
    profile = made_profile(tmp_path, PLAIN.replace('currency = "USD"', ""))
    assert read(made_file(HEADINGS, TEE), profile, default_currency="EUR").currency == "EUR"


def test_a_file_without_any_currency_is_refused(tmp_path: Path) -> None:
    """No currency is guessed."""
    profile = made_profile(tmp_path, PLAIN.replace('currency = "USD"', ""))
    assert problems_of(made_file(HEADINGS, TEE), profile) == [
        "no currency is given. Give it with --currency, or in the profile."
    ]


def test_a_cost_column_that_is_absent_is_said(plain: Profile) -> None:
    """A profile's discount or duty column that the file lacks is named in a remark."""
    remarks = read(made_file(HEADINGS, TEE), plain).remarks
    assert remarks == ("no column Disc %, Short, Damaged, Duty, Duty rate: taken as none",)

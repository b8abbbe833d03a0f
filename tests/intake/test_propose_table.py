"""Where the lines of an unknown layout stand: its sheet, its headings, its sizes, what separates its columns."""

from __future__ import annotations

import datetime
from fractions import Fraction

import pytest
from proposed_files import GARMENTS, PER_SIZE, USD, Row, meanings, of_text, proposed, read
from shipment_files import made_file

from ledger.errors import InputErrors
from ledger.intake.propose import propose_profile, sample_draft
from ledger.intake.table import SourceFile

ACROSS: list[Row] = [
    ["Style", "Colour", "S", "M", "L", "Total pcs", "Price", "Amount"],
    ["T10", "Black", 4, 6, 2, 12, 3, 36],
    ["T10", "Sand", None, 8, 4, 12, 3.5, 42],
]


def test_one_row_per_size_is_read_by_its_headings() -> None:
    """Style, colour, size, quantity, price and amount are what they are headed."""
    proposal = proposed(*PER_SIZE)
    assert list(meanings(proposal).values()) == [
        "style",
        "colour",
        "size",
        "quantity",
        "unit_price",
        "line_total",
    ]


def test_a_proposed_profile_reads_the_file_it_was_proposed_for() -> None:
    """The lines of the draft are those of the rows."""
    draft = read(made_file(*PER_SIZE), proposed(*PER_SIZE).profile)
    assert [(line.sku, line.quantity, line.net) for line in draft.lines] == [
        ("T10-BLACK-M", 12, Fraction("37.2")),
        ("T10-BLACK-L", 24, Fraction("74.4")),
        ("T10-SAND-M", 6, Fraction("19.5")),
    ]


def test_sizes_across_are_found_with_the_pieces_beside_them() -> None:
    """Columns headed with sizes are sizes; their sum is the pieces."""
    proposal = proposed(*ACROSS)
    assert (proposal.profile.sizes_across, meanings(proposal)["F"]) == (("S", "M", "L"), "pieces")


def test_sizes_across_are_read() -> None:
    """An empty size is none."""
    draft = read(made_file(*ACROSS), proposed(*ACROSS).profile)
    assert [line.sku for line in draft.lines][-2:] == ["T10-SAND-M", "T10-SAND-L"]


def test_headings_over_two_rows_are_joined() -> None:
    """'Unit' over 'price' is the unit price, and the file is read so."""
    rows: list[Row] = [
        ["Style", "", "", "Pieces", "Unit", "Line"],
        ["number", "Colour", "Size", "shipped", "price", "total"],
        ["T10", "Black", "M", 12, 3.10, 37.20],
        ["T10", "Black", "L", 24, 3.10, 74.40],
    ]
    proposal = proposed(*rows)
    draft = read(made_file(*rows), proposal.profile)
    assert (proposal.profile.heading_rows, [line.net for line in draft.lines]) == (
        2,
        [Fraction("37.2"), Fraction("74.4")],
    )


def test_a_title_over_the_sizes_does_not_hide_them() -> None:
    """Where 'Sizes' stands above S, M and L, the sizes are the headings."""
    rows: list[Row] = [
        ["Style", "", "Sizes", "", "", "Unit"],
        ["number", "Colour", "S", "M", "L", "price"],
        ["T10", "Black", 4, 6, 2, 3],
        ["T10", "Sand", 1, 8, 4, 3.5],
    ]
    proposal = proposed(*rows)
    assert len(read(made_file(*rows), proposal.profile).lines) == 6


def test_german_headings_with_decimal_comma_and_semicolons() -> None:
    """A comma before two digits is a decimal comma; the words are dictionary words."""
    text = (
        "Artikel;Bezeichnung;Farbe;Größe;Menge;Einzelpreis;Betrag\n"
        "T10;Hemd;Schwarz;M;12;3,10;37,20\nT10;Hemd;Schwarz;L;400;3,10;1.240,00\n"
        ";;;;;Zwischensumme;1.277,20\n;;;;;Versand;15,00\n;;;;;Gesamtbetrag;1.292,20\n"
    )
    file, proposal = of_text(text)
    draft = read(file, proposal.profile)
    assert (proposal.profile.decimal_comma, draft.lines_total, draft.charges[0].amount) == (
        True,
        Fraction("1277.2"),
        15,
    )


def test_columns_apart_by_tabs() -> None:
    """A text with tabs is a table like any other."""
    file, proposal = of_text(
        "Item\tDescription\tQty\tPrice\n101\tOwl film\t3\t4.50\n102\tFox film\t2\t5.00\n"
    )
    assert [line.sku for line in read(file, proposal.profile).lines] == ["101", "102"]


def test_letterhead_rows_stand_above_the_table() -> None:
    """Number, date and currency are found beside their labels."""
    rows: list[Row] = [
        ["Pebble & Thorn Garments"],
        ["14 Kiln Row"],
        ["Invoice no.", "PT-881", None, "Invoice date", datetime.date(2026, 3, 14)],
        ["Currency:", "EUR"],
        *PER_SIZE,
    ]
    draft = read(made_file(*rows), proposed(*rows).profile)
    assert (draft.reference, draft.invoice_date, draft.currency) == (
        "PT-881",
        datetime.date(2026, 3, 14),
        "EUR",
    )


def test_the_second_sheet_is_taken_where_it_alone_holds_a_table() -> None:
    """The profile names it."""
    cover = made_file(["Dear customer"], ["please find your list on the next page"])
    table = made_file(*PER_SIZE)
    first = cover.sheets[0].__class__("Letter", cover.sheets[0].rows, cover.sheets[0].row_numbers)
    file = SourceFile("two.xlsx", (first, table.sheets[0]))
    proposal = propose_profile(file, USD)
    assert (proposal.profile.sheet, len(read(file, proposal.profile).lines)) == ("Invoice", 3)


def test_a_file_without_a_table_is_refused_with_the_way_out() -> None:
    """There are no headings to begin with."""
    with pytest.raises(InputErrors, match="no row looks like the headings"):
        proposed(["Dear customer"], ["thank you"])


def test_the_first_three_lines_are_shown_as_they_would_be_read() -> None:
    """Not the whole file."""
    rows = [*PER_SIZE, ["T10", "Sand", "L", 1, 3, 3]]
    assert len(sample_draft(made_file(*rows), proposed(*rows)).lines) == 3


@pytest.mark.parametrize(
    ("quantity", "place"), [("twelve", "cell D4"), ("12 pcs", "cell D4"), (None, "row 4")]
)
def test_a_line_whose_quantity_is_no_number_is_still_a_line(quantity: str | None, place: str) -> None:
    """It is an error at its cell, not a label of the foot."""
    rows = (
        *GARMENTS,
        ["OWL", "Black", "L", quantity, "3.00", "36.00"],
        ["Freight", None, None, None, None, "5.00"],
    )
    proposal = proposed(*rows)
    assert (proposal.questions, len(proposal.line_indexes)) == ((), 3)
    with pytest.raises(InputErrors) as caught:
        read(made_file(*rows), proposal.profile)
    assert [problem.where for problem in caught.value.problems] == [f"sheet Invoice, {place}"]

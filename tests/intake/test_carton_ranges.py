"""Cartons on packing lists: their numbers, what one holds, and what that makes."""

from __future__ import annotations

import datetime
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shipment_files import Value, made_file

from ledger.errors import InputErrors, ValueProblem
from ledger.intake.answers import read_answers
from ledger.intake.carton_ranges import count_cartons
from ledger.intake.proposal import CatalogueWords, Proposal
from ledger.intake.propose import propose_profile
from ledger.intake.read_shipment import read_shipment
from ledger.intake.shipment import ShipmentDraft
from ledger.intake.table import Cell

Row = list[Value]
BY_RANGE: list[Row] = [
    ["Carton Nos", "Style", "Colour", "Size", "Qty per carton", "Unit cost"],
    ["1-3", "HARE", "Black", "M", 36, 2.10],
    ["4", "HARE", "Black", "L", 36, 2.10],
]


def proposed(*rows: Row, said: tuple[str, ...] = ()) -> Proposal:
    """Propose for a workbook of these rows."""
    return propose_profile(made_file(*rows), CatalogueWords(currency="USD"), answers=read_answers(said))


def read(*rows: Row, said: tuple[str, ...] = ()) -> ShipmentDraft:
    """Read the rows by what is proposed for them."""
    return read_shipment(made_file(*rows), proposed(*rows, said=said).profile, currency="USD")


@given(st.integers(1, 9000), st.integers(0, 90), st.sampled_from(["-", " - ", "–", "~", " to "]))
def test_a_range_counts_both_its_ends(first: int, more: int, sign: str) -> None:
    """1-3 are three cartons."""
    assert count_cartons(Cell(f"{first}{sign}{first + more}", "")) == more + 1


@pytest.mark.parametrize(("text", "count"), [("4", 1), ("1-3, 7", 4), ("#12", 1), ("CTN 5 & 6", 2)])
def test_numbers_of_cartons_are_counted(text: str, count: int) -> None:
    """A number alone is one carton."""
    assert count_cartons(Cell(text, "")) == count


def test_a_number_cell_is_one_carton() -> None:
    """It is the carton's number, not how many there are."""
    assert count_cartons(Cell(Decimal(4), "")) == 1


@pytest.mark.parametrize("value", ["3-1", "some", datetime.date(2026, 1, 3)])
def test_what_names_no_cartons_is_refused(value: Value) -> None:
    """A date too: a spreadsheet program makes one of 1-3."""
    with pytest.raises(ValueProblem):
        count_cartons(Cell(value, ""))  # type: ignore[arg-type]


def test_ranges_times_what_one_holds_are_the_quantity() -> None:
    """Three cartons of 36 are 108 pieces."""
    draft = read(*BY_RANGE)
    assert [(line.quantity, line.net) for line in draft.lines] == [
        (108, Fraction("226.8")),
        (36, Fraction("75.6")),
    ]


def test_cartons_beside_the_pieces_are_a_check() -> None:
    """A row whose cartons make another quantity is refused at its cell."""
    rows: list[Row] = [["Style", "Size", "Cartons", "Pcs/ctn", "Pcs", "USD/pc"]]
    rows += [["HARE", size, 2, 36, 72, 2.10] for size in ("S", "M", "L", "XL", "2XL")]
    assert [line.quantity for line in read(*rows).lines] == [72] * 5
    rows[2][4] = 70
    with pytest.raises(InputErrors, match="2 cartons of 36 are 72"):
        read(*rows)


def test_an_empty_quantity_is_made_of_the_cartons() -> None:
    """The row says both numbers."""
    rows: list[Row] = [["Style", "Size", "Cartons", "Pcs/ctn", "Pcs", "USD/pc"]]
    rows += [["HARE", "M", 2, 36, 72, 2.10], ["HARE", "L", 3, 36, None, 2.10]]
    assert [line.quantity for line in read(*rows).lines] == [72, 108]


def test_cartons_alone_are_no_quantity() -> None:
    """Neither taken for it nor suggested."""
    proposal = proposed(["Style", "Size", "Cartons", "Price"], ["HARE", "M", 2, 2.10], ["HARE", "L", 3, 2.20])
    question = next(each for each in proposal.questions if each.subject == "quantity")
    assert "C=quantity" not in question.answers


def test_what_a_carton_holds_without_cartons_is_asked() -> None:
    """36 in each of how many?"""
    rows = [[*row[1:4], *row[4:]] for row in BY_RANGE]
    assert "quantity" in [each.subject for each in proposed(*rows).questions]


def test_sizes_of_one_carton_are_multiplied_where_the_amounts_say_so() -> None:
    """Twice 6 and 12 at 2.40 are 86.40."""
    rows: list[Row] = [
        ["Style", "Colour", "S", "M", "Ctns", "Price", "Amount"],
        ["HARE", "Black", 6, 12, 2, 2.40, 86.40],
        ["ROOK", "Slate", 0, 4, 3, 9.50, 114.00],
    ]
    assert [line.quantity for line in read(*rows).lines] == [12, 24, 12]


def test_sizes_beside_cartons_are_asked_where_nothing_tells() -> None:
    """They may be of one carton or of all."""
    rows: list[Row] = [
        ["Style", "S", "M", "Ctns", "Price"],
        ["HARE", 6, 12, 2, 2.40],
        ["ROOK", 2, 4, 3, 9.50],
    ]
    assert "cartons" in [each.subject for each in proposed(*rows).questions]
    assert [line.quantity for line in read(*rows, said=("D=cartons",)).lines] == [12, 24, 6, 12]
    assert [line.quantity for line in read(*rows, said=("ignore D",)).lines] == [6, 12, 2, 4]

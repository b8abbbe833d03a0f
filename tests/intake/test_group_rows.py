"""A style that stands in the first row of its group alone."""

from __future__ import annotations

import pytest
from shipment_files import Value, made_file

from ledger.errors import InputErrors
from ledger.intake.proposal import CatalogueWords
from ledger.intake.propose import propose_profile
from ledger.intake.read_shipment import read_shipment
from ledger.intake.shipment import ShipmentDraft

Row = list[Value]
ACROSS: Row = ["Style #", "Description", "Color", "S", "M", "Pcs", "Price ea.", "Extended"]
BY_SIZE: Row = ["Item code", "Color", "Size", "Qty", "Price", "Amount"]


def draft(*rows: Row) -> ShipmentDraft:
    """Read a workbook of these rows as it is proposed."""
    file = made_file(*rows)
    proposal = propose_profile(file, CatalogueWords(currency="USD"))
    assert proposal.questions == ()
    return read_shipment(file, proposal.profile, currency="USD")


def test_the_style_is_taken_from_the_row_above_and_said() -> None:
    """Up to the group's total; the description with it."""
    found = draft(
        ACROSS,
        ["PLV100", "Plover tee", "Navy", 12, 24, 36, 2, 72],
        [None, None, "Navy", None, 6, 6, 3, 18],
        [None, None, "Sand", 6, None, 6, 2, 12],
        [None, "Subtotal PLV100", None, None, None, 48, None, 102],
        ["DNL220", "Dunlin tee", "White", 5, None, 5, 4, 20],
        [None, None, "White", None, 3, 3, 4, 12],
    )
    assert [(line.style, line.description, line.colour) for line in found.lines] == [
        *[("PLV100", "Plover tee", "Navy")] * 3,
        ("PLV100", "Plover tee", "Sand"),
        *[("DNL220", "Dunlin tee", "White")] * 2,
    ]
    assert [each for each in found.remarks if "from the row above" in each] == [
        "sheet Invoice, row 3 and 1 more: 'PLV100' is taken from the row above",
        "sheet Invoice, row 7: 'DNL220' is taken from the row above",
    ]


def test_a_colour_is_taken_as_well_where_only_the_size_stands() -> None:
    """One row per size, the item and its colour in the first."""
    found = draft(
        BY_SIZE,
        ["A1", "Navy", "M", 2, 3, 6],
        [None, None, "L", 2, 3, 6],
        ["B2", "Sand", "M", 1, 3, 3],
        [None, "Ash", "M", 1, 3, 3],
    )
    assert [(line.colour, line.size) for line in found.lines] == [
        ("Navy", "M"),
        ("Navy", "L"),
        ("Sand", "M"),
        ("Ash", "M"),
    ]
    assert len({line.sku for line in found.lines}) == 4


def test_below_a_total_nothing_is_taken() -> None:
    """It is told at the cell that is empty."""
    rows: list[Row] = [
        ACROSS,
        ["PLV100", "Plover tee", "Navy", 12, 24, 36, 2, 72],
        ["DNL220", "Dunlin tee", "White", 5, None, 5, 4, 20],
        ["Subtotal", None, None, None, None, 41, None, 92],
        [None, None, "Sand", 6, None, 6, 2, 12],
    ]
    with pytest.raises(InputErrors):
        draft(*rows)


def test_a_row_that_names_nothing_is_not_filled() -> None:
    """It may be a total of every size."""
    rows: list[Row] = [
        ACROSS,
        ["PLV100", "Plover tee", "Navy", 12, 24, 36, 2, 72],
        ["DNL220", "Dunlin tee", "White", 5, None, 5, 4, 20],
        [None, None, None, 17, 24, 41, None, 92],
    ]
    file = made_file(*rows)
    proposal = propose_profile(file, CatalogueWords(currency="USD"))
    with pytest.raises(InputErrors, match="no item"):
        read_shipment(file, proposal.profile, currency="USD")

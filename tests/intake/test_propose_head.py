"""What stands above the lines, with label and value in one cell, under each other, or without a label."""

from __future__ import annotations

import datetime

import pytest

from ledger.intake.head_labels import value_behind
from ledger.intake.proposal import CatalogueWords, Proposal
from ledger.intake.propose import propose_profile
from ledger.intake.read_csv import read_csv
from ledger.intake.read_shipment import read_shipment
from ledger.intake.shipment import ShipmentDraft

LINES = "\nItem,Qty,Price,Amount\nK-1,12,3.10,37.20\nK-2,4,3.25,13.00\n"


def read(head: str) -> tuple[Proposal, ShipmentDraft]:
    """Return the proposal for a csv with this head, and the draft it reads."""
    file = read_csv("made.csv", (head + LINES).encode())
    found = propose_profile(file, CatalogueWords(currency="USD"))
    return found, read_shipment(file, found.profile)


@pytest.mark.parametrize(
    ("head", "reference"),
    [
        ("Invoice 20260321-4", "20260321-4"),
        ("Invoice no. 4711", "4711"),
        ("INVOICE #4711", "4711"),
        ("Order TS-90", "TS-90"),
        ("Order,TS-90", "TS-90"),
        ("Invoice: A 17", "A 17"),
        ("Invoice number,Date\nA-17,2026-03-21", "A-17"),
        ("Order TS-90\nInvoice 4711", "4711"),
        ("Document no.,Your ref\nFH-118,PO 7", "FH-118"),
        ("Invoice number OB-7731 of 9 April 2026", "OB-7731"),
        ("Invoice: OB-7731 of 9 April 2026", "OB-7731"),
        ("Invoice number,OB-7731 of 9 April 2026", "OB-7731"),
        ("Invoice OB-7731 dated 9 April 2026", "OB-7731"),
    ],
)
def test_a_reference_is_read_with_its_label_in_one_cell(head: str, reference: str) -> None:
    """The better label wins where several stand there."""
    assert read(head)[1].reference == reference


@pytest.mark.parametrize(
    "head",
    [
        '"Date: March 21, 2026"',
        '"Date March 21, 2026"',
        "Invoice date 21 Mar 2026",
        '"Date: Saturday, 21st March 2026"',
        'Date,"Mar. 21, 2026"',
        "Issued on 2026-03-21",
        "Invoice no.,Date\n4711,21.03.2026",
        '"21st of March, 2026"',
        "Date 20260321",
        "Dated the 21st of March 2026",
        "Date of issue: Mar 21 2026",
        "Invoice number OB-7731 of 21 March 2026",
        "Invoice: OB-7731 of 21 March 2026",
        "Invoice number,OB-7731 of 21 March 2026",
        "Rechnung Nr. OB-7731 vom 21.03.2026",
        "Invoice OB-7731 Date: 21 March 2026",
    ],
)
def test_a_date_is_read_however_it_is_written(head: str) -> None:
    """Month names in English, the label in the same cell, above it or not at all."""
    assert read(head)[1].invoice_date == datetime.date(2026, 3, 21)


@pytest.mark.parametrize(
    "head",
    ["", "Thank you for order 7 of ours", "Delivery in 3 days", "Terms 30 days net", "2026-03-21,2026-04-20"],
)
def test_no_date_is_said_and_none_is_guessed(head: str) -> None:
    """Two dates without a label do not tell which is the invoice's."""
    proposal, draft = read(head)
    decision = proposal.decision("date")
    assert draft.invoice_date is None
    assert decision is not None
    assert (decision.taken_as, decision.confidence) == ("none found", 0)


def test_words_behind_a_label_are_no_reference() -> None:
    """'Invoice address' and the like hold no number."""
    assert read("Invoice to Pebble Lane\nOrder of the day")[1].reference == ""


@pytest.mark.parametrize(
    ("text", "name", "value"),
    [
        ("Invoice date 2026-03-21", "reference", ""),
        ("Invoice 2026-03-21", "reference", ""),
        ("Invoice 20260321", "reference", "20260321"),
        ("Invoice 4711 4712", "reference", ""),
        ("Invoice EUR", "currency", "EUR"),
        ("Invoice ABC", "currency", ""),
        ("Invoice Mill Lane", "party", ""),
    ],
)
def test_only_what_a_field_can_be_is_its_value(text: str, name: str, value: str) -> None:
    """A date is no reference, and a party needs a colon."""
    assert value_behind(text, "invoice", name) == value

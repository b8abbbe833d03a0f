"""What stands under the lines of an unknown layout: totals, discounts and charges, and whether they add up."""

from __future__ import annotations

from fractions import Fraction

import pytest
from proposed_files import GARMENTS, PER_SIZE, Row, proposed, read, subjects, words
from shipment_files import made_file


def test_the_foot_is_told_from_the_lines_and_adds_up() -> None:
    """Subtotal, discount, freight, tax and total each get their meaning."""
    rows = [
        *PER_SIZE,
        ["", "", "", "", "Subtotal", 131.10],
        ["", "", "", "", "Trade discount", 10],
        ["", "", "", "", "Shipping & handling", 8.40],
        ["", "", "", "", "VAT 10%", 12.11],
        ["", "", "", "", "Amount due", 141.61],
    ]
    assert proposed(*rows).profile.foot == {
        "Subtotal": "lines total",
        "Trade discount": "discount",
        "Shipping & handling": "freight by value",
        "VAT 10%": "tax by value",
        "Amount due": "invoice total",
    }


def test_a_total_that_adds_up_to_the_lines_is_a_lines_total() -> None:
    """Its label alone would make it the invoice's; the charge under it makes that another sum."""
    rows = [*PER_SIZE, ["", "", "", "", "Total", 131.10], ["", "", "", "", "Freight", 9]]
    assert proposed(*rows).profile.foot["Total"] == "lines total"


def test_a_total_that_does_not_add_up_is_said() -> None:
    """What was expected stands in the reason."""
    decision = proposed(*PER_SIZE, ["", "", "", "", "Grand total", 140]).decision("row 'Grand total'")
    assert decision is not None
    assert (decision.confidence, decision.why) == (40, "it does not add up: 131.10 was expected")


def test_a_charge_nobody_knows_is_asked() -> None:
    """The answers are lines the person can give."""
    proposal = proposed(*PER_SIZE, ["", "", "", "", "Pallet deposit", 14])
    assert proposal.questions[0].answers == (
        'label "Pallet deposit" = other by value',
        'label "Pallet deposit" = ignore',
    )


def test_an_unknown_label_beside_the_lines_sum_is_asked_as_their_total() -> None:
    """The first answer is what the figure says; taking it for a charge would double the goods."""
    proposal = proposed(*PER_SIZE, ["", "", "", "", "Sum of it all", 131.10])
    assert proposal.questions[0].answers == (
        'label "Sum of it all" = lines total',
        'label "Sum of it all" = ignore',
    )


def test_an_answer_about_a_label_settles_it() -> None:
    """The profile holds what was said."""
    proposal = proposed(
        *PER_SIZE, ["", "", "", "", "Pallet deposit", 14], said=('label "Pallet deposit" = ignore',)
    )
    assert (proposal.questions, proposal.profile.foot["Pallet deposit"]) == ((), "ignore")


def test_subtotals_in_between_are_no_lines() -> None:
    """A group's subtotal is checked, and the lines go on under it."""
    rows: list[Row] = [
        *PER_SIZE[:3],
        ["", "", "", "", "Subtotal", 111.60],
        PER_SIZE[3],
        ["", "", "", "", "Subtotal", 19.50],
        ["", "", "", "", "Total", 131.10],
    ]
    assert len(read(made_file(*rows), proposed(*rows).profile).lines) == 3


def test_a_long_foot_under_few_lines_is_still_the_foot() -> None:
    """The lines are the fullest rows, not the most; their discount is not taken for the labels under it."""
    rows: list[Row] = [
        ["Product code", "Product description", "Each", "Shipped", "Disc", "Net amount"],
        ["HF200", "Crew tee", 2.95, 24, "10%", 63.72],
        ["HF201", "Crew tee, long", 3.05, 12, None, 36.60],
        [None, None, None, None, "Merchandise total", 100.32],
        [None, None, None, None, "Carriage", 12.50],
        [None, None, None, None, "Fuel surcharge", 1.10],
        [None, None, None, None, "Balance due", 113.92],
    ]
    proposal = proposed(*rows)
    draft = read(made_file(*rows), proposal.profile)
    assert (proposal.questions, draft.lines_total, len(draft.charges)) == ((), Fraction("100.32"), 2)


@pytest.mark.parametrize(
    "row",
    [
        ["Pallet fee", None, None, None, None, "12.00"],
        ["Pallet fee", None, None, "one-off", None, "12.00"],
        ["Pallet fee", None, None, None, "12.00", "12.00"],
    ],
)
def test_a_charge_nobody_knows_is_not_taken_for_such_a_line(row: Row) -> None:
    """It names one thing only, and is asked."""
    assert subjects(proposed(*GARMENTS, row)) == ["Pallet fee"]


def test_a_discount_with_its_rate_is_no_line_of_the_sample() -> None:
    """The rate in its label does not make it an item."""
    rows: list[Row] = [
        ["Item", "Qty", "Price", "Amount"],
        ["K-1", 12, "3.10", "37.20"],
        ["K-2", 4, "3.25", "13.00"],
    ]
    rows.append(["Discount 5%", None, None, "-2.51"])
    assert proposed(*rows, known=words(skus={"k-1", "k-2"})).meaning("A") == "sku"
    assert "2 of 2 are SKUs" in next(
        each.why for each in proposed(*rows, known=words(skus={"k-1", "k-2"})).columns
    )

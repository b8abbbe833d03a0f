"""What is wrong with a bill of materials, each fault at its line and column, and bills in a circle."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from bill_parts import ITEMS, PACKS, bill, line

from ledger.catalogue.bom_checks import BillProblem, check_bills
from ledger.catalogue.boms import Bill, Catalogue


def problems(made: Bill, *others: Bill) -> list[tuple[int, str]]:
    """Return the line and column of everything wrong with a bill."""
    bills = {each.code: each for each in (*others, made)}
    found = check_bills([made], Catalogue(ITEMS, PACKS, bills))[made.code]
    return [(each.line, each.column) for each in found]


def test_a_sound_bill_has_no_problem() -> None:
    """Nothing is told where nothing is wrong."""
    assert problems(bill(line(per_piece="1"), line("COVER", "1", uses=50))) == []


@pytest.mark.parametrize(
    ("made", "where"),
    [
        (bill(line()), (1, "per_piece")),
        (bill(line(per_piece="1"), line(per_piece="-1", per_run="2")), (2, "per_piece")),
        (bill(line(per_run="1.0000001")), (1, "per_run")),
        (bill(line(per_piece="99999999999")), (1, "per_piece")),
        (bill(line("NIX", "1")), (1, "sku")),
        (bill(line("CLEANER", "1")), (1, "sku")),
        (bill(line("INK-W", "1", unit="cm")), (1, "unit")),
        (bill(line(per_piece="1", waste_percent=Fraction(101))), (1, "waste")),
        (bill(line(per_piece="1", waste_percent=Fraction(-1))), (1, "waste")),
        (bill(line("COVER", "1", uses=0)), (1, "uses")),
        (bill(line("COVER", "1", uses=20_000)), (1, "per_piece")),
        (bill(line(per_piece="1", colours=("Teal",))), (1, "colours")),
        (bill(blank="Driftt"), (0, "blank")),
        (bill(blank="INK-W", finished="F"), (0, "blank")),
        (bill(blank="", finished="F"), (0, "sku")),
        (bill(finished="FOX-{size}"), (0, "finished")),
        (bill(finished="FOX-{shade}"), (0, "finished")),
        (bill(blank="DRIFT-BLK-M", finished="INK-W"), (0, "finished")),
        (bill(code="Drift2 x"), (0, "bill")),
        (bill(misprint_percent=Fraction(100)), (0, "misprints")),
        (bill(labour_per_run=Decimal(-1)), (0, "labour_per_run")),
        (bill(least_polyester_percent=101), (0, "least_polyester")),
    ],
)
def test_each_fault_is_told_at_its_place(made: Bill, where: tuple[int, str]) -> None:
    """Line and column of what is wrong, and of nothing else."""
    assert set(problems(made)) == {where}


def test_a_bill_named_like_a_style_is_refused() -> None:
    """What it makes would be a style of that name."""
    made = bill(code="drift", blank="DRIFT-BLK-M", finished="W-{blank}")
    assert problems(made) == [(0, "bill")]


def test_two_bills_that_make_one_sku_are_told() -> None:
    """A sale would not know which of them to make."""
    assert problems(bill(code="HARE"), bill()) == [(0, "finished")]


def circle_of(made: Bill, *others: Bill) -> list[BillProblem]:
    """Return what is told about a circle."""
    found = check_bills([made], Catalogue(ITEMS, PACKS, {each.code: each for each in (made, *others)}))
    return [each for each in found[made.code] if "itself" in each.what]


def test_a_bill_that_uses_what_it_makes_is_told() -> None:
    """A line with its own finished item."""
    made = bill(line("FOX-BLK-M", "1"), blank="DRIFT-WHT-M", finished="FOX-BLK-M")
    assert [(each.line, each.column) for each in circle_of(made)] == [(1, "sku")]


def test_a_bill_that_is_its_own_blank_is_told() -> None:
    """The blank is the bill's own code."""
    assert [(each.line, each.column) for each in circle_of(bill(code="DRIFT"))] == [(0, "blank")]


def test_a_circle_through_other_bills_is_told_with_its_way() -> None:
    """Each of three bills uses the next one's finished item."""
    first = bill(line("TWO", "1"), code="A", blank="", finished="ONE")
    second = bill(line("THREE", "1"), code="B", blank="", finished="TWO")
    third = bill(line("ONE", "1"), code="C", blank="", finished="THREE")
    assert "A uses B uses C uses A" in circle_of(first, second, third)[0].what


def test_blanks_in_a_circle_are_told() -> None:
    """Two bills that each decorate what the other makes."""
    assert len(circle_of(bill(code="A", blank="B"), bill(code="B", blank="A"))) == 1


def test_using_another_bills_finished_item_is_no_circle() -> None:
    """A chain has an end."""
    assert circle_of(bill(line("TWO", "1"), code="A"), bill(code="B", blank="", finished="TWO")) == []

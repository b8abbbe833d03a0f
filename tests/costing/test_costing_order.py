"""What stands before what in an item's history."""

from __future__ import annotations

from ledger.costing.facts import PRODUCT, FactLine
from ledger.costing.order import in_costing_order


def fact(document: int, line: int, event: str, day: int, **more: object) -> FactLine:
    """One piece of one item in March."""
    return FactLine(document, line, event, f"2026-03-{day:02d}", "shirt", "goods", 1_000, **more)  # type: ignore[arg-type]


def test_a_return_of_a_later_day_comes_before_what_leaves_on_that_day() -> None:
    """It can be sold again that day, whatever the numbers of the documents."""
    sold_again, sold = fact(1, 1, "sale", 9), fact(2, 1, "sale", 5)
    back = fact(3, 1, "take back", 9, ref_document=2, ref_line=1)
    assert in_costing_order([sold_again, sold, back]) == [sold, back, sold_again]


def test_a_return_of_the_same_day_stands_right_after_its_sale() -> None:
    """Before the sale there was nothing to return; before the next sale it is there."""
    first, second = fact(1, 1, "sale", 5), fact(2, 1, "sale", 5)
    back = fact(3, 1, "take back", 5, ref_document=1, ref_line=1)
    assert in_costing_order([second, back, first]) == [first, back, second]


def test_a_product_comes_after_what_it_is_made_of() -> None:
    """Whatever line of the job names it."""
    made = fact(1, 1, "make", 5, role=PRODUCT)
    used = fact(1, 2, "make", 5, role="component")
    assert in_costing_order([made, used]) == [used, made]


def test_a_product_that_is_unmade_leaves_with_what_leaves() -> None:
    """After a customer's return of the same day and before a count."""
    unmade = fact(7, 1, "reversal", 5, role=PRODUCT, undone_event="make")
    back = fact(8, 1, "take back", 5, ref_document=1, ref_line=1)
    counted = fact(6, 1, "count", 5)
    assert in_costing_order([counted, unmade, back]) == [back, unmade, counted]

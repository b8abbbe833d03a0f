"""What a piece cost when it was last bought or made."""

from __future__ import annotations

from ledger.costing.shelf import COUNT_CLASS, Shelf, ShelfLot


def lot(day: int, kind: int, landed: int) -> ShelfLot:
    """Two pieces that came in on a day of March."""
    return ShelfLot((f"2026-03-{day:02d}", kind, day, 1), 2_000, landed)


def test_what_a_count_found_is_no_price() -> None:
    """Pieces found by a count carry a cost that was taken from elsewhere."""
    shelf = Shelf("shirt")
    shelf.put(lot(1, 1, 800))
    shelf.put(lot(5, COUNT_CLASS, 200))
    assert shelf.latest_cost(1_000) == 400


def test_the_latest_of_two_purchases_counts() -> None:
    """The one from which pieces would come next month."""
    shelf = Shelf("shirt")
    shelf.put(lot(1, 1, 800))
    shelf.put(lot(5, 1, 900))
    assert shelf.latest_cost(1_000) == 450


def test_nothing_bought_has_no_cost() -> None:
    """None, not zero."""
    shelf = Shelf("shirt")
    shelf.put(lot(5, COUNT_CLASS, 200))
    assert shelf.latest_cost(1_000) is None

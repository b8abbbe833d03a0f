"""What stands below a grid: which sizes are out, and which of them between sizes that are there."""

from __future__ import annotations

from ledger.book.looking import StockRow
from ledger.views.stock import NAMED_GAPS, grid_note


def rows(colour: str, **pieces: int) -> list[StockRow]:
    """A colour's sizes with so many pieces each."""
    return [
        StockRow(
            f"{colour}-{size}", "Tee", "blank", "goods", "each", "Tee", colour, size, "adult", count * 1000, 0
        )
        for size, count in pieces.items()
    ]


def test_a_gap_between_sizes_is_told_apart_from_the_ends() -> None:
    """M is out while S and L are there; 2XL is only the end of what is kept."""
    note = grid_note([*rows("Black", S=1, M=0, L=2), *rows("White", S=3, XL=1, **{"2XL": 0})])
    assert note == "None on hand: Black M, White 2XL. Of these between sizes that are there: Black M."


def test_nothing_is_said_of_what_is_there() -> None:
    """Neither of a whole grid, nor of gaps where only the ends are out."""
    assert grid_note(rows("Black", S=1, M=1)) == ""
    assert grid_note(rows("Black", S=0, M=1, L=0)) == "None on hand: Black S, Black L."


def test_too_many_to_name_are_counted() -> None:
    """Twelve are named, thirteen only counted."""
    colours = [f"Colour {number:02}" for number in range(NAMED_GAPS + 1)]
    every = [row for colour in colours for row in rows(colour, M=0)]
    assert grid_note(every[:-1]).endswith("Colour 11 M.")
    assert grid_note(every) == "None on hand in 13 of 13 sizes and colours."

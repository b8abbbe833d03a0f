"""What a sales export's names are in the book: learned, near, and learned again."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ledger.catalogue.items import Item
from ledger.intake.nearest import fold
from ledger.intake.sales_items import SalesItems, names_to_learn, unknown_problem
from ledger.intake.sales_profile import SalesProfile
from ledger.intake.sales_skus import SkuWords, UnknownName

FOX_M = Item(
    "FOX-BLK-M", "Fox tee, Black, M", "finished", "goods", "each", style="Fox", colour="Black", size="M"
)
FOX_L = replace(FOX_M, sku="FOX-BLK-L", name="Fox tee, Black, L", size="L")
MUG = Item("MUG-FOX", "Fox mug", "finished", "goods", "each")
ITEMS = SalesItems(
    "Harbour Fair",
    {item.sku: item for item in (FOX_M, FOX_L, MUG)},
    {fold("Night fox | Black, M"): "FOX-BLK-M", "k7": "FOX-BLK-L"},
)


def words(profile: SalesProfile | None = None) -> SkuWords:
    """Return what looks names up in the tests' book."""
    plain = SalesProfile("plain", {})
    return SkuWords(profile or plain, ITEMS.learned, ITEMS.by_folded_sku())


@pytest.mark.parametrize(
    ("code", "title", "variant", "sku"),
    [
        ("FOX-BLK-M", "", "", "FOX-BLK-M"),
        ("fox-blk-m", "", "", "FOX-BLK-M"),
        ("K7", "", "", "FOX-BLK-L"),
        ("", "Night  fox", "Black, M", "FOX-BLK-M"),
        ("MUG-FOX", "Night fox", "Black, M", "MUG-FOX"),
    ],
)
def test_names_the_book_knows_are_found(code: str, title: str, variant: str, sku: str) -> None:
    """In any case, as learned; a SKU of ours in the row says more than its title."""
    assert words().sku(code, title, variant) == sku


def test_the_profile_comes_before_what_was_learned() -> None:
    """What somebody wrote for this layout is meant."""
    told = SalesProfile("told", {}, aliases={"k7": "MUG-FOX"})
    assert words(told).sku("K7", "", "") == "MUG-FOX"


def test_an_unknown_name_is_told_with_what_comes_near() -> None:
    """Its other rows, the nearest item of the same size, and the command that teaches it."""
    with pytest.raises(UnknownName) as raised:
        words().sku("", "Foxy tee", "Black, L")
    problem = unknown_problem(raised.value, ["row 2", "row 5"], ITEMS)
    assert (problem.where, problem.also) == ("row 2", ("row 5",))
    assert 'blankbook aliases add "Harbour Fair" "Foxy tee | Black, L" FOX-BLK-L' in problem.next_step


def test_names_that_mean_one_item_are_learned() -> None:
    """A title without colour and size, or one that meant two items, could be another the next time."""
    names = {
        "Fox of the night | Black, M": frozenset({"FOX-BLK-M"}),
        "Fox of the night": frozenset({"FOX-BLK-M"}),
        "Gift | Black, L": frozenset({"FOX-BLK-L", "FOX-BLK-M"}),
        "Night fox | Black, M": frozenset({"FOX-BLK-M"}),
        "S-77": frozenset({"FOX-BLK-L"}),
        "fox-blk-m": frozenset({"FOX-BLK-M"}),
    }
    learned = [(alias.word, alias.meaning) for alias in names_to_learn(names, ITEMS)]
    assert learned == [("Fox of the night | Black, M", "FOX-BLK-M"), ("S-77", "FOX-BLK-L")]

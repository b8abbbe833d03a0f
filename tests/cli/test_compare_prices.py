"""`blankbook compare --prices` in this process: which offers are compared, of what, and in which order."""

from __future__ import annotations

from pathlib import Path

import pytest
from price_shop import BILLS, FAR, HOME, RATES, loaded, offered, price_shop, prices
from small_shop import Commands

from ledger.errors import Refused, UsageError

ENDED = "Mill Lane,,,Wren,,4.10,,USD,shipping point,,,,2026-03-30,,,,,4,2026-01-01,"


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The commands with a book that has a catalogue, run in an empty folder."""
    return price_shop(tmp_path, monkeypatch)


def test_offers_are_ranked_landed(blankbook: Commands) -> None:
    """Abroad the price is less than half, landed it is dearer at a hundred and twenty."""
    offered(blankbook, HOME, FAR)
    loaded(blankbook, "duties", RATES)
    data = prices(blankbook, "WREN-BLK-M", "--quantity", "120")
    assert [(each["name"], each["total"]) for each in data["contenders"]] == [
        ("Mill Lane, Wren", "432.00"),
        # 216.00 + 150 freight + 35.64 duty + 2.69 fee + 140 broker
        ("Sparrow Mill, Wren", "544.33"),
    ]


def test_a_foreign_offer_without_a_rate_is_left_out_with_the_reason(blankbook: Commands) -> None:
    """Never counted as free; the other is compared all the same."""
    offered(blankbook, HOME, FAR)
    data = prices(blankbook, "WREN-BLK-M", "--quantity", "120")
    assert [each["name"] for each in data["contenders"]] == ["Mill Lane, Wren"]
    assert "unknown is not free" in data["left_out"][0]["reason"]


def test_where_no_offer_can_be_compared_it_is_refused(blankbook: Commands) -> None:
    """With every reason."""
    offered(blankbook, FAR)
    error = blankbook("compare", "--prices", "Wren").error
    assert isinstance(error, Refused)
    assert "Sparrow Mill, Wren" in str(error)


def test_an_offer_that_ended_is_left_out(blankbook: Commands) -> None:
    """The last day still stands, the day after does not."""
    offered(blankbook, ENDED)
    error = blankbook("compare", "--prices", "Wren", "--quantity", "10").error
    assert "the offer ended on 2026-03-30" in str(error)


def test_the_order_has_to_be_of_the_minimum_and_multiple(blankbook: Commands) -> None:
    """Ten are wanted, a hundred and eight are bought."""
    offered(blankbook, FAR)
    loaded(blankbook, "duties", RATES)
    data = prices(blankbook, "WREN-BLK-M", "--quantity", "10")["contenders"][0]
    assert (data["quantity"], data["more_than_wanted"]) == ("108", 98)


def test_packs_are_compared_by_the_sheet_and_the_hundred(blankbook: Commands) -> None:
    """A pack of a hundred against a box of five hundred."""
    offered(
        blankbook,
        "Near,,PAPER,,,14.90,pack,USD,,,,,,,,,,,,",
        "Far,,PAPER,,,62.50,500 sheet,USD,,,,,,,,,,,,",
    )
    data = prices(blankbook, "paper", "--quantity", "5 pack")
    assert [(each["name"], each["landed_per_unit"]) for each in data["contenders"]] == [
        ("Far, PAPER", "0.125000"),
        ("Near, PAPER", "0.149000"),
    ]
    assert "landed per hundred" in blankbook("compare", "--prices", "PAPER", "--quantity", "500").out


def test_a_roll_is_compared_by_its_real_size(blankbook: Commands) -> None:
    """Sold as twelve inches, it is 11.8 wide."""
    offered(blankbook, "Near,,VINYL,,,27.00,roll,USD,,,,,,,,,,,,")
    out = blankbook("compare", "--prices", "VINYL", "--quantity", "1 roll").out
    assert "1.7% dearer than by its name" in out


def test_a_style_is_spread_over_its_sizes_by_what_was_used(blankbook: Commands) -> None:
    """While nothing was used they come evenly; only the colour asked for counts."""
    offered(blankbook, HOME)
    data = prices(blankbook, "wren", "--colour", "moss", "--quantity", "10")
    assert (data["what"], len(data["skus"])) == ("Wren Moss", 5)
    assert blankbook("compare", "--prices", "Wren", "--colour", "Mauve").error is not None


def test_a_price_of_some_sizes_leaves_the_others_out(blankbook: Commands) -> None:
    """An offer of the large size only is no offer of the medium one."""
    offered(blankbook, HOME.replace("Wren,,1", "Wren,2XL,1"))
    assert isinstance(blankbook("compare", "--prices", "WREN-BLK-M").error, Refused)


def test_sizes_without_a_price_are_named(blankbook: Commands) -> None:
    """The order is of the others."""
    offered(blankbook, HOME.replace("Wren,,1", "Wren,S-XL,1"))
    remarks = prices(blankbook, "Wren", "--quantity", "40")["contenders"][0]["remarks"]
    assert remarks == ["no price for 2XL: its order is of the other sizes."]


def test_a_prepack_is_no_offer_of_a_single_size(blankbook: Commands) -> None:
    """Seven of the medium take three packs of six; the style is compared as it comes."""
    offered(blankbook, HOME, f"Pack Mill{HOME.removeprefix('Mill Lane')}S = 1; M = 3; L = 2")
    data = prices(blankbook, "WREN-BLK-M", "--quantity", "7")
    assert [each["name"] for each in data["contenders"]] == ["Mill Lane, Wren"]
    reason = data["left_out"][0]["reason"]
    assert "7 of WREN-BLK-M take 3 packs, 18 pieces of the style, 9 of them M" in reason
    assert len(prices(blankbook, "Wren", "--quantity", "18")["contenders"]) == 2
    none = prices(blankbook, "WREN-BLK-2XL", "--quantity", "7")["left_out"][0]["reason"]
    assert "without any 2XL" in none


def test_an_offer_that_leaves_freight_unquoted_is_not_ranked(blankbook: Commands) -> None:
    """It would look cheapest; a cell that says 0 is an answer."""
    bare = FAR.replace(",,150,,,140,45,", ",,,,,,45,")
    offered(blankbook, HOME, bare)
    loaded(blankbook, "duties", RATES)
    words = ("WREN-BLK-M", "--quantity", "120")
    offer = prices(blankbook, *words)["contenders"][1]
    assert (offer["standing"], offer["not_quoted"]) == ("not all quoted", ["freight", "brokerage"])
    out = blankbook("compare", "--prices", *words).out
    assert out.index("Mill Lane, Wren is the only one") < out.index("Not ranked, for what they come to")
    offered(blankbook, HOME, FAR.replace(",,150,,,140,45,", ",,0,,,0,45,"))
    assert prices(blankbook, *words)["contenders"][0]["name"] == "Sparrow Mill, Wren"


def test_what_forces_much_more_stands_below(blankbook: Commands) -> None:
    """Ten are wanted: the one that sells ten leads, though the far one costs less each."""
    offered(blankbook, HOME.replace("1 = 4.10; 72 = 3.60", "6.00"), FAR)
    loaded(blankbook, "duties", RATES)
    data = prices(blankbook, "WREN-BLK-M", "--quantity", "10")
    assert [(each["name"], each["standing"]) for each in data["contenders"]] == [
        ("Mill Lane, Wren", "ranked"),
        ("Sparrow Mill, Wren", "much more"),
    ]
    out = blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "10").out
    assert "Only for much more than the 10 wanted:" in out
    assert "but only from 108 on: 4.8071 each, 519.17 in all." in out


@pytest.mark.parametrize(
    "words",
    [
        ("--quantity", "10"),
        ("--prices", "PAPER", "study.toml"),
        ("--afterwards", "--prices", "PAPER"),
        ("--prices", "PAPER", "--quantity", "some"),
        ("--prices", "PAPER", "--quantity", "0"),
        ("--prices", "PAPER", "--quantity", "1.5"),
        ("--prices", "PAPER", "--against", "study.toml"),
        ("--prices", "PAPER", "--explain"),
        ("--prices", "PAPER", "--quantity", "3 barrels"),
        ("--prices", "PAPER", "--rate", "CNY"),
        ("--prices", "PAPER", "--rate", "CNY=-1"),
        ("--prices", "PAPER", "--picture", "p.gif"),
        ("--prices", "PAPER", "--workbook", "w.csv"),
        (),
    ],
)
def test_words_that_do_not_go_together_are_refused(blankbook: Commands, words: tuple[str, ...]) -> None:
    """With what to write instead."""
    Path("study.toml").write_text("", "utf-8")
    offered(blankbook, "Near,,PAPER,,,14.90,pack,USD,,,,,,,,,,,,")
    assert isinstance(blankbook("compare", *words).error, UsageError)


def test_a_mistyped_name_is_answered_with_the_nearest(blankbook: Commands) -> None:
    """Neither an item nor a style."""
    assert "Did you mean Wren" in str(blankbook("compare", "--prices", "Wern").error)


def test_a_colour_beside_a_single_item_is_refused(blankbook: Commands) -> None:
    """Ignored it would answer another question; its own colour is no contradiction."""
    offered(blankbook, HOME, "Near,,PAPER,,,14.90,pack,USD,,,,,,,,,,,,")
    error = blankbook("compare", "--prices", "PAPER", "--colour", "Black").error
    assert (isinstance(error, Refused), "PAPER is one item and it has no colour" in str(error)) == (
        True,
        True,
    )
    assert blankbook("compare", "--prices", "WREN-BLK-M", "--colour", "moss").error is not None
    assert prices(blankbook, "WREN-BLK-M", "--colour", "black", "--quantity", "10")["contenders"]


@pytest.mark.parametrize("words", [("--prices", "FOX"), ("FOX",)])
def test_a_design_points_to_its_blank(blankbook: Commands, words: tuple[str, ...]) -> None:
    """Nobody sells what the shop makes, whether it is in the list of items or only a bill's name."""
    loaded(blankbook, "boms", BILLS)
    assert "compare its blank, Wren" in str(blankbook("compare", *words).error)

"""`blankbook compare --prices` in this process: offers that are not quite like for like, or not for today."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
from price_shop import BILLS, FAR, HEAD, HOME, ITEMS, RATES, loaded, offered, price_shop, prices
from small_shop import Commands

from ledger.errors import Refused, UsageError

CASED = ITEMS.replace(",Wren tee,blank,each,Wren,S-2XL,Black=BLK; Moss=MOS,{style}-{colour}-{size},,150,",
                      ",Wren tee,blank,each,Wren,S-2XL,Black=BLK; Moss=MOS,{style}-{colour}-{size},case = 72 each,150,")  # fmt: skip


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The commands with a book that has a catalogue, run in an empty folder."""
    return price_shop(tmp_path, monkeypatch)


def compared(commands: Commands, *words: str) -> str:
    """Return what the comparison says on the screen."""
    outcome = commands("compare", "--prices", *words)
    assert outcome.code == 0, outcome.error
    return outcome.out


def test_sizes_that_a_prepack_does_not_bring_stand_in_its_row(blankbook: Commands) -> None:
    """Cheaper, but without XL and 2XL: the row and the sentence say so."""
    offered(
        blankbook, HOME, HOME.replace("Mill Lane", "Packed").replace("4.10", "1.00") + "S = 1; M = 2; L = 2"
    )
    out = compared(blankbook, "Wren", "--quantity", "50")
    assert "does not bring" in out
    assert "landed, without XL, 2XL" in out


def test_a_prepack_with_an_unknown_size_is_told_when_it_is_loaded(blankbook: Commands) -> None:
    """Nobody can count a size that the book does not have."""
    Path("q.csv").write_text(f"{HEAD}\n{HOME}S = 1; 4XL = 1\n", "utf-8")
    out = blankbook("quotes", "load", "q.csv", "--dry-run").out
    assert "its prepack also holds 4XL, and Wren comes in S, M, L, XL, 2XL" in out


def test_a_print_is_held_against_a_transfer_only(blankbook: Commands) -> None:
    """A blank cannot stand in for a print."""
    offered(blankbook, HOME)
    loaded(blankbook, "boms", BILLS)
    error = blankbook("compare", "--prices", "WREN-BLK-M", "--bill", "FOX").error
    assert isinstance(error, Refused)
    assert "WREN-BLK-M is of the kind blank" in str(error)


def test_a_print_says_whether_misprints_are_in_it(blankbook: Commands) -> None:
    """The bill's rate only plans."""
    offered(blankbook, "Dots,,TRANSFER,,,1.10,,USD,,,,,,,,,,,,")
    loaded(blankbook, "boms", BILLS.replace("unit\n", "unit,misprints\n").replace("mL\n", "mL,3%\n"))
    out = compared(blankbook, "TRANSFER", "--quantity", "10", "--bill", "FOX")
    assert "Without the 3% misprints of the bill" in out


def test_whole_cases_of_a_style_are_whole_ones_of_each_size(blankbook: Commands) -> None:
    """A case holds one size: 200 of five sizes are five cases, 360 pieces."""
    loaded(blankbook, "items", CASED)
    offered(blankbook, HOME)
    data = prices(blankbook, "Wren", "--quantity", "200")
    assert [(each["packs"], each["quantity"]) for each in data["whole_packs"]] == [(5, "360")]


def test_cases_of_a_style_are_no_quantity(blankbook: Commands) -> None:
    """Of one SKU they are."""
    loaded(blankbook, "items", CASED)
    offered(blankbook, HOME)
    error = blankbook("compare", "--prices", "Wren", "--quantity", "2 case").error
    assert isinstance(error, UsageError)
    assert "holds 72 of one size, and 5 sizes are compared" in str(error)
    assert prices(blankbook, "WREN-BLK-M", "--quantity", "2 case")["quantity"] == "144"


def test_hundreds_can_be_asked_for(blankbook: Commands) -> None:
    """As paper is priced, whether or not a pack is called so."""
    offered(blankbook, "Near,,PAPER,,,0.15,sheet,USD,,,,,,,,,,,,")
    assert prices(blankbook, "PAPER", "--quantity", "2 hundred")["quantity"] == "200"
    assert prices(blankbook, "PAPER", "--quantity", "2 thousand")["quantity"] == "2000"


def test_an_offer_of_a_day_to_come_is_shown_apart(blankbook: Commands) -> None:
    """It cannot stand today."""
    offered(blankbook, HOME, HOME.replace("Mill Lane", "Later").replace("2026-01-01", "2026-04-20"))
    out = compared(blankbook, "WREN-BLK-M", "--quantity", "10")
    assert "Later, Wren: it is quoted on 2026-04-20, after today" in out


def test_a_rate_of_the_book_s_own_currency_is_refused(blankbook: Commands) -> None:
    """One dollar is one dollar."""
    offered(blankbook, HOME)
    error = blankbook("compare", "--prices", "WREN-BLK-M", "--rate", "USD=2").error
    assert isinstance(error, UsageError)
    assert "the book is in USD itself" in str(error)


def test_a_colour_may_be_named_by_its_code(blankbook: Commands) -> None:
    """MOS is the part of its SKUs that no other colour's have."""
    offered(blankbook, HOME)
    assert prices(blankbook, "Wren", "--colour", "mos", "--quantity", "10")["what"] == "Wren Moss"


def test_a_free_class_shows_its_duty_of_nothing(blankbook: Commands) -> None:
    """A rate of 0 that somebody entered is a line."""
    offered(blankbook, FAR)
    loaded(blankbook, "duties", RATES.replace("16.5%", "free"))
    parts = prices(blankbook, "WREN-BLK-M", "--quantity", "120")["contenders"][0]["parts"]
    assert {part["name"]: part["amount"] for part in parts}["duty"] == "0.00"


def test_least_charges_are_named(blankbook: Commands) -> None:
    """The freight's minimum, and the fee of an informal entry."""
    head = f"{HEAD},freight_minimum"
    loaded(blankbook, "quotes", f"{head}\n{FAR.replace(',150,,,', ',,,0.10,')},300\n")
    loaded(blankbook, "duties", RATES)
    parts = prices(blankbook, "WREN-BLK-M", "--quantity", "120")["contenders"][0]["parts"]
    how = {part["name"]: part["how"] for part in parts}
    assert how["freight"].startswith("the least charge")
    assert how["processing fee"] == "the fee of an informal entry"


def test_what_is_cut_is_said(blankbook: Commands) -> None:
    """Six offers, and the table of steps has five."""
    offered(blankbook, *(HOME.replace("Mill Lane", f"Mill {number}") for number in range(6)))
    assert "the first 5 of 6 offers" in compared(blankbook, "WREN-BLK-M", "--quantity", "10")


def test_one_thing_that_is_not_quoted_is_one(blankbook: Commands) -> None:
    """Not 'are'."""
    offered(blankbook, HOME.replace(",0,,,,4,", ",,,,,4,"))
    assert "not quoted is freight" in compared(blankbook, "WREN-BLK-M", "--quantity", "10")


def test_the_workbook_s_lines_are_straight_and_small_units_are_told_by_larger_ones(
    blankbook: Commands,
) -> None:
    """Film by the square metre; a smoothed line would show prices between two points that nobody asks."""
    offered(blankbook, "Near,,VINYL,,,1 = 20.00; 3 = 18.00,roll,USD,,,,,,,,,,,,")
    compared(blankbook, "VINYL", "--workbook", "v.xlsx")
    workbook = openpyxl.load_workbook("v.xlsx")
    assert workbook["Ranking"]["E1"].value == "landed per m2"
    assert workbook["Ranking"]["E1"].alignment.horizontal == "right"
    assert not workbook["By quantity"]._charts[0].series[0].smooth  # type: ignore[attr-defined]

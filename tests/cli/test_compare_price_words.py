"""`blankbook compare --prices` in this process: what is said beside an offer, and what is asked about it."""

from __future__ import annotations

from pathlib import Path

import pytest
from price_shop import DUTY_HEAD, FAR, HOME, ITEMS, RATES, loaded, offered, price_shop, prices
from small_shop import Commands

from ledger.sourcing.quote_columns import QUOTE_COLUMNS

BY_DOZEN = ITEMS.replace("{style}-{colour}-{size},,150", "{style}-{colour}-{size},dozen = 12 each,150")
SURCHARGE = "surcharge,6109.10,CN,7.5%,a notice,2026-03-01\n"
TAKEN_AS_FREE = "no freight and no terms stated: taken as delivered free."


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The commands with a book that has a catalogue, run in an empty folder."""
    return price_shop(tmp_path, monkeypatch)


@pytest.mark.parametrize(
    ("row", "is_said"),
    [
        ("Mill Lane,,,Wren,,4.10,,USD,,,,,,,,,,4,2026-01-01,", True),
        ("Mill Lane,,,Wren,,4.10,,USD,,,,,,0,,,,4,2026-01-01,", False),
        ("Mill Lane,,,Wren,,4.10,,USD,destination,,,,,,,,,4,2026-01-01,", False),
    ],
)
def test_an_offer_that_says_nothing_of_the_way_is_taken_as_free_and_that_is_said(
    blankbook: Commands, row: str, *, is_said: bool
) -> None:
    """It is ranked all the same; a 0, or terms, are an answer."""
    offered(blankbook, row)
    offer = prices(blankbook, "WREN-BLK-M", "--quantity", "10")["contenders"][0]
    assert (offer["standing"], TAKEN_AS_FREE in offer["remarks"]) == ("ranked", is_said)
    out = blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "10").out
    assert (f"Mill Lane, Wren: {TAKEN_AS_FREE}" in out) == is_said


@pytest.mark.parametrize(
    ("rates", "is_asked"),
    [
        (DUTY_HEAD + SURCHARGE, True),
        (RATES + SURCHARGE, False),
        (RATES, False),
        (DUTY_HEAD + SURCHARGE.replace("surcharge", "general"), False),
    ],
)
def test_a_surcharge_alone_is_asked_about(blankbook: Commands, rates: str, *, is_asked: bool) -> None:
    """Nothing but a row for one origin is known of the class: the general rate may have been forgotten."""
    offered(blankbook, FAR)
    loaded(blankbook, "duties", rates)
    remarks = prices(blankbook, "WREN-BLK-M", "--quantity", "120")["contenders"][0]["remarks"]
    asked = "only the program 'surcharge' is known for class 6109.10 from CN: is there no general rate?"
    assert any(asked in each for each in remarks) == is_asked


def test_what_a_prepack_brings_of_each_size_is_told(blankbook: Commands) -> None:
    """300 are wanted and come by packs of eight: 304. An offer by the piece has nothing of the kind."""
    offered(blankbook, HOME, f"Pack Mill{HOME.removeprefix('Mill Lane')}S = 1; M = 3; L = 3; XL = 1")
    found = prices(blankbook, "Wren", "--quantity", "300")["contenders"]
    assert {each["name"]: each["by_size"] for each in found} == {
        "Mill Lane, Wren": {},
        "Pack Mill, Wren": {"S": "38", "M": "114", "L": "114", "XL": "38"},
    }
    out = blankbook("compare", "--prices", "Wren", "--quantity", "300").out
    assert "Pack Mill, Wren, 304: S 38, M 114, L 114, XL 38." in out


def test_the_unit_stands_beside_the_numbers(blankbook: Commands) -> None:
    """Dozens are never told as if they were pieces, in what is ordered, at what price, and what is advised."""
    loaded(blankbook, "items", BY_DOZEN)
    offered(blankbook, HOME.replace("1 = 4.10; 72 = 3.60,", "1 = 48.00; 25 = 44.00,dozen"))
    words = ("compare", "--prices", "WREN-BLK-M", "--quantity")
    assert "25 dozen ordered: goods 1,100.00 (25 dozen at 44.00 USD a dozen)" in blankbook(*words, "300").out
    out = blankbook(*words, "288").out
    assert "23 dozen or more: buy 25 dozen, 1,100.00 in all, less than 23 dozen cost." in out
    assert "For the 24 dozen here: 1 dozen more and 52.00 less in all." in out


def test_what_is_asked_for_is_not_advised(blankbook: Commands) -> None:
    """Who asks for seventy-two need not be told to buy seventy-two."""
    offered(blankbook, HOME)
    assert "or more: buy" not in blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "72").out
    assert "64 or more: buy 72" in blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "71").out


def test_a_change_of_duty_names_its_row(blankbook: Commands) -> None:
    """Two rows may have one program and one rate: class and origin tell which of them ends."""
    offered(blankbook, FAR)
    loaded(
        blankbook,
        "duties",
        "program,customs_class,origin,rate,from,until,source,checked_on\n"
        "general,6109.10,any,16.5%,,,a ruling,2026-03-01\n"
        "added,6109,CN,10%,2026-01-01,2026-05-01,a notice,2026-03-01\n",
    )
    remarks = prices(blankbook, "WREN-BLK-M", "--quantity", "120")["contenders"][0]["remarks"]
    said = "added 10% (class 6109, origin CN) is no longer charged from 2026-05-01 on"
    assert any(said in each for each in remarks)


@pytest.mark.parametrize(
    ("column", "said"),
    [
        ("order_cost", "the decision and the plan count it, compare --prices does not"),
        ("inland", "in freight_currency; the insured value is without it"),
    ],
)
def test_the_sheet_says_where_a_cost_counts(column: str, said: str) -> None:
    """Nobody can guess it."""
    assert said in QUOTE_COLUMNS[column]

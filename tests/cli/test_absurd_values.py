"""Values that no shop has are refused in words, and a dry run answers in the form that was asked for."""

from __future__ import annotations

from pathlib import Path

import pytest
from month_shop import MonthShop, month_shop
from typer.testing import CliRunner

from ledger.cli.common import check_number
from ledger.cli.main import app
from ledger.errors import UsageError

ITEMS = "sku,name,kind,unit,style,colour,size\nTEE-M,Plum tee,blank,each,Tee,Plum,M\n"
EVENTS = "date,event,sku,quantity,amount,party,reference\n2026-01-05,receive,TEE-M,40,80.00,Alder Yard,AY-1\n"


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> MonthShop:
    """A shop in February whose January, with one receipt in it, is closed."""
    made = month_shop(
        tmp_path_factory.mktemp("absurd"), ITEMS, "", "--first-month", "2026-01", today="2026-02-20"
    )
    made.post(EVENTS)
    made("close", "2026-01", "--yes")
    made("use", "TEE-M", "1", "--date", "2026-02-03", "--yes")
    return made


@pytest.mark.parametrize(
    "words",
    [
        ("stock", "--on", "9999-12-31"),
        ("stock", "--grid", "Tee", "--on", "9999-12-31"),
        ("plan", "--on", "9999-12-31"),
    ],
)
def test_a_day_thousands_of_years_ahead_is_a_slip(shop: MonthShop, words: tuple[str, ...]) -> None:
    """Days are counted on from a day that was typed, which the last days of the calendar leave no room for."""
    assert "'9999-12-31' is beyond 2999: correct the year." in shop.refused(*words)


def test_the_last_year_has_room_for_the_days_after_it(shop: MonthShop) -> None:
    """The latest day that is taken is one that every reckoning of days can be begun from."""
    assert "TEE-M" in shop("plan", "--on", "2999-12-31", "--all")


def test_no_number_of_days_is_refused(shop: MonthShop) -> None:
    """What Python reads as a number that is none lies in no range of days."""
    assert "'nan' is not a number of days" in shop.refused("plan", "--lead-days", "nan")


def test_more_than_a_book_can_hold_is_compared_by_nobody(shop: MonthShop) -> None:
    """A quantity with too many digits is refused as it is where goods are received."""
    said = shop.refused("compare", "--prices", "TEE-M", "--quantity", "99999999999999999999")
    assert "larger than a book can hold" in said


@pytest.mark.parametrize("month", ["2026-03", "9999-12"])
def test_a_month_to_come_has_nothing_to_show(shop: MonthShop, month: str) -> None:
    """A month the calendar has not reached is refused, however far it is away."""
    assert f"{month} has not begun" in shop.refused("close", month, "--show")


def test_a_book_that_is_ahead_of_the_clock_still_shows_its_months(shop: MonthShop) -> None:
    """A clock set back hides no month that has documents in it, or that is closed."""
    behind = MonthShop(shop.folder, "2025-12-24")
    assert behind.data("close", "2026-01", "--show")["month"] == "2026-01"
    assert behind.data("close", "2026-02", "--show")["month"] == "2026-02"


def test_a_dry_undo_answers_in_json(shop: MonthShop) -> None:
    """A script that tries an undo reads which document it would undo."""
    number = next(one["document"] for one in shop.data("history") if one["event"] == "use")
    found = shop.data("undo", str(number), "--why", "tried", "--dry-run")
    assert found == [{"document": None, "undoes": number}]


def test_a_dry_reopening_answers_in_json(shop: MonthShop) -> None:
    """A script that tries a reopening reads which months it would open."""
    found = shop.data("reopen", "2026-01", "--why", "tried", "--dry-run")
    assert found == {"document": None, "months": ["2026-01"], "undone": []}


def test_a_quantity_finer_than_the_book_counts_is_not_rounded_in_a_comparison(tmp_path: Path) -> None:
    """Half a thousandth is refused as it is in a posting, not shown as another quantity."""
    shop = month_shop(tmp_path, "sku,name,kind,unit\nINK,Ink,ink,mL\n", "", "--first-month", "2026-01")
    said = shop.refused("compare", "--prices", "INK", "--quantity", "0.0005")
    assert "finer than a thousandth" in said


def test_a_number_that_no_document_has_is_refused_for_a_charge(shop: MonthShop) -> None:
    """More digits than a document's number can have are told in words."""
    said = shop.refused("charge", "freight 5 by value", "--on", "99999999999999999999")
    assert "no document has such a number" in said


@pytest.mark.parametrize("more", [("--unit", "each"), ("--note", "x"), ("--json",)])
def test_a_sheet_to_fill_in_counts_nothing(shop: MonthShop, more: tuple[str, ...]) -> None:
    """What is typed to be counted is not dropped because a sheet was asked for as well."""
    said = shop.refused("count", "--sheet", str(shop.folder / "never.xlsx"), *more)
    assert ("posts nothing" in said, (shop.folder / "never.xlsx").exists()) == (True, False)


def test_an_item_beside_a_sheet_is_refused(shop: MonthShop) -> None:
    """A count is either posted, or a sheet for it is written."""
    said = shop.refused("count", "TEE-M", "5", "--sheet", str(shop.folder / "never.xlsx"))
    assert "posts nothing" in said


@pytest.mark.parametrize("more", [("--blind",), ("--kind", "ink"), ("--layout", "list"), ("--paper", "A4")])
def test_options_of_a_sheet_are_not_left_unused(shop: MonthShop, more: tuple[str, ...]) -> None:
    """How a sheet is written says nothing about an item that was counted."""
    assert "add --sheet FILE" in shop.refused("count", "TEE-M", "5", *more)


def test_a_unit_without_a_quantity_is_refused(shop: MonthShop) -> None:
    """A filled-in sheet says its units itself, and is not read in another one."""
    assert "--unit goes with an item" in shop.refused("count", "counted.csv", "--unit", "each")


def test_a_party_is_not_called_new_before_its_code_was_taught(shop: MonthShop) -> None:
    """A refusal leaves nothing behind, and nothing was said to be there."""
    words = ["--book", str(shop.book), "aliases", "add", "Fern Mill", "", "TEE-M"]
    said = CliRunner().invoke(app, words, env={"BLANKBOOK_TODAY": shop.today})
    assert (said.exit_code != 0, "was added" in said.output) == (True, False)
    assert "Fern Mill" not in shop("suppliers", "--json")


@pytest.mark.parametrize(
    "words",
    [
        ("review", "1", "--order"),
        ("aliases", "undo"),
        ("count", "counted.csv", "--opening", "--instead-of"),
    ],
)
def test_a_number_of_twenty_digits_belongs_to_nothing(shop: MonthShop, words: tuple[str, ...]) -> None:
    """A number that the file could not hold is refused before it is looked up."""
    assert "nothing in a book has the number" in shop.refused(*words, "99999999999999999999")


def test_no_number_is_longer_than_any_that_a_book_can_have() -> None:
    """SQLite holds 18 digits; 15 are more than a shop can write."""
    check_number(10**15, "--on")
    check_number(None, "--on")
    with pytest.raises(UsageError, match="--on: nothing in a book has the number 1000000000000001"):
        check_number(10**15 + 1, "--on")

"""The price comparison, the decision and the plan tell the same days for the same offer, and who says so."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from command_line import Runner, RunnerHere
from toured_shop import TOLD, copy_of_toured_shop

APRIL = {"BLANKBOOK_TODAY": "2026-04-02"}
HOME, FAR = "Tarnwick Blank Goods, Wren", "Nine Sparrows Knitting Mill, knit to order"
RATE = ("--rate", "CNY=0.1462")


@pytest.fixture
def shop(tmp_path: Path) -> Runner:
    """The tour's shop at the beginning of April."""
    return RunnerHere(tmp_path, copy_of_toured_shop(tmp_path / "shop") / TOLD.book, APRIL)


def data(shop: Runner, *words: str) -> dict[str, Any]:
    """Return what a command says as data."""
    done = shop(*words, *RATE, "--json")
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def told(shop: Runner, name: str) -> set[tuple[str, str]]:
    """Return the days of an offer and who says so, from each of the three commands that tells it."""
    goods = ("Wren", "--colour", "Heather Navy")
    offers = data(shop, "compare", "--prices", *goods, "--quantity", "600")["contenders"]
    offers += data(shop, "compare", *goods, "--futures", "50")["offers"]
    lines = [
        line
        for order in data(shop, "plan", "--kind", "blank")["orders"]
        for line in order["lines"]
        # An order that is due later is reckoned with what is closed then.
        if line["offer"] == name and line["item_order_by"] <= APRIL["BLANKBOOK_TODAY"]
    ]
    found = [each for each in offers if each["name"] == name]
    assert len(found) == 2
    assert lines or name == FAR
    return {(each["lead_time_days"], each["lead_time_from"]) for each in (*found, *lines)}


def test_the_days_of_an_offer_are_the_same_wherever_they_are_told(shop: Runner) -> None:
    """One own order is too few, and is told; three are the lead time; a closure stands on top of stated days."""
    assert told(shop, HOME) == {("4", "as the offer states")}
    assert told(shop, FAR) == {("55", "as the offer states (1 order of your own took 51; 3 would count)")}
    quotes = shop.folder / "closed.csv"
    quotes.write_text(
        "supplier,style,sizes,prices,terms,quoted_on,freight_per_order,free_above,lead_days,closures\n"
        "Tarnwick Blank Goods,Wren,S-XL,1 = 4.35; 72 = 3.85; 288 = 3.60,shipping point,2026-03-25,14.00,200,4,"
        "2026-04-03 to 2026-04-05\n",
        "utf-8",
    )
    assert shop("quotes", "load", str(quotes), "--yes").returncode == 0
    assert told(shop, HOME) == {("7", "as the offer states, closed days on top")}
    for day in (5, 6, 7):
        placed = shop(
            "order", "--line", "WREN-HNV-M 1 at 3.85", "--party", "Tarnwick Blank Goods", "--terms", "destination",
            "--reference", f"T-{day}", "--date", f"2026-03-{day:02d}", "--yes",
        )  # fmt: skip
        assert placed.returncode == 0, placed.stderr
        number = placed.stderr.split("Posted order ", 1)[1].split(".", 1)[0]
        arrived = ("--shipped-on", f"2026-03-{day + 1:02d}", "--date", f"2026-03-{day + 9:02d}")
        came = shop("receive", "--order", number, *arrived, "--yes")
        assert came.returncode == 0, came.stderr
    assert told(shop, HOME) == {("9", "from 3 orders of your own")}


def test_screens_say_who_says_the_days(shop: Runner) -> None:
    """In the price comparison and in the decision in the same sentence, in the plan with each order."""
    goods = ("Wren", "--colour", "Heather Navy", *RATE)
    sentence = (
        f"55 for {FAR}, as the offer states (1 order of your own took 51; 3 would count); 4 for {HOME}, as the offer "
        "states."
    )
    for words in (
        ("compare", "--prices", *goods, "--quantity", "600"),
        ("compare", *goods, "--futures", "50"),
    ):
        assert f"Days from order to shelf: {sentence}" in " ".join(shop(*words).stdout.split())
    plan = " ".join(shop("plan", *RATE).stdout.split())
    assert "4 days, give or take 1, as the offer states (no closures told)" in plan

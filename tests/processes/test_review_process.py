"""`compare --keep` and `review` as a maker runs them, on the sample shop: kept, ordered, arrived, looked back at."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from command_line import ROOT, Runner, RunnerHere
from toured_shop import TOLD, copy_of_toured_shop

EVENTS = """date,event,sku,quantity,amount,party,reference
2026-04-10,use,WREN-HNV-M,9,,,
2026-05-10,receive,WREN-HNV-L,24,87.60,Tarnwick Blank Goods,T-9
2026-05-12,use,WREN-HNV-L,30,,,
2026-06-12,use,WREN-HNV-M,30,,,
2026-06-22,spoil,WREN-HNV-L,2,,,
2026-07-05,sell,WREN-HNV-L,60,700.00,,
"""
On = Callable[[str], Runner]


@pytest.fixture(scope="module")
def on(tmp_path_factory: pytest.TempPathFactory) -> On:
    """The command in the sample shop's folder, on a day."""
    folder = tmp_path_factory.mktemp("shop")
    shutil.copyfile(ROOT / "samples" / "wren-study.toml", folder / "wren-study.toml")
    (folder / "events.csv").write_text(EVENTS, "utf-8")
    book = copy_of_toured_shop(folder / "shop") / TOLD.book
    return lambda day: RunnerHere(folder, book, {"BLANKBOOK_TODAY": day})


def well(run: Runner, *words: str) -> str:
    """Run a command that must end well; return its stdout."""
    done = run(*words)
    assert done.returncode == 0, (words, done.stderr)
    assert "Traceback" not in done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def reviewed(on: On) -> dict[str, Any]:
    """The study kept on 2 April, 600 ordered, shipped and received, some sold; the review of 1 September."""
    well(on("2026-04-02"), "compare", "wren-study.toml", "--keep", "--yes", "--why", "the summer markets")
    lines = [f"WREN-HNV-{size} {pieces} at 10.40" for size, pieces in (("M", 179), ("L", 323), ("XL", 98))]
    words = [word for line in lines for word in ("--line", line)]
    order = (
        "--party",
        "Nine Sparrows Knitting Mill",
        "--currency",
        "CNY",
        "--terms",
        "FOB Port Rellan",
        "--yes",
    )
    well(on("2026-04-07"), "order", *words, *order)
    well(on("2026-05-20"), "ship", "97", "--date", "2026-05-12", "--rate", "0.1480", "--yes")
    duty = (
        "--charge",
        "duty 34% by value",
        "--charge",
        "freight 230.00 by weight",
        "--charge",
        "brokerage 140.00 by value",
    )
    well(on("2026-06-12"), "receive", "--order", "97", "--date", "2026-06-10", *duty, "--yes")
    well(on("2026-09-01"), "post", "events.csv", "--yes")
    found: dict[str, Any] = json.loads(well(on("2026-09-01"), "review", "1", "--json"))
    return found


def test_what_came_of_the_order(reviewed: dict[str, Any]) -> None:
    """600 ordered and received after 64 days, at what the bills say, worked out here apart from the program."""
    came, expected = reviewed["came"], reviewed["expected"]
    assert (expected["quantity"], expected["supplier"]) == ("600", "Nine Sparrows Knitting Mill")
    assert (came["received"], came["lead_time_days"]) == ("600", "64")
    goods = 6240 * 0.1480
    assert float(came["landed_unit_cost"]) == pytest.approx((goods * 1.34 + 370) / 600, abs=0.0001)


def test_the_saving_so_far_adds_up(reviewed: dict[str, Any]) -> None:
    """What at home would have cost less what left; 4 M and 4 L of the old stock went first, the 2 spoiled among them."""
    saving = reviewed["came"]["saving"]
    assert (saving["home_unit_cost"], saving["home_unit_cost_from"]) == (
        "3.650000",
        "as paid there since for 24",
    )
    assert (saving["wanted"], saving["lost"]) == ("84", "0")
    assert float(saving["saved"]) == pytest.approx(
        float(saving["at_home"]) - float(saving["landed_of_what_left"]), abs=0.001
    )
    assert float(saving["at_home"]) == pytest.approx(84 * 3.65, abs=0.001)


def test_the_screen_says_what_is_open_and_decided_again(on: On, reviewed: dict[str, Any]) -> None:
    """In words, with the same figures as the JSON; nothing but the result on stdout."""
    told = " ".join(well(on("2026-09-01"), "review", "1").split())
    assert "Still open: the rest of the 52 weeks it looked ahead." in told
    assert f"saved so far {reviewed['came']['saving']['saved']}" in told
    assert (
        f"Decided again: {'the same again' if reviewed['again']['is_same'] else reviewed['again']['verdict']}"
        in told
    )
    table = well(on("2026-09-01"), "review")
    assert table.startswith("decision")


def test_the_book_proves_with_a_decision_in_it(on: On, reviewed: dict[str, Any]) -> None:
    """And what else was in it."""
    assert reviewed["decision"] == 1
    assert "The book is whole" in well(on("2026-09-01"), "prove")


def test_words_where_there_is_nothing(tmp_path: Path) -> None:
    """No book, no such decision: a message and an exit code."""
    done = RunnerHere(tmp_path)("review")
    assert done.returncode != 0
    assert "no book was named" in done.stderr
    assert "Traceback" not in done.stderr

"""The real command plans what the sample shop has to order, as the guide shows it, and places an order."""

from __future__ import annotations

import json
import math
import shlex
from pathlib import Path

import pytest
from command_line import Runner, RunnerHere
from toured_shop import TOLD, copy_of_toured_shop

APRIL = {"BLANKBOOK_TODAY": "2026-04-02"}


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Runner:
    """The tour's shop at the beginning of April."""
    folder = tmp_path_factory.mktemp("plan")
    return RunnerHere(folder, copy_of_toured_shop(folder / "shop") / TOLD.book, APRIL)


def test_the_sample_shop_is_planned_ordered_from_and_planned_again(shop: Runner) -> None:
    """Each supplier's lines, the most urgent first; after the order its goods are under way and not planned again."""
    done = shop("plan", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    data = json.loads(done.stdout)
    days = [order["order_by"] for order in data["orders"]]
    assert days == sorted(days)
    assert {order["supplier"] for order in data["orders"]} >= {
        "Tarnwick Blank Goods",
        "Dunnoway Craft Supply",
    }
    for order in data["orders"]:
        for line in order["lines"]:
            assert all(math.isfinite(float(line[key])) for key in ("per_day", "reorder_point", "quantity"))
            assert line["why"]
    placed = shop("plan", "--order", "Tarnwick Blank Goods", "--yes")
    assert placed.returncode == 0, placed.stderr
    assert "Posted order" in placed.stderr
    again = json.loads(shop("plan", "--json").stdout)
    assert "Tarnwick Blank Goods" not in {order["supplier"] for order in again["orders"]}
    assert shop("prove").returncode == 0


def test_consumables_are_planned_in_their_packs(shop: Runner) -> None:
    """Vinyl by the roll, powder by the bag although most of what is there expires unused."""
    data = json.loads(shop("plan", "--json").stdout)
    lines = {line["sku"]: line for order in data["orders"] for line in order["lines"]}
    assert (lines["VIN-WHT"]["unit"], lines["VIN-WHT"]["pack"]) == ("cm2", "roll")
    assert lines["POW-MED"]["expires_unused"]
    assert lines["POW-MED"]["pack"] == "bag"


def test_an_order_in_packs_says_so_before_and_after(shop: Runner, tmp_path: Path) -> None:
    """Six rolls and what they hold, in the preview and in the order; then the command that receives it works."""
    copy = tmp_path / "copy.blankbook"
    assert shop.book is not None
    copy.write_bytes(shop.book.read_bytes())
    run = RunnerHere(tmp_path, copy, APRIL)
    placed = run("plan", "--order", "dunnoway", "--yes")
    number = placed.stderr.split("Posted order ", 1)[1].split(".", 1)[0]
    for said in (placed.stdout, run("order", number).stdout):
        (row,) = [text for text in said.splitlines() if "VIN-WHT" in text]
        assert "6 roll (82,219.19 cm2)" in row
        assert "165.00" in row
    hint = placed.stderr.split("When it has arrived: ", 1)[1].split(" (", 1)[0]
    words = shlex.split(hint)
    received = run(*words[words.index("receive") :], "--yes")
    assert (received.returncode, "is complete" in received.stderr) == (0, True), received.stderr


def test_what_is_piped_is_plain(shop: Runner) -> None:
    """No bars and no colours where no terminal is."""
    said = shop("plan", "--all").stdout
    assert "\x1b" not in said
    assert "█" not in said
    assert "nothing now" in said
    assert max(len(text) for text in said.splitlines() if not text.startswith("Place it")) <= 110
    assert "Where 'order by' is blank, nothing has to be ordered within 400 days." in said
    assert "The chance rests on 31 days of history" in said


def test_nobody_to_ask_posts_nothing(shop: Runner, tmp_path: Path) -> None:
    """Without --yes and without a terminal an order is refused."""
    copy = tmp_path / "copy.blankbook"
    assert shop.book is not None
    copy.write_bytes(shop.book.read_bytes())
    run = RunnerHere(tmp_path, copy, APRIL)
    refused = run("plan", "--order", "Dunnoway Craft Supply")
    assert (refused.returncode, "nobody to ask" in refused.stderr) == (1, True)
    assert "order by" in run("plan").stdout

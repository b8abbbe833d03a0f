"""A worked month of our own through the real command: opening stock, receipts, a job, sales, a count.

The month before is not in the book: what came of it, with the late freight on it, is opening stock.
"""

from __future__ import annotations

import json
from typing import Any

import pytest
from command_line import Runner, RunnerHere
from month_shop import WORKED_BILLS, WORKED_EVENTS, WORKED_ITEMS


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Runner:
    """A book with the month in it, posted as one sheet."""
    folder = tmp_path_factory.mktemp("month")
    run = RunnerHere(folder, folder / "shop.blankbook")
    for name, text in (
        ("items.csv", WORKED_ITEMS),
        ("bills.csv", WORKED_BILLS),
        ("events.csv", WORKED_EVENTS),
    ):
        (folder / name).write_text(text, encoding="utf-8")
    for words in (
        ("start", "--name", "Worked month", "--currency", "USD", "--first-month", "2026-03", "--yes"),
        ("items", "load", "items.csv", "--yes"),
        ("boms", "load", "bills.csv", "--yes"),
        ("post", "events.csv", "--yes"),
    ):
        done = run(*words)
        assert done.returncode == 0, done.stderr
    return run


def answer(run: Runner, *words: str) -> Any:
    """The JSON of a reading command."""
    done = run(*words, "--json")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def document(run: Runner, event: str) -> dict[str, Any]:
    """The only document of an event, with its legs."""
    numbers = [one["document"] for one in answer(run, "history") if one["event"] == event]
    assert len(numbers) == 1
    shown: dict[str, Any] = answer(run, "show", str(numbers[0]))
    return shown


def amounts(shown: dict[str, Any], account: str, sku: str = "") -> list[str]:
    """The amounts a document brings to an account, leg by leg."""
    return [
        leg["amount"] for leg in shown["legs"] if leg["account"] == account and (not sku or leg["sku"] == sku)
    ]


def test_freight_of_the_month_is_in_the_landed_costs(run: Runner) -> None:
    """22.20 and 10.00 by value: 204.60 and 39.60, then 77.00 and 13.20."""
    landed = {
        (lot["sku"], lot["received_on"]): lot["landed_cost"]
        for lot in answer(run, "lots", "--all")
        if lot["party"]
    }
    assert landed == {
        ("TEE", "2026-03-03"): "204.60",
        ("VIN", "2026-03-03"): "39.60",
        ("TEE", "2026-03-10"): "77.00",
        ("PAPER", "2026-03-10"): "13.20",
    }


def test_cleaner_goes_straight_to_supplies(run: Runner) -> None:
    """18.00 with 1.80 of the freight, never in stock."""
    history = answer(run, "history")
    receipts = [one["document"] for one in history if one["event"] in ("receipt", "charge")]
    supplies = [
        amount for number in receipts for amount in amounts(answer(run, "show", str(number)), "supplies")
    ]
    assert (supplies, "CLEANER" in {row["sku"] for row in answer(run, "stock")}) == (["18.00", "1.80"], False)


@pytest.mark.parametrize(
    ("event", "account", "expected"),
    [
        ("own use", "own use", ["3.20"]),
        ("sample", "samples", ["5.20"]),
        ("sale", "pieces sold", ["46.80", "180.00"]),
        ("take back", "pieces sold", ["-5.00"]),
        ("count", "count differences", ["6.82"]),
        ("make", "labour", ["-19.86"]),
        ("make", "spoilage", ["5.00"]),
        ("make", "made", ["0.00"]),
    ],
)
def test_what_left_in_the_month(run: Runner, event: str, account: str, expected: list[str]) -> None:
    """Each document costs what the worked month says."""
    assert amounts(document(run, event), account) == expected


@pytest.mark.parametrize(("sku", "cents"), [("TEE", 17595), ("VIN", 5366), ("PAPER", 553)])
def test_the_job_takes_54_sets(run: Runner, sku: str, cents: int) -> None:
    """50 good, 1 abnormal and 3 normal pieces use 175.95 of shirts, 53.66 of vinyl, 5.53 of paper."""
    taken = amounts(document(run, "make"), "on hand", sku)
    assert sum(int(amount.replace(".", "")) for amount in taken) == -cents


def test_the_job_costs_five_a_piece(run: Runner) -> None:
    """255.00 over 51 pieces come onto the shelf, and one of them leaves as spoilage."""
    assert amounts(document(run, "make"), "on hand", "FIN-M") == ["255.00", "-5.00"]


def test_month_ends_with_what_is_left(run: Runner) -> None:
    """TEE 223.63, VIN 5.94, FIN 75.00, PAPER 12.67."""
    stock = {row["sku"]: (row["quantity"], row["value"]) for row in answer(run, "stock")}
    assert stock == {
        "TEE": ("63", "223.63"),
        "VIN": ("6", "5.94"),
        "FIN-M": ("15", "75.00"),
        "PAPER": ("96", "12.67"),
    }


def test_the_book_of_the_month_is_whole(run: Runner) -> None:
    """Every invariant holds, and the second engine gives the same legs."""
    assert answer(run, "prove")["ok"]

"""`blankbook compare`: the sentence, the tables, the JSON contract, the same digits every time."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from ledger.carried import carried
from ledger.cli.main import app
from ledger.errors import BlankbookError

CASE = """
currency = "USD"
[demand]
per_year = 600
sd_per_month = 0
[money]
capital_per_year = 0.20
cost_per_order = "8"
[[offer]]
name = "Bags"
breaks = [{from = 1, price = "0.30"}, {from = 500, price = "0.29"}, {from = 1000, price = "0.28"}]
"""

OFFER_KEYS = {
    "name", "origin", "order_quantity", "quantity_by_size", "landed_unit_cost", "cost_per_unit_sold",
    "lead_time_days", "reorder_point", "safety_stock", "orders_per_year", "annual",
}  # fmt: skip
ALTERNATIVE_KEYS = {
    "name", "quantities", "expected_saving", "standard_error", "probability_cheaper", "worst_tenth",
    "leftover_units", "weeks_of_cover", "cash_peak", "payback_weeks",
}  # fmt: skip
ANNUAL_KEYS = {
    "goods", "freight_duty_fees", "ordering", "holding", "pipeline", "leftovers", "shortage", "total",
}  # fmt: skip


def compare(*words: str) -> str:
    """What the command prints."""
    done = CliRunner().invoke(
        app, ["compare", *words], env={"BLANKBOOK_TODAY": "2026-11-24"}, catch_exceptions=False
    )
    assert done.exit_code == 0, done.output
    return done.stdout


def template(*words: str) -> str:
    """What it prints for the study that comes along."""
    return compare(str(carried("imports", "study.toml")), "--futures", "400", *words)


def data(*words: str) -> dict[str, Any]:
    """The JSON document of that study."""
    answer: dict[str, Any] = json.loads(template("--json", *words))
    return answer


def written(folder: Path, text: str) -> str:
    """A study as a file."""
    path = folder / "case.toml"
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_the_sentence_comes_first() -> None:
    """The verdict, how many of each size, where the rest comes from, what it saves and ties up."""
    first = template().splitlines()[0]
    assert first.startswith("BASE AND TOP-UP: buy ")
    for words in (
        "from Overseas mill (S ",
        "top up at Marlbrook Tees",
        "expected to save",
        "ties up at most",
    ):
        assert words in first


def test_the_contract_of_the_json() -> None:
    """Every key of the contract is there."""
    answer = data()
    assert {
        "currency", "horizon_months", "offers", "alternatives", "verdict", "reasons", "break_even", "order_by",
        "value_of_waiting", "sensitivity",
    } <= set(answer)  # fmt: skip
    assert all(set(offer) >= OFFER_KEYS and set(offer["annual"]) == ANNUAL_KEYS for offer in answer["offers"])
    assert [each["name"] for each in answer["alternatives"]] == ["domestic", "bulk", "base and top-up"]
    assert all(set(each) >= ALTERNATIVE_KEYS for each in answer["alternatives"])
    assert set(answer["break_even"]) == {
        "units_per_month", "landed_unit_cost", "domestic_unit_price", "quantity_from", "quantity_to",
    }  # fmt: skip
    assert all(set(each) == {"weeks", "value"} for each in answer["value_of_waiting"])
    assert {each["assumption"] for each in answer["sensitivity"]} >= {"demand per month", "landed unit cost"}


def test_figures_add_up() -> None:
    """A year's parts make its total to a cent or two, sizes their order."""
    for offer in data()["offers"]:
        parts = [float(value) for part, value in offer["annual"].items() if part != "total"]
        assert sum(parts) == pytest.approx(float(offer["annual"]["total"]), abs=0.04)
        assert sum(map(int, offer["quantity_by_size"].values())) == int(offer["order_quantity"])


def test_the_same_seed_prints_the_same_digits() -> None:
    """Twice the same; another seed draws other futures."""
    assert template("--seed", "5") == template("--seed", "5")
    assert data("--seed", "5") != data("--seed", "6")


def test_explain_prints_formulas_with_numbers_and_sources() -> None:
    """Landed parts, the screen, the ratio, the reorder point by formula and by simulation."""
    text = template("--explain")
    for words in (
        "How it was worked out",
        "S(Q) = B Q - F - A Q²",
        "critical ratio",
        "Source: Chopra",
        "duty",
    ):
        assert words in text
    assert "nan" not in text


# Source: Nahmias, Production and Operations Analysis, example 4.4; partly from memory.
def test_a_published_example_through_the_command(tmp_path: Path) -> None:
    """500 at a time for 198.10 a year."""
    answer = json.loads(compare(written(tmp_path, CASE), "--json"))
    offer = answer["offers"][0]
    assert (offer["order_quantity"], offer["annual"]["total"]) == ("500", "198.10")
    assert (answer["verdict"], answer["futures"]) == ("DOMESTIC", 1)


def test_a_wrong_study_is_told_and_not_compared(tmp_path: Path) -> None:
    """One message with every problem, as the command line prints it."""
    path = written(tmp_path, CASE.replace("per_year", "per_yr"))
    with pytest.raises(BlankbookError, match="Did you mean") as caught:
        compare(path)
    assert "nothing was compared" in str(caught.value)


def test_nothing_is_drawn_where_nothing_is_uncertain(tmp_path: Path) -> None:
    """It is said that there is no chance in it."""
    assert "no chance" in compare(written(tmp_path, CASE))


def test_no_figure_is_left_empty_or_endless() -> None:
    """Nothing prints as nan or inf."""
    text = template("--json")
    assert "NaN" not in text
    assert "Infinity" not in text

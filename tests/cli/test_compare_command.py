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
    first = " ".join(template().split("\n\n")[0].split())
    assert first.startswith("BASE AND TOP-UP: buy ")
    for words in (
        "from Overseas mill (S ",
        "top up at Marlbrook Tees",
        "expected to save",
        "ties up at most",
    ):
        assert words in first


def test_no_sentence_is_wider_than_people_read() -> None:
    """What is no table stays within a hundred columns."""
    prose = [part for part in template().split("\n\n") if "---" not in part]
    assert max(len(line) for part in prose for line in part.splitlines()) <= 100
    assert "\n" not in data()["sentence"]


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


def test_the_screen_knows_no_more_than_the_horizon(tmp_path: Path) -> None:
    """Certain demand and no horizon would buy for five years; that quantity is not printed as a best."""
    text = (
        "[demand]\nper_month = 60\nsd_per_month = 0\n[money]\ncapital_per_year = 0.1\n"
        '[[offer]]\nname = "Here"\nbreaks = [{price = "4"}]\nlead_time = {mean_days = 0}\n'
        '[[offer]]\nname = "Far"\norigin = "VN"\nbreaks = [{price = "2"}]\ncost_per_order = "100"\n'
        'duty = [{rate = 0, checked = 2026-11-20}]\nlead_time = {mean_days = 0}\nterms = "FOB"\n'
    )
    told = " ".join(compare(written(tmp_path, text), "--explain").split())
    assert "Its best quantity lies beyond the 720 asked for in the 12 months" in told


def test_goods_that_are_no_pieces_are_told_in_their_unit(tmp_path: Path) -> None:
    """A price is per mL, a bottle has a plural."""
    ink = compare(written(tmp_path, 'unit = "mL"\n' + CASE))
    assert "500 mL at a time" in ink
    assert "per mL with" in " ".join(ink.split())
    bottles = " ".join(compare(written(tmp_path, 'unit = "bottle"\n' + CASE)).split())
    assert "500 bottles at a time" in bottles
    assert "a bottle with" in bottles
    assert "piece" not in ink + bottles


# Source: Nahmias, Production and Operations Analysis, example 4.4; partly from memory.
def test_a_published_example_through_the_command(tmp_path: Path) -> None:
    """500 at a time for 198.10 a year."""
    answer = json.loads(compare(written(tmp_path, CASE), "--json"))
    offer = answer["offers"][0]
    assert (offer["order_quantity"], offer["annual"]["total"]) == ("500", "198.10")
    assert (answer["verdict"], answer["futures"]) == ("DOMESTIC", 1)


SHOP = """
[demand]
history = [20, 30, 25]
days_out_of_stock = [15, 0, 10]
days_outside = [0, 0, 5.4]
sizes = {S = 0.25, M = 0.75}
on_hand = {S = 20, M = 5}
[[offer]]
name = "Here"
breaks = [{from = 1, price = "4"}]
cost_per_order = "9"
lead_time = {mean_days = 4}
"""


def test_the_demand_that_is_counted_with_is_told(tmp_path: Path) -> None:
    """Beside what really left: without the days outside the records, but with those without stock."""
    path = written(tmp_path, SHOP)
    answer = json.loads(compare(path, "--futures", "50", "--json"))
    # 75 in 3 - 5.4 / 30.4 months left; they were there to leave in 2 of them only.
    assert answer["demand"]["left_per_month"] == "26.57"
    assert float(answer["demand"]["per_month"]) == pytest.approx(75.5 / 2.0, rel=0.01)
    text = " ".join(compare(path, "--futures", "50").split())
    assert (
        "a month; 26.6 a month really left; the difference is days without stock (if you buy to order" in text
    )
    bought_to_order = SHOP.replace("days_out_of_stock = [15, 0, 10]", "days_out_of_stock = 0")
    plain = json.loads(compare(written(tmp_path, bought_to_order), "--futures", "50", "--json"))
    assert float(plain["demand"]["per_month"]) == pytest.approx(26.57, rel=0.02)


def test_what_is_bought_at_home_is_told_by_size(tmp_path: Path) -> None:
    """The S that are there already are taken into account; both ways of reading agree."""
    path = written(tmp_path, SHOP)
    answer = json.loads(compare(path, "--futures", "50", "--json"))
    small, medium = (int(answer["home_order"][size]) for size in ("S", "M"))
    assert small + medium == int(answer["offers"][0]["order_quantity"])
    assert (small + 20) * 3 == pytest.approx(medium + 5, abs=4)
    row = next(
        line for line in compare(path, "--futures", "50").splitlines() if line.startswith("an order at home")
    )
    assert row.split()[-3:] == [str(small), str(medium), str(small + medium)]


def test_the_top_up_is_told_by_size() -> None:
    """Base and top-up says how many of each size are to be expected from home."""
    assert set(data()["top_up"]) == {"S", "M", "L", "XL", "2XL"}
    assert any(line.startswith("top up, about") for line in template().splitlines())


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

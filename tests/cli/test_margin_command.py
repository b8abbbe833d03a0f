"""`blankbook margin`: tables for people, one JSON document for scripts, wrong options refused."""

from __future__ import annotations

import pytest
from month_shop import WORKED_BILLS, WORKED_EVENTS, WORKED_ITEMS, MonthShop, month_shop


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> MonthShop:
    """The worked month."""
    shop = month_shop(
        tmp_path_factory.mktemp("margin"), WORKED_ITEMS, WORKED_BILLS, "--first-month", "2026-03"
    )
    shop.post(WORKED_EVENTS)
    return shop


def test_the_worked_month_as_data(shop: MonthShop) -> None:
    """44 shirts for 880.00 that cost 221.80; one unusual and three usual misprints of 54; 6.82 not found."""
    found = shop.data("margin")
    assert (found["from"], found["to"], found["by"], found["currency"]) == (
        "2026-03-01",
        "2026-03-31",
        "design",
        "USD",
    )
    (row,) = found["rows"]
    assert row == {
        "design": "FIN",
        "name": "Finished shirt",
        "pieces": "44",
        "revenue": "880.00",
        "shipping": "0.00",
        "fees": "0.00",
        "cost": "221.80",
        "left": "658.20",
        "percent": "74.8",
    }
    (misprint,) = found["misprints"]
    assert (misprint["pieces"], misprint["normal"], misprint["abnormal"], misprint["percent"]) == (
        "54",
        "3",
        "1",
        "7.41",
    )
    (shrinkage,) = found["shrinkage"]
    assert (shrinkage["kind"], shrinkage["count_differences"]) == ("blank", "6.82")


def test_the_worked_month_as_tables(shop: MonthShop) -> None:
    """Every table under its heading, with what is left and what it leaves out."""
    out = shop("margin", "--by", "way", "--slow", "10")
    for words in (
        "heat transfer vinyl",
        "658.20",
        "74.8",
        "Postage you paid",
        "Misprints",
        "Shrinkage",
        "10 days",
    ):
        assert words in out


def test_a_time_without_anything_says_so(shop: MonthShop) -> None:
    """Two days in which nothing happened yet."""
    assert shop("margin", "--to", "2026-03-02").strip() == "Nothing was sold, made or counted in this time."


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--by", "colour"), "design, way, sku"),
        (("--from", "2026-03-05", "--to", "2026-03-04"), "is after the last"),
    ],
)
def test_wrong_options_are_refused(words: tuple[str, ...], said: str, shop: MonthShop) -> None:
    """Naming what may be typed."""
    assert said in shop.refused("margin", *words)

"""`blankbook compare --prices` and `--afterwards` in this process: offers beside what was paid."""

from __future__ import annotations

from pathlib import Path

import pytest
from price_shop import FAR, HEAD, HOME, RATES, loaded, offered, price_shop, prices, received
from small_shop import Commands


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The commands with a book that has a catalogue, run in an empty folder."""
    return price_shop(tmp_path, monkeypatch)


def test_past_receipts_stand_beside_offers(blankbook: Commands) -> None:
    """At their landed cost, and as many are compared as came last."""
    offered(blankbook, HOME)
    received(
        blankbook, "--sku", "WREN-BLK-M", "--quantity", "48", "--amount", "180", "--party", "Old Mill",
        "--date", "2026-02-01", "--charge", "freight 12",
    )  # fmt: skip
    data = prices(blankbook, "WREN-BLK-M")
    assert (data["quantity"], data["quantity_from"]) == ("48", "as many as came last time")
    assert [(each["name"], each["kind"], each["landed_per_unit"]) for each in data["contenders"]] == [
        ("Mill Lane, Wren", "quote", "4.100000"),
        ("Old Mill", "paid", "4.000000"),
    ]
    assert "The least that was paid: 4.0000 landed" in data["why"]


def test_past_receipts_stand_in_a_table_of_their_own(blankbook: Commands) -> None:
    """They are no offer of today and have no rank."""
    offered(blankbook, HOME)
    received(
        blankbook, "--sku", "WREN-BLK-M", "--quantity", "48", "--amount", "180", "--party", "Old Mill",
        "--date", "2026-02-01",
    )  # fmt: skip
    out = blankbook("compare", "--prices", "WREN-BLK-M").out
    paid = out.split("Paid before:\n")[1].splitlines()[2]
    assert paid.startswith("Old Mill ")


def test_a_receipt_for_next_to_nothing_does_not_lengthen_the_figures(blankbook: Commands) -> None:
    """Six decimals are for what costs next to nothing, not for what once came nearly free."""
    offered(blankbook, HOME)
    received(
        blankbook, "--sku", "WREN-BLK-M", "--quantity", "2", "--amount", "0.01", "--party", "Kind Mill",
        "--date", "2026-02-01",
    )  # fmt: skip
    assert "4.1000 each landed" in prices(blankbook, "WREN-BLK-M", "--quantity", "2")["why"]


def test_afterwards_the_offer_is_held_against_the_bill(blankbook: Commands) -> None:
    """Expected by the offer of its time, at the day's duty; what it was, by kind."""
    offered(blankbook, FAR)
    loaded(blankbook, "duties", RATES)
    received(
        blankbook, "--sku", "WREN-BLK-M", "--quantity", "120", "--amount", "216", "--party", "Sparrow Mill",
        "--date", "2026-03-01", "--charge", "freight 180", "--charge", "duty 35.64", "--charge",
        "brokerage 140",
    )  # fmt: skip
    (found,) = blankbook("compare", "--afterwards", "--json").data
    assert (found["expected"], found["actual"]) == ("544.33", "571.64")
    assert {each["kind"]: (each["expected"], each["actual"]) for each in found["by_kind"]} == {
        "goods": ("216.00", "216.00"),
        "freight": ("150.00", "180.00"),
        "duty": ("35.64", "35.64"),
        "entry_fee": ("2.69", "0.00"),
        "brokerage": ("140.00", "140.00"),
    }
    assert "+5.0%" in blankbook("compare", "--afterwards").out


def test_afterwards_only_offers_of_that_time_count(blankbook: Commands) -> None:
    """An offer quoted after the goods came says nothing about them."""
    offered(blankbook, HOME.replace("2026-01-01", "2026-03-15"))
    received(
        blankbook, "--sku", "WREN-BLK-M", "--quantity", "10", "--amount", "40", "--party", "Mill Lane",
        "--date", "2026-03-01",
    )  # fmt: skip
    assert blankbook("compare", "--afterwards", "--json").data == []


def test_afterwards_says_why_nothing_was_expected(blankbook: Commands) -> None:
    """Without a duty rate the foreign offer predicts nothing."""
    offered(blankbook, FAR)
    received(
        blankbook, "--sku", "WREN-BLK-M", "--quantity", "120", "--amount", "216", "--party", "Sparrow Mill",
        "--date", "2026-03-01",
    )  # fmt: skip
    (found,) = blankbook("compare", "--afterwards", "--json").data
    assert (found["expected"], "unknown is not free" in found["problem"]) == (None, True)


def test_a_claim_stands_apart_from_the_goods(blankbook: Commands) -> None:
    """Expected back are half of two per cent; the goods themselves cost what was offered."""
    loaded(blankbook, "quotes", f"{HEAD},defects,claim_returns\n{HOME},2%,50%\n")
    received(
        blankbook, "--sku", "WREN-BLK-M", "--quantity", "100", "--amount", "360", "--party", "Mill Lane",
        "--date", "2026-02-01",
    )  # fmt: skip
    (found,) = blankbook("compare", "--afterwards", "--json").data
    assert [(each["kind"], each["expected"], each["actual"]) for each in found["by_kind"]] == [
        ("goods", "360.00", "360.00"),
        ("claim for defects", "-3.60", "0.00"),
    ]

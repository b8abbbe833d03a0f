"""`blankbook compare --prices` in this process: what an offer costs landed, with freight, currency, duty and fees."""

from __future__ import annotations

from pathlib import Path

import pytest
import small_shop
from price_shop import FAR, HEAD, HOME, ITEMS, RATES, loaded, offered, price_shop, prices, received, register
from small_shop import Commands, new_book


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The commands with a book that has a catalogue, run in an empty folder."""
    return price_shop(tmp_path, monkeypatch)


def test_freight_by_the_kilogram_takes_the_item_s_weight(blankbook: Commands) -> None:
    """150 g each, 100 pieces, 2 dollars a kilogram: 30."""
    offered(blankbook, "Near,,,Wren,,1.00,,USD,,,,,,,,2,,,,")
    part = prices(blankbook, "WREN-BLK-M", "--quantity", "100")["contenders"][0]["parts"][1]
    assert part == {"name": "freight", "amount": "30.00", "how": "15 kg"}


def test_freight_by_the_kilogram_without_a_weight_is_told(blankbook: Commands) -> None:
    """The item is named, and what to do."""
    offered(blankbook, "Near,,PAPER,,,14.90,pack,USD,,,,,,,,2,,,,")
    assert "no weight is known for PAPER" in str(blankbook("compare", "--prices", "PAPER").error)


def test_a_foreign_currency_takes_the_rate_typed(blankbook: Commands) -> None:
    """And says where it was taken from."""
    offered(blankbook, HOME.replace("USD", "CNY"))
    data = prices(blankbook, "WREN-BLK-M", "--quantity", "10", "--rate", "CNY=0.14")
    assert (data["contenders"][0]["total"], data["rates"]["CNY"]["source"]) == ("5.74", "as typed")


def test_a_currency_without_any_rate_is_left_out(blankbook: Commands) -> None:
    """The reference rates carry no Bangladeshi taka, and none was ever paid."""
    offered(blankbook, HOME.replace("USD", "BDT"))
    assert "Type the rate: --rate BDT=" in str(blankbook("compare", "--prices", "WREN-BLK-M").error)


def test_the_last_rate_paid_serves_where_nothing_was_published(blankbook: Commands) -> None:
    """Of the latest bill in that currency."""
    offered(blankbook, HOME.replace("USD", "BDT"))
    received(
        blankbook, "--sku", "WREN-BLK-S", "--quantity", "1", "--amount", "100", "--party", "Dhaka",
        "--date", "2026-02-01", "--currency", "BDT", "--rate", "0.0082",
    )  # fmt: skip
    rate = prices(blankbook, "WREN-BLK-M", "--quantity", "10")["rates"]["BDT"]
    assert (rate["rate"], rate["source"]) == ("0.0082", "paid on 2026-02-01, document 1")


def test_the_cautions_are_said_once(blankbook: Commands) -> None:
    """However many offers come from abroad."""
    offered(blankbook, HOME, FAR, FAR.replace("Sparrow", "Finch"))
    loaded(blankbook, "duties", RATES)
    out = blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "120").out
    assert out.count("not customs or tax advice") == 1


def test_a_sample_is_paid_only_before_the_first_order(blankbook: Commands) -> None:
    """Once something came from them, no more."""
    head = f"{HEAD},sample"
    loaded(blankbook, "quotes", f"{head}\n{HOME},25.00\n")
    first = prices(blankbook, "WREN-BLK-M", "--quantity", "10")["contenders"][0]["total"]
    received(
        blankbook, "--sku", "PAPER", "--unit", "pack", "--quantity", "1", "--amount", "9", "--party",
        "Mill Lane", "--date", "2026-02-01",
    )  # fmt: skip
    later = prices(blankbook, "WREN-BLK-M", "--quantity", "10")["contenders"][0]["total"]
    assert (first, later) == ("66.00", "41.00")


def test_lead_times_are_told(blankbook: Commands) -> None:
    """As the offer states them, while the shop has no orders of its own."""
    offered(blankbook, HOME)
    assert prices(blankbook, "WREN-BLK-M", "--quantity", "10")["contenders"][0]["lead_time_days"] == 4


def test_a_shop_elsewhere_is_told_that_its_entry_fees_are_not_known(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The table has those of the United States only."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    monkeypatch.setitem(small_shop.SHOP, "country", "CA")
    commands = Commands(register, new_book(tmp_path / "canada.blankbook"))
    loaded(commands, "items", ITEMS)
    offered(commands, FAR)
    loaded(commands, "duties", RATES)
    out = commands("compare", "--prices", "WREN-BLK-M", "--quantity", "120").out
    assert ("no entry fees are counted" in out, "processing fee" in out) == (True, False)


LAYERS = (
    "program,customs_class,origin,rate,from,until,source,checked_on\n"
    "general,6109.10,any,16.5%,,,a ruling,2026-03-01\n"
    "added,6109,CN,10%,2026-01-01,2026-05-01,a notice,2026-03-01\n"
)


def test_each_offer_enters_its_own_lead_time_from_today(blankbook: Commands) -> None:
    """Forty-five days on the added layer has ended; that is said, and --entry sets another day."""
    offered(blankbook, FAR)
    loaded(blankbook, "duties", LAYERS)
    words = ("WREN-BLK-M", "--quantity", "120")
    offer = prices(blankbook, *words)["contenders"][0]
    assert (offer["entry_date"], {part["name"]: part["amount"] for part in offer["parts"]}["duty"]) == (
        "2026-05-15",
        "35.64",
    )
    assert "added 10 % is no longer charged from 2026-05-01 on" in offer["remarks"][0]
    early = prices(blankbook, *words, "--entry", "2026-04-01")["contenders"][0]
    assert {part["name"]: part["amount"] for part in early["parts"]}["duty"] == "57.24"
    assert not [each for each in early["remarks"] if "no longer charged" in each]


def test_without_a_lead_time_duty_is_said_to_be_today_s(blankbook: Commands) -> None:
    """Nobody knows when the goods come."""
    offered(blankbook, FAR.replace(",140,45,", ",140,,"))
    loaded(blankbook, "duties", RATES)
    offer = prices(blankbook, "WREN-BLK-M", "--quantity", "120")["contenders"][0]
    assert (offer["entry_date"], "no lead time is stated" in offer["remarks"][0]) == ("2026-03-31", True)


def test_entry_fees_name_their_source_once(blankbook: Commands) -> None:
    """With the offers that pay them."""
    offered(blankbook, FAR, FAR.replace("Sparrow", "Finch"))
    loaded(blankbook, "duties", RATES)
    out = blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "120").out
    assert out.count("Entry fees by the table") == 1
    assert "(Finch Mill, Wren; Sparrow Mill, Wren)" in out

"""`blankbook compare --prices` in this process: what an offer costs landed, with freight, currency, duty and fees."""

from __future__ import annotations

from pathlib import Path

import pytest
import small_shop
from price_shop import (
    DUTY_HEAD,
    FAR,
    HEAD,
    HOME,
    ITEMS,
    RATES,
    loaded,
    offered,
    price_shop,
    prices,
    received,
    register,
)
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
    assert prices(blankbook, "WREN-BLK-M", "--quantity", "10")["contenders"][0]["lead_time_days"] == "4"


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
    assert "added 10% (class 6109, origin CN) is no longer charged from 2026-05-01 on" in offer["remarks"][0]
    early = prices(blankbook, *words, "--entry", "2026-04-01")["contenders"][0]
    assert {part["name"]: part["amount"] for part in early["parts"]}["duty"] == "57.24"
    assert not [each for each in early["remarks"] if "no longer charged" in each]


def test_without_a_lead_time_duty_is_said_to_be_today_s(blankbook: Commands) -> None:
    """Nobody knows when the goods come."""
    offered(blankbook, FAR.replace(",140,45,", ",140,,"))
    loaded(blankbook, "duties", RATES)
    offer = prices(blankbook, "WREN-BLK-M", "--quantity", "120")["contenders"][0]
    assert (offer["entry_date"], "no lead time is stated" in offer["remarks"][-1]) == ("2026-03-31", True)


def test_entry_fees_name_their_source_once(blankbook: Commands) -> None:
    """With the offers that pay them."""
    offered(blankbook, FAR, FAR.replace("Sparrow", "Finch"))
    loaded(blankbook, "duties", RATES)
    out = blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "120").out
    assert out.count("Entry fees by the table") == 1
    assert "(Finch Mill, Wren; Sparrow Mill, Wren)" in out


def test_two_rows_of_one_program_do_not_add_up(blankbook: Commands) -> None:
    """The 17% from May on replaces the undated 16.5%, and the list of rates says so."""
    offered(blankbook, FAR)
    loaded(blankbook, "duties", f"{LATER_ROW}")
    offer = prices(blankbook, "WREN-BLK-M", "--quantity", "120")["contenders"][0]
    assert [line["rate_percent"] for line in offer["duties"]] == ["17"]
    assert "2026-05-01, by a later row" in blankbook("duties").out


LATER_ROW = RATES.replace("source,", "source,from,").replace("a ruling,", "a ruling,,") + (
    "general,6109.10,any,17%,a ruling,2026-05-01,2026-03-01\n"
)


def test_a_program_without_a_row_of_the_class_is_named(blankbook: Commands) -> None:
    """The class pays only what another program says of it: told, for nobody knows whether that is all."""
    offered(blankbook, FAR)
    loaded(blankbook, "duties", f"{DUTY_HEAD}general,6110.20,any,16.5%,,\nlist,6109,CN,7.5%,,\n")
    offer = prices(blankbook, "WREN-BLK-M", "--quantity", "120")["contenders"][0]
    assert any(
        "the program 'general' has rows for other classes and none" in said for said in offer["remarks"]
    )


def test_carriage_that_is_the_buyer_s_and_left_empty_is_not_quoted(blankbook: Commands) -> None:
    """Under the shipping point as abroad; 0 is none."""
    offered(blankbook, HOME.replace(",0,,,,4,", ",,,,,4,"))
    offer = prices(blankbook, "WREN-BLK-M", "--quantity", "10")["contenders"][0]
    assert (offer["standing"], offer["not_quoted"]) == ("not all quoted", ["freight"])


def test_terminal_and_delivery_that_nobody_stated_are_told(blankbook: Commands) -> None:
    """The offer is ranked all the same."""
    offered(blankbook, FAR)
    loaded(blankbook, "duties", RATES)
    offer = prices(blankbook, "WREN-BLK-M", "--quantity", "120")["contenders"][0]
    told = any(
        "terminal and delivery at home are yours, and none was stated" in said for said in offer["remarks"]
    )
    assert (offer["standing"], told) == ("ranked", True)


@pytest.fixture
def euro_shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """A shop in the United States whose book is in euros."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    monkeypatch.setitem(small_shop.SHOP, "currency", "EUR")
    commands = Commands(register, new_book(tmp_path / "euro.blankbook"))
    loaded(commands, "items", ITEMS)
    loaded(commands, "duties", RATES)
    return commands


def test_entry_fees_are_converted_into_the_book_s_currency(euro_shop: Commands) -> None:
    """The least fee of 33.58 dollars at 0.5 is 16.79, and 2,500 dollars are 1,250: 1,800 is a formal entry."""
    offered(euro_shop, FAR.replace("USD", "EUR"))
    outcome = prices(euro_shop, "WREN-BLK-M", "--quantity", "1008", "--rate", "USD=0.5")
    offer = outcome["contenders"][0]
    fees = {part["name"]: part["amount"] for part in offer["parts"]}["processing fee"]
    assert (fees, offer["formal_entry"], outcome["rates"]["USD"]["rate"]) == ("16.79", True, "0.5")


def test_entry_fees_without_a_rate_are_not_taken_as_the_book_s(
    euro_shop: Commands, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The offer is shown apart, with the rate to type."""
    monkeypatch.setenv("BLANKBOOK_TODAY", "1998-03-31")
    offered(euro_shop, FAR.replace("USD", "EUR").replace("2026-01-01", ""))
    outcome = euro_shop("compare", "--prices", "WREN-BLK-M", "--quantity", "120")
    assert "Type the rate: --rate USD=" in str(outcome.error)


def test_seconds_lose_against_a_dearer_price_of_good_ones(blankbook: Commands) -> None:
    """A fifth bad at 2.90 are 3.625 for each good one: the headline counts what can be sold."""
    head = HEAD.replace(",prepack", ",prepack,defects")
    rows = [f"{HOME.replace('1 = 4.10; 72 = 3.60', '2.95')}\n",
            f"{HOME.replace('1 = 4.10; 72 = 3.60', '2.90').replace('Mill Lane', 'Seconds')}20%\n"]  # fmt: skip
    loaded(
        blankbook,
        "quotes",
        f"{head}\n{''.join(rows)}".replace("2026-01-01,\n", "2026-01-01,,\n").replace(
            "2026-01-01,20%", "2026-01-01,,20%"
        ),
    )
    out = blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "500").out
    assert "Mill Lane, Wren is cheapest for 500 today: 1,475.00 in all" in out
    assert "337.50 less for 500 good ones than Seconds, Wren" in out
    assert "for 500 good" in out

"""`blankbook compare --prices` and `--afterwards` in this process."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import small_shop
import typer
from small_shop import Commands, new_book

from ledger.cli import boms, compare, duties, items, quotes, receive
from ledger.errors import Refused, UsageError
from ledger.views import pictures_prices

ITEMS = (
    "sku,name,kind,unit,style,sizes,colours,sku_pattern,packs,weight_g,customs_class\n"
    ",Wren tee,blank,each,Wren,S-2XL,Black=BLK; Moss=MOS,{style}-{colour}-{size},,150,6109.10\n"
    "PAPER,Paper A4,paper,sheet,,,,,pack = 100 sheet,,\n"
    "VINYL,Vinyl,vinyl,cm2,,,,,roll = 11.8 in x 5 yd (sold as 12 in x 5 yd),,\n"
    "INK,Ink,ink,mL,,,,,bottle = 500 mL,,\n"
    "TRANSFER,Ready transfer,transfer,each,,,,,,,\n"
)
BILLS = "bill,name,way,blank,finished,sku,per_piece,unit\nFOX,Fox,direct to film,Wren,,INK,5,mL\n"
HEAD = (
    "supplier,offer,sku,style,sizes,prices,unit,currency,terms,origin,minimum,multiple,valid_until,"
    "freight_per_order,free_above,freight_per_kg,brokerage,lead_days,quoted_on,prepack"
)
HOME = "Mill Lane,,,Wren,,1 = 4.10; 72 = 3.60,,USD,shipping point,,,,,,,,,4,2026-01-01,"
FAR = "Sparrow Mill,,,Wren,,1 = 1.80,,USD,FOB,CN,100,12,,150,,,140,45,2026-01-01,"
ENDED = "Mill Lane,,,Wren,,4.10,,USD,shipping point,,,,2026-03-30,,,,,4,2026-01-01,"
DUTY_HEAD = "program,customs_class,origin,rate,source,checked_on\n"
RATES = DUTY_HEAD + "general,6109.10,any,16.5%,a ruling,2026-03-01\n"


def register(app: typer.Typer) -> None:
    """Add the commands these tests run."""
    for module in (items, quotes, duties, boms, receive, compare):
        module.register(app)


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The commands with a book that has a catalogue, run in an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    commands = Commands(register, new_book(tmp_path / "shop.blankbook"))
    loaded(commands, "items", ITEMS)
    return commands


def loaded(commands: Commands, kind: str, text: str) -> None:
    """Load a sheet of that kind."""
    Path(f"{kind}.csv").write_text(text, "utf-8")
    outcome = commands(kind, "load", f"{kind}.csv", "--yes")
    assert outcome.code == 0, outcome.error


def offered(commands: Commands, *rows: str) -> None:
    """Load these offers."""
    loaded(commands, "quotes", "\n".join([HEAD, *rows, ""]))


def prices(commands: Commands, *words: str) -> dict[str, Any]:
    """Return what the comparison says as data."""
    outcome = commands("compare", "--prices", *words, "--json")
    assert outcome.code == 0, outcome.error
    data: dict[str, Any] = outcome.data
    return data


def received(commands: Commands, *words: str) -> None:
    """Post a receipt."""
    outcome = commands("receive", *words, "--yes")
    assert outcome.code == 0, outcome.error


def test_offers_are_ranked_landed(blankbook: Commands) -> None:
    """Abroad the price is less than half, landed it is dearer at a hundred and twenty."""
    offered(blankbook, HOME, FAR)
    loaded(blankbook, "duties", RATES)
    data = prices(blankbook, "WREN-BLK-M", "--quantity", "120")
    assert [(each["name"], each["total"]) for each in data["contenders"]] == [
        ("Mill Lane, Wren", "432.00"),
        # 216.00 + 150 freight + 35.64 duty + 2.69 fee + 140 broker
        ("Sparrow Mill, Wren", "544.33"),
    ]


def test_a_foreign_offer_without_a_rate_is_left_out_with_the_reason(blankbook: Commands) -> None:
    """Never counted as free; the other is compared all the same."""
    offered(blankbook, HOME, FAR)
    data = prices(blankbook, "WREN-BLK-M", "--quantity", "120")
    assert [each["name"] for each in data["contenders"]] == ["Mill Lane, Wren"]
    assert "unknown is not free" in data["left_out"][0]["reason"]


def test_where_no_offer_can_be_compared_it_is_refused(blankbook: Commands) -> None:
    """With every reason."""
    offered(blankbook, FAR)
    error = blankbook("compare", "--prices", "Wren").error
    assert isinstance(error, Refused)
    assert "Sparrow Mill, Wren" in str(error)


def test_an_offer_that_ended_is_left_out(blankbook: Commands) -> None:
    """The last day still stands, the day after does not."""
    offered(blankbook, ENDED)
    error = blankbook("compare", "--prices", "Wren", "--quantity", "10").error
    assert "the offer ended on 2026-03-30" in str(error)


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


def test_what_buying_more_would_change_is_told(blankbook: Commands) -> None:
    """Sixty-four or more: buy seventy-two."""
    offered(blankbook, HOME)
    out = blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "66").out
    assert "64 or more: buy 72, 259.20 in all. For the 66 here: 6 more and 11.40 less in all." in out


def test_the_order_has_to_be_of_the_minimum_and_multiple(blankbook: Commands) -> None:
    """Ten are wanted, a hundred and eight are bought."""
    offered(blankbook, FAR)
    loaded(blankbook, "duties", RATES)
    data = prices(blankbook, "WREN-BLK-M", "--quantity", "10")["contenders"][0]
    assert (data["quantity"], data["more_than_wanted"]) == ("108", 98)


def test_packs_are_compared_by_the_sheet_and_the_hundred(blankbook: Commands) -> None:
    """A pack of a hundred against a box of five hundred."""
    offered(
        blankbook,
        "Near,,PAPER,,,14.90,pack,USD,,,,,,,,,,,,",
        "Far,,PAPER,,,62.50,500 sheet,USD,,,,,,,,,,,,",
    )
    data = prices(blankbook, "paper", "--quantity", "5 pack")
    assert [(each["name"], each["landed_per_unit"]) for each in data["contenders"]] == [
        ("Far, PAPER", "0.125000"),
        ("Near, PAPER", "0.149000"),
    ]
    assert "landed per hundred" in blankbook("compare", "--prices", "PAPER", "--quantity", "500").out


def test_a_roll_is_compared_by_its_real_size(blankbook: Commands) -> None:
    """Sold as twelve inches, it is 11.8 wide."""
    offered(blankbook, "Near,,VINYL,,,27.00,roll,USD,,,,,,,,,,,,")
    out = blankbook("compare", "--prices", "VINYL", "--quantity", "1 roll").out
    assert "1.7 % dearer than by its name" in out


def test_a_style_is_spread_over_its_sizes_by_what_was_used(blankbook: Commands) -> None:
    """While nothing was used they come evenly; only the colour asked for counts."""
    offered(blankbook, HOME)
    data = prices(blankbook, "wren", "--colour", "moss", "--quantity", "10")
    assert (data["what"], len(data["skus"])) == ("Wren Moss", 5)
    assert blankbook("compare", "--prices", "Wren", "--colour", "Mauve").error is not None


def test_a_price_of_some_sizes_leaves_the_others_out(blankbook: Commands) -> None:
    """An offer of the large size only is no offer of the medium one."""
    offered(blankbook, HOME.replace("Wren,,1", "Wren,2XL,1"))
    assert isinstance(blankbook("compare", "--prices", "WREN-BLK-M").error, Refused)


def test_sizes_without_a_price_are_named(blankbook: Commands) -> None:
    """The order is of the others."""
    offered(blankbook, HOME.replace("Wren,,1", "Wren,S-XL,1"))
    remarks = prices(blankbook, "Wren", "--quantity", "40")["contenders"][0]["remarks"]
    assert remarks == ["no price for 2XL: its order is of the other sizes."]


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


def test_the_curve_has_both_sides_of_the_break(blankbook: Commands) -> None:
    """As a table, and in the data."""
    offered(blankbook, HOME)
    out = blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "66", "--curve").out
    assert "last below the break" in out
    curve = prices(blankbook, "WREN-BLK-M", "--quantity", "66", "--curve")["contenders"][0]["curve"]
    totals = {point["quantity"]: point["total"] for point in curve}
    assert (totals[71], totals[72]) == ("291.10", "259.20")


@pytest.mark.parametrize(("name", "start"), [("p.png", b"\x89PNG"), ("p.svg", b"<?xml")])
def test_a_picture_is_written(blankbook: Commands, name: str, start: bytes) -> None:
    """PNG or SVG by the name's ending; it is never written over."""
    offered(blankbook, HOME)
    words = ("compare", "--prices", "WREN-BLK-M", "--quantity", "66", "--picture", name)
    assert blankbook(*words).code == 0
    assert Path(name).read_bytes().startswith(start)
    assert isinstance(blankbook(*words).error, UsageError)


def test_the_workbook_has_a_native_chart(blankbook: Commands) -> None:
    """One series for each offer; the steps add up to the landed cost."""
    offered(blankbook, HOME, FAR)
    loaded(blankbook, "duties", RATES)
    words = ("compare", "--prices", "WREN-BLK-M", "--quantity", "120", "--workbook", "w.xlsx")
    assert blankbook(*words).code == 0
    workbook = openpyxl.load_workbook("w.xlsx")
    chart = workbook["By quantity"]._charts[0]
    assert (type(chart).__name__, len(chart.series)) == ("ScatterChart", 2)
    steps = workbook["Steps"]
    last = steps.max_row
    landed = workbook["Ranking"].cell(2, 5).value
    assert sum(steps.cell(row, 2).value for row in range(2, last)) == pytest.approx(landed)
    assert steps.cell(last, 2).value == f"=SUM(B2:B{last - 1})"


def test_print_it_or_buy_the_transfer(blankbook: Commands) -> None:
    """Five millilitres of ink at 20 a bottle against transfers at 0.15, at 24 pieces and at the break."""
    loaded(blankbook, "boms", BILLS)
    received(
        blankbook,
        "--sku",
        "INK",
        "--unit",
        "bottle",
        "--quantity",
        "1",
        "--amount",
        "20",
        "--date",
        "2026-02-01",
    )
    offered(blankbook, "Near,,TRANSFER,,,1 = 0.25; 100 = 0.15,,USD,,,,,,,,,,,,")
    found = prices(blankbook, "TRANSFER", "--bill", "FOX", "--quantity", "24")["print_or_buy"]
    assert [(row["pieces"], row["print_each"], row["transfer_each"]) for row in found["by_quantity"]] == [
        (24, "0.200000", "0.250000"),
        (100, "0.200000", "0.150000"),
    ]
    out = blankbook("compare", "--prices", "TRANSFER", "--bill", "fox", "--quantity", "24").out
    assert ("printing" in out, "the transfer" in out) == (True, True)


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


@pytest.mark.parametrize(
    "words",
    [
        ("--quantity", "10"),
        ("--prices", "PAPER", "study.toml"),
        ("--afterwards", "--prices", "PAPER"),
        ("--prices", "PAPER", "--quantity", "some"),
        ("--prices", "PAPER", "--quantity", "0"),
        ("--prices", "PAPER", "--quantity", "1.5"),
        ("--prices", "PAPER", "--against", "study.toml"),
        ("--prices", "PAPER", "--explain"),
        ("--prices", "PAPER", "--quantity", "3 barrels"),
        ("--prices", "PAPER", "--rate", "CNY"),
        ("--prices", "PAPER", "--rate", "CNY=-1"),
        ("--prices", "PAPER", "--picture", "p.gif"),
        ("--prices", "PAPER", "--workbook", "w.csv"),
        (),
    ],
)
def test_words_that_do_not_go_together_are_refused(blankbook: Commands, words: tuple[str, ...]) -> None:
    """With what to write instead."""
    Path("study.toml").write_text("", "utf-8")
    offered(blankbook, "Near,,PAPER,,,14.90,pack,USD,,,,,,,,,,,,")
    assert isinstance(blankbook("compare", *words).error, UsageError)


def test_a_mistyped_name_is_answered_with_the_nearest(blankbook: Commands) -> None:
    """Neither an item nor a style."""
    assert "Did you mean Wren" in str(blankbook("compare", "--prices", "Wern").error)


def test_whole_packs_are_told_with_what_they_change(blankbook: Commands) -> None:
    """Two and a half packs of sheets sold singly: three packs cost as much a sheet, and more in all."""
    offered(blankbook, "Near,,PAPER,,,0.10,,USD,,,,,,,,,,,,")
    data = prices(blankbook, "PAPER", "--quantity", "250")
    assert data["whole_packs"] == [
        {"pack": "pack", "packs": 3, "quantity": "300", "total": "30.00", "landed_per_unit": "0.100000"}
    ]
    out = blankbook("compare", "--prices", "PAPER", "--quantity", "250").out
    assert "by the whole pack: 300 sheet, 5.00 more in all" in out


def test_lead_times_are_told(blankbook: Commands) -> None:
    """As the offer states them, while the shop has no orders of its own."""
    offered(blankbook, HOME)
    assert prices(blankbook, "WREN-BLK-M", "--quantity", "10")["contenders"][0]["lead_time_days"] == 4


def test_what_costs_least_for_what_is_wanted_alone_is_told(blankbook: Commands) -> None:
    """The cheaper sheet comes by the two thousand; five hundred are wanted."""
    offered(
        blankbook,
        "Near,,PAPER,,,14.90,pack,USD,,,,,,,,,,,,",
        "Far,,PAPER,,,50,500 sheet,USD,,,4,,,,,,,,,",
    )
    why = prices(blankbook, "PAPER", "--quantity", "500")["why"]
    assert "Near, PAPER is the only one that sells about 500 sheet today: 74.50 in all" in why
    assert "Far, PAPER costs less per sheet, but only from 2000 on: 0.1000 per sheet, 200.00 in all." in why


def test_the_same_picture_is_the_same_file(blankbook: Commands) -> None:
    """No clock and no random name leaves a trace."""
    offered(blankbook, HOME)
    for name in ("one.svg", "two.svg"):
        assert blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "66", "--picture", name).code == 0
    assert Path("one.svg").read_bytes() == Path("two.svg").read_bytes()


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


def test_a_prepack_is_no_offer_of_a_single_size(blankbook: Commands) -> None:
    """Seven of the medium take three packs of six; the style is compared as it comes."""
    offered(blankbook, HOME, f"Pack Mill{HOME.removeprefix('Mill Lane')}S = 1; M = 3; L = 2")
    data = prices(blankbook, "WREN-BLK-M", "--quantity", "7")
    assert [each["name"] for each in data["contenders"]] == ["Mill Lane, Wren"]
    reason = data["left_out"][0]["reason"]
    assert "7 of WREN-BLK-M take 3 packs, 18 pieces of the style, 9 of them M" in reason
    assert len(prices(blankbook, "Wren", "--quantity", "18")["contenders"]) == 2
    none = prices(blankbook, "WREN-BLK-2XL", "--quantity", "7")["left_out"][0]["reason"]
    assert "without any 2XL" in none


def test_an_offer_that_leaves_freight_unquoted_is_not_ranked(blankbook: Commands) -> None:
    """It would look cheapest; a cell that says 0 is an answer."""
    bare = FAR.replace(",,150,,,140,45,", ",,,,,,45,")
    offered(blankbook, HOME, bare)
    loaded(blankbook, "duties", RATES)
    words = ("WREN-BLK-M", "--quantity", "120")
    offer = prices(blankbook, *words)["contenders"][1]
    assert (offer["standing"], offer["not_quoted"]) == ("not all quoted", ["freight", "brokerage"])
    out = blankbook("compare", "--prices", *words).out
    assert out.index("Mill Lane, Wren is the only one") < out.index("Not ranked, for what they come to")
    offered(blankbook, HOME, FAR.replace(",,150,,,140,45,", ",,0,,,0,45,"))
    assert prices(blankbook, *words)["contenders"][0]["name"] == "Sparrow Mill, Wren"


def test_what_forces_much_more_stands_below(blankbook: Commands) -> None:
    """Ten are wanted: the one that sells ten leads, though the far one costs less each."""
    offered(blankbook, HOME.replace("1 = 4.10; 72 = 3.60", "6.00"), FAR)
    loaded(blankbook, "duties", RATES)
    data = prices(blankbook, "WREN-BLK-M", "--quantity", "10")
    assert [(each["name"], each["standing"]) for each in data["contenders"]] == [
        ("Mill Lane, Wren", "ranked"),
        ("Sparrow Mill, Wren", "much more"),
    ]
    out = blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "10").out
    assert "Only for much more than the 10 wanted:" in out
    assert "but only from 108 on: 4.8071 each, 519.17 in all." in out


def test_the_reason_names_the_three_largest_differences(blankbook: Commands) -> None:
    """The table of steps has them all."""
    offered(blankbook, HOME, FAR)
    loaded(blankbook, "duties", RATES)
    why = prices(blankbook, "WREN-BLK-M", "--quantity", "120")["why"]
    assert "mostly price 1.8000 more; freight 1.2500 less; brokerage 1.1667 less." in why


def test_more_is_advised_only_from_what_is_wanted_on(blankbook: Commands) -> None:
    """Who wants a hundred is past the break at seventy-two."""
    offered(blankbook, HOME)
    assert "or more: buy" not in blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "100").out


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


def test_entry_fees_name_their_source_once(blankbook: Commands) -> None:
    """With the offers that pay them."""
    offered(blankbook, FAR, FAR.replace("Sparrow", "Finch"))
    loaded(blankbook, "duties", RATES)
    out = blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "120").out
    assert out.count("Entry fees by the table") == 1
    assert "(Finch Mill, Wren; Sparrow Mill, Wren)" in out


def test_a_colour_beside_a_single_item_is_refused(blankbook: Commands) -> None:
    """Ignored it would answer another question; its own colour is no contradiction."""
    offered(blankbook, HOME, "Near,,PAPER,,,14.90,pack,USD,,,,,,,,,,,,")
    error = blankbook("compare", "--prices", "PAPER", "--colour", "Black").error
    assert (isinstance(error, Refused), "PAPER is one item and it has no colour" in str(error)) == (
        True,
        True,
    )
    assert blankbook("compare", "--prices", "WREN-BLK-M", "--colour", "moss").error is not None
    assert prices(blankbook, "WREN-BLK-M", "--colour", "black", "--quantity", "10")["contenders"]


@pytest.mark.parametrize("words", [("--prices", "FOX"), ("FOX",)])
def test_a_design_points_to_its_blank(blankbook: Commands, words: tuple[str, ...]) -> None:
    """Nobody sells what the shop makes, whether it is in the list of items or only a bill's name."""
    loaded(blankbook, "boms", BILLS)
    assert "compare its blank, Wren" in str(blankbook("compare", *words).error)


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


def test_a_receipt_for_next_to_nothing_does_not_lengthen_the_figures(blankbook: Commands) -> None:
    """Six decimals are for what costs next to nothing, not for what once came nearly free."""
    offered(blankbook, HOME)
    received(
        blankbook, "--sku", "WREN-BLK-M", "--quantity", "2", "--amount", "0.01", "--party", "Kind Mill",
        "--date", "2026-02-01",
    )  # fmt: skip
    assert "4.1000 each landed" in prices(blankbook, "WREN-BLK-M", "--quantity", "2")["why"]


def test_figures_of_a_picture_do_not_overlap(blankbook: Commands) -> None:
    """Whatever stands in the panel of steps keeps clear of the rest."""
    offered(blankbook, HOME, FAR, FAR.replace("Sparrow", "Finch"))
    loaded(blankbook, "duties", RATES)
    drawn: list[Any] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("ledger.views.pictures_prices.write_new", lambda *_: None)
        real = pictures_prices.price_figure
        patch.setattr(
            "ledger.views.pictures_prices.price_figure", lambda report: drawn.append(real(report)) or drawn[0]
        )
        words = ("compare", "--prices", "WREN-BLK-M", "--quantity", "120", "--picture", "p.png")
        assert blankbook(*words).code == 0
    above = drawn[0].axes[0]
    boxes = [text.get_window_extent() for text in above.texts]
    assert len(boxes) == 3 + 2 + 2 * 6
    assert not [1 for one, other in combinations(boxes, 2) if one.overlaps(other)]

"""`compare … --keep` and `review`: what is kept, what came of it, and whether it would be decided the same."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
import typer
from freezegun import freeze_time
from small_shop import Commands, new_book

from ledger.book.connect import open_reading
from ledger.book.proving import prove
from ledger.cli import compare, duties, items, order, post, proving, quotes, receive, review, ship
from ledger.errors import Refused, UsageError

ITEMS = (
    "sku,name,kind,unit,style,sizes,colours,sku_pattern,packs,weight_g,customs_class\n"
    ",Wren tee,blank,each,Wren,M-L,Black=BLK,{style}-{colour}-{size},,150,6109.10\n"
)
HEAD = (
    "supplier,offer,sku,style,sizes,prices,unit,currency,terms,origin,minimum,multiple,valid_until,"
    "freight_per_order,free_above,freight_per_kg,brokerage,lead_days,lead_spread,closures\n"
    "Mill Lane,,,Wren,,1 = 4.10; 72 = 3.60,,USD,shipping point,,,,,12,300,,,4,1,\n"
    "Sparrow Mill,,,Wren,,1 = 1.80,,USD,FOB,CN,48,12,,150,,,40,45,9,\n"
)
RATES = "program,customs_class,origin,rate,source,checked_on\ngeneral,6109.10,any,16.5%,a ruling,2026-03-01\n"
EVENTS = "date,event,sku,quantity,amount,party"
STUDY = """currency = "USD"
sku = "Wren"
colour = "Black"
[demand]
per_month = 60
sd_per_month = 12
sizes = {M = 0.6, L = 0.4}
on_hand = {M = 20, L = 10}
[money]
capital_per_year = 0.12
[[offer]]
name = "Mill Lane"
breaks = [{from = 1, price = "3.60"}]
lead_time = {mean_days = 4, sd_days = 1}
[[offer]]
name = "Sparrow Mill"
origin = "CN"
breaks = [{from = 1, price = "1.80"}]
minimum = 48
freight = {per_order = "150"}
duty = [{rate = "0.165", checked = 2026-03-01}]
lead_time = {mean_days = 40, sd_days = 8}
"""


def register(app: typer.Typer) -> None:
    """Add the commands these tests run."""
    for module in (items, quotes, duties, post, order, ship, receive, compare, review, proving):
        module.register(app)


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop on 31 March 2026 with offers near and far and three months of sales: 40 M and 20 L a month."""
    folder = tmp_path_factory.mktemp("template")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setenv("BLANKBOOK_TODAY", "2026-03-31")
        commands = Commands(register, new_book(folder / "shop.blankbook"))
        for kind, text in (("items", ITEMS), ("quotes", HEAD), ("duties", RATES)):
            Path(f"{kind}.csv").write_text(text, "utf-8")
            done(commands, kind, "load", f"{kind}.csv", "--yes")
        stock = [
            f"2026-01-02,receive,WREN-BLK-{size},{pieces},540.00,Mill Lane"
            for size, pieces in (("M", 150), ("L", 90))
        ]
        sales = [
            f"2026-{month:02d}-{day},sell,WREN-BLK-{size},{pieces},{pieces * 20}.00,"
            for month in (1, 2, 3)
            for day, size, pieces in (("10", "M", 40), ("20", "L", 20))
        ]
        posted(commands, *stock, *sales)
    return commands.book


@pytest.fixture
def blankbook(template: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The commands with a copy of that shop, on 31 March 2026, in a folder with a study."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    Path("study.toml").write_text(STUDY, "utf-8")
    shutil.copyfile(template, "shop.blankbook")
    return Commands(register, tmp_path / "shop.blankbook")


def done(commands: Commands, *words: str) -> str:
    """Run a command that must end well; return what it printed."""
    outcome = commands(*words)
    assert outcome.code == 0, (words, outcome.error, outcome.err)
    return outcome.out + outcome.err


def posted(commands: Commands, *rows: str) -> None:
    """Post these events."""
    Path("events.csv").write_text("\n".join([EVENTS, *rows, ""]), "utf-8")
    done(commands, "post", "events.csv", "--yes")


def looked(commands: Commands, *words: str) -> Any:
    """Return what `review --json` gives."""
    return commands("review", *words, "--json").data


def test_nothing_was_kept_yet(blankbook: Commands) -> None:
    """It says how to keep one; scripts get an empty list."""
    assert "compare SKU-or-STYLE --keep" in blankbook("review").err
    assert looked(blankbook) == []


def test_a_decision_is_kept_and_numbered(blankbook: Commands) -> None:
    """With what it expects, after a preview; the book still proves."""
    said = done(blankbook, "compare", "Wren", "--futures", "60", "--keep", "--yes", "--why", "the  markets ")
    assert "Keep: Wren, " in said
    assert "Kept decision 1. Look back at it: blankbook --book" in said
    (found,) = looked(blankbook)
    assert (found["decision"], found["decided_on"], found["why"]) == (1, "2026-03-31", "the  markets")
    assert found["skus"] == ["WREN-BLK-L", "WREN-BLK-M"]
    assert found["expected"]["supplier"] in {"Sparrow Mill", "Mill Lane"}
    assert sum(int(each) for each in found["expected"]["quantities"].values()) == int(
        found["expected"]["quantity"]
    )
    connection = open_reading(blankbook.book)
    assert prove(connection).is_whole
    connection.close()


def test_what_is_kept_is_what_compare_says(blankbook: Commands) -> None:
    """The figures of its JSON, in which the number stands too."""
    outcome = blankbook("compare", "study.toml", "--futures", "60", "--keep", "--yes", "--json")
    (chosen,) = [each for each in outcome.data["alternatives"] if each["name"] == "base and top-up"]
    assert outcome.data["kept"] == 1
    expected = looked(blankbook, "1")["expected"]
    assert expected["quantity"] == chosen["quantity"]
    assert expected["quantities"] == chosen["quantities"]
    assert expected["saving"] == chosen["expected_saving"]
    assert expected["landed_unit_cost"] == chosen["landed_unit_cost"]
    assert expected["cash_peak"] == chosen["cash_peak"]
    assert expected["order_by"] == outcome.data["order_by"]


def test_a_dry_run_keeps_nothing(blankbook: Commands) -> None:
    """Nor does a call that nobody agrees to."""
    words = ("compare", "study.toml", "--futures", "50", "--keep")
    assert "dry run" in done(blankbook, *words, "--dry-run")
    assert blankbook(*words, "--dry-run", "--json").data["kept"] is None
    refused = blankbook(*words)
    assert isinstance(refused.error, Refused)
    assert "nothing was kept" in str(refused.error)
    assert looked(blankbook) == []


def test_words_of_keeping_want_keep(blankbook: Commands) -> None:
    """And keeping goes with a decision only."""
    lonely = blankbook("compare", "study.toml", "--why", "x", "--yes")
    assert isinstance(lonely.error, UsageError)
    assert "--why and --yes goes with --keep" in str(lonely.error)
    priced = blankbook("compare", "--prices", "Wren", "--keep")
    assert isinstance(priced.error, UsageError)
    assert "--keep goes with a decision" in str(priced.error)


def test_a_study_in_another_currency_is_refused(blankbook: Commands) -> None:
    """Its figures could not be held against the book's."""
    Path("study.toml").write_text(STUDY.replace('"USD"', '"EUR"'), "utf-8")
    refused = blankbook("compare", "study.toml", "--futures", "50", "--keep", "--yes")
    assert isinstance(refused.error, Refused)
    assert "counts in EUR and the book in USD" in str(refused.error)


def test_the_same_day_gives_the_same_answer(blankbook: Commands) -> None:
    """From the book and from a study alike: nothing came, so nothing moves; what is open is said."""
    done(blankbook, "compare", "Wren", "--futures", "60", "--keep", "--yes")
    done(blankbook, "compare", "study.toml", "--futures", "60", "--keep", "--yes")
    for found in looked(blankbook):
        assert found["again"]["is_same"] is True
        assert found["again"]["sentence"] == found["sentence"]
        assert found["came"]["receipts"] == []
        assert found["came"]["saving"] is None
        assert any("nothing was bought of it yet" in each for each in found["open"])
    told = done(blankbook, "review", "2")
    assert "Decided again: the same again." in told
    assert "nothing came yet that could stand in its study" in told


def bought(commands: Commands, monkeypatch: pytest.MonkeyPatch, *, price: str = "1.80") -> None:
    """Order 240 M and 160 L from the mill in April, which come in June; sell since."""
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-06-20")
    done(
        commands, "order", "--line", f"WREN-BLK-M 240 at {price}", "--line", f"WREN-BLK-L 160 at {price}",
        "--party", "Sparrow Mill", "--terms", "FOB Port Rellan", "--date", "2026-04-03", "--yes",
    )  # fmt: skip
    number = next(iter(commands("order", "--json").data))["order"]
    done(
        commands, "receive", "--order", str(number), "--shipped-on", "2026-05-05", "--date", "2026-05-28",
        "--charge", "freight 150.00 by quantity", "--charge", "duty 16.5% by value", "--yes",
    )  # fmt: skip
    posted(
        commands,
        "2026-04-10,sell,WREN-BLK-M,20,400.00,",
        "2026-06-01,sell,WREN-BLK-M,70,1400.00,",
        "2026-06-10,sell,WREN-BLK-L,45,900.00,",
        "2026-06-12,spoil,WREN-BLK-L,3,,",
    )


def test_what_came_is_held_against_what_was_expected(
    blankbook: Commands, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Demand, quantity, landed cost, days and saving; the saving is added up by hand here."""
    done(blankbook, "compare", "study.toml", "--futures", "60", "--keep", "--yes")
    bought(blankbook, monkeypatch)
    found = looked(blankbook, "1")
    came = found["came"]
    assert (came["through"], came["days"], came["left"]) == ("2026-06-12", 73, "135")
    assert (came["received"], came["lead_time_days"]) == ("400", "55")
    # 400 at 1.80 and 150.00 of freight and 118.80 of duty.
    assert came["landed_unit_cost"] == "2.472000"
    saving = came["saving"]
    # 30 M and 30 L were there before: of its lots 60 M and 18 L left, 3 of the L for nothing.
    assert (saving["wanted"], saving["lost"], saving["on_hand"]) == ("75", "3", "322")
    assert saving["home_unit_cost"] == "3.600000"
    assert saving["at_home"] == "270.00"
    assert float(saving["saved"]) == pytest.approx(75 * 3.60 - 78 * 2.472, abs=0.02)
    parts = float(saving["landed_of_what_left"]) + float(saving["value_on_hand"])
    assert parts == pytest.approx(988.80, abs=0.001)
    told = done(blankbook, "review", "1")
    assert "saved so far" in told
    assert "what becomes of the 322 of it on the shelf" in told
    assert "whether" in told.split("What came later was not known")[1]


def test_what_moved_the_answer_is_named(blankbook: Commands, monkeypatch: pytest.MonkeyPatch) -> None:
    """A mill that was twice as dear: it would not be bought from again, and why stands beside it."""
    done(blankbook, "compare", "study.toml", "--futures", "60", "--keep", "--yes")
    bought(blankbook, monkeypatch, price="4.10")
    again = looked(blankbook)[0]["again"]
    assert (again["is_same"], again["verdict"]) == (False, "DOMESTIC")
    assert any("prices of Sparrow Mill times 2." in each for each in again["put_in"])
    movers = [each["place"] for each in again["moved"]["differences"] if each["moves_verdict"]]
    assert "Sparrow Mill: breaks" in movers
    told = done(blankbook, "review")
    assert "DOMESTIC now, BASE AND TOP-UP then" in " ".join(told.split())


def test_prices_put_in_give_the_landed_cost_that_came(
    blankbook: Commands, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As dear as expected leaves the prices as they are: 400 at 1.80 with its freight and duty."""
    done(blankbook, "compare", "study.toml", "--futures", "60", "--keep", "--yes")
    bought(blankbook, monkeypatch)
    assert any(
        "prices of Sparrow Mill times 1," in each for each in looked(blankbook, "1")["again"]["put_in"]
    )


def test_offers_of_today_decide_again(blankbook: Commands, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of a decision from the book: the mill asks five times as much, which is named as what moved the answer."""
    done(blankbook, "compare", "Wren", "--futures", "60", "--keep", "--yes")
    first = looked(blankbook, "1")
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-04-20")
    Path("quotes.csv").write_text(HEAD.replace("1 = 1.80", "1 = 9.80"), "utf-8")
    done(blankbook, "quotes", "load", "quotes.csv", "--yes")
    again = looked(blankbook, "1")["again"]
    assert first["verdict"] != "DOMESTIC"
    assert (again["is_same"], again["verdict"]) == (False, "DOMESTIC")
    assert "Sparrow Mill, Wren: breaks" in [each["place"] for each in again["moved"]["differences"]]


def test_an_order_is_told(blankbook: Commands, monkeypatch: pytest.MonkeyPatch) -> None:
    """One that the book would not find by itself; it wants the decision's number."""
    done(blankbook, "compare", "study.toml", "--futures", "50", "--keep", "--yes")
    done(
        blankbook,
        "order",
        "--line",
        "WREN-BLK-M 48 at 2.00",
        "--party",
        "Reed Mill",
        "--terms",
        "destination",
        "--yes",
    )
    number = blankbook("order", "--json").data[0]["order"]
    assert looked(blankbook, "1")["came"]["orders"] == []
    assert f"decision 1 led to order {number}" in done(blankbook, "review", "1", "--order", str(number))
    assert [each["order"] for each in looked(blankbook, "1")["came"]["orders"]] == [number]
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-04-05")
    assert isinstance(blankbook("review", "--order", "1").error, UsageError)
    assert isinstance(blankbook("review", "7").error, Refused)


def test_no_demand_at_all_is_put_in_or_said_why_not(
    blankbook: Commands, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Months in which nothing was wanted count after a study's own; beside a guess alone they are named."""
    history = STUDY.replace("per_month = 60\nsd_per_month = 12\n", "history = [60, 55, 65]\n")
    Path("months.toml").write_text(history, "utf-8")
    done(blankbook, "compare", "months.toml", "--futures", "60", "--keep", "--yes")
    done(blankbook, "compare", "study.toml", "--futures", "60", "--keep", "--yes")
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-06-15")
    posted(blankbook, "2026-06-12,spoil,WREN-BLK-L,1,,")
    months, guess = looked(blankbook, "1"), looked(blankbook, "2")
    assert months["came"]["left"] == guess["came"]["left"] == "0"
    assert "73 days since" in months["again"]["put_in"][0]
    assert float(months["again"]["demand_per_month"]) < 0.75 * float(months["expected"]["demand_per_month"])
    assert "as it was, for nothing was wanted" in guess["again"]["put_in"][0]
    assert guess["again"]["demand_per_month"] == guess["expected"]["demand_per_month"]


def test_what_was_decided_again_is_no_advice_for_today(
    blankbook: Commands, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No day that is past is told to order by; no line is broader than a screen; the last says what to type."""
    done(blankbook, "compare", "study.toml", "--futures", "60", "--keep", "--yes")
    bought(blankbook, monkeypatch, price="4.10")
    told = done(blankbook, "review", "1")
    again = " ".join(told.split("Decided again:")[1].split())
    assert " by 2026-0" not in again
    assert "no advice to order now" in again
    assert "[" not in again
    assert "…" not in again
    assert told.rstrip().splitlines()[-1].endswith("compare study.toml")
    for text in (told, done(blankbook, "review")):
        broad = [line for line in text.splitlines()[:-1] if len(line) > 112]
        assert broad == []
    assert "in 19 of 20 cases" in " ".join(told.split())
    Path("study.toml").rename("moved.toml")
    last = done(blankbook, "review", "1").rstrip().splitlines()[-1]
    assert last.startswith("What to order today, in the folder of study.toml: ")


def test_a_study_of_no_goods_of_the_book_is_only_decided_again(blankbook: Commands) -> None:
    """And says so when it is kept and when it is looked at."""
    plain = STUDY.replace('sku = "Wren"\ncolour = "Black"\n', "")
    Path("plain.toml").write_text(plain, "utf-8")
    assert "names no goods of the book" in done(
        blankbook, "compare", "plain.toml", "--futures", "50", "--keep", "--yes"
    )
    found = looked(blankbook, "1")
    assert (found["came"], found["skus"], found["again"]["is_same"]) == (None, [], True)
    assert "can only be decided again" in " ".join(done(blankbook, "review", "1").split())


def test_a_study_that_asks_the_book_asks_it_again(
    blankbook: Commands, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it left to the book's history is kept as it was, and looked up anew when it is decided again."""
    stated = "per_month = 60\nsd_per_month = 12\nsizes = {M = 0.6, L = 0.4}\non_hand = {M = 20, L = 10}\n"
    assert stated in STUDY
    Path("open.toml").write_text(STUDY.replace(stated, ""), "utf-8")
    done(blankbook, "compare", "open.toml", "--futures", "60", "--keep", "--yes")
    assert looked(blankbook, "1")["again"]["is_same"] is True
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-05-01")
    posted(blankbook, "2026-04-10,sell,WREN-BLK-M,30,600.00,", "2026-04-28,sell,WREN-BLK-L,28,560.00,")
    again = looked(blankbook, "1")["again"]
    assert "history, sizes of its demand as the book has them today" in again["put_in"][0]
    assert float(again["demand_per_month"]) != pytest.approx(
        float(looked(blankbook, "1")["expected"]["demand_per_month"])
    )


def test_the_clock_is_the_programs_own(blankbook: Commands, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without an injected date the day and the moment are the machine's, here a frozen one."""
    monkeypatch.delenv("BLANKBOOK_TODAY")
    with freeze_time("2026-04-15 08:30:00"):
        done(blankbook, "compare", "study.toml", "--futures", "50", "--keep", "--yes")
        found = looked(blankbook, "1")
    assert (found["decided_on"], found["kept_at"]) == ("2026-04-15", "2026-04-15T08:30:00Z")

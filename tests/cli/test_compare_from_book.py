"""`blankbook compare SKU` and `compare STYLE`: the study that a book gives, written, changed, held against another."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest
import typer
from small_shop import Commands, Outcome, new_book

from ledger.cli import compare, duties, items, post, quotes
from ledger.errors import BlankbookError, Refused, StudyErrors, UsageError

ITEMS = (
    "sku,name,kind,unit,style,sizes,colours,sku_pattern,packs,weight_g,customs_class\n"
    ",Wren tee,blank,each,Wren,M-L,Black=BLK,{style}-{colour}-{size},,150,6109.10\n"
    "PAPER,Paper A4,paper,sheet,,,,,pack = 100 sheet,,\n"
)
HEAD = (
    "supplier,offer,sku,style,sizes,prices,unit,currency,terms,origin,minimum,multiple,valid_until,"
    "freight_per_order,free_above,freight_per_kg,brokerage,lead_days,lead_spread,closures"
)
HOME = "Mill Lane,,,Wren,,1 = 4.10; 72 = 3.60,,USD,shipping point,,,,,12,300,,,4,1,"
FAR = "Sparrow Mill,,,Wren,,1 = 1.80,,USD,FOB,CN,48,12,,150,,,40,45,9,2026-04-05..2026-04-11"
PAPER = "Mill Lane,paper,PAPER,,,1 = 12; 5 = 10,pack,USD,shipping point,,,,,,,,,4,1,"
RATES = "program,customs_class,origin,rate,source,checked_on\ngeneral,6109.10,any,16.5%,a ruling,2026-03-01\n"
EVENTS = "date,event,sku,quantity,amount,party"
STOCK = "2026-01-02,receive,WREN-BLK-{size},{pieces},{amount},Mill Lane"


def register(app: typer.Typer) -> None:
    """Add the commands these tests run."""
    for module in (items, quotes, duties, post, compare):
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
    """Load these offers, and the duty."""
    loaded(commands, "quotes", "\n".join([HEAD, *rows, ""]))
    loaded(commands, "duties", RATES)


def posted(commands: Commands, *rows: str) -> None:
    """Post these events."""
    Path("events.csv").write_text("\n".join([EVENTS, *rows, ""]), "utf-8")
    outcome = commands("post", "events.csv", "--yes")
    assert outcome.code == 0, outcome.error


def sold(commands: Commands) -> None:
    """Three months of sales: 40 M and 20 L a month."""
    posted(
        commands,
        STOCK.format(size="M", pieces=150, amount="540.00"),
        STOCK.format(size="L", pieces=90, amount="324.00"),
        *(
            f"2026-{month:02d}-{day},sell,WREN-BLK-{size},{pieces},{pieces * 20}.00,"
            for month in (1, 2, 3)
            for day, size, pieces in (("10", "M", 40), ("20", "L", 20))
        ),
        "2026-03-31,spoil,WREN-BLK-L,2,,",
    )


@pytest.fixture
def shop(blankbook: Commands) -> Commands:
    """A shop with sales and an offer from here and from afar."""
    offered(blankbook, HOME, FAR)
    sold(blankbook)
    return blankbook


def done(outcome: Outcome) -> Outcome:
    """Return what went well."""
    assert outcome.code == 0, outcome.error
    return outcome


def refusal(outcome: Outcome, kind: type[BlankbookError] = Refused) -> str:
    """Return why it was refused."""
    assert isinstance(outcome.error, kind), outcome.out
    return str(outcome.error)


def data(commands: Commands, *words: str) -> dict[str, Any]:
    """Return the decision as data."""
    found: dict[str, Any] = done(commands("compare", *words, "--json", "--futures", "300")).data
    return found


def test_the_study_is_the_books_quotes_history_and_stock(shop: Commands) -> None:
    """Shares from what left, stock by size, spoiled shirts no demand, both offers landed."""
    found = data(shop, "Wren")
    assert [each["name"] for each in found["offers"]] == ["Mill Lane, Wren", "Sparrow Mill, Wren"]
    assert [each["left"] for each in found["history"]["months"]] == ["60", "60", "60"]
    by_size = {each["size"]: each for each in found["history"]["sizes"]}
    assert by_size["M"]["on_hand"] == "30"
    assert by_size["L"]["on_hand"] == "28"
    # 120.5 and 60.5 pieces with one of prior, over the same days.
    assert (by_size["M"]["share"], by_size["L"]["share"]) == ("0.6657", "0.3343")
    assert found["verdict"] in {"BULK", "BASE AND TOP-UP"}
    assert {each["place"] for each in found["assumed"]} >= {"horizon_months", "[money] capital_per_year"}


def test_the_order_by_date_comes_from_the_stock(shop: Commands) -> None:
    """Thirty M last three weeks; goods from afar take longer, so the order is due today, and it is said."""
    found = data(shop, "Wren")
    assert found["order_by"] == "2026-03-31"
    assert any("the stock lasts until about 2026-04-2" in text for text in found["warnings"])


def test_the_day_to_order_by_is_told_apart_from_the_plans(shop: Commands) -> None:
    """The plan goes by each SKU and counts that its rate is uncertain; the decision does neither."""
    assert "of all of them together; 'plan' tells each its own" in " ".join(
        shop("compare", "Wren").out.split()
    )
    assert "rate expected; 'plan' tells another" in " ".join(shop("compare", "WREN-BLK-M").out.split())


def test_closures_of_the_quote_make_it_late(shop: Commands) -> None:
    """A week of closure in April comes on top of the 45 days."""
    far = data(shop, "Wren")["offers"][1]
    assert 51 <= float(far["lead_time_days"]) <= 53


def test_the_written_study_gives_the_same_answer(shop: Commands) -> None:
    """Every figure of the book stands in the file: the same digits without a book."""
    from_book = data(shop, "Wren", "--write-study", "wren.toml")
    text = Path("wren.toml").read_text("utf-8")
    assert tomllib.loads(text)["demand"]["on_hand"] == {"M": 30, "L": 28}
    assert "# assumed: what a year on the shelf costs" in text
    from_file = data(shop, "wren.toml")
    # The file is what says the days now.
    said = [[each.pop("lead_time_from") for each in found["offers"]] for found in (from_book, from_file)]
    closed = ", closed days on top"
    assert said[0] == ["as the offer states", f"as the offer states{closed}"]
    assert said[1] == ["as the study states", f"as the study states{closed}"]
    for key in ("verdict", "sentence", "offers", "alternatives", "break_even", "sensitivity", "order_by"):
        assert from_file[key] == from_book[key]


def test_a_study_that_is_there_is_not_written_over(shop: Commands) -> None:
    """It may hold changes."""
    Path("wren.toml").write_text("mine", "utf-8")
    assert "name another file" in refusal(shop("compare", "Wren", "--write-study", "wren.toml"))
    assert Path("wren.toml").read_text("utf-8") == "mine"


def test_what_moved_the_answer_is_named(shop: Commands) -> None:
    """A dearer mill makes it domestic; less capital does not."""
    done(shop("compare", "Wren", "--write-study", "wren.toml"))
    changed = (
        Path("wren.toml")
        .read_text("utf-8")
        .replace('price = "1.8"', 'price = "3.5"')
        .replace("= 0.12", "= 0.11")
    )
    Path("dear.toml").write_text(changed, "utf-8")
    against = data(shop, "dear.toml", "--against", "wren.toml")["against"]
    assert (against["verdict"] != "DOMESTIC", against["is_moved"]) == (True, True)
    moves = {each["place"]: each["moves_verdict"] for each in against["differences"]}
    assert moves == {"[money] capital_per_year": False, "Sparrow Mill, Wren: breaks": True}
    text = " ".join(
        done(shop("compare", "dear.toml", "--against", "wren.toml", "--futures", "300")).out.split()
    )
    assert "What moves the verdict by itself: Sparrow Mill, Wren: breaks." in text


def test_a_study_without_demand_takes_it_from_the_book(shop: Commands) -> None:
    """Its sku names an item or a style; what it says itself stands."""
    offers = 'offer = [{name = "Here", breaks = [{from = 1, price = "4"}]}]'
    Path("short.toml").write_text(f'sku = "Wren"\n{offers}\n', "utf-8")
    found = data(shop, "short.toml")
    assert any("from the book, for Wren up to" in text for text in found["warnings"])
    assert found["offers"][0]["quantity_by_size"].keys() == {"M", "L"}
    Path("stated.toml").write_text(f'sku = "WREN-BLK-M"\n{offers}\n[demand]\nper_month = 10\n', "utf-8")
    stated = data(shop, "stated.toml")
    assert any(text.endswith(": on_hand.") for text in stated["warnings"])
    # Thirty at ten a month.
    assert "2026-06" in stated["order_by"]


def test_a_study_of_goods_the_book_does_not_have_must_say_its_demand(shop: Commands) -> None:
    """The nearest name is told."""
    Path("short.toml").write_text(
        'sku = "Wrem"\noffer = [{name = "Here", breaks = [{from = 1, price = "4"}]}]\n', "utf-8"
    )
    told = refusal(shop("compare", "short.toml"), StudyErrors)
    assert "sku: the book has no item and no style 'Wrem'" in told


def test_a_style_comes_in_all_its_colours_or_in_the_one_that_is_named(shop: Commands) -> None:
    """Sizes are told apart by colour too; the minimum of each colour counts for each."""
    loaded(shop, "items", ITEMS.replace("Black=BLK", "Black=BLK; Moss=MOS"))
    posted(
        shop,
        "2026-01-02,receive,WREN-MOS-M,50,180.00,Mill Lane",
        "2026-02-10,sell,WREN-MOS-M,30,600.00,",
    )
    each = f"{HEAD},minimum_per_colour\n{FAR},80\n"
    loaded(shop, "quotes", each)
    done(shop("compare", "Wren", "--write-study", "all.toml"))
    done(shop("compare", "Wren", "--colour", "black", "--write-study", "black.toml"))
    every, black = (tomllib.loads(Path(name).read_text("utf-8")) for name in ("all.toml", "black.toml"))
    assert list(every["demand"]["sizes"]) == ["Black M", "Black L", "Moss M"]
    assert list(black["demand"]["sizes"]) == ["M", "L"]
    (both,), (one,) = (
        [offer for offer in study["offer"] if offer["origin"] == "CN"] for study in (every, black)
    )
    # Eighty of each colour; of one colour that is the least of all.
    assert (both["minimum"], both["minimum_per_colour"]) == (48, 80)
    assert (one["minimum"], "minimum_per_colour" in one) == (80, False)
    assert every["demand"]["colours"] == {"Black": ["Black M", "Black L"], "Moss": ["Moss M"]}
    for held in data(shop, "all.toml")["alternatives"]:
        black_pieces = sum(int(held["quantities"][f"Black {size}"]) for size in ("M", "L"))
        assert all(
            pieces == 0 or pieces >= 80 for pieces in (black_pieces, int(held["quantities"]["Moss M"]))
        )


def test_many_sizes_stand_below_each_other(blankbook: Commands) -> None:
    """Nine columns would not fit a screen."""
    loaded(blankbook, "items", ITEMS.replace("Black=BLK", "Ash=ASH; Black=BLK; Cream=CRM; Dawn=DWN; Elm=ELM"))
    offered(blankbook, HOME, FAR)
    skus = [f"WREN-{colour}-{size}" for colour in ("ASH", "BLK", "CRM", "DWN", "ELM") for size in ("M", "L")]
    posted(
        blankbook,
        *(f"2026-01-02,receive,{sku},20,72.00,Mill Lane" for sku in skus),
        *(f"2026-02-10,sell,{sku},15,300.00," for sku in skus),
    )
    out = done(blankbook("compare", "Wren", "--futures", "200")).out
    assert "of each colour and size as below" in out
    assert any(line.startswith("Cream M ") for line in out.splitlines())


def test_no_quote_no_decision(blankbook: Commands) -> None:
    """The way out is named."""
    sold(blankbook)
    assert "quotes template" in refusal(blankbook("compare", "Wren"))


def test_an_offer_that_cannot_be_studied_is_left_out_with_the_reason(blankbook: Commands) -> None:
    """No duty known for its origin: unknown is not free."""
    sold(blankbook)
    loaded(blankbook, "quotes", f"{HEAD}\n{FAR}\n{HOME}\n")
    found = data(blankbook, "Wren")
    assert [each["name"] for each in found["offers"]] == ["Mill Lane, Wren"]
    assert found["verdict"] == "DOMESTIC"
    assert any("Sparrow Mill, Wren is left out: no duty layer" in text for text in found["warnings"])


def test_only_an_offer_from_afar_needs_one_from_here(blankbook: Commands) -> None:
    """There is nothing to hold it against."""
    sold(blankbook)
    offered(blankbook, FAR)
    found = data(blankbook, "Wren")
    assert (found["verdict"], found["alternatives"]) == ("NEED DATA", [])


def test_nothing_ever_left_is_said_with_a_way_out(blankbook: Commands) -> None:
    """The study can be written without demand, and asks for it."""
    offered(blankbook, HOME, FAR)
    posted(blankbook, STOCK.format(size="M", pieces=10, amount="36.00"))
    assert "--write-study" in refusal(blankbook("compare", "Wren"))
    written = done(blankbook("compare", "Wren", "--write-study", "wren.toml"))
    assert "fill in [demand]" in written.err
    assert "there is no demand" in refusal(blankbook("compare", "wren.toml"), StudyErrors)
    text = Path("wren.toml").read_text("utf-8")
    for line in ("low = 10", "likely = 25", "high = 50"):
        text = text.replace(f"# {line}", line)
    Path("guessed.toml").write_text(text, "utf-8")
    assert data(blankbook, "guessed.toml")["alternatives"]


def test_one_sale_ever_is_decided_and_called_a_guess(blankbook: Commands) -> None:
    """Nothing is not a number."""
    offered(blankbook, HOME, FAR)
    posted(
        blankbook,
        STOCK.format(size="M", pieces=10, amount="36.00"),
        "2026-03-10,sell,WREN-BLK-M,1,20.00,",
    )
    outcome = done(blankbook("compare", "Wren", "--futures", "300"))
    assert "only one piece ever left the shelf" in outcome.out
    assert "nan" not in outcome.out


def test_duty_layers_are_written_with_their_dates(blankbook: Commands) -> None:
    """One that ends soon and one that begins later both stand in the study."""
    sold(blankbook)
    loaded(blankbook, "quotes", f"{HEAD}\n{HOME}\n{FAR}\n")
    loaded(
        blankbook,
        "duties",
        "program,customs_class,origin,rate,from,until,source,checked_on\n"
        "general,6109.10,any,16.5%,,,a ruling,2026-03-01\n"
        "added,6109,CN,10%,2025-01-01,2026-04-15,a ruling,2026-03-01\n"
        "added,6109,CN,25%,2026-12-01,,a ruling,2026-03-01\n",
    )
    done(blankbook("compare", "Wren", "--write-study", "wren.toml"))
    duty = tomllib.loads(Path("wren.toml").read_text("utf-8"))["offer"][1]["duty"]
    told = [(each["rate"], str(each.get("from")), str(each.get("until"))) for each in duty]
    assert sorted(told) == [
        ("0.1", "2025-01-01", "2026-04-15"), ("0.165", "None", "None"), ("0.25", "2026-12-01", "None"),
    ]  # fmt: skip


def test_packs_are_studied_by_the_piece(blankbook: Commands) -> None:
    """Twelve dollars for a hundred sheets; five packs from five hundred sheets on."""
    offered(blankbook, PAPER)
    posted(
        blankbook,
        "2026-01-02,receive,PAPER,300,36.00,Mill Lane",
        "2026-03-10,use,PAPER,120,,",
    )
    done(blankbook("compare", "PAPER", "--write-study", "paper.toml"))
    (offer,) = tomllib.loads(Path("paper.toml").read_text("utf-8"))["offer"]
    assert offer["breaks"] == [{"from": 1, "price": "0.12"}, {"from": 500, "price": "0.1"}]
    assert (offer["minimum"], offer["multiple"]) == (100, 100)
    told = done(blankbook("compare", "paper.toml", "--futures", "200")).out
    assert "a sheet" in told
    assert "piece" not in told.split("Demand:")[0]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("study.toml", "--write-study", "x.toml"), "instead of a file"),
        (("Wren", "--against", "x.csv"), "end in .toml"),
        (("Wren", "--prices", "Wren"), "its own offers"),
        (("study.toml", "--quantity", "5", "--curve"), "leave --quantity and --curve out"),
        (("--quantity", "5"), "--quantity: say which goods"),
        (("--prices", "Wren", "--against", "x.toml"), "--against goes with a decision"),
        ((), "name a study"),
    ],
)
def test_words_that_do_not_go_together(blankbook: Commands, words: tuple[str, ...], told: str) -> None:
    """The command line itself is wrong."""
    assert told in refusal(blankbook("compare", *words), UsageError)


def test_reading_the_options_imports_nothing_slow() -> None:
    """Neither the price comparison nor the decision: a study starts fast."""
    code = (
        "import sys, ledger.cli.compare; "
        "print([name for name in sys.modules if name.startswith(('ledger.book.buying', 'ledger.sourcing', 'ledger.intake'))])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"

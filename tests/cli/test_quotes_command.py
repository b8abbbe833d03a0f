"""`blankbook quotes` and `blankbook duties` in this process."""

from __future__ import annotations

import datetime
from pathlib import Path

import openpyxl
import pytest
import typer
from small_shop import Commands, new_book

from ledger.cli import duties, items, quotes
from ledger.errors import InputErrors, Refused, UsageError
from ledger.sourcing.quote_columns import QUOTE_COLUMNS

ITEMS = (
    "sku,name,kind,unit,style,sizes,colours,sku_pattern,packs\n"
    ",Wren tee,blank,each,Wren,S-3XL,Black=BLK; Moss=MOS,{style}-{colour}-{size},\n"
    "PAPER,Paper A4,paper,sheet,,,,,pack = 100 sheet\n"
)
HEAD = "supplier,offer,sku,style,colours,sizes,prices,unit,currency,terms,origin,minimum,valid_until,defects"
TEES = "Mill Lane,Wren,,Wren,,S-XL,1 = 4.10; 72 = 3.60,,USD,shipping point,,,2026-12-31,"
LARGE = "Mill Lane,Wren,,Wren,,2XL-3XL,5.60,,,,,,,"
PAPER = "Mill Lane,,PAPER,,,,1 = 14.90; 5 = 13.90,pack,,,,,,2%"


def register(app: typer.Typer) -> None:
    """Add the commands these tests run."""
    for module in (items, quotes, duties):
        module.register(app)


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The commands with a book that knows a style and a paper, run in an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    commands = Commands(register, new_book(tmp_path / "shop.blankbook"))
    Path("items.csv").write_text(ITEMS, "utf-8")
    assert commands("items", "load", "items.csv", "--yes").code == 0
    return commands


def sheet(*rows: str, head: str = HEAD) -> str:
    """Write a file and return its name."""
    Path("sheet.csv").write_text("\n".join([head, *rows, ""]), "utf-8")
    return "sheet.csv"


def test_rows_of_one_offer_are_one_offer(blankbook: Commands) -> None:
    """What stands in its first row holds for the whole of it; ranges of sizes are spelled out."""
    blankbook("quotes", "load", sheet(TEES, LARGE, PAPER), "--yes")
    first, second = blankbook("quotes", "--json").data
    assert [row["sizes"] for row in first["prices"] + second["prices"]] == ["", "S; M; L; XL", "2XL; 3XL"]
    assert (second["terms"], second["valid_until"]) == ("shipping point", "2026-12-31")


def test_breaks_are_kept_exactly(blankbook: Commands) -> None:
    """Decimal text, as typed but for zeros at the end."""
    blankbook("quotes", "load", sheet(PAPER), "--yes")
    assert blankbook("quotes", "--json").data == [
        {
            "supplier": "Mill Lane",
            "offer": "PAPER",
            "unit": "pack",
            "defects": "2",
            "prices": [
                {
                    "sku": "PAPER",
                    "style": "",
                    "colours": "",
                    "sizes": "",
                    "breaks": [{"from": 1, "price": "14.9"}, {"from": 5, "price": "13.9"}],
                }
            ],
        }
    ]


def test_the_list_is_a_table(blankbook: Commands) -> None:
    """One line for each list of prices, and how long it stands."""
    blankbook("quotes", "load", sheet(TEES, LARGE), "--yes")
    out = blankbook("quotes").out
    assert ("1 = 4.10; 72 = 3.60  " in out, "until 2026-12-31" in out, "Wren 2XL; 3XL" in out) == (True,) * 3


def test_the_same_sheet_twice_changes_nothing(blankbook: Commands) -> None:
    """Twice is once."""
    blankbook("quotes", "load", sheet(TEES, LARGE, PAPER), "--yes")
    before = blankbook.book.read_bytes()
    outcome = blankbook("quotes", "load", "sheet.csv")
    assert (outcome.code, "Nothing changes" in outcome.out) == (0, True)
    assert blankbook.book.read_bytes() == before


def test_an_amended_offer_keeps_its_history(blankbook: Commands) -> None:
    """Both states are there, the old one first."""
    blankbook("quotes", "load", sheet(PAPER), "--yes")
    data = blankbook("quotes", "load", sheet(PAPER.replace("13.90", "13.50")), "--yes", "--json").data
    assert [change["columns"] for change in data["changed"]] == [["prices"]]
    states = blankbook("quotes", "--history", "--json").data
    assert [state["prices"][0]["breaks"][1]["price"] for state in states] == ["13.9", "13.5"]


def test_columns_the_sheet_lacks_stay(blankbook: Commands) -> None:
    """A sheet of prices leaves the terms as they were."""
    blankbook("quotes", "load", sheet(TEES), "--yes")
    short = sheet("mill lane,WREN,Wren,S-XL,4.00", head="supplier,offer,style,sizes,prices")
    blankbook("quotes", "load", short, "--yes")
    offer = blankbook("quotes", "--json").data[0]
    assert (offer["terms"], offer["prices"][0]["breaks"]) == ("shipping point", [{"from": 1, "price": "4"}])


def test_the_preview_shows_only_what_changes(blankbook: Commands) -> None:
    """Of an offer of two rows the one that differs, what it was, and the offer's own columns once."""
    blankbook("quotes", "load", sheet(TEES, LARGE), "--yes")
    changed = TEES.replace("3.60", "3.50").replace("2026-12-31", "2027-12-31")
    out = blankbook("quotes", "load", sheet(changed, LARGE), "--dry-run").out
    lines = [line for line in out.splitlines() if line.startswith("Mill Lane")]
    assert len(lines) == 2
    assert "valid_until: 2026-12-31 to 2027-12-31" in lines[0]
    assert "1 = 4.10; 72 = 3.50" in lines[1]
    assert "prices, were 1 = 4.10; 72 = 3.60" in lines[1]


def test_rows_that_come_and_go_are_shown(blankbook: Commands) -> None:
    """An offer's rows are replaced by those of the sheet."""
    blankbook("quotes", "load", sheet(TEES, LARGE), "--yes")
    out = blankbook("quotes", "load", sheet(TEES, LARGE.replace("2XL-3XL", "2XL")), "--dry-run").out
    assert ("new row" in out, "no longer in it" in out) == (True, True)


def test_history_says_which_state_stands(blankbook: Commands) -> None:
    """The others with the day that replaced them."""
    blankbook("quotes", "load", sheet(TEES, PAPER), "--yes")
    blankbook("quotes", "load", sheet(PAPER.replace("13.90", "13.50")), "--yes")
    lines = blankbook("quotes", "--history").out.splitlines()[2:]
    papers = [line.split("  ")[-1].split() for line in lines if "PAPER" in line]
    assert [words[0] for words in papers] == ["replaced", "stands"]
    replaced = [state["replaced_on"] is None for state in blankbook("quotes", "--history", "--json").data]
    assert replaced == [True, False, True]


@pytest.mark.parametrize(
    ("row", "where", "words"),
    [
        (TEES.replace("1 = 4.10; 72 = 3.60", "72 = 3.60; 1 = 4.10"), "prices", "stands behind"),
        (TEES.replace("1 = 4.10; 72 = 3.60", "1 = 4.10; 1 = 3.60"), "prices", "two prices begin at 1"),
        (TEES.replace("shipping point", "FOBB"), "terms", "names no delivery terms"),
        (TEES.replace("USD", "XXQ"), "currency", "is not a currency"),
        (PAPER.replace(",2%", ",0.02"), "defects", "write the per cent sign"),
        (PAPER.replace(",2%", ",100%"), "defects", "no good piece"),
        (PAPER.replace("pack", "carton"), "unit", "has no fixed content"),
        (PAPER.replace("PAPER", "PAPR"), "sku", "Did you mean 'PAPER'"),
        (TEES.replace(",Wren,,S-XL", ",Wern,,S-XL"), "style", "Did you mean 'Wren'"),
        (TEES.replace("S-XL", "S-9XL"), "sizes", "9XL"),
        (TEES.replace(",Wren,,S-XL", ",Wren,Mauve,S-XL"), "colours", "has no colour 'Mauve'"),
        (TEES.replace("2026-12-31", "31.12.2026"), "valid_until", "write it like"),
        (TEES.replace("Mill Lane,", ",", 1), "supplier", "say who offers"),
        ("Mill Lane,,,,,,4.10,,,,,,,", "sku", "either an SKU or a style"),
        ("Mill Lane,,PAPER,,,,,,,,,,,", "prices", "there is no price"),
        (TEES.replace("shipping point,,", "shipping point,ZZ,"), "origin", "is not a country code"),
        (TEES.replace("shipping point", "FOB"), "terms", "no origin is given"),
        (PAPER.replace("1 = 14.90", "1 = 0"), "prices", "leave the row out until the price is known"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(blankbook: Commands, row: str, where: str, words: str) -> None:
    """The cell, the value, what to do."""
    error = blankbook("quotes", "load", sheet(row), "--yes").error
    assert isinstance(error, InputErrors)
    assert [(problem.where, words in str(problem)) for problem in error.problems] == [
        (f"row 2, column {where}", True)
    ]


def test_everything_wrong_comes_in_one_list(blankbook: Commands) -> None:
    """Cells, offers and what the catalogue says, together."""
    rows = (TEES.replace("USD", "XXQ"), LARGE.replace("5.60", "x"), PAPER.replace("PAPER", "PAPR"))
    error = blankbook("quotes", "load", sheet(*rows), "--yes").error
    assert isinstance(error, InputErrors)
    assert [problem.where for problem in error.problems] == [
        "row 2, column currency",
        "row 3, column prices",
        "row 4, column sku",
    ]


def test_an_offer_says_one_thing(blankbook: Commands) -> None:
    """Two rows that contradict each other are named."""
    error = blankbook("quotes", "load", sheet(TEES, LARGE.replace(",,,,,,,", ",,,FOB,,,,")), "--yes").error
    assert "the offer has shipping point as its terms in a row above" in str(error)


def test_the_same_goods_twice_in_an_offer_are_refused(blankbook: Commands) -> None:
    """Which price would hold?"""
    error = blankbook("quotes", "load", sheet(TEES, TEES), "--yes").error
    assert "these goods have prices in a row above" in str(error)


def test_a_price_that_rises_is_warned_about_and_loaded(blankbook: Commands) -> None:
    """It may be meant."""
    outcome = blankbook("quotes", "load", sheet(PAPER.replace("13.90", "15.90")), "--yes")
    assert (outcome.code, "the price rises from 5 on" in outcome.out) == (0, True)


@pytest.mark.parametrize(("terms", "is_warned"), [("destination", True), ("shipping point", False)])
def test_freight_that_counts_for_nothing_is_warned_about(
    blankbook: Commands, terms: str, *, is_warned: bool
) -> None:
    """Where the terms leave carriage to the seller, what is typed of it would silently be dropped."""
    text = f"supplier,offer,sku,prices,terms,freight_per_order\nMill Lane,,PAPER,1 = 14.90,{terms},12.00\n"
    Path("freight.csv").write_text(text, "utf-8")
    outcome = blankbook("quotes", "load", "freight.csv", "--yes")
    assert outcome.code == 0
    words = " ".join(outcome.out.split())
    assert (
        f"under {terms} the seller pays the freight, so freight_per_order counts for nothing" in words
    ) is is_warned


def test_without_anybody_to_ask_nothing_is_loaded(blankbook: Commands) -> None:
    """A load without --yes in a script is refused."""
    assert isinstance(blankbook("quotes", "load", sheet(PAPER)).error, Refused)


def test_the_quotes_template_is_a_workbook_that_loads(blankbook: Commands) -> None:
    """A row typed into the blank sheet, a date as a spreadsheet keeps it, is an offer of the book."""
    blankbook("quotes", "template", "quotes.xlsx")
    workbook = openpyxl.load_workbook("quotes.xlsx")
    page = workbook["Quotes"]
    places = {cell.value: cell.column for cell in page[1]}
    for name, value in (
        ("supplier", "Mill Lane"),
        ("sku", "PAPER"),
        ("prices", "1 = 14.90"),
        ("valid_until", datetime.date(2026, 12, 31)),
    ):
        page.cell(2, places[name], value)
    workbook.save("quotes.xlsx")
    outcome = blankbook("quotes", "load", "quotes.xlsx", "--yes")
    assert outcome.code == 0, outcome.error
    assert blankbook("quotes", "--json").data[0]["valid_until"] == "2026-12-31"


DUTY_HEAD = "program,customs_class,origin,rate,from,until,source,checked_on"
GENERAL = "general,6109.10,any,16.5%,,,a ruling,2026-03-01"
ADDED = "list 4A,6109,CN,7.5%,2020-02-14,,chapter 99,2026-01-01"


def test_loaded_rates_are_listed_with_their_age(blankbook: Commands) -> None:
    """Thirty days are fine, eighty-nine are told."""
    blankbook("duties", "load", sheet(GENERAL, ADDED, head=DUTY_HEAD), "--yes")
    rows = blankbook("duties").out.splitlines()[2:4]
    assert [row.split("2026-")[1:] for row in rows] == [["03-01"], ["01-01, over 60 days ago"]]
    assert blankbook("duties", "--json").data[1]["rate_percent"] == "7.5"


def test_a_layer_is_amended_under_the_spelling_of_the_book(blankbook: Commands) -> None:
    """610910 and 6109.10 are one class."""
    blankbook("duties", "load", sheet(GENERAL, head=DUTY_HEAD), "--yes")
    row = GENERAL.replace("6109.10", "610910").replace("general", "General").replace("16.5", "16")
    data = blankbook("duties", "load", sheet(row, head=DUTY_HEAD), "--yes", "--json").data
    assert [(each["program"], each["customs_class"], each["rate_percent"]) for each in data["changed"]] == [
        ("general", "6109.10", "16")
    ]
    assert len(blankbook("duties", "--json").data) == 1


@pytest.mark.parametrize(
    ("row", "where", "words"),
    [
        (GENERAL.replace("16.5%", "0.165"), "column rate", "write the per cent sign"),
        (GENERAL.replace("16.5%", ""), "column rate", "the rate is empty"),
        (GENERAL.replace("6109.10", "tees"), "column customs_class", "or its beginning"),
        (GENERAL.replace("any", "ZZ"), "column origin", "is not a country code"),
        (ADDED.replace(",,chapter", ",2019-01-01,chapter"), "column until", "before it begins"),
    ],
)
def test_a_wrong_rate_is_told_with_its_place(blankbook: Commands, row: str, where: str, words: str) -> None:
    """The cell, the value, what to do."""
    error = blankbook("duties", "load", sheet(row, head=DUTY_HEAD), "--yes").error
    assert isinstance(error, InputErrors)
    assert [(where in problem.where, words in str(problem)) for problem in error.problems] == [(True, True)]


def test_a_layer_twice_is_refused(blankbook: Commands) -> None:
    """Keep one, or give them different first days."""
    error = blankbook("duties", "load", sheet(GENERAL, GENERAL, head=DUTY_HEAD), "--yes").error
    assert "stands twice in the file" in str(error)


def test_the_examples_of_the_duties_template_load_as_examples(blankbook: Commands) -> None:
    """Copied into the sheet, each says that it is no fact; each has a source and a date."""
    blankbook("duties", "template", "duties.xlsx")
    workbook = openpyxl.load_workbook("duties.xlsx")
    for row, values in enumerate(workbook["Examples"].iter_rows(min_row=2, values_only=True), start=2):
        for column, value in enumerate(values, start=1):
            workbook["Duties"].cell(row, column, value)
    workbook.save("duties.xlsx")
    outcome = blankbook("duties", "load", "duties.xlsx", "--yes")
    assert outcome.code == 0, outcome.error
    rows = blankbook("duties", "--json").data
    assert {row["example"] for row in rows} == {True}
    assert all(row["source"] and row["checked_on"] for row in rows)


def test_the_blank_duties_template_has_no_rows(blankbook: Commands) -> None:
    """The sheet of examples is not read."""
    blankbook("duties", "template", "duties.xlsx")
    error = blankbook("duties", "load", "duties.xlsx", "--yes").error
    assert "there are no rows" in str(error)


@pytest.mark.parametrize("name", ["quotes", "duties"])
def test_a_new_book_says_how_to_begin(blankbook: Commands, name: str) -> None:
    """An empty list names the next command."""
    assert f"blankbook {name} template" in blankbook(name).err


@pytest.mark.parametrize("name", ["quotes", "duties"])
def test_options_of_the_list_do_not_reach_a_command_under_it(blankbook: Commands, name: str) -> None:
    """An option that would be lost in silence is refused."""
    assert isinstance(blankbook(name, "--json", "load", "x.csv").error, UsageError)


@pytest.mark.parametrize(
    "words", [(name, *more) for name in ("quotes", "duties") for more in ((), ("load",), ("template",))]
)
def test_help_shows_an_example(blankbook: Commands, words: tuple[str, ...]) -> None:
    """Each help text has a command to copy."""
    assert f"\n    blankbook {' '.join(words)}" in blankbook(*words, "--help").out


def test_a_withdrawn_offer_no_longer_stands_and_keeps_its_history(blankbook: Commands) -> None:
    """Whatever the capitals; loaded again it stands again."""
    blankbook("quotes", "load", sheet(PAPER), "--yes")
    assert blankbook("quotes", "withdraw", "mill lane", "paper", "--yes").code == 0
    assert blankbook("quotes", "--json").data == []
    assert "withdrawn 2026-03-31" in blankbook("quotes", "--history").out
    assert [state["withdrawn"] for state in blankbook("quotes", "--history", "--json").data] == [False, True]
    blankbook("quotes", "load", sheet(PAPER), "--yes")
    assert len(blankbook("quotes", "--json").data) == 1


def test_withdrawing_what_is_not_there_is_refused_with_the_nearest(blankbook: Commands) -> None:
    """And nothing is withdrawn without a yes."""
    blankbook("quotes", "load", sheet(PAPER), "--yes")
    assert "Did you mean Mill Lane, PAPER?" in str(blankbook("quotes", "withdraw", "Mill Lan", "PAPER").error)
    assert isinstance(blankbook("quotes", "withdraw", "Mill Lane", "PAPER").error, Refused)
    assert len(blankbook("quotes", "--json").data) == 1


def test_the_currency_stands_beside_foreign_prices(blankbook: Commands) -> None:
    """While loading, in the list and in the history."""
    row = TEES.replace("USD", "CNY")
    outs = [blankbook("quotes", "load", sheet(row), "--yes").out]
    outs += [blankbook("quotes", *words).out for words in ((), ("--history",))]
    assert ["72 = 3.60 CNY" in out for out in outs] == [True, True, True]


def test_a_supplier_in_other_capitals_is_the_same(blankbook: Commands) -> None:
    """One new supplier, spelled as in its first row."""
    blankbook("quotes", "load", sheet(TEES, PAPER.replace("Mill Lane", "MILL  lane")), "--yes")
    assert {offer["supplier"] for offer in blankbook("quotes", "--json").data} == {"Mill Lane"}


def problems_of(commands: Commands, *rows: str, head: str = HEAD) -> list[str]:
    """Return what loading these rows finds wrong, a line each."""
    return str(commands("quotes", "load", sheet(*rows, head=head)).error).splitlines()[1:]


def test_problems_are_told_from_the_top_of_the_sheet_down(blankbook: Commands) -> None:
    """Whether the cell is wrong, the offer, or the catalogue lacks it."""
    rows = (
        PAPER.replace("PAPER", "PAPIER"),
        TEES.replace("2026-12-31", "soon"),
        LARGE.replace("Wren,,Wren", "x,,Wrem"),
    )
    found = problems_of(blankbook, *rows)
    assert [line.split(",")[0].strip(" -") for line in found] == ["row 2", "row 3", "row 4"]


def test_a_country_s_name_is_one_problem_with_its_code(blankbook: Commands) -> None:
    """No second one about terms without an origin."""
    (found,) = problems_of(blankbook, TEES.replace("shipping point,,", "FOB,Portugall,"))
    assert "Did you mean PT (Portugal)?" in found


@pytest.mark.parametrize(
    ("column", "text", "what"),
    [
        ("minimum", "abc", "'abc' is not a whole number: write digits, like 72."),
        ("insurance", "200%", "'200%' is more than 100%."),
        ("quoted_on", "2027-01-02", "the offer ends on 2026-12-31, before it was quoted on 2027-01-02"),
    ],
)
def test_cells_that_cannot_be_meant_are_refused(
    blankbook: Commands, column: str, text: str, what: str
) -> None:
    """With what to write instead where that is known."""
    head = f"{HEAD.replace('minimum', 'least')},{column}".replace(
        "least", "max" if column == "minimum" else "minimum"
    )
    found = problems_of(blankbook, f"{TEES},{text}", head=head)
    assert what in found[0]


def test_the_sheet_says_where_an_incremental_price_begins(blankbook: Commands) -> None:
    """As the published schedules reckon: what goes beyond the quantity has the new price."""
    del blankbook
    assert "72 = 3.60 is from the 73rd piece on" in QUOTE_COLUMNS["discount"]

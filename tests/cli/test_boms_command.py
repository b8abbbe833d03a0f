"""`blankbook boms` in this process."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

import pytest
from small_shop import Commands, new_book

from ledger.cli import boms, items
from ledger.cli.main import MODULES
from ledger.errors import InputErrors, Refused, UsageError

ITEMS = (
    "sku,name,kind,unit,style,sizes,colours,ladder,fibre,shelf_life_days\n"
    ",Drift tee,blank,each,Drift,S-M,Black=BLK; White=WHT,youth,100% cotton,\n"
    "INK-W,White ink,ink,mL,,,,,,\n"
    "POW,Powder,powder,g,,,,,,\n"
    "PRE,Pretreatment,chemical,g,,,,,,\n"
    "STN,Stones,stones,each,,,,,,\n"
)
HEAD = "bill,name,way,blank,finished,sku,per_piece,per_run,colours,misprints,labour_per_run,note\n"
FOX = "FOX,Fox,direct to film,Drift,FOX-{colour}-{size},INK-W,2.5,10,Black,4,6.50,\n,,,,,POW,3,,,,,\n"
OWN = "OWN,Own shirt,stones,,OWN,STN,20,,,,,\n"
SUB = 'SUB,Panel,"sublimation, one panel",Drift,,INK-W,1,,,,,\n'


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The command with a book of a few items, run in a folder of its own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    book = new_book(tmp_path / "shop.blankbook")
    Path("items.csv").write_text(ITEMS, "utf-8")
    assert Commands(items.register, book)("items", "load", "items.csv", "--yes").code == 0
    return Commands(boms.register, book)


def sheet(*rows: str) -> str:
    """Write a bills file and return its name."""
    Path("bills.csv").write_text(HEAD + "".join(rows), "utf-8")
    return "bills.csv"


def shown(blankbook: Commands, *words: str) -> Any:
    """Load the bills and show one, as data."""
    blankbook("boms", "load", sheet(FOX, OWN, SUB), "--yes")
    return blankbook("boms", "show", *words, "--json").data


def expire(book: Path, sku: str, on: str) -> None:
    """Put a lot of an item on the shelf that expires on a day."""
    connection = sqlite3.connect(book)
    connection.execute(
        "INSERT INTO document (number, event, document_date, effect_date, recorded_at, currency) "
        "VALUES (1, 'receipt', '2026-01-05', '2026-01-05', '2026-01-05T10:00:00Z', 'USD')"
    )
    connection.execute(
        "INSERT INTO lot VALUES (1, 1, ?, '2026-01-05', '2026-01-05', 0, 1000, 100, 0, 1000, 100, ?)",
        (sku, on),
    )
    connection.commit()
    connection.close()


def test_the_command_is_in_the_program() -> None:
    """`blankbook boms` is found."""
    assert MODULES["boms"] == "boms"


def test_loaded_bills_are_listed(blankbook: Commands) -> None:
    """The table has a line for each."""
    blankbook("boms", "load", sheet(FOX, OWN), "--yes")
    out = blankbook("boms").out
    assert ("FOX-{colour}-{size}" in out, "the customer's" in out) == (True, True)


def test_the_list_as_data_has_the_lines(blankbook: Commands) -> None:
    """Amounts are decimals as text, in the unit beside them."""
    blankbook("boms", "load", sheet(FOX), "--yes")
    first = blankbook("boms", "--json").data[0]["lines"][0]
    assert first == {
        "sku": "INK-W",
        "per_piece": "2.5",
        "per_run": "10",
        "unit": "",
        "waste": "0",
        "uses": None,
        "colours": ["Black"],
        "note": "",
    }


def test_a_new_book_says_how_to_begin(blankbook: Commands) -> None:
    """An empty list names the next command."""
    assert "boms template" in blankbook("boms").err


def test_a_dry_run_changes_nothing(blankbook: Commands) -> None:
    """--dry-run only shows."""
    before = blankbook.book.read_bytes()
    outcome = blankbook("boms", "load", sheet(FOX), "--dry-run", "--json")
    assert (outcome.data["posted"], blankbook.book.read_bytes() == before) == (False, True)


def test_the_data_of_a_load_names_what_is_new_and_changed(blankbook: Commands) -> None:
    """--json carries the codes and, for a change, the columns."""
    blankbook("boms", "load", sheet(FOX, OWN), "--yes")
    outcome = blankbook("boms", "load", sheet(FOX.replace("2.5", "2"), OWN, SUB), "--yes", "--json")
    assert outcome.data == {
        "file": "bills.csv",
        "new": ["SUB"],
        "changed": [{"bill": "FOX", "columns": ["lines"]}],
        "unchanged": 1,
        "posted": True,
    }


def test_an_unchanged_file_changes_nothing_and_says_so(blankbook: Commands) -> None:
    """Twice is once, and nobody is asked the second time."""
    blankbook("boms", "load", sheet(FOX), "--yes")
    before = blankbook.book.read_bytes()
    outcome = blankbook("boms", "load", "bills.csv")
    assert (outcome.code, "Nothing changes" in outcome.out, blankbook.book.read_bytes() == before) == (
        0,
        True,
        True,
    )


def test_without_anybody_to_ask_nothing_is_loaded(blankbook: Commands) -> None:
    """A load without --yes in a script is refused with the way out."""
    error = blankbook("boms", "load", sheet(FOX)).error
    assert (isinstance(error, Refused), "--yes" in str(error)) == (True, True)


def test_a_wrong_bill_is_refused_whole(blankbook: Commands) -> None:
    """One line wrong, and none of the bills is loaded."""
    error = blankbook("boms", "load", sheet(OWN, FOX.replace("POW", "POX")), "--yes").error
    assert (isinstance(error, InputErrors), "Did you mean POW" in str(error), blankbook("boms").out) == (
        True,
        True,
        "",
    )


def test_a_job_is_shown_by_its_blank(blankbook: Commands) -> None:
    """Blank, finished SKU, components, planned pieces and paid labour."""
    data = shown(blankbook, "fox", "--colour", "black", "--size", "s", "--pieces", "12")
    assert (data["blank"], data["finished"], data["planned_pieces"], data["labour"]) == (
        "DRIFT-BLK-S",
        "FOX-BLK-S",
        13,
        "6.50",
    )
    assert [(part["sku"], part["quantity"]) for part in data["components"]] == [
        ("DRIFT-BLK-S", "12"),
        ("INK-W", "40"),
        ("POW", "36"),
    ]


def test_without_a_choice_the_first_blank_is_shown_and_said(blankbook: Commands) -> None:
    """Colours in order, the smallest size first."""
    blankbook("boms", "load", sheet(FOX), "--yes")
    outcome = blankbook("boms", "show", "FOX")
    assert ("of DRIFT-BLK-S, use:" in outcome.out, "one of 4 blanks" in outcome.err) == (True, True)


def test_a_bill_without_a_blank_is_shown(blankbook: Commands) -> None:
    """A customer's own garment."""
    data = shown(blankbook, "OWN", "--pieces", "2")
    assert (data["blank"], [part["quantity"] for part in data["components"]]) == (None, ["40"])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("FOXX",), "Did you mean 'FOX'"),
        (("FOX", "--size", "XL"), "its sizes are S, M"),
        (("FOX", "--colour", "Teal"), "Its colours are Black, White"),
        (("OWN", "--size", "M"), "has no blank"),
    ],
)
def test_a_bill_or_blank_that_is_not_there_is_refused(
    blankbook: Commands, words: tuple[str, ...], said: str
) -> None:
    """A typing mistake is answered with what there is."""
    blankbook("boms", "load", sheet(FOX, OWN), "--yes")
    error = blankbook("boms", "show", *words).error
    assert (isinstance(error, UsageError), said in str(error)) == (True, True)


@pytest.mark.parametrize("word", ["Heat", "Fumes", "Powder dust", "safety data sheet", "Children's sizes"])
def test_each_caution_stands_once_where_the_bill_is_shown(blankbook: Commands, word: str) -> None:
    """Heat, fumes, powder, chemicals, children's sizes."""
    blankbook("boms", "load", sheet(FOX), "--yes")
    assert blankbook("boms", "show", "FOX", "--pieces", "3").out.count(word) == 1


def test_pretreatment_and_stones_bring_their_cautions(blankbook: Commands) -> None:
    """Gloves for chemicals; product safety for stones, once beside that for children's sizes."""
    text = FOX.replace("POW", "PRE") + ",,,,,STN,5,,,,,\n"
    blankbook("boms", "load", sheet(text), "--yes")
    cautions = " ".join(blankbook("boms", "show", "FOX", "--json").data["cautions"])
    words = ("Pretreatment", "Stones:", "Children's sizes:", "Powder dust")
    assert [cautions.count(word) for word in words] == [1, 1, 1, 0]


def test_sublimation_on_cotton_and_dark_cloth_warns(blankbook: Commands) -> None:
    """Both faults of a black cotton shirt are told, and the bill is shown all the same."""
    warnings = shown(blankbook, "SUB", "--colour", "Black")["warnings"]
    assert (len(warnings), "65% polyester" in warnings[0], "dark cloth" in warnings[1]) == (2, True, True)


@pytest.mark.parametrize(("day", "count"), [("2026-03-31", 0), ("2026-04-01", 1)])
def test_an_expired_ink_warns_from_the_day_after(blankbook: Commands, day: str, count: int) -> None:
    """Best before the 31st: it is good on that day."""
    expire(blankbook.book, "INK-W", "2026-03-31")
    assert len(shown(blankbook, "FOX", "--on", day)["warnings"]) == count


def test_the_template_is_written_and_named(blankbook: Commands) -> None:
    """A workbook, never over another file."""
    assert blankbook("boms", "template", "mine.xlsx").code == 0
    assert Path("mine.xlsx").is_file()


def test_json_before_a_sub_command_is_bad_usage(blankbook: Commands) -> None:
    """It belongs to the list."""
    assert isinstance(blankbook("boms", "--json", "template", "x.xlsx").error, UsageError)

"""`blankbook items` in this process."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
from small_shop import Commands, new_book

from ledger.cli import common, items, sheets
from ledger.errors import InputErrors, Refused, UsageError, ValueProblem

HEAD = "sku,name,kind,unit,style,sizes,fibre,ladder,safety_sheet,packs\n"
STYLE = ",Everyday tee,blank,each,Drift,S-L,50% cotton 50% polyester,,,case = 72 each\n"
YOUTH = "{style}-{size},Small tee,blank,each,Fleck,XS-M,100% cotton,youth,,\n"
BARE = "BARE-1,Unlabelled tee,blank,each,,,,,,\n"
CLEANER = "CLEAN-1,Cleaner,chemical,mL,,,,,,bottle = 500 mL\n"
VINYL = "VIN-1,Vinyl,vinyl,cm2,,,,,,roll = 11.8 in x 5 yd (sold as 12 in x 5 yd)\n"


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The command with a new book, run in an empty folder."""
    monkeypatch.chdir(tmp_path)
    return Commands(items.register, new_book(tmp_path / "shop.blankbook"))


def sheet(*rows: str, head: str = HEAD) -> str:
    """Write an items file and return its name."""
    Path("items.csv").write_text(head + "".join(rows), "utf-8")
    return "items.csv"


def test_loaded_items_are_listed(blankbook: Commands) -> None:
    """A style's row becomes an item for each size, smallest first."""
    blankbook("items", "load", sheet(STYLE), "--yes")
    assert [row["sku"] for row in blankbook("items", "--json").data] == ["DRIFT-S", "DRIFT-M", "DRIFT-L"]


def test_the_list_shows_packs_with_the_size_they_are_sold_as(blankbook: Commands) -> None:
    """The table says what a roll holds and what the seller calls it."""
    blankbook("items", "load", sheet(VINYL), "--yes")
    assert "roll = 13703.198 (sold as 12 in x 5 yd)" in blankbook("items").out


@pytest.mark.parametrize(
    ("options", "skus"),
    [
        (("--kind", "chemical"), ["CLEAN-1"]),
        (("--style", "drift"), ["DRIFT-S", "DRIFT-M", "DRIFT-L"]),
        (("--kind", "chemical", "--style", "Drift"), []),
    ],
)
def test_the_list_can_be_narrowed(blankbook: Commands, options: tuple[str, ...], skus: list[str]) -> None:
    """--kind and --style keep the items that are so."""
    blankbook("items", "load", sheet(STYLE, CLEANER), "--yes")
    assert [row["sku"] for row in blankbook("items", *options, "--json").data] == skus


@pytest.mark.parametrize(
    ("options", "kind", "words"),
    [
        (("--kind", "vynil"), ValueProblem, "Did you mean vinyl"),
        (("--style", "Drfit"), UsageError, "Did you mean 'Drift'"),
    ],
)
def test_a_kind_or_style_that_is_not_there_is_refused(
    blankbook: Commands, options: tuple[str, ...], kind: type[Exception], words: str
) -> None:
    """A typing mistake is not an empty list."""
    blankbook("items", "load", sheet(STYLE), "--yes")
    error = blankbook("items", *options).error
    assert (isinstance(error, kind), words in str(error)) == (True, True)


def test_a_new_book_says_how_to_begin(blankbook: Commands) -> None:
    """An empty list names the next command."""
    assert "blankbook items template" in blankbook("items").err


def test_the_list_as_data_shows_the_chief_fibre_and_its_tie(blankbook: Commands) -> None:
    """Half and half is a tie, and no tariff code is picked for it."""
    blankbook("items", "load", sheet(STYLE), "--yes")
    row = blankbook("items", "--json").data[0]
    assert (row["chief_fibre"], row["customs_class"]) == (
        {"group": "man-made", "share": "0.5", "tie": True},
        "",
    )


def test_a_preview_shows_twenty_items_and_says_how_many_more(blankbook: Commands) -> None:
    """A long sheet does not flood the screen."""
    rows = [f"P-{number:02d},Pin,packaging,each,,,,,,\n" for number in range(25)]
    out = blankbook("items", "load", sheet(*rows), "--dry-run").out
    assert (out.count("P-"), "… and 5 more." in out) == (20, True)


def test_a_dry_run_changes_nothing(blankbook: Commands) -> None:
    """--dry-run only shows."""
    before = blankbook.book.read_bytes()
    outcome = blankbook("items", "load", sheet(STYLE), "--dry-run", "--json")
    assert (outcome.data["posted"], blankbook.book.read_bytes() == before) == (False, True)


def test_the_data_of_a_load_names_what_is_new_and_changed(blankbook: Commands) -> None:
    """--json carries the SKUs and, for a change, the columns."""
    blankbook("items", "load", sheet(CLEANER, VINYL), "--yes")
    outcome = blankbook("items", "load", sheet(CLEANER.replace("500", "400"), VINYL, BARE), "--yes", "--json")
    assert outcome.data == {
        "file": "items.csv",
        "new": ["BARE-1"],
        "changed": [{"sku": "CLEAN-1", "columns": ["packs"]}],
        "unchanged": 1,
        "posted": True,
    }


def test_an_unchanged_file_changes_nothing_and_says_so(blankbook: Commands) -> None:
    """Twice is once, and nobody is asked the second time."""
    blankbook("items", "load", sheet(STYLE, CLEANER), "--yes")
    before = blankbook.book.read_bytes()
    outcome = blankbook("items", "load", "items.csv")
    assert (outcome.code, "Nothing changes" in outcome.out, blankbook.book.read_bytes() == before) == (
        0,
        True,
        True,
    )


def test_without_anybody_to_ask_nothing_is_loaded(blankbook: Commands) -> None:
    """A load without --yes in a script is refused with the way out."""
    outcome = blankbook("items", "load", sheet(STYLE))
    assert (type(outcome.error), "--yes" in str(outcome.error)) == (Refused, True)


def test_no_at_the_prompt_loads_nothing(blankbook: Commands, monkeypatch: pytest.MonkeyPatch) -> None:
    """The maker who says no has the book as before."""
    monkeypatch.setattr(common, "is_asking", lambda: True)
    blankbook("items", "load", sheet(STYLE), typed="n\n")
    assert blankbook("items", "--json").data == []


def test_yes_at_the_prompt_loads(blankbook: Commands, monkeypatch: pytest.MonkeyPatch) -> None:
    """The maker who says yes has the items."""
    monkeypatch.setattr(common, "is_asking", lambda: True)
    blankbook("items", "load", sheet(BARE), typed="y\n")
    assert [row["sku"] for row in blankbook("items", "--json").data] == ["BARE-1"]


def test_a_book_that_changed_while_asking_is_left_alone(
    blankbook: Commands, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is posted is what was shown."""

    def another_load(*_: object, **__: object) -> bool:
        monkeypatch.undo()
        blankbook("items", "load", str(file), "--yes")
        return True

    file = Path(sheet(BARE)).resolve()
    monkeypatch.setattr(sheets, "agree", another_load)
    assert "the book changed" in str(blankbook("items", "load", str(file)).error)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (CLEANER, "keep the safety data sheet with the item"),
        (
            BARE,
            "fibre content, origin and responsible firm must stay with the garment (in the US, 16 CFR 303)",
        ),
        (YOUTH, "product-safety rules apply"),
    ],
)
def test_a_caution_is_said_once_after_loading(blankbook: Commands, row: str, words: str) -> None:
    """Items that call for care say so when they are added."""
    assert blankbook("items", "load", sheet(row), "--yes").err.count(words) == 1


def test_items_that_call_for_no_care_load_without_a_caution(blankbook: Commands) -> None:
    """A labelled adult style has nothing to be said about."""
    assert len(blankbook("items", "load", sheet(STYLE), "--yes").err.splitlines()) == 1


def test_a_faulty_file_is_refused_whole(blankbook: Commands) -> None:
    """One wrong row keeps the right ones out as well."""
    outcome = blankbook("items", "load", sheet(BARE, "X-1,Thing,blnk,each,,,,,,\n"), "--yes")
    assert (type(outcome.error), blankbook("items", "--json").data) == (InputErrors, [])


def test_the_template_is_a_workbook_that_loads(blankbook: Commands) -> None:
    """A row typed into the blank sheet is an item of the book."""
    blankbook("items", "template", "sheet.xlsx")
    workbook = openpyxl.load_workbook("sheet.xlsx")
    for column, value in enumerate(("BAG-1", "Mailer", "packaging", "each"), start=1):
        workbook["Items"].cell(2, column, value)
    workbook.save("sheet.xlsx")
    blankbook("items", "load", "sheet.xlsx", "--yes")
    assert [row["sku"] for row in blankbook("items", "--json").data] == ["BAG-1"]


def test_a_template_is_not_written_as_something_else(blankbook: Commands) -> None:
    """A workbook called .csv would be refused when it comes back."""
    error = blankbook("items", "template", "sheet.csv").error
    assert (type(error), Path("sheet.csv").exists()) == (UsageError, False)


def test_a_ladder_of_the_shop_puts_its_sizes_in_order(blankbook: Commands) -> None:
    """Items on it are found by its other spellings, smallest first."""
    blankbook("items", "ladder", "waist", "8; 10 = W10; 12")
    row = "{style}-{size},Apron,blank,each,Apron,12; w10; 8,100% cotton,waist,,\n"
    blankbook("items", "load", sheet(row), "--yes")
    assert [item["size"] for item in blankbook("items", "--json").data] == ["8", "10", "12"]


def test_a_ladder_cannot_lose_a_size_that_items_have(blankbook: Commands) -> None:
    """The refusal names the items."""
    blankbook("items", "ladder", "waist", "8; 10")
    row = "AP-10,Apron,blank,each,Apron,10,100% cotton,waist,,\n"
    blankbook("items", "load", sheet(row, head=HEAD.replace("sizes", "size")), "--yes")
    assert "AP-10 (10)" in str(blankbook("items", "ladder", "Waist", "8; 12").error)


def test_the_same_ladder_again_changes_nothing(blankbook: Commands) -> None:
    """Twice is once, whatever the capitals of its name."""
    blankbook("items", "ladder", "waist", "8; 10 = W10")
    assert "Nothing was changed" in blankbook("items", "ladder", "WAIST", "8; 10 = w10").err


def test_a_ladder_can_be_for_children(blankbook: Commands) -> None:
    """Its items call for the caution on children's sizes."""
    blankbook("items", "ladder", "nursery", "A1; A2", "--childrens")
    row = "{style}-{size},Bib,blank,each,Bib,A1; A2,100% cotton,nursery,,\n"
    assert "product-safety rules apply" in blankbook("items", "load", sheet(row), "--yes").err


def test_options_of_the_list_do_not_reach_a_command_under_it(blankbook: Commands) -> None:
    """An option that would be lost in silence is refused."""
    assert isinstance(blankbook("items", "--json", "load", sheet(BARE)).error, UsageError)


@pytest.mark.parametrize("words", [("items",), ("items", "load"), ("items", "template"), ("items", "ladder")])
def test_help_shows_an_example(blankbook: Commands, words: tuple[str, ...]) -> None:
    """Each help text has a command to copy."""
    assert f"\n    blankbook {' '.join(words)}" in blankbook(*words, "--help").out

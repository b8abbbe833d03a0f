"""The files that `blankbook compare` writes: pictures and a page, of a decision and of landed prices."""

from __future__ import annotations

from pathlib import Path

import pytest
from page_reader import read_page
from price_shop import FAR, HOME, RATES, loaded, offered, price_shop
from small_shop import Commands

from ledger.errors import UsageError
from ledger.views.quotes import CUSTOMS_CAUTION

STUDY = str(Path(__file__).resolve().parents[2] / "samples" / "wren-study.toml")
FEW = ("--futures", "60")


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The commands with a book that has a catalogue, run in an empty folder."""
    return price_shop(tmp_path, monkeypatch)


def test_a_decision_is_drawn_and_written(blankbook: Commands) -> None:
    """The page begins with the sentence the screen shows; the sheet is a picture; both are told."""
    done = blankbook("compare", STUDY, *FEW, "--report", "w.html", "--picture", "w.png")
    assert done.code == 0
    assert Path("w.png").read_bytes().startswith(b"\x89PNG")
    lead = read_page(Path("w.html")).texts["p"][0]
    assert " ".join(done.out.split()).startswith(lead)
    assert "Wrote w.png." in done.err
    assert "Wrote w.html" in done.err


def test_scripts_get_their_data_and_the_files(blankbook: Commands) -> None:
    """With --json stdout stays one document; the page is written all the same."""
    done = blankbook("compare", STUDY, *FEW, "--report", "w.html", "--json")
    assert done.out.startswith("{")
    assert Path("w.html").exists()


@pytest.mark.parametrize("option", ["--report", "--picture"])
@pytest.mark.parametrize("of_prices", [False, True])
def test_nothing_is_written_over(blankbook: Commands, option: str, of_prices: bool) -> None:  # noqa: FBT001
    """A file that is there stays, and is refused before anything is worked out."""
    offered(blankbook, HOME)
    name = "kept.html" if option == "--report" else "kept.svg"
    Path(name).write_text("kept", encoding="utf-8")
    words = ("--prices", "WREN-BLK-M") if of_prices else (STUDY, *FEW)
    done = blankbook("compare", *words, option, name)
    assert isinstance(done.error, UsageError)
    assert "there already" in str(done.error)
    assert (done.out, Path(name).read_text(encoding="utf-8")) == ("", "kept")


@pytest.mark.parametrize(
    ("option", "name", "word"),
    [
        ("--report", "w.pdf", ".html"),
        ("--picture", "w.gif", ".png or .svg"),
        ("--report", "nowhere/w.html", "does not exist"),
    ],
)
def test_names_that_cannot_be_are_told(blankbook: Commands, option: str, name: str, word: str) -> None:
    """Another ending, or a folder that is not there: what to do instead."""
    done = blankbook("compare", STUDY, *FEW, option, name)
    assert isinstance(done.error, UsageError)
    assert word in str(done.error)


def test_files_belong_to_something(blankbook: Commands) -> None:
    """Without goods or a study there is nothing to draw; --afterwards draws nothing."""
    for words in (("--report", "x.html"), ("--afterwards", "--report", "x.html")):
        assert isinstance(blankbook("compare", *words).error, UsageError)
    assert not Path("x.html").exists()


def test_landed_prices_as_a_page(blankbook: Commands) -> None:
    """Who is cheapest, the steps, the curve, the quotes with their day, the duty with its source."""
    offered(blankbook, HOME, FAR)
    loaded(blankbook, "duties", RATES)
    done = blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "120", "--report", "p.html")
    assert done.code == 0
    page = read_page(Path("p.html"))
    words = " ".join(page.words.split())
    assert page.texts["p"][0].split(".")[0] in " ".join(done.out.split())
    steps = page.table("Each step from the price")
    offers = steps.heads[1:]
    assert len(offers) == 2
    landed = dict(zip(offers, steps.totals[0][1:], strict=True))
    ranking = page.table("Offers for 120")
    assert {row[1]: row[4] for row in ranking.rows} == landed
    assert words.count(CUSTOMS_CAUTION) == 1
    assert "quoted on" in words
    assert any(table.name.startswith("Duty on goods from") for table in page.tables)
    assert len([tag for tag, _ in page.elements if tag == "svg"]) == 3


def test_the_curve_of_a_page_has_both_sides_of_a_break(blankbook: Commands) -> None:
    """71 and 72 stand in the table with what changes there."""
    offered(blankbook, HOME)
    assert blankbook("compare", "--prices", "WREN-BLK-M", "--quantity", "66", "--report", "p.html").code == 0
    (table,) = (each for each in read_page(Path("p.html")).tables if "by quantity" in each.name)
    told = {row[0]: row[-1] for row in table.rows}
    assert (told["71"], told["72"]) == ("last below the break", "price break at 72")

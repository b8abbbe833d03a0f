"""`blankbook post` with a sales export that no profile was named for: proposed, taken, saved, used again."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_shop import Commands, Outcome, new_book

from ledger.cli import items, post
from ledger.errors import Refused, UsageError

EXPORT = (
    "Order ID,Date,Item title,Variant,SKU,Qty,Item total,Shipping charged,Fees\n"
    "M-1,2026-03-01,Fox tee,Black / M,FOX-BLK-M,1,22.00,5.00,1.79\n"
    "M-2,2026-03-02,Fox tee,Black / M,FOX-BLK-M,2,44.00,5.00,2.79\n"
    "M-3,2026-03-02,Shipping label,,,1,4.10,,\n"
)
OPENING = "date,event,sku,quantity,amount\n2026-01-01,opening,FOX-BLK-M,90,360\n"


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """`post` in a folder with a book that has 90 shirts, and an export."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    book = new_book(tmp_path / "shop.blankbook")
    Path("items.csv").write_text("sku,name,kind,unit\nFOX-BLK-M,Fox tee,finished,each\n", encoding="utf-8")
    Path("opening.csv").write_text(OPENING, encoding="utf-8")
    Path("market.csv").write_text(EXPORT, encoding="utf-8")
    assert Commands(items.register, book)("items", "load", "items.csv", "--yes").code == 0
    post_command = Commands(post.register, book)
    assert post_command("post", "opening.csv", "--yes").code == 0
    return post_command


def refusal(outcome: Outcome) -> str:
    """The words of a refusal."""
    assert isinstance(outcome.error, Refused)
    return str(outcome.error)


def test_a_proposal_is_not_posted_until_it_is_taken(run: Commands) -> None:
    """It is shown with its rows, and the ways to take it are named."""
    outcome = run("post", "market.csv", "--party", "Harbour Fair", "--yes")
    assert "not confirmed" in refusal(outcome)
    assert "the heading is near 'item total'" in outcome.out
    assert not Path("shop.profiles").exists()


def test_a_taken_proposal_is_saved_and_posted(run: Commands) -> None:
    """Two sales are posted, the label is set aside, the profile stands beside the book."""
    outcome = run("post", "market.csv", "--party", "Harbour Fair", "--accept", "--yes", "--json")
    assert [one["event"] for one in outcome.data["documents"]] == ["sale", "sale"]
    assert Path("shop.profiles/sales-harbour-fair.toml").is_file()


def test_the_next_export_needs_no_questions(run: Commands) -> None:
    """The saved profile is used, and rows that are in the book are skipped."""
    run("post", "market.csv", "--party", "Harbour Fair", "--accept", "--yes")
    outcome = run("post", "market.csv", "--party", "Harbour Fair", "--yes")
    assert (outcome.code, "as saved for Harbour Fair" in outcome.err) == (0, True)
    assert "2 of 2 rows are in the book already" in outcome.err


def test_a_proposal_can_be_written_down_to_edit(run: Commands) -> None:
    """The written profile reads the export when it is named."""
    run("post", "market.csv", "--party", "Harbour Fair", "--propose", "--save", "mine.toml")
    outcome = run(
        "post", "market.csv", "--profile", "mine.toml", "--party", "Harbour Fair", "--yes", "--json"
    )
    assert len(outcome.data["documents"]) == 2


def test_a_sheet_of_events_takes_no_channel(run: Commands) -> None:
    """--party on a sheet of events is a wrong command line."""
    outcome = run("post", "opening.csv", "--party", "Harbour Fair")
    assert isinstance(outcome.error, UsageError)


def test_a_name_without_letters_names_no_profile(run: Commands) -> None:
    """What cannot name a file is refused, and no path leaves the folder."""
    outcome = run("post", "market.csv", "--party", "../..", "--accept", "--yes")
    assert isinstance(outcome.error, UsageError)

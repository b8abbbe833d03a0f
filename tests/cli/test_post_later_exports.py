"""Later exports of a channel: new columns, other currencies, refunds of what is in the book."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_shop import Commands, new_book

from ledger.cli import items, post, proving
from ledger.errors import InputErrors, UsageError

HEADINGS = "Date,Order,Type,SKU,Title,Qty,Amount,Shipping,Fees"
FIRST = (
    "2026-03-01,M-1,Sale,FOX-BLK-M,Fox tee,1,22.00,5.00,1.79",
    "2026-03-01,M-1,Sale,OWL-BLK-M,Owl tee,2,44.00,,2.79",
    "2026-03-02,M-2,Sale,FOX-BLK-M,Fox tee,1,22.00,5.00,1.79",
    "2026-03-03,M-2,Refund,,,,-1.00,,",
)
NAMES = "Fox tee,finished,each\nOWL-BLK-M,Owl tee,finished,each\n"


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """`post` in a folder with a book that has shirts, and a first export posted."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("BLANKBOOK_TODAY", "2026-03-31")
    book = new_book(tmp_path / "shop.blankbook")
    Path("items.csv").write_text(f"sku,name,kind,unit\nFOX-BLK-M,{NAMES}", "utf-8")
    opening = "date,event,sku,quantity,amount\n2026-01-01,opening,FOX-BLK-M,90,360\n2026-01-01,opening,OWL-BLK-M,9,36\n"
    Path("opening.csv").write_text(opening, "utf-8")
    assert Commands(items.register, book)("items", "load", "items.csv", "--yes").code == 0
    command = Commands(post.register, book)
    assert command("post", "opening.csv", "--yes").code == 0
    assert command("post", export(*FIRST), *TO, "--accept").code == 0
    return command


TO = ("--party", "Harbour Fair", "--yes")


def export(*rows: str, headings: str = HEADINGS) -> str:
    """Write an export and return its name."""
    Path("later.csv").write_text("\n".join([headings, *rows, ""]), "utf-8")
    return "later.csv"


def test_a_refund_of_an_order_in_the_book_is_posted(run: Commands) -> None:
    """M-2 has one item; M-1 has two, over which it is spread; posted again, all of it is known."""
    rows = ("2026-03-09,M-2,Refund,,,,-2.00,,", "2026-03-09,M-1,Refund,,,,-6.00,,")
    outcome = run("post", export(*rows), *TO, "--json")
    told = [(one["lines"][0]["sku"], one["amount"]) for one in outcome.data["documents"]]
    assert told == [("FOX-BLK-M", "2.00"), ("FOX-BLK-M", "2.00"), ("OWL-BLK-M", "4.00")]
    assert [one["design"] for one in outcome.data["sales"]["designs"]] == ["Fox tee", "Owl tee"]
    assert "spread over them by what they sold for: row 3" in outcome.err
    again = run("post", export(*FIRST, *rows), *TO)
    assert "Nothing to post" in again.err
    assert Commands(proving.register, run.book)("prove").code == 0


def test_a_new_column_stops_the_posting_until_it_is_answered(run: Commands) -> None:
    """The answer is kept: the next export with it needs none."""
    headings = f"{HEADINGS},Gift wrap"
    name = export("2026-03-10,M-3,Sale,FOX-BLK-M,Fox tee,1,22.00,5.00,1.79,2.00", headings=headings)
    assert '--as "J=more shipping"' in str(run("post", name, *TO).error)
    outcome = run("post", name, *TO, "--as", "J=more shipping", "--json")
    assert "no column for" not in outcome.err
    assert outcome.data["sales"]["totals"][0]["shipping"] == "7.00"
    name = export("2026-03-11,M-4,Sale,FOX-BLK-M,Fox tee,1,22.00,5.00,1.79,3.00", headings=headings)
    assert run("post", name, *TO, "--json").data["sales"]["totals"][0]["shipping"] == "8.00"


def test_another_currency_needs_to_be_said(run: Commands) -> None:
    """For one file, with the rate; the saved profile stays as it is."""
    name = export("2026-03-10,M-3,Sale,FOX-BLK-M,Fox tee,1,€22.00,€5.00,€1.00")
    refused = run("post", name, *TO).error
    assert isinstance(refused, InputErrors)
    assert "says EUR, and the amounts would be read as USD" in str(refused)
    outcome = run("post", name, *TO, "--currency", "EUR", "--rate", "1.10", "--json")
    assert outcome.data["documents"][0]["amount"] == "24.20"
    assert 'currency = "USD"' in Path("shop.profiles/sales-harbour-fair.toml").read_text("utf-8")


def test_a_rate_without_another_currency_is_refused(run: Commands) -> None:
    """It would change nothing."""
    name = export("2026-03-10,M-3,Sale,FOX-BLK-M,Fox tee,1,22.00,5.00,1.79")
    assert isinstance(run("post", name, *TO, "--rate", "1.10").error, UsageError)
    assert isinstance(run("post", name, *TO, "--currency", "EURO").error, UsageError)
    assert isinstance(run("post", "opening.csv", "--rate", "1.10").error, UsageError)


def test_an_error_in_a_total_is_told_at_once(run: Commands) -> None:
    """With its cell, before any question."""
    name = export("2026-03-10,M-3,Sale,FOX-BLK-M,Fox tee,1,#REF!,5.00,1.79")
    error = run("post", name, "--party", "Another", "--accept", "--yes").error
    assert "row 2, column Amount: the error #REF!" in str(error)


def test_german_headings_are_known(run: Commands) -> None:
    """What remains is asked."""
    headings = "Datum;Bestellung;Artikel;Stk;Betrag;Versand;Gebühr;Erstattet;SKU"
    name = export("03.05.2026;7001;Fox tee;1;22,00;4,90;2,10;;FOX-BLK-M", headings=headings)
    found = run("post", name, "--party", "Markt", "--propose", "--json").data
    told = [each["taken_as"] for each in found["columns"]]
    assert told == ["date", "order", "title", "pieces", "item_total", "shipping", "fees", "refunded", "sku"]
    assert [each["subject"] for each in found["questions"]] == ["date order"]


def test_headings_that_nobody_knows_name_the_way_out(run: Commands) -> None:
    """What the columns are can be said."""
    name = export("2026-03-10,1,2,3", headings="Pvm,Tilaus,Tuote,Summa")
    assert '--as "A=date" --as "B=order"' in str(run("post", name, *TO[:1], "Tori", "--accept").error)


def test_a_dry_run_says_what_keeps_the_profile(run: Commands) -> None:
    """Whether it was accepted or not; amounts are shown with their cents."""
    name = export("2026-03-10,M-3,Sale,FOX-BLK-M,Fox tee,1,34.20,5.00,1.79")
    accepted = run("post", name, "--party", "Other", "--accept", "--dry-run")
    assert "To keep it, post it without --dry-run." in accepted.err
    assert "34.20  M-3" in accepted.out
    open_still = run("post", name, "--party", "Other", "--dry-run")
    assert "take it with --accept, without --dry-run" in open_still.err


def test_what_a_column_can_be_is_listed(run: Commands) -> None:
    """With the nearest first."""
    told = str(run("post", "later.csv", "--party", "Other", "--as", "E=fee").error)
    assert "Did you mean 'fees'? A column can be: date, order, line" in told

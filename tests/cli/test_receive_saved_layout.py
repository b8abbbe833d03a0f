"""`blankbook receive` of a later file of a supplier in this process: read as saved, stopped by what is new."""

from __future__ import annotations

from pathlib import Path

import pytest
from proposal_shop import CLEAR, SAVED, SHORT, UNCLEAR, accepted, file, receipts, receive_shop, second
from small_shop import Commands

from ledger.errors import InputErrors, Refused
from ledger.intake.profile import load_profile


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The command with a book that knows two blanks and what Mill Lane calls them."""
    return receive_shop(tmp_path, monkeypatch)


def test_the_next_file_of_the_party_is_read_by_the_saved_profile(blankbook: Commands) -> None:
    """Without any question, saying so."""
    accepted(blankbook)
    second = file(CLEAR.replace("ML-7", "ML-8"), "second.csv")
    outcome = blankbook("receive", second, "--party", "Mill Lane", "--yes")
    assert (outcome.error, receipts(blankbook)) == (None, 2)
    assert "Reading second.csv as saved for Mill Lane" in outcome.err


def test_the_only_saved_profile_that_fits_needs_no_name(blankbook: Commands) -> None:
    """The party stands in the profile."""
    accepted(blankbook)
    outcome = blankbook("receive", file(CLEAR.replace("ML-7", "ML-8"), "second.csv"), "--yes")
    assert (outcome.error, "as saved for Mill Lane" in outcome.err) == (None, True)


def test_a_new_column_stops_the_next_file_until_it_is_answered(blankbook: Commands) -> None:
    """Two of the twelve did not come; the answer is kept for the third file."""
    accepted(blankbook)
    words = ("receive", second(SHORT), "--party", "Mill Lane", "--yes")
    refused = blankbook(*words)
    assert isinstance(refused.error, Refused)
    assert ('--as F=missing or --as "ignore F"' in str(refused.error), receipts(blankbook)) == (True, 1)
    posted = blankbook(*words, "--as", "F=missing")
    assert (posted.error, "TEE-BLK-M: 2 claimed" in posted.out) == (None, True)
    third = file(SHORT.replace("ML-7", "ML-9"), "third.csv")
    assert "TEE-BLK-M: 2 claimed" in blankbook("receive", third, "--party", "Mill Lane", "--yes").out


@pytest.mark.parametrize(
    "text",
    ["Currency,EUR\n" + CLEAR, CLEAR.replace(",3.10,", ",€3.10,"), CLEAR.replace("Total,", "Total EUR,")],
)
def test_another_currency_stops_the_next_file(blankbook: Commands, text: str) -> None:
    """It is asked in which the prices are; --currency answers for this file alone."""
    accepted(blankbook)
    words = ("receive", second(text), "--party", "Mill Lane", "--yes", "--rate", "1.1")
    refused = blankbook(*words)
    assert isinstance(refused.error, Refused)
    assert "--currency EUR or --currency USD" in str(refused.error)
    assert (blankbook(*words, "--currency", "EUR").error, load_profile(SAVED).currency) == (None, "USD")


def test_a_date_that_has_another_label_stops_the_next_file(blankbook: Commands) -> None:
    """Today is not taken for it."""
    accepted(blankbook)
    words = ("receive", second(CLEAR.replace(",Date,", ",Raised,")), "--party", "Mill Lane", "--yes")
    refused = blankbook(*words)
    assert "No date was found beside 'Date' above the lines" in str(refused.error)
    assert "2026-03-20" in blankbook(*words, "--date", "2026-03-20").out


def test_the_order_of_dates_is_told_of_a_saved_layout(blankbook: Commands) -> None:
    """The first file had its year first; the option works on the next one and is kept."""
    accepted(blankbook)
    words = ("receive", second(UNCLEAR), "--party", "Mill Lane", "--accept", "--yes")
    assert isinstance(blankbook(*words).error, InputErrors)
    assert "2026-04-03" in blankbook(*words, "--date-order", "day month year").out
    assert load_profile(SAVED).date_order == "day month year"


def test_another_layout_of_a_known_supplier_is_looked_at_afresh(blankbook: Commands) -> None:
    """It says so, keeps what is known of units, and takes the place of the saved one once posted."""
    accepted(blankbook)
    text = "Date,2026-03-15,\nArt no,How many,Unit price\nK7-B-M,12,3.10\n"
    refused = blankbook("receive", second(text), "--party", "Mill Lane", "--yes")
    assert "is not laid out as files of Mill Lane were so far" in refused.err
    assert "--propose --save FILE" in refused.err
    assert (type(refused.error), "--accept" in str(refused.error)) == (Refused, True)
    posted = blankbook("receive", "second.csv", "--party", "Mill Lane", "--accept", "--yes")
    assert (posted.error, load_profile(SAVED).columns["quantity"]) == (None, ("How many",))


def test_a_correction_of_a_saved_profile_is_kept_once_posted(blankbook: Commands) -> None:
    """The next file is read by it; until then the layout stays as it was."""
    accepted(blankbook)
    second = file(CLEAR.replace("ML-7", "ML-8"), "second.csv")
    words = ("receive", second, "--party", "Mill Lane", "--as", 'label "Shipping" = freight by quantity')
    looked = blankbook(*words, "--dry-run")
    before = load_profile(SAVED).foot["Shipping"]
    posted = blankbook(*words, "--accept", "--yes")
    assert (looked.error, before, posted.error) == (None, "freight by value", None)
    assert "What you said of it was not saved" in looked.err
    assert load_profile(SAVED).foot["Shipping"] == "freight by quantity"


def test_the_profile_of_another_party_under_the_same_file_name_is_refused(blankbook: Commands) -> None:
    """'Mill Lane' and 'Mill-Lane!' would share a file."""
    accepted(blankbook)
    outcome = blankbook("receive", "list.csv", "--party", "Mill-Lane!", "--yes")
    assert isinstance(outcome.error, Refused)
    assert "is the profile of Mill Lane" in str(outcome.error)

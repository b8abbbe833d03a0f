"""`blankbook receive` of a file whose layout no profile knows, in this process, where nobody is asked."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from proposal_shop import CLEAR, NAMES, SAVED, UNCLEAR, accepted, file, receipts, receive_shop
from small_shop import Commands

from ledger.errors import InputErrors, Refused, UsageError
from ledger.intake.profile import load_profile


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The command with a book that knows two blanks and what Mill Lane calls them."""
    return receive_shop(tmp_path, monkeypatch)


def test_an_accepted_proposal_is_posted(blankbook: Commands) -> None:
    """Two lines and the shipping, under the number the file says."""
    outcome = accepted(blankbook)
    assert (outcome.error, receipts(blankbook)) == (None, 1)
    assert "Posted receipt 1, charges 2: 2 lots." in outcome.err


def test_an_accepted_proposal_is_saved_under_the_partys_name(blankbook: Commands) -> None:
    """Beside the book, as a profile that can be loaded."""
    accepted(blankbook)
    profile = load_profile(SAVED)
    assert (profile.party, profile.foot["Shipping"]) == ("Mill Lane", "freight by value")


@pytest.mark.parametrize("more", [("--dry-run",), ("--currency", "EUR", "--rate", "-1")])
def test_nothing_is_saved_until_the_receipt_is_posted(blankbook: Commands, more: tuple[str, ...]) -> None:
    """Neither on a dry run nor where the file is refused; and it is said."""
    outcome = accepted(blankbook, *more)
    assert (receipts(blankbook), SAVED.exists()) == (0, False)
    when = "the same without --dry-run posts and saves" if more[0] == "--dry-run" else "that happens once"
    assert f"How it is read was not saved: {when}" in outcome.err


def test_the_same_shipment_under_another_name_is_said(blankbook: Commands) -> None:
    """It may be right, so it is no refusal."""
    accepted(blankbook)
    codes = CLEAR.replace("K7-B-M", "TEE-BLK-M").replace("K7-S-L", "TEE-SND-L")
    outcome = blankbook("receive", file(codes, "other.csv"), "--party", "Hill Top", "--accept", "--yes")
    assert outcome.error is None
    assert "in the book already, as receipt 1 of Mill Lane of the same day" in outcome.out


def test_options_of_a_single_line_are_refused_beside_a_file(blankbook: Commands) -> None:
    """They would change nothing."""
    outcome = accepted(blankbook, "--unit", "dozen")
    assert isinstance(outcome.error, UsageError)
    assert '--as "unit bottle"' in str(outcome.error)


def test_what_is_nothing_a_column_can_be_is_answered_with_what_it_can_be(blankbook: Commands) -> None:
    """The whole list."""
    outcome = accepted(blankbook, "--as", "C=pack count")
    assert "A column can be: sku, style, colour" in str(outcome.error)


def test_a_rate_is_no_meaning_of_a_label(blankbook: Commands) -> None:
    """The amount stands in the file; the word is discount."""
    outcome = accepted(blankbook, "--as", 'label "Shipping" = 3% off')
    assert "What lowers the price of the lines is: discount." in str(outcome.error)


def test_an_amount_below_zero_is_offered_as_a_discount(blankbook: Commands) -> None:
    """Nothing else lowers the cost."""
    text = CLEAR.replace(",,,Shipping,6.00\n", ",,,Loyal customers,-6.00\n").replace("56.20", "44.20")
    assert 'label "Loyal customers" = discount' in str(accepted(blankbook, text=text).error)


def test_the_party_of_the_head_is_stated(blankbook: Commands) -> None:
    """Whose file it is taken for stands on the screen."""
    outcome = blankbook("receive", file("Supplier,Mill Lane\n" + CLEAR), "--accept", "--yes")
    assert "The supplier is Mill Lane, as the file says." in outcome.err


def test_an_unconfirmed_proposal_is_refused_where_nobody_can_be_asked(blankbook: Commands) -> None:
    """--yes posts what is known; it does not take a proposal."""
    outcome = blankbook("receive", file(), "--party", "Mill Lane", "--yes")
    assert isinstance(outcome.error, Refused)
    assert ("--accept" in str(outcome.error), receipts(blankbook), SAVED.exists()) == (True, 0, False)


def test_an_open_question_is_refused_naming_the_options_that_answer_it(blankbook: Commands) -> None:
    """03/04/2026 is asked, whatever else was said."""
    outcome = accepted(blankbook, text=UNCLEAR)
    assert isinstance(outcome.error, Refused)
    assert '--date-order "day month year" or --date-order "month day year"' in str(outcome.error)
    assert (receipts(blankbook), SAVED.exists()) == (0, False)


@pytest.mark.parametrize(
    ("order", "day"), [("day month year", "2026-04-03"), ("month-day-year", "2026-03-04")]
)
def test_the_order_of_dates_is_answered_by_an_option(blankbook: Commands, order: str, day: str) -> None:
    """The receipt has the day that was meant."""
    outcome = accepted(blankbook, "--date-order", order, text=UNCLEAR)
    assert (outcome.error, day in outcome.out) == (None, True)


def test_a_correction_is_answered_by_an_option(blankbook: Commands) -> None:
    """Two columns of one heading: the right one is named, and the profile keeps it by its place."""
    text = "Date,2026-03-14,,\nItem,Qty,Qty,Price\nK7-B-M,12,10,3.10\nK7-S-L,4,4,3.25\n"
    refused = accepted(blankbook, text=text)
    outcome = accepted(blankbook, "--as", "C=quantity", text=text)
    assert ("--as B=quantity or --as C=quantity" in str(refused.error), outcome.error) == (True, None)
    assert load_profile(SAVED).columns["quantity"] == ("column C",)


def test_the_proposal_is_shown_as_a_table_with_three_lines(blankbook: Commands) -> None:
    """Column, heading, what it is taken as, how sure, an example, and why."""
    out = blankbook("receive", file(), "--party", "Mill Lane", "--propose").out
    assert "column  heading      taken as" in out
    assert "C       Qty          quantity      99%  12" in out
    assert "the first lines" in out


def test_propose_only_shows(blankbook: Commands) -> None:
    """Nothing is posted and nothing saved."""
    outcome = blankbook("receive", file(), "--party", "Mill Lane", "--propose")
    assert (outcome.error, receipts(blankbook), SAVED.exists()) == (None, 0, False)


def test_a_proposal_is_written_down_to_edit(blankbook: Commands) -> None:
    """And is a profile like any other."""
    blankbook("receive", file(), "--party", "Mill Lane", "--propose", "--save", "mine.toml")
    outcome = blankbook("receive", "list.csv", "--profile", "mine.toml", "--party", "Mill Lane", "--yes")
    assert (outcome.error, receipts(blankbook)) == (None, 1)


def test_a_proposal_with_an_open_question_is_no_profile_yet(blankbook: Commands) -> None:
    """It is written with a question mark, and refused until somebody decides."""
    blankbook("receive", file(UNCLEAR), "--party", "Mill Lane", "--propose", "--save", "mine.toml")
    outcome = blankbook("receive", "list.csv", "--profile", "mine.toml", "--yes")
    assert isinstance(outcome.error, InputErrors)
    assert "date_order" in str(outcome.error)


def test_a_file_that_is_there_is_not_written_over(blankbook: Commands) -> None:
    """Somebody may have edited it."""
    Path("mine.toml").write_text("mine", "utf-8")
    outcome = blankbook("receive", file(), "--propose", "--save", "mine.toml")
    assert (type(outcome.error), Path("mine.toml").read_text("utf-8")) == (UsageError, "mine")


def test_a_proposal_as_json_is_one_document(blankbook: Commands) -> None:
    """The table goes to the person, the data to the program."""
    data = blankbook("receive", file(UNCLEAR), "--propose", "--json").data
    assert [each["taken_as"] for each in data["columns"]] == [
        "code",
        "description",
        "quantity",
        "unit_price",
        "line_total",
    ]
    assert data["questions"][0]["answers"] == ["date order day month year", "date order month day year"]


def test_a_dry_run_reads_by_the_proposal_and_saves_nothing(blankbook: Commands) -> None:
    """The preview is shown without accepting anything."""
    outcome = blankbook("receive", file(), "--party", "Mill Lane", "--dry-run")
    assert (outcome.error, "TEE-BLK-M" in outcome.out, SAVED.exists()) == (None, True, False)


def test_corrections_beside_a_named_profile_are_refused(blankbook: Commands) -> None:
    """The profile says how the file is read."""
    outcome = blankbook("receive", file(), "--profile", "one-row-per-size", "--accept")
    assert isinstance(outcome.error, UsageError)


def test_a_party_is_needed_to_save_under(blankbook: Commands) -> None:
    """The file names none."""
    outcome = blankbook("receive", file(), "--accept", "--yes")
    assert isinstance(outcome.error, Refused)
    assert "Add --party NAME" in str(outcome.error)


def test_a_party_the_head_names_is_taken(blankbook: Commands) -> None:
    """The label is found, and the profile is saved under its value."""
    blankbook("receive", file("Supplier,Mill Lane\n" + CLEAR), "--accept", "--yes")
    assert load_profile(SAVED).party == "Mill Lane"


def test_a_fill_in_sheet_needs_no_proposal(blankbook: Commands) -> None:
    """What --template writes is read as such."""
    blankbook("receive", "--template", "filled.xlsx")
    outcome = blankbook("receive", "filled.xlsx", "--yes")
    assert "taken as" not in outcome.out
    assert isinstance(outcome.error, InputErrors)


def test_an_unknown_name_is_refused_with_the_nearest_and_how_to_teach_it(blankbook: Commands) -> None:
    """The command can be typed as it stands."""
    outcome = accepted(blankbook, text=NAMES)
    assert isinstance(outcome.error, InputErrors)
    assert 'blankbook aliases add "Mill Lane" "K7 Blck M" TEE-BLK-M' in str(outcome.error)


def test_json_of_a_posting_stays_one_document(blankbook: Commands) -> None:
    """The proposal goes to the person."""
    assert isinstance(json.loads(accepted(blankbook, "--json").out), dict)


def test_a_second_suppliers_shirts_come_in_as_new_blanks_when_told(blankbook: Commands) -> None:
    """Without --add-items they are refused: each may be an old item under another name."""
    text = "Date,2026-03-14,,,\nStyle,Colour,Size,Qty,Price\nNS-7,Moss,XL,4,5.00\nNS-7,Moss,2XL,3,5.00\n"
    refused = accepted(blankbook, text=text)
    outcome = accepted(blankbook, "--add-items", text=text)
    assert ("--add-items" in str(refused.error), outcome.error, receipts(blankbook)) == (True, None, 1)


def test_a_file_without_a_date_is_asked_for_it(blankbook: Commands) -> None:
    """Today is not taken for it: the option is named, and a date said outright is enough."""
    text = CLEAR.replace(",Date,2026-03-14", "")
    refused = accepted(blankbook, text=text)
    assert isinstance(refused.error, Refused)
    assert ("--date YEAR-MONTH-DAY" in str(refused.error), receipts(blankbook)) == (True, 0)
    outcome = accepted(blankbook, "--as", "date = 2026-03-20", text=text)
    assert (outcome.error, "Receipt: Mill Lane, ML-7, 2026-03-20" in outcome.out) == (None, True)


def test_a_date_that_was_given_needs_no_remark(blankbook: Commands) -> None:
    """Somebody said when it came."""
    text = CLEAR.replace(",Date,2026-03-14", "")
    assert "No date was found" not in accepted(blankbook, "--date", "2026-03-20", text=text).out


def test_the_marked_copys_absence_is_explained(blankbook: Commands) -> None:
    """An open question is no wrong cell."""
    outcome = accepted(blankbook, "--errors", "marked.xlsx", text=UNCLEAR)
    assert "marked.xlsx was not written: no cell of list.csv was found wrong" in outcome.err


def test_a_quantity_in_words_is_marked_in_the_copy(blankbook: Commands) -> None:
    """The cell is wrong, and nothing is asked."""
    outcome = accepted(blankbook, "--errors", "marked.xlsx", text=CLEAR.replace(",12,", ",twelve,"))
    assert isinstance(outcome.error, InputErrors)
    assert [problem.where for problem in outcome.error.problems] == ["row 3, column Qty"]
    assert Path("marked.xlsx").exists()

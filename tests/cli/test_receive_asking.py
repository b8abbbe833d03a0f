"""`blankbook receive` of a supplier's file in this process, with somebody at the terminal who is asked."""

from __future__ import annotations

from pathlib import Path

import pytest
from proposal_shop import CLEAR, NAMES, SAVED, SHORT, UNCLEAR, file, receipts, receive_shop, second
from small_shop import Commands

from ledger.book.connect import open_reading
from ledger.errors import Refused
from ledger.intake.profile import load_profile


@pytest.fixture
def blankbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Commands:
    """The command with a book that knows two blanks and what Mill Lane calls them."""
    return receive_shop(tmp_path, monkeypatch)


@pytest.fixture
def asking(monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody sits at a terminal."""
    for module in ("common", "receive", "receive_proposed", "saved_layout"):
        monkeypatch.setattr(f"ledger.cli.{module}.is_asking", lambda: True)


@pytest.mark.usefixtures("asking")
def test_a_person_corrects_a_line_and_takes_the_rest(blankbook: Commands) -> None:
    """The order of dates, Enter, yes to posting."""
    outcome = blankbook(
        "receive", file(UNCLEAR), "--party", "Mill Lane", typed="\ndate order day month year\n\ny\n"
    )
    assert (outcome.error, receipts(blankbook), "2026-04-03" in outcome.out) == (None, 1, True)
    assert "Still open:" in outcome.err


@pytest.mark.usefixtures("asking")
def test_a_correction_that_is_not_understood_is_asked_again(blankbook: Commands) -> None:
    """With how it is written."""
    outcome = blankbook("receive", file(), "--party", "Mill Lane", typed="C=blah\n\ny\n")
    assert (outcome.error, "nothing a column can be" in outcome.err) == (None, True)


@pytest.mark.usefixtures("asking")
def test_a_person_may_stop(blankbook: Commands) -> None:
    """Nothing is posted or saved."""
    outcome = blankbook("receive", file(), "--party", "Mill Lane", typed="stop\n")
    assert (type(outcome.error), receipts(blankbook), SAVED.exists()) == (Refused, 0, False)


@pytest.mark.usefixtures("asking")
def test_the_party_of_the_head_is_asked(blankbook: Commands) -> None:
    """Enter takes it, another name replaces it."""
    text = "Supplier,Mill Lane Ltd\n" + CLEAR
    outcome = blankbook("receive", file(text), typed="Mill Lane\n\ny\n")
    assert (outcome.error, load_profile(SAVED).party) == (None, "Mill Lane")


@pytest.mark.usefixtures("asking")
def test_a_person_answers_what_is_new_in_a_later_file(blankbook: Commands) -> None:
    """What is not understood is asked again."""
    blankbook("receive", file(), "--party", "Mill Lane", typed="\ny\n")
    typed = "F=much\n\nF=missing\ny\n"
    outcome = blankbook("receive", second(SHORT), "--party", "Mill Lane", typed=typed)
    assert (outcome.error, "TEE-BLK-M: 2 claimed" in outcome.out) == (None, True)
    assert load_profile(SAVED).columns["missing"] == ("Short",)


@pytest.mark.usefixtures("asking")
def test_a_person_tells_what_an_unknown_name_is_once(blankbook: Commands) -> None:
    """The first by its number, the second by its SKU; the book has learned both."""
    outcome = blankbook("receive", file(NAMES), "--party", "Mill Lane", typed="\n1\nTEE-SND-L\ny\n")
    connection = open_reading(blankbook.book)
    codes = dict(connection.execute("SELECT code, sku FROM supplier_code WHERE code LIKE 'K7 %'").fetchall())
    connection.close()
    assert (outcome.error, codes) == (None, {"K7 Blck M": "TEE-BLK-M", "K7 Sand L": "TEE-SND-L"})


@pytest.mark.usefixtures("asking")
def test_a_dry_run_asks_and_teaches_nothing(blankbook: Commands) -> None:
    """What is only looked at changes nothing."""
    before = blankbook.book.read_bytes()
    blankbook("receive", file(NAMES), "--party", "Mill Lane", "--dry-run", typed="\n1\n2\n")
    assert blankbook.book.read_bytes() == before


@pytest.mark.usefixtures("asking")
def test_what_was_typed_is_said_again_where_nothing_was_posted(blankbook: Commands) -> None:
    """Nobody types the same corrections twice."""
    outcome = blankbook("receive", file(), "--party", "Mill Lane", "--dry-run", typed="B=note\n\n")
    assert "--as B=note" in outcome.err

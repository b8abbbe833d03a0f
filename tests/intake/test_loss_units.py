"""What numbers of missing pieces count, in files that count dozens or packs."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from shipment_files import PLAIN, Value, made_file, made_profile, read

from ledger.intake.answers import read_answers
from ledger.intake.proposal import CatalogueWords, Proposal
from ledger.intake.propose import propose_profile
from ledger.intake.read_shipment import read_shipment
from ledger.intake.write_profile import profile_text

Row = list[Value]


def rows(loss: str, *lost: Value, counted: str = "Total doz") -> list[Row]:
    """Two lines of dozens with a column of losses."""
    head: Row = ["Art.", "Colour", "Size", counted, "Price/doz", "Amount", loss]
    first, second = lost
    return [head, ["GREBE", "Sand", "M", 30, 24, 720, first], ["GREBE", "Sand", "L", 20, 24, 480, second]]


def proposed(table: list[Row], *said: str) -> Proposal:
    """Propose for a workbook of these rows."""
    return propose_profile(made_file(*table), CatalogueWords(currency="USD"), answers=read_answers(said))


def missing(table: list[Row], *said: str) -> list[Fraction]:
    """Return the missing pieces of each line."""
    profile = proposed(table, *said).profile
    return [line.missing for line in read_shipment(made_file(*table), profile, currency="USD").lines]


@pytest.mark.parametrize(
    ("heading", "pieces"), [("SHORT (DOZ)", 84), ("Short doz", 84), ("SHORT (PCS)", 7), ("Missing pcs", 7)]
)
def test_a_unit_in_the_heading_is_what_is_lost(heading: str, pieces: int) -> None:
    """Seven dozen short are 84 pieces, whatever the quantity counts."""
    table = rows(heading, 7, None)
    assert (proposed(table).questions, missing(table)) == ((), [pieces, 0])


@pytest.mark.parametrize(("answer", "pieces"), [("losses in pieces", 7), ("losses in dozens", 84)])
def test_a_bare_heading_beside_dozens_is_asked(answer: str, pieces: int) -> None:
    """Both answers are offered, and each settles it."""
    table = rows("SHORT", 7, None)
    question = next(each for each in proposed(table).questions if each.subject == "losses")
    assert answer in question.answers
    assert not proposed(table, answer).asks("losses")
    assert missing(table, answer) == [pieces, 0]


def test_losses_may_be_counted_in_hundreds() -> None:
    """Two hundred short of thirty dozen are 200 pieces."""
    assert missing(rows("Short", 2, None), "losses in hundreds") == [200, 0]


def test_more_lost_than_dozens_came_are_pieces() -> None:
    """21 of 20 dozen cannot be dozens."""
    assert missing(rows("Short", 7, 21)) == [7, 21]


def test_half_of_one_lost_is_of_a_dozen() -> None:
    """Half a shirt is not lost."""
    assert missing(rows("Short", Fraction(1, 2).__float__(), 1)) == [6, 12]


def test_beside_pieces_nothing_is_asked() -> None:
    """They are the only thing that is counted."""
    assert not proposed(rows("Short", 7, None, counted="Qty")).asks("losses")


def test_the_heading_of_the_file_comes_before_the_profile() -> None:
    """A layout of dozens whose next file counts pieces says so in its heading."""
    profile = proposed(rows("SHORT (DOZ)", 7, None)).profile
    headings = ("SHORT (DOZ)", "SHORT (PCS)", "SHORT")
    profile = replace(profile, columns={**profile.columns, "missing": headings})
    draft = read_shipment(made_file(*rows("SHORT (PCS)", 7, None)), profile, currency="USD")
    bare = read_shipment(made_file(*rows("SHORT", 7, None)), profile, currency="USD")
    assert (draft.lines[0].missing, bare.lines[0].missing) == (7, 84)


def test_losses_in_packs_are_the_rows_own(tmp_path: Path) -> None:
    """And the profile keeps what was said when it is written and read again."""
    text = PLAIN.replace("[packs]", '[defaults]\nlosses_in = "packs"\n[packs]')
    profile = made_profile(tmp_path, text)
    again = made_profile(tmp_path, profile_text(profile))
    head: Row = ["Style", "Colour", "Size", "Qty", "Unit", "Price", "Short"]
    file = made_file(head, ["WREN", "Sand", "M", 5, "CS", 100, 2])
    assert (again.losses_in, read(file, again).lines[0].missing) == ("packs", 144)

"""Colour and size in one column, and other words that tell one item from another."""

from __future__ import annotations

import pytest
from shipment_files import Value, made_file

from ledger.errors import InputErrors, ValueProblem
from ledger.intake.answers import read_answers
from ledger.intake.profile import profile_of_text
from ledger.intake.proposal import CatalogueWords, Proposal
from ledger.intake.propose import propose_profile
from ledger.intake.read_shipment import read_shipment
from ledger.intake.variant_words import Variant, split_variant
from ledger.intake.write_profile import profile_text

Row = list[Value]


def rows(heading: str, *options: str) -> list[Row]:
    """Lines of one product which differ in their option, and one line of another product."""
    lines = [["Wagtail Crewneck", option, 8, 11.20, 89.60] for option in options]
    return [["Product", heading, "Qty", "Price each", "Line total"], *lines]


def proposed(table: list[Row], *said: str) -> Proposal:
    """Propose for a workbook of these rows."""
    return propose_profile(made_file(*table), CatalogueWords(currency="USD"), answers=read_answers(said))


@pytest.mark.parametrize("heading", ["Option", "Options", "Variation", "Variant", "Colour / Size"])
def test_an_option_is_read_as_colour_and_size(heading: str) -> None:
    """So lines of one product become an item each, and the written profile reads the same."""
    table = rows(heading, "Forest / M", "Forest / L", "Bone / XL")
    proposal = proposed(table)
    profile = profile_of_text(profile_text(proposal.profile), "made")
    lines = read_shipment(made_file(*table), profile, currency="USD").lines
    assert (proposal.questions, proposal.meaning("B")) == ((), "variant")
    assert [(line.colour, line.size) for line in lines] == [("Forest", "M"), ("Forest", "L"), ("Bone", "XL")]
    assert len({line.sku for line in lines}) == 3


@pytest.mark.parametrize("heading", ["Option", "Finish"])
def test_words_that_tell_lines_apart_are_asked(heading: str) -> None:
    """They would fall into one item otherwise; a colour is a possible answer."""
    table = rows(heading, "Matt", "Gloss", "Satin")
    question = next(each for each in proposed(table).questions if each.subject == "column B")
    assert "B=colour" in question.answers
    told = proposed(table, "B=colour")
    lines = read_shipment(made_file(*table), told.profile, currency="USD").lines
    assert (told.questions, len({line.sku for line in lines})) == ((), 3)


def test_options_of_sizes_alone_are_the_size() -> None:
    """No colour is asked for."""
    assert proposed(rows("Option", "M", "L", "XL")).meaning("B") == "size"


def test_a_later_option_that_is_no_colour_and_size_is_refused_at_its_cell() -> None:
    """The profile reads on, and nothing is taken for another item."""
    profile = proposed(rows("Option", "Forest / M", "Forest / L")).profile
    with pytest.raises(InputErrors, match="cell B2"):
        read_shipment(made_file(*rows("Option", "Regular fit")), profile, currency="USD")


@pytest.mark.parametrize(
    ("text", "colour", "size"),
    [
        ("Black/White / M", "Black/White", "M"),
        ("2XL, Heather Grey", "Heather Grey", "2XL"),
        ("Navy - S", "Navy", "S"),
        ("Heather Grey XL", "Heather Grey", "XL"),
        ("L", "", "L"),
    ],
)
def test_colour_and_size_are_told_apart(text: str, colour: str, size: str) -> None:
    """In either order and with any sign between."""
    assert split_variant(text) == Variant(colour, size)


@pytest.mark.parametrize("text", ["Forest", "M / L", "Regular fit"])
def test_what_is_no_colour_and_size_is_refused(text: str) -> None:
    """Nothing is guessed."""
    with pytest.raises(ValueProblem):
        split_variant(text)

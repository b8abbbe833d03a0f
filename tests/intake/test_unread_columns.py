"""Columns that would be left out: asked wherever they may hold a price, pieces or a unit."""

from __future__ import annotations

from fractions import Fraction

import pytest
from shipment_files import Value, made_file

from ledger.errors import InputErrors
from ledger.intake.answers import read_answers
from ledger.intake.proposal import CatalogueWords, Proposal
from ledger.intake.propose import propose_profile
from ledger.intake.read_shipment import read_shipment

Row = list[Value]


def proposed(*rows: Row, said: tuple[str, ...] = ()) -> Proposal:
    """Propose for a workbook of these rows."""
    return propose_profile(made_file(*rows), CatalogueWords(currency="USD"), answers=read_answers(said))


def subjects(proposal: Proposal) -> list[str]:
    """What is asked about."""
    return [each.subject for each in proposal.questions]


def with_column(heading: str, *values: Value) -> list[Row]:
    """Three lines with quantity, price and amount, and one more column."""
    rows: list[Row] = [["Item", "Qty", "Price", "Amount", heading]]
    lines = ((12, 2, 24), (6, 3, 18), (5, 4, 20))
    return rows + [[f"A{n}", *line, value] for n, (line, value) in enumerate(zip(lines, values, strict=True))]


@pytest.mark.parametrize(
    ("heading", "meaning"),
    [
        ("Short pcs", "missing"),
        ("Missing pcs", "missing"),
        ("Recd short", "missing"),
        ("Not shipped", "missing"),
        ("Dmg pcs", "damaged"),
        ("Faulty", "damaged"),
        ("Rebate %", "discount_percent"),
    ],
)
def test_losses_and_discounts_are_known_by_their_many_names(heading: str, meaning: str) -> None:
    """Whatever words for pieces stand beside them."""
    assert proposed(*with_column(heading, 1, None, 2)).meaning("E") == meaning


@pytest.mark.parametrize("heading", ["Adj", "Kr", "", "Back order"])
def test_numbers_nobody_reads_are_asked(heading: str) -> None:
    """They may be money or pieces."""
    assert "column E" in subjects(proposed(*with_column(heading, 2, None, 1)))


@pytest.mark.parametrize(
    ("heading", "values"),
    [
        ("Adj", (0, None, 0)),
        ("Customer", ("Owl", "Fox", "Hen")),
        ("EAN", (4012345678901, 4012345678902, 4012345678903)),
        ("Scan", (4012345678901, 4012345678902, 4012345678903)),
        ("Pos", (1, 2, 3)),
        ("Gross weight", (3.1, 2.2, 4)),
        ("RRP", (4, 6, 8)),
    ],
)
def test_what_is_nothing_or_known_needs_no_question(heading: str, values: tuple[Value, ...]) -> None:
    """Zeros, words, bar codes, running numbers, packing, and a list price beside the one that multiplies."""
    assert subjects(proposed(*with_column(heading, *values))) == []


def test_a_column_left_by_a_person_is_not_asked_again_and_stays_left() -> None:
    """The profile names it, so that the next file needs no answer."""
    proposal = proposed(*with_column("Adj", 2, None, 1), said=("ignore E",))
    assert (subjects(proposal), proposal.profile.not_read) == ([], ("Adj",))


@pytest.mark.parametrize("heading", ["Trade", "FOB", "Wholesale", "Net", "Retail", "Kr"])
def test_a_price_is_asked_while_a_column_of_numbers_is_left(heading: str) -> None:
    """No cost is made up where the file may tell it."""
    rows: list[Row] = [["Item", "Qty", heading], ["A1", 12, 2.10], ["B2", 6, 3.15]]
    proposal = proposed(*rows)
    assert proposal.questions[0].answers[:2] == ("C=unit price", "C=line total")
    assert subjects(proposed(*rows, said=("C=unit price",))) == []


@pytest.mark.parametrize("heading", ["Ea.", "Unit USD", "USD/pc", "€ each"])
def test_a_price_for_one_is_known_by_its_currency(heading: str) -> None:
    """'USD/pc' is no number of pieces."""
    rows: list[Row] = [["Item", "Pcs", heading], ["A1", 12, 2.10], ["B2", 6, 3.15]]
    proposal = proposed(*rows)
    assert (proposal.meaning("B"), proposal.meaning("C")) == ("quantity", "unit_price")


def test_a_total_that_is_no_number_of_pieces_contradicts_a_file_without_prices() -> None:
    """It is asked, not taken for pieces."""
    rows: list[Row] = [["Item", "Qty"], ["A1", 12], ["B2", 6]]
    assert (subjects(proposed(*rows, ["Total", 18])), subjects(proposed(*rows, ["Total", 50.1]))) == (
        [],
        ["Total"],
    )


def test_a_total_is_compared_once_the_price_is_told() -> None:
    """The amount of the foot stands in another column than the lines' price."""
    rows: list[Row] = [["Item", "Qty", "FOB"], ["A1", 12, 2], ["B2", 6, 3], ["Total", 18, 42]]
    decision = proposed(*rows, said=("C=unit price",)).decision("row 'Total'")
    assert decision is not None
    assert (decision.taken_as, decision.confidence) == ("invoice total: 42.00", 97)


def test_one_coincidence_makes_no_amount() -> None:
    """6 at 20.00 per dozen would be 10, which is the discount's percent."""
    rows: list[Row] = [["Item", "Qty", "Price", "Bonus"], ["A1", 6, 20, 10], ["B2", 2, 30, 0]]
    assert proposed(*rows).meaning("D") == ""


def test_a_percentage_is_never_an_amount() -> None:
    """Even where it multiplies throughout."""
    rows: list[Row] = [["Item", "Qty", "Price", "Margin %"], ["A1", 6, 2, 12], ["B2", 2, 3, 6]]
    assert proposed(*rows).meaning("D") in ("", "discount_percent")


def test_an_amount_headed_line_is_no_running_number() -> None:
    """Its values do not grow by the row."""
    rows: list[Row] = [["Item", "Qty", "Price", "Line"], ["A1", 6, 2.5, 15], ["B2", 2, 3, 6]]
    assert proposed(*rows).meaning("D") == "line_total"


@pytest.mark.parametrize(
    "said", ["Z=quantity", "sheet Sums", "date = cell Q9", "reference = Nowhere", 'label "Tolls" = ignore']
)
def test_what_is_not_in_the_file_is_refused_as_an_answer(said: str) -> None:
    """A column, cell or label that does not exist settles nothing."""
    with pytest.raises(InputErrors):
        proposed(*with_column("Note", "a", "b", "c"), said=(said,))


def test_the_foots_amount_stands_in_the_column_of_amounts() -> None:
    """Weights are added up to its right."""
    rows: list[Row] = [
        ["Item", "Qty", "Price", "Amount", "CBM"],
        ["A1", 12, 2, 24, 0.5],
        ["B2", 6, 3, 18, 0.25],
        ["Total", 18, None, 42, 0.75],
    ]
    proposal = proposed(*rows)
    draft = read_shipment(made_file(*rows), proposal.profile, currency="USD")
    assert (proposal.profile.foot, draft.lines_total) == ({"Total": "invoice total"}, Fraction(42))

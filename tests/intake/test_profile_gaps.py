"""What a later file holds that its profile says nothing of, and labels that change with every invoice."""

from __future__ import annotations

import datetime

import pytest
from shipment_files import Value, made_file

from ledger.errors import InputErrors
from ledger.intake.answers import read_answers
from ledger.intake.correct_profile import corrected_profile
from ledger.intake.profile import Profile
from ledger.intake.profile_gaps import date_gap, find_gaps
from ledger.intake.proposal import CatalogueWords
from ledger.intake.propose import propose_profile
from ledger.intake.read_shipment import read_shipment
from ledger.intake.shipment_frame import FootLabels

Row = list[Value]
HEAD: list[Row] = [["Invoice no.", "K-9"], ["Date", "2026-05-05"]]
LINES: list[Row] = [["Code", "Qty", "Price", "Amount"], ["A1", 12, 2, 24], ["B2", 6, 3, 18]]
TOTAL: Row = ["Total", None, None, 42]


def layout(*rows: Row) -> Profile:
    """The profile that was proposed for the first file."""
    return propose_profile(
        made_file(*(rows or (*HEAD, *LINES, TOTAL))), CatalogueWords(currency="USD")
    ).profile


def gaps(*rows: Row, currency: str = "") -> list[str]:
    """What is asked of a later file."""
    found = find_gaps(made_file(*rows), layout(), currency=currency, default_currency="USD")
    return [question.subject for question in found]


def with_column(heading: str, *values: Value) -> list[Row]:
    """The lines with one column more."""
    return [*HEAD, *([*row, value] for row, value in zip(LINES, (heading, *values), strict=True)), TOTAL]


def test_a_file_like_the_first_is_not_asked_about() -> None:
    """Nothing is new."""
    assert gaps(*HEAD, *LINES, TOTAL) == []


@pytest.mark.parametrize(
    ("heading", "values"),
    [
        ("Short", (2, None)),
        ("Unit", ("litre", None)),
        ("Damaged", (None, 1)),
        ("Surplus", (None, 1)),
        ("Disc %", (10, None)),
        ("Duty", (1.5, None)),
        ("", (7, 9)),
    ],
)
def test_a_new_column_is_named(heading: str, values: tuple[Value, Value]) -> None:
    """Two pieces that did not come are not received, and a litre is no bottle."""
    assert gaps(*with_column(heading, *values)) == ["column E"]


@pytest.mark.parametrize(
    ("heading", "values"), [("Short", (0, None)), ("Buyer", ("Owl", "Fox")), ("Pos", (1, 2))]
)
def test_a_new_column_that_says_nothing_is_left(heading: str, values: tuple[Value, Value]) -> None:
    """Zeros, names and running numbers."""
    assert gaps(*with_column(heading, *values)) == []


@pytest.mark.parametrize("profile_names_it", [True, False])
def test_a_new_column_stops_every_reading(profile_names_it: bool) -> None:  # noqa: FBT001 - a case
    """By a named profile too, unless the profile leaves the column out."""
    profile = layout()
    answers = read_answers(["ignore E"] if profile_names_it else [])
    file = made_file(*with_column("Short", 2, None))
    told = corrected_profile(profile, answers, file)
    if profile_names_it:
        assert len(read_shipment(file, told).lines) == 2
        return
    with pytest.raises(InputErrors, match="'Short'"):
        read_shipment(file, told)


def test_an_answer_about_a_new_column_is_read_and_kept() -> None:
    """What is missing is missing of its line."""
    file = made_file(*with_column("Short", 2, None))
    told = corrected_profile(layout(), read_answers(["E=missing"]), file)
    assert told.columns["missing"] == ("Short",)
    assert [line.missing for line in read_shipment(file, told).lines] == [2, 0]


@pytest.mark.parametrize(
    "rows",
    [
        [["Currency", "EUR"], *HEAD, *LINES, TOTAL],
        [*HEAD, LINES[0], ["A1", 12, "€2.00", "€24.00"], LINES[2], TOTAL],
        [*HEAD, *LINES, ["Total EUR", None, None, 42]],
        with_column("Currency", "EUR", "EUR"),
    ],
)
def test_another_currency_is_never_read_as_the_layouts(rows: list[Row]) -> None:
    """By its label, sign or code, wherever it stands; the option settles it."""
    assert (gaps(*rows), gaps(*rows, currency="EUR")) == (["currency"], [])


def test_a_heading_with_another_currency_is_another_column() -> None:
    """It is asked, and so is the currency once it is told to be the price."""
    rows: list[Row] = [*HEAD, ["Code", "Qty", "Price (EUR)", "Amount"], *LINES[1:], TOTAL]
    assert gaps(*rows) == ["column C"]
    told = corrected_profile(layout(), read_answers(["C=unit price"]), made_file(*rows))
    found = find_gaps(made_file(*rows), told, currency="", default_currency="USD")
    assert [question.subject for question in found] == ["currency"]


@pytest.mark.parametrize("text", ["$2.00", "US$ 2.00", "USD 2.00"])
def test_the_layouts_own_currency_is_no_other(text: str) -> None:
    """A dollar sign may well be the US dollar's."""
    assert gaps(*HEAD, LINES[0], ["A1", 12, text, 24], LINES[2], TOTAL) == []


def test_another_currency_stops_every_reading() -> None:
    """A euro price does not become a dollar price."""
    file = made_file(*HEAD, LINES[0], ["A1", 12, "€2.00", 24], LINES[2], TOTAL)
    with pytest.raises(InputErrors, match="--currency"):
        read_shipment(file, layout())
    assert read_shipment(file, layout(), currency="EUR").currency == "EUR"


def test_a_date_whose_label_has_changed_is_asked() -> None:
    """'Issued' is not where the first file had it."""
    assert [each.subject for each in date_gap(made_file(["Issued", "2026-05-05"], *LINES), layout())] == [
        "date"
    ]
    assert date_gap(made_file(*HEAD, *LINES), layout()) == []


@pytest.mark.parametrize(
    ("label", "meaning"),
    [
        ("Subtotal WREN", "lines total"),
        ("Less trade discount 3%", "discount"),
        ("Less trade discount 2,5 %:", "discount"),
        ("Total due EUR", "invoice total"),
        ("VAT 19%", "tax by value"),
        ("Total freight", ""),
        ("WREN", ""),
    ],
)
def test_labels_are_found_again_without_what_changes(label: str, meaning: str) -> None:
    """Rates, styles and currencies; other words are another label."""
    foot = {
        "Subtotal HARE": "lines total",
        "Less trade discount 5%": "discount",
        "Total due USD": "invoice total",
        "VAT 19%": "tax by value",
        "VAT 7%": "ignore",
    }
    assert FootLabels(foot).meaning(label) == meaning


def test_labels_that_only_their_rates_tell_apart_count_as_they_stand() -> None:
    """A third rate is neither of the two."""
    assert FootLabels({"VAT 19%": "tax by value", "VAT 7%": "ignore"}).meaning("VAT 16%") == ""


@pytest.mark.parametrize("said", ["Z=missing", "date = cell Q9", 'label "Tolls" = discount'])
def test_a_correction_of_what_is_not_there_is_refused(said: str) -> None:
    """It would be kept and change nothing."""
    with pytest.raises(InputErrors):
        corrected_profile(layout(), read_answers([said]), made_file(*HEAD, *LINES, TOTAL))


def test_a_date_as_an_answer_is_of_the_file_not_of_the_layout() -> None:
    """It must be clear, and changes no profile."""
    answers = read_answers(["date = 9 April 2026"])
    assert (answers.date, answers.of_layout) == (datetime.date(2026, 4, 9), False)
    with pytest.raises(InputErrors, match="more than one way"):
        read_answers(["date = 03/04/2026"])

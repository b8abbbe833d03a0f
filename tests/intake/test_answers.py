"""What a person says about a proposal, one correction a line: understood, obeyed, or refused with its form."""

from __future__ import annotations

import datetime

import pytest
from proposed_files import PER_SIZE, proposed

from ledger.errors import InputErrors, ValueProblem
from ledger.intake.answers import read_answers
from ledger.intake.proposal import Answers


def test_what_a_person_says_comes_before_what_the_file_says() -> None:
    """The column is what was said, with full confidence."""
    proposal = proposed(*PER_SIZE, said=("ignore F", "E=line total"))
    assert (proposal.meaning("F"), proposal.meaning("E")) == ("", "line_total")


@pytest.mark.parametrize(
    "line",
    [
        "F=unit prize!",
        "date order backwards",
        "currency Kroner",
        "header row nought",
        "pack CS = 7 or 8",
        "hm",
    ],
)
def test_a_correction_that_is_not_understood_is_refused(line: str) -> None:
    """With how it is written."""
    with pytest.raises(InputErrors, match="--as 1"):
        read_answers([line])


def test_every_form_of_a_correction_is_understood() -> None:
    """What the prompt offers can be typed as it stands."""
    from ledger.intake.answers import FORMS  # noqa: PLC0415

    answers = read_answers(FORMS)
    assert answers == Answers(
        columns={"F": "unit_price", "G": "ignore"},
        foot={"Handling": "other by value"},
        head={"reference": "cell B2"},
        packs={"CS": "72 each"},
        units={"INK-7": "bottle"},
        default_unit="dozen",
        date_order="day month year",
        decimal_comma=True,
        currency="EUR",
        price_per="dozen",
        losses_in="pieces",
        header_row=5,
        sheet="Invoice",
        sku_pattern="{style}-{colour}-{size}",
        date=datetime.date(2026, 1, 31),
    )


def test_a_charge_without_a_kind_is_no_meaning_of_a_label() -> None:
    """What an amount is must be one of the kinds of charge."""
    with pytest.raises(InputErrors, match="--as 1"):
        read_answers(['label "Handling" = goodwill'])
    assert issubclass(ValueProblem, Exception)

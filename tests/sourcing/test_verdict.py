"""The verdict at the edge of each of its rules."""

from __future__ import annotations

from dataclasses import replace

import pytest
from study_builder import study

from ledger.sourcing.alternatives import Alternative
from ledger.sourcing.verdict import BULK, DOMESTIC, TOO_CLOSE, Field, judge

HOME = Alternative("domestic", "near", (), 0, 0.0, 0.0, None, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, None, None)
BULK_OF_500 = replace(
    HOME,
    name="bulk",
    offer_name="far",
    quantities=(500,),
    quantity=500,
    expected_saving=10_000.0,
    standard_error=1_000.0,
    probability_cheaper=0.95,
    worst_tenth=2_000.0,
)


def word_of(bulk: Alternative) -> str:
    """The verdict on one order from afar, in a field where a hundredth of the cost at home is 1,000.00."""
    return judge(
        study(), Field(HOME, bulk, None, bulk, bulk_covers=True, home_cost_minor=10_000_000.0), ()
    ).word


@pytest.mark.parametrize(
    ("saving", "error", "word"),
    [
        (10_000.0, 4_999.0, BULK),
        (10_000.0, 5_000.0, TOO_CLOSE),
        (10_000.0, 9_000.0, TOO_CLOSE),
        (-10_000.0, 5_000.0, TOO_CLOSE),
        (-10_000.0, 4_999.0, DOMESTIC),
        (1.0, 0.0, BULK),
        (0.0, 0.0, DOMESTIC),
    ],
)
def test_a_saving_within_two_standard_errors_is_none(saving: float, error: float, word: str) -> None:
    """Either way: what is not told from nothing is neither a gain nor a loss."""
    assert word_of(replace(BULK_OF_500, expected_saving=saving, standard_error=error)) == word


def test_nothing_ordered_saves_nothing() -> None:
    """An order of no pieces is no alternative."""
    assert word_of(replace(BULK_OF_500, quantity=0)) == DOMESTIC

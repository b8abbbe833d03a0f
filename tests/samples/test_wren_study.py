"""The sample study of Wren in Heather Navy: neither the cheaper quote nor the nearer one simply wins.

Its figures are our own regression, not an outside check: two thousand futures from seed 1, with room for
another release of the random numbers.
"""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from ledger.intake.study_file import content_of, read_content, study_from
from ledger.sourcing.decide import Decision, decide
from ledger.sourcing.study import DEFAULT_FUTURES, DEFAULT_SEED

STUDY = Path(__file__).resolve().parents[2] / "samples" / "wren-study.toml"
TODAY = datetime.date(2026, 3, 31)


@pytest.fixture(scope="module")
def decision() -> Decision:
    """The study decided as the command does."""
    return decide(study_from(read_content(STUDY), STUDY.name, TODAY), DEFAULT_FUTURES, DEFAULT_SEED)


def test_the_certain_part_comes_from_afar_and_the_rest_from_here(decision: Decision) -> None:
    """Base and top-up is neither of the other two: 600 of the 696 that one bulk would be."""
    domestic, bulk, base = decision.alternatives
    assert decision.verdict.word == "BASE AND TOP-UP"
    assert decision.verdict.chosen is base
    assert (domestic.quantity, bulk.quantity, base.quantity) == (0, 696, 600)
    assert base.quantities == pytest.approx((179, 323, 98), abs=4)
    assert base.expected_saving == pytest.approx(25_519, abs=1_500)
    assert bulk.expected_saving == pytest.approx(14_909, abs=2_000)
    assert base.probability_cheaper == pytest.approx(0.916, abs=0.02)


def test_the_cheaper_quote_does_not_simply_win(decision: Decision) -> None:
    """Landed the mill costs a quarter less, and all from there is beyond three of the owner's limits."""
    mill, home = decision.plans
    assert mill.order_quantity is not None
    assert home.order_quantity is not None
    assert mill.curve.unit(mill.order_quantity) < 0.8 * home.curve.unit(home.order_quantity)
    told = " ".join(decision.verdict.reasons)
    for words in ("of futures, and 80.0% is the limit", "worst tenth", "ties up"):
        assert words in told


def test_march_alone_makes_it_domestic() -> None:
    """The notebook's months move the verdict: with what the book knows the mill's minimum is too much."""
    content = content_of(STUDY.read_text("utf-8"), STUDY.name)
    march = {key: value for key, value in content["demand"].items() if key != "days_out_of_stock"}
    alone = study_from({**content, "demand": {**march, "history": [37]}}, "march", TODAY)
    assert decide(alone, DEFAULT_FUTURES, DEFAULT_SEED).verdict.word == "DOMESTIC"


def test_what_a_test_order_would_tell(decision: Decision) -> None:
    """The mill's smallest order about pays for itself; it would show defects and delays up to where 600 fail."""
    trial = decision.trial
    assert trial is not None
    assert (trial.quantity, trial.larger_quantity, trial.weeks) == (300, 600, 8)
    assert abs(trial.saving_minor) < 3_000
    # Decided with so many bad in the study itself, the 600 save nothing as well.
    assert trial.most_defects == pytest.approx(0.252, abs=0.02)
    assert trial.most_days == pytest.approx(119, abs=12)


def test_the_example_rates_are_warned_about(decision: Decision) -> None:
    """Rates that came along are no facts."""
    assert any("example rates, no facts" in text for text in decision.warnings)

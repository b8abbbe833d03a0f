"""Taking the figures in which two studies differ one by one: what each makes of the earlier answer by itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from ledger.errors import InputErrors, ValueProblem
from ledger.intake.study_differences import differences, with_difference
from ledger.sourcing.decide import Decision
from ledger.views.moved_answers import Step

MOST_DIFFERENCES = 12
"""More figures that differ are not taken one by one: each costs a decision of its own."""

Decided = Callable[[Mapping[str, Any]], Decision]
"""Returns the decision on a study's tables."""


def steps_between(
    before: Mapping[str, Any], after: Mapping[str, Any], decided: Decided
) -> tuple[tuple[Step, ...], int]:
    """Return what each difference alone makes of the earlier answer, and how many differences there are."""
    every = differences(before, after)
    steps = []
    for difference in every[:MOST_DIFFERENCES]:
        try:
            steps.append(Step(difference, decided(with_difference(before, after, difference))))
        except (ValueProblem, InputErrors):
            # Some figures only make sense together: an offer's currency without its rate, for one.
            steps.append(Step(difference, None))
    return tuple(steps), len(every)

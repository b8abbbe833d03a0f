"""Taking the figures in which two studies differ one by one, without deciding on anything."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from ledger.cli.moved_steps import MOST_DIFFERENCES, steps_between
from ledger.errors import ValueProblem
from ledger.sourcing.decide import Decision


def changed_only(content: Mapping[str, Any]) -> Decision:
    """Stand for a decision with the figures that are no longer 1; one figure alone makes no sense."""
    changed = [key for key, value in content["money"].items() if value != 1]
    if changed == ["figure_02"]:
        raise ValueProblem("figure_02 makes no sense alone.")
    return cast("Decision", changed)


def money(value: int, count: int) -> dict[str, Any]:
    """A study with so many figures, all alike."""
    return {"money": {f"figure_{number:02d}": value for number in range(1, count + 1)}}


def test_each_difference_is_taken_alone() -> None:
    """Every step changes one figure of the earlier study; one that makes no sense alone has no answer."""
    steps, count = steps_between(money(1, 3), money(2, 3), changed_only)
    assert [step.alone for step in steps] == [["figure_01"], None, ["figure_03"]]
    assert count == 3


def test_more_than_a_dozen_differences_are_counted_and_not_taken() -> None:
    """Each costs a decision of its own, so the answer says how many there are."""
    steps, count = steps_between(money(1, 15), money(2, 15), changed_only)
    assert (len(steps), MOST_DIFFERENCES, count) == (12, 12, 15)

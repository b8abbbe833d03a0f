"""Two answers to one buying question: how they differ, and which figures made the difference."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ledger.intake.study_differences import Difference
from ledger.sourcing.alternatives import Alternative
from ledger.sourcing.decide import Decision
from ledger.sourcing.verdict import limit_faults
from ledger.views.decision_figures import money_data, money_text
from ledger.views.prose import wrapped
from ledger.views.tables import Table, paragraphs


@dataclass(frozen=True)
class Step:
    """What one difference alone makes of the earlier answer; None where it means nothing by itself."""

    difference: Difference
    alone: Decision | None


@dataclass(frozen=True)
class MovedAnswer:
    """Two studies and their answers; ``count`` is how many figures differ, of which ``steps`` were taken one by one."""

    before_name: str
    after_name: str
    before: Decision
    after: Decision
    steps: tuple[Step, ...]
    count: int

    @property
    def is_moved(self) -> bool:
        """Whether the verdict is another one."""
        return self.before.verdict.word != self.after.verdict.word

    @property
    def movers(self) -> tuple[Difference, ...]:
        """The differences that move the verdict by themselves."""
        word = self.before.verdict.word
        return tuple(
            step.difference
            for step in self.steps
            if step.alone is not None and step.alone.verdict.word != word
        )


def best_of(decision: Decision) -> Alternative | None:
    """Return the order from afar that saves most or loses least, None where there is none."""
    chosen = decision.verdict.chosen
    return chosen if chosen.quantity else decision.focus


def moved_text(moved: MovedAnswer) -> str:
    """Return in words and a table why one study's answer is not the other's."""
    before, after = moved.before.verdict, moved.after.verdict
    names = f"{moved.before_name} says {before.word}, {moved.after_name} says {after.word}"
    if not moved.count:
        return f"{names}: no figure differs."
    head = f"{names}. {_why(moved)}"
    table = Table(["what differs", moved.before_name, moved.after_name, "changed alone", ">buys", ">saves"])
    table.add("as it was", "", "", before.word, *_bought(moved.before))
    idle = []
    for step in moved.steps:
        difference = step.difference
        if step.alone is not None and _figures(step.alone) == _figures(moved.before):
            idle.append(difference.place)
            continue
        said = (
            ("not by itself", "", "")
            if step.alone is None
            else (step.alone.verdict.word, *_bought(step.alone))
        )
        table.add(difference.place, difference.before, difference.after, *said)
    table.total("all together", "", "", after.word, *_bought(moved.after))
    rest = moved.count - len(moved.steps)
    return paragraphs(
        [
            wrapped(head),
            table.text(),
            wrapped(f"Differs too, and by itself changes nothing: {', '.join(idle)}." if idle else ""),
            wrapped(" ".join(_excluded(name, each) for name, each in _both(moved)).strip()),
            f"{rest} more figures differ; they are not taken one by one." if rest > 0 else "",
        ]
    )


def _both(moved: MovedAnswer) -> tuple[tuple[str, Decision], ...]:
    return ((moved.before_name, moved.before), (moved.after_name, moved.after))


def _excluded(name: str, decision: Decision) -> str:
    """Return which limit excludes the order that is shown of a study, '' where it is the recommended one."""
    best = best_of(decision)
    if best is None or decision.verdict.chosen.quantity:
        return ""
    faults = limit_faults(decision.study, best)
    if not faults:
        return ""
    return f"{name}: the order of {best.quantity:,} is not recommended, for {'; '.join(faults)}."


def _figures(decision: Decision) -> tuple[str, ...]:
    return (decision.verdict.word, *_bought(decision))


def _why(moved: MovedAnswer) -> str:
    movers = [difference.place for difference in moved.movers]
    if not moved.is_moved:
        if movers:
            return f"The verdict stays, though {_and(movers)} alone would have moved it: the other figures outweigh that."
        return "The verdict stays; no single figure moves it."
    if movers:
        return f"What moves the verdict by itself: {_and(movers)}."
    return "No single figure moves the verdict: only together do they."


def _and(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _bought(decision: Decision) -> tuple[str, str]:
    best = best_of(decision)
    if best is None:
        return "", ""
    return f"{best.quantity:,}", money_text(decision, best.expected_saving)


def moved_as_data(moved: MovedAnswer) -> dict[str, Any]:
    """Return the same for scripts."""
    return {
        "study": moved.before_name,
        **_answer(moved.before),
        "is_moved": moved.is_moved,
        "differences": [
            {
                "place": step.difference.place,
                "before": step.difference.before,
                "after": step.difference.after,
                "alone": None if step.alone is None else _answer(step.alone),
                "moves_verdict": step.difference in moved.movers,
            }
            for step in moved.steps
        ],
        "differences_in_all": moved.count,
    }


def _answer(decision: Decision) -> dict[str, Any]:
    best = best_of(decision)
    return {
        "verdict": decision.verdict.word,
        "quantity": None if best is None else str(best.quantity),
        "expected_saving": None if best is None else money_data(decision, best.expected_saving),
    }

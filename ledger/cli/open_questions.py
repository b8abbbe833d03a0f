"""Open questions about a file: refused with the options that answer them, or asked at the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from ledger.errors import Refused
from ledger.exact.words import typed_word
from ledger.intake.profile_gaps import DATE_ANSWER
from ledger.intake.proposal import Question


def refuse_open(questions: Sequence[Question]) -> None:
    """Raise Refused with every open question and the options that answer it; nothing where none is open."""
    if not questions:
        return
    count = len(questions)
    lines = [f"nothing was posted: {count} {'question is' if count == 1 else 'questions are'} open."]
    lines += [f"  - {question.text}{_advice(question.answers)}" for question in questions]
    raise Refused("\n".join(lines))


def _advice(answers: Sequence[str]) -> str:
    return (
        f" Add {options_of(answers)}"
        if answers
        else ' Answer with --as "…"; blankbook receive --help lists how.'
    )


def options_of(answers: Sequence[str]) -> str:
    """Return the options that give these answers.

    >>> options_of(["date order day month year", "F=unit price"])
    '--date-order "day month year" or --as "F=unit price"'
    """
    return " or ".join(map(_option, answers))


def _option(answer: str) -> str:
    if answer == DATE_ANSWER:
        return f"--date {DATE_ANSWER.rpartition(' ')[2]}"
    if answer.startswith("date order "):
        return f"--date-order {typed_word(answer.removeprefix('date order '))}"
    if answer in ("decimal comma", "decimal point"):
        return f"--{answer.replace(' ', '-')}"
    if answer.startswith("currency "):
        return f"--{answer}"
    return f"--as {typed_word(answer)}"

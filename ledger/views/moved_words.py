"""Why an answer moved, told to somebody who has no study before them: no keys of a file, no cells cut short."""

from __future__ import annotations

from dataclasses import replace

from ledger.intake.study_differences import Difference
from ledger.views.moved_answers import MovedAnswer

_LONGEST = 24
_CUT = "…"
_WORDS = {
    "breaks": "prices",
    "lead_time": "days to arrive",
    "on_hand": "stock",
    "per_month": "demand a month",
}


def in_plain_words(moved: MovedAnswer) -> MovedAnswer:
    """Return the same with its places in words, and what is too long for a cell told as what it is."""
    return replace(
        moved, steps=tuple(replace(step, difference=_plain(step.difference)) for step in moved.steps)
    )


def plain_place(place: str) -> str:
    """Return where a figure stands, in words.

    >>> plain_place("[demand]"), plain_place("[money] capital_per_year"), plain_place("A mill: breaks")
    ('demand', 'money: capital per year', 'A mill: prices')
    """
    table, is_table, key = (
        place.removeprefix("[").partition("]") if place.startswith("[") else ("", "", place)
    )
    name, colon, keys = key.strip().rpartition(": ")
    said = ", ".join(_WORDS.get(each, each.replace("_", " ")) for each in keys.split(", "))
    if is_table:
        return f"{table}: {said}" if said else table
    return f"{name}{colon}{said}"


def _plain(difference: Difference) -> Difference:
    before, after = difference.before, difference.after
    if any(len(each) > _LONGEST or each.endswith(_CUT) for each in (before, after)):
        before, after = "as decided", "as put in"
    return replace(difference, place=plain_place(difference.place), before=before, after=after)

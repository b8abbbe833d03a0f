"""How this room folds, quotes and suggests words; private to the catalogue."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

_SHOWN = 60


def fold(text: str) -> str:
    """Return the text for comparing: case folded, outer blanks off, inner blanks single."""
    return " ".join(text.casefold().split())


def quoted(text: str) -> str:
    """Return the text in quotes as typed, cut where it would flood a message."""
    stripped = text.strip()
    return f"'{stripped}'" if len(stripped) <= _SHOWN else f"'{stripped[:_SHOWN]}…'"


def suggestion(text: str, choices: Iterable[str]) -> str:
    """Return ' Did you mean …?' with up to three near choices, or an empty string.

    >>> suggestion("Tarnwik", ["Tarnwick Blank Goods", "Dunnoway Craft Supply"])
    ' Did you mean Tarnwick Blank Goods?'
    """
    near = near_choices(text, choices)
    return f" Did you mean {', '.join(near)}?" if near else ""


def near_choices(text: str, choices: Iterable[str]) -> list[str]:
    """Return up to three of the choices that are much like the text, the nearest first."""
    by_fold = {fold(choice): choice for choice in choices}
    typed = fold(text[:_SHOWN])
    near = difflib.get_close_matches(typed, by_fold, n=3, cutoff=0.6) or near_beginnings(typed, by_fold)
    return [by_fold[key] for key in near]


def near_beginnings(typed: str, folded: Iterable[str]) -> list[str]:
    """Return up to three folded choices that begin much like what was typed: often only a name's first word is."""
    begin: dict[str, str] = {}
    for choice in folded:
        begin.setdefault(choice[: len(typed) + 1], choice)
    return [begin[each] for each in difflib.get_close_matches(typed, begin, n=3, cutoff=0.75)]

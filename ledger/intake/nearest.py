"""How the intake room compares words, quotes them and finds the one that was probably meant."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from ledger.catalogue._words import near_choices

_SHOWN = 60
_FEW = 20


def fold(text: str) -> str:
    """Return the text for comparing: case folded, outer blanks off, inner blanks single.

    >>> fold("  Unit   PRICE ")
    'unit price'
    """
    return " ".join(text.casefold().split())


def quoted(text: str) -> str:
    """Return the text in quotes as typed, cut where it would flood a message."""
    stripped = text.strip()
    return f"'{stripped}'" if len(stripped) <= _SHOWN else f"'{stripped[:_SHOWN]}…'"


def nearest(text: str, choices: Iterable[str], count: int = 1) -> tuple[str, ...]:
    """Return up to ``count`` of the choices that look most like the text, the nearest first."""
    by_fold = {fold(choice): choice for choice in choices}
    near = difflib.get_close_matches(fold(text[:_SHOWN]), by_fold, n=count, cutoff=0.6)
    return tuple(by_fold[key] for key in near)


def did_you_mean(text: str, choices: Iterable[str]) -> str:
    """Return 'Did you mean 'x'?' for the nearest choice, else the choices there are, if they are few."""
    known = list(choices)
    near = near_choices(text, known)
    if near:
        return f"Did you mean {quoted(near[0])}?"
    return f"There are: {', '.join(known)}." if 0 < len(known) <= _FEW else ""

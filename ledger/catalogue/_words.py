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
    """Return ' Did you mean …?' with up to three near choices, or an empty string."""
    by_fold = {fold(choice): choice for choice in choices}
    near = difflib.get_close_matches(fold(text[:_SHOWN]), by_fold, n=3, cutoff=0.6)
    return f" Did you mean {', '.join(by_fold[key] for key in near)}?" if near else ""

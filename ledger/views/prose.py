"""Sentences on a screen: wrapped at a width that people read, long lists of names cut short."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

WIDTH = 100


def wrapped(text: str, indent: str = "") -> str:
    """Return a text with its lines broken between words, further lines with an indent; codes stay whole.

    >>> len(wrapped("word " * 40).splitlines())
    2
    """
    return "\n".join(
        textwrap.fill(line, WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
        for line in text.splitlines()
    )


def first_few(names: Sequence[str], most: int, more: str = "more") -> str:
    """Return names, each once, at most so many of them, and how many more there are.

    >>> first_few(["a", "b", "a", "c"], 2)
    'a, b and 1 more'
    """
    each_once = list(dict.fromkeys(names))
    rest = len(each_once) - most
    return ", ".join(each_once[:most]) + (f" and {rest} {more}" if rest > 0 else "")

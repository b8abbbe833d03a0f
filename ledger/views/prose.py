"""Sentences on a screen: wrapped at a width that people read."""

from __future__ import annotations

import textwrap

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

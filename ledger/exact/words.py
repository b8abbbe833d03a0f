"""Small words in messages."""

from __future__ import annotations


def with_article(noun: str) -> str:
    """Return a noun with 'a' or 'an' before it.

    >>> with_article("order"), with_article("receipt"), with_article("an amount")
    ('an order', 'a receipt', 'an amount')
    """
    if noun.startswith(("a ", "an ")):
        return noun
    return f"an {noun}" if noun[:1].casefold() in "aeiou" and not noun.startswith("use") else f"a {noun}"

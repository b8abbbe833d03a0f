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


def how_many(count: int, noun: str) -> str:
    """Return a number and its noun, in the plural unless it is one.

    >>> how_many(1, "item"), how_many(12, "month"), how_many(1200, "point")
    ('1 item', '12 months', '1,200 points')
    """
    return f"{count:,} {noun}{'' if count == 1 else 's'}"

"""Small words in messages."""

from __future__ import annotations

import shlex
import string
from collections.abc import Sequence

_PLAIN = frozenset(string.ascii_letters + string.digits + "-_./%=")
_NEEDS_MORE = frozenset('"$`\\!')


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


def typed_word(text: str) -> str:
    """Return a word or name as a command line takes it: in double quotes where these will do, which all shells know.

    >>> print(typed_word("WREN-BLK-M"), typed_word("my shop.xlsx"), typed_word('type "Order" = sale'))
    WREN-BLK-M "my shop.xlsx" 'type "Order" = sale'
    """
    if _NEEDS_MORE & set(text):
        return shlex.quote(text)
    return f'"{text}"' if not text or set(text) - _PLAIN else text


def listed(words: Sequence[str]) -> str:
    """Return words as a sentence lists them.

    >>> listed(["jobs"]), listed(["jobs", "receipts"]), listed(["jobs", "receipts", "charges"])
    ('jobs', 'jobs and receipts', 'jobs, receipts and charges')
    """
    return " and ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))

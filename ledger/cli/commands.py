"""The names of all commands, and how a printed one names the book as the maker named it."""

from __future__ import annotations

import re
from contextvars import ContextVar

from ledger.exact.words import typed_word

MODULES: dict[str, str] = {
    "start": "start",
    "tour": "tour",
    "items": "items",
    "boms": "boms",
    "suppliers": "suppliers",
    "aliases": "aliases",
    "quotes": "quotes",
    "duties": "duties",
    "order": "order",
    "ship": "ship",
    "receive": "receive",
    "charge": "charge",
    "post": "post",
    "make": "making",
    "sell": "making",
    "take-back": "coming_back",
    "refund": "coming_back",
    "use": "leaving",
    "spoil": "leaving",
    "own-use": "leaving",
    "sample": "leaving",
    "donate": "leaving",
    "send-back": "coming_back",
    "count": "count",
    "write-down": "leaving",
    "undo": "undo",
    "months": "closing",
    "close": "closing",
    "reopen": "closing",
    "policies": "policies",
    "stock": "stock",
    "lots": "stock",
    "show": "look",
    "history": "look",
    "cost": "cost",
    "trace": "trace",
    "compare": "compare",
    "plan": "plan",
    "review": "review",
    "margin": "margin",
    "prove": "proving",
    "backup": "backup",
    "restore": "backup",
}
"""Each command, in the order of the help, and the module of this room that holds it."""

_WITHOUT_A_BOOK = ("start", "tour")
_NAMES = "|".join(re.escape(name) for name in MODULES if name not in _WITHOUT_A_BOOK)
_TYPED = re.compile(rf"(?<![\w.-])blankbook (?=(?:{_NAMES})(?![\w-]))")


NAMED_BOOK: ContextVar[str] = ContextVar("NAMED_BOOK", default="")
"""The book that --book named in the call that runs; '' where it was left to the folder or the environment."""


def with_named_book(text: str, book: str) -> str:
    """Return a text whose commands can be typed from here: they name the book where --book did.

    >>> with_named_book("See: blankbook show 3, or blankbook --book a.blankbook prove", "my shop.blankbook")
    'See: blankbook --book "my shop.blankbook" show 3, or blankbook --book a.blankbook prove'
    >>> with_named_book("See: blankbook --book a.blankbook show 3", "a.blankbook")
    'See: blankbook --book a.blankbook show 3'
    >>> with_named_book("See: blankbook show 3", "")
    'See: blankbook show 3'
    """
    if not book:
        return text
    named = typed_word(book)
    return _TYPED.sub(lambda _: f"blankbook --book {named} ", text)

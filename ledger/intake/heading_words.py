"""How near a heading or label comes to what such things are commonly called."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

from ledger.exact.currencies import EXPONENTS
from ledger.intake.layout_words import HEADINGS, NOT_READ

_PER = {
    "dozen": ("per dozen", "per doz", "per dz", "price doz", "price dozen", "/doz", "/dz", "/dozen"),
    "hundred": ("per hundred", "per 100", "/100"),
    "piece": ("per piece", "per pc", "price pc", "/pc", "/pcs", "/piece", "price piece", "price each"),
}
_NEAR = 80
_SHORTEST_FUZZY = 4
_BY_LAST_WORD = 82
_OF_SOMETHING_ELSE = frozenset(
    [
        "tax",
        "vat",
        "discount",
        "duty",
        "freight",
        "gross",
        "list",
        "retail",
        "old",
        "order",
        "ordered",
        "back",
    ]
)
_CURRENCY = re.compile(r"\b[A-Z]{3}\b")
_BRACKETS = re.compile(r"[(\[].*?[)\]]")
_FIGURES = re.compile(r"[\d.,]+ ?%?")
_OTHER = re.compile(r"[^\w%#]+|_")


@lru_cache(maxsize=16384)
def plain(text: str) -> str:
    """Return a heading for comparing: without case, brackets, currencies and punctuation.

    >>> plain("Unit-Price (USD)"), plain("Amount EUR:"), plain("Disc. %")
    ('unit price', 'amount', 'disc %')
    """
    kept = _CURRENCY.sub(lambda match: "" if match[0] in EXPONENTS else match[0], _BRACKETS.sub(" ", text))
    words = _OTHER.sub(" ", kept.casefold()).split()
    if words or not text.strip():
        return " ".join(words)
    return " ".join(_OTHER.sub(" ", text.casefold()).split())


@lru_cache(maxsize=4096)
def likeness(text: str, word: str) -> int:
    """Return from 0 to 100 how near a plain text comes to a word; short ones must be the same.

    Order does not count: 'price unit' is 'unit price'.
    """
    from rapidfuzz import fuzz  # noqa: PLC0415  (only needed where a layout is unknown)

    if text == word:
        return 100
    if min(len(text), len(word)) < _SHORTEST_FUZZY:
        return 0
    # The first letter is seldom mistyped, and 'rate' is not 'date'.
    score = max(fuzz.ratio(text, word), fuzz.token_sort_ratio(text, word))
    if {*text} and text[0] != word[0] and sorted(text.split()) != sorted(word.split()):
        score -= 15
    return min(99, round(score))


@lru_cache(maxsize=16384)
def nearest_word(text: str, words: tuple[str, ...]) -> tuple[int, str]:
    """Return how near a plain text comes to the nearest of the words, and that word."""
    return max(((likeness(text, plain(word)), word) for word in words), default=(0, ""))


def heading_scores(heading: str) -> dict[str, int]:
    """Return how well a heading fits each column it comes near to, 80 to 100.

    The last word alone makes it likely: a 'garment colour' is a colour. But a 'tax amount' is another amount.
    """
    text = plain(heading)
    found = {name: nearest_word(text, words) for name, words in HEADINGS.items()} if text else {}
    others = _OF_SOMETHING_ELSE.intersection(text.split())
    scores = {name: score for name, (score, word) in found.items() if others <= set(plain(word).split())}
    *before, last = text.split() or [""]
    if before and not others:
        for name, words in HEADINGS.items():
            if last in words and len(last) >= _SHORTEST_FUZZY:
                scores[name] = max(scores[name], _BY_LAST_WORD)
    return {name: score for name, score in scores.items() if score >= _NEAR}


def why_not_read(heading: str) -> str:
    """Return the reason why a column with this heading is known and not read; empty where it is not so."""
    text = plain(heading)
    best = max(((nearest_word(text, words)[0], why) for why, words in NOT_READ.items()), default=(0, ""))
    own = max(heading_scores(heading).values(), default=0)
    return best[1] if text and best[0] >= _NEAR + 10 and best[0] >= own else ""


def label_meaning(label: str, labels: Mapping[str, tuple[str, ...]]) -> tuple[str, int]:
    """Return what a label means of these, and how near it comes; nothing and 0 where it comes near none.

    >>> from ledger.intake.layout_words import FOOT_LABELS
    >>> label_meaning("Freight:", FOOT_LABELS)
    ('freight by value', 100)
    """
    # A rate or a date beside the word does not count: 'VAT 19%'.
    text = plain(_FIGURES.sub(" ", label))
    found = max(((nearest_word(text, words)[0], name) for name, words in labels.items()), default=(0, ""))
    return (found[1], found[0]) if text and found[0] >= _NEAR + 5 else ("", 0)


def price_unit(heading: str) -> str:
    """Return what a price's heading says it is for: 'dozen', 'hundred', 'piece', or nothing.

    >>> price_unit("Price per dozen"), price_unit("USD/doz."), price_unit("Price")
    ('dozen', 'dozen', '')
    """
    text = " ".join(heading.casefold().replace(".", "").split())
    for name, words in _PER.items():
        if any(re.search(rf"{re.escape(word)}\b", text) for word in words):
            return name
    return ""

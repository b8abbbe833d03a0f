"""How near a heading or label comes to what such things are commonly called."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from ledger.exact.currencies import EXPONENTS
from ledger.intake.layout_words import HEADINGS, NOT_READ, PRICE_CANDIDATES

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
        "not",
    ]
)
_COUNTING = frozenset(
    [
        *("pcs", "pc", "pieces", "piece", "qty", "quantity", "units", "unit", "items", "no", "of", "number"),
        *(
            "recd",
            "received",
            "total",
            "goods",
            "garments",
            "ea",
            "each",
            "in",
            "on",
            "arrival",
            "stk",
            "stück",
        ),
        *("doz", "dozen", "dozens", "dz", "pack", "packs", "pk", "pks", "case", "cases"),
    ]
)
"""Words that beside 'short' or 'damaged' only say that something is counted."""
_LOSSES = ("missing", "damaged")
_LOSS_UNIT_WORDS = {
    "dozens": frozenset(["doz", "dozen", "dozens", "dz", "dzs", "dutzend"]),
    "hundreds": frozenset(["hundred", "hundreds"]),
    "cartons": frozenset(["carton", "cartons", "ctn", "ctns", "box", "boxes", "kartons"]),
    "packs": frozenset(["pack", "packs", "pk", "pks", "packets", "case", "cases", "cs", "rolls", "bottles"]),
    "pieces": frozenset(["pcs", "pc", "piece", "pieces", "ea", "each", "garments", "stk", "stück", "pièces"]),
}
_MONEY_EACH = re.compile(
    r"(?:\b[A-Z]{3}|[$€£¥]) ?(?:/|per|each|ea\b|unit\b)|(?:\bunit|\beach|\bea\.?) ?[/(]? ?(?:[A-Z]{3}\b|[$€£¥])",
    re.IGNORECASE,
)
_BY_LOSS, _BY_CURRENCY = 90, 92
_LEADING = ("less", "plus", "add", "minus", "abzüglich", "zuzüglich", "abzgl", "zzgl", "moins")
"""What may stand before a label of the foot."""
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
    scores |= _of_losses(text)
    if _is_money_each(heading):
        # 'USD/pc' is a price: without its code only the pieces would be left of it.
        return {"unit_price": _BY_CURRENCY}
    return {name: score for name, score in scores.items() if score >= _NEAR}


def _of_losses(text: str) -> dict[str, int]:
    """Return the loss a heading counts whatever words for pieces stand around it: 'Short pcs', 'Recd short'."""
    words = [word for word in text.split() if word not in _COUNTING]
    rest = " ".join(words)
    if not words or rest == text:
        return {}
    return {name: _BY_LOSS for name in _LOSSES if nearest_word(rest, HEADINGS[name])[0] >= _NEAR + 10}


@lru_cache(maxsize=4096)
def _is_money_each(heading: str) -> bool:
    """Return whether a heading names a currency for one: 'USD/pc', 'Unit USD', '€ each'."""
    match = _MONEY_EACH.search(heading)
    if match is None:
        return False
    codes = re.findall(r"\b[A-Z]{3}\b", match[0])
    return any(sign in match[0] for sign in "$€£¥") or any(code in EXPONENTS for code in codes)


def may_be_price(heading: str) -> bool:
    """Return whether a heading may name the price that is paid, though it is called otherwise as often.

    >>> may_be_price("Trade"), may_be_price("FOB USD"), may_be_price("Batch")
    (True, True, False)
    """
    text = plain(heading)
    return bool(text) and nearest_word(text, PRICE_CANDIDATES)[0] >= _NEAR + 10


def why_not_read(heading: str) -> str:
    """Return the reason why a column with this heading is known and not read; empty where it is not so."""
    text = plain(heading)
    best = max(((nearest_word(text, words)[0], why) for why, words in NOT_READ.items()), default=(0, ""))
    own = max(heading_scores(heading).values(), default=0)
    return best[1] if text and best[0] >= _NEAR + 10 and best[0] >= own else ""


RUNNING = "a running number"
"""The reason why a column is not read that its values can contradict."""


def reason_not_read(heading: str, numbers: Sequence[Fraction | None]) -> str:
    """Return why a column is known and not read, empty where its values are not what the heading says.

    'Line' and 'No' are running numbers only where they grow from row to row.
    """
    reason = why_not_read(heading)
    if reason != RUNNING:
        return reason
    there = [number for number in numbers if number is not None]
    grows = all(number.denominator == 1 for number in there) and all(b > a for a, b in pairwise(there))
    return reason if grows else ""


def label_meaning(label: str, labels: Mapping[str, tuple[str, ...]]) -> tuple[str, int]:
    """Return what a label means of these, and how near it comes; nothing and 0 where it comes near none.

    >>> from ledger.intake.layout_words import FOOT_LABELS
    >>> label_meaning("Freight:", FOOT_LABELS)
    ('freight by value', 100)
    """
    # A rate or a date beside the word does not count: 'VAT 19%'; nor does what it is done with: 'Less discount'.
    text = plain(_FIGURES.sub(" ", label))
    first, _, rest = text.partition(" ")
    text = rest if rest and first in _LEADING and text not in labels.get("discount", ()) else text
    found = max(((nearest_word(text, words)[0], name) for name, words in labels.items()), default=(0, ""))
    return (found[1], found[0]) if text and found[0] >= _NEAR + 5 else ("", 0)


def loss_unit(heading: str) -> str:
    """Return what a heading says that losses are counted in, one of LOSS_UNITS, or nothing.

    >>> loss_unit("SHORT (DOZ)"), loss_unit("Damaged pcs"), loss_unit("Short")
    ('dozens', 'pieces', '')
    """
    words = re.findall(r"[^\W\d_]+", heading.casefold())
    return next((name for name, known in _LOSS_UNIT_WORDS.items() if known.intersection(words)), "")


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

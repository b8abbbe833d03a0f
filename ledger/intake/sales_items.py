"""What the book can sell: its SKUs, what a channel calls them, and what comes near a name nobody knows."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from ledger.book.alias_store import CODE, Alias, find_aliases
from ledger.book.bill_store import find_made
from ledger.book.catalogue_store import find_items, find_ladders
from ledger.catalogue.items import Item
from ledger.errors import Problem
from ledger.exact.words import typed_word
from ledger.intake.aliases import LIKELY, SHOWN, Guess, Matcher
from ledger.intake.nearest import fold, quoted
from ledger.intake.sales_skus import UnknownName

LONGEST_LEARNED = 200
"""The most characters of a name that is learned."""

_SOLD_KINDS = ("finished", "transfer", "packaging")
_MOST = 95
_OTHER_SIZE = 30
_WORDS = re.compile(r"[^\s,;:|()/_-]+")


@dataclass(frozen=True)
class SalesItems:
    """The book's items by SKU, those that a bill can make among them, and a channel's names for them."""

    party: str
    items: Mapping[str, Item]
    learned: Mapping[str, str] = field(default_factory=dict)
    """The channel's name, folded, to our SKU."""
    words: Callable[[str], str] = lambda _: ""
    """Returns the one item that a text names word by word: its style, colour and size, as learned."""

    def by_folded_sku(self) -> dict[str, str]:
        """Return each SKU as the book writes it, by its folded text; two that differ in case alone count not."""
        found: dict[str, str] = {}
        for sku in self.items:
            found[fold(sku)] = "" if fold(sku) in found else sku
        return {key: sku for key, sku in found.items() if sku} | {sku: sku for sku in self.items}

    def nearest(self, text: str, count: int = SHOWN) -> tuple[Guess, ...]:
        """Return the items that come nearest to a row's words, the most likely first."""
        from rapidfuzz import fuzz, process, utils  # noqa: PLC0415  (only where a name is unknown)

        items = [item for item in self.items.values() if item.kind in _SOLD_KINDS] or [*self.items.values()]
        words = _WORDS.findall(fold(text))
        scores: dict[str, float] = {}
        named = [_with_parts(item) for item in items]
        for texts in (named, [item.sku.replace("-", " ") for item in items]):
            for _, score, place in process.extract(
                text.replace("-", " "),
                texts,
                scorer=fuzz.token_sort_ratio,
                processor=utils.default_process,
                limit=30,
            ):
                sku = items[place].sku
                size = fold(items[place].size)
                # Another size is another item, however near the rest comes.
                off = _OTHER_SIZE if size and size not in words else 0
                scores[sku] = max(scores.get(sku, 0), score - off)
        guesses = [Guess(sku, self.items[sku].name, min(_MOST, round(each))) for sku, each in scores.items()]
        return tuple(sorted(guesses, key=lambda each: (-each.confidence, each.sku))[:count])


def _with_parts(item: Item) -> str:
    """Return an item's name, with its colour and size where they do not stand in it."""
    there = _WORDS.findall(fold(item.name))
    return " ".join([item.name, *(part for part in (item.colour, item.size) if fold(part) not in there)])


def find_sales_items(connection: sqlite3.Connection, party: str) -> SalesItems:
    """Return what the book can sell, with the names it knows of a channel."""
    made = {sku: each.item for sku, each in find_made(connection).items()}
    items = {**made, **find_items(connection)}
    aliases = find_aliases(connection, party) if party else []
    learned = {fold(alias.word): alias.meaning for alias in aliases if alias.part == CODE}
    # The matcher looks among what suppliers sell; here it is to look among what the shop sells.
    sold = {sku: replace(item, kind="blank") for sku, item in items.items() if item.kind == "finished"}
    words = [alias for alias in aliases if alias.part != CODE]
    matcher = Matcher(sold, words, find_ladders(connection))
    return SalesItems(party, items, learned, matcher.by_words)


def unknown_problem(name: UnknownName, places: Sequence[str], items: SalesItems | None) -> Problem:
    """Return what is said of a name nobody knows: its rows, what comes near, how it is taught once."""
    guesses = (
        [] if items is None else [each for each in items.nearest(name.text) if each.confidence >= LIKELY]
    )
    near = "; ".join(f"{guess.sku} ({guess.confidence}%)" for guess in guesses)
    party = typed_word(items.party) if items is not None and items.party else "PARTY"
    first = typed_word(guesses[0].sku) if guesses else "SKU"
    what = (
        f"the book has no item {quoted(name.word)}." if name.is_code else f"{quoted(name.word)} has no SKU."
    )
    teach = f"blankbook aliases add {party} {typed_word(name.word)} {first}"
    nearest = f"Nearest: {near}. " if near else "Nothing of the book comes near. "
    new = "Add a new one: blankbook items load FILE. " if name.is_code else ""
    step = (
        f"{nearest}{new}Teach it once: {teach} (or a line under [sku.aliases] in the profile). Where it is no "
        "goods, set such rows aside under [set_aside]."
    )
    return Problem(places[0], what, step, tuple(places[1:]))


def names_to_learn(names: Mapping[str, frozenset[str]], items: SalesItems) -> list[Alias]:
    """Return what a taken export teaches: its names that mean one item and that the book does not know.

    A title that does not name the item's colour and size could be another one the next time: it is not
    learned. ``names`` are the file's SKUs and titles with the SKUs of ours that their rows were.
    """
    found = []
    for word, skus in names.items():
        sku = next(iter(skus))
        known = fold(word) in items.learned or fold(word) == fold(sku)
        if (
            len(skus) == 1
            and not known
            and len(word) <= LONGEST_LEARNED
            and _names_all(word, items.items[sku])
        ):
            found.append(Alias(items.party, CODE, word, sku))
    return found


def _names_all(word: str, item: Item) -> bool:
    """Return whether a name can stand for one item: it is one word, or has the colour and the size in it."""
    if len(word.split()) == 1:
        return True
    there = _WORDS.findall(fold(word))
    return (not item.size or fold(item.size) in there) and fold(item.colour) in fold(word)

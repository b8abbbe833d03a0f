"""Finding the item a supplier's words mean: by the exact code, by learned words, by what comes near."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from ledger.book.alias_store import CODE, Alias
from ledger.catalogue.items import Item
from ledger.catalogue.sizes import LADDERS, Ladder, read_size
from ledger.errors import Problem, ValueProblem
from ledger.exact.words import typed_word
from ledger.intake.nearest import fold, quoted
from ledger.intake.shipment import ShipmentLine

SHOWN = 3
"""How many items are proposed for a code nobody knows."""

_WORD = re.compile(r"[^\s,;|()]+")
_CUT = re.compile(r"[\s,;|()/_-]+")
_NEAR_COLOUR = 70
_OTHER_SIZE = 45
"""The most confidence an item of another size than the words say can have."""
LIKELY = 55
"""From this confidence an item is worth naming."""
_MOST = 95
"""The most confidence of what only comes near."""


@dataclass(frozen=True, slots=True)
class Guess:
    """An item that may be meant, with a confidence from 0 to 100."""

    sku: str
    name: str
    confidence: int


@dataclass(frozen=True, slots=True)
class Unknown:
    """A line whose item nobody knows: what the party calls it, and what comes near."""

    party: str
    word: str
    where: str
    guesses: tuple[Guess, ...] = ()
    is_own_sku: bool = False
    """Whether a SKU of ours was written, which is no name of the party's."""
    may_be_new: bool = False
    """Whether it could come in as a new blank: it has a size."""


def alias_word(line: ShipmentLine) -> str:
    """Return what the party calls a line's item: its code, else style, colour and size, else the SKU read."""
    return line.code or " ".join(filter(None, (line.style, line.colour, line.size))) or line.sku


@dataclass
class Matcher:
    """The catalogue and one party's names, ready for looking up many lines."""

    items: Mapping[str, Item]
    aliases: Iterable[Alias] = ()
    ladders: tuple[Ladder, ...] = ()
    _codes: dict[str, str] = field(init=False, default_factory=dict)
    _words: dict[str, dict[str, str]] = field(init=False, default_factory=dict)
    _by_parts: dict[tuple[str, str, str], list[str]] = field(init=False, default_factory=dict)
    _known: dict[str, dict[str, str]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self._words = {"style": {}, "colour": {}, "size": {}}
        for alias in self.aliases:
            table = self._codes if alias.part == CODE else self._words[alias.part]
            table[fold(alias.word)] = alias.meaning
        self._known = {"style": {}, "colour": {}}
        for item in self.items.values():
            # What is sold comes from no supplier, though it has the blank's colour and size.
            if item.kind == "finished" or not item.style:
                continue
            key = (fold(item.style), fold(item.colour), fold(item.size))
            self._by_parts.setdefault(key, []).append(item.sku)
            self._known["style"][fold(item.style)] = item.style
            if item.colour:
                self._known["colour"][fold(item.colour)] = item.colour

    def certain(self, line: ShipmentLine) -> str:
        """Return the SKU that a taught code or learned words mean without a doubt, empty where none does."""
        for word in (line.code, alias_word(line)):
            if word and fold(word) in self._codes:
                return self._codes[fold(word)]
        if line.style and (line.colour or line.size):
            found = self._one(line.style, line.colour, line.size)
            if found:
                return found
        return self.by_words(line.code) or self.by_words(line.description)

    def _one(self, style: str, colour: str, size: str) -> str:
        """Return the one item of this style, colour and size, empty where there is none or several."""
        keys = [
            self._words[part].get(fold(word), word) for part, word in (("style", style), ("colour", colour))
        ]
        skus = self._by_parts.get((fold(keys[0]), fold(keys[1]), fold(self.size(size))), [])
        return skus[0] if len(skus) == 1 else ""

    def size(self, word: str) -> str:
        """Return the catalogue's size for a word: as learned, else as the ladders name it, else the word."""
        learned = self._words["size"].get(fold(word))
        return learned or (_ladder_size(word, self.ladders) if word else "") or word

    def by_words(self, text: str) -> str:
        """Return the one item whose style, colour and size a text names word by word, with nothing left over."""
        words = _words(text)
        if not 1 < len(words) <= 8:  # noqa: PLR2004 - a code of many words is a description
            return ""
        found = {sku for place in range(len(words)) if (sku := self._with_size_at(words, place))}
        return found.pop() if len(found) == 1 else ""

    def _with_size_at(self, words: list[str], place: int) -> str:
        if not self._is_size(words[place]):
            return ""
        rest = [*words[:place], *words[place + 1 :]]
        for cut in range(1, len(rest) + 1):
            for style, colour in ((rest[:cut], rest[cut:]), (rest[cut:], rest[:cut])):
                sku = self._one(" ".join(style), " ".join(colour), words[place]) if style else ""
                if sku:
                    return sku
        return ""

    def _is_size(self, word: str) -> bool:
        return fold(word) in self._words["size"] or bool(_ladder_size(word, self.ladders))

    def nearest(self, line: ShipmentLine, count: int = SHOWN) -> tuple[Guess, ...]:
        """Return the items that come nearest to a line's words, the most likely first."""
        from rapidfuzz import fuzz, process, utils  # noqa: PLC0415  (only where a code is unknown)

        text = self._translated(" ".join(dict.fromkeys(filter(None, (alias_word(line), line.description)))))
        size = self.size(line.size) if line.size else self._size_in(text)
        items = [item for item in self.items.values() if item.kind != "finished"]
        scores: dict[str, float] = {}
        for texts in (
            [f"{item.style} {item.colour} {item.size}".strip() or item.name for item in items],
            [item.name for item in items],
            [_CUT.sub(" ", item.sku) for item in items],
        ):
            for _, score, place in process.extract(
                text, texts, scorer=fuzz.WRatio, processor=utils.default_process, limit=60
            ):
                sku = items[place].sku
                scores[sku] = max(scores.get(sku, 0), score)
        guesses = []
        for sku, score in scores.items():
            item = self.items[sku]
            top = _OTHER_SIZE if size and item.size and fold(size) != fold(item.size) else _MOST
            guesses.append(Guess(sku, item.name, min(top, round(score))))
        return tuple(sorted(guesses, key=lambda each: (-each.confidence, each.sku))[:count])

    def _translated(self, text: str) -> str:
        """Return a text with the party's learned words as the catalogue's."""
        folded = f" {fold(text)} "
        for part in ("style", "colour"):
            for word, meaning in self._words[part].items():
                folded = folded.replace(f" {word} ", f" {fold(meaning)} ")
        return folded.strip()

    def _size_in(self, text: str) -> str:
        sizes = [self.size(word) for word in text.split() if self._is_size(word)]
        return sizes[-1] if sizes else ""

    def learned(self, party: str, text: str, sku: str) -> list[Alias]:
        """Return what is learned from one code: the code itself, and the words for style, colour and size.

        Words are learned only where the code has the item's size as a word of its own and another part
        that comes near the item's colour; what remains is then the word for the style.
        """
        item = self.items[sku]
        taught = [Alias(party, CODE, " ".join(text.split()), sku)]
        words = _words(text)
        places = [
            place
            for place, word in enumerate(words)
            if item.size and fold(self.size(word)) == fold(item.size)
        ]
        if not item.style or not item.colour or len(places) != 1:
            return taught
        rest = [*words[: places[0]], *words[places[0] + 1 :]]
        parts = _style_and_colour(rest, item)
        if parts is not None:
            pairs = (("style", parts[0], item.style), ("colour", parts[1], item.colour))
            taught += [
                Alias(party, part, word, meaning)
                for part, word, meaning in pairs
                if fold(word) != fold(meaning) and self._words[part].get(fold(word), meaning) == meaning
            ]
        return taught


def _words(text: str) -> list[str]:
    """Return the words of a text; what stands between them alone, as in 'Black / S', is none.

    >>> _words("Fox tee | Black / S")
    ['Fox', 'tee', 'Black', 'S']
    """
    return [word for word in _WORD.findall(text) if any(char.isalnum() for char in word)]


def _style_and_colour(words: list[str], item: Item) -> tuple[str, str] | None:
    """Return the words for style and colour, cut where the colour comes nearest to the item's."""
    from rapidfuzz import fuzz  # noqa: PLC0415  (only where a code is taught)

    best: tuple[float, str, str] = (0, "", "")
    for cut in range(1, len(words)):
        for style, colour in ((words[:cut], words[cut:]), (words[cut:], words[:cut])):
            score = fuzz.ratio(fold(" ".join(colour)), fold(item.colour))
            best = max(best, (score, " ".join(style), " ".join(colour)))
    return (best[1], best[2]) if best[0] >= _NEAR_COLOUR else None


def _ladder_size(word: str, own: tuple[Ladder, ...]) -> str:
    for ladder in (*own, *LADDERS):
        try:
            return read_size(word, ladder)
        except ValueProblem:
            continue
    return ""


def unknown_problem(unknown: Unknown) -> Problem:
    """Return what is said of a code nobody knows: what comes near, and the command that teaches it."""
    if unknown.is_own_sku:
        near_enough = unknown.guesses and unknown.guesses[0].confidence >= LIKELY
        likely = f"Did you mean {quoted(unknown.guesses[0].sku)}? " if near_enough else ""
        what = f"the book has no item {unknown.word}."
        return Problem(unknown.where, what, f"{likely}Add it first: blankbook items load FILE.")
    likely_ones = [guess for guess in unknown.guesses if guess.confidence >= LIKELY]
    near = "; ".join(f"{guess.sku} ({guess.confidence}%)" for guess in likely_ones)
    first = likely_ones[0].sku if likely_ones else "SKU"
    party = typed_word(unknown.party) if unknown.party else "SUPPLIER"
    command = f"blankbook aliases add {party} {typed_word(unknown.word)} {first}"
    whose = f"{unknown.party}'s " if unknown.party else ""
    what = f"the book does not know {whose}{quoted(unknown.word)}."
    if near:
        return Problem(unknown.where, what, f"Nearest: {near}. Teach it once: {command}")
    new = (
        "Take it as a new blank with --add-items"
        if unknown.may_be_new
        else "Add it: blankbook items load FILE"
    )
    return Problem(unknown.where, what, f"Nothing of the book comes near. {new}, or teach it: {command}")

"""From a file's words to our codes: sizes, units and packs, SKUs, and what a new item is."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache

from ledger.catalogue.items import LONGEST_SKU, read_sku, sku_from_pattern
from ledger.catalogue.sizes import Ladder, find_ladder, guess_ladder, read_size
from ledger.catalogue.units import find_unit
from ledger.errors import ValueProblem
from ledger.intake.nearest import fold
from ledger.intake.pack_content import stated_content
from ledger.intake.profile import PLACEHOLDERS, Profile

KnownFactor = Callable[[str, str], Fraction | None]
"""Given a SKU and a unit or pack name: how many base units the catalogue says it holds, or None."""

_PLAIN_CODE = re.compile(r"[A-Za-z0-9._/+-]*")
_NOT_IN_A_SKU = re.compile(r"[^A-Z0-9._/+-]+")

PIECE_UNITS = ("each", "sheet")
"""The base units whose quantities are pieces."""


@dataclass(frozen=True)
class RowWords:
    """What a row says its item is: the file's words, each trimmed, any of them empty."""

    sku: str = ""
    code: str = ""
    style: str = ""
    colour: str = ""
    size: str = ""
    description: str = ""


@dataclass(frozen=True)
class UnitMeaning:
    """What a row's unit word stands for.

    ``factor`` is how many base units it holds, None where only the catalogue can tell; ``content`` the
    pack's content where the profile gives it; ``base_unit`` what the factor counts in. ``stated`` says
    that the factor comes from the profile, not from what the word means everywhere.
    """

    unit: str
    factor: Fraction | None = None
    base_unit: str = ""
    content: str = ""
    stated: bool = False
    is_of_row: bool = False
    """Whether the row itself states the content."""


@dataclass
class Codes:
    """A profile's tables, ready for looking up the words of many rows."""

    profile: Profile
    known_factor: KnownFactor | None = None
    _aliases: dict[str, dict[str, str]] = field(init=False)
    _packs: dict[str, str] = field(init=False)
    _units_by_item: dict[str, str] = field(init=False)
    _said: set[str] = field(init=False)
    _packs_by_size: dict[str, dict[str, str]] = field(init=False)
    _surcharges: dict[str, Fraction] = field(init=False)
    _units: dict[tuple[str, str], UnitMeaning] = field(init=False, default_factory=dict)
    _sizes: dict[str, str] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        profile = self.profile
        self._aliases = {part: _folded(words) for part, words in profile.aliases.items()}
        self._packs = _folded(profile.packs)
        self._units_by_item = _folded(profile.units_by_item)
        # What a person says an item comes in may be a content such as '500 mL'; a file's own word is none.
        self._said = {*profile.units_by_item.values(), profile.default_unit}
        self._packs_by_size = {
            self.size(size): _folded(words) for size, words in profile.packs_by_size.items()
        }
        self._surcharges = {self.size(size): amount for size, amount in profile.surcharges.items()}

    def size(self, word: str) -> str:
        """Return our size for the file's word: the alias, else the ladder's name, else the word."""
        if word not in self._sizes:
            alias = self._aliases.get("size", {}).get(fold(word))
            self._sizes[word] = alias or _ladder_size(word, self.profile.new_item.get("ladder", ""))
        return self._sizes[word]

    def surcharge(self, size: str) -> Fraction:
        """Return the price added per piece for one of our sizes."""
        return self._surcharges.get(size, Fraction(0))

    def unit(self, word: str, size: str) -> UnitMeaning:
        """Return what a unit word means for one of our sizes; an empty word is the profile's default."""
        key = (word, size)
        if key not in self._units:
            self._units[key] = self._unit(word or self.profile.default_unit, size)
        return self._units[key]

    def unit_word(self, word: str, words: RowWords, sku: str) -> str:
        """Return what a row's quantity counts: its own word, else what the profile says of its item.

        'each' of an item that is measured is no word either: one what?
        """
        if not self._units_by_item or (word and not self._says_nothing(sku, word)):
            return word
        names = (sku, words.code, words.style, words.description)
        return next((unit for name in names if (unit := self._units_by_item.get(fold(name)))), word)

    def _says_nothing(self, sku: str, word: str) -> bool:
        unit = find_unit(word)
        is_each = unit is not None and unit.name == "each" and fold(word) not in self._packs
        return is_each and self.known_factor is not None and self.known_factor(sku, word) is None

    def _unit(self, word: str, size: str) -> UnitMeaning:
        if not word:
            return UnitMeaning("", Fraction(1))
        value = self._packs_by_size.get(size, {}).get(fold(word)) or self._packs.get(fold(word))
        if not value and word in self._said and find_unit(word) is None:
            value = word
        content = stated_content(value or "")
        if content is not None:
            return UnitMeaning(word, content.factor, content.base_unit, content.text, stated=True)
        unit = find_unit(value or word)
        if unit is not None and unit.base_unit in PIECE_UNITS:
            return UnitMeaning(value or word, unit.factor, unit.base_unit)
        return UnitMeaning(value or word)

    def factor(self, sku: str, meaning: UnitMeaning) -> Fraction | None:
        """Return how many base units a unit holds: the profile, the catalogue, then common meaning."""
        if not meaning.stated and meaning.unit and self.known_factor is not None:
            return self.known_factor(sku, meaning.unit) or meaning.factor
        return meaning.factor

    def is_measured(self, sku: str, meaning: UnitMeaning) -> bool:
        """Return whether an item is kept by measure, not in pieces, as far as file or catalogue tell."""
        if meaning.base_unit:
            return meaning.base_unit not in PIECE_UNITS
        known = self.known_factor
        if known is None or not meaning.unit or known(sku, meaning.unit) is None:
            return False
        return all(known(sku, unit) is None for unit in PIECE_UNITS)

    def sku(self, words: RowWords) -> str:
        """Return the SKU of a row.

        Raises ValueProblem where a part is missing or the result is no SKU.
        """
        if words.sku or "sku" in self.profile.columns:
            return read_sku(words.sku)
        direct = self._aliases.get("code", {}).get(fold(words.code)) if words.code else None
        if direct:
            return read_sku(direct)
        pattern = self.profile.sku_pattern
        if "{code}" in pattern:
            if not words.code:
                raise ValueProblem("the supplier's code is empty, and the SKU is made of it.")
            pattern = pattern.replace("{code}", _as_sku(words.code))
        if "{" not in pattern:
            return read_sku(pattern)
        values = {"style": words.style, "colour": words.colour, "size": self.size(words.size)}
        return sku_from_pattern(pattern, values, self._aliases)

    def our_style(self, words: RowWords) -> str:
        """Return our code of the row's style, the file's word where it has none."""
        return self._aliases.get("style", {}).get(fold(words.style), words.style)

    def new_item(self, words: RowWords, sku: str, cells: Mapping[str, str]) -> dict[str, str]:
        """Return a row for the items sheet; ``cells`` are what the file itself says, and win."""
        profile = self.profile
        chosen = dict(profile.new_item)
        for key in (words.code, sku):
            chosen.update(profile.new_item_by_code.get(key, {}))
        values = {
            "sku": sku,
            "style": self.our_style(words),
            "colour": words.colour,
            "size": self.size(words.size) if words.size else "",
            "code": words.code,
            "description": words.description,
        }
        row = {name: _filled(text, values) for name, text in chosen.items()}
        row |= {name: values[name] for name in ("style", "colour", "size") if values[name]}
        row |= {name: text for name, text in cells.items() if text}
        row["sku"] = sku
        if not row.get("name"):
            row["name"] = (
                words.description
                or " ".join(filter(None, (row.get("style"), words.colour, row.get("size"))))
                or sku
            )
        return {name: text for name, text in row.items() if text}


def _as_sku(code: str) -> str:
    """Return a supplier's code as it can stand in a SKU: as it is, else in capitals without what cannot.

    What it is in the catalogue is looked up by the code itself; a long text keeps a mark of its whole.
    """
    if _PLAIN_CODE.fullmatch(code) and len(code) <= LONGEST_SKU:
        return code
    plain = _NOT_IN_A_SKU.sub("", code.upper()).lstrip("-_./+")
    if len(plain) > LONGEST_SKU:
        mark = hashlib.sha256(code.encode()).hexdigest()[:6].upper()
        return f"{plain[: LONGEST_SKU - len(mark) - 1]}-{mark}"
    return plain


def _folded(words: Mapping[str, str]) -> dict[str, str]:
    return {fold(word): meaning for word, meaning in words.items()}


def _filled(text: str, values: Mapping[str, str]) -> str:
    if "{" not in text:
        return text
    for name in PLACEHOLDERS:
        text = text.replace(f"{{{name}}}", values[name])
    return " ".join(text.split())


@lru_cache(maxsize=1000)
def _ladder_size(word: str, ladder_name: str) -> str:
    """Return the size as its ladder names it; the word itself where no ladder knows it."""
    ladder: Ladder | None
    try:
        ladder = find_ladder(ladder_name) if ladder_name else guess_ladder(word)
        return read_size(word, ladder) if ladder is not None else word
    except ValueProblem:
        # A shop's own ladder is known to the book, not here; its sizes stay as they are written.
        return word


def looks_like_a_size(heading: str) -> bool:
    """Return whether a column heading is one size of a usual ladder.

    >>> looks_like_a_size("XXL"), looks_like_a_size("Total")
    (True, False)
    """
    for ladder in ("adult", "toddler", "infant", "tall", "youth"):
        try:
            read_size(heading, find_ladder(ladder))
        except ValueProblem:
            continue
        return True
    return False

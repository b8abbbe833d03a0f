"""Packs: named multiples of an item's base unit, by exact rational factors."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from ledger.catalogue._words import fold, quoted
from ledger.catalogue.sheets import read_dimensions
from ledger.catalogue.units import UNITS, convert, find_unit, read_unit
from ledger.errors import ValueProblem
from ledger.exact.numbers import read_decimal
from ledger.exact.quantity import MAX_QUANTITY, MILLI, to_base

_LONGEST_NAME = 40
_LONGEST_TEXT = 500
_LARGEST_INTEGER = 2**63 - 1

_NOMINAL = re.compile(r"\A(?P<real>[^()]+)\(\s*sold\s+as\s+(?P<nominal>[^()]+)\)\s*\Z", re.IGNORECASE)
_SEVERAL = re.compile(
    r"\A(?P<number>[-+]?[0-9.]+)\s*(?P<word>[^\W\d]*)\s+of\s+(?P<content>.+)\Z", re.IGNORECASE
)
_CROSSED = re.compile(r"\d\D*?(?:[x×*]|by)\s*\d", re.IGNORECASE)
_AMOUNT = re.compile(r"\A(?P<number>[-+]?[0-9.]+)\s*(?P<unit>.*)\Z", re.DOTALL)


@dataclass(frozen=True)
class Pack:
    """A named multiple of an item's base unit: case = 72 each.

    ``factor`` is the real content of one pack in base units, and the one that counts.
    ``nominal`` is what the seller calls the size where that differs (a '12 inch' roll of
    11.8), with its own content in ``nominal_factor``; empty and None where it does not.
    """

    sku: str
    name: str
    factor: Fraction
    nominal: str = ""
    nominal_factor: Fraction | None = None


def read_pack(text: str, base_unit: str, density_g_per_ml: Fraction | None = None, *, sku: str = "") -> Pack:
    """Return the pack that a text like ``roll = 11.8 in x 5 yd`` defines.

    The content is a number and a unit, a sheet or a width by a length, or several of those
    (``pack = 10 of 12 in x 15 in``). A nominal size stands behind it in brackets:
    ``roll = 11.8 in x 5 yd (sold as 12 in x 5 yd)``.

    >>> read_pack("ten gross = 1440 each", "each").factor
    Fraction(1440, 1)

    Raises ValueProblem where a part is missing or cannot be measured in ``base_unit``, and where
    the name is a unit that already has another content (a dozen of 13).
    """
    name, equals, content = text.partition("=")
    name, content = " ".join(name.split()), content.strip()
    if not (equals and name and content) or len(text) > _LONGEST_TEXT:
        raise ValueProblem(f"{quoted(text)} is not a pack: write its name and content, like case = 72 each.")
    if len(name) > _LONGEST_NAME:
        raise ValueProblem(
            f"the pack name {quoted(name)} is longer than {_LONGEST_NAME} characters: shorten it."
        )
    match = _NOMINAL.match(content)
    real = match["real"].strip() if match else content
    nominal = match["nominal"].strip() if match else ""
    factor = _content(real, base_unit, density_g_per_ml)
    _check_name(name, factor, base_unit, density_g_per_ml)
    return Pack(
        sku=sku,
        name=name,
        factor=factor,
        nominal=nominal,
        nominal_factor=_content(nominal, base_unit, density_g_per_ml) if nominal else None,
    )


def read_packs(
    text: str, base_unit: str, density_g_per_ml: Fraction | None = None, *, sku: str = ""
) -> tuple[Pack, ...]:
    """Return the packs of one cell, separated by ``;``, in the order written.

    Raises ValueProblem as read_pack does, and where two packs have one name.
    """
    packs: dict[str, Pack] = {}
    for part in filter(None, map(str.strip, text.split(";"))):
        pack = read_pack(part, base_unit, density_g_per_ml, sku=sku)
        if fold(pack.name) in packs:
            raise ValueProblem(f"the pack {quoted(pack.name)} is given twice: name each pack once.")
        packs[fold(pack.name)] = pack
    return tuple(packs.values())


def find_pack(name: str, packs: Iterable[Pack]) -> Pack | None:
    """Return the pack of that name, in singular or plural and in any case, or None."""
    wanted = fold(name)
    by_key = {fold(pack.name): pack for pack in packs}
    for key in (wanted, wanted.removesuffix("s"), wanted.removesuffix("es")):
        if key in by_key:
            return by_key[key]
    return None


def unit_factor(
    text: str, base_unit: str, packs: Iterable[Pack] = (), density_g_per_ml: Fraction | None = None
) -> Fraction:
    """Return how many base units one of the unit or pack that the text names is.

    The item's own packs come before the general units; an empty text is the base unit.

    >>> unit_factor("dozen", "each")
    Fraction(12, 1)

    Raises ValueProblem where the text is neither a pack of the item nor a unit that fits, naming
    the packs there are.
    """
    known = tuple(packs)
    if not text.strip():
        return Fraction(1)
    pack = find_pack(text, known)
    if pack is not None:
        return pack.factor
    try:
        return convert(Fraction(1), read_unit(text), base_unit, density_g_per_ml)
    except ValueProblem as problem:
        if not known:
            raise
        names = ", ".join(each.name for each in known)
        raise ValueProblem(f"{problem} Packs of this item: {names}.") from problem


def _content(text: str, base_unit: str, density_g_per_ml: Fraction | None) -> Fraction:
    """Return the base units in a pack's content."""
    several = _SEVERAL.match(text)
    if several is not None:
        times = read_decimal(several["number"]) * _times(several["word"], text)
        return _bounded(times * _content(several["content"].strip(), base_unit, density_g_per_ml), text)
    amount = _AMOUNT.match(text)
    if amount is None and base_unit != "cm2":
        raise ValueProblem(
            f"{quoted(text)} is not the content of a pack: write a number and a unit, like 72 each."
        )
    if amount is None or _CROSSED.search(text):
        area = read_dimensions(text)
        return _bounded(convert(area.area_cm2, UNITS["cm2"], base_unit), text)
    unit = read_unit(amount["unit"] or base_unit)
    return _bounded(convert(read_decimal(amount["number"]), unit, base_unit, density_g_per_ml), text)


def _times(word: str, text: str) -> Fraction:
    """Return what the word before 'of' multiplies by: '2 dozen of', '10 sheets of', '6 of'."""
    unit = find_unit(word)
    if unit is None:
        return Fraction(1)
    if unit.dimension not in {"count", "sheets"}:
        raise ValueProblem(f"{quoted(text)}: only a number of pieces can stand before 'of', not {unit.name}.")
    return unit.factor


def _bounded(factor: Fraction, text: str) -> Fraction:
    """Return the factor unchanged where a book can hold one such pack."""
    too_fine = max(abs(factor.numerator), factor.denominator) > _LARGEST_INTEGER
    if too_fine or factor * MILLI > MAX_QUANTITY:
        raise ValueProblem(f"{quoted(text)}: no pack holds that; check the number and its unit.")
    if factor <= 0 or to_base(Fraction(1), factor) == 0:
        raise ValueProblem(f"{quoted(text)}: a pack must hold more than nothing.")
    return factor


def _check_name(name: str, factor: Fraction, base_unit: str, density_g_per_ml: Fraction | None) -> None:
    """Refuse a pack named like a unit that has another content: two meanings, one word."""
    unit = find_unit(name)
    if unit is None:
        return
    try:
        fixed = convert(Fraction(1), unit, base_unit, density_g_per_ml)
    except ValueProblem:
        return
    if fixed != factor:
        raise ValueProblem(
            f"{quoted(name)} always means {float(fixed):.10g} {base_unit}: give the pack another name."
        )

"""Units of count, length, area, volume and mass, with exact factors."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from ledger.catalogue._words import fold, quoted, suggestion
from ledger.errors import ValueProblem

BASE_UNITS = ("each", "sheet", "mL", "g", "cm", "cm2")
"""The units stock is counted in."""

_DIMENSION_OF_BASE = {
    "each": "count",
    "sheet": "sheets",
    "mL": "volume",
    "g": "mass",
    "cm": "length",
    "cm2": "area",
}
_BASE_OF_DIMENSION = {dimension: base for base, dimension in _DIMENSION_OF_BASE.items()}


@dataclass(frozen=True)
class Unit:
    """A unit a maker may type.

    ``factor`` says how many base units of its dimension one of it is: an inch is 2.54 cm.
    """

    name: str
    dimension: str
    factor: Fraction

    @property
    def base_unit(self) -> str:
        """The base unit of the dimension: cm for an inch, mL for a quart."""
        return _BASE_OF_DIMENSION[self.dimension]


_INCH = Fraction("2.54")
_FOOT = 12 * _INCH
_YARD = 3 * _FOOT
_POUND = Fraction("453.59237")
# The US gallon is 231 cubic inches by definition; a cubic centimetre is a millilitre.
_GALLON = 231 * _INCH**3

_WORDS_FOR_ONE = (
    "ea;pc;pcs;piece;pieces;ct;count;unit;units;EA;H87;"
    # Piece in German, French, Spanish, Italian and Dutch: dictionary words.
    "stück;stücke;stueck;stk;stck;pièce;pièces;pce;pces;unité;unités;pieza;piezas;pza;pzas;unidad;unidades;"
    "pezzo;pezzi;stuk;stuks"
)

# Name, dimension, factor, the aliases by ";". An alias is compared folded (see _key).
# Codes in capitals: UN/CEFACT Recommendation 20.
_TABLE: tuple[tuple[str, str, Fraction, str], ...] = (
    ("each", "count", Fraction(1), _WORDS_FOR_ONE),
    ("dozen", "count", Fraction(12), "dozens;doz;dz;DZN"),
    ("gross", "count", Fraction(144), "GRO"),
    ("ten gross", "count", Fraction(1440), "10 gross"),
    ("great gross", "count", Fraction(1728), ""),
    ("sheet", "sheets", Fraction(1), "sheets;sht;shts"),
    ("mm", "length", Fraction(1, 10), "millimetre;millimetres;millimeter;millimeters"),
    ("cm", "length", Fraction(1), "centimetre;centimetres;centimeter;centimeters;CMT"),
    ("m", "length", Fraction(100), "metre;metres;meter;meters"),
    ("in", "length", _INCH, 'inch;inches;";″;”'),
    ("ft", "length", _FOOT, "foot;feet;';′;’"),
    ("yd", "length", _YARD, "yds;yard;yards;YRD"),
    ("cm2", "area", Fraction(1), "sq cm;sqcm;square centimetre;square centimeter;CMK"),
    ("m2", "area", Fraction(10_000), "sq m;sqm;square metre;square meter;MTK"),
    ("in2", "area", _INCH**2, "sq in;sqin;square inch;INK"),
    ("ft2", "area", _FOOT**2, "sq ft;sqft;square foot;square feet"),
    ("yd2", "area", _YARD**2, "sq yd;sqyd;square yard"),
    ("mL", "volume", Fraction(1), "millilitre;millilitres;milliliter;milliliters;cc;MLT"),
    ("L", "volume", Fraction(1000), "litre;litres;liter;liters;ltr;LTR"),
    ("fl oz", "volume", _GALLON / 128, "floz;us fl oz;fluid ounce;fluid ounces;OZA"),
    ("quart", "volume", _GALLON / 4, "quarts;qt;qts;us quart"),
    ("gallon", "volume", _GALLON, "gallons;gal;gals;us gallon"),
    ("g", "mass", Fraction(1), "gm;gms;gram;grams;gramme;grammes;GRM"),
    ("kg", "mass", Fraction(1000), "kgs;kilo;kilos;kilogram;kilograms;KGM"),
    ("oz", "mass", _POUND / 16, "ounce;ounces;ONZ"),
    ("lb", "mass", _POUND, "lbs;pound;pounds;LBR"),
)

# Words that have no fixed content: an item's pack must say how much is in one.
# The codes with an x are package codes of UN/CEFACT Recommendation 21.
_CONTAINER_WORDS = (
    "bag bottle box can carton case cs ctn cartridge jar jug pack packet pail pallet pk "
    "ream roll spool tub tube xbg xbo xcs xct xro xst"
)
_CONTAINERS = frozenset(_CONTAINER_WORDS.split())
_AMBIGUOUS = {
    "M": "metres or thousands: write m, or the number of pieces with each",
    "gr": "gross or grams: write gross or g",
}


def _key(text: str) -> str:
    """Return the text folded, with full stops dropped and squares written as a plain 2."""
    plain = text.replace("²", "2").replace("^2", "2").replace(".", " ")
    return re.sub(r"\b(square (?:centi)?(?:metre|meter|inch|yard)|square inche)s\b", r"\1", fold(plain))


UNITS: dict[str, Unit] = {name: Unit(name, dimension, factor) for name, dimension, factor, _ in _TABLE}
"""Every unit by its own name."""

_BY_KEY: dict[str, Unit] = {
    _key(alias): UNITS[name]
    for name, _, _, aliases in _TABLE
    for alias in (name, *filter(None, aliases.split(";")))
}
_BY_KEY["square inche"] = UNITS["in2"]


@lru_cache(maxsize=1024)
def find_unit(text: str) -> Unit | None:
    """Return the unit that the text names, or None where it names none or is ambiguous."""
    if text.strip() in _AMBIGUOUS:
        return None
    return _BY_KEY.get(_key(text))


def read_unit(text: str) -> Unit:
    """Return the unit that a word, abbreviation or Recommendation 20 code names.

    >>> read_unit("Inches").name, read_unit("DZN").factor
    ('in', Fraction(12, 1))

    Raises ValueProblem for an unknown or ambiguous word, and for a container (case, roll), whose
    content only the item's pack can say.
    """
    unit = find_unit(text)
    if unit is not None:
        return unit
    stripped = text.strip()
    meanings = _AMBIGUOUS.get(stripped) or _AMBIGUOUS.get(fold(stripped))
    if meanings:
        raise ValueProblem(f"{quoted(text)} may mean {meanings}.")
    word = fold(stripped)
    if word in _CONTAINERS or word.removesuffix("s") in _CONTAINERS or word.removesuffix("es") in _CONTAINERS:
        raise ValueProblem(
            f"{quoted(text)} has no fixed content: give the item a pack that says how much is in one, "
            "like case = 72 each."
        )
    hint = (
        suggestion(stripped, [*UNITS, *_BY_KEY, *sorted(_CONTAINERS)]) or f" Units are: {', '.join(UNITS)}."
    )
    raise ValueProblem(f"{quoted(text)} is not a unit.{hint}")


def read_base_unit(text: str) -> str:
    """Return the base unit that the text names: 'pcs' is each, 'ml' is mL.

    Raises ValueProblem where it is no unit, or one that stock is not counted in (kg, yd).
    """
    unit = read_unit(text)
    if unit.factor != 1:
        # What comes by the length is most often a roll, which has a width as well.
        wide = (
            " (cm2 where it has a width too, like a roll of 12 in x 5 yd)"
            if unit.dimension == "length"
            else ""
        )
        raise ValueProblem(
            f"stock is not counted in {unit.name}: write {unit.base_unit} here{wide}; "
            f"invoices may still say {unit.name}."
        )
    return unit.base_unit


def convert(
    amount: Fraction, unit: Unit, base_unit: str, density_g_per_ml: Fraction | None = None
) -> Fraction:
    """Return ``amount`` of ``unit`` in ``base_unit``, exactly.

    Mass and volume convert into each other only with a density, in grams per millilitre. A
    piece of something kept in sheets is a sheet; a sheet of something kept in pieces is not
    a piece, since one may be cut into several.

    >>> convert(Fraction(2), read_unit("yd"), "cm")
    Fraction(4572, 25)

    Raises ValueProblem where the unit measures something else than the base unit does.
    """
    wanted = _DIMENSION_OF_BASE[base_unit]
    in_its_base = amount * unit.factor
    if unit.dimension == wanted or (unit.dimension, wanted) == ("count", "sheets"):
        return in_its_base
    if {unit.dimension, wanted} == {"mass", "volume"}:
        if density_g_per_ml is None:
            raise ValueProblem(
                f"{unit.name} is {unit.dimension} and the item is kept in {base_unit}: "
                "enter the item's density in g per mL to convert."
            )
        return in_its_base * density_g_per_ml if wanted == "mass" else in_its_base / density_g_per_ml
    advice = {
        (
            "area",
            "length",
        ): "keep the item in cm2 where it has a width, or give the length alone, like roll = 5 yd",
        ("length", "area"): "write a width too, like 12 in x 5 yd",
        ("sheets", "area"): "give the item a pack, like sheet = 12 in x 15 in",
        ("sheets", "count"): "give the item a pack, like sheet = 1 each",
        ("count", "area"): "give the item a pack, like roll = 12 in x 5 yd",
        ("count", "volume"): "give the item a pack, like bottle = 500 mL",
        ("count", "mass"): "give the item a pack, like bag = 1 kg",
        ("count", "length"): "give the item a pack, like roll = 33 m",
    }.get((unit.dimension, wanted), f"use a unit of {wanted}")
    raise ValueProblem(
        f"{unit.name} measures {unit.dimension}, and the item is kept in {base_unit}: {advice}."
    )

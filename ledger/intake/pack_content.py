"""What a row says that one of its unit holds: '10 m', '500 ml', '72'."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from ledger.catalogue.packs import read_pack
from ledger.catalogue.units import BASE_UNITS
from ledger.errors import ValueProblem
from ledger.intake.nearest import fold, quoted


@dataclass(frozen=True)
class Content:
    """A content as catalogues write it, how many base units it is, and of which."""

    text: str
    factor: Fraction
    base_unit: str


def stated_content(text: str) -> Content | None:
    """Return what a text such as '72 each' says that a pack holds, None where it begins with no number or unit.

    >>> [found and found.base_unit for found in map(stated_content, ("11.8 in x 5 yd", "6 dozen", "2 roll", "case"))]
    ['cm2', 'each', None, None]
    """
    for base_unit in BASE_UNITS if text[:1].isdigit() else ():
        try:
            factor = read_pack(f"a pack = {text}", base_unit).factor
        except ValueProblem:
            continue
        return Content(text, factor, base_unit)
    return None


def read_content(text: str, packs: Mapping[str, str], *, decimal_comma: bool = False) -> Content:
    """Return what one of a row's unit holds; ``packs`` are the profile's words, which come first.

    >>> read_content("500 ml", {}).factor, read_content("2,5 m", {}, decimal_comma=True).base_unit
    (Fraction(500, 1), 'cm')

    Raises ValueProblem where it is no number with a unit, or a word that means a unit without a number.
    """
    told = {fold(word): content for word, content in packs.items()}.get(fold(text), "")
    content = told or (text.replace(",", ".") if decimal_comma else text)
    found = stated_content(content)
    if found is None:
        raise ValueProblem(f"{quoted(text)} is no content: write it like 72 each, 500 mL or 10 m.")
    return found

"""What a row says that one of its unit holds: '10 m', '500 ml', '72'."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from ledger.catalogue.packs import read_pack
from ledger.errors import ValueProblem
from ledger.intake.nearest import fold, quoted
from ledger.intake.profile import base_of_content


@dataclass(frozen=True)
class Content:
    """A content as catalogues write it, how many base units it is, and of which."""

    text: str
    factor: Fraction
    base_unit: str


def read_content(text: str, packs: Mapping[str, str], *, decimal_comma: bool = False) -> Content:
    """Return what one of a row's unit holds; ``packs`` are the profile's words, which come first.

    >>> read_content("500 ml", {}).factor, read_content("2,5 m", {}, decimal_comma=True).base_unit
    (Fraction(500, 1), 'cm')

    Raises ValueProblem where it is no number with a unit, or a word that means a unit without a number.
    """
    told = {fold(word): content for word, content in packs.items()}.get(fold(text), "")
    content = told or (text.replace(",", ".") if decimal_comma else text)
    base_unit = base_of_content(content) if content[:1].isdigit() else None
    if base_unit is None:
        raise ValueProblem(f"{quoted(text)} is no content: write it like 72 each, 500 mL or 10 m.")
    return Content(content, read_pack(f"a pack = {content}", base_unit).factor, base_unit)

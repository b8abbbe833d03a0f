"""A colour and a size that stand in one cell: 'Forest / M'."""

from __future__ import annotations

from dataclasses import dataclass

from ledger.errors import ValueProblem
from ledger.intake.nearest import quoted
from ledger.intake.shipment_codes import looks_like_a_size

_BETWEEN = (" / ", "|", ";", ",", " - ", " – ", " — ", "/", " ")
"""What stands between colour and size, the surest first: 'Black/White / M' is black and white."""


@dataclass(frozen=True)
class Variant:
    """The colour and the size a cell names, either of them empty."""

    colour: str = ""
    size: str = ""


def split_variant(text: str) -> Variant:
    """Return the colour and the size that a text names; its size is one of a usual ladder.

    >>> split_variant("Forest / M"), split_variant("2XL, Heather Grey")
    (Variant(colour='Forest', size='M'), Variant(colour='Heather Grey', size='2XL'))

    Raises ValueProblem where it is neither a size nor a colour and a size.
    """
    whole = " ".join(text.split())
    if not whole or looks_like_a_size(whole):
        return Variant(size=whole)
    for separator in _BETWEEN:
        before, _, last = (part.strip() for part in whole.rpartition(separator))
        first, _, after = (part.strip() for part in whole.partition(separator))
        sizes = [looks_like_a_size(last) and bool(before), looks_like_a_size(first) and bool(after)]
        if sizes == [True, False]:
            return Variant(before, last)
        if sizes == [False, True]:
            return Variant(after, first)
    raise ValueProblem(f"{quoted(text)} is not a colour and a size, like Forest / M.")

"""What a garment is made of: the fibre group that predominates, from a label's words."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from ledger.catalogue._words import quoted
from ledger.errors import ValueProblem
from ledger.exact.numbers import read_decimal


@dataclass(frozen=True)
class ChiefFibre:
    """The fibre group that predominates by weight, for looking up a customs class.

    ``share`` is its part of the whole, ``is_tie`` whether another group weighs as much: then
    the group stands last in the order of the tariff's chapters.
    """

    group: str
    share: Fraction
    is_tie: bool


# Chapters 50 to 55 in the tariff's order; 54 and 55 count as one beside other fibres.
_FIBRE_GROUPS: tuple[tuple[str, str], ...] = (
    ("silk", "silk"),
    ("wool", "wool cashmere mohair alpaca merino"),
    ("cotton", "cotton"),
    ("other vegetable fibre", "linen flax hemp jute ramie"),
    (
        "man-made",
        "polyester poly nylon polyamide acrylic rayon viscose modal lyocell elastane spandex acetate polypropylene",
    ),
)
_GROUP_OF = {fibre: group for group, fibres in _FIBRE_GROUPS for fibre in fibres.split()}
_ORDER = [group for group, _ in _FIBRE_GROUPS]
_SHARE_FIRST = re.compile(r"([0-9.]+)\s*%\s*([^\W\d][^%0-9]*)")
_SLASHED = re.compile(r"\A\s*([0-9.]+(?:\s*/\s*[0-9.]+)+)\s+([^\W\d][^0-9%]*)\Z")
_WHOLE = 100
_LONGEST_FIBRES = 300


def chief_fibre(text: str) -> ChiefFibre:
    """Return which fibre group weighs most in a content like ``60% cotton 40% polyester``.

    It shows the group and never picks a tariff code. An exact tie goes to the group that stands
    last in the tariff's order.

    >>> chief_fibre("50% cotton 50% polyester")
    ChiefFibre(group='man-made', share=Fraction(1, 2), is_tie=True)

    Raises ValueProblem where the text is no such content, a fibre is unknown, or the shares are not
    100 together.
    Source: Harmonized Tariff Schedule of the United States, Section XI note 2(A); chapters 54 and 55
    as one by note 2(B).
    """
    by_group: dict[str, Fraction] = {}
    for share_text, phrase in fibre_parts(text):
        fibre = next(
            (word for word in reversed(re.split(r"[^a-z]+", phrase.casefold())) if word in _GROUP_OF), None
        )
        if fibre is None:
            known = ", ".join(_GROUP_OF)
            raise ValueProblem(
                f"the fibre {quoted(phrase)} in {quoted(text)} is not known: fibres are {known}."
            )
        group = _GROUP_OF[fibre]
        by_group[group] = by_group.get(group, Fraction(0)) + read_decimal(share_text, what="share of fibre")
    total = sum(by_group.values())
    if total != _WHOLE:
        raise ValueProblem(f"the fibres in {quoted(text)} are {float(total):g}% together: they must be 100%.")
    most = max(by_group.values())
    leading = sorted((group for group, share in by_group.items() if share == most), key=_ORDER.index)
    return ChiefFibre(leading[-1], most / _WHOLE, is_tie=len(leading) > 1)


def fibre_parts(text: str) -> list[tuple[str, str]]:
    """Return (share, fibre) pairs of '60% cotton 40% polyester' or '60/40 cotton/polyester'."""
    text = text[:_LONGEST_FIBRES]
    slashed = _SLASHED.match(text)
    if slashed is not None:
        shares, fibres = slashed[1].split("/"), slashed[2].split("/")
        if len(shares) == len(fibres):
            return list(zip(map(str.strip, shares), map(str.strip, fibres), strict=True))
    parts = _SHARE_FIRST.findall(text)
    left_over = re.sub(r"[\s,;/&+.]|\band\b", "", _SHARE_FIRST.sub("", text))
    if not parts or left_over:
        raise ValueProblem(f"{quoted(text)} is not a fibre content: write it like 60% cotton 40% polyester.")
    return [(share, phrase.strip()) for share, phrase in parts]

from __future__ import annotations

from fractions import Fraction

import pytest

from ledger.catalogue.fibres import ChiefFibre, chief_fibre
from ledger.errors import ValueProblem


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("60/40 cotton/polyester", ChiefFibre("cotton", Fraction(3, 5), is_tie=False)),
        ("100% ring-spun cotton", ChiefFibre("cotton", Fraction(1), is_tie=False)),
        ("40% cotton, 30% polyester and 30% rayon", ChiefFibre("man-made", Fraction(3, 5), is_tie=False)),
        ("50% wool 50% cotton", ChiefFibre("cotton", Fraction(1, 2), is_tie=True)),
    ],
)
def test_the_chief_fibre_is_the_heaviest_group(text: str, expected: ChiefFibre) -> None:
    """Man-made fibres weigh together; a tie goes to the last group and is flagged."""
    assert chief_fibre(text) == expected


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("60% cotton", "60% together"),
        ("cotton", "not a fibre content"),
        ("60% cotton 40% moonwool", "'moonwool'"),
        ("60/40 cotton", "not a fibre content"),
        ("9" * 30_000, "not a fibre content"),
    ],
)
def test_an_unreadable_fibre_content_is_refused(text: str, message: str) -> None:
    """No fibre is guessed."""
    with pytest.raises(ValueProblem, match=message):
        chief_fibre(text)

"""Spreading: the parts add up, stand in proportion, and ties go to the earlier line."""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.costing.spreading import spread

amounts = st.integers(-(10**12), 10**12)
weights = st.lists(st.integers(0, 10**9), min_size=1, max_size=30).filter(any)


@given(amounts, weights)
def test_parts_add_up_to_the_amount(amount: int, weights: list[int]) -> None:
    """No cent is lost or made, whatever the weights."""
    assert sum(spread(amount, weights)) == amount


@given(amounts, weights)
def test_no_part_is_a_unit_away_from_its_exact_share(amount: int, weights: list[int]) -> None:
    """Each part is its exact share rounded down or up."""
    total = sum(weights)
    for part, weight in zip(spread(amount, weights), weights, strict=True):
        assert abs(part - Fraction(amount * weight, total)) < 1


@given(amounts, weights)
def test_a_line_of_no_weight_bears_nothing(amount: int, weights: list[int]) -> None:
    """What weighs nothing gets nothing, also of the units left over."""
    assert all(
        part == 0 for part, weight in zip(spread(amount, weights), weights, strict=True) if weight == 0
    )


@given(amounts, weights)
def test_a_negative_amount_mirrors_the_positive_one(amount: int, weights: list[int]) -> None:
    """A discount is spread by its absolute value: the same cents on the same lines."""
    assert spread(-amount, weights) == [-part for part in spread(amount, weights)]


@given(amounts, weights)
def test_the_scale_of_the_weights_does_not_matter(amount: int, weights: list[int]) -> None:
    """Grams and kilograms spread alike."""
    assert spread(amount, weights) == spread(amount, [weight * 1000 for weight in weights])


@given(amounts.map(abs), weights)
def test_a_heavier_line_never_bears_less(amount: int, weights: list[int]) -> None:
    """The order of the parts is the order of the weights."""
    pairs = sorted(zip(weights, spread(amount, weights), strict=True))
    assert all(light[1] <= heavy[1] for light, heavy in itertools.pairwise(pairs) if light[0] < heavy[0])


@pytest.mark.parametrize(
    ("amount", "weights", "parts"),
    [
        (100, [1, 1, 1], [34, 33, 33]),
        (200, [1, 1, 1], [67, 67, 66]),
        (-100, [1, 1, 1], [-34, -33, -33]),
        (1, [0, 5, 5], [0, 1, 0]),
        (0, [3, 4], [0, 0]),
        (7, [9], [7]),
    ],
)
def test_ties_go_to_the_earlier_line(amount: int, weights: list[int], parts: list[int]) -> None:
    """Equal remainders get the units left over in the order of the lines."""
    assert spread(amount, weights) == parts


def test_the_largest_remainder_comes_first() -> None:
    """Exact shares 1.2, 1.3 and 7.5 of ten: the unit left over goes to the last."""
    assert spread(10, [12, 13, 75]) == [1, 1, 8]


@pytest.mark.parametrize("weights", [[], [0, 0], [3, -1]])
def test_weights_that_cannot_be_are_refused(weights: list[int]) -> None:
    """All zero, none at all, or negative: callers must have asked before."""
    with pytest.raises(ValueError, match="weights"):
        spread(100, weights)

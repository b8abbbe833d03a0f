"""What has to be ordered to get what is wanted."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from landed_cases import DRAWN

from ledger.errors import ValueProblem
from ledger.sourcing.order_rules import buyable, least_quantity, step_of
from ledger.sourcing.quote import OrderRules, Quote, SizeShare


def offer(**rules: object) -> Quote:
    """Return an offer with these rules."""
    return Quote("mill", rules=OrderRules(**rules))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("rules", "wanted", "colours", "quantity", "reasons"),
    [
        ({}, 7, 1, 7, ()),
        ({"minimum": 100}, 7, 1, 100, ("at least 100",)),
        ({"minimum": 100, "minimum_per_colour": 60}, 7, 2, 120, ("at least 60 of each colour",)),
        ({"multiple": 12}, 13, 1, 24, ("by 12",)),
        ({"multiple": 12}, 24, 1, 24, ()),
        ({"minimum": 100, "multiple": 12}, 7, 1, 108, ("at least 100", "by 12")),
    ],
)
def test_both_minima_and_the_multiple_hold_at_once(
    rules: dict[str, int], wanted: int, colours: int, quantity: int, reasons: tuple[str, ...]
) -> None:
    """And the reason is told."""
    found = buyable(offer(**rules), wanted, colours)
    assert (found.quantity, found.reasons) == (quantity, reasons)


def test_prepacks_are_bought_whole() -> None:
    """A mix of five, in cartons of twelve: sixty together."""
    ratio = (SizeShare("S", 1), SizeShare("M", 2), SizeShare("L", 2))
    assert step_of(OrderRules(multiple=12, size_ratio=ratio)) == 60


def test_more_than_the_maximum_is_refused() -> None:
    """Rounding up does not pass it either."""
    with pytest.raises(ValueProblem, match="at most 50"):
        buyable(offer(maximum=50, multiple=12), 49)


@DRAWN
@given(st.integers(1, 500), st.integers(0, 300), st.integers(1, 60), st.integers(1, 4))
def test_what_is_bought_is_enough_and_the_least(
    wanted: int, minimum: int, multiple: int, colours: int
) -> None:
    """One multiple less would be too little."""
    quote = offer(minimum=minimum, minimum_per_colour=minimum // 2, multiple=multiple)
    found = buyable(quote, wanted, colours).quantity
    needed = max(wanted, minimum, minimum // 2 * colours)
    assert found >= needed > found - multiple
    assert found >= least_quantity(quote.rules, colours)

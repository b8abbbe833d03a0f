"""The minimum of each colour: kept by every order, or the colour is bought at home."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from study_builder import FAR, NEAR, TODAY, study

from ledger.errors import InputErrors
from ledger.sourcing.colours import split_with_minimum
from ledger.sourcing.decide import Decision, decide
from ledger.sourcing.demand import stated_demand, with_sizes
from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.quote import OrderRules
from ledger.sourcing.size_quantities import split_for_cover

SHARES = {"Black M": 0.35, "Black L": 0.3, "White M": 0.15, "White L": 0.12, "Rust M": 0.05, "Rust L": 0.03}
COLOURS = {name: name.split()[0] for name in SHARES}
LEAST = 100


def decided(least: int = LEAST, **rules: int) -> Decision:
    """The decision on three colours, one of them hardly asked for."""
    shape = replace(
        FAR,
        lead=LeadTimes(45, 10, start=TODAY),
        cost_per_order=10_000,
        rules=OrderRules(minimum_per_colour=least, **rules),
    )
    demand = with_sizes(stated_demand(60), SHARES, colours=COLOURS)
    told = study(demand, (NEAR, shape))
    home, far = told.offers
    return decide(replace(told, offers=(home, replace(far, colours=3))), 300, 1)


def by_colour(quantities: tuple[int, ...]) -> dict[str, int]:
    """The pieces of each colour."""
    found: dict[str, int] = {}
    for name, pieces in zip(SHARES, quantities, strict=True):
        found[COLOURS[name]] = found.get(COLOURS[name], 0) + pieces
    return found


def test_a_colour_below_its_minimum_is_bought_at_home() -> None:
    """Rust is five a month: a hundred of it would lie for two years."""
    decision = decided()
    base = decision.alternatives[2]
    pieces = by_colour(base.quantities)
    assert pieces["Rust"] == 0
    assert min(pieces["Black"], pieces["White"]) >= LEAST
    assert base.left_at_home == ("Rust",)
    assert any("too many of Rust" in reason for reason in decision.verdict.reasons)
    # All of its demand is topped up at home: eight per cent of 720 within the year.
    assert sum(base.topped_up[4:]) == pytest.approx(57.6, rel=0.1)


@pytest.mark.parametrize("least", [2, 10, 40, 100, 300, 900])
def test_every_order_keeps_the_minimum_of_each_colour(least: int) -> None:
    """None of a colour, or at least so many; whatever the minimum."""
    for held in decided(least).alternatives:
        assert all(pieces == 0 or pieces >= least for pieces in by_colour(held.quantities).values())
        assert sum(held.quantities) == held.quantity


def test_leaving_a_colour_out_saves_more_than_lifting_it() -> None:
    """The choice is never worse than the order of all colours, and without a minimum it is none."""
    free, bound = decided(1).alternatives[2], decided().alternatives[2]
    lifted = decided(minimum=3 * LEAST, maximum=3 * LEAST).alternatives[2]
    assert free.left_at_home == ()
    assert lifted.expected_saving <= bound.expected_saving <= free.expected_saving


def test_the_smallest_test_order_is_of_one_colour() -> None:
    """A hundred of the colour that is asked for most."""
    trial = decided().trial
    assert trial is not None
    assert (trial.quantity, trial.left_at_home) == (LEAST, ("White", "Rust"))


def test_a_fixed_quantity_below_the_minimum_is_refused() -> None:
    """Fifty where a hundred is the least."""
    told = study(shapes=(NEAR, replace(FAR, rules=OrderRules(minimum=100))))
    home, far = told.offers
    fixed = replace(far, quote=replace(far.quote, quantity=50))
    with pytest.raises(InputErrors, match="50 cannot be ordered: it takes no order below 100"):
        decide(replace(told, offers=(home, fixed)), 50, 1)


@given(st.lists(st.integers(0, 60), min_size=1, max_size=8), st.integers(1, 30))
def test_a_split_keeps_its_sum_and_its_minima(parts: list[int], least: int) -> None:
    """Where there are enough pieces for all colours."""
    colours = [str(place % 3) for place in range(len(parts))]
    found = split_with_minimum(parts, colours, least)
    assert sum(found) == sum(parts)
    assert min(found) >= 0
    if least * len(set(colours)) <= sum(parts):
        for colour in set(colours):
            mine = sum(each for each, of in zip(found, colours, strict=True) if of == colour)
            assert mine >= least


@given(st.integers(1, 500), st.lists(st.integers(0, 200), min_size=3, max_size=3))
def test_an_order_at_home_fills_up_what_is_there(quantity: int, on_hand: list[int]) -> None:
    """No size below nothing, all of it given out, and who gets some ends at the common level."""
    shares = [0.2, 0.5, 0.3]
    found = split_for_cover(quantity, shares, on_hand)
    assert sum(found) == quantity
    assert min(found) >= 0
    levels = [
        (have + more) / share for have, more, share in zip(on_hand, found, shares, strict=True) if more > 0
    ]
    assert max(levels) - min(levels) <= 1 / 0.2 + 1 / 0.3

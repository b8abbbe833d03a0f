"""What holds for the legs of any history of a shop: with all its events, charges that come late, and reversals."""

from __future__ import annotations

from collections import defaultdict
from random import Random

from drawn import drawn
from hypothesis import given
from hypothesis import strategies as st
from late_strategies import late_histories

from ledger.costing.facts import Facts
from ledger.costing.invariants import (
    cost_of_goods_sold_findings,
    document_findings,
    lot_findings,
    negative_stock_findings,
    roll_forward_findings,
)
from ledger.costing.plain import plain_legs

SETTINGS = drawn(40)


@SETTINGS
@given(late_histories())
def test_every_document_of_any_history_balances(facts: Facts) -> None:
    """Invariant 1."""
    assert document_findings(plain_legs(facts)) == []


@SETTINGS
@given(late_histories())
def test_no_lot_of_any_history_loses_cost_or_quantity(facts: Facts) -> None:
    """Invariant 2."""
    assert lot_findings(facts, plain_legs(facts)) == []


@SETTINGS
@given(late_histories())
def test_any_span_of_any_history_rolls_forward(facts: Facts) -> None:
    """Invariants 3 and 4."""
    legs = plain_legs(facts)
    for span in (("2026-01-01", "2026-02-10"), ("2026-02-11", "2026-12-31"), ("2026-01-01", "2026-12-31")):
        assert roll_forward_findings(legs, *span) == []
        assert cost_of_goods_sold_findings(legs, *span) == []


@SETTINGS
@given(late_histories())
def test_only_marked_lines_of_any_history_go_short(facts: Facts) -> None:
    """Invariant 5."""
    assert negative_stock_findings(plain_legs(facts), facts) == []


@SETTINGS
@given(late_histories())
def test_shorts_that_are_gone_leave_no_cost_behind(facts: Facts) -> None:
    """Where nothing is short of an item any more, what stands without a lot costs nothing."""
    without_a_lot: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for leg in plain_legs(facts):
        if leg.account == "on hand" and leg.lot_document is None:
            without_a_lot[leg.sku][0] += leg.quantity_milli
            without_a_lot[leg.sku][1] += leg.amount
    assert all(amount == 0 for quantity_milli, amount in without_a_lot.values() if quantity_milli == 0)


@SETTINGS
@given(late_histories(), st.randoms(use_true_random=False))
def test_order_of_the_facts_of_any_history_does_not_matter(facts: Facts, random: Random) -> None:
    """The same facts shuffled give the same legs."""
    shuffled = Facts(
        *(tuple(random.sample(each, len(each))) for each in (facts.lines, facts.shares, facts.undos))
    )
    assert plain_legs(shuffled) == plain_legs(facts)

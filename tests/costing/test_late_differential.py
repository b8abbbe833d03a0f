"""The whole engine against the plain one on goods under way, late charges, credits and reversals."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from late_strategies import late_histories
from test_walk_differential import walked_legs

from ledger.costing.facts import Facts
from ledger.costing.plain import plain_legs

ENGINE = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@ENGINE
@given(late_histories())
def test_both_engines_give_the_same_legs_for_what_comes_late(facts: Facts) -> None:
    """Shipments, arrivals, late charges through jobs of jobs, credits, reversals: the plain engine's legs."""
    assert walked_legs(facts) == plain_legs(facts)

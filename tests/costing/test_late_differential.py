"""The whole engine against the plain one on goods under way, late charges, credits and reversals."""

from __future__ import annotations

import late_facts
from drawn import drawn
from hypothesis import given
from late_facts import arrival, line, share
from late_strategies import late_histories
from test_walk_differential import walked_legs

from ledger.costing.facts import FactLine, Facts
from ledger.costing.plain import plain_legs

ENGINE = drawn(80)


@ENGINE
@given(late_histories())
def test_both_engines_give_the_same_legs_for_what_comes_late(facts: Facts) -> None:
    """Shipments, arrivals, late charges through jobs of jobs, credits, reversals: the plain engine's legs."""
    assert walked_legs(facts) == plain_legs(facts)


def test_what_was_made_is_sent_back_at_its_cost() -> None:
    """A finished lot has no invoice: where it stands in for the supplier's own, its cost is credited."""
    goods = "goods"
    lines = (
        FactLine(1, 1, "receipt", "2026-01-02", "tee", goods, 3000, 1),
        FactLine(2, 1, "make", "2026-01-03", "tee", goods, 3000, role="component"),
        FactLine(2, 2, "make", "2026-01-03", "shirt", goods, 3000, role="product"),
        FactLine(3, 1, "receipt", "2026-01-04", "shirt", goods, 1000, 90),
        FactLine(4, 1, "sale", "2026-01-05", "shirt", goods, 1000),
        FactLine(5, 1, "send back", "2026-01-06", "shirt", goods, 2000, ref_document=3, ref_line=1),
    )
    facts = Facts(lines)
    assert walked_legs(facts) == plain_legs(facts)
    credits_ = [leg.amount for leg in walked_legs(facts) if leg.account == "returned to supplier"]
    assert credits_ == [90, 1]


def test_a_late_bill_on_goods_under_way_stays_with_them() -> None:
    """What has arrived bears its share on the shelf, what has not where it is."""
    shipped = line(1, "ship", 10, 1000, on="03-01")
    found = late_facts.facts(shipped, arrival(2, 4, on="03-05"), share(3, 100))
    assert walked_legs(found) == plain_legs(found)
    moved = {leg.account: leg.amount for leg in walked_legs(found) if leg.document == 3 and leg.amount > 0}
    assert moved == {"on hand": 40, "under way": 60}

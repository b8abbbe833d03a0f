"""Published examples of charges that come late and of goods under way, against the plain engine.

The comment above each example is its source. Prices are in whole currency units of the source;
the book holds hundredths.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from ledger.costing.facts import FactLine, Facts, ShareFact
from ledger.costing.invariants import roll_forward
from ledger.costing.plain import plain_legs


def line(document: int, event: str, pieces: int, amount: int = 0, on: str = "2025-06-01") -> FactLine:
    """A line of goods; the amount is in whole currency units."""
    return FactLine(document, 1, event, on, "goods", "goods", pieces * 1000, amount * 100)


# Source: Heisinger & Hoyle, Managerial Accounting, Saylor open text, section 2.3: a cost known only after
# the goods moved on is spread over what they cost where they are now. Here each unit cost 1, so that
# quantity, which is our basis, gives the book's shares.
@pytest.mark.parametrize(
    ("cost", "held", "shares"),
    [
        (2000, (6000, 3000, 1000), (1200, 600, 200)),
        (40_000, (25_000, 25_000, 50_000), (10_000, 10_000, 20_000)),
    ],
)
def test_late_cost_over_stock_and_cost_of_goods_sold(
    cost: int, held: tuple[int, int, int], shares: tuple[int, int, int]
) -> None:
    """As bought, in what was made, and in what was sold: each bears its part."""
    _, in_finished, sold = held
    lines = (
        line(1, "receipt", sum(held), sum(held)),
        replace(line(2, "make", in_finished), line=2, role="component"),
        replace(line(2, "make", in_finished), sku="finished", role="product"),
        line(3, "sale", sold),
    )
    share = ShareFact(4, 1, 1, 1, 1, cost * 100, "late", "2025-07-31")
    legs = [leg for leg in plain_legs(Facts(lines, (share,))) if leg.document == 4]
    assert [(leg.account, leg.sku, leg.amount) for leg in legs[1:]] == [
        ("on hand", "goods", shares[0] * 100),
        ("on hand", "finished", shares[1] * 100),
        ("late charges on used stock", "goods", shares[2] * 100),
    ]


# Source: Hoyle & Skender, Financial Accounting, Saylor open text, section 8.3: ordered on December 27,
# shipped on the 29th, received on January 4.
@pytest.mark.parametrize(
    ("terms", "pieces_of_the_buyer"), [("FOB shipping point", 1), ("FOB destination", 0)]
)
def test_cut_off_at_the_end_of_the_year(terms: str, pieces_of_the_buyer: int) -> None:
    """Goods under way are the buyer's from shipping under one term, and only from receipt under the other."""
    # The example has no figures; a piece for 100 stands for the goods.
    if terms == "FOB shipping point":
        arrives = replace(line(2, "receipt", 1, on="2026-01-04"), ref_document=1, ref_line=1)
        lines = (line(1, "ship", 1, 100, "2025-12-29"), arrives)
    else:
        lines = (line(1, "receipt", 1, 100, "2026-01-04"),)
    legs = plain_legs(Facts(lines))
    december = [leg for leg in legs if leg.effect_date <= "2025-12-31"]
    closing = {row.name: row for row in roll_forward(december, "2025-12-01", "2025-12-31")}
    held = closing["goods"].closing_amount if closing else 0
    assert held == pieces_of_the_buyer * 100 * 100
    (january,) = roll_forward(legs, "2026-01-01", "2026-01-31")
    assert january.opening_amount == held
    assert january.closing_amount == 100 * 100

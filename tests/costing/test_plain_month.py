"""The worked month of a small shop, our own, through the plain engine."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import pytest

from ledger.costing.facts import FactLine, Facts, Leg, ShareFact
from ledger.costing.invariants import (
    roll_forward,
)
from ledger.costing.plain import plain_legs


def month() -> Facts:
    """March of a small shop; the late freight of the 4th is in the opening cost already."""

    def on(day: int, number: tuple[int, int], event: str, sku: str, pieces: int, amount: int = 0) -> FactLine:
        return FactLine(*number, event, f"2026-03-{day:02d}", sku, "goods", pieces * 1000, amount)

    def component(number: int, sku: str) -> FactLine:
        return replace(on(12, (7, number), "make", sku, 54), role="component")

    product = replace(
        on(12, (7, 4), "make", "FIN", 54), role="product", normal_milli=3000, expensed_milli=1000
    )
    lines = (
        on(1, (1, 1), "opening", "TEE", 40, 12800),
        on(1, (1, 2), "opening", "VIN", 20, 2000),
        on(1, (1, 3), "opening", "PAPER", 50, 500),
        on(1, (1, 4), "opening", "FIN", 10, 5200),
        on(3, (2, 1), "receipt", "TEE", 60, 18600),
        on(3, (2, 2), "receipt", "VIN", 40, 3600),
        on(5, (4, 1), "own use", "TEE", 1),
        on(6, (5, 1), "sample", "FIN", 1),
        on(10, (6, 1), "receipt", "TEE", 20, 7000),
        on(10, (6, 2), "receipt", "PAPER", 100, 1200),
        replace(on(10, (6, 3), "receipt", "CLEANER", 1, 1800), tax_class="supplies when bought"),
        component(1, "TEE"),
        component(2, "VIN"),
        component(3, "PAPER"),
        product,
        replace(
            product, line=5, role="labour", quantity_milli=0, normal_milli=0, expensed_milli=0, amount=1986
        ),
        on(20, (8, 1), "sale", "FIN", 45),
        replace(on(24, (9, 1), "take back", "FIN", 1), ref_document=8, ref_line=1),
        on(31, (10, 1), "count", "TEE", 63),
    )
    shares = [
        ShareFact(document, 1, position, receipt, number, amount, "with receipt", day)
        for document, position, receipt, number, amount, day in (
            (3, 1, 2, 1, 1860, "2026-03-03"),
            (3, 2, 2, 2, 360, "2026-03-03"),
            (11, 1, 6, 1, 700, "2026-03-10"),
            (11, 2, 6, 2, 120, "2026-03-10"),
            (11, 3, 6, 3, 180, "2026-03-10"),
        )
    ]
    return Facts(lines, tuple(shares))


def balances(legs: list[Leg], account: str) -> dict[str, int]:
    """The amount that each SKU leaves in an account."""
    sums: dict[str, int] = defaultdict(int)
    for leg in legs:
        if leg.account == account:
            sums[leg.sku] += leg.amount
    return dict(sums)


def test_job_of_the_month_costs_five_a_piece() -> None:
    """175.95 + 53.66 + 5.53 + 19.86 = 255.00 over 51 pieces; one of them is an expense of 5.00."""
    legs = plain_legs(month())
    assert [leg.amount for leg in legs if leg.document == 7 and leg.line == 4] == [
        -25500,
        0,
        25500,
        -500,
        500,
    ]


def test_month_closes_with_what_is_left() -> None:
    """What each item is worth at the end of the month."""
    closing = balances(plain_legs(month()), "on hand")
    assert closing == {"TEE": 22363, "VIN": 594, "FIN": 7500, "PAPER": 1267}


@pytest.mark.parametrize(
    ("account", "amount"),
    [
        ("own use", 320),
        ("samples", 520),
        ("pieces sold", 4680 + 18000 - 500),
        ("spoilage", 500),
        ("count differences", 682),
        ("supplies", 1980),
        ("work in process", 0),
    ],
)
def test_month_has_these_costs(account: str, amount: int) -> None:
    """What left in the month, by account."""
    assert sum(balances(plain_legs(month()), account).values()) == amount


def test_month_shows_what_jobs_used_and_made() -> None:
    """The prints roll forward by what was made of 235.14 of material, and by labour."""
    rows = {row.name: row for row in roll_forward(plain_legs(month()), "2026-03-02", "2026-03-31")}
    prints = {
        movement.account: (movement.quantity_milli, movement.amount) for movement in rows["FIN"].movements
    }
    assert prints["made in jobs"] == (51000, 23514)
    assert prints["labour"] == (0, 1986)
    assert {movement.account for movement in rows["VIN"].movements} == {
        "charges",
        "purchases",
        "used in jobs",
    }

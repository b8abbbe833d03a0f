"""Published first-in, first-out examples against the plain engine.

The comment above each example is its source. Prices are in whole currency units of the source; the book holds hundredths.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from ledger.costing.facts import FactLine, Facts, Leg
from ledger.costing.plain import plain_legs


@dataclass(frozen=True)
class Example:
    """A published example: what happened in order, and the figures the source gives."""

    moves: tuple[tuple[str, int, int], ...]  # event, pieces, amount in whole currency units
    cost_of_sales: tuple[int, ...]
    left: int


EXAMPLES = {
    # Source: Hoyle & Skender, Financial Accounting, Saylor open text, section 9.1.
    "two shirts": Example(
        moves=(("receipt", 1, 50), ("receipt", 1, 70), ("sale", 1, 0)),
        cost_of_sales=(50,),
        left=70,
    ),
    # Source: Hoyle & Skender, Financial Accounting, Saylor open text, sections 9.4 and 9.5.
    "bathtubs, perpetual": Example(
        moves=(
            ("opening", 4, 4 * 110),
            ("sale", 3, 0),
            ("receipt", 3, 3 * 120),
            ("sale", 3, 0),
            ("receipt", 3, 3 * 130),
            ("sale", 2, 0),
            ("receipt", 2, 2 * 149),
        ),
        cost_of_sales=(330, 350, 250),
        left=558,
    ),
    # Source: Hoyle & Skender, Financial Accounting, Saylor open text, sections 9.4 and 9.5.
    "bathtubs, periodic": Example(
        moves=(
            ("opening", 4, 4 * 110),
            ("receipt", 3, 3 * 120),
            ("receipt", 3, 3 * 130),
            ("receipt", 2, 2 * 149),
            ("sale", 8, 0),
        ),
        cost_of_sales=(930,),
        left=558,
    ),
    # Source: Hoyle & Skender, Financial Accounting, Saylor open text, section 9.3.
    "petrol": Example(
        moves=(("opening", 10_000, 10_000), ("receipt", 1_000_000, 2_000_000), ("sale", 1_000_000, 0)),
        cost_of_sales=(1_990_000,),
        left=20_000,
    ),
    # second-hand, source not read
    "four purchases, 107 sold": Example(
        moves=(
            ("receipt", 13, 13 * 117),
            ("receipt", 46, 46 * 120),
            ("receipt", 60, 60 * 121),
            ("receipt", 21, 21 * 122),
            ("sale", 107, 0),
        ),
        cost_of_sales=(12_849,),
        left=4_014,
    ),
    # second-hand, source not read
    "four purchases, 880 sold": Example(
        moves=(
            ("receipt", 200, 2_000),
            ("receipt", 350, 5_250),
            ("receipt", 450, 9_000),
            ("receipt", 100, 2_500),
            ("sale", 880, 0),
        ),
        cost_of_sales=(13_850,),
        left=4_900,
    ),
    # second-hand, source not read
    "four purchases, 80 left": Example(
        moves=(
            ("receipt", 50, 50 * 124),
            ("receipt", 50, 50 * 134),
            ("receipt", 30, 30 * 142),
            ("receipt", 70, 70 * 146),
            ("sale", 120, 0),
        ),
        cost_of_sales=(15_740,),
        left=11_640,
    ),
    # Source of the purchases and the sale: Walther, Current Assets. The answer: from memory
    "three fills by weight": Example(
        moves=(("receipt", 100, 100), ("receipt", 100, 110), ("receipt", 100, 120), ("sale", 160, 0)),
        cost_of_sales=(166,),
        left=164,
    ),
    # from memory (it is in OpenStax, Principles of Accounting 1, section 10.3)
    "two sales between three purchases": Example(
        moves=(
            ("receipt", 150, 150 * 21),
            ("sale", 120, 0),
            ("receipt", 225, 225 * 27),
            ("sale", 180, 0),
            ("receipt", 210, 210 * 33),
        ),
        cost_of_sales=(2_520, 4_680),
        left=8_955,
    ),
}


def legs_of(example: Example) -> list[Leg]:
    """The legs of an example, one document a day."""
    return plain_legs(
        Facts(
            tuple(
                FactLine(
                    document=number,
                    line=1,
                    event=event,
                    effect_date=f"2026-01-{number:02d}",
                    sku="example",
                    tax_class="goods",
                    quantity_milli=pieces * 1000,
                    amount=amount * 100,
                )
                for number, (event, pieces, amount) in enumerate(example.moves, start=1)
            )
        )
    )


@pytest.mark.parametrize("example", EXAMPLES.values(), ids=EXAMPLES)
def test_cost_of_each_sale_is_the_published_one(example: Example) -> None:
    """Each sale of a published example costs what its source says."""
    legs = legs_of(example)
    sales = [number for number, move in enumerate(example.moves, start=1) if move[0] == "sale"]
    costs = tuple(
        sum(leg.amount for leg in legs if leg.document == number and leg.account == "pieces sold")
        for number in sales
    )
    assert costs == tuple(cost * 100 for cost in example.cost_of_sales)


@pytest.mark.parametrize("example", EXAMPLES.values(), ids=EXAMPLES)
def test_value_of_what_is_left_is_the_published_one(example: Example) -> None:
    """What is left in a published example is worth what its source says."""
    left = sum(leg.amount for leg in legs_of(example) if leg.account == "on hand")
    assert left == example.left * 100


def test_bathtubs_left_are_the_two_youngest_lots() -> None:
    """Two at 130 and two at 149 are left.

    Source: Hoyle & Skender, Financial Accounting, Saylor open text, sections 9.4 and 9.5.
    """
    left: dict[int | None, tuple[int, int]] = {}
    for leg in legs_of(EXAMPLES["bathtubs, perpetual"]):
        if leg.account == "on hand":
            quantity_milli, amount = left.get(leg.lot_document, (0, 0))
            left[leg.lot_document] = quantity_milli + leg.quantity_milli, amount + leg.amount
    on_hand = [lot for lot in left.values() if lot != (0, 0)]
    assert on_hand == [(2000, 260_00), (2000, 298_00)]

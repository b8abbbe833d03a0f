"""Published first-in, first-out examples through the real command, to the cent.

Each example is an events sheet that `post` posts into a new book; what a sale costs is read from
`post --json` and `show --json`, what is left from `stock --json` and `lots --json`. The comment above
each example is its source. Prices are in whole currency units of the source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

import pytest
from published_shop import Shop, units


@dataclass(frozen=True)
class Example:
    """A published example: rows (day, event, quantity, amount), and what its source says."""

    rows: Sequence[tuple[str, str, int, int]]
    costs: Sequence[int]
    left: tuple[int, int]
    revenue: int = 0
    sku: str = "GOODS"
    unit: str = "each"
    gross_profit: int | None = field(default=None)

    def sheet(self) -> list[str]:
        """The rows as an events sheet has them; each has a reference of its own."""
        return [
            f"2026-{day},{event},{self.sku},{quantity},{self.unit},{amount or ''},,,row {number},"
            for number, (day, event, quantity, amount) in enumerate(self.rows, start=1)
        ]


FIFO = {
    # Source: Hoyle & Skender, Financial Accounting, Saylor open text, section 9.1.
    "two shirts": Example(
        rows=[("01-05", "receive", 1, 50), ("01-06", "receive", 1, 70), ("01-07", "sell", 1, 110)],
        costs=[50],
        left=(1, 70),
        gross_profit=60,
    ),
    # Source: Hoyle & Skender, Financial Accounting, Saylor open text, sections 9.4 and 9.5.
    "bathtubs, perpetual": Example(
        rows=[
            ("01-01", "opening", 4, 4 * 110),
            ("02-02", "sell", 3, 600),
            ("02-06", "receive", 3, 3 * 120),
            ("06-08", "sell", 3, 750),
            ("06-13", "receive", 3, 3 * 130),
            ("09-09", "sell", 2, 600),
            ("09-22", "receive", 2, 2 * 149),
        ],
        costs=[330, 350, 250],
        left=(4, 558),
        gross_profit=1_020,
    ),
    # Source: Hoyle & Skender, Financial Accounting, Saylor open text, sections 9.4 and 9.5.
    "bathtubs, periodic": Example(
        rows=[
            ("01-01", "opening", 4, 4 * 110),
            ("02-06", "receive", 3, 3 * 120),
            ("06-13", "receive", 3, 3 * 130),
            ("09-22", "receive", 2, 2 * 149),
            ("12-31", "sell", 8, 1_950),
        ],
        costs=[930],
        left=(4, 558),
        gross_profit=1_020,
    ),
    # Source: Hoyle & Skender, Financial Accounting, Saylor open text, section 9.3.
    "petrol": Example(
        rows=[
            ("01-01", "opening", 10_000, 10_000),
            ("01-05", "receive", 1_000_000, 2_000_000),
            ("01-06", "sell", 1_000_000, 0),
        ],
        costs=[1_990_000],
        left=(10_000, 20_000),
    ),
    # second-hand, source not read
    "four purchases, 107 sold": Example(
        rows=[
            ("01-05", "receive", 13, 13 * 117),
            ("01-06", "receive", 46, 46 * 120),
            ("01-07", "receive", 60, 60 * 121),
            ("01-08", "receive", 21, 21 * 122),
            ("01-09", "sell", 107, 0),
        ],
        costs=[12_849],
        left=(33, 4_014),
    ),
    # second-hand, source not read
    "four purchases, 880 sold": Example(
        rows=[
            ("01-05", "receive", 200, 2_000),
            ("01-06", "receive", 350, 5_250),
            ("01-07", "receive", 450, 9_000),
            ("01-08", "receive", 100, 2_500),
            ("01-09", "sell", 880, 35_200),
        ],
        costs=[13_850],
        left=(220, 4_900),
        gross_profit=21_350,
    ),
    # second-hand, source not read
    "four purchases, 80 left": Example(
        rows=[
            ("01-05", "receive", 50, 50 * 124),
            ("01-06", "receive", 50, 50 * 134),
            ("01-07", "receive", 30, 30 * 142),
            ("01-08", "receive", 70, 70 * 146),
            ("01-31", "sell", 120, 0),
        ],
        costs=[15_740],
        left=(80, 11_640),
    ),
    # from memory (it is in OpenStax, Principles of Accounting 1, section 10.3)
    "two sales between three purchases": Example(
        rows=[
            ("01-05", "receive", 150, 150 * 21),
            ("01-06", "sell", 120, 0),
            ("01-07", "receive", 225, 225 * 27),
            ("01-08", "sell", 180, 0),
            ("01-09", "receive", 210, 210 * 33),
        ],
        costs=[2_520, 4_680],
        left=(285, 8_955),
    ),
}


@pytest.mark.parametrize("example", FIFO.values(), ids=FIFO)
def test_published_first_in_first_out(shop: Shop, example: Example) -> None:
    """Every sale costs, and what is left is worth, what the source says; so does the gross profit."""
    sales = [document for document in shop.post(*example.sheet()) if document["event"] == "sale"]
    assert [sale["cost"] for sale in sales] == [units(cost) for cost in example.costs]
    assert shop.entry(sales[-1], "pieces sold")[1] == example.costs[-1]
    quantity, value = example.left
    assert shop.on_hand() == {example.sku: (str(quantity), units(value))}
    if example.gross_profit is not None:
        profit = sum(Decimal(sale["amount"]) - Decimal(sale["cost"]) for sale in sales)
        assert profit == example.gross_profit


# Source: Hoyle & Skender, Financial Accounting, Saylor open text, sections 9.4 and 9.5.
def test_bathtubs_left_are_the_two_youngest_lots(shop: Shop) -> None:
    """Two at 130 and two at 149 are left."""
    shop.post(*FIFO["bathtubs, perpetual"].sheet())
    lots = [(lot["quantity_on_hand"], lot["value_on_hand"]) for lot in shop.answer("lots", "GOODS")]
    assert lots == [("2", "260.00"), ("2", "298.00")]


# Source of the purchases and the sale: Walther, Current Assets. The answer: from memory
def test_three_fills_by_weight(shop: Shop) -> None:
    """Three fills of 100 lb for 100, 110 and 120; 160 lb sold cost 166, what is left is worth 164."""
    documents = shop.post(
        "2026-01-05,receive,POWDER,100,lb,100,,,fill 1,",
        "2026-01-06,receive,POWDER,100,lb,110,,,fill 2,",
        "2026-01-07,receive,POWDER,100,lb,120,,,fill 3,",
        "2026-01-08,sell,POWDER,160,lb,,,,,",
    )
    assert (documents[-1]["cost"], shop.on_hand()["POWDER"][1]) == ("166.00", "164.00")

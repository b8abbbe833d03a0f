"""Spreading a joint charge: published examples. The comment above each is its source."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest
from command_line import RunnerHere, started

from ledger.costing.landed import ChargeWish, Conversion, InvoiceLine, land
from ledger.costing.spreading import spread

PLAIN = Conversion("USD", "USD")


# Source: 19 CFR 190.51(b)(2), example 1: a fee of 485.00 over lines of 50,000, 90,000 and 200,000. Exact
# shares are 71.3235, 128.3824 and 285.2941; rounded one by one they lose a cent. (The regulation
# rounds the ratios first: 71.3435, 128.3795 and 285.2770; our parts are within two cents of those.)
def test_a_processing_fee_by_value() -> None:
    """The parts add up to the fee: the cent goes to the largest remainder."""
    parts = spread(48_500, [50_000, 90_000, 200_000])
    assert (parts, sum(parts)) == ([7132, 12_838, 28_530], 48_500)
    rounded_first = [Fraction("7134.35"), Fraction("12837.95"), Fraction("28527.70")]
    assert all(abs(part - other) < 3 for part, other in zip(parts, rounded_first, strict=True))


# Source: Heisinger & Hoyle, Managerial Accounting, Saylor open text, section 7.10: a joint cost of 250,000
# over 600,000 units worth 240,000 and 200,000 units worth 60,000.
@pytest.mark.parametrize(("basis", "shares"), [("quantity", (187_500, 62_500)), ("value", (200_000, 50_000))])
def test_a_joint_cost_by_quantity_or_by_value(basis: str, shares: tuple[int, int]) -> None:
    """The same cost, shared by what there is of each or by what each is worth."""
    lines = [
        InvoiceLine("A", "goods", 600_000_000, 24_000_000),
        InvoiceLine("B", "goods", 200_000_000, 6_000_000),
    ]
    charge = ChargeWish("other", basis, amount=25_000_000)
    assert land(lines, [charge], PLAIN).charges[0].shares == tuple(100 * share for share in shares)


# Source: Hoyle & Skender, Financial Accounting, Saylor open text, section 10.5: a basket bought for
# 5,000,000 (with fees of 30,000: 5,030,000) over parts worth 4,500,000 and 1,500,000.
@pytest.mark.parametrize(
    ("price", "parts"), [(5_000_000, [3_750_000, 1_250_000]), (5_030_000, [3_772_500, 1_257_500])]
)
def test_a_basket_purchase(price: int, parts: list[int]) -> None:
    """A price for two things, by what each is worth."""
    assert spread(price, [4_500_000, 1_500_000]) == parts


# Source: second-hand, source not recorded; recomputed. X 20 at 20 and Y 20 at 5, shipping 40, discount 80: 460
# at 4.5 is 2,070, plus local costs of 230 is 2,300: by value X 92 and Y 23 each.
def test_a_foreign_invoice_with_local_costs() -> None:
    """Shipping in the invoice's currency, local costs in the book's."""
    lines = [InvoiceLine("X", "goods", 20_000, 40_000), InvoiceLine("Y", "goods", 20_000, 10_000)]
    charges = [
        ChargeWish("freight", "value", amount=18_000, currency="USD", amount_foreign=4000, rate="4.5"),
        ChargeWish("delivery", "value", amount=23_000),
    ]
    landing = land(lines, charges, Conversion("USD", "PLN", Fraction("4.5")), 8000)
    assert [Fraction(line.landed, 20) for line in landing.lines] == [9200, 2300]
    assert landing.total_landed == 230_000


# Source: as above.
def test_a_foreign_invoice_through_the_command(tmp_path: Path) -> None:
    """A sheet of two lines in dollars into a book of zloty."""
    run = started(tmp_path, currency="PLN", skus=("X", "Y"), runner=RunnerHere)
    profile = tmp_path / "plain.toml"
    profile.write_text(
        'currency = "USD"\n[columns]\nsku = "SKU"\nquantity = "Qty"\nline_total = "Amount"\n'
        '[foot]\n"Shipping" = "freight by value"\n"Discount" = "discount"\n',
        encoding="utf-8",
    )
    sheet = tmp_path / "invoice.csv"
    sheet.write_text(
        "SKU,Qty,Amount\nX,20,400.00\nY,20,100.00\nDiscount,,80.00\nShipping,,40.00\n", encoding="utf-8"
    )
    done = run(
        "receive", str(sheet), "--profile", str(profile), "--date", "2026-01-05", "--rate", "4.5",
        "--charge", "delivery 230", "--yes", "--json",
    )  # fmt: skip
    posted = json.loads(done.stdout)
    assert posted["total_landed"] == "2300.00"
    assert [(lot["sku"], lot["unit_cost"]) for lot in posted["lots"]] == [
        ("X", "92.000000"),
        ("Y", "23.000000"),
    ]


# Source: Heisinger & Hoyle, Managerial Accounting, Saylor open text, section 2.3: 2,000 over 6,000, 3,000
# and 1,000; 40,000 over 25,000, 25,000 and 50,000.
@pytest.mark.parametrize(
    ("amount", "weights", "parts"),
    [
        (2000, [6000, 3000, 1000], [1200, 600, 200]),
        (40_000, [25_000, 25_000, 50_000], [10_000, 10_000, 20_000]),
    ],
)
def test_a_late_cost_over_stock_and_cost_of_goods_sold(
    amount: int, weights: list[int], parts: list[int]
) -> None:
    """In proportion to what each account holds."""
    assert spread(amount, weights) == parts

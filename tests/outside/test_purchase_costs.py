"""What a purchase costs: published examples through landed cost, and one through the real command.

The comment above each example is its source. Prices are in whole currency units of the source;
the book holds hundredths.
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest
from command_line import Runner, RunnerHere, started

from ledger.costing.landed import ChargeWish, Conversion, InvoiceLine, land

PLAIN = Conversion("USD", "USD")


def goods(pieces: int, units: int, **fields: int) -> InvoiceLine:
    """A line of some pieces for an amount in whole currency units."""
    return InvoiceLine("goods", "goods", pieces * 1000, units * 100, **fields)


@pytest.fixture
def shop(tmp_path: Path) -> Runner:
    """The real command, with a new book and an item."""
    return started(tmp_path, runner=RunnerHere)


# Source: second-hand, source not recorded; recomputed. Net cost of purchases: 110,000 less discounts
# of 15,000 and returns and allowances of 7,000, plus freight-in of 3,000, is 91,000.
def test_net_cost_of_purchases() -> None:
    """Invoice less discount less what went back plus freight in."""
    # The returns are stated as an amount: 7,000 of the 95,000 left after the discount.
    line = InvoiceLine("goods", "goods", 95_000_000, 11_000_000, claimed_milli=7_000_000)
    freight = ChargeWish("freight", "value", amount=300_000)
    landing = land([line], [freight], PLAIN, 1_500_000)
    assert (landing.total_invoice, landing.lines[0].claimed_amount, landing.total_landed) == (
        9_500_000,
        700_000,
        9_100_000,
    )


# Source: as above.
def test_net_cost_of_purchases_through_the_command(shop: Runner) -> None:
    """The same with a discount and freight typed as charges, what is kept costing 103,000."""
    done = shop(
        "receive", "--sku", "TEE", "--quantity", "1000", "--amount", "103000", "--date", "2026-01-05",
        "--charge", "discount 15000", "--charge", "freight 3000", "--yes", "--json",
    )  # fmt: skip
    posted = json.loads(done.stdout)
    assert (posted["total_invoice"], posted["total_charges"], posted["total_landed"]) == (
        "103000.00",
        "-12000.00",
        "91000.00",
    )


# Source: second-hand, source not recorded; recomputed. 500 pieces at 12, terms 5/10; 40 returned;
# paid on day ten: payable 5,520, discount 276, cash 5,244, so 460 pieces at 11.40.
def test_a_return_comes_before_the_cash_discount() -> None:
    """The discount is five per cent of what is kept, not of what was billed."""
    discount = ChargeWish("discount", "value", percent=Fraction(5))
    landing = land([goods(500, 6000, claimed_milli=40_000)], [discount], PLAIN)
    line = landing.lines[0]
    assert (line.lot_cost, landing.charges[0].amount, line.landed) == (552_000, -27_600, 524_400)
    assert Fraction(line.landed, 460) == 1140


# Source: as above.
def test_a_return_before_the_cash_discount_through_the_command(shop: Runner, tmp_path: Path) -> None:
    """Forty claimed in a sheet and a discount of five per cent: 460 lots' pieces at 11.40."""
    profile = tmp_path / "plain.toml"
    profile.write_text(
        'currency = "USD"\n[columns]\nsku = "SKU"\nquantity = "Qty"\nline_total = "Amount"\nmissing = "Short"\n',
        encoding="utf-8",
    )
    sheet = tmp_path / "invoice.csv"
    sheet.write_text("SKU,Qty,Amount,Short\nTEE,500,6000.00,40\n", encoding="utf-8")
    done = shop(
        "receive", str(sheet), "--profile", str(profile), "--date", "2026-01-05",
        "--charge", "discount 5%", "--yes", "--json",
    )  # fmt: skip
    lot = json.loads(done.stdout)["lots"][0]
    assert (lot["quantity_received"], lot["landed_cost"], lot["unit_cost"]) == ("460", "5244.00", "11.400000")


# Source: Hoyle & Skender, Financial Accounting, Saylor open text, section 7.5: a purchase of 100,000
# at 0.08 is 8,000; a later rate of 0.09 changes what is owed, never the stock.
def test_a_foreign_invoice_is_converted_at_its_own_rate() -> None:
    """100,000 of a foreign currency at 0.08."""
    landing = land([goods(1, 100_000)], [], Conversion("MXN", "USD", Fraction("0.08")))
    assert landing.total_landed == 800_000


# Source: as above.
def test_a_later_rate_does_not_change_the_stock(shop: Runner) -> None:
    """The second invoice comes at 0.09; the first stays where it was."""
    for amount, rate, day in (("100000", "0.08", "2026-01-05"), ("1000", "0.09", "2026-01-06")):
        shop(
            "receive", "--sku", "TEE", "--quantity", "1", "--amount", amount, "--currency", "MXN",
            "--rate", rate, "--date", day, "--yes",
        )  # fmt: skip
    lots = json.loads(shop("lots", "--json").stdout)
    assert [lot["landed_cost"] for lot in lots] == ["8000.00", "90.00"]


# Source: 26 CFR (Treas. Reg.) 1.471-3(b): inventory cost is invoice price less trade or other
# discounts, plus transportation or other necessary charges incurred in acquiring possession.
# The rule is the regulation's; the figures are our own.
def test_cost_is_invoice_less_discounts_plus_charges_of_possession() -> None:
    """1,000 less a trade discount of 100, plus freight of 60, duty of 40 and a broker's 25."""
    charges = [
        ChargeWish(kind, "value", amount=amount)
        for kind, amount in (("freight", 6000), ("duty", 4000), ("brokerage", 2500))
    ]
    assert land([goods(100, 1000)], charges, PLAIN, 10_000).total_landed == 102_500


# Source: Hoyle & Skender, Financial Accounting, Saylor open text, section 8.1: a repair that was needed
# for the sale and known at purchase is cost; the same repair caused by carelessness is an expense.
# The rule is the source's; the figures are our own.
def test_expected_losses_are_cost_and_careless_ones_are_not() -> None:
    """Ten of a hundred lost as usual raise the cost of the ninety; ten ruined by us do not."""
    usual, ruined = goods(100, 900, normal_milli=10_000), goods(100, 900, expensed_milli=10_000)
    assert Fraction(land([usual], [], PLAIN).lines[0].landed, usual.kept_milli // 1000) == 1000
    assert Fraction(land([ruined], [], PLAIN).lines[0].landed, ruined.kept_milli // 1000) == 900

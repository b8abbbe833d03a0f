"""Published examples of jobs, returns, counts and write-downs against the plain engine.

The comment above each example is its source. Prices are in whole currency units of the source;
the book holds hundredths.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from ledger.costing.facts import FactLine, Facts, Leg
from ledger.costing.plain import plain_legs


def line(document: int, event: str, pieces: int, amount: int = 0, sku: str = "goods") -> FactLine:
    """A line on the day of its document's number; the amount is in whole currency units."""
    return FactLine(document, 1, event, f"2026-01-{document:02d}", sku, "goods", pieces * 1000, amount * 100)


def balance(legs: list[Leg], account: str, sku: str = "goods") -> tuple[int, int]:
    """Pieces and hundredths that the legs leave in an account."""
    found = [leg for leg in legs if leg.account == account and leg.sku == sku]
    return sum(leg.quantity_milli for leg in found) // 1000, sum(leg.amount for leg in found)


def job(document: int, materials: list[FactLine], product: FactLine, *labour: int) -> tuple[FactLine, ...]:
    """A job that uses all of the materials, with what was paid for it in whole currency units."""
    components = [
        replace(each, document=document, line=number, event="make", role="component", amount=0)
        for number, each in enumerate(materials, start=10)
    ]
    paid = [
        replace(product, line=number, role="labour", quantity_milli=0, amount=amount * 100)
        for number, amount in enumerate(labour, start=20)
    ]
    lines = (*components, *paid, replace(product, role="product"))
    return tuple(replace(each, effect_date=product.effect_date) for each in lines)


# second-hand, source not read
def test_sales_return_comes_back_at_its_original_cost() -> None:
    """Of 1,500 sold out of 3,000 at 12, 150 come back: stock goes up by 1,800."""
    back = replace(line(3, "take back", 150), ref_document=2, ref_line=1)
    legs = plain_legs(Facts((line(1, "receipt", 3000, 36_000), line(2, "sale", 1500), back)))
    came_back = [leg for leg in legs if leg.document == 3]
    assert balance(came_back, "on hand") == (150, 180_000)


# second-hand, source not read
def test_purchase_return_lowers_what_is_owed_by_its_price() -> None:
    """Of 500 at 12, 40 go back: 5,520 stays to be paid, and 460 pieces stay at 12."""
    back = replace(line(2, "send back", 40), ref_document=1, ref_line=1)
    legs = plain_legs(Facts((line(1, "receipt", 500, 6000), back)))
    assert balance(legs, "returned to supplier") == (40, 48_000)
    assert balance(legs, "on hand") == (460, 552_000)


# Source: Hoyle & Skender, Financial Accounting, Saylor open text, section 8.5.
def test_count_below_the_book_is_a_loss_at_cost() -> None:
    """65 at 70 in the book, 63 counted: 140 is lost."""
    legs = plain_legs(Facts((line(1, "receipt", 65, 4550), line(2, "count", 63))))
    assert balance(legs, "count differences") == (2, 14_000)


# Source: Hoyle & Skender, Financial Accounting, Saylor open text, section 8.4.
@pytest.mark.parametrize(("cost", "loss", "left"), [(260, 50, 210), (380, 30, 350), (560, 80, 480)])
def test_write_down_takes_the_loss_off_the_cost(cost: int, loss: int, left: int) -> None:
    """What is worth less than it cost is carried at the lower value."""
    legs = plain_legs(Facts((line(1, "receipt", 1, cost), line(2, "write down", 0, loss))))
    assert balance(legs, "write-downs") == (0, loss * 100)
    assert balance(legs, "on hand") == (1, left * 100)


# from memory (it is in IRS Publication 538, on lower of cost or market)
def test_lower_of_cost_and_market_is_taken_item_by_item() -> None:
    """300 against 500, 200 against 100, 450 against 200: 600 in all."""
    lines = [
        line(number, "receipt", 1, cost, sku)
        for number, cost, sku in ((1, 300, "first"), (2, 200, "second"), (3, 450, "third"))
    ]
    lines += [line(4, "write down", 0, 100, "second"), line(5, "write down", 0, 250, "third")]
    legs = plain_legs(Facts(tuple(lines)))
    assert sum(leg.amount for leg in legs if leg.account == "on hand") == 60_000


# Source: Heisinger & Hoyle, Managerial Accounting, Saylor open text, sections 2.2 and 2.3.
def test_job_50_costs_its_materials_labour_and_overhead() -> None:
    """Materials of 240 and 130, labour 90, overhead 180: the job costs 640."""
    materials = [line(1, "receipt", 1, 240, "wood"), line(2, "receipt", 1, 130, "fabric")]
    # Overhead is paid like labour here: the engine knows no other cost of a job.
    made = job(3, materials, line(3, "make", 1, sku="desk"), 90, 180)
    assert balance(plain_legs(Facts((*materials, *made))), "on hand", "desk") == (1, 64_000)


# Source: ACCA F2, Management Accounting, text on process costing, normal and abnormal loss.
def test_normal_loss_is_borne_by_the_good_pieces() -> None:
    """1,000 in for 20,700, of which 100 are lost as usual: 900 good ones at 23.00."""
    materials = [line(1, "receipt", 1000, 20_700, "input")]
    made = job(2, materials, replace(line(2, "make", 1000, sku="output"), normal_milli=100_000))
    legs = plain_legs(Facts((*materials, *made)))
    assert balance(legs, "on hand", "output") == (900, 900 * 2300)
    assert balance(legs, "spoilage", "output") == (0, 0)


# Source: ACCA F2, Management Accounting, text on process costing, normal and abnormal loss.
def test_abnormal_loss_is_expensed_at_the_cost_of_a_good_piece() -> None:
    """20,700 less 180 for scrap over 900: 800 good at 22.80 are 18,240, 100 lost beyond the usual 2,280."""
    materials = [line(1, "receipt", 1000, 20_700 - 180, "input")]
    output = replace(line(2, "make", 1000, sku="output"), normal_milli=100_000, expensed_milli=100_000)
    legs = plain_legs(Facts((*materials, *job(2, materials, output))))
    assert balance(legs, "on hand", "output") == (800, 1_824_000)
    assert balance(legs, "spoilage", "output") == (100, 228_000)

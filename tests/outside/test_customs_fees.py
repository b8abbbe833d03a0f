"""Customs computations as published; estimates for the record, never advice on an entry.

The importer is responsible for an entry, and a licensed broker knows the rates of the day. The
comment above each example is its source.
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest
from command_line import RunnerHere, started

from ledger.costing.landed import ChargeWish, Conversion, InvoiceLine, charge_amount, land

PROCESSING_RATE = Fraction("0.3464")
HARBOR_RATE = Fraction("0.125")


def processing_fee(value: int, least: int, most: int) -> int:
    """The merchandise processing fee of a formal entry; everything in cents."""
    wish = ChargeWish("entry_fee", "value", percent=PROCESSING_RATE, minimum=least, maximum=most)
    return charge_amount(wish, value)


# Source: US Customs and Border Protection, customs broker licence examination of October 2020, answer key,
# question 33: value 10,500; duty 14.9% is 1,564.50; merchandise processing fee 0.3464% is 36.37;
# harbor maintenance fee 0.125% is 13.13. The fee's limits are those of fiscal year 2020 or 2021:
# either way the fee lies between them.
@pytest.mark.parametrize(
    ("percent", "cents"),
    [(Fraction("14.9"), 156_450), (PROCESSING_RATE, 3637), (HARBOR_RATE, 1313)],
    ids=["duty", "merchandise processing", "harbor maintenance"],
)
def test_broker_examination_question_33(percent: Fraction, cents: int) -> None:
    """13.125 is 13.13: a half rounds up, not to the even cent."""
    assert charge_amount(ChargeWish("duty", "value", percent=percent), 1_050_000) == cents


# Source: as above.
def test_broker_examination_question_33_through_the_command(tmp_path: Path) -> None:
    """Duty and both fees typed as words, posted with the goods."""
    run = started(tmp_path, runner=RunnerHere)
    done = run(
        "receive", "--sku", "TEE", "--quantity", "1000", "--amount", "10500", "--date", "2026-01-05",
        "--charge", "duty 14.9%", "--charge", "entry_fee 0.3464% min 26.79 max 519.76",
        "--charge", "entry_fee 0.125%", "--yes", "--json",
    )  # fmt: skip
    posted = json.loads(done.stdout)
    assert (posted["total_charges"], posted["total_landed"]) == ("1614.00", "12114.00")
    shown = [json.loads(run("show", str(number), "--json").stdout) for number in (2, 3, 4)]
    assert [document["total"] for document in shown] == ["1564.50", "36.37", "13.13"]


# Source: 90 FR 34665 for fiscal year 2026 (from October 1, 2025): 0.3464%, at least 33.58 and at most 651.50
# for an entry. The three values worked out from it are recomputed.
@pytest.mark.parametrize(
    ("value", "fee"), [(5_000, 3358), (20_000, 6928), (250_000, 65_150)], ids=["least", "between", "most"]
)
def test_processing_fee_of_fiscal_year_2026(value: int, fee: int) -> None:
    """Below the least, between the limits, above the most."""
    assert processing_fee(value * 100, 3358, 65_150) == fee


# Source: second-hand, source not read: fiscal year 2027, at least 34.58 and at most 670.86.
@pytest.mark.parametrize(("value", "fee"), [(50_000, 17_320), (9_981, 3458)])
def test_processing_fee_of_fiscal_year_2027(value: int, fee: int) -> None:
    """Between the limits, and just below where the least stops to matter."""
    assert processing_fee(value * 100, 3458, 67_086) == fee


# Source: 2026: 90 FR 34665. 2024: from memory. The other years: second-hand, source not read.
@pytest.mark.parametrize(
    ("year", "least", "most"),
    [
        (2019, 2622, 50_870),
        (2020, 2679, 51_976),
        (2021, 2723, 52_833),
        (2022, 2775, 53_840),
        (2023, 2966, 57_535),
        (2024, 3167, 61_435),
        (2025, 3271, 63_462),
        (2026, 3358, 65_150),
    ],
)
def test_the_limits_of_a_year_meet_the_rate(year: int, least: int, most: int) -> None:
    """A hundred dollars pays the least and a million the most, whatever the year."""
    assert (processing_fee(10_000, least, most), processing_fee(100_000_000, least, most)) == (least, most), (
        year
    )


# Source: from memory: 19 CFR 24.24, 0.125% of the value of ocean cargo, no minimum and no maximum.
@pytest.mark.parametrize(("value", "fee"), [(1_00, 0), (10_500_00, 13_13), (1_000_000_00, 1_250_00)])
def test_harbor_fee_has_no_limits(value: int, fee: int) -> None:
    """From next to nothing to a great deal."""
    assert charge_amount(ChargeWish("entry_fee", "value", percent=HARBOR_RATE), value) == fee


# Source: 19 USC 1401a(b): the transaction value leaves international freight and insurance out. What an item cost
# landed includes them. The figures are our own.
def test_duty_is_on_the_price_without_freight_but_landed_cost_has_both() -> None:
    """Ten per cent duty of 1,000, not of 1,000 and its freight of 200."""
    charges = [
        ChargeWish("freight", "value", amount=20_000),
        ChargeWish("duty", "value", percent=Fraction(10)),
    ]
    landing = land([InvoiceLine("TEE", "goods", 100_000, 100_000)], charges, Conversion("USD", "USD"))
    assert (landing.charges[1].amount, landing.total_landed) == (10_000, 130_000)

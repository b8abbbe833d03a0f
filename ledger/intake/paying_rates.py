"""The rate to reckon a foreign offer with: typed, the day's reference rate, or the last one paid."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from ledger.book.purchases import last_paid_rate
from ledger.errors import RateUnknown, ValueProblem
from ledger.exact.currencies import read_currency
from ledger.exact.numbers import read_decimal
from ledger.intake.reference_rates import reference_rate


@dataclass(frozen=True)
class PayingRate:
    """The book's currency for one unit of another, and where that was taken from, in words."""

    rate: Fraction
    source: str


@dataclass(frozen=True)
class PayingRates:
    """Rates into the book's currency on a day; each is looked up once and remembered in ``used``."""

    connection: sqlite3.Connection
    currency: str
    on: datetime.date
    typed: Mapping[str, Fraction]
    used: dict[str, PayingRate]

    def rate_of(self, currency: str) -> Fraction:
        """Return the book's currency for one unit of a currency.

        Raises RateUnknown where none was typed, the reference rates have none of that day, and no bill in
        the currency was ever posted.
        """
        if currency == self.currency:
            return Fraction(1)
        if currency not in self.used:
            self.used[currency] = self._found(currency)
        return self.used[currency].rate

    def _found(self, currency: str) -> PayingRate:
        if currency in self.typed:
            return PayingRate(self.typed[currency], "as typed")
        try:
            found = reference_rate(currency, self.currency, self.on)
        except RateUnknown as error:
            paid = last_paid_rate(self.connection, currency, self.on.isoformat())
            if paid is None:
                raise RateUnknown(
                    f"{currency} to {self.currency} on {self.on}: there is no reference rate of that day and no "
                    f"bill in {currency} in the book. Type the rate: --rate {currency}=0.14 ({self.currency} for "
                    f"one {currency})."
                ) from error
            return PayingRate(paid.rate, f"paid on {paid.on}, document {paid.document}")
        return PayingRate(found.rate, f"{found.source_name} of {found.rate_date}")


def read_typed_rates(texts: list[str], currency: str) -> dict[str, Fraction]:
    """Return rates typed as CNY=0.14, by currency, in the book's currency for one unit.

    >>> read_typed_rates(["cny=0.14"], "USD")
    {'CNY': Fraction(7, 50)}

    Raises ValueProblem where one is no rate.
    """
    rates = {}
    for text in texts:
        code, sign, value = text.partition("=")
        if not sign:
            raise ValueProblem(f"'{text[:40]}' is not a rate: write CNY=0.14 ({currency} for one CNY).")
        rate = read_decimal(value.strip(), what="rate")
        if read_currency(code) == currency:
            raise ValueProblem(
                f"'{text[:40]}': the book is in {currency} itself, and one is always one. Leave it out."
            )
        if rate <= 0:
            raise ValueProblem(f"'{text[:40]}': a rate must be above zero.")
        rates[read_currency(code)] = rate
    return rates

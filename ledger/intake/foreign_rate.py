"""The rate a foreign document is converted at: as typed, held against the reference rates, or one of them."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from fractions import Fraction

from ledger.errors import RateUnknown, ValueProblem
from ledger.exact.numbers import read_decimal
from ledger.intake.reference_rates import rate_text, reference_rate

FAR_FROM_REFERENCE = Fraction(1, 4)
"""A typed rate further than this from the reference is probably upside down or misplaced."""


@dataclass(frozen=True, slots=True)
class UsedRate:
    """An exchange rate as it is stored: decimal text, and where it came from."""

    text: str
    source: str
    remark: str = ""

    @property
    def value(self) -> Fraction:
        """The rate as an exact number: units of the book's currency per unit of the document's."""
        return Fraction(self.text)


def used_rate(currency: str, book_currency: str, typed: str, on: datetime.date) -> UsedRate:
    """Return the rate a foreign document is converted at: as typed, else the reference rate.

    A typed rate that is far from the reference is used as told, with a remark; one that is
    nearer upside down is refused. Raises ValueProblem or RateUnknown.
    """
    if currency == book_currency:
        if typed and read_decimal(typed) != 1:
            raise ValueProblem(
                f"the document is in {book_currency}, the book's own currency: leave --rate out."
            )
        return UsedRate("1", "")
    if not typed:
        found = reference_rate(currency, book_currency, on)
        text = rate_text(found.rate)
        remark = (
            f"1 {currency} = {text} {book_currency}: {found.source_name} of {found.rate_date.isoformat()}, "
            "for information. If you know the rate you paid, give it with --rate."
        )
        return UsedRate(text, f"{found.source_name}, {found.rate_date.isoformat()}", remark)
    rate = read_decimal(typed, what="rate")
    if rate <= 0:
        raise ValueProblem(f"the rate {typed} is not above zero.")
    return UsedRate(typed.strip(), "as given", _doubt(currency, book_currency, rate, on))


def _doubt(currency: str, book_currency: str, rate: Fraction, on: datetime.date) -> str:
    """Return a warning where a typed rate is far from the reference of its day, else nothing.

    Past the last packaged day the nearest earlier reference still shows a rate that is upside down.
    """
    reference = _nearest_reference(currency, book_currency, on)
    if reference is None:
        return ""
    if (
        abs(1 / rate - reference) < abs(rate - reference)
        and abs(1 / rate / reference - 1) < FAR_FROM_REFERENCE
    ):
        raise ValueProblem(
            f"the rate {_short(rate)} looks upside down: --rate is {book_currency} per 1 {currency}, "
            f"about {_short(reference)}. Did you mean {_short(1 / rate)}?"
        )
    if abs(rate / reference - 1) > FAR_FROM_REFERENCE:
        return (
            f"Warning: the rate {_short(rate)} {book_currency} per {currency} is far from the reference "
            f"{_short(reference)}. Check it before you post."
        )
    return ""


def _nearest_reference(currency: str, book_currency: str, on: datetime.date) -> Fraction | None:
    """Return the reference rate of the day, or of the same day up to three years earlier."""
    for years in range(4):
        try:
            return reference_rate(currency, book_currency, on - datetime.timedelta(days=364 * years)).rate
        except RateUnknown:
            continue
    return None


def _short(rate: Fraction) -> str:
    return f"{float(rate):.6g}"

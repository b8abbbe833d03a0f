"""What customs charges for an entry besides duty, and the reference table of US fees by fiscal year."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from types import MappingProxyType

from ledger.errors import ValueProblem
from ledger.exact.rounding import round_fraction


@dataclass(frozen=True)
class EntryFees:
    """Fees of one entry; money in minor units of the destination's currency.

    ``rate`` of the customs value is charged on a formal entry, at least ``minimum_minor`` and at most
    ``maximum_minor`` (None: no such limit). Up to ``formal_above_minor`` the entry is informal and
    costs ``informal_minor`` (None: no such distinction). ``harbor_rate`` is charged on ocean cargo only.
    """

    rate: Fraction = Fraction(0)
    minimum_minor: int | None = None
    maximum_minor: int | None = None
    informal_minor: int | None = None
    formal_above_minor: int | None = None
    harbor_rate: Fraction = Fraction(0)
    source: str = ""

    def is_formal(self, value_minor: int) -> bool:
        """Return whether an entry of that customs value is formal; one of exactly the limit is not."""
        return self.formal_above_minor is None or value_minor > self.formal_above_minor

    def processing_fee(self, value_minor: int) -> int:
        """Return the processing fee of an entry of that customs value, in minor units.

        >>> fees_of_fiscal_year(2020).processing_fee(1_050_000)
        3637
        """
        if not self.is_formal(value_minor) and self.informal_minor is not None:
            return self.informal_minor
        fee = round_fraction(self.rate * value_minor)
        if self.minimum_minor is not None:
            fee = max(fee, self.minimum_minor)
        if self.maximum_minor is not None:
            fee = min(fee, self.maximum_minor)
        return fee

    def harbor_fee(self, value_minor: int) -> int:
        """Return the harbor fee of ocean cargo of that value, in minor units; it has no limits.

        >>> fees_of_fiscal_year(2020).harbor_fee(1_050_000)
        1313
        """
        return round_fraction(self.harbor_rate * value_minor)


@dataclass(frozen=True)
class FeeYear:
    """The limits of one US fiscal year in cents; the informal fee is None where it is not known."""

    minimum_minor: int
    maximum_minor: int
    informal_minor: int | None
    source: str


SECOND_HAND = "second-hand, source not read"
FROM_MEMORY = "from memory"

FEE_YEARS: Mapping[int, FeeYear] = MappingProxyType(
    {
        2019: FeeYear(2622, 50_870, None, SECOND_HAND),
        2020: FeeYear(2679, 51_976, None, SECOND_HAND),
        2021: FeeYear(2723, 52_833, None, SECOND_HAND),
        2022: FeeYear(2775, 53_840, None, SECOND_HAND),
        2023: FeeYear(2966, 57_535, None, SECOND_HAND),
        2024: FeeYear(3167, 61_435, None, FROM_MEMORY),
        2025: FeeYear(3271, 63_462, None, SECOND_HAND),
        2026: FeeYear(3358, 65_150, 269, "90 FR 34665"),
        2027: FeeYear(3458, 67_086, 277, SECOND_HAND),
    }
)
"""Merchandise processing fee by US fiscal year (from October 1 of the year before), with its source."""

PROCESSING_RATE = Fraction("0.003464")
HARBOR_RATE = Fraction("0.00125")
FORMAL_ABOVE_MINOR = 250_000
"""Entries worth more are formal. Source: 19 CFR 143.21. Some added duties make smaller ones formal too."""


def fiscal_year(on: datetime.date) -> int:
    """Return the US fiscal year of a date, which begins on October 1 of the year before.

    >>> fiscal_year(datetime.date(2025, 9, 30)), fiscal_year(datetime.date(2025, 10, 1))
    (2025, 2026)
    """
    return on.year + (on.month >= 10)  # noqa: PLR2004  (October)


def fees_of_fiscal_year(year: int) -> EntryFees:
    """Return the US fees of a fiscal year.

    Years after the last known have that one's fees; ``source`` then says so.

    Raises ValueProblem for years before the table begins.
    Source: 19 CFR 24.23 and 24.24, with the limits of FEE_YEARS.
    """
    first, last = min(FEE_YEARS), max(FEE_YEARS)
    if year < first:
        raise ValueProblem(
            f"the entry fees of fiscal year {year} are not known: the table begins with {first}. "
            "Give the fees with the offer."
        )
    known = FEE_YEARS[min(year, last)]
    later = f"those of fiscal year {last}, for {year} is not known yet; " if year > last else ""
    return EntryFees(
        rate=PROCESSING_RATE,
        minimum_minor=known.minimum_minor,
        maximum_minor=known.maximum_minor,
        informal_minor=known.informal_minor,
        formal_above_minor=FORMAL_ABOVE_MINOR,
        harbor_rate=HARBOR_RATE,
        source=later + known.source,
    )


def converted(fees: EntryFees, factor: Fraction, words: str) -> EntryFees:
    """Return fees with their amounts in another currency, each rounded once, half away from zero.

    ``factor`` is minor units of that currency for one of the fees'; ``words`` say how it was converted and
    are added to the source.
    """

    def amount(minor: int | None) -> int | None:
        return None if minor is None else round_fraction(minor * factor)

    return replace(
        fees,
        minimum_minor=amount(fees.minimum_minor),
        maximum_minor=amount(fees.maximum_minor),
        informal_minor=amount(fees.informal_minor),
        formal_above_minor=amount(fees.formal_above_minor),
        source=f"{fees.source}, {words}",
    )


def fees_on(date: datetime.date) -> EntryFees:
    """Return the US fees for an entry on a date.

    >>> fees_on(datetime.date(2026, 11, 24)).minimum_minor
    3458
    """
    return fees_of_fiscal_year(fiscal_year(date))

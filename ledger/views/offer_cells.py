"""The cells of an offer in a workbook: figures that go in, each with a name, a source and a day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction

from ledger.exact.currencies import exponent
from ledger.sourcing.study import StudyOffer

PERCENT_FORMAT, RATE_FORMAT, PLAIN_FORMAT = "0.00##%", "0.000000", "#,##0.###"
UNIT_PRICE_FORMAT, COUNT_FORMAT, CHANCE_FORMAT = "#,##0.00##", "#,##0.0", "0.0%"


@dataclass(frozen=True, slots=True)
class Input:
    """One figure that goes in: what it is, its unit, where it comes from and as of when.

    ``name`` is the cell's name in formulas; ``start`` the quantity that a price begins at.
    """

    what: str
    value: Decimal | str
    unit: str
    source: str
    as_of: str = ""
    name: str = ""
    shown: str = PLAIN_FORMAT
    start: int | None = None


@dataclass(frozen=True, slots=True)
class OfferSources:
    """Where an offer's figures come from and as of when; and each exchange rate, by its currency."""

    source: str
    as_of: str
    rates: Mapping[str, str]


NO_DATE = "no date"
"""What stands where nobody says as of when a figure is."""


def exact(value: Fraction | float) -> Decimal:
    """Return a number as a cell holds it: a fraction to 28 digits, a floating one to its last."""
    if isinstance(value, Fraction):
        return Decimal(value.numerator) / Decimal(value.denominator)
    return Decimal(repr(float(value)))


@dataclass(slots=True)
class Cells:
    """Gathers an offer's inputs, and gives the names that formulas call them by."""

    offer: StudyOffer
    prefix: str
    sources: OfferSources
    inputs: list[Input] = field(default_factory=list)

    @property
    def home(self) -> str:
        """The currency of the landed cost."""
        return self.offer.entry.currency

    def put(self, key: str, what: str, value: Fraction | float, unit: str, shown: str) -> str:
        """Add an input and return its cell's name."""
        name = f"{self.prefix}_{key}"
        self.inputs.append(
            Input(what, exact(value), unit, self.sources.source, self.sources.as_of, name, shown)
        )
        return name

    def money(self, key: str, what: str, minor: Fraction | float, currency: str = "") -> str:
        """Add an amount and return its cell's name."""
        own = currency or self.home
        return self.put(key, what, Fraction(minor) / 10 ** exponent(own), own, UNIT_PRICE_FORMAT)

    def of_rate(self, currency: str) -> None:
        """Say of the input added last that it is a currency's rate."""
        self.resource(self.sources.rates.get(currency, self.sources.source), self.inputs[-1].as_of)

    def resource(self, source: str, as_of: str) -> None:
        """Say of the input added last that it comes from elsewhere."""
        self.inputs[-1] = replace(self.inputs[-1], source=source, as_of=as_of)

    def rounded(self, formula: str) -> str:
        """Return a formula rounded to the currency's minor unit, a half away from zero."""
        return f"ROUND({formula},{exponent(self.home)})"


def rate_words(currency: str) -> str:
    """Return what the cell of a currency's rate is called."""
    return f"exchange rate of one {currency}"


def rate_unit(home: str, foreign: str) -> str:
    """Return the unit of a rate."""
    return f"{home} for one {foreign}"

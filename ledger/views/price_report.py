"""What one question about landed prices found, and its figures as people and scripts read them."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from ledger.book.pack_rounding import WholePacks
from ledger.book.price_comparison import Comparison
from ledger.exact.currencies import exponent
from ledger.exact.numbers import show_fraction, show_scaled
from ledger.exact.rounding import round_fraction
from ledger.intake.paying_rates import PayingRate
from ledger.sourcing.comparison import Contender
from ledger.sourcing.expected_days import expected_days, source_words
from ledger.sourcing.landed_curve import BetterBuy, CurvePoint
from ledger.views import figures
from ledger.views.lead_words import DaysTold

SCRIPT_PLACES = 4
"""Decimals beyond the currency's own in which scripts get a unit cost."""


@dataclass(frozen=True)
class PriceReport:
    """What one question found: the comparison, what buying more would change, the curves, the rates.

    ``wanted_from`` says where the quantity was taken from: as asked, or as many as came last time;
    ``entry`` is the day of entry that was asked for, None where each offer's lead time says;
    ``rounded`` is the best offer for whole packs.
    """

    comparison: Comparison
    wanted_from: str
    entry: datetime.date | None
    better: Mapping[str, tuple[BetterBuy, ...]]
    curves: Mapping[str, tuple[CurvePoint, ...]]
    rates: Mapping[str, PayingRate]
    shows_curves: bool = False
    rounded: tuple[WholePacks, ...] = ()

    @property
    def currency(self) -> str:
        """The book's."""
        return self.comparison.market.currency

    @property
    def places(self) -> int:
        """How many decimals unit costs are told with: more where a unit costs next to nothing."""
        # What once came for next to nothing does not make today's offers small.
        shown = self.comparison.offers or self.comparison.contenders
        costs = [each.unit_cost_minor for each in shown if each.unit_cost_minor > 0]
        is_small = min(costs, default=Fraction(100)) < Fraction(10 ** exponent(self.currency), 100)
        return figures.SMALL_UNIT_PLACES if is_small else figures.SHOWN_UNIT_PLACES

    @property
    def unit(self) -> str:
        """The base unit of the goods."""
        return self.comparison.market.goods.first.base_unit

    @property
    def wanted(self) -> str:
        """The quantity compared for, in words: 144, or 500 sheet."""
        number = show_fraction(self.comparison.wanted, 3)
        return number if self.unit == "each" else f"{number} {self.unit}"

    @property
    def is_foreign(self) -> bool:
        """Whether goods of any offer cross a border."""
        return any(each.estimate and each.estimate.customs_value_minor for each in self.comparison.contenders)


def days_of(each: Contender, report: PriceReport) -> float:
    """Return how many days an offer takes from order to shelf, closed days in them; 0 where nobody says."""
    if each.quote is None:
        return 0.0
    entry = report.comparison.market.entries[each.name]
    return expected_days(each.quote.lead_time, each.quote.closures, entry.today or entry.on)


def days_told(each: Contender, report: PriceReport) -> DaysTold | None:
    """Return how long an offer takes and who says so; None for a past receipt."""
    if each.quote is None:
        return None
    days, lead = days_of(each, report), each.quote.lead_time
    closed = bool(each.quote.closures) and not lead.samples
    return DaysTold(each.name, f"{days:.0f}" if days else "", source_words(lead), closed)


def by_size(each: Contender) -> dict[str, str]:
    """Return how many base units of each size an offer's prepacks bring, as text; empty without prepacks."""
    shares = each.quote.rules.size_ratio if each.quote else ()
    pieces = sum(share.pieces for share in shares)
    return {share.size: show_fraction(each.quantity * share.pieces / pieces, 3) for share in shares}


def per(unit: str) -> str:
    """Return 'each' or 'per sheet', as a price is told."""
    return unit if unit == "each" else f"per {unit}"


def unit_text(cost_minor: Fraction, report: PriceReport) -> str:
    """Return an exact unit cost with four decimals, six where a unit costs less than a hundredth."""
    value = cost_minor / 10 ** exponent(report.currency)
    places = max(report.places, exponent(report.currency))
    return show_scaled(round_fraction(value * 10**places), places)


def script_cost(cost_minor: Fraction, currency: str) -> str:
    """Return an exact unit cost as scripts take it: exponent + 4 decimals."""
    places = exponent(currency) + SCRIPT_PLACES
    return show_scaled(round_fraction(cost_minor * 10**SCRIPT_PLACES), places)

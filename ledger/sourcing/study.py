"""A study: everything a buying decision is made from, whether a file or the book's own quotes and history say it."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from fractions import Fraction

from ledger.costing.spreading import spread
from ledger.errors import Problem
from ledger.sourcing.demand import WEEKS_PER_MONTH, Demand
from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.order_rules import least_quantity, step_of
from ledger.sourcing.quote import PER_SKU, Entry, OrderLine, OrderQuantities, Quote

DEFAULT_FUTURES = 2000
DEFAULT_SEED = 1
LONGEST_HORIZON_MONTHS = 120
MEASURES = ("mL", "L", "g", "kg", "cm", "m", "cm2", "m2")
"""Units that have no plural and no article."""


@dataclass(frozen=True)
class MoneyTerms:
    """What money and the shelf cost; amounts in the study's minor units.

    Attributes:
        capital_per_year: the fraction of the landed cost that a year on the shelf costs: capital,
            insurance, shrinkage.
        storage_per_unit_month_minor: for the space.
        cost_per_order_minor: placing and handling one order.
        salvage_fraction: what a leftover fetches, of its landed cost or of the price at home, whichever is
            lower; at least 0, below 1.
        lost_margin_minor: lost with a sale nobody can fill; counts only where there is no domestic offer.
        service_level: the chance with which an order should arrive before the shelf is empty.
    """

    capital_per_year: float = 0.0
    storage_per_unit_month_minor: float = 0.0
    cost_per_order_minor: float = 0.0
    salvage_fraction: float = 0.0
    lost_margin_minor: float = 0.0
    service_level: float = 0.95


@dataclass(frozen=True)
class Limits:
    """The owner's limits; None is no limit, amounts in minor units.

    Attributes:
        probability: how likely it must at least be that the bulk is cheaper.
        worst_tenth_minor: the mean saving of the worst tenth of futures must be above this.
        cash_minor: the most cash that may be tied up.
        weeks_of_cover: the most weeks of demand that may be bought at once.
        space_units: the most pieces the shelf holds; 0 is no limit.
    """

    probability: float = 0.8
    worst_tenth_minor: float | None = None
    cash_minor: float | None = None
    weeks_of_cover: float | None = None
    space_units: int = 0


@dataclass(frozen=True)
class StudyOffer:
    """One offer with the circumstances of an order under it.

    Weight and volume are of one piece, None where they are not known; freight by weight needs them.
    ``sizes`` and ``size_weights`` say how an order is thought to be split where its price depends on that;
    ``colours`` in how many colours it comes, for the minimum of each. ``lead_words`` say who says the days.
    """

    quote: Quote
    entry: Entry
    lead: LeadTimes
    cost_per_order_minor: float
    weight_grams: Fraction | None = None
    volume_cm3: Fraction | None = None
    sizes: tuple[str, ...] = ()
    size_weights: tuple[int, ...] = ()
    colours: int = 1
    lead_words: str = ""

    def order(self, quantity: int) -> OrderQuantities:
        """Return an order of so many pieces, by size where the price depends on sizes."""
        counts = spread(quantity, self.size_weights) if any(self.size_weights) else [quantity]
        names = self.sizes if any(self.size_weights) else ("",)
        lines = tuple(
            OrderLine(count, size=name, weight_grams=self.weight_grams, volume_cm3=self.volume_cm3)
            for name, count in zip(names, counts, strict=True)
            if count
        )
        return OrderQuantities(lines, with_sample=self.quote.sample_minor > 0)

    @property
    def is_priced_by_size(self) -> bool:
        """Whether what an order costs depends on how it is split over sizes."""
        return self.quote.break_scope == PER_SKU or any(group.sizes for group in self.quote.prices)

    @property
    def name(self) -> str:
        """What the offer is called."""
        return self.quote.name

    @property
    def is_domestic(self) -> bool:
        """Whether it can serve as a back-up: it crosses no border."""
        return self.quote.is_domestic


@dataclass(frozen=True)
class Study:
    """What is to be decided, and what is known about it.

    ``is_stock_known`` says whether the stock on hand was stated, so that none at all means none. ``unit`` is
    what quantities are counted in (mL, sheet, bottle); empty for pieces. ``name`` names it in messages: its
    file, or the goods of the book.
    """

    currency: str
    horizon_months: int
    today: datetime.date
    demand: Demand
    money: MoneyTerms
    limits: Limits
    offers: tuple[StudyOffer, ...]
    sku: str = ""
    need_by: datetime.date | None = None
    is_stock_known: bool = False
    remarks: tuple[str, ...] = ()
    unit: str = ""
    name: str = "the study"

    @property
    def weeks(self) -> int:
        """The horizon in weeks."""
        return max(1, round(self.horizon_months * WEEKS_PER_MONTH))

    @property
    def unit_words(self) -> str:
        """What quantities are counted in, of several: pieces, bottles, mL."""
        if not self.unit:
            return "pieces"
        return self.unit if self.unit in MEASURES else f"{self.unit}s"

    @property
    def of_one(self) -> str:
        """What a price is for: a piece, a bottle, per mL."""
        if self.unit in MEASURES:
            return f"per {self.unit}"
        return f"a {self.unit or 'piece'}"


def study_faults(study: Study) -> tuple[Problem, ...]:
    """Return what in a study contradicts itself, in words; nothing is refused silently later."""
    problems: list[Problem] = []
    money = study.money
    if not 0 <= money.salvage_fraction < 1:
        problems.append(
            Problem(
                "[money] salvage_fraction",
                f"a leftover would fetch {money.salvage_fraction:g} of its landed cost, so no quantity would "
                "ever be too large.",
                "Write what is lost for certain off: a fraction from 0 to below 1.",
            )
        )
    if not 0 < money.service_level < 1:
        problems.append(Problem("[money] service_level", "it must lie between 0 and 1, like 0.95."))
    if not study.offers:
        problems.append(
            Problem("[[offer]]", "there is no offer to compare.", "Write at least one [[offer]].")
        )
    names = [offer.name for offer in study.offers]
    problems += [
        Problem("[[offer]] name", f"'{name}' is the name of two offers.", "Give each its own.")
        for name in sorted({name for name in names if names.count(name) > 1})
    ]
    problems += [fault for offer in study.offers for fault in _offer_faults(study, offer)]
    return tuple(problems)


def _offer_faults(study: Study, offer: StudyOffer) -> list[Problem]:
    place, rules = f"[[offer]] {offer.name}", offer.quote.rules
    faults = []
    if rules.maximum and rules.maximum < least_quantity(rules):
        faults.append(
            Problem(
                place, f"its maximum {rules.maximum} is below its minimum, multiple or pack.", "Mend one."
            )
        )
    faults += _quantity_faults(offer, place)
    if rules.minimum_per_colour > 1 and rules.size_ratio and offer.colours > 1:
        faults.append(
            Problem(
                f"{place} size_ratio",
                "whole prepacks of several colours cannot hold a minimum of each colour.",
                "Study one colour at a time.",
            )
        )
    sizes = [size.name for size in study.demand.sizes]
    strange = [share.size for share in rules.size_ratio if share.size not in sizes]
    if strange and sizes != [""]:
        faults.append(
            Problem(
                f"{place} size_ratio",
                f"no share of demand is given for {', '.join(strange)}.",
                f"The sizes of [demand] are {', '.join(sizes)}: use the same names.",
            )
        )
    if any(group.sizes for group in offer.quote.prices) and sizes == [""]:
        faults.append(
            Problem(
                f"{place} prices",
                "they go by size, and [demand] tells no sizes apart.",
                "Give the share of each size: sizes = {S = 0.2, M = 0.8}.",
            )
        )
    if not 0 <= offer.quote.defects.rate < 1:
        faults.append(Problem(f"{place} defect_rate", "it must be at least 0 and below 1, like 0.02."))
    if not 0 <= offer.quote.deposit.fraction <= Fraction(1):
        faults.append(Problem(f"{place} deposit", "the fraction must lie between 0 and 1, like 0.3."))
    return faults + _measure_faults(offer, place)


def _quantity_faults(offer: StudyOffer, place: str) -> list[Problem]:
    """Return what the offer's own rules say against the quantity it fixes."""
    quantity, rules = offer.quote.quantity, offer.quote.rules
    if not quantity:
        return []
    least, step = least_quantity(rules), step_of(rules)
    words = []
    if quantity < least:
        words.append(f"it takes no order below {least}")
    if quantity % step:
        words.append(f"it sells by {step} only")
    if rules.maximum and quantity > rules.maximum:
        words.append(f"it sells at most {rules.maximum} at once")
    if not words:
        return []
    fault = f"{quantity} cannot be ordered: {' and '.join(words)}."
    return [
        Problem(f"{place} quantity", fault, "Change quantity, or leave it out to have the best one found.")
    ]


def _measure_faults(offer: StudyOffer, place: str) -> list[Problem]:
    """Return what freight by weight or measure lacks."""
    freight, what = offer.quote.freight, "the freight goes by it, and it is not given."
    by_weight = freight.per_kg_minor or freight.per_revenue_ton_minor
    by_volume = freight.per_revenue_ton_minor or (freight.per_kg_minor and freight.volumetric_cm3_per_kg)
    faults = []
    if by_weight and offer.weight_grams is None:
        faults.append(Problem(f"{place} weight_g", what, "Give the weight of a piece in grams."))
    if by_volume and offer.volume_cm3 is None:
        faults.append(
            Problem(f"{place} volume_cm3", what, "Give the volume of a piece in cubic centimetres.")
        )
    return faults

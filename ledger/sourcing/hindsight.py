"""A decision looked back at: what it expected, in figures to be kept, and what came instead."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from ledger.exact.quantity import MILLI
from ledger.exact.rounding import divide_round, round_fraction
from ledger.sourcing.decide import Decision
from ledger.sourcing.demand import DAYS_PER_WEEK, WEEKS_PER_MONTH, Demand
from ledger.sourcing.own_history import MONTH_DAYS, OwnHistory, days_without_stock

TEN_THOUSANDTHS = 10_000
"""What one unit costs is kept in ten-thousandths of a minor unit."""

TOLERANCE = 2.0
"""What came within so many standard deviations of what was expected is chance; our own rule."""

LEAST_DAYS = 28
"""Fewer days say nothing about a month's demand; our own rule."""

SAME_PART = Fraction(1, 10)
"""Quantities that differ by less than a tenth are the same answer; our own rule."""

TOO_EARLY, AS_EXPECTED, MORE, LESS = (
    "too early to say",
    "as expected",
    "more than expected",
    "less than expected",
)


@dataclass(frozen=True)
class Expected:
    """What a decision expects, in whole figures; None where the study does not give it.

    Money is in minor units, what one costs in ten-thousandths of them, days, weeks and demand in thousandths.
    ``offer`` is bought from: the order from afar, or the usual order at home.
    """

    is_from_afar: bool
    alternative: str
    offer: str
    quantity: int
    expected_saving: int | None
    standard_error: int | None
    cash_peak: int | None
    landed_unit_ten_thousandths: int | None
    sold_unit_ten_thousandths: int | None
    lead_time_days_milli: int | None
    demand_per_month_milli: int
    weeks_of_cover_milli: int | None
    home_offer: str
    home_unit_ten_thousandths: int | None


def expected_of(decision: Decision) -> Expected:
    """Return what a decision expects of what it says to do."""
    chosen, home = decision.verdict.chosen, decision.home
    is_far = chosen.quantity > 0
    plan = decision.bulk_plan if is_far else home
    home_unit = None if home is None or not home.order_quantity else home.curve.unit(home.order_quantity)
    per_week = decision.study.demand.per_week
    quantity = chosen.quantity if is_far else (home.order_quantity or 0) if home else 0
    cover = chosen.weeks_of_cover if is_far else quantity / per_week if per_week else None
    sold = chosen.cost_per_unit_sold if is_far else home.cost_per_unit_minor if home else None
    return Expected(
        is_from_afar=is_far,
        alternative=chosen.name,
        offer=chosen.offer_name if is_far else home.offer.name if home else "",
        quantity=quantity,
        expected_saving=_whole(chosen.expected_saving) if plan else None,
        standard_error=_whole(chosen.standard_error) if plan else None,
        cash_peak=_whole(chosen.cash_peak) if is_far else None,
        landed_unit_ten_thousandths=_whole(
            chosen.landed_unit_minor if is_far else home_unit, TEN_THOUSANDTHS
        ),
        sold_unit_ten_thousandths=_whole(sold, TEN_THOUSANDTHS),
        lead_time_days_milli=_whole(plan.lead_time_days, MILLI) if plan else None,
        demand_per_month_milli=_whole(decision.study.demand.per_month, MILLI) or 0,
        weeks_of_cover_milli=_whole(cover, MILLI),
        home_offer=home.offer.name if home else "",
        home_unit_ten_thousandths=_whole(home_unit, TEN_THOUSANDTHS),
    )


def _whole(value: float | None, scale: int = 1) -> int | None:
    """Return a figure in whole steps of a scale, a half away from zero; None for None and what has no end."""
    if value is None or not math.isfinite(value):
        return None
    return round_fraction(Fraction(value) * scale)


@dataclass(frozen=True)
class DemandSince:
    """What was wanted since a decision, against what it expected.

    Attributes:
        days: days of the book since then.
        months: the months in which there was stock to be wanted, a size by its share.
        left_milli: what left because somebody wanted it, in thousandths.
        per_month: that over a month with stock; None where there was none.
        low, high: what a month was expected to bring at least and most, chance allowed for.
        word: TOO_EARLY, AS_EXPECTED, MORE or LESS.
    """

    days: int
    months: Fraction
    left_milli: int
    per_month: Fraction | None
    low: float
    high: float
    word: str


def demand_since(belief: Demand, history: OwnHistory, days: int) -> DemandSince:
    """Return what was wanted since a decision whose study believed in ``belief``.

    ``history`` is of the days since only. What came is as expected where it lies within two standard
    deviations: of Poisson counts, of the rate that was only believed, and of a week's own ups and downs.

    Source: mean and variance of the negative binomial as a gamma mixture of Poisson counts (from memory);
    two standard deviations are our own rule.
    """
    without = days_without_stock(history) if history.sizes else (MONTH_DAYS,) * len(history.months)
    months = sum(((MONTH_DAYS - out) / MONTH_DAYS for out in without), Fraction(0))
    left = sum(sum(size.left_milli) for size in history.sizes)
    weeks = float(months) * WEEKS_PER_MONTH
    low, high = _range(belief, weeks) if weeks > 0 else (0.0, math.inf)
    if days < LEAST_DAYS or float(months) * float(MONTH_DAYS) < LEAST_DAYS / 2:
        word = TOO_EARLY
    else:
        came = left / MILLI
        word = MORE if came > high else LESS if came < low else AS_EXPECTED
    span = float(months) or 1.0
    per_month = Fraction(left, MILLI) / months if months > 0 else None
    return DemandSince(days, months, left, per_month, low / span, high / span, word)


def _range(belief: Demand, weeks: float) -> tuple[float, float]:
    """Return what so many weeks bring at least and most, two standard deviations from the mean."""
    mean = belief.per_week * weeks
    doubt = 0.0 if belief.is_rate_known or not math.isfinite(belief.rate.shape) else 1 / belief.rate.shape
    if belief.weekly_sd is not None:
        variance = belief.weekly_sd**2 * weeks + mean**2 * doubt
    else:
        variance = mean + mean**2 * (doubt + belief.weekly_variation / weeks)
    spread = TOLERANCE * math.sqrt(variance)
    return max(0.0, mean - spread), mean + spread


@dataclass(frozen=True)
class LotSince:
    """One lot that came because of a decision, as the book has it now; minor units and thousandths.

    Attributes:
        received_milli: good pieces that came.
        landed_minor: invoice and all charges, late ones too.
        on_hand_milli, on_hand_minor: what of it is on the shelf.
        wanted_milli: what of it was used, sold, given as a sample or taken for own use.
        sent_back_milli, credited_minor: what went back to the supplier, and what was credited for it.
    """

    received_milli: int
    landed_minor: int
    on_hand_milli: int
    on_hand_minor: int
    wanted_milli: int
    sent_back_milli: int = 0
    credited_minor: int = 0


@dataclass(frozen=True)
class SavingSoFar:
    """What a buy has saved so far against buying at home, in minor units; quantities in thousandths.

    ``home_minor`` is what buying at home would have cost what was wanted of it, ``gone_minor`` the landed
    cost of everything of it that left, wanted or not, less what a supplier credited. What is on the shelf
    has saved nothing yet.
    """

    received_milli: int
    landed_minor: int
    wanted_milli: int
    lost_milli: int
    on_hand_milli: int
    on_hand_minor: int
    credited_minor: int
    home_minor: int
    home_of_rest_minor: int

    @property
    def gone_minor(self) -> int:
        """The landed cost of what left, less what was credited."""
        return self.landed_minor - self.on_hand_minor - self.credited_minor

    @property
    def saved_minor(self) -> int:
        """What was saved so far; negative for a loss."""
        return self.home_minor - self.gone_minor

    @property
    def if_all_used_minor(self) -> int:
        """What it saves if everything on the shelf is wanted in the end."""
        return self.saved_minor + self.home_of_rest_minor - self.on_hand_minor

    @property
    def if_none_used_minor(self) -> int:
        """What it saves if nothing more of it is ever wanted and nothing is fetched for it."""
        return self.saved_minor - self.on_hand_minor


def saving_so_far(lots: tuple[LotSince, ...], home_unit_ten_thousandths: int) -> SavingSoFar:
    """Return what lots have saved so far, where one at home costs so many ten-thousandths of a minor unit.

    Landed cost is held against landed cost: shelf, capital and the work of ordering are in neither.

    >>> saving_so_far((LotSince(100_000, 20_000, 40_000, 8_000, 58_000),), 3_000_000).saved_minor
    5400

    58 of 100 were wanted, 2 were lost: 58 at 3.00 would have cost 174.00, the 60 that left cost 120.00.
    """
    received = sum(lot.received_milli for lot in lots)
    wanted = sum(lot.wanted_milli for lot in lots)
    on_hand = sum(lot.on_hand_milli for lot in lots)
    back = sum(lot.sent_back_milli for lot in lots)
    return SavingSoFar(
        received_milli=received,
        landed_minor=sum(lot.landed_minor for lot in lots),
        wanted_milli=wanted,
        lost_milli=received - wanted - on_hand - back,
        on_hand_milli=on_hand,
        on_hand_minor=sum(lot.on_hand_minor for lot in lots),
        credited_minor=sum(lot.credited_minor for lot in lots),
        home_minor=_at_home(wanted, home_unit_ten_thousandths),
        home_of_rest_minor=_at_home(on_hand, home_unit_ten_thousandths),
    )


def _at_home(milli: int, unit_ten_thousandths: int) -> int:
    return divide_round(milli * unit_ten_thousandths, MILLI * TEN_THOUSANDTHS)


def unit_ten_thousandths(minor: int, milli: int) -> int | None:
    """Return what one costs in ten-thousandths of a minor unit; None for none."""
    return divide_round(minor * MILLI * TEN_THOUSANDTHS, milli) if milli > 0 else None


def mean_days(days: tuple[int, ...]) -> Fraction | None:
    """Return the mean of days that orders took; None without any."""
    return Fraction(sum(days), len(days)) if days else None


def is_same_answer(verdict: str, offer: str, quantity: int, again: Decision) -> bool:
    """Return whether a decision made again says the same: verdict, offer, and the quantity to a tenth."""
    now = expected_of(again)
    return (
        verdict == again.verdict.word
        and offer == now.offer
        and abs(now.quantity - quantity) <= SAME_PART * max(quantity, now.quantity)
    )


def days_late(expected_milli: int | None, waited_days: int) -> int:
    """Return by how many whole days an order is later than expected; 0 where it is not, or none was."""
    if expected_milli is None:
        return 0
    return max(0, waited_days - -(-expected_milli // MILLI))


def weeks_passed(days: int) -> int:
    """Return the whole weeks in so many days."""
    return max(0, days) // DAYS_PER_WEEK

"""The saving of one fixed order as a function of one figure at a time, on the draws the decision was made on."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING

from ledger.sourcing.alternatives import Alternative
from ledger.sourcing.bulk import Bulk, left_minor, saving_of
from ledger.sourcing.chance import binomial
from ledger.sourcing.demand import DAYS_PER_WEEK, WEEKS_PER_YEAR
from ledger.sourcing.futures import Futures
from ledger.sourcing.offer_plan import CostCurve, arrival_weeks_of, pipeline_cost
from ledger.sourcing.simulate import CashPlan, Order, outcomes

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Numbers = NDArray[np.int64]

MOST_FEW, LEAST_FEW = 300, 100
FEW_CELLS = 60_000
"""Where demand has to be drawn anew, so many futures are that these cells of weeks and sizes hold them."""

MANY_CELLS = 1_000_000
"""Where the draws stay as they are, all futures are looked at again up to so many cells."""

MOST_DEFECTS = 0.99
_NOT_PAID_FOR = CashPlan((), (), 0.0)
_RATE_STEPS = 10**9


@dataclass(frozen=True)
class BentLine:
    """A saving that is linear in one figure on either side of a bend: the value at the bend, both slopes."""

    bend: float
    at_bend: float
    slope_below: float
    slope_above: float

    def at(self, value: float) -> float:
        """Return the saving at a value of the figure."""
        slope = self.slope_below if value < self.bend else self.slope_above
        return self.at_bend + (value - self.bend) * slope

    @property
    def root(self) -> float | None:
        """The value at which the saving is nothing, None where it never is."""
        if self.slope_below:
            found = self.bend - self.at_bend / self.slope_below
            if found <= self.bend:
                return found
        if self.slope_above:
            found = self.bend - self.at_bend / self.slope_above
            if found >= self.bend:
                return found
        return None


@dataclass(frozen=True)
class Changed:
    """A saving with one figure changed.

    ``standard_error`` is that of the change itself, where fewer futures than all were looked at; ``futures``
    how many.
    """

    saving: float
    futures: int
    standard_error: float = 0.0


class Lever:
    """The saving of a fixed order as a function of one figure at a time, on the same draws.

    What is drawn anew is drawn for some of the futures; the change in them is added to the saving in all.
    """

    def __init__(self, bulk: Bulk, held: Alternative, futures: Futures) -> None:
        self.bulk = bulk
        self.held = held
        few = min(MOST_FEW, max(LEAST_FEW, FEW_CELLS // (futures.weeks * futures.sizes)))
        self.few = (
            futures if futures.count <= few else Futures(futures.demand, futures.weeks, few, futures.seed)
        )
        cells = futures.count * futures.weeks * futures.sizes
        self.many = futures if cells <= MANY_CELLS else self.few
        self._by_week: dict[int, Floats] = {}

    def _line(self, now: float, bend: float | None, below: float, above: float) -> BentLine:
        """Return the line through the saving as it is, at the figure as it is."""
        bend = now if bend is None else bend
        slope = below if now < bend else above
        return BentLine(bend, self.held.expected_saving + slope * (bend - now), below, above)

    def landed(self) -> BentLine:
        """Return the saving by the landed cost of a good piece: linear, so no search is needed.

        It bends at the price at home, above which a leftover fetches no more.
        """
        bulk, held = self.bulk, self.held
        money, unit = bulk.study.money, bulk.curve.unit(held.quantity)
        good = held.expected_used + held.expected_left
        early = pipeline_cost(bulk.study, bulk.curve, held.quantity) / unit
        weeks = held.expected_held_weeks * money.capital_per_year / WEEKS_PER_YEAR
        fetched = money.salvage_fraction * held.expected_left
        slope = -weeks - good - early
        if bulk.domestic_minor is None:
            slope += held.expected_used + fetched
            return self._line(unit, None, slope, slope)
        return self._line(unit, bulk.domestic_minor, slope + fetched, slope)

    def domestic(self) -> BentLine:
        """Return the saving by the price at home (or the margin that is lost)."""
        bulk, used = self.bulk, self.held.expected_used
        now = bulk.used_minor(self.held.quantity)
        if bulk.domestic_minor is None:
            return self._line(now, None, used, used)
        fetched = bulk.study.money.salvage_fraction * self.held.expected_left
        return self._line(now, bulk.curve.unit(self.held.quantity), used + fetched, used)

    def capital(self) -> BentLine:
        """Return the saving by the yearly carrying rate."""
        bulk, held = self.bulk, self.held
        unit_study = replace(bulk.study, money=replace(bulk.study.money, capital_per_year=1.0))
        per_rate = bulk.curve.unit(held.quantity) * held.expected_held_weeks / WEEKS_PER_YEAR
        per_rate += pipeline_cost(unit_study, bulk.curve, held.quantity)
        return self._line(bulk.study.money.capital_per_year, None, -per_rate, -per_rate)

    def salvage(self) -> BentLine:
        """Return the saving by the fraction a leftover fetches."""
        unit = self.bulk.curve.unit(self.held.quantity)
        slope = left_minor(1.0, unit, self.bulk.domestic_minor) * self.held.expected_left
        return self._line(self.bulk.study.money.salvage_fraction, None, slope, slope)

    def at_demand(self, per_week: float) -> float:
        """Return the saving if demand were known to be so much a week, the order unchanged."""
        return self.changed_demand(per_week).saving

    def changed_demand(self, per_week: float) -> Changed:
        """Return the same with the error of the change."""
        return self._changed_in(self.at_known(per_week))

    def at_known(self, per_week: float) -> Futures | None:
        """Return futures in which demand is known to be so much a week; None for none at all."""
        if per_week <= 0:
            return None
        return Futures(self.few.demand.known(per_week), self.few.weeks, self.few.count, self.few.seed)

    def saving_in(self, futures: Futures | None) -> float:
        """Return the saving of the order in other futures; None stands for those without any demand."""
        return self._changed_in(futures).saving

    def _changed_in(self, futures: Futures | None) -> Changed:
        if futures is None:
            return Changed(self._unused(), self.few.count)
        return self._moved(self._savings(futures, self._arrival(futures)), self._few_as_they_are, self.few)

    def _moved(self, changed: Floats, before: Floats, futures: Futures) -> Changed:
        """Return the saving in all futures moved by the change in some."""
        count, change = len(before), changed - before
        mean = float(change.sum()) / count
        if count == self.held_count:
            return Changed(self.held.expected_saving + mean, count)
        variance = float(((change - mean) ** 2).sum()) / max(1, count - 1)
        return Changed(self.held.expected_saving + mean, futures.count, (variance / count) ** 0.5)

    @property
    def held_count(self) -> int:
        """How many futures the order itself was held against."""
        return self.few.count if self.held.savings is None else len(self.held.savings)

    def at_lead_time(self, days: float) -> float:
        """Return the saving if goods took so many days, the order unchanged; paying early costs accordingly."""
        return self.changed_lead_time(days).saving

    def changed_lead_time(self, days: float) -> Changed:
        """Return the same with the error of the change. Between two weeks the saving goes straight."""
        week = max(0.0, days / DAYS_PER_WEEK)
        first, part = math.floor(week), week % 1
        savings = self._at_week(first)
        if part:
            savings = (1 - part) * savings + part * self._at_week(first + 1)
        bulk, quantity = self.bulk, self.held.quantity
        later = pipeline_cost(bulk.study, bulk.curve, quantity, days)
        later -= pipeline_cost(bulk.study, bulk.curve, quantity)
        return self._moved(savings - later, self._many_as_they_are, self.many)

    def _at_week(self, week: int) -> Floats:
        """Return the savings of goods that arrive in that week in every future, paid as early as now."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

        week = min(week, self.many.weeks)
        if week not in self._by_week:
            self._by_week[week] = self._savings(self.many, np.full(self.many.count, week, dtype=np.int64))
        return self._by_week[week]

    @cached_property
    def _few_as_they_are(self) -> Floats:
        return self._savings(self.few, self._arrival(self.few))

    @cached_property
    def _many_as_they_are(self) -> Floats:
        if self.many is self.few:
            return self._few_as_they_are
        return self._savings(self.many, self._arrival(self.many))

    def _arrival(self, futures: Futures) -> Numbers:
        """Return the weeks of arrival in some futures."""
        return arrival_weeks_of(self.bulk.curve.offer.lead.days(futures.lead_chances()))

    def _savings(self, futures: Futures, arrival: Numbers) -> Floats:
        import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

        bulk, quantity = self.bulk, self.held.quantity
        values = bulk.values(quantity)
        split = np.array(self.held.quantities, dtype=np.int64)
        order = Order(split, float(bulk.curve.offer.quote.defects.rate), arrival)
        found = outcomes(futures, order, _NOT_PAID_FOR)
        savings: Floats = values.used_minor * found.used + values.left_minor * found.left
        return savings - values.week_minor * found.held_weeks - bulk.fixed_minor(quantity)

    def _unused(self) -> float:
        """Return the saving where nothing is asked for at all."""
        bulk, quantity = self.bulk, self.held.quantity
        values, arrival = bulk.values(quantity), self._arrival(self.few)
        good = self.held.expected_used + self.held.expected_left
        weeks = good * float(self.few.weeks - arrival.clip(0, self.few.weeks).mean())
        return saving_of(values, 0.0, good, weeks) - bulk.fixed_minor(quantity)

    def at_defects(self, rate: float) -> float:
        """Return the saving of the same order if that fraction of it were bad, in all futures.

        What becomes of each good piece is known from the curves, so that nothing is drawn anew; how many are
        good is binomial.
        """
        now = float(self.bulk.curve.offer.quote.defects.rate)
        return self.held.expected_saving + self._by_curves(rate) - self._by_curves(now)

    def _by_curves(self, rate: float) -> float:
        """Return the saving at a defect rate by the curves."""
        bulk, quantity = self.bulk, self.held.quantity
        offer, quote = bulk.curve.offer, bulk.curve.offer.quote
        defects = replace(quote.defects, rate=Fraction(round(rate * _RATE_STEPS), _RATE_STEPS))
        curve = CostCurve(replace(offer, quote=replace(quote, defects=defects)))
        changed = replace(bulk, curve=curve)
        used, weeks, good = self._pieces(rate)
        saving = saving_of(changed.values(quantity), used, good - used, weeks)
        return float(saving - changed.fixed_minor(quantity))

    def _pieces(self, rate: float) -> Floats:
        """Return how many pieces of the order are used, their weeks on the shelf, and how many are good."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

        curves = self.bulk.curves.padded(max(self.held.quantities))
        total = np.zeros(3)
        for size, quantity in enumerate(self.held.quantities):
            if not quantity:
                continue
            pieces = np.arange(quantity + 1.0)
            sums = [
                np.concatenate(([0.0], np.cumsum(row[size, :quantity])))
                for row in (curves.used, curves.held_weeks)
            ]
            if self.few.is_single:
                total += [float(np.interp(quantity * (1 - rate), pieces, each)) for each in (*sums, pieces)]
            else:
                chances = binomial(quantity, 1 - rate)
                total += [float((chances * each).sum()) for each in (*sums, pieces)]
        return total

"""What would have to change for the answer to flip: break-even points and a tornado on the same draws."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ledger.sourcing.alternatives import Alternative, Bulk, assortment_for, cash_plan, saving_of
from ledger.sourcing.chance import gamma_quantiles
from ledger.sourcing.demand import DAYS_PER_WEEK, WEEKS_PER_MONTH, WEEKS_PER_YEAR
from ledger.sourcing.futures import Futures
from ledger.sourcing.offer_plan import pipeline_cost, weeks_until
from ledger.sourcing.simulate import Order, outcomes

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Numbers = NDArray[np.int64]

LOW, HIGH = 0.1, 0.9
SWING = 0.1
"""How far a price is moved in the tornado, up and down: a tenth."""

CAPITAL_SWING = 0.05
"""How far the yearly carrying rate is moved: five points."""

SALVAGE_SWING = 0.25
MOST_FEW, LEAST_FEW = 300, 100
FEW_CELLS = 60_000
"""The tornado looks at so many futures that these cells of weeks and sizes hold them, within bounds."""

STEPS = 18

DEMAND, LEAD_TIME = "demand per month", "lead time in days"
LANDED, DOMESTIC_PRICE = "landed unit cost", "domestic unit price"
CAPITAL, SALVAGE = "capital per year", "salvage fraction"


@dataclass(frozen=True)
class Swing:
    """One line of the tornado: an assumption's low and high value, the saving there, and where it is 0.

    Savings are in minor units; values of money too. ``is_doubt`` is true where low and high are the
    10 and 90 % points of what is believed, false where they only ask 'what if'.
    """

    assumption: str
    low: float
    high: float
    saving_low: float
    saving_high: float
    flips_at: float | None
    is_doubt: bool = False

    @property
    def flips_within(self) -> bool:
        """Whether the saving changes its sign between low and high."""
        return min(self.saving_low, self.saving_high) < 0 < max(self.saving_low, self.saving_high)

    @property
    def width(self) -> float:
        """How far the saving moves."""
        return abs(self.saving_high - self.saving_low)


@dataclass(frozen=True)
class _Line:
    """A saving that is linear in one figure: value at zero and slope."""

    at_zero: float
    slope: float

    def at(self, value: float) -> float:
        return self.at_zero + self.slope * value

    @property
    def root(self) -> float | None:
        return -self.at_zero / self.slope if self.slope else None


class Lever:
    """The saving of a fixed order as a function of one figure at a time, on the same draws."""

    def __init__(self, bulk: Bulk, held: Alternative, futures: Futures) -> None:
        self.bulk = bulk
        self.held = held
        few = min(MOST_FEW, max(LEAST_FEW, FEW_CELLS // (futures.weeks * futures.sizes)))
        self.few = (
            futures if futures.count <= few else Futures(futures.demand, futures.weeks, few, futures.seed)
        )

    def landed(self) -> _Line:
        """Return the saving by the landed cost of a good piece: linear, so no search is needed."""
        bulk, held = self.bulk, self.held
        money, unit = bulk.study.money, bulk.curve.unit(held.quantity)
        good = held.expected_used + held.expected_left
        early = pipeline_cost(bulk.study, bulk.curve, held.quantity) / unit
        weeks = held.expected_held_weeks * money.capital_per_year / WEEKS_PER_YEAR
        slope = money.salvage_fraction * held.expected_left - weeks - good - early
        if bulk.domestic_minor is None:
            slope += held.expected_used
        return _Line(held.expected_saving - slope * unit, slope)

    def domestic(self) -> _Line:
        """Return the saving by the price at home (or the margin that is lost)."""
        used = self.held.expected_used
        now = self.bulk.used_minor(self.held.quantity)
        return _Line(self.held.expected_saving - used * now, used)

    def capital(self) -> _Line:
        """Return the saving by the yearly carrying rate."""
        bulk, held = self.bulk, self.held
        rate = bulk.study.money.capital_per_year
        unit_study = replace(bulk.study, money=replace(bulk.study.money, capital_per_year=1.0))
        per_rate = bulk.curve.unit(held.quantity) * held.expected_held_weeks / WEEKS_PER_YEAR
        per_rate += pipeline_cost(unit_study, bulk.curve, held.quantity)
        return _Line(held.expected_saving + per_rate * rate, -per_rate)

    def salvage(self) -> _Line:
        """Return the saving by the fraction a leftover fetches."""
        slope = self.bulk.curve.unit(self.held.quantity) * self.held.expected_left
        return _Line(self.held.expected_saving - slope * self.bulk.study.money.salvage_fraction, slope)

    def at_demand(self, per_week: float) -> float:
        """Return the saving if demand were known to be so much a week, the order unchanged."""
        if per_week <= 0:
            return self._with(self.few, self.few_arrival(), used_nothing=True)
        demand = self.few.demand.known(per_week)
        futures = Futures(demand, self.few.weeks, self.few.count, self.few.seed)
        return self._with(futures, self.few_arrival())

    def at_lead_time(self, days: float) -> float:
        """Return the saving if goods took so many days, the order unchanged."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

        return self._with(self.few, np.full(self.few.count, weeks_until(days), dtype=np.int64))

    def few_arrival(self) -> Numbers:
        """Return the weeks of arrival in the futures that are used here."""
        import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

        days = self.bulk.curve.offer.lead.days(self.few.lead_chances())
        found: Numbers = np.ceil(days / DAYS_PER_WEEK - 1e-9).astype(np.int64)
        return found

    def _with(self, futures: Futures, arrival: Numbers, *, used_nothing: bool = False) -> float:
        bulk, quantity = self.bulk, self.held.quantity
        values = bulk.values(quantity)
        if used_nothing:
            good = self.held.expected_used + self.held.expected_left
            weeks = good * float(futures.weeks - arrival.clip(0, futures.weeks).mean())
            return saving_of(values, 0.0, good, weeks) - bulk.fixed_minor(quantity)
        import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

        split = np.array(self.held.quantities, dtype=np.int64)
        order = Order(split, float(bulk.curve.offer.quote.defects.rate), arrival)
        plan = replace(cash_plan(bulk, quantity, values.used_minor), paid_minor=(), paid_weeks=())
        found = outcomes(futures, order, plan)
        used, left, weeks = (
            float(each.sum()) / futures.count for each in (found.used, found.left, found.held_weeks)
        )
        return saving_of(values, used, left, weeks) - bulk.fixed_minor(quantity)


def zero_of(function: Callable[[float], float], low: float, high: float) -> float | None:
    """Return where a function that changes its sign once is 0, None where it does not; bisection."""
    at_low, at_high = function(low), function(high)
    if at_low == 0:
        return low
    if at_low * at_high > 0:
        return None
    for _ in range(STEPS):
        # The secant's guess, kept off the ends, closes in faster than halving and never leaves the bracket.
        guess = low + (high - low) * min(0.9, max(0.1, at_low / (at_low - at_high)))
        value = function(guess)
        if value * at_low > 0:
            low, at_low = guess, value
        else:
            high, at_high = guess, value
        if high - low <= _CLOSE * max(abs(high), 1e-9):
            break
    return (low + high) / 2


_CLOSE = 2e-3


def tornado(lever: Lever) -> tuple[Swing, ...]:
    """Return how the saving of an order moves with each assumption alone, the widest swing first."""
    bulk = lever.bulk
    unit = bulk.curve.unit(lever.held.quantity)
    price, rate = bulk.used_minor(lever.held.quantity), bulk.study.money.capital_per_year
    salvage = bulk.study.money.salvage_fraction
    lines = [
        _linear(LANDED, lever.landed(), unit * (1 - SWING), unit * (1 + SWING)),
        _linear(DOMESTIC_PRICE, lever.domestic(), price * (1 - SWING), price * (1 + SWING)),
        _linear(CAPITAL, lever.capital(), max(0.0, rate - CAPITAL_SWING), rate + CAPITAL_SWING),
        _linear(
            SALVAGE, lever.salvage(), max(0.0, salvage - SALVAGE_SWING), min(0.99, salvage + SALVAGE_SWING)
        ),
        demand_swing(lever),
        _lead_swing(lever),
    ]
    return tuple(sorted((line for line in lines if line is not None), key=lambda line: -line.width))


def _linear(name: str, line: _Line, low: float, high: float) -> Swing:
    root = line.root
    if root is not None and (root < 0 or (name == SALVAGE and root >= 1)):
        root = None
    return Swing(name, low, high, line.at(low), line.at(high), root)


def demand_range(bulk: Bulk) -> tuple[float, float]:
    """Return demand per week at the 10 and 90 % points of what is believed, or a tenth less and more."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    demand = bulk.study.demand
    if demand.is_rate_known:
        return demand.per_week * (1 - SWING), demand.per_week * (1 + SWING)
    low, high = gamma_quantiles(demand.rate.shape, np.array([LOW, HIGH])) / demand.rate.rate
    return float(low), float(high)


def demand_swing(lever: Lever) -> Swing:
    """Return the line of demand; values are per month."""
    low, high = demand_range(lever.bulk)
    at_low, at_high = lever.at_demand(low), lever.at_demand(high)
    if at_low < 0 < at_high:
        flips = zero_of(lever.at_demand, low, high)
    elif at_low >= 0:
        flips = zero_of(lever.at_demand, 0.0, low)
    else:
        flips = zero_of(lever.at_demand, high, 8 * high)
    per_month = WEEKS_PER_MONTH
    return Swing(
        DEMAND,
        low * per_month,
        high * per_month,
        at_low,
        at_high,
        None if flips is None else flips * per_month,
        is_doubt=not lever.bulk.study.demand.is_rate_known,
    )


def _lead_swing(lever: Lever) -> Swing:
    """Return the line of the lead time: its 10 and 90 % points, or a week less and more where it is certain."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    lead = lever.bulk.curve.offer.lead
    if lead.is_certain:
        days = lead.mean_total()
        low, high = max(0.0, days - DAYS_PER_WEEK), days + DAYS_PER_WEEK
    else:
        low, high = (float(each) for each in lead.days(np.array([LOW, HIGH])))
    at_low, at_high = lever.at_lead_time(low), lever.at_lead_time(high)
    flips = None
    if at_low > 0:
        flips = zero_of(lever.at_lead_time, low, float(lever.few.weeks * DAYS_PER_WEEK))
    return Swing(LEAD_TIME, low, high, at_low, at_high, flips, is_doubt=not lead.is_certain)


@dataclass(frozen=True)
class BreakEven:
    """Where the saving of the order is 0; money per piece in minor units; None where it never is."""

    units_per_month: float | None
    landed_unit_minor: float | None
    domestic_unit_minor: float | None
    quantity_from: int | None
    quantity_to: int | None


def break_even(lever: Lever, swings: tuple[Swing, ...]) -> BreakEven:
    """Return the switch points of an order; those of money exactly, for the saving is linear in them."""
    by_name = {swing.assumption: swing.flips_at for swing in swings}
    first, last = paying_quantities(lever.bulk, lever.held.quantity)
    return BreakEven(by_name.get(DEMAND), by_name.get(LANDED), by_name.get(DOMESTIC_PRICE), first, last)


def paying_quantities(bulk: Bulk, best: int) -> tuple[int | None, int | None]:
    """Return the smallest and the largest allowed quantity whose expected saving is above 0."""
    assortment = assortment_for(bulk, best)
    allowed = bulk.curve.allowed()

    def pays(quantity: int) -> bool:
        return bulk.expected_saving(assortment, quantity) > 0

    if not pays(best):
        return None, None
    step = allowed.multiple
    lowest = allowed.up(1) or best
    low, high = (lowest // step) - 1, best // step
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if pays(middle * step) else (middle, high)
    first = high * step
    furthest = (allowed.down(assortment.most) or best) // step
    low, high = best // step, furthest + 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if pays(middle * step) else (low, middle)
    return first, low * step

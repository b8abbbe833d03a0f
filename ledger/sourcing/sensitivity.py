"""What would have to change for the answer to flip: break-even points and a tornado on the same draws."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ledger.sourcing.bulk import Bulk, assortment_for, unfixed_quantity
from ledger.sourcing.chance import gamma_quantiles
from ledger.sourcing.demand import DAYS_PER_WEEK, WEEKS_PER_MONTH
from ledger.sourcing.lever import MOST_DEFECTS, BentLine, Changed, Lever

LOW, HIGH = 0.1, 0.9
SWING = 0.1
"""How far a price is moved in the tornado, up and down: a tenth."""

CAPITAL_SWING = 0.05
"""How far the yearly carrying rate is moved: five points."""

SALVAGE_SWING = 0.25
STEPS = 18

DEMAND, LEAD_TIME = "demand per month", "lead time in days"
LANDED, DOMESTIC_PRICE = "landed unit cost", "domestic unit price"
CAPITAL, SALVAGE = "capital per year", "salvage fraction"


@dataclass(frozen=True)
class Swing:
    """One line of the tornado: an assumption's low and high value, the saving there, and where it is 0.

    Savings are in minor units; values of money too. ``is_doubt`` is true where low and high are the
    10 and 90% points of what is believed, false where they only ask 'what if'. Where only some of the
    futures were looked at ``futures`` says how many, and ``standard_error`` how sure the change is then.
    """

    assumption: str
    low: float
    high: float
    saving_low: float
    saving_high: float
    flips_at: float | None
    is_doubt: bool = False
    futures: int = 0
    standard_error: float = 0.0

    @property
    def flips_within(self) -> bool:
        """Whether the saving changes its sign between low and high."""
        return min(self.saving_low, self.saving_high) < 0 < max(self.saving_low, self.saving_high)

    @property
    def width(self) -> float:
        """How far the saving moves."""
        return abs(self.saving_high - self.saving_low)


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


def _linear(name: str, line: BentLine, low: float, high: float) -> Swing:
    root = line.root
    if root is not None and (root < 0 or (name == SALVAGE and root >= 1)):
        root = None
    return Swing(name, low, high, line.at(low), line.at(high), root)


def demand_range(bulk: Bulk) -> tuple[float, float]:
    """Return demand per week at the 10 and 90% points of what is believed, or a tenth less and more."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    demand = bulk.study.demand
    if demand.is_rate_known:
        return demand.per_week * (1 - SWING), demand.per_week * (1 + SWING)
    low, high = gamma_quantiles(demand.rate.shape, np.array([LOW, HIGH])) / demand.rate.rate
    return float(low), float(high)


def demand_swing(lever: Lever) -> Swing:
    """Return the line of demand; values are per month."""
    low, high = demand_range(lever.bulk)
    changed = lever.changed_demand(low), lever.changed_demand(high)
    at_low, at_high = (each.saving for each in changed)
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
        futures=changed[0].futures,
        standard_error=_error(changed),
    )


def _error(changed: tuple[Changed, Changed]) -> float:
    return max(each.standard_error for each in changed)


def _lead_swing(lever: Lever) -> Swing:
    """Return the line of the lead time: its 10 and 90% points, or a week less and more where it is certain."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a simulation)

    lead = lever.bulk.curve.offer.lead
    if lead.is_certain:
        days = lead.mean_total()
        low, high = max(0.0, days - DAYS_PER_WEEK), days + DAYS_PER_WEEK
    else:
        low, high = (float(each) for each in lead.days(np.array([LOW, HIGH])))
    changed = lever.changed_lead_time(low), lever.changed_lead_time(high)
    at_low, at_high = (each.saving for each in changed)
    flips = None
    if at_low > 0:
        flips = zero_of(lever.at_lead_time, low, float(lever.few.weeks * DAYS_PER_WEEK))
    return Swing(
        LEAD_TIME,
        low,
        high,
        at_low,
        at_high,
        flips,
        is_doubt=not lead.is_certain,
        futures=changed[0].futures,
        standard_error=_error(changed),
    )


def most_defects(lever: Lever) -> float | None:
    """Return the fraction of bad pieces at which the order saves nothing; None where none does or already as it is."""
    now = float(lever.bulk.curve.offer.quote.defects.rate)
    if lever.at_defects(now) <= 0:
        return None
    return zero_of(lever.at_defects, now, MOST_DEFECTS)


@dataclass(frozen=True)
class BreakEven:
    """Where the saving of the order is 0; money per piece in minor units; None where it never is.

    ``quantity_to`` is None beside a ``quantity_from`` where no larger quantity stops paying. Where the study fixes
    a quantity that does not pay, the paying quantities are those around the offer's best one.
    """

    units_per_month: float | None
    landed_unit_minor: float | None
    domestic_unit_minor: float | None
    quantity_from: int | None
    quantity_to: int | None


def break_even(lever: Lever, swings: tuple[Swing, ...]) -> BreakEven:
    """Return the switch points of an order; those of money exactly, for the saving is linear in them."""
    by_name = {swing.assumption: swing.flips_at for swing in swings}
    first, last = paying_quantities(lever.bulk, lever.held.quantity)
    if first is None and lever.bulk.curve.offer.quote.quantity:
        # The quantity was fixed by the study; the offer may pay at another.
        first, last = paying_quantities(lever.bulk, unfixed_quantity(lever.bulk) or lever.held.quantity)
    return BreakEven(by_name.get(DEMAND), by_name.get(LANDED), by_name.get(DOMESTIC_PRICE), first, last)


MOST_QUANTITY = 2**30
"""Beyond so many pieces no end of paying quantities is looked for."""


def paying_quantities(bulk: Bulk, best: int) -> tuple[int | None, int | None]:
    """Return the smallest and the largest allowed quantity around ``best`` whose expected saving is above 0.

    Between two bends of the cost the saving is concave, so that what pays there is one stretch; the stretches
    that join that of ``best`` are followed to their end, also beyond what any future uses. Both are None where
    ``best`` does not pay itself; the second is None where paying has no end.
    """
    assortment, allowed = assortment_for(bulk, best), bulk.curve.allowed()

    def pays(quantity: int) -> bool:
        return bulk.expected_saving(assortment, quantity) > 0

    if not pays(best):
        return None, None
    step, lowest = allowed.multiple, allowed.up(1) or best
    most = allowed.down(min(allowed.maximum or MOST_QUANTITY, MOST_QUANTITY)) or best
    top = best
    while top < most and pays(top):
        top = min(most, 2 * top)
    bends = sorted({first for each in bulk.curve.bends(top) if (first := allowed.up(each)) is not None})
    down = [place for each in reversed(bends) if each <= best for place in (each, each - step)]
    up = [place for each in bends if best < each <= top for place in (each - step, each)]
    first = _edge(pays, best, [*(each for each in down if each > lowest), lowest], step)
    last = _edge(pays, best, [*up, top], step)
    return first, None if last == MOST_QUANTITY // step * step else last


def _edge(pays: Callable[[int], bool], best: int, places: list[int], step: int) -> int:
    """Return the last quantity that pays on the way through the places, which come one behind the other."""
    good = best
    for place in places:
        if pays(place):
            good = place
            continue
        bad = place
        while abs(bad - good) > step:
            middle = (good + bad) // 2 // step * step
            if middle in {good, bad}:
                break
            good, bad = (middle, bad) if pays(middle) else (good, middle)
        return good
    return good

"""The stock at which to order an item: from how it was used and how long orders take, by draws and by formula."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from ledger.exact.quantity import MILLI
from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.reorder import LeadDemand, demand_over_lead_time, reorder_point, z_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

HORIZON_DAYS = 400
"""How far ahead it is looked for the day on which to order."""

DRAWS = 1000
SEED = 20_260_101
CHANCES = 20
"""Draws of demand for a reorder point, their seed, and quantiles of a lead time for each day of a calendar."""


@dataclass(frozen=True)
class Use:
    """What the shop's records say about the use of an item.

    Attributes:
        days: days on which it was there to be used; 0 where it never was.
        times: days on which some was used.
        left_milli: what was used in all, net of what came back, in thousandths.
        sd_milli: the standard deviation of what was used at a time, in thousandths.
    """

    days: int = 0
    times: int = 0
    left_milli: int = 0
    sd_milli: float = 0.0

    @property
    def per_day(self) -> float:
        """Base units a day; 0 where none was ever used."""
        return (
            self.left_milli / MILLI / self.days if self.times and self.days and self.left_milli > 0 else 0.0
        )


@dataclass(frozen=True, eq=False)
class LeadByDay:
    """Mean and standard deviation of the days an order takes, by how many days from today it is placed."""

    mean: Floats
    sd: Floats

    def on(self, day: int) -> LeadMoments:
        """Return them for an order placed so many days from today, 0 to the horizon."""
        return LeadMoments(float(self.mean[day]), float(self.sd[day]))


@dataclass(frozen=True)
class LeadMoments:
    """Mean and standard deviation of the days an order takes."""

    mean_days: float
    sd_days: float


@lru_cache(maxsize=256)
def lead_calendar(lead: LeadTimes) -> LeadByDay:
    """Return the days orders take, placed today and on each day of the horizon, closures included."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a plan)

    count = HORIZON_DAYS + 1
    chances = (np.arange(CHANCES) + 0.5) / CHANCES
    if lead.closures.are_none and not lead.working_days:
        plain = lead.days(chances)
        return LeadByDay(np.full(count, plain.mean()), np.full(count, plain.std()))
    begins = np.repeat(np.arange(count, dtype=float), CHANCES)
    days = lead.days(np.tile(chances, count), begins).reshape(count, CHANCES)
    return LeadByDay(days.mean(axis=1), days.std(axis=1))


@lru_cache(maxsize=256)
def _drawn_days(lead: LeadTimes) -> Floats:
    """Return drawn days of an order placed today, in an order of chance."""
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a plan)

    chances = (np.arange(DRAWS) + 0.5) / DRAWS
    return np.random.default_rng(SEED).permutation(lead.days(chances))


@dataclass(frozen=True)
class ReorderPoints:
    """The stock at which to order, in base units: by draws, and by the formula."""

    simulated: float
    formula: float


@lru_cache(maxsize=4096)
def reorder_points(use: Use, lead: LeadTimes, service_level: float) -> ReorderPoints:
    """Return the stock at which to order today: by simulation, and by the formula on a normal tail.

    Use is drawn as times of use (Poisson, at a rate known from the times seen: gamma) of a size that varies
    as it did (gamma), over the drawn lead time. The same draws serve every item.

    Source: a compound Poisson demand; simulated because the normal tail fails where lead times vary
    (Chopra, Reinhardt & Dada, Decision Sciences 35(1), 2004); the formula as in ``reorder``.
    """
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a plan)

    stream = np.random.default_rng(SEED + 1)
    size, sd = use.left_milli / MILLI / use.times, use.sd_milli / MILLI
    rate = stream.standard_gamma(use.times, DRAWS) / use.days
    times = stream.poisson(rate * _drawn_days(lead))
    wanted = times * size
    # A spread of less than a thousandth of the size is none.
    if sd > size / 1000:
        shape = (size / sd) ** 2
        wanted = stream.standard_gamma(times * shape) * (size / shape)
    place = max(0, math.ceil(service_level * DRAWS - 1e-9) - 1)
    simulated = float(np.partition(wanted, place)[place])
    over = formula_of(use, lead_calendar(lead).on(0), service_level)
    return ReorderPoints(simulated, over.reorder_at)


@dataclass(frozen=True)
class Formula:
    """The formula of a reorder point with all that goes into it, in base units and days.

    Attributes:
        per_day: mean use of a day.
        lead_days, lead_sd_days: mean and standard deviation of the lead time.
        day_sd: the standard deviation of a day's use: uses a day, and how their size varies.
        times: how often it was used, for the doubt about the rate.
        z: how many standard deviations the chance asks for.
    """

    per_day: float
    lead_days: float
    lead_sd_days: float
    day_sd: float
    times: int
    z: float

    @property
    def mean(self) -> float:
        """Use while an order is under way."""
        return self.per_day * self.lead_days

    @property
    def sd(self) -> float:
        """Its standard deviation, the doubt about the rate included."""
        over = demand_over_lead_time(self.per_day, self.day_sd, self.lead_days, self.lead_sd_days)
        return math.hypot(over.sd, over.mean / math.sqrt(self.times))

    @property
    def reorder_at(self) -> float:
        """The stock at which to order."""
        return reorder_point(LeadDemand(self.mean, self.sd), self.z)


def formula_of(use: Use, lead: LeadMoments, service_level: float) -> Formula:
    """Return the formula of a reorder point for an item that was used.

    Source: Chopra & Meindl, chapter 12; a day's use as a compound Poisson; the doubt about the rate is ours.
    """
    size, sd = use.left_milli / MILLI / use.times, use.sd_milli / MILLI
    day_sd = math.sqrt(use.times / use.days * (size**2 + sd**2))
    return Formula(use.per_day, lead.mean_days, lead.sd_days, day_sd, use.times, z_of(service_level))


def by_day(use: Use, lead: LeadByDay, today_at: float) -> Floats:
    """Return the reorder point for orders of each day of the horizon.

    The simulated safety stock of today grows and shrinks with the formula's standard deviation. Our own rule.
    """
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a plan)

    size, sd = use.left_milli / MILLI / use.times, use.sd_milli / MILLI
    variance = use.times / use.days * (size**2 + sd**2)
    means = use.per_day * lead.mean
    spread = np.sqrt(lead.mean * variance + (use.per_day * lead.sd) ** 2 + means**2 / use.times)
    scale = spread / spread[0] if spread[0] > 0 else np.ones_like(spread)
    found: Floats = means + (today_at - means[0]) * scale
    return found

"""Whether an item has to be ordered, and by when: its use, what is there, what comes, what expires."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
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

WHOLE_UNITS = ("each", "sheet")


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


@dataclass(frozen=True)
class Batch:
    """What is left of a lot, in thousandths, and the last day it can be used; None where it keeps."""

    quantity_milli: int
    expires_on: datetime.date | None = None


@dataclass(frozen=True)
class Coming:
    """What an order still brings, in thousandths; ``on`` is the day it is expected, None where nobody knows."""

    order: int
    quantity_milli: int
    on: datetime.date | None = None


@dataclass(frozen=True)
class Stocked:
    """One item as it stands.

    ``short_milli`` is what was used and is not entered yet; ``shelf_life_days`` how long a new one keeps.
    """

    sku: str
    name: str
    kind: str
    unit: str
    use: Use = Use()
    batches: tuple[Batch, ...] = ()
    short_milli: int = 0
    coming: tuple[Coming, ...] = ()
    shelf_life_days: int | None = None

    @property
    def on_hand_milli(self) -> int:
        """What is on the shelf, expired or not, less what is short."""
        return sum(batch.quantity_milli for batch in self.batches) - self.short_milli

    @property
    def coming_milli(self) -> int:
        """What is ordered and has not arrived."""
        return sum(each.quantity_milli for each in self.coming)

    @property
    def is_whole(self) -> bool:
        """Whether there are only whole ones of it."""
        return self.unit in WHOLE_UNITS


@dataclass(frozen=True)
class Lost:
    """What will expire, or has, before it is used, in base units."""

    quantity: float
    expires_on: datetime.date


@dataclass(frozen=True)
class Outlook:
    """When an item has to be ordered under a lead time; quantities in base units.

    Attributes:
        per_day: mean use of a day.
        usable: what is on the shelf and will be used before it expires; below 0 where it is short.
        lost: what will not.
        lead_days: mean days until an order placed today is there.
        reorder_at: the stock at which to order today, by the simulated quantile.
        formula_reorder_at: what the formula on a normal tail says.
        lasts_until: the day on which what is there and comes in time is used up; None where nothing is used.
        order_by: the last day to order on; None where nothing has to be ordered within the horizon.
        is_late: whether less is there already than an order placed today needs.
        runs_out_first: whether it is expected to run out before an order placed today is there.
        waits_for: what is under way, but comes only when the stock is used up, later than an order placed
            today would.
    """

    per_day: float
    usable: float
    lost: tuple[Lost, ...] = ()
    lead_days: float = 0.0
    reorder_at: float = 0.0
    formula_reorder_at: float = 0.0
    lasts_until: datetime.date | None = None
    order_by: datetime.date | None = None
    is_late: bool = False
    runs_out_first: bool = False
    waits_for: tuple[Coming, ...] = ()


def usable_of(item: Stocked, today: datetime.date) -> Outlook:
    """Return what of an item's stock will be used before it expires, and what will not.

    The lot that expires first is used first, at the mean use of a day. Source: our own rule.
    """
    per_day, used, usable = item.use.per_day, 0.0, -item.short_milli / MILLI
    lost = []
    batches = sorted(item.batches, key=lambda batch: batch.expires_on or datetime.date.max)
    for batch in batches:
        there = batch.quantity_milli / MILLI
        if batch.expires_on is None:
            usable += there
            continue
        days = max(0, (batch.expires_on - today).days + (1 if batch.expires_on >= today else 0))
        # Nothing is used of an item without history, so only what has expired is lost of it.
        room = max(0.0, per_day * days - used) if per_day or not days else there
        kept = min(there, room)
        used, usable = used + kept, usable + kept
        if there - kept > _LEAST:
            lost.append(Lost(there - kept, batch.expires_on))
    return Outlook(per_day, usable, tuple(lost))


_LEAST = 1 / MILLI / 2
_NEARLY = 1e-6


def outlook(item: Stocked, lead: LeadTimes, service_level: float, today: datetime.date) -> Outlook:
    """Return when an item has to be ordered so that it is there in time.

    An order is due on the last day on which stock, and what comes before that order would, is not below
    the reorder point; closures make the lead time, and so that point, larger for orders before them.

    Args:
        item: as it stands on ``today``.
        lead: the lead time of an order; its start must be ``today``.
        service_level: the chance, between 0 and 1, that it does not run out until the order is there.
        today: the day of the plan.

    Source: continuous review, Chopra & Meindl, chapter 12, on the simulated quantile; our own rule for the
    calendar.
    """
    import numpy as np  # noqa: PLC0415  (slow, and only needed for a plan)

    found = usable_of(item, today)
    lead_by_day = lead_calendar(lead)
    if not found.per_day:
        return replace(found, lead_days=float(lead_by_day.mean[0]))
    at = reorder_points(item.use, lead, service_level)
    today_at, points = at.simulated, _by_day(item.use, lead_by_day, at.simulated)
    days = np.arange(HORIZON_DAYS + 1)
    comes = [(0 if each.on is None else max(0, (each.on - today).days), each) for each in item.coming]
    stock = found.usable - found.per_day * days
    mean = float(lead_by_day.mean[0])
    waits_for = _too_late(found, comes, mean)
    for day, each in comes:
        counts = day <= days + np.ceil(lead_by_day.mean - _NEARLY) if each in waits_for else True
        stock += (each.quantity_milli / MILLI) * counts
    below = np.nonzero(stock < points - 1e-9)[0]
    due = int(below[0]) if len(below) else None
    return replace(
        found,
        lead_days=mean,
        reorder_at=today_at,
        formula_reorder_at=at.formula,
        lasts_until=_lasts_until(found, comes, today),
        order_by=None if due is None else today + datetime.timedelta(days=max(0, due - 1)),
        is_late=due == 0,
        runs_out_first=due == 0 and float(stock[0]) < found.per_day * mean - 1e-9,
        waits_for=waits_for,
    )


def level_on(item: Stocked, seen: Outlook, day: datetime.date, today: datetime.date) -> float:
    """Return what is there or comes before an order placed on a day would, in base units."""
    days = (day - today).days
    level = seen.usable - seen.per_day * days
    for each in item.coming:
        after = 0 if each.on is None else max(0, (each.on - today).days)
        is_there = each not in seen.waits_for or after <= days + math.ceil(seen.lead_days - _NEARLY)
        level += each.quantity_milli / MILLI if is_there else 0
    return level


def _too_late(seen: Outlook, comes: Sequence[tuple[int, Coming]], lead_days: float) -> tuple[Coming, ...]:
    """Return what comes later than an order placed today would, when the stock is used up already.

    What comes while there still is some counts as there: an order beside it would hardly come before.
    """
    stock, found = seen.usable, []
    for day, each in sorted(comes, key=lambda pair: pair[0]):
        if day <= math.ceil(lead_days - _NEARLY) or stock >= seen.per_day * day:
            stock += each.quantity_milli / MILLI
        else:
            found.append(each)
    return tuple(found)


def _lasts_until(seen: Outlook, comes: Sequence[tuple[int, Coming]], today: datetime.date) -> datetime.date:
    """Return the day on which stock is used up at the mean use, with what comes before it is."""
    stock = seen.usable
    for day, each in sorted(comes, key=lambda pair: pair[0]):
        if stock < seen.per_day * day:
            break
        stock += each.quantity_milli / MILLI
    days = max(0, math.floor(stock / seen.per_day + 1e-9))
    return today + datetime.timedelta(days=min(days, (datetime.date.max - today).days))


@dataclass(frozen=True, eq=False)
class LeadByDay:
    """Mean and standard deviation of the days an order takes, by how many days from today it is placed."""

    mean: Floats
    sd: Floats


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
    calendar = lead_calendar(lead)
    over = _over(use, float(calendar.mean[0]), float(calendar.sd[0]))
    return ReorderPoints(simulated, reorder_point(over, z_of(service_level)))


def _over(use: Use, mean_days: float, sd_days: float) -> LeadDemand:
    """Return mean and spread of use over a lead time by the formula, the doubt about the rate included."""
    size, sd = use.left_milli / MILLI / use.times, use.sd_milli / MILLI
    day_sd = math.sqrt(use.times / use.days * (size**2 + sd**2))
    over = demand_over_lead_time(use.per_day, day_sd, mean_days, sd_days)
    return LeadDemand(over.mean, math.hypot(over.sd, over.mean / math.sqrt(use.times)))


def _by_day(use: Use, lead: LeadByDay, today_at: float) -> Floats:
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

"""Whether an item has to be ordered, and by when: its use, what is there, what comes, what expires."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ledger.exact.quantity import MILLI
from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.reorder_points import (
    HORIZON_DAYS,
    Use,
    by_day,
    formula_of,
    lead_calendar,
    reorder_points,
)

NEVER_USED = Use()

WHOLE_UNITS = ("each", "sheet")


@dataclass(frozen=True)
class Batch:
    """What is left of a lot, in thousandths, and the last day it can be used; None where it keeps."""

    quantity_milli: int
    expires_on: datetime.date | None = None


@dataclass(frozen=True)
class Coming:
    """What an order still brings, in thousandths; ``on`` is the day it is expected, None where nobody knows.

    ``was_due`` is the day it should have been there, where that has passed.
    """

    order: int
    quantity_milli: int
    on: datetime.date | None = None
    was_due: datetime.date | None = None


@dataclass(frozen=True)
class Stocked:
    """One item as it stands.

    ``short_milli`` is what was used and is not entered yet; ``shelf_life_days`` how long a new one keeps;
    ``last_used_on`` the last day on which some was used, ``emptied_on`` on which the last left the shelf.
    """

    sku: str
    name: str
    kind: str
    unit: str
    use: Use = NEVER_USED
    batches: tuple[Batch, ...] = ()
    short_milli: int = 0
    coming: tuple[Coming, ...] = ()
    shelf_life_days: int | None = None
    last_used_on: datetime.date | None = None
    emptied_on: datetime.date | None = None

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
    """What will expire, or has, before it is used, in base units.

    ``order`` is that which brings it, 0 where it is there; ``of_use`` what of the same lot is used before.
    """

    quantity: float
    expires_on: datetime.date
    order: int = 0
    of_use: float = 0.0


@dataclass(frozen=True)
class Outlook:
    """When an item has to be ordered under a lead time; quantities in base units.

    Attributes:
        per_day: mean use of a day.
        usable: what is on the shelf and will be used before it expires; below 0 where it is short.
        lost: what will not.
        comes: what is under way and will be used before it expires.
        ends_by_expiry: whether what is there ends by its date, not by being used up.
        lead_days: mean days until an order is there that is placed on the day to order on; today without one.
        reorder_at: the stock at which to order on that day, by the simulated quantile.
        formula_reorder_at: what the formula on a normal tail says.
        lasts_until: the day on which what is there and comes in time is used up or can be used last; None
            where nothing is used.
        order_by: the last day to order on; None where nothing has to be ordered within the horizon.
        is_late: whether less is there already than an order placed today needs.
        runs_out_first: whether it is expected to run out before an order placed today is there.
        before_closure: whether it is due on that day only because the supplier closes after it.
        waits_for: what is under way, but comes only when the stock is used up, later than an order placed
            today would.
    """

    per_day: float
    usable: float
    lost: tuple[Lost, ...] = ()
    comes: tuple[Coming, ...] = ()
    ends_by_expiry: bool = False
    lead_days: float = 0.0
    reorder_at: float = 0.0
    formula_reorder_at: float = 0.0
    lasts_until: datetime.date | None = None
    order_by: datetime.date | None = None
    is_late: bool = False
    runs_out_first: bool = False
    before_closure: bool = False
    waits_for: tuple[Coming, ...] = ()


def usable_of(item: Stocked, today: datetime.date) -> Outlook:
    """Return what of an item's stock, and of what is under way, will be used before it expires, and what will not.

    The lot that expires first is used first, at the mean use of a day; what is under way comes after what is
    there and keeps its shelf life from the day it is expected. Source: our own rule.
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
            lost.append(Lost(there - kept, batch.expires_on, of_use=kept))
    comes, too_much = _kept_of_coming(item, usable, today)
    return Outlook(per_day, usable, (*lost, *too_much), comes)


def _kept_of_coming(
    item: Stocked, usable: float, today: datetime.date
) -> tuple[tuple[Coming, ...], tuple[Lost, ...]]:
    """Return what is under way as far as it will be used before it expires, and what of it will not."""
    per_day, life = item.use.per_day, item.shelf_life_days
    if not per_day or not life:
        return item.coming, ()
    used, found, lost = max(0.0, usable), [], []
    for each in sorted(item.coming, key=lambda one: one.on or today):
        after = max(0, ((each.on or today) - today).days)
        room = max(0.0, per_day * (after + life + 1) - max(used, per_day * after))
        kept_milli = min(each.quantity_milli, math.floor(room * MILLI))
        used = max(used, per_day * after) + kept_milli / MILLI
        found.append(replace(each, quantity_milli=kept_milli))
        if kept_milli < each.quantity_milli:
            expires = today + datetime.timedelta(days=after + life)
            lost.append(
                Lost((each.quantity_milli - kept_milli) / MILLI, expires, each.order, kept_milli / MILLI)
            )
    return tuple(found), tuple(lost)


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
    points = by_day(item.use, lead_by_day, at.simulated)
    days = np.arange(HORIZON_DAYS + 1)
    comes = [(0 if each.on is None else max(0, (each.on - today).days), each) for each in found.comes]
    stock = found.usable - found.per_day * days
    mean = float(lead_by_day.mean[0])
    waits_for = _too_late(found, comes, mean)
    for day, each in comes:
        counts = day <= days + np.ceil(lead_by_day.mean - _NEARLY) if each in waits_for else True
        stock += (each.quantity_milli / MILLI) * counts
    below = np.nonzero(stock < points - 1e-9)[0]
    due = int(below[0]) if len(below) else None
    day = max(0, due - 1) if due is not None else 0
    lasts, ends = _lasts_until(item, found, comes, today)
    # What is shown is what an order of the day to order on needs: a closure after it is no part of that.
    return replace(
        found,
        ends_by_expiry=ends,
        lead_days=float(lead_by_day.mean[day]),
        reorder_at=float(points[day]),
        formula_reorder_at=at.formula
        if day == 0
        else formula_of(item.use, lead_by_day.on(day), service_level).reorder_at,
        lasts_until=lasts,
        order_by=None if due is None else today + datetime.timedelta(days=day),
        is_late=due == 0,
        runs_out_first=due == 0 and float(stock[0]) < found.per_day * mean - 1e-9,
        before_closure=bool(due) and float(stock[day + 1]) >= float(points[day]) - 1e-9,
        waits_for=waits_for,
    )


def level_on(seen: Outlook, day: datetime.date, today: datetime.date) -> float:
    """Return what is there or comes before an order placed on a day would, in base units."""
    days = (day - today).days
    level = seen.usable - seen.per_day * days
    for each in seen.comes:
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


def _lasts_until(
    item: Stocked, seen: Outlook, comes: Sequence[tuple[int, Coming]], today: datetime.date
) -> tuple[datetime.date, bool]:
    """Return the day on which stock is used up at the mean use, or can be used last, and whether it expires then.

    What comes before it is used up is part of it.
    """
    stock = seen.usable
    ends: datetime.date | None = datetime.date.min
    for batch in item.batches:
        ends = None if ends is None or batch.expires_on is None else max(ends, batch.expires_on)
    for day, each in sorted(comes, key=lambda pair: pair[0]):
        if stock < seen.per_day * day:
            break
        stock += each.quantity_milli / MILLI
        if each.quantity_milli:
            life = item.shelf_life_days
            last = None if life is None else today + datetime.timedelta(days=day + life)
            ends = None if ends is None or last is None else max(ends, last)
    days = max(0, math.floor(stock / seen.per_day + 1e-9))
    found = today + datetime.timedelta(days=min(days, (datetime.date.max - today).days))
    if ends is None or ends == datetime.date.min:
        return found, False
    is_cut = ends <= found and any(lost.expires_on == ends for lost in seen.lost)
    return min(found, max(ends, today)), is_cut and ends >= today

"""By when to order: from the day goods are needed, or on which the stock runs out."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass

from ledger.sourcing.demand import DAYS_PER_WEEK
from ledger.sourcing.lead_time import order_by
from ledger.sourcing.offer_plan import OfferPlan
from ledger.sourcing.study import Study

CHIEF_SHARE = 0.1
"""A size of less demand than this does not call for an order when it runs out; our own rule."""


@dataclass(frozen=True)
class TooLate:
    """When goods ordered today are there, where that is after they are needed.

    ``about`` is the mean, ``surely`` the day by which they are there at the owner's service level.
    """

    about: datetime.date
    surely: datetime.date


@dataclass(frozen=True)
class OrderDate:
    """The latest day to order on, None where there is none to give, with what to say about it."""

    on: datetime.date | None = None
    notes: tuple[str, ...] = ()
    too_late: TooLate | None = None


NO_DATE = OrderDate()
"""Nothing is to be ordered, so no day is late."""


def order_date(study: Study, plan: OfferPlan | None) -> OrderDate:
    """Return by when to order from an offer.

    A day that is needed but cannot be met is told with the days on which goods ordered today are there.
    Where the stock will not last until then, the day is today. A day beyond the horizon is none: what
    is needed then is not looked at here.
    """
    if plan is None:
        return NO_DATE
    empty = runs_out_on(study)
    if study.need_by is None and empty is None:
        return OrderDate(
            notes=("no day to order by is given, for the study says neither on_hand nor need_by.",)
        )
    if study.need_by is not None:
        return _by_need(study, plan, study.need_by, empty)
    return NO_DATE if empty is None else _by_stock(study, plan, empty)


def _by_need(study: Study, plan: OfferPlan, need: datetime.date, empty: datetime.date | None) -> OrderDate:
    short = _short_until_then(study, plan, empty)
    found = order_by(plan.offer.lead, need, study.money.service_level)
    if found is not None:
        return OrderDate(found, short)
    late = _today_arrives(study, plan)
    words = (
        f"too late: ordered today it is there about {late.about.isoformat()}, surely by "
        f"{late.surely.isoformat()} ({study.money.service_level:.0%}); it is needed by {need.isoformat()}."
    )
    return OrderDate(None, (words, *short), late)


def _by_stock(study: Study, plan: OfferPlan, empty: datetime.date) -> OrderDate:
    found = order_by(plan.offer.lead, empty, study.money.service_level) or study.today
    if found > study.today + datetime.timedelta(weeks=study.weeks):
        words = (
            f"the stock lasts until about {empty.isoformat()}, beyond the {study.horizon_months} months looked at: "
            "nothing has to be ordered in them."
        )
        return OrderDate(None, (words,))
    return OrderDate(found, _short_until_then(study, plan, empty))


def runs_out_on(study: Study) -> datetime.date | None:
    """Return the day on which the first of the chief sizes is expected to run out; None where stock is not known."""
    sizes = study.demand.sizes
    if not study.is_stock_known and not any(size.on_hand for size in sizes):
        return None
    least = min(CHIEF_SHARE, max(size.share for size in sizes))
    weeks = min(size.on_hand / (size.share * study.demand.per_week) for size in sizes if size.share >= least)
    days = min(int(weeks * DAYS_PER_WEEK), (datetime.date.max - study.today).days)
    return study.today + datetime.timedelta(days=days)


def _short_until_then(study: Study, plan: OfferPlan, empty: datetime.date | None) -> tuple[str, ...]:
    """Return in words that the stock will not last until goods ordered today arrive."""
    if empty is None or order_by(plan.offer.lead, empty, study.money.service_level) is not None:
        return ()
    words = (
        f"the stock lasts until about {empty.isoformat()}, and goods from {plan.offer.name} ordered today take "
        f"{plan.curve.lead_days:.0f} days on average: buy what is needed until then elsewhere."
    )
    return (words,)


def _today_arrives(study: Study, plan: OfferPlan) -> TooLate:
    import numpy as np  # noqa: PLC0415  (slow, and only needed where lead times are drawn)

    surely = float(plan.offer.lead.days(np.array([study.money.service_level]))[0])
    about = math.ceil(plan.curve.lead_days - 1e-9)
    return TooLate(
        study.today + datetime.timedelta(days=about),
        study.today + datetime.timedelta(days=max(about, math.ceil(surely - 1e-9))),
    )

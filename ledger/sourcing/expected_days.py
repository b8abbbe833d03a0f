"""How many days an offer takes from order to shelf, and who says so: the one rule that every command goes by."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import replace

from ledger.errors import ValueProblem
from ledger.exact.words import how_many
from ledger.sourcing.closures import read_closures
from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.quote import LeadTime

ENOUGH_ORDERS = 3
"""From so many own orders on what they took goes before what is stated; our own rule."""

LONGEST_DAYS = 3650
"""A lead time beyond ten years is taken for a mistake."""

STATED = "as the offer states"
SPREAD_STATED = "spread as the offer states"
CLOSED_ON_TOP = "closed days on top"


def counted(said: LeadTime, own_days: Sequence[int]) -> LeadTime:
    """Return the lead time that counts, with what own orders took as its samples where they are it.

    What the offer states counts, unless ENOUGH_ORDERS own orders say otherwise. Where it states no days, or
    leaves them to own orders, every own order counts.

    Args:
        said: the offer's own lead time.
        own_days: days from order to shelf of the shop's own orders under the offer.

    Source: our own rule.

    >>> counted(LeadTime(55.0, 12.0), [51]).samples
    ()
    >>> counted(LeadTime(55.0, 12.0), [51, 60, 48]).samples
    (51, 60, 48)
    """
    days = tuple(own_days)
    if said.from_own_orders or not said.mean_days or len(days) >= ENOUGH_ORDERS:
        return replace(said, samples=days, too_few=())
    return replace(said, samples=(), too_few=days)


def mean_days(lead: LeadTime) -> float:
    """Return the days of a lead time that counts, without closures on top; 0 where nobody says."""
    return sum(lead.samples) / len(lead.samples) if lead.samples else lead.mean_days


def lead_times(lead: LeadTime, closures: Sequence[str], start: datetime.date) -> LeadTimes:
    """Return what is believed of a lead time that counts, for orders from a day on.

    Closures come on top of stated days; in what own orders took they are already. Of too few own orders to
    show a spread the mean is taken, with the spread that is stated.

    Raises ValueProblem where a closure is none, or the days are too many.
    """
    if lead.samples and (len(lead.samples) >= ENOUGH_ORDERS or not lead.sd_days):
        return LeadTimes(mean_days(lead), samples=tuple(map(float, lead.samples)), start=start)
    closed = () if lead.samples else closures
    return LeadTimes(mean_days(lead), lead.sd_days, closures=read_closures(closed), start=start)


def expected_days(lead: LeadTime, closures: Sequence[str], start: datetime.date) -> float:
    """Return the mean days from an order placed on a day to the shelf, closures in them; 0 where nobody says.

    Raises ValueProblem where the lead time is longer than LONGEST_DAYS, or a closure is none.
    """
    days = mean_days(lead)
    if days > LONGEST_DAYS:
        raise ValueProblem(f"a lead time of {days:g} days is over ten years: correct lead_days.")
    # A calendar takes numpy, which is slow to import: it is asked only where something is closed.
    return lead_times(lead, closures, start).mean_total() if closures and days and not lead.samples else days


def source_words(lead: LeadTime) -> str:
    """Return who says how long it takes; an empty text where nobody does.

    >>> source_words(counted(LeadTime(55.0), [51, 60, 48, 52]))
    'from 4 orders of your own'
    >>> source_words(counted(LeadTime(55.0), [51]))
    'as the offer states (1 order of your own took 51; 3 would count)'
    """
    if lead.samples:
        spread = f", {SPREAD_STATED}" if lead.sd_days and len(lead.samples) < ENOUGH_ORDERS else ""
        return f"from {how_many(len(lead.samples), 'order')} of your own{spread}"
    if not lead.mean_days:
        return ""
    if not lead.too_few:
        return STATED
    took = f"{sum(lead.too_few) / len(lead.too_few):.0f}{'' if len(lead.too_few) == 1 else ' on average'}"
    return f"{STATED} ({how_many(len(lead.too_few), 'order')} of your own took {took}; {ENOUGH_ORDERS} would count)"

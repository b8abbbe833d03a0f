"""Why a planned order is as it is, in words: what makes an item due, what was added, when it is there."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence

from ledger.exact.money import grouped_money
from ledger.exact.quantity import MILLI
from ledger.sourcing.baskets import Added, Beyond
from ledger.sourcing.closures import Calendar, ClosedDays
from ledger.sourcing.lead_time import LeadTimes
from ledger.sourcing.ways_to_buy import ASSUMED, DAYS_PER_YEAR, Chosen, PlanTerms, Way
from ledger.sourcing.what_to_order import Lost, Outlook

CLOSED_AHEAD_DAYS = 60
"""Closures so long after an order are named; our own rule."""

FEW = 4
"""So many closures are written out."""


def reason(chosen: Chosen, terms: PlanTerms, next_on: datetime.date | None) -> str:
    """Return why an item is in an order; ``next_on`` is the supplier's next order, where it only goes along."""
    seen, day = chosen.seen, chosen.seen.order_by
    if next_on is not None:
        return f"goes along: due {day}, before the next order about {next_on}"
    if seen.is_late and is_due_by_expiry(chosen):
        return expiry_words(chosen, terms.today)
    if seen.is_late:
        return "runs out before it can be there" if seen.runs_out_first else "below its reorder point"
    if seen.before_closure:
        return f"due {day}: an order after it waits while {chosen.way.supplier} is closed"
    return "due today" if day == terms.today else f"due {day}"


def is_due_by_expiry(chosen: Chosen) -> bool:
    """Return whether there would be enough, were nothing of it lost by its date."""
    seen = chosen.seen
    late = sum(each.quantity_milli for each in seen.waits_for)
    comes = chosen.item.coming_milli - late
    return bool(seen.lost) and (chosen.item.on_hand_milli + comes) / MILLI >= seen.reorder_at


def expiry_words(chosen: Chosen, today: datetime.date) -> str:
    """Return what of an item expires unused, and when: '251.6 mL expire on 2026-05-20; 6.4 are of use until then'."""
    return "; ".join(_lost_words(lost, chosen.item.unit, today) for lost in _by_day(chosen.seen))


def _by_day(seen: Outlook) -> Iterable[Lost]:
    """Yield what is lost, lots of one day and order together."""
    found: dict[tuple[datetime.date, int], Lost] = {}
    for lost in seen.lost:
        key = (lost.expires_on, lost.order)
        before = found.get(key, Lost(0.0, *key))
        found[key] = Lost(before.quantity + lost.quantity, *key, before.of_use + lost.of_use)
    return found.values()


def _lost_words(lost: Lost, unit: str, today: datetime.date) -> str:
    amount = f"{amount_words(lost.quantity)} {'pieces' if unit == 'each' else unit}"
    if lost.order:
        amount = f"{amount} of order {lost.order}"
    if lost.expires_on < today:
        return f"{amount} expired on {lost.expires_on}"
    return f"{amount} expire on {lost.expires_on}; {amount_words(lost.of_use)} are of use until then"


def amount_words(quantity: float) -> str:
    """Return a quantity with a decimal where it has one."""
    return f"{quantity:,.1f}".removesuffix(".0")


def cautions(chosen: Chosen, units: int) -> Iterable[str]:
    """Yield what to know about a line of so many quoted units."""
    seen, item = chosen.seen, chosen.item
    days = units * chosen.way.factor / seen.per_day
    if days > DAYS_PER_YEAR:
        yield f"lasts about {days / DAYS_PER_YEAR:.1f} years"
    if item.shelf_life_days and days > item.shelf_life_days:
        yield f"keeps {item.shelf_life_days} days, less than it lasts"
    if seen.lost and not (seen.is_late and is_due_by_expiry(chosen)):
        yield expiry_words(chosen, chosen.way.lead.start)
    if item.short_milli:
        yield "used before it was entered: enter the receipt or count first"
    if item.use.times == 1:
        yield "used once only: a guess, enough for one more use like it"
    if seen.waits_for:
        numbers = ", ".join(str(coming.order) for coming in seen.waits_for)
        yield f"only until order {numbers} is there"


def added_words(added: Added, currency: str) -> str:
    """Return what was added for what, what it adds to the bill, and what that saves and costs."""
    units = sum(added.more.values())
    bill, cost = (grouped_money(round(minor), currency) for minor in (added.bill_minor, added.shelf_minor))
    if added.saving_minor is None:
        return (
            f"{units} added to reach {added.what_for}: adds {bill} to the bill and costs {cost} of shelf time"
        )
    saved = grouped_money(round(added.saving_minor), currency)
    less = f"adds {bill} to the bill" if added.bill_minor >= 0 else f"makes the bill {bill.lstrip('-')} less"
    return f"{units} added for {added.what_for}: {less}, saves {saved} and costs {cost} of shelf time"


def beyond_words(beyond: Beyond) -> str:
    """Return what would pay and is not added, for it is much more than is wanted."""
    return (
        f"{beyond.what_for} would take {beyond.units} more and pay by these figures, which is much more than is "
        f"wanted now: decide with 'compare {beyond.goods}'"
    )


def note_words(lines: Sequence[tuple[Chosen, int]]) -> Iterable[str]:
    """Yield why not a cheaper supplier, and where more is wanted than is sold at once; units by line."""
    for chosen, _ in lines:
        if chosen.note:
            yield f"{chosen.note} (for example {chosen.item.sku})"
            break
    maximum = {chosen.way.quote.name: chosen.way.quote.rules.maximum for chosen, _ in lines}
    for name, most in maximum.items():
        units = sum(count for chosen, count in lines if chosen.way.quote.name == name)
        if most and units > most:
            yield f"{name} sells at most {most} at once, and {units} are wanted: order twice"


def arrival_words(way: Way, order_by: datetime.date, expected_on: datetime.date) -> str:
    """Return why an order is there about that day: its days, where they come from, what is closed between."""
    head = f"there about {expected_on}: {lead_words(way)}"
    if way.lead.closures.are_none:
        return head
    between = closed_between(way.lead, order_by, expected_on)
    ahead = expected_on + datetime.timedelta(days=CLOSED_AHEAD_DAYS)
    later = closed_between(way.lead, expected_on + datetime.timedelta(days=1), ahead)
    words = f", closed {closed_words(between)} between" if between else ", no closed day between"
    return f"{head}{words}{f'; closed after it: {closed_words(later)}' if later else ''}"


def lead_words(way: Way) -> str:
    """Return how long an order takes without closures, and where that comes from."""
    days, lead = f"{way.lead.mean_days:.3g} days", way.lead
    if way.lead_words == ASSUMED:
        return f"{days} are assumed, nobody told"
    spread = f", give or take {lead.sd_days:.3g}" if lead.sd_days else ""
    if lead.samples or way.quote.lead_time.samples:
        return f"{days}{spread}, {way.lead_words}, closed days included"
    told = "no closures told" if lead.closures.are_none else f"closed: {_told(lead)}"
    # What too few own orders took stands in brackets already.
    said, bracket, aside = way.lead_words.partition(" (")
    return f"{days}{spread}, {said} ({aside.removesuffix(')')}{'; ' if bracket else ''}{told})"


def _told(lead: LeadTimes) -> str:
    own = len(lead.closures.own)
    parts = [f"public holidays of {lead.closures.country}"] if lead.closures.country else []
    return " and ".join([*parts, *([f"{own} closure{'s' if own > 1 else ''} of its own"] if own else [])])


def closed_words(closed: Sequence[ClosedDays]) -> str:
    """Return closures in words, the first few of them."""
    words = [
        each.first.isoformat() if each.first == each.last else f"{each.first} to {each.last}"
        for each in closed[:FEW]
    ]
    return ", ".join([*words, *([f"and {len(closed) - FEW} more"] if len(closed) > FEW else [])])


def closed_between(lead: LeadTimes, first: datetime.date, last: datetime.date) -> list[ClosedDays]:
    """Return the days from ``first`` to ``last`` on which a supplier is closed, those in a row together.

    ``first`` must not be before the lead time's start; the start itself is taken for open.
    """
    calendar = Calendar(
        lead.closures, lead.start, (last - lead.start).days + 1, weekends=lead.working_days > 0
    )
    found: list[ClosedDays] = []
    one = datetime.timedelta(days=1)
    day = max(first, lead.start + one)
    while day <= last:
        if not calendar.is_open(day):
            if found and found[-1].last + one == day:
                found[-1] = ClosedDays(found[-1].first, day)
            else:
                found.append(ClosedDays(day, day))
        day += one
    return found

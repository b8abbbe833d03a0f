"""Which days can be told of an order: when it ships, arrives, and is paid."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ledger.book.orders import (
    ARRIVES,
    BALANCE_DUE,
    BALANCE_PAID,
    DEPOSIT_DUE,
    DEPOSIT_PAID,
    SHIPS,
    Order,
)
from ledger.errors import Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where an order stands, as far as its days depend on it. Money in minor units of its currency.

    ``under_way_since`` is the latest day on which something was shipped that has not arrived, ISO 8601; empty
    for nothing.
    """

    ordered_on: str
    deposit_foreign: int
    total_foreign: int
    is_shipped: bool = False
    is_waiting: bool = True
    under_way_since: str = ""


def standing_of(order: Order) -> Standing:
    """Return where an order of the book stands."""
    return Standing(
        ordered_on=order.ordered_on,
        deposit_foreign=order.deposit_foreign,
        total_foreign=order.total_foreign,
        is_shipped=order.is_shipped or order.closed_by is not None,
        is_waiting=order.is_waiting,
        under_way_since=max((one.shipped_on for one in order.coming), default=""),
    )


def day_problems(
    standing: Standing,
    told: Mapping[str, datetime.date],
    in_force: Mapping[str, datetime.date],
    today: datetime.date,
) -> list[Problem]:
    """Return which days cannot be, or would change nothing.

    Args:
        standing: where the order stands.
        told: the days that are told now, by their name in `orders.TOLD_DAYS`.
        in_force: all days of the order, with those.
        today: nothing was paid after it.
    """
    ordered = datetime.date.fromisoformat(standing.ordered_on)
    problems = [
        Problem(what, f"{day.isoformat()} is before the order, of {standing.ordered_on}.", "Correct it.")
        for what, day in in_force.items()
        if day < ordered
    ]
    problems += _of_the_way(standing, told, in_force)
    problems += [
        Problem(what, f"{told[what].isoformat()} is in the future.", "Tell it once it was paid.")
        for what in (DEPOSIT_PAID, BALANCE_PAID)
        if what in told and told[what] > today
    ]
    return [*problems, *_without_a_payment(standing, told)]


def _of_the_way(
    standing: Standing, told: Mapping[str, datetime.date], in_force: Mapping[str, datetime.date]
) -> Iterator[Problem]:
    if SHIPS in in_force and ARRIVES in in_force and in_force[ARRIVES] < in_force[SHIPS]:
        yield Problem(
            ARRIVES,
            f"{in_force[ARRIVES].isoformat()} is before the day it ships, {in_force[SHIPS].isoformat()}.",
            "Correct one of them.",
        )
    if SHIPS in told and standing.is_shipped:
        yield Problem(
            SHIPS, "nothing of it is still to be shipped, so the day changes nothing.", "Leave it out."
        )
    if ARRIVES in told and not standing.is_waiting:
        yield Problem(ARRIVES, "nothing of it is still to come, so the day changes nothing.", "Leave it out.")
    elif ARRIVES in told and told[ARRIVES].isoformat() < standing.under_way_since:
        yield Problem(
            ARRIVES,
            f"{told[ARRIVES].isoformat()} is before the day it was shipped, {standing.under_way_since}.",
            "Correct it.",
        )


def _without_a_payment(standing: Standing, told: Mapping[str, datetime.date]) -> Iterator[Problem]:
    for what in (DEPOSIT_DUE, DEPOSIT_PAID):
        if what in told and not standing.deposit_foreign:
            yield Problem(
                what,
                "the order has no deposit.",
                "A new order has one with --deposit 30%; all of this one is its balance: --balance-paid.",
            )
    for what in (BALANCE_DUE, BALANCE_PAID):
        if what in told and 0 < standing.total_foreign <= standing.deposit_foreign:
            yield Problem(what, "the deposit is all of the order, so there is no balance.", "Leave it out.")

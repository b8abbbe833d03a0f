"""One stock followed day by day under a reorder point: slow and plain, to hold the faster reckonings against."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class ReorderRule:
    """Order ``quantity`` at the end of a day at which stock and what is under way are at or below a point."""

    reorder_at: int
    quantity: int


@dataclass(frozen=True)
class StockDay:
    """What a day left: stock at its end, sales that found none, whether an order went out."""

    ending: int
    lost: int
    ordered: bool


def walk(
    demand: Sequence[int], lead_days: Iterable[int], rule: ReorderRule, start: int
) -> tuple[StockDay, ...]:
    """Return each day of a stock that loses the sales it cannot fill.

    An order placed at the end of day t with a lead time of L days is there at the start of day t + L + 1;
    ``lead_days`` gives the lead times in the order of the orders. Orders do not overtake each other.

    Raises StopIteration where there are more orders than lead times.
    Source: the usual hand simulation of textbooks.
    """
    leads = iter(lead_days)
    stock = start
    under_way: list[tuple[int, int]] = []
    days: list[StockDay] = []
    last_arrival = 0
    for day, asked in enumerate(demand):
        stock += sum(quantity for arrival, quantity in under_way if arrival == day)
        under_way = [(arrival, quantity) for arrival, quantity in under_way if arrival > day]
        sold = min(stock, asked)
        stock -= sold
        is_ordering = stock + sum(quantity for _, quantity in under_way) <= rule.reorder_at
        if is_ordering:
            last_arrival = max(last_arrival, day + next(leads) + 1)
            under_way.append((last_arrival, rule.quantity))
        days.append(StockDay(stock, asked - sold, is_ordering))
    return tuple(days)

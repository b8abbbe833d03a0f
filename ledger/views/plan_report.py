"""A plan with all that is said of it, before it is text or data."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ledger.book.plan_facts import PlanFacts
from ledger.sourcing.supplier_orders import OrdersPlan, PlannedLine, PlannedOrder
from ledger.sourcing.ways_to_buy import PlanTerms
from ledger.sourcing.what_to_order import Stocked
from ledger.views.bars import Bars


@dataclass(frozen=True)
class Assumption:
    """Something a plan takes for granted: its name, its value, and where that comes from."""

    name: str
    value: str
    source: str


@dataclass(frozen=True)
class PlanReport:
    """A plan with all that is said of it.

    ``shows`` picks the items that are printed, by ``kind`` and ``asked`` SKUs where they were named; ``bars``
    draws days of cover.
    """

    facts: PlanFacts
    plan: OrdersPlan
    terms: PlanTerms
    assumptions: tuple[Assumption, ...]
    shop: str
    shows: Callable[[Stocked], bool] = lambda _: True
    shows_all: bool = False
    kind: str = ""
    asked: tuple[str, ...] = ()
    bars: Bars | None = None

    def lines(self, order: PlannedOrder) -> list[PlannedLine]:
        """Return the lines of an order that are printed."""
        return [line for line in order.lines if self.shows(line.chosen.item)]

    @property
    def orders(self) -> list[PlannedOrder]:
        """The orders of which something is printed."""
        return [order for order in self.plan.orders if self.lines(order)]

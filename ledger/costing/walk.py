"""The fast engine as a whole: facts in, the double entry and what is left on the shelves out.

Items are costed in the order in which they are made from one another. Items that only arrive
and leave go through the fast loop together; an item with returns, counts, write-downs, or stock
used before it was entered goes over a shelf of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from ledger.costing.facts import (
    ARRIVES_FROM,
    CLASS_IN_DAY,
    COMPONENT,
    LABOUR,
    LEAVES_TO,
    PRODUCT,
    FactLine,
    ShareFact,
)
from ledger.costing.landed import is_stocked
from ledger.costing.layers import OpenLayer
from ledger.costing.legs import LegColumns, arrival_legs, share_legs, taking_legs
from ledger.costing.order import dependency_groups, in_costing_order
from ledger.costing.replay import Movements, all_short, replay
from ledger.costing.shelf import LotId, LotKey, Taken
from ledger.costing.shelf_walk import ShelfWalk
from ledger.errors import NotEnoughStock

WORK_IN_PROCESS = "work in process"


@dataclass(frozen=True, slots=True)
class KnownLot:
    """A lot from before the replay; its open layers come separately."""

    sku: str
    key: LotKey
    received: int
    invoice_cost: int
    landed: int


@dataclass(frozen=True, slots=True)
class MadeLot:
    """A lot that the facts made: by a receipt, an opening line, a job or a count."""

    document: int
    line: int
    sku: str
    effect_date: str
    day_class: int
    quantity_received: int
    invoice_cost: int
    charges: int


@dataclass(frozen=True, slots=True)
class Start:
    """What stood before the first fact.

    ``layers`` are in FIFO order within each SKU. ``sold`` holds the portions of earlier sales that
    are returned now; ``short`` what is short from closed months, per SKU; ``job_costs`` what a
    job's components cost that are not among the facts.
    """

    layers: Sequence[OpenLayer] = ()
    lots: Sequence[KnownLot] = ()
    sold: Mapping[LotId, Taken] = field(default_factory=dict)
    short: Mapping[str, int] = field(default_factory=dict)
    job_costs: Mapping[int, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class OutstandingShort:
    """A line that used stock before it was entered, and how much is still unsettled."""

    document: int
    line: int
    sku: str
    effect_date: str
    quantity: int


@dataclass(frozen=True, slots=True)
class Walked:
    """What follows from the facts."""

    legs: LegColumns
    lots: list[MadeLot]
    open_layers: list[OpenLayer]
    shorts: list[OutstandingShort]


def walk(
    facts: Iterable[FactLine], shares: Iterable[tuple[ShareFact, str, str]], start: Start | None = None
) -> Walked:
    """Return the double entry of facts and what is left on the shelves after them.

    ``facts`` are those that take part in the costing (no dropped pairs), in any order;
    ``shares`` the charge shares that take effect with their receipts, each with the SKU and tax
    class of its receipt line.

    Raises NotEnoughStock naming what goes short without being allowed to, Refused for returns of
    more than was sold and costs below zero, OwnAncestor for a lot made from itself.
    """
    ordered = in_costing_order(facts)
    run = _Run(ordered, list(shares), start or Start())
    run.cost()
    return Walked(run.legs, run.lots, run.open_layers, run.shorts)


class _Run:
    """One run of the engine."""

    def __init__(self, facts: list[FactLine], shares: list[tuple[ShareFact, str, str]], start: Start) -> None:
        self.facts, self.start = facts, start
        self.legs = LegColumns()
        self.lots: list[MadeLot] = []
        self.open_layers: list[OpenLayer] = []
        self.shorts: list[OutstandingShort] = []
        self.job_costs = dict(start.job_costs)
        self.charged: dict[LotId, int] = {}
        for share, sku, tax_class in shares:
            share_legs(share, sku, tax_class, self.legs)
            key = (share.receipt_document, share.receipt_line)
            self.charged[key] = self.charged.get(key, 0) + share.amount
        self.places: dict[str, list[int]] = {}
        self.first_part: dict[LotId, int] = {}
        self._look_at_facts()

    def _look_at_facts(self) -> None:
        """Group the facts by item, note which item is made from which, and write fixed legs."""
        components: dict[int, set[str]] = {}
        products: dict[int, str] = {}
        for place, fact in enumerate(self.facts):
            if fact.role == LABOUR:
                self.job_costs[fact.document] = self.job_costs.get(fact.document, 0) + fact.amount
                self._labour_legs(fact)
                continue
            if fact.event in ARRIVES_FROM:
                self.first_part[fact.document, fact.line] = arrival_legs(fact, self.legs)
                if not is_stocked(fact.tax_class):
                    continue
            self.places.setdefault(fact.sku, []).append(place)
            if fact.role == COMPONENT:
                components.setdefault(fact.document, set()).add(fact.sku)
            elif fact.role == PRODUCT:
                products[fact.document] = fact.sku
        for layer in self.start.layers:
            self.places.setdefault(layer.sku, [])
        self.made_from: dict[str, set[str]] = {}
        for document, sku in products.items():
            if document in components:
                self.made_from.setdefault(sku, set()).update(components[document])

    def _labour_legs(self, fact: FactLine) -> None:
        if fact.amount:
            self.legs.entry(fact, 1, "labour", None, 0, -fact.amount)
            self.legs.entry(fact, 2, WORK_IN_PROCESS, None, 0, fact.amount)

    def cost(self) -> None:
        """Cost all items, those that others are made from first."""
        groups = dependency_groups(list(self.places), self.made_from)
        level_of: dict[str, int] = {}
        levels: dict[int, list[list[str]]] = {}
        for group in groups:
            inside = set(group)
            below = [
                level_of[component]
                for sku in group
                for component in self.made_from.get(sku, ())
                if component in level_of and component not in inside
            ]
            level = max(below, default=-1) + 1
            level_of.update(dict.fromkeys(group, level))
            levels.setdefault(level, []).append(group)
        shortages: list[NotEnoughStock] = []
        for level in sorted(levels):
            self._cost_level(levels[level], shortages)
        if shortages:
            raise all_short(shortages)

    def _cost_level(self, groups: list[list[str]], shortages: list[NotEnoughStock]) -> None:
        """Cost groups that do not depend on one another."""
        layers: dict[str, list[OpenLayer]] = {}
        for layer in self.start.layers:
            layers.setdefault(layer.sku, []).append(layer)
        simple = [
            group[0]
            for group in groups
            if len(group) == 1 and self._is_simple(group[0], layers.get(group[0], []))
        ]
        if simple:
            try:
                self._cost_simple(simple, layers)
            except NotEnoughStock as shortage:
                shortages.append(shortage)
        alone = set(simple)
        for group in groups:
            if group[0] not in alone:
                try:
                    ShelfWalk(self, group, layers).run()
                except NotEnoughStock as shortage:
                    shortages.append(shortage)

    def _is_simple(self, sku: str, layers: Sequence[OpenLayer]) -> bool:
        """Whether an item only arrives and leaves, each lot in one layer, and never goes short by leave."""
        if self.start.short.get(sku):
            return False
        if len({(layer.lot_document, layer.lot_line) for layer in layers}) < len(layers):
            return False
        there = sum(layer.left for layer in layers)
        for place in self.places[sku]:
            fact = self.facts[place]
            if fact.event in LEAVES_TO or fact.role == COMPONENT:
                there -= fact.quantity_milli
                if there < 0 and fact.short_allowed:
                    return False
            elif fact.event in ARRIVES_FROM or fact.role == PRODUCT:
                there += kept(fact) - fact.expensed_milli
            else:
                return False
        return True

    def _cost_simple(self, skus: list[str], layers: Mapping[str, list[OpenLayer]]) -> None:
        """Cost items that only arrive and leave, all in one run of the fast loop."""
        movements = Movements()
        for place in sorted(place for sku in skus for place in self.places[sku]):
            self._add_movement(self.facts[place], movements)
        replayed = replay((layer for sku in skus for layer in layers.get(sku, [])), movements)
        taking_legs(movements, replayed, self.legs, self.first_part)
        takings = replayed.takings
        for place, amount in zip(takings.movement, takings.amount, strict=True):
            if movements.account[place] == WORK_IN_PROCESS and not movements.arrives[place]:
                document = movements.document[place]
                self.job_costs[document] = self.job_costs.get(document, 0) + amount
        self.open_layers.extend(replayed.open_layers)

    def _add_movement(self, fact: FactLine, movements: Movements) -> None:
        arrives = fact.role == PRODUCT or fact.event in ARRIVES_FROM
        quantity, amount = fact.quantity_milli, 0
        if arrives:
            quantity, amount = kept(fact), self.arrival_cost(fact)
            self.arrived(fact, amount)
            if quantity <= 0:
                return
        account = WORK_IN_PROCESS if fact.event == "make" else LEAVES_TO.get(fact.event, "")
        movements.document.append(fact.document)
        movements.line.append(fact.line)
        movements.effect_date.append(fact.effect_date)
        movements.sku.append(fact.sku)
        movements.arrives.append(arrives)
        movements.account.append(account)
        movements.quantity.append(quantity)
        movements.amount.append(amount)
        movements.expensed.append(fact.expensed_milli if arrives else 0)

    def arrival_cost(self, fact: FactLine) -> int:
        """Return what an arriving line or a job's product costs landed, in minor units."""
        if fact.role == PRODUCT:
            return self.job_costs.get(fact.document, 0)
        return fact.amount - fact.claimed_amount + self.charged.get((fact.document, fact.line), 0)

    def arrived(self, fact: FactLine, cost: int) -> None:
        """Note the lot of an arriving line, and write the legs of a job's product."""
        quantity = kept(fact)
        if fact.role == PRODUCT:
            self.legs.entry(fact, 1, WORK_IN_PROCESS, None, 0, -cost)
            if quantity <= 0:
                self.legs.entry(fact, 2, "spoilage", None, 0, cost)
                return
            self.legs.entry(fact, 2, "made", None, -quantity, 0)
            self.legs.entry(fact, 3, "on hand", (fact.document, fact.line), quantity, cost)
            self.first_part[fact.document, fact.line] = 3
        if quantity > 0:
            charges = self.charged.get((fact.document, fact.line), 0)
            self.lot(fact, quantity, cost - charges, charges)

    def lot(self, fact: FactLine, quantity: int, invoice_cost: int, charges: int) -> None:
        """Note a lot that a fact makes."""
        self.lots.append(
            MadeLot(
                fact.document,
                fact.line,
                fact.sku,
                fact.effect_date,
                CLASS_IN_DAY[fact.event],
                quantity,
                invoice_cost,
                charges,
            )
        )

    def note_short(self, fact: FactLine, quantity: int) -> None:
        """Note a line whose stock was never entered, so far."""
        self.shorts.append(OutstandingShort(fact.document, fact.line, fact.sku, fact.effect_date, quantity))


def kept(fact: FactLine) -> int:
    """Return how much of an arriving line or a product enters its lot, in thousandths."""
    return fact.quantity_milli - fact.claimed_milli - fact.normal_milli
